"""A series of trials with its truth: learned from the past only, scored on what came next."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from labkit.learning.learner import fit
from tests.reference.tolerance import Result, Row, data, verdict

TABLES = ("trial_series",)
COLUMNS = frozenset({"trial", "parent", "viscosity_mPas", "pH", "true_viscosity_mPas", "true_pH"})
WARM_UP = 3
FAR, FAR_PH = 0.3, 0.3  # log10 mPa s (a factor of 2), pH
TEXT = {"note", "_id", "_line", "_table"}


def check(rows: list[Row]) -> Iterable[Result]:
    """From the fourth trial on: the measured mean in the 99 % band, the median near the truth."""
    frame = pd.DataFrame(rows)
    frame = frame.drop(columns=[c for c in TEXT if c in frame])
    frame = frame.apply(pd.to_numeric, errors="coerce")
    trials = list(dict.fromkeys(frame["trial"]))
    verdicts: dict[float, tuple[bool, str]] = {}
    for n in range(WARM_UP, len(trials)):
        past = frame[frame["trial"].isin(trials[:n])]
        now = frame[frame["trial"] == trials[n]]
        bands = fit(past).predict(now.iloc[[0]], levels=(0.99,))
        thick = 10 ** np.log10(now["viscosity_mPas"]).mean()
        ph = now["pH"].mean()
        a, b = bands["viscosity_mPas"].iloc[0], bands["pH"].iloc[0]
        good = a["low99"] <= thick <= a["high99"] and b["low99"] <= ph <= b["high99"]
        away = abs(np.log10(a["median"] / now["true_viscosity_mPas"].iloc[0]))
        good = good and away <= FAR and abs(b["median"] - now["true_pH"].iloc[0]) <= FAR_PH
        verdicts[trials[n]] = (bool(good), f"{a['median']:.0f} mPa s, pH {b['median']:.2f}")
    for row in rows:
        found = verdicts.get(float(row["trial"]))
        if found is None:
            yield data(row)
        else:
            expected = f"{row['viscosity_mPas']} mPa s, pH {row['pH']}"
            yield verdict(row, found[0], expected, found[1], "99 % band, near the truth")
