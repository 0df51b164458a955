"""What the recipe was, trial by trial."""

from __future__ import annotations

from collections.abc import Sequence

from labkit.bench import Bench
from labkit.charts.figure import Chart
from labkit.charts.marks import Link, Panel, Point, Series
from labkit.charts.trend import Lineage
from labkit.errors import RecordError

__all__ = ["composition"]

SHOWN_AT_MOST = 8


def composition(
    bench: Bench, *, trials: Sequence[str] | None = None, materials: Sequence[str] | None = None
) -> Chart:
    """The shares of the materials that changed, each on its own scale, across the trials.

    Parameters
    ----------
    bench : Bench
        Where the trials are.
    trials : sequence of str, optional
        Only these: names of formulas, or labels.
    materials : sequence of str, optional
        Only these; without a choice the eight that moved most, relative to their size.

    Raises
    ------
    RecordError
        No trial, or no trial with these materials.
    """
    lineage = Lineage.of(bench, trials)
    shares: dict[str, dict[str, float]] = {}
    for name in lineage.order:
        for line in bench.trial(name).formula.lines:
            row = shares.setdefault(line.material, {})
            row[name] = row.get(name, 0.0) + float(line.percent)
    chosen = _chosen(shares, lineage, materials)
    if not chosen:
        raise RecordError(
            where="Composition over trials",
            found="nothing to draw",
            allowed="At least one recorded trial with these materials",
            cause="The bench is empty, or the names stand otherwise in the recipes",
            do="Record a trial, or use the names as they stand in the formula",
        )
    panels = [_panel(material, shares[material], lineage) for material in chosen]
    return Chart(panels, "Composition across trials", "Shares in % w/w; 0 where it was left out.")


def _chosen(
    shares: dict[str, dict[str, float]], lineage: Lineage, materials: Sequence[str] | None
) -> list[str]:
    if materials is not None:
        wanted = {m.casefold() for m in materials}
        return [m for m in shares if m.casefold() in wanted]

    def movement(material: str) -> float:
        values = [shares[material].get(name, 0.0) for name in lineage.order]
        return (max(values) - min(values)) / max(max(values), 1e-9)

    moved = sorted(shares, key=movement, reverse=True)
    return [m for m in moved[:SHOWN_AT_MOST] if movement(m) > 0] or moved[:SHOWN_AT_MOST]


def _panel(material: str, row: dict[str, float], lineage: Lineage) -> Panel:
    points = {
        name: Point(
            x=i,
            y=row.get(name, 0.0),
            hover=(f"{lineage.labels[name]}: {row.get(name, 0.0):g} %",),
            hollow=name not in row,
        )
        for name, i in lineage.order.items()
    }
    links = []
    for name, point in points.items():
        parent = lineage.ancestor(name, set(points))
        if parent is not None:
            start = points[parent]
            links.append(Link(x=(start.x, point.x), y=(start.y, point.y)))
    return Panel(
        title=material,
        unit="%",
        points=tuple(points.values()),
        links=tuple(links),
        series=(Series(name="", index=0),),
        ticks=tuple((i, lineage.labels[name]) for name, i in lineage.order.items()),
    )
