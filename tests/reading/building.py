"""Building workbooks and OpenDocument sheets for the tests, in memory."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import openpyxl
from openpyxl.comments import Comment
from openpyxl.styles import Font

_ODS = (
    '<?xml version="1.0" encoding="UTF-8"?>{extra}<office:document-content '
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" '
    'xmlns:dc="http://purl.org/dc/elements/1.1/" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" office:version="1.2">'
    "<office:body><office:spreadsheet>{body}</office:spreadsheet></office:body>"
    "</office:document-content>"
)
_MANIFEST = (
    '<?xml version="1.0"?><manifest:manifest '
    'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
    '<manifest:file-entry manifest:media-type="application/vnd.oasis.opendocument.spreadsheet" '
    'manifest:full-path="/"/><manifest:file-entry manifest:media-type="text/xml" '
    'manifest:full-path="content.xml"/></manifest:manifest>'
)


def xlsx(
    rows: Iterable[Sequence[Any]],
    *,
    formats: Mapping[str, str] | None = None,
    merges: Sequence[str] = (),
    hidden_rows: Sequence[int] = (),
    hidden_columns: Sequence[str] = (),
    comments: Mapping[str, str] | None = None,
    struck: Sequence[str] = (),
    more: Mapping[str, Iterable[Sequence[Any]]] | None = None,
) -> bytes:
    """A workbook with one sheet called *recipe*, and those in ``more``."""
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "recipe"
    for row in rows:
        sheet.append(list(row))
    for place, pattern in (formats or {}).items():
        sheet[place].number_format = pattern
    for area in merges:
        sheet.merge_cells(area)
    for row_number in hidden_rows:
        sheet.row_dimensions[row_number].hidden = True
    for letter in hidden_columns:
        sheet.column_dimensions[letter].hidden = True
    for place, text in (comments or {}).items():
        sheet[place].comment = Comment(text, "bench")
    for place in struck:
        sheet[place].font = Font(strike=True)
    for name, others in (more or {}).items():
        extra = book.create_sheet(name)
        for row in others:
            extra.append(list(row))
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def changed(data: bytes, part: str, change: Callable[[bytes], bytes]) -> bytes:
    """A packed file with one part changed."""
    source, stream = zipfile.ZipFile(io.BytesIO(data)), io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            content = source.read(name)
            target.writestr(name, change(content) if name.endswith(part) else content)
    return stream.getvalue()


def ods(body: str, extra: str = "") -> bytes:
    """An OpenDocument sheet with this table."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as target:
        target.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        target.writestr("META-INF/manifest.xml", _MANIFEST)
        target.writestr("content.xml", _ODS.format(extra=extra, body=body))
    return stream.getvalue()


def words(text: str, attributes: str = "") -> str:
    """A text cell of an OpenDocument sheet."""
    return (
        f'<table:table-cell office:value-type="string" {attributes}><text:p>{text}</text:p>'
        "</table:table-cell>"
    )


def number(value: str, shown: str, kind: str = "float") -> str:
    """A number cell of an OpenDocument sheet."""
    return (
        f'<table:table-cell office:value-type="{kind}" office:value="{value}">'
        f"<text:p>{shown}</text:p></table:table-cell>"
    )


def row(*cells: str, attributes: str = "") -> str:
    """A row of an OpenDocument sheet."""
    return f"<table:table-row {attributes}>{''.join(cells)}</table:table-row>"
