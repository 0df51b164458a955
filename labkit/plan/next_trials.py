"""Proposals for the next trial: towards the brief, the most teaching, or the same again."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from labkit.formula.brief import Brief
from labkit.learning.learner import Learner, fit
from labkit.learning.posterior import Array
from labkit.materials import Materials
from labkit.plan.candidates import Room
from labkit.plan.proposals import REPEAT, TEACHES, TOWARDS, Proposal, expected_ph, propose
from labkit.plan.rooms import prices, room_of
from labkit.plan.search import (
    Judged,
    Stops,
    Windows,
    best_trials,
    check_windows,
    different,
    joined,
    judge,
    most_teaching,
    search,
)
from labkit.plan.stopping import new_stops

__all__ = ["Proposal", "next_trials", "windows_of"]

REPEAT_SURPRISE = 1.5  # standard deviations of the noise
NEVER_REPEATED = 6  # trials after which a first repeat is worth its batch
SEED = 7
COLUMN_OF_WINDOW = {
    "pH": "pH",
    "viscosity": "viscosity_mPas",
    "drain time": "drain_s",
    "spread": "spread_mm",
}


def windows_of(brief: Any) -> dict[str, tuple[float, float]]:
    """Windows of a brief (or a plain mapping) in the learner's columns and units."""
    if isinstance(brief, Mapping):
        return {
            str(COLUMN_OF_WINDOW.get(k, k)): (float(v[0]), float(v[1])) for k, v in brief.items()
        }
    out: dict[str, tuple[float, float]] = {}
    if brief.ph is not None:
        out["pH"] = (float(brief.ph[0]), float(brief.ph[1]))
    if brief.viscosity is not None:
        low, high = (q.to("mPa*s") for q in brief.viscosity)
        out["viscosity_mPas"] = (float(low), float(high))
    units = {"drain time": "s", "spread": "mm"}
    for name, unit in units.items():
        if name in brief.windows:
            low, high = (q.to(unit) for q in brief.windows[name])
            out[COLUMN_OF_WINDOW[name]] = (float(low), float(high))
    return out


def next_trials(
    bench: Any,
    brief: Any,
    mats: Any = None,
    n: int = 3,
    *,
    vary: Sequence[str] | None = None,
    bounds: Mapping[str, tuple[float, float]] | None = None,
    at_most: int = 4,
    stops: Stops | Callable[[Array], Array] | None = None,
    seed: int = SEED,
) -> list[Proposal]:
    """Propose the next trial.

    Parameters
    ----------
    bench : Bench, DataFrame or Learner
        The trials so far.
    brief : Brief or mapping
        Windows to land in; a mapping such as ``{"pH": (4.8, 5.4), "viscosity": (2e4, 3e4)}``
        is in pH units and mPa·s.
    mats : Materials, optional
        Your materials: names, prices. The starter set when left out.
    n : int
        Proposals towards the brief that change different materials.
    vary : sequence of str, optional
        Materials that may change; else everything in the formula except water, preservatives,
        fragrance and actives, and acids and bases of the trials.
    bounds : mapping, optional
        Material to (low, high) % w/w; else half to twice the present share.
    at_most : int
        Changes in one trial.
    stops : callable, optional
        Compositions (m, materials) in the order of ``learner.data.names`` to True where a stop
        forbids them. When left out, a bench with a brief is checked as the mixing sheet does:
        no proposal raises a stop that its starting trial does not have.
    seed : int
        The same trials and seed give the same proposals.

    Returns
    -------
    list of Proposal
        ``n`` towards the brief, best first; then ``repeat this batch`` when noise is the
        question; then the one that ``teaches most``.

    Raises
    ------
    BriefError
        No window, a window that holds nothing, or one for a quantity never measured.

    Notes
    -----
    Maximises the chance that a new measured batch is inside every window. Stops are left out,
    cost breaks ties. The bands behind the chances hold batch and reading noise.
    """
    mats = Materials.starter() if mats is None else mats
    learner = bench if isinstance(bench, Learner) else fit(bench, mats)
    windows = windows_of(brief)
    check_windows(windows)
    rng = np.random.default_rng(seed)
    price = prices(learner.data.names, mats)
    out: list[Proposal] = []
    pools: list[tuple[int, Room, Judged]] = []
    for trial in best_trials(learner, windows):
        room = room_of(learner, learner.data.percent[trial], vary, bounds, mats)
        found = search(
            learner,
            learner.data.percent[trial],
            room,
            windows,
            at_most=at_most,
            stops=_stops(stops, bench, learner, trial, mats, brief),
            price=price,
            rng=rng,
        )
        pools.append((trial, room, found))
    trial, room, found = max(pools, key=lambda pool: float(pool[2].score[0]))
    for i in different(found, room, n):
        out.append(propose(learner, TOWARDS, trial, found, i, price))
    again = _repeat(learner, windows, price)
    if again is not None:
        out.append(again)
    teach = next(iter(learner.models), None)
    if teach is not None:
        at = most_teaching(learner, found.percent, teach)
        out.append(propose(learner, TEACHES, trial, found, at, price))
    return out


def _stops(
    given: Stops | None, bench: Any, learner: Learner, trial: int, mats: Any, brief: Any
) -> Stops | None:
    """The stops asked for, else those of the checks on paper where the formulas are at hand."""
    if given is not None or not isinstance(brief, Brief) or not hasattr(bench, "trial"):
        return given
    formula = bench.trial(str(learner.data.trials[trial])).formula

    def ph(percent: Array) -> Array:
        return expected_ph(learner, percent)

    return new_stops(formula, learner.data.names, learner.data.percent[trial], mats, brief, ph)


def _repeat(learner: Learner, windows: Windows, price: Array | None) -> Proposal | None:
    """The same again, when its own reading is in doubt or nothing was ever repeated."""
    data = learner.data
    best = best_trials(learner, windows, 1)[0]
    judged = judge(learner, data.percent[[best]], windows)
    unique = np.unique(data.percent.round(4), axis=0)
    never = len(unique) == len(data.percent) and len(data.percent) >= NEVER_REPEATED
    if not (never or _in_doubt(learner, best, windows)):
        return None
    return propose(learner, REPEAT, best, joined(judged, judged), 0, price)


def _in_doubt(learner: Learner, trial: int, windows: Windows) -> bool:
    """A reading inside the windows that the other trials do not expect, or the reverse."""
    for name in windows:
        values = learner.data.ph if name == "pH" else learner.data.log_values.get(name)
        if values is None or not np.isfinite(values[trial]):
            continue
        answers, acidity = learner.mixtures(learner.data.percent[[trial]])
        mixture = acidity if name == "pH" else answers[name]
        if mixture is None:
            continue
        middle = float((mixture.weight * mixture.mean).sum())
        square = float((mixture.weight * (mixture.sd**2 + mixture.mean**2)).sum())
        sd = max(float(np.sqrt(max(square - middle**2, 0.0))), 1e-6)
        if abs(values[trial] - middle) > REPEAT_SURPRISE * sd:
            return True
    return False
