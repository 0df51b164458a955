"""A bench's trials and readings as the table the learner reads."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from labkit.errors import MeasurementError

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = {
    "viscosity": "viscosity_mPas",
    "pH": "pH",
    "drain time": "drain_s",
    "spread": "spread_mm",
}
LOGGED = ("viscosity", "drain time", "spread")
HOURS_A_DAY = 24.0


def column_of(name: str, mats: Any) -> str:
    """The name under which a material is learned: its key where it is known."""
    material = None if mats is None else mats.resolve(name)
    return name if material is None else str(material.key)


def bench_frame(bench: Any, mats: Any = None) -> pd.DataFrame:
    """One row a measured trial, in the order made, with its formula in % w/w.

    Parameters
    ----------
    bench : Bench
        Its standing trials and readings; withdrawn ones are left out.
    mats : Materials, optional
        Resolves spellings to one name a material.

    Returns
    -------
    DataFrame
        Columns as for `fit`; a quantity measured in several ways counts in the way that occurs
        most, because a drain time is not a viscosity and a spindle is not another.

    Raises
    ------
    MeasurementError
        No trial with a reading the learner can use.
    """
    import pandas as pd

    readings = bench.readings()
    usable = readings[readings["value"].notna() & readings["quantity"].isin(list(COLUMNS))]
    if "bound" in usable:
        usable = usable[usable["bound"].isna()]
    if usable.empty:
        raise MeasurementError(
            where="Bench",
            found="no viscosity, drain time, spread or pH measured yet",
            allowed="At least one measured trial",
            cause="The readings are still to be recorded",
            do="Measure a trial, then fit again",
        )
    kept = pd.concat([_usual(usable[usable["quantity"] == q]) for q in COLUMNS])
    rows: list[dict[str, Any]] = []
    materials: dict[str, None] = {}
    listed = bench.trials()
    by_trial = dict(tuple(kept.groupby("trial")))
    for trial_id, label in zip(listed["id"], listed["label"], strict=True):
        own = by_trial.get(trial_id)
        if own is None:
            continue
        trial = bench.trial(str(trial_id))
        shares: dict[str, float] = {}
        for line in trial.formula.lines:
            name = column_of(line.key or line.material, mats)
            shares[name] = shares.get(name, 0.0) + float(line.percent)
        materials |= dict.fromkeys(shares)
        parents = tuple(trial.parents)
        told = {
            "trial": trial.id,
            "label": label,
            "parent": parents[0] if parents else None,
            "base": trial.batch,
        }
        rows.append(told | _row(own) | shares)
    frame = pd.DataFrame(rows)
    frame[list(materials)] = frame[list(materials)].fillna(0.0)
    return frame


def _usual(readings: pd.DataFrame) -> pd.DataFrame:
    """Readings taken in the way that occurs most."""
    if readings.empty:
        return readings
    way = readings["conditions"].fillna("")
    kept: pd.DataFrame = readings[way == way.value_counts().index[0]]
    return kept


def _row(readings: pd.DataFrame) -> dict[str, Any]:
    """Means of one trial's readings."""
    quantity = readings["quantity"].to_numpy()
    value = readings["value"].to_numpy(dtype=float)
    out: dict[str, Any] = {"n_readings": 1}
    for name, column in COLUMNS.items():
        own = value[quantity == name]
        if not own.size:
            out[column] = float("nan")
        elif name in LOGGED:
            out[column] = float(np.exp(np.log(own).mean()))
        else:
            out[column] = float(own.mean())
    thick = quantity == "viscosity"
    if thick.any():
        out["n_readings"] = int(thick.sum())
        out["measure_temp_C"] = _mean(readings["temperature_c"].to_numpy(dtype=float)[thick])
        hours = _mean(readings["at_h"].to_numpy(dtype=float)[thick])
        out["age_days"] = hours / HOURS_A_DAY if hours > 0 else float("nan")
    return out


def _mean(values: Any) -> float:
    """Mean of what was recorded; nan when nothing was."""
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else float("nan")
