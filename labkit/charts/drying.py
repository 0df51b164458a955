"""What stays on the skin: the film of a product as its volatile parts leave."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.charts.figure import Chart
from labkit.charts.marks import Curve, Panel, Point, Ribbon, Series
from labkit.errors import BriefError
from labkit.evaluate import Evaluator, compile_formula
from labkit.formula import Brief, Formula, formula_of
from labkit.formula.names import fold
from labkit.formula.product_types import product_type
from labkit.materials import Material
from labkit.science.evaporation import DryDown, vapour_pressure
from labkit.science.evaporation import dry_down as dry
from labkit.science.exposure import application_dose
from labkit.science.liquids import find

__all__ = ["dose_on_skin", "dry_down"]

Array = NDArray[np.float64]
VOLATILE_PA = 3.0
"""Vapour pressure at skin temperature above which a liquid is named as leaving [Pa]; D6
with 6 Pa leaves in hours (common practice)."""

SHOWN_FROM = 0.5
"""% w/w from which a volatile liquid gets a line of its own."""

FINE_HAND_DOSE = 1.3
"""mg/cm2 on hands and face where the exposure table has no row (common practice)."""
BODY_DOSE = 0.2
"""mg/cm2 on the body where the exposure table has no row (common practice)."""
SMALL_AREAS = frozenset({"hand", "face", "eye", "lip", "foot"})
STEPS = 73


def dose_on_skin(brief: Brief | None) -> tuple[float, str]:
    """Product on the skin after one application [mg/cm2], and where the figure comes from.

    Examples
    --------
    >>> dose, words = dose_on_skin(Brief(product="hand cream"))
    >>> round(dose, 2), words
    (1.26, 'hand cream: amount a day over skin area and applications, SCCS Notes of Guidance')
    """
    kind = None if brief is None else product_type(brief.product_type or "")
    if kind is not None and kind.exposure:
        dose = _from_table(kind.exposure)
        if dose is not None:
            told = "amount a day over skin area and applications, SCCS Notes of Guidance"
            return dose, f"{kind.name}: {told}"
    if kind is not None and kind.areas & SMALL_AREAS:
        return FINE_HAND_DOSE, "common practice for hands and face"
    return BODY_DOSE, "common practice for the body"


def _from_table(name: str) -> float | None:
    try:
        return application_dose(name)
    except ValueError:
        return None


def dry_down(
    formula: Formula,
    mats: Any,
    brief: Brief | None = None,
    *,
    dose_mg_cm2: float | None = None,
    minutes: float = 60.0,
    relative_humidity: float = 0.45,
    air_m_s: float = 0.1,
) -> Chart:
    """The film on the skin against time: what leaves, what stays.

    Parameters
    ----------
    formula : Formula
    mats : Materials
        Blends are taken apart, so that water inside a material counts as water.
    brief : Brief, optional
        Its product type sets the dose.
    dose_mg_cm2 : float, optional
        Product applied [mg/cm2], instead of the default of the product type.
    minutes : float
        Time shown [min].
    relative_humidity : float
        Of the room, 0 to 1; it slows the water only.
    air_m_s : float
        Draught, 0.1 in a still room [m/s].

    Returns
    -------
    Chart
        Amount of each part left, with the band from half to twice the rate; ``table()``
        gives the film at the start and at the end.

    Raises
    ------
    BriefError
        A product that is rinsed off, without a dose.
    ScienceError
        A dose, humidity or draught that cannot be.

    Notes
    -----
    `labkit.science.evaporation.dry_down`: Raoult's law and a pool evaporation rate; physics
    good to a factor of two in time.

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> mist = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Glycerin,5''')
    >>> chart = dry_down(mist, Materials.starter(), dose_mg_cm2=1.0)
    >>> chart.table()["series"].unique().tolist()
    ['water', 'humectants']
    """
    formula = formula_of(formula, "Drying")
    if dose_mg_cm2 is None and brief is not None and brief.leave_on is False:
        raise BriefError(
            where=formula.name,
            found="a product that is rinsed off",
            allowed="A product that stays on the skin, or a dose",
            cause="What is rinsed off leaves no film of its own",
            do="Give dose_mg_cm2=… for what stays behind",
        )
    dose, told = (dose_mg_cm2, "as given") if dose_mg_cm2 is not None else dose_on_skin(brief)
    evaluator = compile_formula(formula, mats)
    names, percent, groups = _parts(evaluator)
    times = np.concatenate([[0.0], np.geomspace(minutes / 300, minutes, STEPS - 1)])
    found = dry(names, percent, dose, times, relative_humidity=relative_humidity, air_m_s=air_m_s)
    note = (
        f"{dose:.2g} mg/cm² ({told}), skin at 32 °C, {100 * relative_humidity:g} % humidity. "
        "Shaded: half to twice the rate; draught and skin decide where in it. "
        "What has no vapour pressure in the table counts as staying. An orientation."
    )
    return Chart([_panel(found, groups)], f"What stays of {formula.name}", note, height=340)


def _parts(evaluator: Evaluator) -> tuple[list[str], Array, list[str]]:
    """Substances of the formula, their percentages and the group each is shown in."""
    percent = evaluator.parts.percent(evaluator.percent)
    by_inci = {fold(m.inci): m for m in evaluator.materials if m is not None}
    home = [_brought_by(evaluator, j) for j in range(len(percent))]
    kept = [j for j in range(len(percent)) if percent[j] > 0]
    names = [_liquid(evaluator.parts.inci[j]) for j in kept]
    groups = [
        _group(name, by_inci.get(fold(evaluator.parts.inci[j])) or home[j], percent[j])
        for j, name in zip(kept, names, strict=True)
    ]
    return names, percent[kept], groups


def _brought_by(evaluator: Evaluator, column: int) -> Material | None:
    """The material that brings most of a substance."""
    line = int(np.argmax(evaluator.percent * evaluator.parts.typical[:, column]))
    return evaluator.materials[line]


def _liquid(inci: str) -> str:
    return "water" if fold(inci) in {"aqua", "water"} else find(inci) or inci


def _group(name: str, material: Material | None, percent: float) -> str:
    if name == "water":
        return "water"
    if material is not None and "humectant" in material.functions:
        return "humectants"
    if percent >= SHOWN_FROM and _leaves(name):
        return name
    if material is None:
        return "the rest"
    return "oils, waxes and emulsifiers" if material.phase == "oil" else "the rest"


def _leaves(name: str) -> bool:
    try:
        return float(vapour_pressure(name)) > VOLATILE_PA
    except ValueError:
        return False


def _panel(found: DryDown, groups: Sequence[str]) -> Panel:
    order = sorted(dict.fromkeys(groups), key=_rank)
    x = tuple(found.minutes.tolist())
    curves, ribbons, points = [], [], []
    for i, group in enumerate(order):
        mine = np.array([g == group for g in groups])
        middle, slow, fast = (a[:, mine].sum(axis=1) for a in (found.film, found.slow, found.fast))
        curves.append(Curve(x=x, y=tuple(middle.tolist()), series=i))
        ribbons.append(Ribbon(x=x, low=tuple(fast.tolist()), high=tuple(slow.tolist()), series=i))
        for k in (0, -1):
            points.append(_point(found, group, i, k, (middle[k], fast[k], slow[k])))
    top = max(p.high or 0.0 for p in points)
    return Panel(
        title="Film on the skin", unit="mg/cm²", curves=tuple(curves), ribbons=tuple(ribbons),
        points=tuple(points), series=tuple(Series(name=g, index=i) for i, g in enumerate(order)),
        x_title="minutes after application", y_range=(-0.04 * top, 1.1 * top),
    )  # fmt: skip


def _rank(group: str) -> tuple[int, str]:
    fixed = ["water", "humectants", "oils, waxes and emulsifiers", "the rest"]
    return (fixed.index(group) if group in fixed else 0, group if group not in fixed else "")


def _point(
    found: DryDown, group: str, series: int, at: int, amounts: tuple[float, float, float]
) -> Point:
    middle, low, high = amounts
    total = float(found.film[at].sum())
    share = 100.0 * middle / total if total > 0 else 0.0
    when = f"after {found.minutes[at]:g} min" if at else "at once"
    words = (f"{group}, {when}: {middle:.3g} mg/cm²", f"{low:.2g} to {high:.2g}", f"{share:.0f} %")
    return Point(
        x=float(found.minutes[at]), y=float(middle), low=float(low), high=float(high),
        series=series, hover=words,
    )  # fmt: skip
