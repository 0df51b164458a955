"""What the trials of a bench taught, made ready for forecasts of one family of recipes."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from importlib import metadata
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from labkit.bench import Bench
from labkit.formula import Formula
from labkit.learning.bench_table import column_of
from labkit.learning.frames import function_words
from labkit.learning.learner import Learner, fit, quantile_points
from labkit.learning.posterior import Mixture
from labkit.materials import Materials

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["BenchLearned", "family_frame", "learned_from"]

Array = NDArray[np.float64]
KIN = 0.5
"""Share of materials in common from which a trial counts as kin (common practice)."""
LEAST_TRIALS = 2
"""Trials with a reading before anything is said to be learned (common practice)."""
LEVELS = (0.8,)


class BenchLearned:
    """A learner, refitted when a recipe brings a material that no trial has had."""

    def __init__(self, frame: pd.DataFrame, materials: tuple[str, ...], mats: Any) -> None:
        self._frame, self._mats, self._materials = frame, mats, materials
        self._learners: dict[frozenset[str], Learner] = {}
        self._last: tuple[Array, Mixture | None] | None = None

    @cached_property
    def record(self) -> dict[str, Any]:
        """Model, version and the trials it learned from; nothing in it is drawn at random."""
        return {
            "name": "labkit.learning",
            "version": metadata.version("labkit"),
            "seed": 0,
            "data": [str(name) for name in self._frame["trial"]],
        }

    def bands(self, formula: Formula, percent: Array) -> Mapping[str, tuple[Array, Array, Array]]:
        """Median, low and high at 80 % for each learned quantity, shape of the rows."""
        learner, shares = self._shares(formula, percent)
        mixtures, acidity = learner.mixtures(shares)
        self._last = shares, acidity
        points = quantile_points(LEVELS)
        found = {name: _three(10.0 ** m.quantile(points)) for name, m in mixtures.items()}
        if acidity is not None and self._frame["pH"].notna().any():
            found["pH"] = _three(acidity.quantile(points))
        return found

    def outside(self, formula: Formula, percent: Array) -> tuple[str, ...]:
        """Words for what lies outside the compositions tried."""
        learner, shares = self._shares(formula, percent[None, :])
        known = self._last is not None and np.array_equal(self._last[0], shares)
        acidity = self._last[1] if known and self._last is not None else None
        return learner.outside(shares, acidity)[0]

    def learner(self, names: frozenset[str] = frozenset()) -> Learner:
        """The learner that knows these materials besides those of the trials."""
        new = frozenset(names) - set(self._materials)
        if new not in self._learners:
            frame = self._frame.assign(**dict.fromkeys(sorted(new), 0.0)) if new else self._frame
            mats = Materials.starter() if self._mats is None else self._mats
            columns = [*self._materials, *sorted(new)]
            self._learners[new] = fit(frame, mats, function_words(columns, mats))
        return self._learners[new]

    def _shares(self, formula: Formula, percent: Array) -> tuple[Learner, Array]:
        keys = [column_of(x.key or x.material, self._mats) for x in formula.lines]
        learner = self.learner(frozenset(keys))
        places = {name: j for j, name in enumerate(learner.data.names)}
        shares = np.zeros((len(percent), len(places)))
        for i, key in enumerate(keys):
            shares[:, places[key]] += percent[:, i]
        return learner, shares


def learned_from(bench: Bench, formula: Formula, mats: Any = None) -> BenchLearned | None:
    """What the bench's trials of this family taught; None before there is enough.

    Parameters
    ----------
    bench : Bench
        Its trials with at least half of the materials in common count as kin.
    formula : Formula
        The recipe to forecast.
    mats : Materials, optional
        Resolves spellings, and knows what each material does.
    """
    frame, materials = family_frame(bench, formula, mats)
    if len(frame) < LEAST_TRIALS:
        return None
    return BenchLearned(frame, materials, mats)


def family_frame(
    bench: Bench, formula: Formula, mats: Any = None
) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """The kin of a recipe as a table for the learner: one row a measured trial.

    Readings of viscosity count under the conditions that occur most in this family.
    """
    import pandas as pd

    wanted = {column_of(x.key or x.material, mats) for x in formula.lines}
    readings = bench.readings()
    measured = readings[readings["value"].notna() & readings["quantity"].isin(["viscosity", "pH"])]
    measured = measured[measured["bound"].isna()]
    kin: dict[str, tuple[Any, dict[str, float]]] = {}
    for trial_id in dict.fromkeys(measured["trial"]):
        trial = bench.trial(str(trial_id))
        shares: dict[str, float] = {}
        for line in trial.formula.lines:
            key = column_of(line.key or line.material, mats)
            shares[key] = shares.get(key, 0.0) + float(line.percent)
        if len(wanted & set(shares)) >= KIN * len(wanted | set(shares)):
            kin[trial_id] = trial, shares
    usual = _usual(measured[measured["trial"].isin(list(kin))])
    columns = tuple(dict.fromkeys(name for _, shares in kin.values() for name in shares))
    rows = [
        _row(trial, measured[measured["trial"] == trial_id], usual) | shares
        for trial_id, (trial, shares) in kin.items()
    ]
    frame = pd.DataFrame(rows)
    if not frame.empty:
        frame[list(columns)] = frame[list(columns)].fillna(0.0)
    return frame, columns


def _usual(measured: pd.DataFrame) -> str:
    counts = measured[measured["quantity"] == "viscosity"]["conditions"].value_counts()
    return "" if counts.empty else str(counts.index[0])


def _row(trial: Any, readings: pd.DataFrame, usual: str) -> dict[str, Any]:
    thick = readings[(readings["quantity"] == "viscosity") & (readings["conditions"] == usual)]
    ph = readings[readings["quantity"] == "pH"]["value"]
    log_mean = np.log(thick["value"]).mean() if len(thick) else float("nan")
    return {
        "trial": trial.id,
        "parent": trial.parents[0] if trial.parents else None,
        "n_readings": max(len(thick), 1),
        "viscosity_mPas": float(np.exp(log_mean)),
        "pH": float(ph.mean()) if len(ph) else float("nan"),
    }


def _three(bands: Array) -> tuple[Array, Array, Array]:
    return bands[:, 0], bands[:, 1], bands[:, 2]
