"""Own materials from a file: CSV, TSV or XLSX, one material per row.

The first row names the columns, in any order and in plain words, for example
``name, INCI, supplier, function, use min %, use max %, density g/ml, price per kg,
currency, composition, based on``. Words that no column of a material stands for are
kept as a note, so that nothing is lost.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from decimal import Decimal
from itertools import islice
from os import PathLike
from pathlib import Path
from typing import Any

from labkit.errors import MaterialError
from labkit.materials.names import checked_name, fold, slug

__all__ = ["COLUMNS", "rows_of"]

_COLUMN_WORDS = {
    "name": "name; material; material name; common name; raw material; ingredient; trade grade",
    "inci": "inci; inci name; inci names; label name",
    "based_on": "based on; starter; starter id; starter material; like; same as",
    "functions": "function; functions; use; what it does",
    "phase": "phase; goes into; soluble in; solubility",
    "charge": "charge; ionic character; ionic; ionicity",
    "charge_class": "charge class; class; clash class",
    "groups": "groups; group; tags",
    "composition": "composition; constituents; contains; parts; made of",
    "strength": "strength; strength %; active; active %; active matter; solids; assay; purity",
    "use_low": "use min; use min %; use low; min %; minimum; minimum %; from %; use level min",
    "use_high": "use max; use max %; use high; max %; maximum; maximum %; to %; use level max",
    "ph_low": "ph min; ph low; ph from; minimum ph",
    "ph_high": "ph max; ph high; ph to; maximum ph",
    "ph_reason": "ph reason; reason for ph",
    "heat_limit": "heat limit; heat limit c; max temp; max temperature; max process temp c",
    "heat_sensitive": "heat sensitive; cool down; cooldown",
    "volatile": "volatile",
    "hlb": "hlb; hlb value",
    "required_hlb": "required hlb; rhlb; required hlb o/w",
    "density": "density; density g/ml; density g/cm3; specific gravity; density at 20 c",
    "cas": "cas; cas no; cas number",
    "price": "price; price per kg; price/kg; price kg; cost; cost per kg; list price",
    "currency": "currency",
    "pack": "pack; pack size",
    "hazards": "hazards; hazard; caution; cautions; warnings",
    "allergy": "allergy; allergens; allergy tags",
    "origin": "origin; origin tags",
    "note": "note; notes; remark; remarks; comment; comments",
    "lot": "lot; lot number; batch",
}

COLUMNS: Mapping[str, str] = {
    fold(word): field for field, words in _COLUMN_WORDS.items() for word in words.split("; ")
}
"""Column names as they are compared, to the field they fill."""

_MOST_ROWS = 20_000
_MOST_BYTES = 20_000_000


def rows_of(path: str | PathLike[str]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The rows of a file of own materials.

    Parameters
    ----------
    path : str or path
        A file ending in .csv, .tsv, .txt or .xlsx.

    Yields
    ------
    (str, dict)
        Where the row stands, for messages, and its fields as text.

    Raises
    ------
    MaterialError
        No such file, another kind of file, no name column, one name twice, a spreadsheet
        formula in place of a value.
    """
    file = Path(path).expanduser()
    table = _cells(file)
    numbered = [(n, row) for n, row in enumerate(table, start=1) if any(c.strip() for c in row)]
    if not numbered:
        raise _refusal(file, "no rows", "A row of column names and a row per material")
    head, body = numbered[0][1], numbered[1:]
    columns = _columns(file, head)
    seen: dict[str, str] = {}
    for number, cells in body:
        where = f"{file.name}, row {number}"
        values = _fields(columns, head, cells, where)
        key = slug(checked_name(values.get("name", ""), where=where))
        if key in seen:
            raise MaterialError(
                where=where,
                found=f"{values['name']!r}, which stands already in {seen[key]}",
                allowed="Each name once; capitals, accents and signs do not tell two apart",
                cause="A row was pasted twice, or two grades carry one name",
                do="Delete one of the rows, or add grade or supplier to the name",
            )
        seen[key] = f"row {number}"
        yield where, values


def _fields(
    columns: list[str | None], head: list[str], cells: list[str], where: str
) -> dict[str, Any]:
    values: dict[str, Any] = {}
    extra = []
    for position, cell in enumerate(cells):
        text = cell.strip()
        if not text:
            continue
        if text.startswith("="):
            raise MaterialError(
                where=where,
                found=f"the spreadsheet formula {text[:40]!r} in place of a value",
                allowed="Plain text and numbers",
                cause="The sheet computes this cell",
                do="Copy the cells and paste them as values, then save again",
            )
        field = columns[position] if position < len(columns) else None
        if field is None:
            title = head[position].strip() if position < len(head) else ""
            extra.append(f"{title}: {text}" if title else text)
        else:
            values[field] = text
    if extra:
        values["note"] = "; ".join([*([values["note"]] if "note" in values else []), *extra])
    return values


def _columns(file: Path, head: list[str]) -> list[str | None]:
    columns = [COLUMNS.get(fold(cell)) for cell in head]
    found = [field for field in columns if field]
    twice = sorted({field for field in found if found.count(field) > 1})
    if twice:
        raise _refusal(file, f"two columns for {twice[0]!r}", "One column for each property")
    if "name" not in found and "inci" in found:
        return ["name" if field == "inci" else field for field in columns]
    if "name" not in found:
        shown = ", ".join(cell for cell in head if cell.strip())[:80]
        raise _refusal(file, f"the columns {shown}", "A column called 'name'")
    return columns


def _cells(file: Path) -> list[list[str]]:
    if not file.is_file():
        raise _refusal(file, "no such file", "The path of a CSV, TSV or XLSX file")
    if file.stat().st_size > _MOST_BYTES:
        raise _refusal(file, "a file of more than 20 MB", "A list of materials")
    kind = file.suffix.lower()
    if kind == ".xlsx":
        rows = _xlsx(file)
    elif kind in (".csv", ".tsv", ".txt"):
        rows = _csv(file)
    else:
        raise _refusal(file, f"a {kind or 'nameless'} file", "A .csv, .tsv or .xlsx file")
    if len(rows) > _MOST_ROWS:
        raise _refusal(file, f"more than {_MOST_ROWS} rows", f"At most {_MOST_ROWS} rows")
    return rows


def _csv(file: Path) -> list[list[str]]:
    raw = file.read_bytes()
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        try:
            text = raw.decode("cp1252")
        except UnicodeDecodeError:
            raise _refusal(file, "no text", "Text in UTF-8 or in Windows letters") from None
    if "\x00" in text:
        raise _refusal(file, "no text", "Text in UTF-8 or in Windows letters")
    first = next((line for line in text.splitlines() if line.strip()), "")
    mark = max(";\t,", key=first.count)
    try:
        return list(csv.reader(text.splitlines(keepends=True), delimiter=mark, strict=True))
    except csv.Error as error:
        raise _refusal(file, f"text that is no table ({error})", "A table") from error


def _xlsx(file: Path) -> list[list[str]]:
    from zipfile import BadZipFile

    from openpyxl import load_workbook

    try:
        book = load_workbook(file, read_only=True, data_only=False)
    except (BadZipFile, KeyError, ValueError, OSError) as error:
        raise _refusal(file, "no workbook", "An Excel workbook (.xlsx)") from error
    try:
        sheet = book.worksheets[0]
        sheet.reset_dimensions()
        rows = islice(sheet.iter_rows(), _MOST_ROWS + 1)
        return [[_shown(cell) for cell in row] for row in rows]
    finally:
        book.close()


def _shown(cell: Any) -> str:
    """A cell as it reads on the screen: 0.3 in the format 0 % is 30 %."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, (int, float)) and "%" in str(getattr(cell, "number_format", "")):
        return f"{Decimal(repr(value)) * 100:f} %"
    return str(value)


def _refusal(file: Path, found: str, allowed: str) -> MaterialError:
    return MaterialError(
        where=file.name,
        found=found,
        allowed=allowed,
        cause="Another file was meant, or it was saved in another format",
        do="Check the file name and save the sheet as CSV or XLSX",
    )
