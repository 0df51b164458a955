"""What each change did, as a waterfall from one trial to the next."""

from __future__ import annotations

import math
from typing import Any

from labkit.charts.figure import Chart
from labkit.charts.marks import Bar, Link, Panel, Series
from labkit.errors import MeasurementError
from labkit.learning import Learner
from labkit.plan import effects
from labkit.plan.effects import Step

__all__ = ["waterfall"]

UP, DOWN, OPEN, MEASURED = 0, 1, 4, 2
FACTORS = (0.1, 0.2, 0.3, 0.5, 0.7, 0.8, 0.9, 1, 1.1, 1.25, 1.5, 2, 3, 5, 10)


def waterfall(
    bench_or_learner: Any, trial: Any, quantity: str = "viscosity", mats: Any = None
) -> Chart:
    """The change of a quantity from a trial's parent to the trial, taken apart.

    Parameters
    ----------
    bench_or_learner : Bench, DataFrame or Learner
        Trials with readings, or what was learned from them.
    trial : str or Trial
        Its label or id.
    quantity : {"viscosity", "pH", "drain time", "spread"}
    mats : Materials, optional
        Used when a bench is given.

    Returns
    -------
    Chart
        One bar a change, each beginning where the last one ended, with its 80 % interval;
        then what is not explained, and what was measured. Thickness as a factor, pH in units.

    Raises
    ------
    MeasurementError
        The trial has no parent with readings, or the quantity was never measured.
    """
    steps = effects(bench_or_learner, quantity, mats)
    step = _find(steps, trial, bench_or_learner)
    log = quantity != "pH"
    rows: list[tuple[str, Bar]] = []
    here = 0.0
    for c in step.contributions:
        moved = "" if c.before is None else f" {c.before:g} → {c.after:g} %"
        bar = Bar(
            y=-len(rows),
            start=here,
            end=here + c.effect,
            low=here + c.low80,
            high=here + c.high80,
            series=UP if c.effect >= 0 else DOWN,
            hover=(f"{c.what}{moved}", _size(c.effect, log), "80 % interval drawn"),
        )
        rows.append((f"{c.what}{moved}", bar))
        here += c.effect
    if step.not_explained is not None and step.measured is not None:
        left = step.not_explained
        noise = "within" if abs(left) <= step.noise80 else "beyond"
        words = (f"{noise} what noise does",)
        rows.append(("not explained", _bar(rows, here, here + left, OPEN, log, words)))
        rows.append(("measured", _bar(rows, 0.0, step.measured, MEASURED, log, ())))
    panel = Panel(
        title=f"{quantity}: {step.parent_label} to {step.label}",
        unit="factor" if log else "pH units",
        bars=tuple(bar for _, bar in rows),
        links=(Link(x=(0.0, 0.0), y=(0.6, -len(rows) + 0.4), dashed=True),),
        levels=tuple(sorted((bar.y, words) for words, bar in rows)),
        series=tuple(Series(name="", index=i) for i in (UP, DOWN, MEASURED, OPEN)),
        ticks=_ticks([bar for _, bar in rows], log),
    )
    return Chart([panel], panel.title, _note(step), height=90 + 30 * len(rows))


def _bar(
    rows: list[tuple[str, Bar]],
    start: float,
    end: float,
    series: int,
    log: bool,
    words: tuple[str, ...],
) -> Bar:
    hover = (_size(end - start, log), *words)
    return Bar(y=-len(rows), start=start, end=end, series=series, hover=hover)


def _find(steps: list[Step], trial: Any, source: Any) -> Step:
    wanted = getattr(trial, "id", trial)
    if isinstance(wanted, str) and not isinstance(source, Learner) and hasattr(source, "trial"):
        wanted = source.trial(wanted).id
    for step in steps:
        if wanted in (step.trial, step.label):
            return step
    raise MeasurementError(
        where=f"Effects of trial {getattr(trial, 'label', trial)}",
        found="no measured parent",
        allowed="; ".join(f"{s.parent_label} → {s.label}" for s in steps[:12]) or "no step yet",
        cause="The first trial has no parent, or one of the two was not measured",
        do="Choose one of these steps",
    )


def _size(effect: float, log: bool) -> str:
    return f"× {10**effect:.2f}" if log else f"{effect:+.2f}"


def _ticks(bars: list[Bar], log: bool) -> tuple[tuple[float, str], ...]:
    ends = [x for b in bars for x in (b.start, b.end, b.low, b.high) if x is not None]
    low, high = min([*ends, 0.0]), max([*ends, 0.0])
    if not log:
        step = 0.1 if high - low < 0.8 else 0.5
        first, last = math.ceil(low / step), math.floor(high / step)
        marks = range(first, last + 1)
        return tuple((k * step, f"{k * step:+.1f}" if k else "0") for k in marks)
    return tuple(
        (math.log10(f), f"× {f:g}") for f in FACTORS if low - 0.02 <= math.log10(f) <= high + 0.02
    )


def _note(step: Step) -> str:
    said = [f"{a} and {b} cannot be told apart: they moved together." for a, b in step.cannot_tell]
    if abs(step.water) >= 0.01:
        said.append(f"Water moved {step.water:+.2f} % to make room.")
    return " ".join(said)
