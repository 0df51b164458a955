"""The grid on which percentages live: 0.0001 % w/w, counted in whole units.

One hundred percent is a million units, so every sum, share and remainder is
integer arithmetic, and the same arithmetic is exact in JavaScript's doubles.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal, localcontext
from fractions import Fraction

from labkit.errors import FormulaError
from labkit.quantities import decimal

__all__ = [
    "STEP",
    "TOTAL",
    "apportion",
    "on_grid",
    "percent_of",
    "read_percent",
    "show",
    "units_of",
]

STEP = Decimal("0.0001")
"""The smallest share of a batch that a formula states, in % w/w."""

TOTAL = 1_000_000
"""One hundred percent, in units of :data:`STEP`."""


def units_of(percent: Decimal) -> int:
    """Whole grid units in a percentage that lies on the grid."""
    return int((percent / STEP).to_integral_value())


def percent_of(units: int) -> Decimal:
    """The percentage of a number of grid units, with four decimals."""
    return (Decimal(units) * STEP).quantize(STEP)


def on_grid(percent: Decimal) -> bool:
    """Whether a percentage can be stated without rounding."""
    with localcontext() as context:
        context.prec = 60
        return percent % STEP == 0


def show(percent: Decimal | int) -> str:
    """A percentage as it is printed: two decimals, more only where they say something.

    Examples
    --------
    >>> show(Decimal("6.5")), show(Decimal("0.0025"))
    ('6.50', '0.0025')
    """
    text = f"{Decimal(percent):.4f}"
    return text[:-2] if text.endswith("00") else text.rstrip("0")


def read_percent(value: object, *, where: str) -> Decimal:
    """Read a share of the batch from what was typed: ``"6.5 %"``, ``"6,5"``, ``6.5``.

    Raises
    ------
    FormulaError
        Outside 0 to 100 %, or finer than the grid of 0.0001 %.
    QuantityError
        Not a number.
    """
    text = str(value).strip() if isinstance(value, str) else value
    if isinstance(text, str) and text.endswith("%"):
        text = text[:-1].rstrip()
    percent = decimal(text, where=where, what="a percentage", lowest=0)
    if percent > 100:
        raise FormulaError(
            where=where,
            found=f"{percent} % of the batch",
            allowed="A share lies between 0 and 100 %",
            cause="Grams may have been typed in place of percent",
            do="Divide the grams by the batch size and multiply by 100",
            percent=percent,
        )
    if not on_grid(percent):
        raise FormulaError(
            where=where,
            found=f"{percent} % is finer than the grid",
            allowed="A formula states shares in steps of 0.0001 %",
            cause="The number comes from a division",
            do=f"Round it, for example to {percent.quantize(STEP)} %, "
            "or read the recipe with read_recipe, which rounds the whole to 100 and says so",
            percent=percent,
        )
    return percent.quantize(STEP)


def apportion(
    shares: Sequence[Fraction], total: int, rank: Sequence[int] | None = None
) -> list[int]:
    """Round shares to whole numbers whose sum is exactly ``total``.

    Largest remainder: each share is cut to the whole number below, and the units
    still missing go to the largest remainders, ties by ``rank`` (then position).

    Parameters
    ----------
    shares : sequence of Fraction, length n
        Not negative; they are scaled to ``total``.
    total : int
        What the result must add up to.
    rank : sequence of int, optional
        Who goes first among equal remainders.

    Examples
    --------
    >>> apportion([Fraction(1), Fraction(1), Fraction(1)], 100)
    [34, 33, 33]
    """
    whole = sum(shares)
    if whole == 0:
        raise ValueError("nothing to apportion: every share is zero")
    exact = [share * total / whole for share in shares]
    result = [int(x) for x in exact]
    order = sorted(
        range(len(exact)), key=lambda i: (result[i] - exact[i], rank[i] if rank else i, i)
    )
    for i in order[: total - sum(result)]:
        result[i] += 1
    return result
