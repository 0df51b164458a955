"""A formula from grams: what a beaker holds, as percentages that add up to exactly 100."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from labkit.errors import FormulaError
from labkit.formula.grid import TOTAL, apportion, percent_of
from labkit.formula.lines import Line
from labkit.formula.model import Formula

__all__ = ["from_grams"]


def from_grams(
    formula: Formula, grams: Sequence[Fraction | Decimal], lines: Sequence[Line] | None = None
) -> Formula:
    """The lines of a formula at the percentages that grams of each make.

    Parameters
    ----------
    formula : Formula
        Gives name, phases and q.s. line.
    grams : sequence of Fraction or Decimal, length n
        Of each line; not negative.
    lines : sequence of Line, length n, optional
        The formula's own, and perhaps more after them.

    Returns
    -------
    Formula
        On the grid of 0.0001 %, rounded by largest remainder; bounds that no longer hold
        are dropped.

    Raises
    ------
    FormulaError
        Nothing weighed at all.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5")
    >>> [str(x.percent) for x in from_grams(gel, [Decimal(90), Decimal(6)]).lines]
    ['93.7500', '6.2500']
    """
    masses = [Fraction(x) for x in grams]
    if not any(masses):
        raise FormulaError(
            where=formula.name,
            found="nothing weighed yet",
            allowed="At least one line with grams",
            cause="The batch was only planned so far",
            do="Write down what the balance says",
        )
    shares = [percent_of(units) for units in apportion(masses, TOTAL)]
    kept = formula.lines if lines is None else lines
    made = tuple(_at(x, share) for x, share in zip(kept, shares, strict=True))
    return Formula(formula.name, made, formula.phases, formula.qs)


def _at(line: Line, percent: Decimal) -> Line:
    low = line.low if line.low is not None and line.low <= percent else None
    high = line.high if line.high is not None and line.high >= percent else None
    return replace(line, percent=percent, low=low, high=high)
