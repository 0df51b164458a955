"""What a reading consists of: lines, recipes, findings, and the fate of every row."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

__all__ = ["Finding", "Measured", "ReadAs", "ReadLine", "ReadRecipe", "RowFate", "digits"]


def digits(value: Decimal) -> str:
    """A number with its digits, never with an exponent."""
    return f"{value:f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing the reader has to say.

    ``severity`` is *ask* (a formula is made only after an answer) or *tell*.
    ``question`` is the name under which an answer is given, ``offers`` are answers
    that are understood.
    """

    row: int | None
    code: str
    severity: str
    say: str
    question: str | None = None
    offers: tuple[str, ...] = ()
    trial: str | None = None

    def as_dict(self) -> dict[str, Any]:
        """The finding as plain values."""
        record: dict[str, Any] = {
            "row": self.row,
            "code": self.code,
            "severity": self.severity,
            "say": self.say,
        }
        if self.question is not None:
            record |= {"question": self.question, "offers": list(self.offers)}
        if self.trial is not None:
            record["trial"] = self.trial
        return record


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadLine:
    """One line of a recipe as it stands in the sheet.

    ``amount``, ``low``, ``high``, ``grams`` and ``cost_per_kg`` keep the digits of
    the sheet. ``kind``: amount, balance, to_target, range, missing, unreadable, volume.
    """

    row: int
    phase: str | None
    name: str
    kind: str
    amount: Decimal | None = None
    unit: str | None = None
    low: Decimal | None = None
    high: Decimal | None = None
    target: tuple[str, str | None] | None = None
    about: bool = False
    doubtful: bool = False
    unclear: bool = False
    grouped: bool = False
    odd_format: bool = False
    signs: frozenset[str] = frozenset()
    text: str = ""
    up_to: Decimal | None = None
    grams: Decimal | None = None
    cost_per_kg: Decimal | None = None
    common: str | None = None
    function: str | None = None
    lot: str | None = None
    remark: str | None = None
    comment: str | None = None
    locked: bool = False
    hidden: bool = False

    @property
    def mass(self) -> Fraction | None:
        """The amount in grams where the unit is one of mass, else as it stands."""
        if self.amount is None or self.kind != "amount":
            return None
        return Fraction(self.amount) * _GRAMS.get(self.unit or "", Fraction(1))

    def as_dict(self) -> dict[str, Any]:
        """The line as plain values, amounts as text; what is not there is left out."""
        record: dict[str, Any] = {
            "row": self.row,
            "phase": self.phase,
            "name": self.name,
            "kind": self.kind,
        }
        if self.kind in {"amount", "volume"}:
            record["amount"] = None if self.amount is None else digits(self.amount)
            record["unit"] = self.unit
        if self.kind == "range" or self.low is not None or self.high is not None:
            record["low"] = None if self.low is None else digits(self.low)
            record["high"] = None if self.high is None else digits(self.high)
        if self.kind == "to_target":
            quantity, value = self.target or (None, None)
            record["target"] = {"quantity": quantity, "value": value}
        if self.kind == "unreadable":
            record["text"] = self.text
        for name in ("about", "doubtful", "locked", "hidden"):
            if getattr(self, name):
                record[name] = True
        for name in ("grams", "cost_per_kg"):
            if (number := getattr(self, name)) is not None:
                record[name] = digits(number)
        for name in ("common", "function", "lot", "remark", "comment"):
            if (text := getattr(self, name)) is not None:
                record[name] = text
        return record


_GRAMS: dict[str, Fraction] = {"kg": Fraction(1000), "mg": Fraction(1, 1000)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A reading that stands below a recipe, as text with its digits."""

    row: int
    quantity: str
    value: str
    doubtful: bool = False

    def as_dict(self) -> dict[str, Any]:
        """The reading as plain values."""
        record: dict[str, Any] = {"quantity": self.quantity, "value": self.value}
        return record | ({"doubtful": True} if self.doubtful else {})


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadRecipe:
    """One recipe (one trial) of a sheet."""

    title: str | None
    basis: str
    lines: tuple[ReadLine, ...]
    trial: str | None = None
    day: date | None = None
    batch_g: Decimal | None = None
    stated_total: Decimal | None = None
    stated_grams: Decimal | None = None
    total_row: int | None = None
    measurements: tuple[Measured, ...] = ()
    remark: str | None = None
    phase_notes: tuple[tuple[str, str], ...] = ()
    phase_steps: tuple[tuple[str, tuple[str, ...]], ...] = ()

    @property
    def total(self) -> Decimal:
        """Sum of the lines that have an amount, in the unit that they share (else in g)."""
        known = [x for x in self.lines if x.kind == "amount" and x.amount is not None]
        if len({x.unit for x in known} & {"g", "kg", "mg"}) > 1:
            return self.whole
        return sum((x.amount for x in known if x.amount is not None), Decimal(0))

    @property
    def whole(self) -> Decimal:
        """Sum of the lines that have an amount, in %, in parts or in grams."""
        if not {x.unit for x in self.lines} & {"kg", "mg"}:
            return self.total
        known = sum((x.mass for x in self.lines if x.mass is not None), Fraction(0))
        return Decimal(known.numerator) / Decimal(known.denominator)

    @property
    def shown_unit(self) -> str:
        """The unit of :attr:`total`."""
        units = {x.unit for x in self.lines if x.kind == "amount"}
        if self.basis == "grams" and units == {"kg"}:
            return "kg"
        return {"percent": "%", "grams": "g", "parts": "parts"}[self.basis]

    @property
    def open_lines(self) -> tuple[ReadLine, ...]:
        """Lines whose amount the sheet does not say."""
        return tuple(x for x in self.lines if x.kind not in {"amount", "balance"})

    @property
    def rest_lines(self) -> tuple[ReadLine, ...]:
        """Lines that take the rest."""
        return tuple(x for x in self.lines if x.kind == "balance")


@dataclass(frozen=True, slots=True, kw_only=True)
class RowFate:
    """What became of one row of the sheet."""

    row: int
    text: str
    kept_as: str
    why: str = ""

    def as_dict(self) -> dict[str, Any]:
        """The row as plain values."""
        return {"row": self.row, "text": self.text, "kept_as": self.kept_as, "why": self.why}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadAs:
    """How the file was taken."""

    kind: str
    encoding: str | None = None
    delimiter: str | None = None
    decimal: str | None = None
    sheet: str | None = None
    header_row: int | None = None
    title: str | None = None
    other_sheets: tuple[str, ...] = ()
    columns: tuple[tuple[int, str, str], ...] = field(default=())

    def as_dict(self) -> dict[str, Any]:
        """How the file was taken, as plain values."""
        return {
            "kind": self.kind,
            "encoding": self.encoding,
            "delimiter": self.delimiter,
            "decimal": self.decimal,
            "sheet": self.sheet,
            "header_row": self.header_row,
            "title": self.title,
            "other_sheets": list(self.other_sheets),
            "columns": [{"column": c, "heading": h, "as": r} for c, h, r in self.columns],
        }
