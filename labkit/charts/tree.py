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
    rows = 1 + max(-y for _, y in places.values())
    words = "Each trial stands one step right of its parent."
    return Chart([panel], "Family tree", words, height=90 + 34 * rows)


def layout(lineage: Lineage) -> dict[str, tuple[float, float]]:
    """Generation and row of each trial: the longest line of descent goes straight on."""
    children: dict[str, list[str]] = {name: [] for name in lineage.order}
    step: dict[str, float] = {}
    roots: list[str] = []
    for name in lineage.order:
        known = [p for p in lineage.parents.get(name, ()) if p in step]
        step[name] = 1.0 + max((step[p] for p in known), default=-1.0)
        nearest = max(known, key=lambda p: step[p]) if known else None
        (roots if nearest is None else children[nearest]).append(name)
    depth = _depths(lineage, children)
    places: dict[str, tuple[float, float]] = {}
    row = 0.0
    waiting = [(root, True) for root in reversed(roots)]
    while waiting:
        name, fresh = waiting.pop()
        if fresh and places:
            row -= 1.0
        places[name] = (step[name], row)
        heirs = sorted(children[name], key=lambda c: -depth[c])
        waiting += [(child, True) for child in reversed(heirs[1:])]
        waiting += [(child, False) for child in heirs[:1]]
    return places


def _depths(lineage: Lineage, children: dict[str, list[str]]) -> dict[str, int]:
    depth: dict[str, int] = {}
    for name in reversed(list(lineage.order)):
        depth[name] = 1 + max((depth[c] for c in children[name]), default=0)
    return depth
