"""Writing a formula as CSV, XLSX or Markdown, so that reading it gives the same formula."""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

from labkit.errors import ReadingError
from labkit.formula import Formula
from labkit.reading.cells import escape_markdown, neutralise, plain_file_name
from labkit.reading.own_form import own_rows
from labkit.reading.reader import read_recipe

__all__ = ["formula_text", "write_csv", "write_markdown", "write_xlsx"]

_LONGEST_CELL = 32_000


def formula_text(formula: Formula) -> str:
    """The formula as a plain table, as a person would paste it.

    Name, titles, steps and the absence of a q.s. line are not in it; the files carry
    them.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,4")
    >>> print(formula_text(gel))
    phase,material,percent
    A,Aqua,q.s.
    A,Glycerin,4.0000
    """
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    wide = any(x.locked or x.note or x.low is not None or x.high is not None for x in formula.lines)
    rows = own_rows(formula)
    start = 1 if formula.qs is not None else 2
    for row in rows[start : start + 1 + len(formula.lines)]:
        writer.writerow([_text(x) for x in (row if wide else row[:3])])
    return stream.getvalue().rstrip("\n")


def write_csv(formula: Formula, path: str | Path) -> Path:
    """Write a formula as CSV (UTF-8 with byte order mark, commas).

    Parameters
    ----------
    formula : Formula
        What is written.
    path : path or str
        A file name, or a folder, in which the formula's name becomes the file name.

    Returns
    -------
    Path
        The file, read back and found equal.

    Raises
    ------
    ReadingError
        The folder does not exist or cannot be written, or a note cannot be stored.

    Notes
    -----
    Text that a spreadsheet would run gets a leading apostrophe, taken away on reading.
    The file is written under a new name, read back, and only then renamed: an older
    file of that name stays whole if anything fails.
    """
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, quoting=csv.QUOTE_MINIMAL)
    for row in own_rows(formula):
        writer.writerow([_text(x) for x in row])
    text = stream.getvalue()
    return _put(formula, path, ".csv", lambda: ("\ufeff" + text).encode("utf-8"))


def write_markdown(formula: Formula, path: str | Path) -> Path:
    """Write a formula as Markdown tables; as :func:`write_csv` otherwise."""
    blocks: list[list[str]] = []
    for row in own_rows(formula):
        cells = [escape_markdown(_text(x)) for x in row]
        if not cells:
            blocks.append([])
        elif cells[0] == "phase":
            blocks += [[], cells, ["---"] * len(cells)]
        else:
            blocks.append(cells)
    blocks.insert(1, ["---", "---"])
    lines = ["| " + " | ".join(x) + " |" if x else "" for x in blocks]
    return _put(formula, path, ".md", lambda: ("\n".join(lines) + "\n").encode("utf-8"))


def write_xlsx(formula: Formula, path: str | Path) -> Path:
    """Write a formula as a workbook, words typed as text; as :func:`write_csv` otherwise."""
    return _put(formula, path, ".xlsx", lambda: _workbook(formula))


def _workbook(formula: Formula) -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "formula"
    for number, row in enumerate(own_rows(formula), 1):
        for column, value in enumerate(row, 1):
            if value == "":
                continue
            cell = sheet.cell(number, column)
            if isinstance(value, Decimal):
                cell.value = float(value)
                cell.number_format = "0.0000"
            else:
                cell.value = _escaped(value)
                cell.data_type = "s"
    sheet.column_dimensions["B"].width = 40
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _escaped(text: str) -> str:
    """Control signs as the workbook standard spells them (ECMA-376, ST_Xstring, from memory)."""
    guarded = re.sub(r"_(?=x[0-9A-Fa-f]{4}_)", "_x005F_", text)
    return re.sub(r"[\x00-\x08\x0b-\x1f\ufffe\uffff]", lambda m: f"_x{ord(m[0]):04X}_", guarded)


def _text(value: str | Decimal) -> str:
    return f"{value:f}" if isinstance(value, Decimal) else neutralise(value)


def _put(formula: Formula, path: str | Path, ending: str, make: Callable[[], bytes]) -> Path:
    given = Path(path)
    target = given / plain_file_name(formula.name, ending) if given.is_dir() else given
    longest = max(len(str(x)) for row in own_rows(formula) for x in row)
    try:
        if longest > _LONGEST_CELL:
            raise ValueError(f"a text of {longest} characters")
        data = make()
        if read_recipe(data).formula() != formula:
            raise ValueError("reading it back gave another formula")
        _replace(target, data)
    except (OSError, UnicodeEncodeError, ValueError) as error:
        raise ReadingError(
            where=f"{target.name} for {formula.name}",
            found=f"it could not be written ({getattr(error, 'strerror', None) or error})",
            allowed="A file in a folder that exists and may be written to",
            cause="The folder is missing or locked, the disk is full, or a note holds "
            "signs that no file can store",
            do="Choose another place; an older file of that name is unchanged",
        ) from error
    return target


def _replace(target: Path, data: bytes) -> None:
    fresh = target.with_name(f".{target.name}.{os.getpid()}.new")
    try:
        with fresh.open("wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        fresh.replace(target)
    finally:
        fresh.unlink(missing_ok=True)
