"""What an ingredient list leaves open, and who can answer it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Protocol

from labkit.estimates.declaration_entries import PERFUME, Gathered, prohibited, threshold
from labkit.estimates.declaration_names import is_colour_index, key_of
from labkit.estimates.declaration_parts import LineParts
from labkit.formula import Brief

__all__ = ["open_questions"]


class Placed(Protocol):
    """A name with those it may change places with."""

    @property
    def name(self) -> str:
        """As printed."""

    @property
    def may_swap(self) -> tuple[str, ...]:
        """Names whose order against this one is not certain."""


def open_questions(
    lines: Sequence[LineParts],
    ordered: Sequence[Gathered],
    below: Sequence[Gathered],
    entries: Sequence[Placed],
    market: str,
    rules: str,
    leave_on: bool,
    brief: Brief,
) -> tuple[str, ...]:
    """Everything that is not certain, in words, most urgent first."""
    return tuple(
        dict.fromkeys(
            [
                *_forbidden(ordered, below, market),
                *_use(brief, ordered, market),
                *_swaps(entries),
                *_blends(lines),
                *_rest(lines),
                *_perfumes(lines, market),
                *_oils(ordered, below, rules, leave_on),
                *_names(ordered, market),
            ]
        )
    )


def _forbidden(
    ordered: Sequence[Gathered], below: Sequence[Gathered], market: str
) -> Iterator[str]:
    if market == "US":
        return
    for g in (*ordered, *below):
        if g.name in prohibited():
            yield f"{g.name} is {prohibited()[g.name]}: take out what brings it in."


def _use(brief: Brief, ordered: Sequence[Gathered], market: str) -> Iterator[str]:
    if brief.leave_on is None and market != "US" and any(g.allergen for g in ordered):
        yield (
            "Whether the product stays on or is rinsed off is open: allergens are named as for "
            "one that stays on, above 0.001 %. Say leave_on=True or False in the brief."
        )


def _swaps(entries: Sequence[Placed]) -> Iterator[str]:
    told: set[frozenset[str]] = set()
    for entry in entries:
        for other in entry.may_swap:
            pair = frozenset((entry.name, other))
            if pair not in told:
                told.add(pair)
                yield (
                    f"{entry.name} and {other} may have to change places: a blend states a "
                    "range, or only the order of its parts."
                )


def _blends(lines: Sequence[LineParts]) -> Iterator[str]:
    for line in lines:
        if line.falling:
            yield (
                f"{line.written}: only the order of its parts is known"
                f"{' (assumed)' if line.material.assumed else ''}. Ask the supplier for the shares."
            )
        elif len(line.listed) > 1 and any(not p.share.exact for p in line.listed):
            yield f"{line.written}: its parts are stated as ranges. Take those of your lot."


def _rest(lines: Sequence[LineParts]) -> Iterator[str]:
    for line in lines:
        if line.not_stated:
            rest = f"{line.not_stated * 100:.4f}".rstrip("0").rstrip(".")
            yield (
                f"{line.written}: what the other {rest} % of it is, is not stated and not "
                "listed. Ask the supplier, then add it with its composition."
            )


def _perfumes(lines: Sequence[LineParts], market: str) -> Iterator[str]:
    if market == "US":
        return
    for line in lines:
        silent = not any(part.within for part in line.parts)
        if silent and any(part.key in PERFUME for part in line.parts):
            yield (
                f"{line.written}: its allergens are not known, so none of them is listed. Ask for "
                f"the allergen statement and give it as certificates={{'{line.written}': …}}."
            )


def _oils(
    ordered: Sequence[Gathered], below: Sequence[Gathered], rules: str, leave_on: bool
) -> Iterator[str]:
    typical = sorted({b.written for g in (*ordered, *below) for b in g.bits if b.typical_only})
    if not typical or rules == "none":
        return
    yield (
        f"Allergens of {', '.join(typical)} are typical figures of the trade. The certificate "
        "of your lot decides: give it as certificates={…}."
    )
    near = [g for g in below if g.allergen and g.amount.high > threshold(g.allergen, leave_on)]
    if near:
        limit = "0.001 %" if leave_on else "0.01 %"
        told = ", ".join(
            f"{g.name} (typical {_plain(g.amount.typical)} %, up to {_plain(g.amount.high)} %)"
            for g in near
        )
        yield f"Off the list, but above {limit} at the top of the range, and then named: {told}."


def _plain(value: Decimal) -> str:
    return f"{float(value):.2g}"


def _names(ordered: Sequence[Gathered], market: str) -> Iterator[str]:
    for g in ordered:
        if market == "US" and is_colour_index(g.name):
            yield (
                f"{g.name}: its US name is not known here, or it may not be a permitted colour "
                "there. Look it up in 21 CFR parts 73, 74 and 82."
            )
        elif market != "US" and g.colour and not is_colour_index(g.name.removesuffix(" (nano)")):
            yield f"{g.name}: the EU name is a Colour Index number. Ask the supplier which one."
        elif market != "US" and key_of(g.name) == "zinc oxide" and not g.colour:
            yield (
                "Zinc Oxide is listed by that name. If it is there to colour, say "
                "colours=('Zinc Oxide',): it is then CI 77947, after the others."
            )
