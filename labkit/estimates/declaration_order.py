"""The order of an ingredient list, and where that order is certain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from labkit.estimates.declaration_entries import Gathered
from labkit.estimates.declaration_parts import LineParts, Part

__all__ = ["block_of", "certainly_before", "in_order"]

ONE = Decimal(1)
_ZERO = Decimal(0)


def block_of(amount: Decimal, colour: bool, market: str) -> str:
    """Where a name stands: ``ordered``, ``free`` or ``colour``.

    Parameters
    ----------
    amount : Decimal
        [% of the product]
    colour : bool
    market : str
        In the EU and Great Britain the free part is under 1 %, in the USA 1 % or under.

    Examples
    --------
    >>> block_of(Decimal("1.0"), False, "EU"), block_of(Decimal("1.0"), False, "US")
    ('ordered', 'free')
    """
    if colour:
        return "colour"
    free = amount <= ONE if market == "US" else amount < ONE
    return "free" if free else "ordered"


def in_order(names: Sequence[Gathered], market: str) -> list[Gathered]:
    """Falling weight, equal amounts by the alphabet, colours last by the alphabet."""

    def place(entry: Gathered) -> tuple[bool, Decimal, str]:
        weight = _ZERO if entry.colour else -entry.amount.typical
        return entry.colour, weight, entry.name.casefold()

    return sorted(names, key=place)


def certainly_before(first: Gathered, second: Gathered, lines: Mapping[int, LineParts]) -> bool:
    """Whether ``first`` weighs at least as much as ``second`` whatever the shares really are.

    Parameters
    ----------
    first, second : Gathered
    lines : mapping of int to LineParts
        The lines by their number.

    Notes
    -----
    In every line the smallest difference of the two is sought among all mixtures that keep
    the stated ranges, sum to 1 and, where only the order is known, keep that order; the
    lines are added.
    """
    touched = {bit.line for bit in (*first.bits, *second.bits)}
    least = sum((_least(first, second, lines[i]) for i in touched), _ZERO)
    return least >= 0


def _least(first: Gathered, second: Gathered, line: LineParts) -> Decimal:
    a, inner_a = _places(first, line.line)
    b, inner_b = _places(second, line.line)
    inner = _sum(line.parts, inner_a, low=True) - _sum(line.parts, inner_b, low=False)
    return (_least_share(a, b, line) + inner) * line.percent


def _places(entry: Gathered, line: int) -> tuple[set[int], set[int]]:
    """Places of its parts among those of a line: of its own, and held inside."""
    mine = [bit for bit in entry.bits if bit.line == line]
    own = {bit.place for bit in mine if not bit.within}
    return own, {bit.place for bit in mine if bit.within}


def _sum(parts: Sequence[Part], places: set[int], *, low: bool) -> Decimal:
    return sum((parts[i].share.low if low else parts[i].share.high for i in places), _ZERO)


def _least_share(a: set[int], b: set[int], line: LineParts) -> Decimal:
    """Smallest a - b over the mixtures of a material."""
    parts = line.parts
    rest = {i for i, part in enumerate(parts) if not part.within} - a - b
    whole = ONE - line.not_stated
    x, y = _sum(parts, a, low=True), _sum(parts, b, low=False)
    short = whole - _sum(parts, rest, low=False) - (x + y)
    if short > 0:
        x += short
    over = (x + y) - (whole - _sum(parts, rest, low=True))
    if over > 0:
        y -= over
    least = x - y
    if line.falling and len(a) == len(b) == 1 and min(a) < min(b):
        return max(least, _ZERO)
    return least
