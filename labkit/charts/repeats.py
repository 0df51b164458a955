"""Repeats of one recipe on a chart of single batches, with honest limits for few."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from labkit.bench import Bench
from labkit.charts.figure import Chart
from labkit.charts.marks import Band, Panel, Point, Series
from labkit.charts.trend import LOGARITHMIC
from labkit.errors import MeasurementError
from labkit.learning.control import IndividualsChart, individuals

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["repeats"]

LEAST = 3


def repeats(bench: Bench, trials: Sequence[str], quantity: str = "viscosity") -> Chart:
    """Batches of one recipe in the order made, against the limits that they allow.

    Parameters
    ----------
    bench : Bench
        Where the readings are.
    trials : sequence of str
        Labels or ids of trials that repeat one recipe; their recipes are compared, and one
        that differs is refused.
    quantity : str
        Measured on each under the same conditions.

    Returns
    -------
    Chart
        The mean reading of each batch, and the moving range below. Under twenty batches the
        limits are prediction limits and say so, since plug-in limits from few batches raise
        false alarms.

    Raises
    ------
    MeasurementError
        Another recipe among them, fewer than three batches, or different conditions.
    """
    made = [bench.trial(t) for t in trials]
    strangers = [t.label for t in made if t.formula.fingerprint != made[0].formula.fingerprint]
    if strangers:
        raise _refuse(
            f"{', '.join(strangers)} is another recipe than {made[0].label}",
            "Batches of one recipe",
            "Repeats are charted by their mean; a change of recipe belongs on the trend",
        )
    readings = bench.readings(quantity)
    mine = readings[readings["trial"].isin([t.id for t in made]) & readings["value"].notna()]
    usual = mine["conditions"].value_counts()
    if len(usual) != 1 or mine["trial"].nunique() < LEAST:
        raise _refuse(
            f"{mine['trial'].nunique()} measured batches under {len(usual)} sets of conditions",
            f"At least {LEAST} batches measured under the same conditions",
            "A batch was not measured, or at another temperature or with another spindle",
        )
    log = quantity in LOGARITHMIC
    values = np.array([_middle(mine, t.id, log) for t in made if t.id in set(mine["trial"])])
    labels = [t.label for t in made if t.id in set(mine["trial"])]
    chart = individuals(np.log10(values) if log else values)
    unit = str(mine["unit"].iloc[0])
    panels = [
        _values(values, labels, chart, quantity, "" if unit == "pH" else unit, log),
        _ranges(labels, chart, log),
    ]
    words = (chart.few or chart.values).words
    seen = (
        ""
        if chart.shift_seen is None
        else (
            f" A shift of {chart.shift_seen:.1f} standard deviations would be seen in the next "
            "batch with an even chance."
        )
    )
    return Chart(panels, f"Repeats: {quantity}", f"{words}.{seen}", height=220)


def _middle(mine: pd.DataFrame, name: str, log: bool) -> float:
    rows = mine[mine["trial"] == name]["value"].to_numpy(float)
    return float(np.exp(np.log(rows).mean()) if log else rows.mean())


def _values(
    values: NDArray[np.float64],
    labels: Sequence[str],
    chart: IndividualsChart,
    quantity: str,
    unit: str,
    log: bool,
) -> Panel:
    limits = chart.few or chart.values
    ends = (limits.lower, limits.upper)
    low, high = (10 ** ends[0], 10 ** ends[1]) if log else ends
    points = tuple(
        Point(x=float(i), y=float(v), hover=(f"{label}: {v:.4g} {unit}".rstrip(),))
        for i, (v, label) in enumerate(zip(values, labels, strict=True))
    )
    return Panel(
        title=quantity,
        unit=unit,
        points=points,
        bands=(Band(low=low, high=high, words="limits"),),
        series=(Series(name="", index=0),),
        log=log,
        ticks=tuple((float(i), label) for i, label in enumerate(labels)),
    )


def _ranges(labels: Sequence[str], chart: IndividualsChart, log: bool) -> Panel:
    points = tuple(
        Point(x=float(i), y=float(r), hover=(f"{a} to {b}: {r:.3g}",))
        for i, (r, a, b) in enumerate(
            zip(chart.moving_ranges, labels, labels[1:], strict=False), start=1
        )
        if math.isfinite(r)
    )
    return Panel(
        title="moving range" + (" of the logarithm" if log else ""),
        points=points,
        bands=(Band(low=0.0, high=chart.ranges.upper, words="limit"),),
        series=(Series(name="", index=1),),
        ticks=tuple((float(i), label) for i, label in enumerate(labels)),
    )


def _refuse(found: str, allowed: str, cause: str) -> MeasurementError:
    return MeasurementError(
        where="Chart of repeats",
        found=found,
        allowed=allowed,
        cause=cause,
        do="Choose repeats of one recipe, measured alike",
    )
