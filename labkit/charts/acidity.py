"""pH under the hand: the titration of a formula, and what its preservatives do along the pH."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.charts.figure import Chart
from labkit.charts.marks import Band, Curve, Panel, Point, Ribbon, Series
from labkit.errors import FormulaError
from labkit.estimates.acidity import ph_half_width
from labkit.estimates.forecast import Forecast, forecast
from labkit.evaluate import Evaluator, Numbers, compile_formula
from labkit.formula import Brief, Formula, formula_of
from labkit.plan.reagents import Titrated, titrate
from labkit.science.preservation import un_ionised_fraction

__all__ = ["titration", "working_share"]

Array = NDArray[np.float64]
PAST_THE_WINDOW = 1.0
"""pH units drawn beyond the window, or beyond the formula's own pH."""
PH_SHOWN = (3.0, 9.0)
STEPS = 121
CROWDED = 0.1
"""Share of the axis within which a second label would lie on the first."""
LEAST_SHOWN = 0.02
"""Lowest usual doses at the foot of the chart."""


def titration(
    formula: Formula,
    mats: Any,
    reagent: str = "Sodium hydroxide 18 % solution",
    *,
    brief: Brief | None = None,
    up_to: float | None = None,
) -> Chart:
    """pH of a formula against the dose of one acid or base.

    Parameters
    ----------
    formula : Formula
        Its q.s. line gives way; a line of the reagent goes from nothing upwards.
    mats : Materials
    reagent : str
        The acid or base by its name.
    brief : Brief, optional
        Its pH window is drawn.
    up_to : float, optional
        Largest dose drawn [% w/w]; else one pH unit past the window.

    Returns
    -------
    Chart
        The curve with the interval of the forecast, the formula's point, and the doses
        that meet the ends of the window.

    Raises
    ------
    FormulaError
        No q.s. line, or no water phase with a pH.
    MaterialError
        The reagent is not known.

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> toner = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Lactic acid 80 %,1''')
    >>> chart = titration(toner, Materials.starter(), brief=Brief(product="toner", ph=(3.8, 4.2)))
    >>> chart.table()["x"].round(2).tolist()
    [0.0, 1.01, 1.44]
    """
    formula = formula_of(formula, "Titration")
    job = titrate(formula, mats, reagent)
    now = job.numbers(job.present)
    if not np.isfinite(now.ph) and not np.isfinite(job.numbers(job.most / 50).ph):
        raise FormulaError(
            where=formula.name,
            found="no pH",
            allowed="A water phase with an acid, a base or a salt in it",
            cause="Too little water, or nothing in it that sets the pH",
            do="Add the acid or the buffer first",
        )
    window = None if brief is None else brief.ph
    doses = np.linspace(0.0, up_to or _furthest(job, float(now.ph), window), STEPS)
    numbers = job.numbers(doses)
    half = half_width(numbers)
    points = [_here(job, now), *_meeting(job, window, float(doses[-1]))]
    panel = Panel(
        title="pH of the water phase",
        curves=(Curve(x=_t(doses), y=_t(numbers.ph)),),
        ribbons=(Ribbon(x=_t(doses), low=_t(numbers.ph - half), high=_t(numbers.ph + half)),),
        points=tuple(points),
        bands=() if window is None else (Band(low=window[0], high=window[1], words="wanted"),),
        series=(Series(name="", index=0),),
        x_title=f"{job.reagent.name}, % w/w of the batch",
    )
    note = (
        "Shaded: where four of five readings are expected. Add three quarters, stir, wait, read; "
        "finish by the meter."
    )
    return Chart([panel], f"{formula.name} with {job.reagent.name}", note)


def half_width(numbers: Numbers) -> Array:
    """Half the interval of the forecast around a calculated pH."""
    return ph_half_width(
        numbers.ph_half_width, numbers.buffer, numbers.oil, numbers.unknown, numbers.apparent
    )


def _furthest(job: Titrated, now: float, window: tuple[float, float] | None) -> float:
    """The dose that takes the pH a unit past the window, on the side the reagent pulls to."""
    doses = np.concatenate([[0.0], np.geomspace(1e-3, job.most, 200)])
    level = np.asarray(job.numbers(doses).ph)
    level = level[np.isfinite(level)]
    rising = level[-1] > level[0]
    ends = [now, *(window or ())]
    ends = [x for x in ends if np.isfinite(x)] or [7.0]
    goal = max(ends) + PAST_THE_WINDOW if rising else min(ends) - PAST_THE_WINDOW
    found = job.dose_for(min(max(goal, 1.0), 13.0))
    least = 1.5 * job.present
    return float(max(found or job.most / 10, least))


def _here(job: Titrated, now: Numbers) -> Point:
    half = float(half_width(now))
    level = float(now.ph)
    return Point(
        x=job.present, y=level, low=level - half, high=level + half, label="this formula",
        hover=(f"this formula: {job.present:g} %", f"pH {level:.2f} ± {half:.2f}, calculated"),
    )  # fmt: skip


def _meeting(job: Titrated, window: tuple[float, float] | None, most: float) -> list[Point]:
    found = []
    for level in window or ():
        dose = job.dose_for(level)
        if dose is not None and dose <= most:
            words = (f"pH {level:g} at {dose:.3g} %", f"{dose:.3g} g in 100 g")
            apart = abs(dose - job.present) > CROWDED * most
            label = f"{dose:.2g} %" if apart else ""
            found.append(Point(x=dose, y=level, hollow=True, hover=words, label=label))
    return found


def working_share(
    formula: Formula,
    mats: Any,
    *,
    brief: Brief | None = None,
    bench: Any = None,
    measured_ph: float | None = None,
) -> Chart:
    """How much of each preservative works along the pH, and where this formula stands.

    Parameters
    ----------
    formula : Formula
    mats : Materials
    brief : Brief, optional
    bench : Bench, optional
        Its readings narrow the pH.
    measured_ph : float, optional
        A reading of this very recipe.

    Returns
    -------
    Chart
        Above: un-ionised share of each, a full line inside the window in which it is used.
        Below: all of them together, in lowest usual doses, oil counted where its
        coefficient is known. Upright: the interval of the formula's pH.

    Raises
    ------
    FormulaError
        No preservative that labkit knows.

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> lotion = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Potassium Sorbate,0.3''')
    >>> chart = working_share(lotion, Materials.starter(), measured_ph=5.0)
    >>> chart.table()["y"].round(0).tolist()[0]
    37.0
    """
    formula = formula_of(formula, "Chart of preservatives")
    look = forecast(formula, mats, brief=brief, bench=bench, measured_ph=measured_ph)
    evaluator = compile_formula(formula, mats)
    if not evaluator.preservatives:
        raise FormulaError(
            where=formula.name,
            found="no preservative that labkit knows",
            allowed="At least one, such as potassium sorbate",
            cause="The recipe is not preserved, or by something that is not in the table",
            do="Add one, or look at the supplier's window",
        )
    levels = np.linspace(*PH_SHOWN, STEPS)
    at = _interval(look)
    panels = [_shares(evaluator, levels, look, at), _together(evaluator, levels, look, at)]
    note = (
        "Shares of the water phase alone, at ionic strength 0. Numbers only: a challenge test "
        "decides whether a product is preserved."
    )
    return Chart(panels, f"Preservatives of {formula.name}", note, height=260)


def _interval(look: Forecast) -> tuple[Band, ...]:
    if not look.ph.known:
        return ()
    _, low, high = _ends(look)
    words = f"pH of this formula, {look.ph.basis}"
    return (Band(low=low, high=high, words=words, upright=True),)


def _ends(look: Forecast) -> tuple[float, float, float]:
    """Middle, low and high of the pH that was forecast."""
    assert look.ph.value is not None
    low = look.ph.value if look.ph.low is None else look.ph.low
    high = look.ph.value if look.ph.high is None else look.ph.high
    return look.ph.value, low, high


def _shares(evaluator: Evaluator, levels: Array, look: Forecast, at: tuple[Band, ...]) -> Panel:
    curves, points, series = [], [], []
    for i, (_, known) in enumerate(evaluator.preservatives):
        share = _share(known.pka, levels)
        inside = (levels >= known.window_low_ph - 1e-9) & (levels <= known.window_top_ph + 1e-9)
        curves.append(Curve(x=_t(levels), y=_t(share), series=i, dashed=True))
        curves.append(Curve(x=_t(levels), y=_t(np.where(inside, share, np.nan)), series=i))
        series.append(Series(name=known.inci, index=i))
        if look.ph.known:
            ends = _ends(look)
            y = [float(_share(known.pka, np.array(x))) for x in ends]
            basis = f"pKa {known.pka:g}" if known.pka is not None else "does not ionise"
            words = (
                f"{known.inci}: {y[0]:.0f} % un-ionised at pH {ends[0]:.1f} "
                f"({y[2]:.0f} to {y[1]:.0f} %)",
                f"{basis}; used from pH {known.window_low_ph:g} to {known.window_top_ph:g}",
                *((f"pKa from: {known.pka_source}",) if known.pka_source else ()),
                f"window from: {known.source}",
            )
            points.append(
                Point(
                    x=ends[0], y=y[0], low=min(y[1:]), high=max(y[1:]), series=i,
                    hover=words,
                )
            )  # fmt: skip
    return Panel(
        title="Un-ionised share", unit="%", curves=tuple(curves), points=tuple(points),
        series=tuple(series), bands=at, y_range=(-4.0, 108.0), x_title="pH",
    )  # fmt: skip


def _share(pka: float | None, levels: Array) -> Array:
    if pka is None:
        return np.full(np.shape(levels), 100.0)
    return np.asarray(100.0 * np.asarray(un_ionised_fraction(levels, pka)))


def _together(evaluator: Evaluator, levels: Array, look: Forecast, at: tuple[Band, ...]) -> Panel:
    percent = np.broadcast_to(evaluator.percent, (len(levels), evaluator.n_lines))
    doses = evaluator.working(percent, levels).doses.sum(axis=-1)
    here = look.preservation
    points: tuple[Point, ...] = ()
    if look.ph.known and here.value is not None:
        points = (
            Point(
                x=float(look.ph.value or 0.0), y=here.value, low=here.low, high=here.high,
                hover=(f"{here.value:.2g} × the lowest usual dose", here.words),
            ),
        )  # fmt: skip
    quiet = tuple(Band(low=b.low, high=b.high, upright=True) for b in at)
    return Panel(
        title="All together", unit="× the lowest usual dose at the top of its window",
        curves=(Curve(x=_t(levels), y=_t(np.where(doses >= LEAST_SHOWN, doses, np.nan))),),
        points=points, series=(Series(name="", index=0),), log=True,
        y_range=(LEAST_SHOWN, max(5.0, 4.0 * float(doses.max()))),
        bands=(Band(low=1.0, high=None, words="as much as the lowest usual dose, or more"), *quiet),
        x_title="pH",
    )  # fmt: skip


def _t(values: Any) -> tuple[float, ...]:
    return tuple(np.asarray(values, dtype=float).tolist())
