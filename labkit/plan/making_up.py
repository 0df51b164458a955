"""Stock solutions, and the batch to make so that enough can be filled."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from labkit.errors import FormulaError
from labkit.formula import Formula, Line, Phase
from labkit.formula.grid import read_percent
from labkit.quantities import parse as parse_quantity
from labkit.science.weighing import to_make

__all__ = ["batch_to_fill", "stock_solution"]


def stock_solution(
    material: str, strength: Any, carrier: str = "Aqua", name: str | None = None
) -> Formula:
    """A stock solution as a formula of its own.

    Parameters
    ----------
    material : str
    strength : str or number
        % w/w of the material as supplied.
    carrier : str
        What it is made in.
    name : str, optional
        What stands on the bottle; otherwise made from material and strength.

    Returns
    -------
    Formula
        ``.grams("100 g")`` to weigh it; ``mats.premix(formula, lot=…)`` to use it as a
        material. Whether the material dissolves at that strength is for its data sheet.

    Raises
    ------
    FormulaError
        A strength of 0 or of 100 %.

    Examples
    --------
    >>> [str(g) for g in stock_solution("Citric acid", "20 %").grams("50 g")]
    ['10', '40']
    """
    share = read_percent(strength, where=f"Stock of {material}")
    if not 0 < share < 100:
        raise FormulaError(
            where=f"Stock of {material}",
            found=f"{share.normalize():f} %",
            allowed="Above 0 and below 100 %",
            cause="The strength is left out, or the neat material was meant",
            do="Write a strength such as '10 %'",
        )
    called = name or f"{material} {share.normalize():f} % stock"
    lines = (
        Line(phase="A", material=material, percent=share),
        Line(phase="A", material=carrier, percent=Decimal(100) - share),
    )
    steps = (
        "Carrier first, then the material in portions, stirring; label it with name, "
        "strength, day and cautions",
    )
    return Formula(called, lines, (Phase(key="A", title="Stock", steps=steps),), 1)


def batch_to_fill(fill: Any, units: int = 1, loss: Any = "5 %") -> Decimal:
    """Batch to make so that a number of units can be filled.

    Parameters
    ----------
    fill : str
        Of one unit, such as ``"50 g"``.
    units : int
    loss : str or number
        Left on vessel, mixer and funnel [%]; 3 to 8 at the bench (common practice).

    Returns
    -------
    Decimal
        [g], rounded up to 0.1 g.

    Raises
    ------
    FormulaError
        No unit to fill.
    ScienceError
        A loss outside 0 to below 100 %.

    Examples
    --------
    >>> batch_to_fill("50 g", 10)
    Decimal('526.4')
    """
    if units < 1:
        raise FormulaError(
            where="Batch to fill",
            found=f"{units} units",
            allowed="One unit or more",
            cause="The number was left out",
            do="Write how many jars are to be filled",
        )
    wanted = parse_quantity(fill, "mass", where="Fill").exact("g") * units
    lost = float(str(loss).strip().removesuffix("%"))
    exact = Decimal(repr(float(to_make(float(wanted), lost))))
    return exact.quantize(Decimal("0.1"), rounding="ROUND_CEILING")
