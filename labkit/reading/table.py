"""One table of a sheet, sorted, and how its cells are read."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from labkit.reading.amounts import read_amount
from labkit.reading.columns import Layout, TrialColumns
from labkit.reading.days import judge_style, looks_like_day
from labkit.reading.grid import Cell, Grid
from labkit.reading.numerals import NUMERAL, DecimalSign, judge_decimal
from labkit.reading.sorting import SortedRow
from labkit.reading.words import plain

__all__ = ["Table", "cell_at", "day_style_of", "grams_at", "number_at", "sign_of", "text_at"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table of a sheet, sorted, with what stands above it."""

    grid: Grid
    layout: Layout
    rows: tuple[SortedRow, ...]
    above: tuple[int, ...]
    title: str | None
    sign: DecimalSign
    day_style: str

    def of_kind(self, *kinds: str) -> list[SortedRow]:
        """The rows of some kinds."""
        return [x for x in self.rows if x.kind in kinds]


def sign_of(grid: Grid, layouts: Iterable[Layout]) -> DecimalSign:
    """The decimal sign of the sheet, from the cells in which numbers are expected."""
    columns: set[int] = set()
    for layout in layouts:
        columns.update(layout.amount_columns)
        columns.update(c for c, r in layout.roles.items() if r in {"cost_per_kg", "low", "high"})
        columns.update(layout.scaled)
    found: list[str] = []
    for row in grid.rows():
        for column in columns:
            cell = grid.cell(row, column)
            if cell.number is None and cell.text and not looks_like_day(cell.text):
                found += re.findall(NUMERAL, plain(cell.text))
    return judge_decimal(x.rstrip(".,") for x in found)


def day_style_of(grid: Grid) -> str:
    """The order of day and month in the sheet."""
    texts = [x.text for row in grid.cells.values() for x in row.values() if x.day is None]
    return judge_style(x for x in texts if looks_like_day(x))


def text_at(table: Table, row: int, role: str) -> str | None:
    """What stands in a row under the headings of one role, joined by semicolons."""
    texts = [
        table.grid.cell(row, c).text.strip()
        for c, r in sorted(table.layout.roles.items())
        if r == role and not table.grid.cell(row, c).merged_from_above
    ]
    kept = [x for x in texts if x and not (role == "lot" and re.fullmatch(r"[-–—/]", x))]
    return "; ".join(kept) or None


def number_at(table: Table, row: int | None, column: int | None) -> Decimal | None:
    """The number in a cell, or the whole that a line is filled up to."""
    if row is None or column is None:
        return None
    amount = read_amount(table.grid.cell(row, column), table.sign)
    if amount.kind == "balance":
        return amount.up_to
    if amount.kind != "amount" or amount.value is None:
        return None
    return amount.value


def grams_at(table: Table, row: int | None, trial: TrialColumns) -> Decimal | None:
    """The grams beside a percentage; a column of kilograms is read in grams."""
    number = number_at(table, row, trial.grams)
    if number is None or table.layout.roles.get(trial.grams or 0) != "kilograms":
        return number
    return number * 1000


def cell_at(table: Table, row: int | None, column: int | None) -> Cell:
    """A cell of the table; an empty one where there is no such place."""
    return Cell() if row is None or column is None else table.grid.cell(row, column)
