"""The one button that neutralises a polymer, a fatty acid or a fatty amine on the sheet."""

from __future__ import annotations

from functools import cache

from labkit.estimates import Forecaster
from labkit.formula import Brief, Formula
from labkit.formula.names import fold
from labkit.materials import Material, Materials
from labkit.plan import neutralise
from labkit.science.neutralising import apparent_acids
from labkit.widgets.state import SheetState

__all__ = ["lines_to_neutralise", "neutralised"]

BASE, ACID = "Sodium hydroxide 18 % solution", "Lactic acid 80 %"
POLYMER_PH, AMINE_PH = 6.0, 4.5
"""Where a gel of carbomer stands, and where a fatty amidoamine conditions: common practice."""
FATTY_DEGREE = 0.2
"""Share of a fatty acid that a stearate cream neutralises: common practice."""
CAUTION = "caustic and acids: eye and hand protection"


@cache
def _groups() -> dict[str, bool]:
    return {fold(known.inci): known.is_acid for known in apparent_acids().values()}


def _wants_it(material: Material | None) -> bool:
    return material is not None and fold(material.inci) in _groups()


def neutralised(
    state: SheetState, line_id: object, mats: Materials, brief: Brief | None
) -> SheetState:
    """The state after neutralising a line, as one step that can be undone.

    The reagent is a base (or acid) that the formula holds already, else caustic soda (or
    lactic acid); the aim is the middle of the brief's pH window, else the usual pH. A fatty
    acid is neutralised by a fifth.

    Raises
    ------
    FormulaError
        The line cannot be neutralised, or the pH is out of reach; nothing changes.
    """
    here = state.settled()
    at = here.ids.index(line_id) if line_id in here.ids else 0
    line = here.formula.lines[at]
    material = mats.resolve(line.key or line.material)
    is_acid = _groups().get(fold(material.inci), True) if material is not None else True
    reagent = _reagent(here.formula, mats, "base" if is_acid else "acid") or (
        BASE if is_acid else ACID
    )
    if material is not None and material.charge_class == "soap-when-neutralised":
        job = neutralise(here.formula, mats, reagent, degree=FATTY_DEGREE)
    else:
        job = neutralise(here.formula, mats, reagent, ph=_aim(brief, is_acid))
    words = (
        f"{line.material} neutralised: {job.percent:.2f} % {job.reagent} "
        f"({job.low:.2f} to {job.high:.2f}), check by titration; {CAUTION}"
    )
    return here.replaced(job.formula, words)


def _aim(brief: Brief | None, is_acid: bool) -> float:
    if brief is not None and brief.ph is not None:
        return (brief.ph[0] + brief.ph[1]) / 2
    return POLYMER_PH if is_acid else AMINE_PH


def _reagent(formula: Formula, mats: Materials, charge: str) -> str | None:
    for line in formula.lines:
        found = mats.resolve(line.key or line.material)
        if found is None or found.charge != charge or fold(found.inci) in _groups():
            continue
        if found.acid_base:
            return line.material
    return None


def lines_to_neutralise(forecaster: Forecaster, formula: Formula) -> list[int]:
    """Positions of the lines that the button is offered for."""
    materials = forecaster.evaluator(formula).materials
    return [i for i, m in enumerate(materials) if _wants_it(m)]
