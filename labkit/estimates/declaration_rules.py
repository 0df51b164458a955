"""Which rule placed a name, and how its amount is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import cache

from labkit import tables
from labkit.estimates.declaration_entries import Bit, Gathered
from labkit.estimates.declaration_names import key_of
from labkit.estimates.declaration_parts import LineParts, Span
from labkit.estimates.sourcing import source_words

__all__ = ["origins", "percent_words", "rule", "rules_for"]


def rules_for(
    g: Gathered, block: str, market: str, lines: Mapping[int, LineParts], nano: bool
) -> tuple[str, ...]:
    """Numbers of the rules in ``label_rules`` that placed a name."""
    us = market == "US"
    numbers = {
        "active": ["LR34"],
        "ordered": ["LR29"] if us else ["LR01"],
        "free": ["LR30"] if us else ["LR02"],
        "colour": ["LR31"] if us else ["LR04"],
    }[block]
    if block == "ordered" and not us and g.amount.typical == 1:
        numbers.append("LR03")
    if g.allergen is not None:
        numbers.append("LR07")
        if key_of(g.name) not in {key_of(p.inci) for b in g.bits for p in lines[b.line].parts}:
            numbers.append("LR09")
    if len(g.bits) > 1 or any(len(lines[b.line].listed) > 1 for b in g.bits if not b.within):
        numbers.append("LR14")
    if g.name in ("Parfum", "Fragrance"):
        numbers.append("LR32" if us else "LR06")
    return (*numbers, "LR11") if nano and not us else tuple(numbers)


def origins(bits: Sequence[Bit]) -> tuple[str, ...]:
    """The materials that bring a name in, largest first, each with its percentage."""
    return tuple(_from(bit) for bit in sorted(bits, key=lambda bit: -bit.amount.typical))


def _from(bit: Bit) -> str:
    held = "inside " if bit.within else ""
    return f"{held}{bit.written} {percent_words(bit.amount)}"


def percent_words(amount: Span) -> str:
    """A percentage as printed in the explanation: exact, or with its range.

    Examples
    --------
    >>> percent_words(Span(Decimal("0.9"), Decimal("0.9"), Decimal("0.90")))
    '0.9 %'
    """
    if amount.exact:
        return f"{_short(amount.typical)} %"
    usual, low, high = (_short(x) for x in (amount.typical, amount.low, amount.high))
    return f"about {usual} %" if low == high else f"about {usual} % ({low} to {high})"


def _short(value: Decimal) -> str:
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    if value == 0 or len(text.lstrip("0.")) <= 5:
        return text or "0"
    return f"{float(value):.4g}" if value < 100 else f"{value:.2f}"


@cache
def _rules() -> dict[str, tuple[str, str]]:
    return {
        row["rule_id"] or "": (row["rule"] or "", source_words(row))
        for row in tables.rows("label_rules")
    }


def rule(number: str) -> tuple[str, str]:
    """A rule of ingredient lists and labels: its words and its source.

    Examples
    --------
    >>> rule("LR02")[0]
    'Below 1 % the order is free, after those above'
    """
    return _rules()[number]
