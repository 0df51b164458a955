"""A sheet as it lies there: cells with what they show, before anything is understood."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

__all__ = ["MAX_COLUMNS", "MAX_ROWS", "Cell", "Grid", "typed_number"]

MAX_ROWS = 2_000
MAX_COLUMNS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One cell.

    ``text`` is what the sheet shows, with signs that cannot be seen written out; ``raw``
    is a text exactly as stored; ``number`` is set when the file itself says that
    the cell is a number (spreadsheets), already multiplied by 100 when the cell is
    formatted as percent.
    """

    text: str = ""
    raw: str = ""
    number: Decimal | None = None
    percent: bool = False
    whole: bool = False
    formula: bool = False
    day: date | None = None
    comment: str = ""
    struck: bool = False
    merged_from_above: bool = False

    @property
    def blank(self) -> bool:
        """Nothing to read."""
        return not self.text.strip() and not self.formula


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """The cells of one sheet, by row and column, both counted from 1."""

    cells: Mapping[int, Mapping[int, Cell]]
    kind: str
    encoding: str | None = None
    delimiter: str | None = None
    sheet: str | None = None
    other_sheets: tuple[str, ...] = ()
    rival_sheets: tuple[str, ...] = ()
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    last_row: int = 0
    notes: tuple[tuple[int | None, str, str, str], ...] = field(default=())

    def cell(self, row: int, column: int) -> Cell:
        """The cell at a place; an empty one where the sheet has none."""
        return self.cells.get(row, {}).get(column, _EMPTY)

    def rows(self) -> Iterator[int]:
        """Row numbers from the first to the last, blank ones included."""
        return iter(range(1, self.last_row + 1))

    def filled(self, row: int) -> dict[int, Cell]:
        """The cells of a row that hold something, left to right."""
        return {c: x for c, x in sorted(self.cells.get(row, {}).items()) if not x.blank}

    @property
    def columns(self) -> list[int]:
        """Columns that hold anything."""
        return sorted({c for row in self.cells.values() for c, x in row.items() if not x.blank})


_EMPTY = Cell()


def typed_number(value: float | int | Decimal | str, number_format: str) -> tuple[Decimal, bool]:
    """A number of a spreadsheet with the digits its format shows, and whether it is percent.

    Spreadsheets compute in binary with 15 significant digits (IEEE 754 double); the
    digits behind the fifteenth are not part of what was typed.
    """
    exact = Decimal(value) if isinstance(value, (int, Decimal, str)) else Decimal(f"{value:.15g}")
    pattern = number_format.split(";")[0]
    percent = "%" in pattern
    shown = exact * 100 if percent else exact
    fixed = pattern.partition(".")[2]
    wanted = len(fixed) - len(fixed.lstrip("0")) if fixed else 0
    plain = Decimal(format(shown.normalize(), "f")) if shown else Decimal(0)
    places = -int(plain.as_tuple().exponent)
    return (plain.quantize(Decimal(1).scaleb(-wanted)) if wanted > places else plain), percent
