"""The parts of a formula: a line, and the phase it stands in."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from labkit.errors import FormulaError
from labkit.formula.grid import STEP, show
from labkit.formula.names import clean_name, slug

__all__ = ["Line", "Phase", "default_phases"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Phase:
    """A group of lines that are handled together at the bench.

    ``key`` is what stands on the weigh sheet (A, B, C …), ``title`` says what the
    phase is, and ``steps`` are the instructions in making order.
    """

    key: str
    title: str = ""
    steps: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "key", clean_name(self.key, where="Phase"))
        object.__setattr__(self, "steps", tuple(self.steps))

    def as_dict(self) -> dict[str, Any]:
        """The phase as plain values."""
        return {"key": self.key, "title": self.title, "steps": list(self.steps)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One addition of one material.

    ``percent`` is % w/w of the finished batch, on the grid of 0.0001 %. ``material``
    is the text as read; ``key`` names the material of the list that it stands for,
    once that is known. ``low`` and ``high`` bound the line when others move it.

    Raises
    ------
    FormulaError
        A share outside 0 to 100 % or off the grid, or bounds that exclude it.
    """

    phase: str
    material: str
    percent: Decimal
    key: str | None = None
    locked: bool = False
    low: Decimal | None = None
    high: Decimal | None = None
    note: str = ""

    def __post_init__(self) -> None:
        set_field = object.__setattr__
        set_field(self, "phase", clean_name(self.phase, where=f"Line {self.material!r}, phase"))
        set_field(self, "material", clean_name(self.material, where=f"Phase {self.phase}"))
        for name in ("percent", "low", "high"):
            value = getattr(self, name)
            if value is not None:
                set_field(self, name, self._share(value, name))
        low, high = self.bounds
        if not low <= self.percent <= high:
            raise FormulaError(
                where=self.where,
                found=f"{show(self.percent)} % lies outside its bounds "
                f"{show(low)} to {show(high)} %",
                allowed="A share between the two bounds",
                cause="The bounds were set for another amount",
                do="Change the bounds or the amount",
                low=low,
                high=high,
            )

    def _share(self, value: Decimal, name: str) -> Decimal:
        value = Decimal(value)
        if value.is_finite() and 0 <= value <= 100 and value % STEP == 0:
            return value.quantize(STEP)
        raise FormulaError(
            where=self.where,
            found=f"{'a share' if name == 'percent' else name + ' bound'} of {value} %",
            allowed="0 to 100 % of the batch in steps of 0.0001 %",
            cause="Grams in place of percent, or digits from a division",
            do="Give the share of the finished batch, rounded to 0.0001 %",
            percent=value,
        )

    @property
    def bounds(self) -> tuple[Decimal, Decimal]:
        """Lowest and highest share this line may take, in %."""
        low = Decimal(0) if self.low is None else self.low
        high = Decimal(100) if self.high is None else self.high
        return low, high

    @property
    def where(self) -> str:
        """The line as it is named in a message."""
        return f"Phase {self.phase}, {self.material}"

    @property
    def identity(self) -> str:
        """What two lines of the same material share: the key, else the spelling."""
        return self.key or slug(self.material) or self.material.casefold()

    def as_dict(self) -> dict[str, Any]:
        """The line as plain values; percentages as text with four decimals."""
        record: dict[str, Any] = {
            "phase": self.phase,
            "material": self.material,
            "percent": f"{self.percent:.4f}",
        }
        if self.key is not None:
            record["key"] = self.key
        if self.locked:
            record["locked"] = True
        for name in ("low", "high"):
            if (bound := getattr(self, name)) is not None:
                record[name] = f"{bound:.4f}"
        if self.note:
            record["note"] = self.note
        return record

    @classmethod
    def from_dict(cls, record: dict[str, Any]) -> Line:
        """The line that :meth:`as_dict` wrote."""
        fields: dict[str, Any] = dict(record)
        for name in ("percent", "low", "high"):
            if name in fields:
                fields[name] = Decimal(fields[name])
        return cls(**fields)


def default_phases(lines: tuple[Line, ...], given: tuple[Phase, ...]) -> tuple[Phase, ...]:
    """The phases in the order of ``given``, then as the lines name them."""
    known = {phase.key: phase for phase in given}
    for line in lines:
        if line.phase not in known:
            known[line.phase] = Phase(key=line.phase)
    return tuple(known.values())
