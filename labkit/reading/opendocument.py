"""OpenDocument sheets, read element by element; long repeats are cut short."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Iterator
from datetime import date
from decimal import Decimal
from typing import Any

from labkit.reading.cells import visible
from labkit.reading.grid import MAX_COLUMNS, MAX_ROWS, Cell, Grid, typed_number
from labkit.reading.workbooks import check_archive, decimal_text, refuse

__all__ = ["sheets_of_ods"]


def sheets_of_ods(data: bytes, name: str) -> list[tuple[str, bool, Callable[[], Grid]]]:
    """The sheets of an OpenDocument file: name, whether it is shown, how to read it."""
    from odf.opendocument import load
    from odf.table import Table

    check_archive(data, name)
    try:
        tables = load(io.BytesIO(data)).getElementsByType(Table)
    except Exception as error:  # odfpy raises whatever its parser raises on a broken file
        raise refuse(name, "the sheet cannot be opened", "Damaged or not a sheet") from error
    return [(str(x.getAttribute("name")), True, _reader(x)) for x in tables]


def _reader(table: Any) -> Callable[[], Grid]:
    return lambda: _read_table(table)


def _read_table(table: Any) -> Grid:
    cells: dict[int, dict[int, Cell]] = {}
    hidden: set[int] = set()
    spans: list[tuple[int, int, int]] = []
    row, large = 0, False
    for element in _elements(table, "table-row"):
        times = _count(element, "numberrowsrepeated")
        read = _read_row(element)
        if not read:
            row += times
            if element.getAttribute("visibility"):
                hidden.update(range(row - min(times, MAX_ROWS) + 1, row + 1))
            continue
        for _ in range(min(times, MAX_ROWS)):
            row += 1
            if row > MAX_ROWS:
                large = True
                break
            cells[row] = {c: x for c, (x, _) in read.items()}
            spans += [(row, c, n) for c, (_, n) in read.items() if n > 1]
            if element.getAttribute("visibility"):
                hidden.add(row)
        if large:
            break
    for first, column, down in spans:
        copy = Cell(text=cells[first][column].text, merged_from_above=True)
        for r in range(first + 1, min(first + down, MAX_ROWS + 1)):
            cells.setdefault(r, {}).setdefault(column, copy)
    return Grid(
        cells=cells,
        kind="ods",
        sheet=str(table.getAttribute("name")),
        hidden_rows=frozenset(x for x in hidden if x <= MAX_ROWS),
        hidden_columns=_hidden_columns(table),
        last_row=max(cells, default=0),
        notes=((None, "too_large", "ask", f"only {MAX_ROWS} rows were read"),) if large else (),
    )


def _elements(parent: Any, *names: str) -> Iterator[Any]:
    for child in parent.childNodes:
        tag = getattr(child, "qname", (None, ""))[1]
        if tag in names:
            yield child
        elif tag in {"table-rows", "table-header-rows", "table-row-group", "table-columns",
                     "table-column-group", "table-header-columns"}:  # fmt: skip
            yield from _elements(child, *names)


def _count(element: Any, name: str) -> int:
    text = str(element.getAttribute(name) or "1")
    return int(text) if re.fullmatch(r"\d{1,9}", text) else 1


def _hidden_columns(table: Any) -> frozenset[int]:
    hidden: set[int] = set()
    place = 0
    for element in _elements(table, "table-column"):
        times = _count(element, "numbercolumnsrepeated")
        if element.getAttribute("visibility"):
            hidden.update(range(place + 1, min(place + times, MAX_COLUMNS) + 1))
        place += times
    return frozenset(hidden)


def _read_row(element: Any) -> dict[int, tuple[Cell, int]]:
    """Cells of a row by column, each with the rows that it covers."""
    read: dict[int, tuple[Cell, int]] = {}
    column = 0
    for child in _elements(element, "table-cell", "covered-table-cell"):
        times = _count(child, "numbercolumnsrepeated")
        cell = _read_cell(child) if child.qname[1] == "table-cell" else Cell()
        if not cell.blank or cell.comment:
            down = _count(child, "numberrowsspanned")
            for place in range(column + 1, min(column + times, MAX_COLUMNS) + 1):
                read[place] = (cell, down)
        column += times
        if column > MAX_COLUMNS:
            break
    return read


def _read_cell(element: Any) -> Cell:
    kind = element.getAttribute("valuetype")
    text = "\n".join(_text(x) for x in element.childNodes if _tag(x) == "p")
    comment = "\n".join(_text(x) for x in element.childNodes if _tag(x) == "annotation").strip()
    comment = visible(comment)
    if kind in {"float", "percentage", "currency"}:
        value = decimal_text(str(element.getAttribute("value") or "")) or _inexact(element)
        if value is not None:
            number, percent = _digits(value, text, kind == "percentage")
            return Cell(
                text=f"{number:f}" + (" %" if percent else ""),
                number=number,
                percent=percent,
                comment=comment,
            )
    if kind == "date":
        try:
            day = date.fromisoformat(str(element.getAttribute("datevalue"))[:10])
            return Cell(text=day.isoformat(), day=day, comment=comment)
        except ValueError:
            return Cell(text=visible(text), comment=comment)
    empty_formula = bool(element.getAttribute("formula")) and not text.strip()
    return Cell(text=visible(text), raw=text, formula=empty_formula, comment=comment)


def _inexact(element: Any) -> Decimal | None:
    try:
        value = float(str(element.getAttribute("value")))
    except ValueError:
        return None
    return Decimal(f"{value:.15g}") if abs(value) < 1e15 else None


def _digits(value: Decimal, text: str, percent: bool) -> tuple[Decimal, bool]:
    """The value with the digits that the sheet shows, where these say the same."""
    exact, _ = typed_number(value, "General")
    if percent:
        exact, _ = typed_number(value * 100, "General")
    shown = decimal_text(text.replace("%", "").replace("\u00a0", "").strip().replace(",", "."))
    return (shown if shown is not None and shown == exact else exact), percent


def _tag(node: Any) -> str:
    return str(getattr(node, "qname", (None, ""))[1])


def _text(node: Any) -> str:
    if node.nodeType == node.TEXT_NODE:
        return str(node.data)
    tag = _tag(node)
    if tag == "s":
        return " " * min(_count(node, "c"), 200)
    if tag == "line-break":
        return "\n"
    if tag == "tab":
        return "\t"
    if tag in {"date", "creator"}:
        return ""
    return "".join(_text(x) for x in node.childNodes)
