"""What the oils ask of the emulsifiers, and what a pair can give."""

from __future__ import annotations

from typing import Any

from labkit.charts.figure import Chart
from labkit.charts.marks import Band, Curve, Panel, Point, Series
from labkit.errors import FormulaError
from labkit.evaluate import Evaluator, Numbers, Oil, compile_formula, oils_of
from labkit.formula import Formula, formula_of
from labkit.plan.emulsifiers import emulsifier_of

__all__ = ["required_hlb"]


def required_hlb(formula: Formula, mats: Any, *, pair: tuple[str, str] | None = None) -> Chart:
    """The band that the oils ask for, and what a pair of emulsifiers reaches.

    Parameters
    ----------
    formula : Formula
    mats : Materials
    pair : (str, str), optional
        Two nonionic emulsifiers; without it the formula's own of highest and lowest HLB.

    Returns
    -------
    Chart
        Above: HLB of the pair against the share of the higher one, from end to end of its
        reach, with the band wanted and the formula's point. Below: the band of each oil.

    Raises
    ------
    FormulaError
        No oil with a required HLB.
    MaterialError
        An emulsifier that carries a charge or has no HLB.

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> cream = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... B,Mineral oil,20
    ... B,Polysorbate 80,2
    ... B,Sorbitan oleate,2''')
    >>> chart = required_hlb(cream, Materials.starter())
    >>> chart.table()["y"].round(2).tolist()[0]
    9.65
    """
    formula = formula_of(formula, "Chart of HLB")
    evaluator = compile_formula(formula, mats)
    oils = [o for o in oils_of(evaluator) if o.low is not None]
    if not oils:
        raise FormulaError(
            where=formula.name,
            found="no oil with a required HLB",
            allowed="At least one oil whose demand is known",
            cause="No oil phase, or oils that are not in the table",
            do="Choose the emulsifier by the maker's dose and a trial",
        )
    ends = _ends(evaluator, mats, pair)
    panels = [_of_oils(oils)] if ends is None else [_of_pair(evaluator, ends), _of_oils(oils)]
    left_out = [
        m.name
        for m in evaluator.materials
        if m is not None and m.charge != "nonionic" and "emulsifier" in m.functions
    ]
    note = "Published values of one oil differ, so the demand is a band."
    if left_out:
        note += f" Left out because they carry a charge: {', '.join(left_out)}."
    return Chart(panels, f"HLB of {formula.name}", note, height=260)


def _ends(
    evaluator: Evaluator, mats: Any, pair: tuple[str, str] | None
) -> tuple[tuple[str, float], tuple[str, float]] | None:
    """Lower and higher emulsifier with their HLB."""
    if pair is not None:
        told = [emulsifier_of(name, mats) for name in pair]
        named = [(m.name, value) for m, value in told]
    else:
        named = [
            (m.name, m.hlb[1])
            for m, counts in zip(evaluator.materials, evaluator.hlb[0], strict=True)
            if m is not None and m.hlb is not None and counts
        ]
    if not named:
        return None
    return min(named, key=lambda x: x[1]), max(named, key=lambda x: x[1])


def _of_pair(evaluator: Evaluator, ends: tuple[tuple[str, float], tuple[str, float]]) -> Panel:
    (low, foot), (high, top) = ends
    numbers = evaluator()
    here = float(numbers.hlb)
    if low == high:
        return _alone(evaluator, low, foot)
    points = [
        Point(x=0.0, y=foot, hollow=True, hover=(f"{low} alone: HLB {foot:g}",)),
        Point(x=100.0, y=top, hollow=True, hover=(f"{high} alone: HLB {top:g}",)),
    ]
    if here == here and foot <= here <= top and top > foot:
        share = 100.0 * (here - foot) / (top - foot)
        words = (f"this formula: HLB {here:.1f}", "mean by weight of its nonionic emulsifiers")
        points.insert(0, Point(x=share, y=here, label="this formula", hover=words))
    return Panel(
        title=f"HLB of {high} with {low}: reaches {foot:g} to {top:g}",
        curves=(Curve(x=(0.0, 100.0), y=(foot, top)),),
        points=tuple(points),
        bands=_asked(numbers),
        series=(Series(name="", index=0),),
        x_title=f"share of {high} in the pair, %",
    )


def _alone(evaluator: Evaluator, name: str, value: float) -> Panel:
    """A single emulsifier has no reach: one mark beside the band."""
    return Panel(
        title=f"HLB of {name} alone: {value:g}; a second one would give a reach",
        points=(Point(x=0.0, y=value, label="this formula", hover=(f"{name}: HLB {value:g}",)),),
        bands=_asked(evaluator()),
        series=(Series(name="", index=0),),
        ticks=((0.0, _short(name)),),
    )


def _asked(numbers: Numbers) -> tuple[Band, ...]:
    low, high = float(numbers.required_low), float(numbers.required_high)
    return (Band(low=low, high=high, words=f"the oils ask for {low:.1f} to {high:.1f}"),)


def _of_oils(oils: list[Oil]) -> Panel:
    points = []
    for i, oil in enumerate(oils):
        assert oil.low is not None
        assert oil.high is not None
        middle = (oil.low + oil.high) / 2
        words = (f"{oil.percent:g} % {oil.words}", oil.source)
        points.append(Point(x=float(i), y=middle, low=oil.low, high=oil.high, hover=words))
    return Panel(
        title="Required HLB of each oil",
        points=tuple(points),
        series=(Series(name="", index=0),),
        ticks=tuple((float(i), _short(oil.name)) for i, oil in enumerate(oils)),
    )


def _short(name: str) -> str:
    return name if len(name) <= 20 else name[:19] + "…"
