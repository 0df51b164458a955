"""Where a recipe comes from: a file, bytes, or pasted text."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from labkit.errors import ReadingError
from labkit.reading.grid import Grid
from labkit.reading.opendocument import sheets_of_ods
from labkit.reading.text_tables import decode, grid_of_text
from labkit.reading.workbooks import refuse, sheets_of_xlsx

__all__ = ["Sheet", "Source", "open_source", "sheets_of"]

_LARGEST = 20_000_000
_ENDINGS = (".csv", ".tsv", ".txt", ".md", ".xlsx", ".xlsm", ".ods", ".xls", ".markdown", ".tab")

Sheet = tuple[str, bool, Callable[[], Grid]]
"""Name, whether it is shown, and how to read it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """The bytes of a recipe, and what they are called."""

    name: str
    data: bytes
    pasted: bool = False


def open_source(given: str | Path | bytes) -> Source:
    """The bytes behind a path, or pasted text.

    Raises
    ------
    ReadingError
        The file does not exist, is a folder, cannot be opened, or is larger than 20 MB.
    """
    if isinstance(given, bytes):
        return Source(name="recipe", data=_within(given, "recipe"))
    if isinstance(given, str) and not _is_path(given):
        return Source(name="pasted text", data=given.encode("utf-8", "surrogatepass"), pasted=True)
    path = Path(given)
    try:
        if path.stat().st_size > _LARGEST:
            raise refuse(path.name, f"{path.stat().st_size:,} bytes", "It is not a recipe")
        return Source(name=path.name, data=path.read_bytes())
    except OSError as error:
        raise ReadingError(
            where=path.name or str(given),
            found="the file cannot be opened"
            if path.exists()
            else "there is no file of that name here",
            allowed="A csv, tsv, xlsx, ods, Markdown or text file, or the recipe pasted as text",
            cause="Mistyped, moved, in another folder, or open in a program that locks it",
            do="Check the name and the folder",
        ) from error


def _within(data: bytes, name: str) -> bytes:
    if len(data) > _LARGEST:
        raise refuse(name, f"{len(data):,} bytes", "It is not a recipe")
    return data


def _is_path(text: str) -> bool:
    if "\n" in text or "\r" in text or "\t" in text or "\0" in text or len(text) > 1000:
        return False
    try:
        if text and Path(text).is_file():
            return True
    except (OSError, ValueError):
        return False
    return text.casefold().endswith(_ENDINGS)


def sheets_of(source: Source) -> list[Sheet]:
    """The sheets of a source; a text has one without a name.

    Raises
    ------
    ReadingError
        A damaged or hostile spreadsheet, or a kind of file that is not read.
    """
    data = source.data
    if data.startswith(b"PK\x03\x04") and not source.pasted:
        opened = b"content.xml" in data and b"[Content_Types].xml" not in data
        return (sheets_of_ods if opened else sheets_of_xlsx)(data, source.name)
    for mark, what in _OTHER_KINDS.items():
        if data.startswith(mark) and not source.pasted:
            raise refuse(source.name, f"this is {what}", "Another kind of file, perhaps renamed")
    if source.pasted:
        text, encoding = data.decode("utf-8", "surrogatepass"), None
    else:
        text, encoding = _decoded(data)
    return [("", True, lambda: grid_of_text(text, encoding=encoding))]


def _decoded(data: bytes) -> tuple[str, str | None]:
    text, encoding = decode(data)
    return text, encoding


_OTHER_KINDS = {
    b"\xd0\xcf\x11\xe0": "an old xls workbook",
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"\x80\x04\x95": "a Python pickle, which is never opened",
    b"\x93NUMPY": "a numpy file, which is never opened",
    b"{\\rtf": "an RTF document",
    b"\x1f\x8b": "a packed file",
}
