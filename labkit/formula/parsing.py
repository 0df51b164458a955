"""The plain way to write a formula: a small table with a heading.

    phase,material,percent
    A,Aqua,q.s.
    A,Glycerin,4.0
    B,Cetyl Alcohol,2.5

Comma, semicolon, tab or ``|`` may stand between the cells; with any but the comma
a decimal comma is understood. Further columns: ``note``, ``low``, ``high``,
``locked``. Recipes that are written otherwise go through ``read_recipe``.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from labkit.errors import FormulaError
from labkit.formula.grid import read_percent, show
from labkit.formula.lines import Line
from labkit.formula.names import clean_name, fold, is_water

__all__ = ["ParsedTable", "is_rest_word", "parse_table", "settle_rest"]

_COLUMNS = {
    "phase": "phase",
    "material": "material",
    "ingredient": "material",
    "inci": "material",
    "name": "material",
    "percent": "percent",
    "%": "percent",
    "% w/w": "percent",
    "note": "note",
    "remark": "note",
    "low": "low",
    "high": "high",
    "locked": "locked",
}
_REST = {"q.s.", "qs", "q.s", "q. s.", "rest", "balance", "to 100", "ad 100", "q.s. to 100"}


@dataclass(frozen=True, slots=True)
class ParsedTable:
    """Lines of a table with the position of its q.s. line, not yet a formula."""

    lines: tuple[Line, ...]
    qs: int | None


def is_rest_word(text: str) -> bool:
    """Whether a cell says that its line takes the rest."""
    return fold(text).rstrip("%").strip() in _REST


def parse_table(text: str, *, name: str) -> ParsedTable:
    """Read the plain table form.

    Raises
    ------
    FormulaError
        No heading, an unknown column, a row that lacks its material or its share,
        two q.s. lines, or a total that is not 100. The line of the text is named.
    """
    rows = [(n, r) for n, r in enumerate(text.splitlines(), start=1) if r.strip()]
    if not rows:
        raise FormulaError(
            where=name,
            found="no text",
            allowed="A heading 'phase,material,percent' and one row for each material",
            cause="The cell or the file is empty",
            do="Write the recipe below the heading",
        )
    mark = _separator(rows[0][1])
    heading, body = _heading(rows, mark, name)
    shares: list[tuple[Mapping[str, str], Decimal | None, str]] = []
    for number, row in body:
        cells = dict(zip(heading, _cells(row, mark, number, len(heading), name), strict=False))
        where = f"{name}, line {number}"
        shares.append((cells, _share(cells, where), where))
    return settle_rest(
        [_line(cells, share or Decimal(0), where) for cells, share, where in shares],
        [i for i, (_, share, _) in enumerate(shares) if share is None],
        name=name,
    )


def settle_rest(lines: list[Line], open_lines: list[int], *, name: str) -> ParsedTable:
    """Give the rest to the q.s. line, or check that the total is exactly 100.

    Raises
    ------
    FormulaError
        Two q.s. lines, more than 100 %, or a total that is not 100 without a q.s. line.
    """
    if len(open_lines) > 1:
        names = " and ".join(lines[i].material for i in open_lines)
        raise FormulaError(
            where=name,
            found=f"{names} both take the rest",
            allowed="One q.s. line",
            cause="'q.s.' also stands for an amount added until a target is met",
            do="Give the other line a share, for example what the last trial needed",
        )
    total = sum((x.percent for x in lines), Decimal(0))
    if open_lines:
        place = open_lines[0]
        if total > 100:
            raise _wrong_total(name, total, "Nothing is left for the q.s. line")
        settled = _with_share(lines[place], 100 - total)
        return ParsedTable((*lines[:place], settled, *lines[place + 1 :]), place)
    if total != 100:
        raise _wrong_total(name, total, "A line is missing, or a share was mistyped")
    waters = [i for i, x in enumerate(lines) if is_water(x.material) and not x.locked]
    return ParsedTable(tuple(lines), max(waters, key=lambda i: lines[i].percent, default=None))


def _with_share(line: Line, percent: Decimal) -> Line:
    return Line(
        phase=line.phase,
        material=line.material,
        percent=percent,
        key=line.key,
        low=line.low,
        high=line.high,
        note=line.note,
    )


def _wrong_total(name: str, total: Decimal, cause: str) -> FormulaError:
    gap = 100 - total
    side = f"{show(gap)} % short of" if gap > 0 else f"{show(-gap)} % more than"
    return FormulaError(
        where=name,
        found=f"percentages add up to {show(total)} %, {side} 100 %",
        allowed="Exactly 100 %",
        cause=cause,
        do="Add the missing line, correct a share, or write 'q.s.' on the line that takes the rest",
        total=total,
    )


def _separator(heading: str) -> str:
    return max("\t;|,", key=lambda mark: (heading.count(mark), mark == ","))


def _heading(
    rows: list[tuple[int, str]], mark: str, name: str
) -> tuple[list[str], list[tuple[int, str]]]:
    number, first = rows[0]
    words = [fold(cell) for cell in _split(first, mark)]
    heading = [_COLUMNS.get(word, "") for word in words]
    if not {"material", "percent"} <= set(heading):
        raise FormulaError(
            where=f"{name}, line {number}",
            found=f"'{first.strip()[:60]}' is not a heading",
            allowed="phase, material, percent (and note, low, high, locked)",
            cause="The heading is missing, or the recipe is laid out in another way",
            do="Put 'phase,material,percent' on the first line, or use read_recipe",
        )
    if "" in heading:
        raise FormulaError(
            where=f"{name}, line {number}",
            found=f"the column '{words[heading.index('')]}' is not known",
            allowed="phase, material, percent, note, low, high, locked",
            cause="A column of one's own",
            do="Take the column out, or use read_recipe, which sets it aside and says so",
        )
    body = [(n, r) for n, r in rows[1:] if set(r.strip()) - set("|-: ")]
    if not body:
        raise FormulaError(
            where=name,
            found="a heading without rows",
            allowed="One row for each material",
            cause="The rows were not copied",
            do="Write the materials below the heading",
        )
    return heading, body


def _split(row: str, mark: str) -> list[str]:
    if mark == "|":
        return [cell.strip() for cell in row.strip().strip("|").split("|")]
    return [cell.strip() for cell in next(csv.reader([row], delimiter=mark))]


def _cells(row: str, mark: str, number: int, width: int, name: str) -> list[str]:
    cells = _split(row, mark)
    if len(cells) > width and any(cells[width:]):
        raise FormulaError(
            where=f"{name}, line {number}",
            found=f"{len(cells)} cells under {width} headings: '{row.strip()[:60]}'",
            allowed=f"{width} cells",
            cause="A decimal comma, or a comma inside a name, between cells parted by commas",
            do="Put the name in quotation marks, write a decimal point, or part cells by ';'",
        )
    return cells


def _share(cells: Mapping[str, str], where: str) -> Decimal | None:
    text = cells.get("percent", "")
    if is_rest_word(text):
        return None
    material = cells.get("material", "")
    if not text:
        raise FormulaError(
            where=where,
            found=f"no share for '{material}'",
            allowed="A percentage, or 'q.s.' for the line that takes the rest",
            cause="The cell is empty",
            do="Write how much, 0 if the line is kept for later",
        )
    return read_percent(text, where=f"{where}, {material}" if material else where)


def _line(cells: Mapping[str, str], percent: Decimal, where: str) -> Line:
    low, high = (
        read_percent(cells[side], where=f"{where}, {side} bound") if cells.get(side) else None
        for side in ("low", "high")
    )
    rest = is_rest_word(cells.get("percent", ""))
    return Line(
        phase=cells.get("phase") or "A",
        material=clean_name(cells.get("material", ""), where=where),
        percent=(low or Decimal(0)) if rest else percent,
        low=low,
        high=high,
        locked=_flag(cells.get("locked", ""), where),
        note=cells.get("note", ""),
    )


def _flag(text: str, where: str) -> bool:
    word = fold(text)
    if word in {"", "no", "n", "false", "0"}:
        return False
    if word in {"yes", "y", "x", "true", "1", "locked"}:
        return True
    raise FormulaError(
        where=where,
        found=f"locked is '{text}'",
        allowed="yes or no",
        cause="Another word stands in the column",
        do="Write yes, no, or leave the cell empty",
    )
