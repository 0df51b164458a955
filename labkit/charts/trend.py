"""How a quantity went from trial to trial, along the branches of the family tree."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labkit.bench import Bench
from labkit.bench.scales import find_scale
from labkit.charts.figure import Chart
from labkit.charts.marks import Band, Link, Panel, Point, Series
from labkit.errors import MeasurementError
from labkit.formula import Brief
from labkit.formula.grid import show

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Lineage", "trend"]

LOGARITHMIC = {"viscosity", "counts"}
"""Quantities whose steps are ratios."""
TOLD_AT_MOST = 6


@dataclass(frozen=True, slots=True)
class Lineage:
    """Trials in the order they were made, with parents and what changed."""

    order: Mapping[str, int]
    labels: Mapping[str, str]
    parents: Mapping[str, tuple[str, ...]]

    @classmethod
    def of(cls, bench: Bench, only: Sequence[str] | None = None) -> Lineage:
        """The lineage of a bench, or of some of its trials (by name of the formula or label)."""
        table = bench.trials()
        if only is not None:
            wanted = set(only)
            table = table[table["name"].isin(wanted) | table["label"].isin(wanted)]
        names = list(table["id"])
        return cls(
            {name: i for i, name in enumerate(names)},
            dict(zip(names, table["label"], strict=True)),
            dict(zip(names, table["parents"], strict=True)),
        )

    def ancestor(self, name: str, among: set[str]) -> str | None:
        """The nearest ancestor that is in ``among``."""
        seen, waiting = {name}, list(self.parents.get(name, ()))
        while waiting:
            here = waiting.pop(0)
            if here in among:
                return here
            if here not in seen:
                seen.add(here)
                waiting += self.parents.get(here, ())
        return None


def trend(
    bench: Bench,
    quantity: str = "viscosity",
    *,
    brief: Brief | None = None,
    trials: Sequence[str] | None = None,
) -> Chart:
    """A quantity across the trials, with its window and what changed.

    Parameters
    ----------
    bench : Bench
        Where the readings are.
    quantity : str
        What was measured, such as ``"viscosity"``, ``"pH"``, ``"drain time"``.
    brief : Brief, optional
        Its window is drawn as a band.
    trials : sequence of str, optional
        Only these: names of formulas, or labels of trials.

    Returns
    -------
    Chart
        One point for each trial and set of conditions (geometric mean of the replicates
        for viscosity and counts, else the mean; whiskers from lowest to highest reading).
        A line joins a trial with the nearest ancestor that was read under the same
        conditions, never with any other.

    Raises
    ------
    MeasurementError
        The quantity was never measured; those that were are named.
    """
    lineage = Lineage.of(bench, trials)
    readings = bench.readings(quantity)
    readings = readings[readings["trial"].isin(lineage.order) & readings["value"].notna()]
    if readings.empty:
        raise _nothing(bench, quantity)
    log = quantity in LOGARITHMIC and bool((readings["value"] > 0).all())
    conditions = list(dict.fromkeys(readings["conditions"]))
    told = _told(bench, lineage, set(readings["trial"]))
    points: list[Point] = []
    links: list[Link] = []
    for i, words in enumerate(conditions):
        rows = readings[readings["conditions"] == words]
        mine = _points(rows, i, lineage, told, log)
        points += mine.values()
        links += _links(mine, i, lineage)
    panel = Panel(
        title=quantity,
        unit=_unit(readings),
        points=tuple(points),
        links=tuple(links),
        bands=_window(brief, quantity),
        series=tuple(
            Series(name=words or "conditions not stated", index=i)
            for i, words in enumerate(conditions)
        ),
        log=log,
        levels=_levels(quantity),
        x_title="trial",
        ticks=tuple((i, lineage.labels[name]) for name, i in lineage.order.items()),
    )
    note = "Readings under different conditions are not joined." if len(conditions) > 1 else ""
    return Chart([panel], f"{quantity} across trials", note)


def _unit(readings: pd.DataFrame) -> str:
    unit = str(readings["unit"].iloc[0])
    return "" if unit in {"pH", "word"} else unit


def _levels(quantity: str) -> tuple[tuple[float, str], ...]:
    scale = find_scale(quantity)
    words = () if scale is None else scale.words
    return tuple((float(i), word) for i, word in enumerate(words, start=1))


def _points(
    rows: pd.DataFrame,
    series: int,
    lineage: Lineage,
    told: Mapping[str, tuple[str, ...]],
    log: bool,
) -> dict[str, Point]:
    import numpy as np

    found = {}
    for name, group in ((str(key), part) for key, part in rows.groupby("trial", sort=False)):
        values = group["value"].to_numpy(float)
        middle = float(np.exp(np.log(values).mean()) if log and len(values) > 1 else values.mean())
        low, high = float(values.min()), float(values.max())
        words = group["unit"].iloc[0] == "word"
        shown = str(group["text"].iloc[0]) if words else _number(middle)
        head = (
            f"{lineage.labels[name]}: {shown} {_unit(group)}".rstrip(),
            *((f"{len(values)} readings, {_number(low)} to {_number(high)}",) * (len(values) > 1)),
            str(group["conditions"].iloc[0]) or "conditions not stated",
        )
        spread = len(values) > 1
        found[name] = Point(
            x=lineage.order[name],
            y=middle,
            series=series,
            low=low if spread else _end(group, "low"),
            high=high if spread else _end(group, "high"),
            hover=(*head, *told.get(name, ())),
        )
    return found


def _end(group: pd.DataFrame, side: str) -> float | None:
    value = group[side].iloc[0]
    return None if value is None or value != value else float(value)


def _number(value: float) -> str:
    return f"{value:,.0f}".replace(",", " ") if abs(value) >= 1000 else f"{value:.4g}"


def _links(points: Mapping[str, Point], series: int, lineage: Lineage) -> list[Link]:
    links = []
    for name, point in points.items():
        parent = lineage.ancestor(name, set(points))
        if parent is not None:
            start = points[parent]
            links.append(Link(x=(start.x, point.x), y=(start.y, point.y), series=series))
    return links


def _told(bench: Bench, lineage: Lineage, names: set[str]) -> dict[str, tuple[str, ...]]:
    """What changed from the parent, and the note, for the trials that are shown."""
    told = {}
    for name in names:
        trial = bench.trial(name)
        lines: list[str] = []
        for parent in trial.parents:
            if parent in lineage.labels:
                lines += _changes(bench, parent, trial, lineage.labels[parent])
        if trial.note:
            lines.append(f"“{trial.note}”")
        told[name] = tuple(lines)
    return told


def _changes(bench: Bench, parent: str, trial: Any, label: str) -> list[str]:
    found = list(bench.trial(parent).formula.compare(trial.formula))
    if not found:
        return [f"same recipe as {label}"]
    lines = [f"from {label}:"]
    for d in found[:TOLD_AT_MOST]:
        before = "–" if d.before is None else show(d.before)
        after = "–" if d.after is None else show(d.after)
        lines.append(f"  {d.material} {before} → {after} %")
    if len(found) > TOLD_AT_MOST:
        lines.append(f"  and {len(found) - TOLD_AT_MOST} more")
    return lines


def _window(brief: Brief | None, quantity: str) -> tuple[Band, ...]:
    if brief is None:
        return ()
    ends: tuple[float, float] | None = brief.ph if quantity == "pH" else None
    window = brief.viscosity if quantity == "viscosity" else brief.windows.get(quantity)
    if window is not None:
        scale = find_scale(quantity)
        unit = scale.unit if scale is not None and scale.unit else window[0].unit
        ends = (window[0].to(unit), window[1].to(unit))
    return () if ends is None else (Band(low=ends[0], high=ends[1], words="wanted"),)


def _nothing(bench: Bench, quantity: str) -> MeasurementError:
    measured = sorted(set(bench.readings()["quantity"]))
    return MeasurementError(
        where=f"Trend of {quantity}",
        found="no number was measured" + ("" if measured else " at this bench yet"),
        allowed=f"Measured here: {', '.join(measured)}" if measured else "A measured quantity",
        cause="It was not measured for these trials, or under another name",
        do=f"Record one: bench.measure(trial, '{quantity}', …)",
    )
