"""What is said about a sheet as a whole: readings, dates, phases, columns, hidden parts."""

from __future__ import annotations

import re
from collections.abc import Iterator

from labkit.reading.checks import question_of
from labkit.reading.days import looks_like_day, read_day
from labkit.reading.grid import Grid
from labkit.reading.model import Finding, ReadLine, digits
from labkit.reading.table import Table

__all__ = ["sheet_findings", "table_findings"]

_USED = {
    "phase",
    "name",
    "common",
    "function",
    "remark",
    "lot",
    "cost_per_kg",
    "locked",
    "low",
    "high",
    "unit",
}


def _tell(row: int | None, code: str, say: str, trial: str | None = None) -> Finding:
    return Finding(row=row, code=code, severity="tell", say=say, trial=trial)


def table_findings(table: Table, hidden: tuple[ReadLine, ...]) -> Iterator[Finding]:
    """What is to be said about one table."""
    yield from _readings(table)
    yield from _dates(table)
    yield from _phases(table)
    yield from _columns(table)
    yield from _hidden(table, hidden)


def _readings(table: Table) -> Iterator[Finding]:
    for row in table.rows:
        if row.kind != "measurement":
            continue
        cells = {x.label: table.grid.cell(row.row, x.main) for x in table.layout.trials}
        several = len(cells) > 1
        for label, cell in cells.items():
            text = cell.text.strip()
            who = f"{label}: " if label else ""
            if text.endswith("?") and len(text) > 1:
                words = f"{who}'{text}' kept as {text.rstrip('? ')}, marked doubtful"
                yield _tell(row.row, "reading_doubtful", words, label)
            elif several and (not text or re.fullmatch(r"[-–—/.]+|n/?a", text.casefold())):
                what = table.grid.cell(row.row, table.layout.name).text.strip()
                yield _tell(row.row, "reading_missing", f"{label} has no {what}", label)


def _dates(table: Table) -> Iterator[Finding]:
    rows = [*table.above, *(x.row for x in table.rows if x.kind in {"date", "detail", "title"})]
    for row in rows:
        texts = [x.text for x in table.grid.filled(row).values() if x.day is None]
        words = [w for t in texts for w in dict.fromkeys([t.strip(), *re.findall(r"\S*\d\S*", t)])]
        numeric = [x for x in words if looks_like_day(x) and re.match(r"\d{1,2}[./-]", x)]
        unread = [x for x in numeric if read_day(x, table.day_style) is None]
        if unread:
            yield Finding(
                row=row,
                code="date_ambiguous",
                severity="ask",
                say=f"{unread[0]}: does the day or the month stand first?",
                question=question_of(row, "date", None),
                offers=("day first", "month first"),
            )
        read = [(x, read_day(x, table.day_style)) for x in numeric if x not in unread]
        slashed = [x for x in read if "." not in x[0]] or read
        if slashed and slashed[-1][1] is not None:
            text, day = slashed[-1]
            yield _tell(row, "date_style", f"{text} read as {day.day} {day:%B %Y}" if day else text)


def _phases(table: Table) -> Iterator[Finding]:
    lines = [x for x in table.rows if x.kind == "line"]
    carried = [x.row for x in lines if x.carried]
    if carried:
        rows = ", ".join(map(str, carried[:12]))
        yield _tell(carried[0], "phase_carried", f"rows {rows} take the phase of the row above")
    nameless = [x for x in lines if x.phase is None]
    if nameless:
        words = "no phase is named: the lines stand in one phase, called A"
        if len(nameless) < len(lines):
            words = "the first lines name no phase: they stand in phase A"
        yield _tell(None, "phase_unnamed", words)


def _columns(table: Table) -> Iterator[Finding]:
    layout, grid = table.layout, table.grid
    taken = {*layout.amount_columns, *(c for c, r in layout.roles.items() if r in _USED)}
    for column in grid.columns:
        heading = _heading(table, column)
        if column in layout.scaled:
            words = f"{heading}: a batch size of the same recipe, not a trial of its own"
            yield _tell(layout.header_row, "batch_column", words)
        elif column not in taken and _fills(table, column):
            yield _tell(layout.header_row, "column_set_aside", f"{heading}: not part of the recipe")
        if column in grid.hidden_columns and _fills(table, column):
            words = f"{heading} is hidden in the sheet"
            if column in layout.amount_columns:
                question = question_of(None, f"hidden column {column}", None)
                yield Finding(
                    row=None,
                    code="hidden_column",
                    severity="ask",
                    say=f"{words} and holds amounts: does it count?",
                    question=question,
                    offers=("keep",),
                )
            else:
                yield _tell(None, "hidden_column", f"{words}; it was read")


def _heading(table: Table, column: int) -> str:
    row = table.layout.header_row
    text = table.grid.cell(row, column).text.strip() if row is not None else ""
    return f"column '{text}'" if text else f"column {column}"


def _fills(table: Table, column: int) -> bool:
    rows = range(table.layout.first_row, table.layout.last_row + 1)
    return any(not table.grid.cell(r, column).blank for r in rows)


def _hidden(table: Table, hidden: tuple[ReadLine, ...]) -> Iterator[Finding]:
    left_out = {x.row for x in hidden}
    rows = [x.row for x in table.rows if x.kind == "line"]
    for row in rows:
        cell = table.grid.cell(row, table.layout.name)
        if row not in table.grid.hidden_rows and not cell.struck:
            continue
        how = "hidden" if row in table.grid.hidden_rows else "struck out"
        fate = "left out for now" if row in left_out else "kept: the total is right with it"
        line = next((x for x in hidden if x.row == row), None)
        amount = f" {digits(line.amount)} {line.unit}" if line and line.amount is not None else ""
        yield Finding(
            row=row,
            code="hidden_row" if how == "hidden" else "struck_out",
            severity="ask",
            say=f"{cell.text.strip()}{amount} is {how} in the sheet; {fate}. Does it belong?",
            question=question_of(row, "hidden", None),
            offers=("keep", "leave out"),
        )


def sheet_findings(grid: Grid) -> Iterator[Finding]:
    """What is to be said about the file itself."""
    for row, code, severity, say in grid.notes:
        ask = severity == "ask"
        yield Finding(
            row=row,
            code=code,
            severity=severity,
            say=say,
            question="file" if ask else None,
            offers=("go on",) if ask else (),
        )
    if grid.rival_sheets:
        names = ", ".join(f"'{x}'" for x in grid.rival_sheets)
        yield Finding(
            row=None,
            code="several_sheets",
            severity="ask",
            say=f"'{grid.sheet}' was read; {names} could also be meant: which one?",
            question="sheet",
            offers=(grid.sheet or "", *grid.rival_sheets),
        )
    if grid.other_sheets and not grid.rival_sheets:
        names = ", ".join(grid.other_sheets)
        yield _tell(None, "other_sheets", f"other sheets without a recipe, or hidden: {names}")
