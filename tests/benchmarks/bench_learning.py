"""Times and errors of learning and planning, beside ordinary regression as the peer.

python -m tests.benchmarks.bench_learning
"""

from __future__ import annotations

import statistics
import time
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import statsmodels.api as sm

from labkit.learning.learner import Learner, fit
from labkit.materials import Materials
from labkit.plan.effects import effects
from labkit.plan.next_trials import next_trials
from tests.learning.palette import FUNCTIONS
from tests.learning.simulator import series

LEVELS = np.array([0.5, 0.1, 0.9, 0.025, 0.975])


def milliseconds(call: Callable[[], Any], rounds: int = 40) -> float:
    """Median time of one call."""
    call()
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        times.append(1e3 * (time.perf_counter() - start))
    return statistics.median(times)


def timings() -> list[str]:
    """Times on one simulated series."""
    mats = Materials.starter()
    frame = series(501, "plain", 44)
    words = {n: w for n, w in FUNCTIONS.items() if n in frame}
    past, ahead = frame.iloc[:40], frame.iloc[40:41]
    learner = fit(past, mats, words)
    model = learner.models["viscosity_mPas"]
    percent, process = learner.data.percent[:1], np.zeros((1, 3))
    acidity = learner.ph_model.predict(percent) if learner.ph_model else None

    def given_ph() -> None:
        learner.answers(percent, process, acidity)["viscosity_mPas"].quantile(LEVELS)

    middle = float(past["viscosity_mPas"].median())
    aim = {"pH": (4.8, 5.2), "viscosity": (1.4 * middle, 2.0 * middle)}
    early = fit(frame.iloc[:12], mats, words)
    x, y = past[list(words)].to_numpy(), np.log10(past["viscosity_mPas"].to_numpy())
    constant = sm.add_constant(x[:, 1:])
    rows = [
        (
            f"fit of 40 trials, {len(words)} materials (goal 5)",
            milliseconds(lambda: fit(past, mats, words)),
        ),
        ("predict one formula, five quantiles, pH given (goal 1)", milliseconds(given_ph)),
        ("predict one row of a table, pH and all", milliseconds(lambda: learner.predict(ahead))),
        ("effects of 12 trials", milliseconds(lambda: effects(early), 10)),
        (
            "next_trials after 12 trials (goal 300)",
            milliseconds(lambda: next_trials(early, aim, mats), 10),
        ),
        ("peer: numpy lstsq on %", milliseconds(lambda: np.linalg.lstsq(x, y, rcond=None))),
        (
            "peer: statsmodels OLS on %, fit and bands",
            milliseconds(lambda: _ols(constant, y, constant[:1])),
        ),
    ]
    assert model.posterior.weight.size > 0
    return [f"{name:58} {value:8.2f} ms" for name, value in rows]


def _ols(x: Any, y: Any, new: Any) -> Any:
    return sm.OLS(y, x).fit().get_prediction(new).summary_frame(alpha=0.2)


def errors(seeds: range = range(500, 560), counts: tuple[int, ...] = (3, 6, 12, 20)) -> list[str]:
    """Root mean square errors of the next four trials in log10 viscosity."""
    found: dict[tuple[str, int], list[float]] = {}
    for seed in seeds:
        frame = series(seed, "plain", max(counts) + 4)
        words = {n: w for n, w in FUNCTIONS.items() if n in frame}
        for n in counts:
            past, ahead = frame.iloc[:n], frame.iloc[n : n + 4]
            y = np.log10(ahead["viscosity_mPas"].to_numpy())
            for name, guess in _guesses(past, ahead, words).items():
                found.setdefault((name, n), []).extend((guess - y) ** 2)
    names = list(dict.fromkeys(name for name, _ in found))
    head = "RMSE, log10 viscosity, next four trials".ljust(44) + "".join(
        f"   n={n:<3d}" for n in counts
    )
    return [head] + [
        f"{name:44}" + "".join(f"   {np.sqrt(np.mean(found[name, n])):.3f}" for n in counts)
        for name in names
    ]


def _guesses(past: pd.DataFrame, ahead: pd.DataFrame, words: dict[str, str]) -> dict[str, Any]:
    x, y = past[list(words)].to_numpy(), np.log10(past["viscosity_mPas"].to_numpy())
    new = ahead[list(words)].to_numpy()
    learner: Learner = fit(past, functions=words)
    beta, *_ = np.linalg.lstsq(x, y, rcond=None)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        ols = sm.OLS(y, x).fit().predict(new)
    last = [y[_ancestor(ahead, past, i)] for i in range(len(ahead))]
    return {
        "labkit": np.log10(learner.predict(ahead)["viscosity_mPas"]["median"].to_numpy()),
        "last value of the nearest ancestor": np.array(last),
        "numpy lstsq on %, least norm": new @ beta,
        "statsmodels OLS on %": np.asarray(ols),
    }


def _ancestor(ahead: pd.DataFrame, past: pd.DataFrame, i: int) -> int:
    parents = dict(zip(ahead["trial"], ahead["parent"], strict=True))
    at = int(ahead["trial"].iloc[i])
    while at in parents:
        at = int(parents[at])
    return int(np.flatnonzero(past["trial"] == at)[0])


if __name__ == "__main__":
    print("\n".join(timings()))
    print("\n".join(errors()))
