"""What stands below and above the lines: readings, remarks, the day of making."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

from labkit.reading.columns import TrialColumns
from labkit.reading.days import looks_like_day, read_day
from labkit.reading.grid import Cell
from labkit.reading.model import Measured
from labkit.reading.numerals import NUMERAL, read_numeral
from labkit.reading.table import Table
from labkit.reading.words import measured, plain, told_inline

__all__ = ["day_of", "measurements_of", "remark_of"]


def _label_cell(table: Table, row: int) -> tuple[int, str]:
    cells = table.grid.filled(row)
    name = table.grid.cell(row, table.layout.name).text.strip()
    first = next(iter(cells.values()), Cell()).text
    if name and not (measured(first, surely=True) and name != first.strip()):
        return table.layout.name, re.sub(r"\s+", " ", name)
    column = min(cells, default=0)
    return column, re.sub(r"\s+", " ", table.grid.cell(row, column).text).strip()


def _value_cell(table: Table, row: int, trial: TrialColumns, several: bool) -> Cell:
    own = table.grid.cell(row, trial.main)
    if not own.blank or several:
        return own
    label, _ = _label_cell(table, row)
    return next((x for c, x in table.grid.filled(row).items() if c > label), Cell())


def _told(table: Table, row: int, trial: TrialColumns, several: bool) -> tuple[str, str]:
    """What a row below the recipe is about, and what it says."""
    _, label = _label_cell(table, row)
    text = _value_cell(table, row, trial, several).text.strip()
    inline = told_inline(label) if not text and not several else None
    return inline if inline is not None else (label, text)


def measurements_of(table: Table, trial: TrialColumns, several: bool) -> Iterable[Measured]:
    """The readings that stand below one trial; dashes are no readings."""
    for row in table.of_kind("measurement"):
        quantity, text = _told(table, row.row, trial, several)
        if not text or re.fullmatch(r"[-–—/.]+|n/?a", text.casefold()):
            continue
        doubtful = text.endswith("?")
        bare = text.rstrip("? ") if doubtful else text
        numeral = re.fullmatch(NUMERAL, plain(bare))
        number = read_numeral(numeral[0], table.sign) if numeral else None
        value = f"{number.value:f}" if number else bare
        yield Measured(row=row.row, quantity=quantity.rstrip(": "), value=value, doubtful=doubtful)


def remark_of(table: Table, trial: TrialColumns, several: bool) -> str | None:
    """The remarks that stand below one trial, a line each."""
    texts = [_told(table, x.row, trial, several)[1] for x in table.of_kind("remark")]
    return "\n".join(x for x in texts if x) or None


def day_of(table: Table, trial: TrialColumns) -> date | None:
    """The day of one trial, from its heading or, when it is alone, from the page."""
    several = len(table.layout.trials) > 1
    rows = [*table.above, *(x.row for x in table.of_kind("date", "detail", "title"))]
    for row in rows:
        cells = [_value_cell(table, row, trial, several)]
        if not several:
            cells += table.grid.filled(row).values()
        for cell in cells:
            if cell.day is not None:
                return cell.day
            words = [cell.text, *re.findall(r"\S*\d\S*", cell.text)]
            for word in words:
                if looks_like_day(word) and (day := read_day(word, table.day_style)):
                    return day
    return None
