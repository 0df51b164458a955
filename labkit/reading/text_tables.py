"""Text that holds a recipe: encodings, separators, Markdown tables, pasted lists."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from itertools import pairwise

from labkit.reading.amounts import looks_like_amount
from labkit.reading.cells import restore, unescape_markdown, visible
from labkit.reading.free_lines import read_free_lines
from labkit.reading.grid import MAX_COLUMNS, MAX_ROWS, Cell, Grid

__all__ = ["decode", "grid_of_text"]

_MARKS = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe\0\0", "utf-32"),
    (b"\0\0\xfe\xff", "utf-32"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)
_LONGEST_LINE = 2_000
_RULE = re.compile(r"^\|? *:?-{2,}:? *(\| *:?-{2,}:? *)*\|?$")
_LIKE_A_DECIMAL = re.compile(r"(?<=\d),(?=\d)")


def decode(data: bytes) -> tuple[str, str]:
    """Text and the encoding it was read in.

    A byte order mark decides; else UTF-8 where it fits, UTF-16 where every second
    byte is zero, and Windows-1252 (or Latin-1, where that has no letter) otherwise.
    """
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return data.decode(encoding, errors="replace"), encoding
    if b"\0" in data[:400]:
        even, odd = data[:400:2].count(0), data[1:400:2].count(0)
        if max(even, odd) * 3 > len(data[:400]):
            name = "utf-16-be" if even > odd else "utf-16-le"
            return data.decode(name, errors="replace"), name
    for encoding in ("utf-8", "cp1252"):
        try:
            return data.decode(encoding), encoding
        except UnicodeDecodeError:
            continue
    return data.decode("latin-1"), "latin-1"


def grid_of_text(text: str, *, encoding: str | None) -> Grid:
    """The cells of a table or list written as text; row numbers are those of the text."""
    notes: list[tuple[int | None, str, str, str]] = []
    text = text.removeprefix("\ufeff")
    if "⟨U+" in visible(text):
        notes.append((None, "hidden_signs", "tell", "signs that cannot be seen are written out"))
    lines = text.splitlines()
    if any("|" in x and _is_rule(x) for x in lines):
        return _grid(_markdown(lines), "markdown", encoding, "|", notes)
    delimiter, skip = _delimiter(text, lines)
    if delimiter is None:
        aligned = _aligned(lines)
        if aligned is not None:
            return _grid(aligned, "text", encoding, None, notes)
        rows = read_free_lines(lines)
        return _grid(rows, "free", encoding, None, notes)
    records, quoting = _records(text, delimiter)
    if not quoting:
        notes.append((None, "quotes_unpaired", "tell", "a quotation mark has no partner"))
    if skip:
        records[0] = []
    if delimiter == "," and (joined := _decimals_rejoined(records)) is not None:
        records = joined
        words = "decimal commas have cut the numbers: 97,5 stood in two cells and was joined"
        notes.append((None, "decimal_comma_split", "ask", words))
    return _grid(records, "csv", encoding, delimiter, notes)


def _grid(
    rows: list[list[str]],
    kind: str,
    encoding: str | None,
    delimiter: str | None,
    notes: list[tuple[int | None, str, str, str]],
) -> Grid:
    kept = rows[:MAX_ROWS]
    if len(rows) > MAX_ROWS or any(len(x) > MAX_COLUMNS for x in kept):
        notes.append(
            (None, "too_large", "ask", f"only {MAX_ROWS} rows, {MAX_COLUMNS} columns read")
        )
    cells = {
        r: {c: _text_cell(x) for c, x in enumerate(row[:MAX_COLUMNS], 1) if x}
        for r, row in enumerate(kept, 1)
    }
    return Grid(
        cells=cells,
        kind=kind,
        encoding=encoding,
        delimiter=delimiter,
        last_row=len(kept),
        notes=tuple(notes),
    )


def _text_cell(text: str) -> Cell:
    raw = restore(text)
    return Cell(text=visible(raw), raw=raw)


def _records(text: str, delimiter: str) -> tuple[list[list[str]], bool]:
    """Rows of a delimited text, and whether its quotation marks could be followed."""
    paired = text.count('"') % 2 == 0
    if delimiter == "," and '"' not in text and _commas_in_numbers(text):
        return [re.split(r", +", x) for x in text.splitlines()], True
    if paired:
        try:
            records = list(
                csv.reader(
                    io.StringIO(text, newline=""),
                    delimiter=delimiter,
                    skipinitialspace=f'{delimiter} "' in text,
                )
            )
            return [_rejoined(x, delimiter) for x in records], True
        except csv.Error:
            paired = False
    return [x.split(delimiter) for x in text.splitlines()], paired


def _commas_in_numbers(text: str) -> bool:
    """Whether a comma and a blank part the cells, and a comma alone is a decimal sign."""
    filled = [x for x in text.splitlines() if x.strip()]
    parted = sum(", " in x for x in filled)
    bare = re.sub(r", +|(?<=\d),(?=\d)", "", text)
    return parted * 5 >= len(filled) * 4 and bool(_LIKE_A_DECIMAL.search(text)) and "," not in bare


def _rejoined(record: list[str], delimiter: str) -> list[str]:
    """A row of words that only its commas have cut, as one cell again."""
    words = len(record) > 1 and all(re.match(r" [^\W\d_]{2}", x) for x in record[1:])
    if delimiter != "," or not words or any(looks_like_amount(Cell(text=x)) for x in record[1:]):
        return record
    return [delimiter.join(record)]


def _decimals_rejoined(records: list[list[str]]) -> list[list[str]] | None:
    """Rows whose last number a decimal comma has cut in two; None where none is."""
    filled = [x for x in records if any(cell.strip() for cell in x)]
    if len(filled) < 3 or any(re.search(r"\d", x) for x in filled[0]):
        return None
    width = len(filled[0])
    cut = [
        x
        for x in filled[1:]
        if len(x) == width + 1
        and re.fullmatch(r" ?\d{1,3}", x[-2])
        and re.fullmatch(r"\d{1,4} ?%?", x[-1])
    ]
    if len(cut) * 2 < len(filled) - 1:
        return None
    return [[*x[:-2], f"{x[-2]},{x[-1]}"] if any(x is y for y in cut) else x for x in records]


def _delimiter(text: str, lines: list[str]) -> tuple[str | None, bool]:
    told = re.match(r"^\s*sep=(.)\s*$", lines[0]) if lines else None
    if told:
        return told[1], True
    filled = [x for x in lines if x.strip()][:400]
    if not filled:
        return None, False
    best, score = None, 0.0
    for mark, liking in (("\t", 1.3), (";", 1.2), ("|", 1.1), (",", 1.0)):
        worth = liking * _evenness(filled, mark, text)
        if worth > score:
            best, score = mark, worth
    return (best, False) if score >= 0.45 else (None, False)


def _evenness(lines: list[str], mark: str, text: str) -> float:
    """How far a mark cuts the lines into equally many cells, 0 to 1."""
    if mark not in text:
        return 0.0
    counts = Counter(_cuts(x, mark) for x in lines)
    cut = {n: k for n, k in counts.items() if n > 0}
    if not cut:
        return 0.0
    return (0.5 * max(cut.values()) + 0.5 * sum(cut.values())) / len(lines)


def _cuts(line: str, mark: str) -> int:
    bare = re.sub(r'"[^"]*"', "", line)
    if mark != ",":
        return bare.count(mark)
    if not re.search(r",(?!\d)|(?<!\d),", bare):
        bare = _LIKE_A_DECIMAL.sub(".", bare)
    return len(re.findall(r",(?!\s)|,\s*$|,\s*\d", bare))


def _markdown(lines: list[str]) -> list[list[str]]:
    return [_markdown_row(line) for line in lines]


def _markdown_row(line: str) -> list[str]:
    if "-" in line and _is_rule(line):
        return []
    heading = re.match(r"^#{1,6} (?P<words>.*)$", line)
    if heading:
        return [unescape_markdown(heading["words"])]
    if "|" not in line:
        return [unescape_markdown(re.sub(r"^\s*#{1,6}\s*|[*_]{2}", "", line)).strip()]
    bare = re.sub(r"^\s*\|", "", line)
    bare = re.sub(r"(?<!\\)\|\s*$", "", bare)
    return [_cell(x) for x in re.split(r"(?<!\\)\|", bare)]


def _is_rule(line: str) -> bool:
    """The line of hyphens below the heading of a Markdown table."""
    return len(line) <= _LONGEST_LINE and bool(_RULE.match(line.strip()))


def _cell(text: str) -> str:
    bare = text.strip(" \t")
    if len(bare) > _LONGEST_LINE:
        return unescape_markdown(bare)
    marked = re.fullmatch(r"(\*\*|__|\*|_|`)(.+?)\1", bare)
    return unescape_markdown(marked[2] if marked else bare)


def _aligned(lines: list[str]) -> list[list[str]] | None:
    """Rows of a table laid out with blanks; None where the lines are no table."""
    filled = [x for x in lines if x.strip()]
    if any(len(x) > _LONGEST_LINE for x in filled):
        return None
    table = [x for x in filled if len(re.split(r"\s{2,}", x.strip())) >= 2]
    if len(table) < 2 or len(table) * 2 < len(filled):
        return None
    width = max(map(len, table))
    taken = [any(x[i : i + 1].strip() for x in table) for i in range(width)]
    starts = [i for i in range(width) if taken[i] and (i < 2 or not (taken[i - 1] or taken[i - 2]))]
    starts = [i for i in starts if i == 0 or not taken[i - 1]]
    if len(starts) < 2:
        return [re.split(r"\s{2,}", x.strip()) if x.strip() else [] for x in lines]
    edges = [0, *starts[1:], width + 1]
    whole = set(map(id, table))
    return [
        [x[a:b].strip() for a, b in pairwise(edges)] if id(x) in whole else [x.strip()]
        for x in lines
    ]
