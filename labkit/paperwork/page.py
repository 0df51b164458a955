"""A document: put together once, shown as a page, as text, as Markdown, as a table.

The page is one file that needs nothing else: no script, no picture from elsewhere, no
address. Its Content-Security-Policy allows its own style sheet and pictures inside the
file, nothing more; style attributes would be ignored, so a document that needs a
look of its own passes ``css``.
"""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from labkit.charts.saving import save_text
from labkit.errors import ShareError
from labkit.paperwork.as_html import blocks_html, text
from labkit.paperwork.as_text import blocks_markdown, blocks_text, shown
from labkit.paperwork.blocks import Block, Cell, Group, Row, Table
from labkit.paperwork.style import NOTEBOOK, PAPER, SHARED
from labkit.reading.cells import escape_markdown, neutralise, plain_file_name, visible

__all__ = ["Document", "csv_text"]

SIZES = {"A4": "A4", "Letter": "letter"}
ENDINGS = (".html", ".md", ".txt", ".csv")
_CELL = re.compile(r'<(td|th)\b( scope="col")?( class="[^"]*")?')


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Document:
    """A finished paper.

    Attributes
    ----------
    kind : str
        What sort of paper it is, such as ``"Recipe card"``.
    title : str
        What it is about, such as the name of the product.
    blocks : sequence of Block
        Its content, in order (`labkit.paperwork.blocks`).
    under : str
        A line below the title.
    foot : str
        A line at the end.
    paper : str or None
        ``"A4"`` or ``"Letter"``; ``None`` leaves the size to the printer.
    css : str
        Further style rules, after the common ones.
    table : Table or None
        What a CSV file of the document holds.

    Examples
    --------
    >>> from labkit.paperwork.blocks import Words
    >>> paper = Document(kind="Note", title="Gel", blocks=(Words(text="pH < 7"),))
    >>> print(paper.text)
    Note: Gel
    <BLANKLINE>
    pH < 7
    >>> "pH &lt; 7" in paper.html
    True
    """

    kind: str
    title: str
    blocks: Sequence[Block]
    under: str = ""
    foot: str = ""
    paper: str | None = None
    css: str = ""
    table: Table | None = None

    def on(self, paper: str | None) -> Document:
        """The same document for another size of paper: ``"A4"``, ``"Letter"`` or None."""
        return replace(self, paper=_size(paper, self.kind))

    @property
    def html(self) -> str:
        """The whole page, as one file."""
        size = f"@page{{size:{SIZES[self.paper]}}}" if self.paper else ""
        style = PAPER + SHARED + size + self.css
        digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
        policy = (
            f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; "
            "base-uri 'none'; form-action 'none'"
        )
        return (
            '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
            '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
            '<meta name="referrer" content="no-referrer">\n'
            f"<title>{text(self._head)}</title>\n<style>{style}</style>\n</head>\n"
            f'<body>\n<main class="lk-paper">\n{self._inside()}\n</main>\n</body>\n</html>\n'
        )

    @property
    def text(self) -> str:
        """The document as plain text."""
        head = "\n".join(shown(x) for x in (self._head, self.under) if x)
        return "\n\n".join(x for x in (head, blocks_text(self.blocks), shown(self.foot)) if x)

    @property
    def markdown(self) -> str:
        """The document as Markdown."""
        head = f"# {escape_markdown(visible(self._head))}"
        under, foot = (escape_markdown(visible(x)) for x in (self.under, self.foot))
        return "\n\n".join(x for x in (head, under, blocks_markdown(self.blocks), foot) if x) + "\n"

    @property
    def csv(self) -> str:
        """The document's table as CSV; cells that a spreadsheet would run are marked."""
        if self.table is None:
            raise ShareError(
                where=self._head,
                found="no table to write as CSV",
                allowed="HTML, Markdown or text for this document",
                cause="It is a page of words, not a table",
                do="Save it with the ending .html, .md or .txt",
            )
        return csv_text(self.table)

    def save(self, path: str | Path) -> Path:
        """Write the document; the ending says as what: .html, .md, .txt or .csv.

        Parameters
        ----------
        path : str or path
            A file, or a folder that exists: the document then names itself.

        Returns
        -------
        Path
            The file written.

        Raises
        ------
        ShareError
            An ending that is none of these, a CSV of a document without a table, or a
            place that cannot be written to.
        """
        target = Path(path)
        if target.is_dir():
            target = target / plain_file_name(f"{self.title} {self.kind}", ".html")
        made = {".html": "html", ".md": "markdown", ".txt": "text", ".csv": "csv"}
        if target.suffix.lower() not in made:
            raise ShareError(
                where=target.name,
                found=f"the ending '{target.suffix}'",
                allowed=", ".join(ENDINGS),
                cause="The ending says what kind of file is written",
                do="Write a name such as 'card.html'; a browser prints it or saves it as PDF",
            )
        content: str = getattr(self, made[target.suffix.lower()])
        return save_text(content, target)

    @property
    def _head(self) -> str:
        return f"{self.kind}: {self.title}"

    def _inside(self) -> str:
        under = f'<p class="lk-under">{text(self.under)}</p>' if self.under else ""
        foot = f"<footer>{text(self.foot)}</footer>" if self.foot else ""
        return (
            f'<header><p class="lk-kind">{text(self.kind)}</p><h1>{text(self.title)}</h1>'
            f"{under}</header>\n{blocks_html(self.blocks)}\n{foot}"
        )

    def _repr_html_(self) -> str:
        """For a notebook; cells say their side themselves, as untrusted pages lose the style."""
        inside = _CELL.sub(_sided, self._inside())
        return f'<style>{NOTEBOOK}{SHARED}</style><div class="lk-paper">{inside}</div>'

    def __repr__(self) -> str:
        return self.text


def _sided(cell: re.Match[str]) -> str:
    side = "right" if "lk-number" in (cell[3] or "") else "left"
    return f'<{cell[1]} style="text-align:{side}"{cell[2] or ""}{cell[3] or ""}'


def csv_text(table: Table) -> str:
    """A table as CSV; a group row is written in the first column.

    Examples
    --------
    >>> print(csv_text(Table(head=("name", "%"), rows=[("=Aqua", "5")])), end="")
    name,%
    '=Aqua,5
    """
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow([neutralise(visible(x)) for x in table.head])
    for row in [*table.rows, *table.foot]:
        writer.writerow(_csv_row(row, len(table.head), table.numeric))
    return file.getvalue()


def _csv_row(row: Row, width: int, numeric: frozenset[int]) -> list[str]:
    if isinstance(row, Group):
        return [neutralise(visible(row.text)), *[""] * (width - 1)]
    words = [visible(cell.text if isinstance(cell, Cell) else cell) for cell in row]
    return [x if i in numeric and _is_number(x) else neutralise(x) for i, x in enumerate(words)]


def _is_number(words: str) -> bool:
    return words.lstrip("-").replace(".", "", 1).isdecimal()


def _size(paper: str | None, where: str) -> str | None:
    if paper is None or paper in SIZES:
        return paper
    raise ShareError(
        where=where,
        found=f"the paper size '{paper}'",
        allowed="A4 or Letter",
        cause="Another size, or another spelling",
        do="Write paper='A4' or paper='Letter', or leave it out: the printer decides",
    )
