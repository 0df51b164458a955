"""Spreadsheet files: xlsx and ods, read as stored; nothing in them is ever run."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from labkit.errors import ReadingError
from labkit.reading.cells import visible
from labkit.reading.grid import MAX_COLUMNS, MAX_ROWS, Cell, Grid, typed_number

__all__ = ["check_archive", "sheets_of_xlsx"]

_MAX_ENTRIES, _MAX_BYTES, _MAX_RATIO = 10_000, 200_000_000, 100
_MERGE = re.compile(rb'mergeCell [^>]*?ref="([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})"')


def refuse(name: str, found: str, cause: str) -> ReadingError:
    """The refusal of a file that is not opened at all."""
    return ReadingError(
        where=name,
        found=found,
        allowed="A csv, xlsx, ods or Markdown file of a recipe, up to 20 MB",
        cause=cause,
        do="Save the recipe again as xlsx or csv from the program it was made in",
    )


def check_archive(data: bytes, name: str) -> None:
    """Refuse a spreadsheet that would not fit into memory or that hides a trap.

    Raises
    ------
    ReadingError
        A damaged or locked file, too many parts, parts that unpack to far more
        than they are, document type declarations (entity expansion).
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        entries = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise refuse(name, "the file is damaged", "It was cut off or renamed") from error
    if len(entries) > _MAX_ENTRIES:
        raise refuse(name, f"{len(entries)} parts inside", "It is not a sheet of a recipe")
    if any(x.flag_bits & 1 for x in entries):
        raise refuse(name, "the file is locked with a password", "It was saved encrypted")
    total = 0
    for entry in entries:
        try:
            total += _check_entry(archive, entry, name, total)
        except (zipfile.BadZipFile, OSError, EOFError, ValueError, NotImplementedError) as error:
            if isinstance(error, ReadingError):
                raise
            raise refuse(name, f"the part '{entry.filename}' is damaged", "Cut off") from error
        except Exception as error:
            if type(error).__module__.startswith("zlib"):
                raise refuse(name, f"the part '{entry.filename}' is damaged", "Cut") from error
            raise


def _check_entry(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, name: str, before: int) -> int:
    pieces, size = [], 0
    wanted = entry.filename.endswith((".xml", ".rels"))
    with archive.open(entry) as stream:
        while piece := stream.read(1 << 16):
            size += len(piece)
            large = size > 5_000_000 and size > _MAX_RATIO * max(entry.compress_size, 1)
            if before + size > _MAX_BYTES or large:
                raise refuse(name, "the file unpacks to far more than its size", "A trap file")
            if wanted:
                pieces.append(piece)
    if wanted:
        _check_xml(b"".join(pieces), entry.filename, name)
    return size


def _check_xml(data: bytes, part: str, name: str) -> None:
    from xml.sax import SAXException
    from xml.sax.handler import ContentHandler

    from defusedxml import DefusedXmlException  # heavy readers load only when a file is opened
    from defusedxml.sax import parseString

    try:
        parseString(data, ContentHandler(), forbid_dtd=True)
    except DefusedXmlException as error:
        found = f"the part '{part}' declares entities"
        raise refuse(name, found, "No spreadsheet program writes that: a trap file") from error
    except (SAXException, ValueError) as error:
        raise refuse(name, f"the part '{part}' is not well formed", "Damaged") from error
    area = sum(
        (_column(c) - _column(a) + 1) * (int(d) - int(b) + 1) for a, b, c, d in _MERGE.findall(data)
    )
    if area > 200_000:
        raise refuse(name, "merged cells cover the whole sheet", "A trap file, or a slip")


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def sheets_of_xlsx(data: bytes, name: str) -> list[tuple[str, bool, Callable[[], Grid]]]:
    """The sheets of a workbook: name, whether it is shown, and how to read it."""
    import warnings

    import openpyxl

    check_archive(data, name)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            stored = openpyxl.load_workbook(io.BytesIO(data), data_only=True, keep_links=False)
            typed = openpyxl.load_workbook(io.BytesIO(data), keep_links=False)
    except Exception as error:  # openpyxl raises whatever its parts raise on a broken file
        raise refuse(name, "the workbook cannot be opened", "Damaged or not a workbook") from error
    return [
        (sheet.title, sheet.sheet_state == "visible", _reader(sheet, typed[sheet.title]))
        for sheet in stored.worksheets
    ]


def _reader(stored: Any, typed: Any) -> Callable[[], Grid]:
    return lambda: _read_sheet(stored, typed)


def _read_sheet(stored: Any, typed: Any) -> Grid:
    cells: dict[int, dict[int, Cell]] = {}
    large = False
    for (row, column), cell in sorted(typed._cells.items()):
        if row > MAX_ROWS or column > MAX_COLUMNS:
            large = True
            continue
        read = _read_cell(stored._cells[row, column], cell)
        if read is not None:
            cells.setdefault(row, {})[column] = read
    _spread_merges(typed, cells)
    notes: tuple[tuple[int | None, str, str, str], ...] = ()
    if large:
        notes = ((None, "too_large", "ask", f"only the first {MAX_ROWS} rows were read"),)
    hidden = {r for r, x in typed.row_dimensions.items() if x.hidden and r <= MAX_ROWS}
    return Grid(
        cells=cells,
        kind="xlsx",
        sheet=typed.title,
        hidden_rows=frozenset(hidden),
        hidden_columns=_hidden_columns(typed),
        last_row=max(cells, default=0),
        notes=notes,
    )


def _hidden_columns(sheet: Any) -> frozenset[int]:
    hidden: set[int] = set()
    for width in sheet.column_dimensions.values():
        if width.hidden:
            hidden.update(range(width.min or 0, min(width.max or 0, MAX_COLUMNS) + 1))
    return frozenset(hidden)


def _read_cell(stored: Any, typed: Any) -> Cell | None:
    value = stored.value
    is_formula = typed.data_type == "f"
    comment = visible(str(typed.comment.text)).strip() if typed.comment else ""
    struck = bool(typed.font and typed.font.strike)
    if value is None:
        if is_formula:
            return Cell(formula=True, comment=comment, struck=struck)
        return Cell(comment=comment) if comment else None
    if isinstance(value, bool):
        return Cell(text=str(value).upper(), comment=comment, struck=struck)
    if isinstance(value, (int, float)):
        number, percent = typed_number(value, typed.number_format or "General")
        return Cell(
            text=f"{number:f}" + (" %" if percent else ""),
            number=number,
            percent=percent,
            whole="." not in (typed.number_format or "") and number == number.to_integral_value(),
            comment=comment,
            struck=struck,
        )
    if isinstance(value, datetime | date):
        day = value.date() if isinstance(value, datetime) else value
        return Cell(text=day.isoformat(), day=day, comment=comment, struck=struck)
    raw = _unescape(str(value))
    return Cell(text=visible(raw), raw=raw, comment=comment, struck=struck)


def _unescape(text: str) -> str:
    return re.sub(r"_x([0-9A-Fa-f]{4})_", lambda m: chr(int(m[1], 16)), text)


def _spread_merges(sheet: Any, cells: dict[int, dict[int, Cell]]) -> None:
    """A cell merged downwards stands for every row that it covers."""
    for area in sheet.merged_cells.ranges:
        origin = cells.get(area.min_row, {}).get(area.min_col)
        if origin is None or area.max_row == area.min_row:
            continue
        copy = Cell(text=origin.text, merged_from_above=True)
        for row in range(area.min_row + 1, min(area.max_row, MAX_ROWS) + 1):
            cells.setdefault(row, {}).setdefault(area.min_col, copy)


def decimal_text(value: str) -> Decimal | None:
    """A stored number, or None where the text is none."""
    return Decimal(value) if re.fullmatch(r"[+-]?\d{1,20}(\.\d{1,20})?", value) else None
