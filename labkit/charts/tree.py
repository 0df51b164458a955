"""The family tree of the trials, drawn from left to right."""

from __future__ import annotations

from collections.abc import Sequence

from labkit.bench import Bench
from labkit.charts.figure import Chart
from labkit.charts.marks import Link, Panel, Point, Series
from labkit.charts.trend import Lineage
from labkit.errors import RecordError

__all__ = ["family_tree"]


def family_tree(bench: Bench, *, trials: Sequence[str] | None = None) -> Chart:
    """Which trial was built on which: generations from left to right, a row for each branch.

    Parameters
    ----------
    bench : Bench
        Where the trials are.
    trials : sequence of str, optional
        Only these: names of formulas, or labels.

    Raises
    ------
    RecordError
        The bench holds no trial.
    """
    lineage = Lineage.of(bench, trials)
    if not lineage.order:
        raise RecordError(
            where="Family tree",
            found="no trial",
            allowed="At least one recorded trial",
            cause="Nothing was recorded at this bench yet",
            do="Record one: bench.record(formula, note='…')",
        )
    places = layout(lineage)
    points, links = [], []
    for name, (x, y) in places.items():
        trial = bench.trial(name)
        hover = [f"{lineage.labels[name]} · {trial.name}"]
        for parent in lineage.parents.get(name, ()):
            if parent in places:
                links.append(Link(x=(places[parent][0], x), y=(places[parent][1], y)))
                change = str(bench.trial(parent).formula.compare(trial.formula))
                hover.append(f"from {lineage.labels[parent]}: {change}")
        if trial.note:
            hover.append(f"“{trial.note}”")
        points.append(Point(x=x, y=y, label=lineage.labels[name], hover=tuple(hover)))
    panel = Panel(
        title="Family tree",
        points=tuple(points),
        links=tuple(links),
        series=(Series(name="", index=0),),
        bare=True,
    )
    return Chart([panel], "Family tree", "Each trial stands one step right of its parent.")


def layout(lineage: Lineage) -> dict[str, tuple[float, float]]:
    """Generation and branch of each trial: the first child keeps its parent's row."""
    places: dict[str, tuple[float, float]] = {}
    taken: set[tuple[float, float]] = set()
    lowest = 0.0
    for name in lineage.order:
        known = [places[p] for p in lineage.parents.get(name, ()) if p in places]
        x = max((p[0] for p in known), default=-1.0) + 1.0
        y = known[0][1] if known else lowest - 1.0
        if (x, y) in taken:
            y = lowest - 1.0
        places[name] = (x, y)
        taken.add((x, y))
        lowest = min(lowest, y)
    return places
