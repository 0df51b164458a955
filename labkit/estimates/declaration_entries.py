"""Substances of all lines gathered under the names that a label carries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cache

from labkit import tables
from labkit.estimates.allergens import NEW_NAMES_FROM, Allergen, allergens
from labkit.estimates.declaration_names import key_of, label_name
from labkit.estimates.declaration_parts import NOTHING, LineParts, Part, Span

__all__ = ["Bit", "Gathered", "allergen_rules", "gather", "name_allergens"]

NEW_NAMES_FOR_STOCK = date(2028, 7, 31)
"""Until this day products already on the shelf may keep the older list; table rule LR10."""
PERFUME = ("parfum", "aroma")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bit:
    """What one line brings to a name [% of the product]."""

    line: int
    written: str
    place: int
    amount: Span
    within: bool = False
    typical_only: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """One name on the label, before it has its place."""

    name: str
    bits: tuple[Bit, ...]
    colour: bool = False
    known: bool = True
    allergen: Allergen | None = None

    @property
    def amount(self) -> Span:
        """Least, typical, greatest percentage of the product."""
        total = NOTHING
        for bit in self.bits:
            total += bit.amount
        return total

    @property
    def own(self) -> bool:
        """Whether it is an ingredient of its own, not only held inside another."""
        return any(not bit.within for bit in self.bits)


def gather(
    lines: Sequence[LineParts], market: str, is_colour: Callable[[Part, LineParts], bool]
) -> tuple[list[Gathered], dict[str, list[Bit]]]:
    """Add equal ingredients together.

    Parameters
    ----------
    lines : sequence of LineParts
    market : str
    is_colour : callable
        Whether a part of a line is there to colour.

    Returns
    -------
    (list of Gathered, mapping of str to list of Bit)
        The ingredients, and what is held inside them by its key.
    """
    named: dict[str, Gathered] = {}
    inside: dict[str, list[Bit]] = defaultdict(list)
    for line in lines:
        for place, part in enumerate(line.parts):
            bit = Bit(
                line=line.line,
                written=line.written,
                place=place,
                amount=part.share.times(line.percent),
                within=part.within,
                typical_only=part.typical_only,
            )
            if bit.amount.high == 0:
                continue
            if part.within:
                inside[part.key].append(bit)
                continue
            name = label_name(part.inci, market, as_colour=is_colour(part, line))
            key = key_of(name.name) if not name.colour else name.name.casefold()
            before = named.get(key)
            if before is not None:
                named[key] = replace(before, bits=(*before.bits, bit))
            else:
                named[key] = Gathered(
                    name=name.name, bits=(bit,), colour=name.colour, known=name.known
                )
    return list(named.values()), inside


def allergen_rules(market: str, day: date, *, on_shelf: bool = False) -> str:
    """Which list of fragrance allergens a label follows.

    Parameters
    ----------
    market : str
        ``EU``, ``GB`` or ``US``.
    day : date
        On which the product is placed on the market, or the stock is sold.
    on_shelf : bool
        A product that was on the market before 31 July 2026.

    Returns
    -------
    str
        ``"2023/1545"``, ``"original 26"`` or ``"none"``.

    Notes
    -----
    Regulation (EU) 2023/1545: new products from 31 July 2026, stock from 31 July 2028. Great
    Britain keeps the earlier list, the USA asks for none by name yet (both from memory).

    Examples
    --------
    >>> allergen_rules("EU", date(2026, 7, 31)), allergen_rules("EU", date(2026, 7, 30))
    ('2023/1545', 'original 26')
    >>> allergen_rules("EU", date(2027, 1, 1), on_shelf=True)
    'original 26'
    """
    if market == "US":
        return "none"
    start = NEW_NAMES_FOR_STOCK if on_shelf else NEW_NAMES_FROM
    return "2023/1545" if market == "EU" and day >= start else "original 26"


@cache
def threshold(entry: Allergen, leave_on: bool) -> Decimal:
    """Percentage of the product that an allergen must exceed to be named."""
    return Decimal(repr(entry.leave_on if leave_on else entry.rinse_off))


@cache
def prohibited() -> Mapping[str, str]:
    """Allergens that may not be used at all: folded name to the table's words."""
    return {
        row["label_name"] or "": row["note"] or "prohibited"
        for row in tables.rows("fragrance_allergens")
        if row["status"] == "prohibited"
    }


def name_allergens(
    found: Sequence[Gathered], inside: Mapping[str, Sequence[Bit]], rules: str, leave_on: bool
) -> tuple[list[Gathered], list[Gathered]]:
    """Add the allergens that must be named.

    Parameters
    ----------
    found : sequence of Gathered
        The ingredients.
    inside : mapping
        What is held inside them.
    rules : str
        From `allergen_rules`.
    leave_on : bool

    Returns
    -------
    (list of Gathered, list of Gathered)
        All names of the label; and allergens that stay off it, with their amounts.

    Notes
    -----
    Every source of an allergen is added up under its label name, then compared: named when
    the sum is greater than the threshold, so that exactly 0.001 % stays off.
    """
    entries = [a for a in allergens() if rules != "none"]
    entries = [a for a in entries if rules == "2023/1545" or not a.since_2023]
    names, below = list(found), []
    for entry in entries:
        keys = {key_of(member) for member in entry.members}
        own = [g for g in names if key_of(g.name) in keys]
        bits = [bit for g in own for bit in g.bits]
        bits += [bit for key in sorted(keys) for bit in inside.get(key, ())]
        if not bits:
            continue
        made = Gathered(name=entry.name, bits=tuple(bits), allergen=entry)
        if made.amount.typical > threshold(entry, leave_on):
            place = names.index(own[0]) if own else len(names)
            names = [g for g in names if g not in own]
            names.insert(min(place, len(names)), made)
        elif not own:
            below.append(made)
        elif len(own) == 1 and key_of(own[0].name) == key_of(entry.name):
            names[names.index(own[0])] = replace(own[0], bits=tuple(bits))
    return names, below
