"""The parts of a batch: a weighing, a line of the log, a beaker of a shared base."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from labkit.bench.records import Record
from labkit.errors import RecordError
from labkit.formula.lines import Line
from labkit.formula.model import Formula
from labkit.formula.weighed import from_grams
from labkit.quantities import Quantity
from labkit.quantities import parse as parse_quantity

__all__ = [
    "LogLine",
    "Weighing",
    "beaker_formula",
    "id_of",
    "mass_of",
    "no_vessel",
    "weighing_of",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """One reading of the balance: which line, how much, from which lot, when."""

    line: int
    grams: Decimal
    lot: str | None
    at: str
    record: Record


@dataclass(frozen=True, slots=True, kw_only=True)
class LogLine:
    """One line of the log: when (UTC), what, and how warm it was [°C]; shown in local time."""

    at: str
    words: str
    temperature_c: str | None

    def __str__(self) -> str:
        warm = f", {self.temperature_c} °C" if self.temperature_c else ""
        clock = datetime.fromisoformat(self.at).astimezone()
        return f"{clock:%H:%M} {self.words}{warm}"


def beaker_formula(
    base: Formula, mass: Decimal, extra: Mapping[str, Decimal], phase: str | None
) -> Formula:
    """What a beaker holds: a mass of the base, and grams of what was added to it."""
    lines = list(base.lines)
    grams = [Fraction(x.percent) * Fraction(mass) / 100 for x in lines]
    for name, added in extra.items():
        hits = [i for i, x in enumerate(lines) if x.material.casefold() == name.casefold()]
        if hits:
            grams[hits[-1]] += Fraction(added)
        else:
            lines.append(Line(phase=phase or lines[-1].phase, material=name, percent=Decimal(0)))
            grams.append(Fraction(added))
    return from_grams(base, grams, lines)


def weighing_of(record: Record, entry: Mapping[str, Any]) -> Weighing:
    """A weighing as its record tells it."""
    return Weighing(
        line=int(entry["line"]),
        grams=Decimal(entry["grams"]),
        lot=entry.get("lot"),
        at=record.created,
        record=record,
    )


def id_of(lot: Any) -> str:
    """The name of a lot, however it was given."""
    name: str = lot if isinstance(lot, str) else lot.id
    return name


def mass_of(given: Any, where: str) -> Decimal:
    """Grams; a number without a unit is what the balance shows, in grams."""
    if isinstance(given, Quantity):
        return given.exact("g")
    text = str(given).strip()
    bare = text.replace(",", ".").replace(".", "", 1).isdecimal()
    return parse_quantity(f"{text} g" if bare else text, "mass", where=where).exact("g")


def no_vessel(where: str) -> RecordError:
    """The refusal where steam cannot be told."""
    return RecordError(
        where=where,
        found="no weight of the empty vessel",
        allowed="The vessel weighed before, as vessel='212.4 g'",
        cause="It was not weighed, or not written down",
        do="Weigh an equal vessel, and give vessel=",
    )
