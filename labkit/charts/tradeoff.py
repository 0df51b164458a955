"""What one gives up for the other: chance of the windows against cost, and surprise."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from labkit.charts.figure import Chart
from labkit.charts.marks import Band, Panel, Point, Series
from labkit.learning import track
from labkit.plan import Proposal

__all__ = ["surprises", "trade_off"]


def trade_off(proposals: Sequence[Proposal]) -> Chart:
    """Chance of being inside all windows against cost, one mark a proposal.

    Parameters
    ----------
    proposals : sequence of Proposal
        From ``plan.next_trials``; those without a known cost stand at the left edge.

    Returns
    -------
    Chart
        Cost per kg along, chance in % up.
    """
    costs = [p.cost for p in proposals if p.cost is not None]
    edge = min(costs, default=0.0)
    points = tuple(
        Point(
            x=edge if p.cost is None else p.cost,
            y=100 * p.chance,
            label=str(i),
            hollow=p.cost is None,
            hover=(p.words, *(f"{name}: {100 * c:.0f} %" for name, c in p.chances.items())),
        )
        for i, p in enumerate(proposals, start=1)
    )
    span = (min(costs), max(costs)) if costs else (0.0, 0.0)
    marks = [span[0] + (span[1] - span[0]) * k / 4 for k in range(5)]
    panel = Panel(
        title="chance of all windows",
        unit="%",
        points=points,
        series=(Series(name="", index=0),),
        x_title="cost of materials per kg",
        ticks=tuple((m, f"{m:.{3 if span[1] - span[0] < 0.1 else 2}f}") for m in marks),
    )
    missing = len(proposals) - len(costs)
    note = f"{missing} without a known cost stand at the left edge." if missing else ""
    return Chart([panel], "Chance against cost", note)


def surprises(bench: Any, quantity: str = "viscosity_mPas", mats: Any = None) -> Chart:
    """How far each trial fell from what the ones before it foretold, in its own spread.

    Parameters
    ----------
    bench : Bench or DataFrame
        Trials with readings.
    quantity : {"viscosity_mPas", "drain_s", "spread_mm", "pH"}
    mats : Materials, optional
        As for ``learning.fit``.

    Returns
    -------
    Chart
        (measured - foretold) / spread for each trial; two in a hundred honest surprises lie
        beyond ± 2.33 (normal distribution). A recipe may change all along: this is the chart
        for iterations, the individuals chart is for repeats of one recipe.

    Raises
    ------
    MeasurementError
        The quantity was never measured.
    """
    tracked = track(bench, quantity, mats)
    named = hasattr(bench, "trial")
    labels = [bench.trial(t.trial).label if named else str(t.trial) for t in tracked]
    points = tuple(
        Point(x=float(i), y=float(t.surprise), hover=(f"{label}: {t.surprise:+.1f}",))
        for i, (t, label) in enumerate(zip(tracked, labels, strict=True))
    )
    panel = Panel(
        title=f"surprise in {quantity.split('_')[0]}",
        unit="spreads",
        points=points,
        bands=(Band(low=-2.33, high=2.33, words="98 of 100"),),
        series=(Series(name="", index=0),),
        x_title="trial",
        ticks=tuple((float(i), label) for i, label in enumerate(labels)),
    )
    return Chart([panel], "Surprise across iterations")
