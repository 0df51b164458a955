"""Every row of a table sorted: line, heading, total, measurement, title, note, blank."""

from __future__ import annotations

import re
from dataclasses import dataclass

from labkit.reading.amounts import looks_like_amount, read_text
from labkit.reading.columns import Layout
from labkit.reading.free_lines import numbered_name
from labkit.reading.grid import Cell, Grid
from labkit.reading.words import (
    column_role,
    date_row,
    is_total,
    is_water_name,
    measured,
    plain,
    remark_row,
    told_inline,
)

__all__ = ["SortedRow", "phase_of", "sort_rows"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SortedRow:
    """One row and what it is taken for.

    ``kind``: line, phase, header, total, subtotal, measurement, date, remark, title,
    detail, note, blank. ``phase`` holds for lines; ``note`` is what a phase heading
    says besides its name, or why a row is set aside; ``carried`` marks a phase that
    was taken over from the row above.
    """

    row: int
    kind: str
    phase: str | None = None
    note: str = ""
    carried: bool = False


_LONGEST = 300
_KEY = r"(?P<key>[A-Za-z]\d?|\d{1,2}[a-z]?|[IVXivx]{1,4})"
_LETTERED = re.compile(
    rf"^(?:phase|phasen|fase|fasi|ph\.|stage|part|teil|partie)[ :.]*{_KEY}\b[ :.)–-]*(?P<rest>.*)$",
    re.IGNORECASE | re.DOTALL,
)
_BARE_KEY = re.compile(
    r"^(?P<key>[A-Za-z]\d?|\d{1,2}[a-z]?|[IVX]{1,4})[ .):]*(?P<rest>\(.*\))?$", re.DOTALL
)
_KEY_WORDS = re.compile(
    r"^(?P<key>[A-Z]|[IVX]{1,4}|\d)[ .):–-]+(?!°)(?P<rest>.*(?:phase|fase|heat|erhitz|erwärm"
    r"|chauff|cool|°|below|under"
    r"|unter).*)$",
    re.IGNORECASE,
)
_NAMED = re.compile(
    r"^(?P<key>(?:the )?(?:(?:[^\W\d]+[ -]){1,2}(?:phase|fase)|(?:phase|fase) [^\W\d]+"
    r"|[^\W\d]*phase)s?)"
    r"(?:[ :–-]*(?P<rest>[(\[].*[)\]]|\d.*|heat.*|at .*|bei .*|à .*)?)?[ :.]*$",
    re.IGNORECASE,
)
_COLON = re.compile(r"^(?P<key>[^\W\d][^:\d]{1,30})(?P<rest> ?\([^)]*\))?:$")
_PROCEDURE = re.compile(
    r"^(procedure|method|manufactur\w*|process|instructions?|directions?|preparation|making"
    r"|how to( make)?|herstellung"
    r"|verfahren|arbeitsweise|anleitung|mode opératoire|procédé|fabrication|préparation"
    r"|procedimento|steps)"
    r"( (procedure|method|notes|instructions))?[ :.]*$"
)
_TITLE_KEY = re.compile(
    r"^(title|recipe|formula|formulation|product|produkt|name|rezept(ur)?|formel|titel"
    r"|produit|formule|recette|nom|titre"
    r"|prodotto|ricetta|producto)( name| title)?[ ]*[:=]?$"
)


def phase_of(text: str) -> tuple[str, str] | None:
    """The key and the note of a phase's name: ``PHASE A (heat to 75 C)`` → A, heat to 75 C."""
    bare = re.sub(r"\s+", " ", text[:_LONGEST]).strip(" *_#")
    for pattern in (_LETTERED, _BARE_KEY, _KEY_WORDS, _NAMED):
        match = pattern.match(bare)
        if match:
            key = match["key"].strip()
            rest = (match["rest"] or "").strip(" :–-")
            if re.fullmatch(r"[(\[].*[)\]]", rest):
                rest = rest[1:-1]
            return (key.upper() if len(key) == 1 else key), rest.strip()
    return None


def sort_rows(grid: Grid, layout: Layout, above: tuple[int, ...] = ()) -> list[SortedRow]:
    """Sort the rows of a table, from its first to its last."""
    sorter = _Sorter(grid, layout)
    for row in above:
        cells = grid.filled(row)
        if len(cells) == 1 and _LETTERED.match(text := next(iter(cells.values())).text.strip()):
            found = phase_of(text)
            sorter.phase = found[0] if found else None
    return [sorter.sort(row) for row in range(layout.first_row, layout.last_row + 1)]


class _Sorter:
    """The state that runs down the rows: the phase, and whether the total has passed."""

    def __init__(self, grid: Grid, layout: Layout) -> None:
        self.grid, self.layout = grid, layout
        self.phase: str | None = None
        self.after_total = self.procedure = self.had_lines = self.titled = False
        self.named_in_column = False
        self.phase_column = layout.column("phase")

    def sort(self, row: int) -> SortedRow:
        """What one row is; the state moves on."""
        cells = self.grid.filled(row)
        if not cells:
            return SortedRow(row=row, kind="blank")
        if self._header_again(cells):
            return SortedRow(row=row, kind="header", note="names the columns")
        first = next(iter(cells.values())).text.strip()[:_LONGEST]
        name = self.grid.cell(row, self.layout.name).text.strip()[:_LONGEST]
        has_amount = any(c in cells for c in self.layout.amount_columns)
        for attempt in (self._total, self._phase_heading, self._notes, self._readings):
            found = attempt(row, cells, first, name or first, has_amount)
            if found is not None:
                return found
        return self._line(row, cells, name, has_amount)

    def _total(
        self, row: int, cells: dict[int, Cell], first: str, name: str, has_amount: bool
    ) -> SortedRow | None:
        words = [x.text for c, x in cells.items() if c not in self.layout.amount_columns][:3]
        kinds = [kind for x in words if (kind := is_total(x))]
        if not kinds and not (has_amount and not words and self._sums_up(row)):
            return None
        kind = kinds[0] if kinds else "total"
        if kind == "total" and self.had_lines:
            self.after_total = True
        return SortedRow(row=row, kind=kind, note="" if kinds else "a number without a name")

    def _sums_up(self, row: int) -> bool:
        """Whether an unnamed number is what the lines above it add up to."""
        main = self.layout.trials[0].main
        last = self.grid.cell(row, main)
        if last.formula:
            return self.had_lines
        above = [
            self.grid.cell(r, main)
            for r in range(self.layout.first_row, row)
            if not self.grid.cell(r, self.layout.name).blank
        ]
        values = [_value(x) for x in above]
        total = _value(last)
        known = sum(x for x in values if x is not None)
        return (
            total is not None
            and self.had_lines
            and (abs(total - known) < 0.006 or total in {1, 100})
        )

    def _phase_heading(
        self, row: int, cells: dict[int, Cell], first: str, name: str, has_amount: bool
    ) -> SortedRow | None:
        if self.after_total and self.phase_column is None and not _LETTERED.match(first):
            return None
        own = [c for c in cells if c not in self.layout.amount_columns]
        lettered = _LETTERED.match(first) or _NAMED.match(first)
        if has_amount and not (len(own) == 1 and lettered):
            return None
        if self.procedure and (_sentence(first) or len(first.split()) > 4):
            return None
        alone = len(own) == 1
        key = phase_of(first)
        place = next(iter(cells))
        if not alone and not (
            len(own) == 2 and place in {self.phase_column, self.layout.name} and key is not None
            and (place == self.phase_column or _LETTERED.match(first) or _NAMED.match(first))
        ):  # fmt: skip
            return None
        if key is None and alone and (colon := _COLON.match(first)) and not self.procedure:
            if _PROCEDURE.match(plain(first)) or remark_row(first) or measured(first):
                return None
            key = colon["key"].strip(), (colon["rest"] or "").strip(" ()")
        if key is None:
            return None
        if not alone and place == self.phase_column and self.layout.name in cells:
            words = cells[self.layout.name].text
            if len(first) < 3 and not re.search(
                r"\d ?°|heat|phase|cool|erhitz|chauff", plain(words)
            ):
                return None
        rest = [x.text.strip() for c, x in cells.items() if c != place and not _counts(x)]
        self.phase, self.procedure, self.after_total = key[0], False, False
        self.named_in_column = False
        return SortedRow(
            row=row, kind="phase", phase=key[0], note="; ".join(filter(None, [key[1], *rest]))
        )

    def _notes(
        self, row: int, cells: dict[int, Cell], first: str, name: str, has_amount: bool
    ) -> SortedRow | None:
        if len(cells) > 1 and set(cells) != {self.layout.column("remark")}:
            return self._pair(row, cells, first) if not has_amount else None
        if has_amount:
            return None
        if self.had_lines and (inline := told_inline(first)):
            return SortedRow(row=row, kind="remark" if remark_row(inline[0]) else "measurement")
        if _PROCEDURE.match(plain(first)):
            self.procedure = True
            return SortedRow(row=row, kind="note", note="making instructions")
        if self.had_lines and measured(first, surely=True):
            self.after_total = True
        if self.procedure or self.after_total or _sentence(first):
            return SortedRow(row=row, kind="note", note="words without an amount")
        if not self.had_lines and self.layout.header_row is None and self.phase is None:
            return self._opening(row, first)
        if next(iter(cells)) not in {self.layout.name, self.phase_column}:
            return SortedRow(row=row, kind="note", note="words beside the table")
        return None

    def _opening(self, row: int, first: str) -> SortedRow | None:
        """A single cell above the first line of a table without headings."""
        if is_water_name(first) or numbered_name(first):
            return None
        kind = "detail" if self.titled else "title"
        self.titled = True
        return SortedRow(row=row, kind=kind)

    def _pair(self, row: int, cells: dict[int, Cell], first: str) -> SortedRow | None:
        """A word and its value, above the first line of a table."""
        if self.had_lines or self.layout.header_row is not None:
            return None
        if _TITLE_KEY.match(plain(first)) and not self.titled:
            self.titled = True
            return SortedRow(row=row, kind="title")
        if first.endswith(":") or date_row(first):
            return SortedRow(row=row, kind="detail")
        return None

    def _header_again(self, cells: dict[int, Cell]) -> bool:
        texts = {plain(x.text) for x in cells.values()}
        if self.layout.header_row is not None and len(texts) > 1:
            above = {plain(x.text) for x in self.grid.filled(self.layout.header_row).values()}
            if texts <= above:
                return True
        if self.had_lines or self.layout.header_row is not None or len(cells) != 1:
            return False
        words = next(iter(texts)).rstrip(":").split()
        roles = [column_role(x) for x in words]
        return 1 <= len(words) <= 5 and all(roles) and bool({"name", "inci"} & set(roles))

    def _readings(
        self, row: int, cells: dict[int, Cell], first: str, name: str, has_amount: bool
    ) -> SortedRow | None:
        word = first if measured(first, surely=True) or len(name) < 2 else name
        has_phase = self.phase_column in cells
        if remark_row(word) or date_row(word):
            return SortedRow(row=row, kind="remark" if remark_row(word) else "date")
        if has_phase and not self.after_total and first != word:
            return None
        if measured(word, surely=not self.after_total) and len(cells) > 1:
            return SortedRow(row=row, kind="measurement")
        if self.after_total and len(cells) > 1 and not (has_phase and has_amount):
            return SortedRow(row=row, kind="measurement" if has_amount else "note")
        return None

    def _line(self, row: int, cells: dict[int, Cell], name: str, has_amount: bool) -> SortedRow:
        if not name and not has_amount:
            return SortedRow(row=row, kind="note", note="neither a name nor an amount")
        carried = False
        if self.phase_column is not None:
            cell = self.grid.cell(row, self.phase_column)
            if not cell.blank:
                key = phase_of(cell.text)
                self.named_in_column = True
                self.phase = key[0] if key else re.sub(r"\s+", " ", cell.text).strip()
                note = key[1] if key else ""
            else:
                carried, note = self.phase is not None and self.named_in_column, ""
        else:
            note = ""
        self.had_lines = True
        return SortedRow(row=row, kind="line", phase=self.phase, carried=carried, note=note)


def _counts(cell: Cell) -> bool:
    """A number beside a phase's name is its subtotal, not a note."""
    return cell.number is not None or looks_like_amount(cell)


def _sentence(text: str) -> bool:
    words = text.split()
    closed = text.endswith((".", "!")) and len(words) > 3
    return closed or len(words) > 9 or text.startswith(("(", "*", "†", "http"))


def _value(cell: Cell) -> float | None:
    if cell.number is not None:
        return float(cell.number)
    amount = read_text(cell.text, "mixed")
    return float(amount.value) if amount.kind == "amount" and amount.value is not None else None
