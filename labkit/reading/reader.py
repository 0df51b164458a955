"""Reading a recipe as it lies around: ``read_recipe``."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from hashlib import sha256
from itertools import pairwise
from pathlib import Path

from labkit.errors import ReadingError
from labkit.reading.agreement import agreement_findings
from labkit.reading.amounts import looks_like_amount
from labkit.reading.assembling import recipes_of
from labkit.reading.checks import line_findings
from labkit.reading.grid import Cell, Grid
from labkit.reading.model import Finding, ReadAs, ReadLine, ReadRecipe, RowFate
from labkit.reading.own_form import OwnForm, read_own
from labkit.reading.report import RecipeReport
from labkit.reading.settling import settle
from labkit.reading.sources import Sheet, Source, open_source, sheets_of
from labkit.reading.table import Table
from labkit.reading.tables_found import tables_of
from labkit.reading.trials_told import sheet_findings, table_findings
from labkit.reading.words import is_water_name

__all__ = ["read_recipe"]

_MOST_SHEETS = 40


def read_recipe(path_or_text: str | Path | bytes, *, sheet: str | None = None) -> RecipeReport:
    """Read a recipe from a file or from pasted text, and say what was read as what.

    Nothing is repaired, scaled or dropped in silence: every row is accounted for, and
    what only a person can decide becomes a question.

    Parameters
    ----------
    path_or_text : path, str or bytes
        A CSV, TSV, XLSX, ODS, Markdown or text file, its bytes, or the recipe itself.
    sheet : str, optional
        The sheet of a workbook; without it the first that holds a recipe.

    Returns
    -------
    RecipeReport
        ``print`` it, or let a notebook show it; ``formula(answers=…)`` makes a formula.

    Raises
    ------
    ReadingError
        The file does not exist, cannot be opened, is no kind of sheet, or is a trap
        (entities, packed bombs); or it has no sheet of that name. Never for what a
        recipe says.

    Notes
    -----
    Cells are taken as stored. A formula in a cell is never worked out; where the file
    holds no value for it, that is said.

    Examples
    --------
    >>> report = read_recipe("Aqua 95,5\\nGlycerin 4\\nXanthan Gum 0,5")
    >>> [str(line.amount) for line in report.recipes[0].lines]
    ['95.5', '4', '0.5']
    >>> report.formula(name="Gel").total
    Decimal('100.0000')
    """
    return _read(open_source(path_or_text), sheet)


def _read(source: Source, sheet: str | None) -> RecipeReport:
    grid, tables = _chosen(source, sheets_of(source), sheet)
    own = read_own(grid)
    if own is not None:
        return _own_report(source, grid, own)
    recipes: list[ReadRecipe] = []
    hidden: list[tuple[ReadLine, ...]] = []
    findings: list[Finding] = list(sheet_findings(grid))
    lineage: list[tuple[str, str]] = []
    for place, table in enumerate(tables, 1):
        read = [settle(x) for x in _labelled(table, place if len(tables) > 1 else None)]
        recipes += [recipe for recipe, _ in read]
        hidden += [lines for _, lines in read]
        findings += _findings(table, read)
        labels = [x.trial for x, _ in read if x.trial is not None]
        lineage += list(pairwise(labels))
    if not any(x.lines for x in recipes):
        findings.append(_nothing(grid))
    return RecipeReport(
        name=source.name,
        read_as=_read_as(grid, tables),
        recipes=tuple(recipes),
        set_aside=tuple(hidden),
        findings=tuple(dict.fromkeys(findings)),
        rows=tuple(_fates(grid, tables, recipes)),
        lineage_offer=tuple(lineage),
        original=source.data,
        sha256=sha256(source.data).hexdigest(),
        reread=partial(_read, source),
    )


def _chosen(source: Source, sheets: list[Sheet], wanted: str | None) -> tuple[Grid, list[Table]]:
    names = [name for name, _, _ in sheets]
    if wanted is not None and wanted not in names:
        raise ReadingError(
            where=source.name,
            found=f"no sheet '{wanted}'",
            allowed="One of: " + ", ".join(x or "(text without sheets)" for x in names),
            cause="Mistyped, or another file",
            do="Give one of these names",
        )
    best: tuple[Grid, list[Table]] | None = None
    rivals: list[str] = []
    for name, shown, read in sheets[:_MOST_SHEETS]:
        if (wanted is not None and name != wanted) or (wanted is None and not shown):
            continue
        grid = read()
        tables = tables_of(grid)
        holds = any(x.kind == "line" for t in tables for x in t.rows)
        if best is None or (holds and not best[1]):
            best = (grid, tables if holds else [])
        elif holds:
            rivals.append(name)
    if best is None:
        best = (Grid(cells={}, kind="empty"), [])
    others = tuple(x for x in names if x != (best[0].sheet or ""))
    return replace(best[0], other_sheets=others, rival_sheets=tuple(rivals)), best[1]


def _own_report(source: Source, grid: Grid, own: OwnForm) -> RecipeReport:
    """The report on a table that labkit wrote: nothing is open."""
    return RecipeReport(
        name=source.name,
        read_as=ReadAs(
            kind=grid.kind,
            encoding=grid.encoding,
            delimiter=grid.delimiter,
            decimal=".",
            sheet=grid.sheet,
            header_row=own.header_row,
            title=own.formula.name,
            other_sheets=grid.other_sheets,
        ),
        recipes=(own.recipe,),
        findings=(),
        rows=own.rows,
        original=source.data,
        sha256=sha256(source.data).hexdigest(),
        settled=own.formula,
        reread=partial(_read, source),
    )


def _labelled(table: Table, place: int | None) -> tuple[ReadRecipe, ...]:
    """The recipes of a table; among several tables each recipe gets a name of its own."""
    read = recipes_of(table)
    if place is None or len(read) > 1:
        return read
    return tuple(replace(x, trial=x.title or f"recipe {place}") for x in read)


def _findings(
    table: Table, read: list[tuple[ReadRecipe, tuple[ReadLine, ...]]]
) -> Iterator[Finding]:
    shared: set[tuple[int | None, str]] = set()
    for place, (recipe, _) in enumerate(read):
        trial = table.layout.trials[place]
        own = [*line_findings(recipe, table), *agreement_findings(recipe, table, trial)]
        for finding in own:
            if finding.severity == "tell" and (finding.row, finding.code) in shared:
                continue
            shared.add((finding.row, finding.code))
            yield finding
    yield from table_findings(table, tuple(x for _, lines in read for x in lines))


def _nothing(grid: Grid) -> Finding:
    code, say = "no_recipe", "no material with an amount was found"
    for row in list(grid.rows())[:20]:
        cells = grid.filled(row)
        below = sum(looks_like_amount(x) for x in grid.filled(row + 1).values())
        if len(cells) > 3 and below * 2 > len(cells) and any(map(_is_water, cells.values())):
            code, say = "trials_in_rows", "each row seems to be a trial, each column a material"
            break
    return Finding(
        row=None,
        code=code,
        severity="ask",
        say=f"{say}: write one material and its amount to a line, trials side by side",
        question="recipe",
    )


def _is_water(cell: Cell) -> bool:
    return is_water_name(cell.text)


def _read_as(grid: Grid, tables: list[Table]) -> ReadAs:
    first = tables[0] if tables else None
    columns = []
    if first is not None:
        header = first.layout.header_row
        for column, role in sorted(first.layout.roles.items()):
            text = first.grid.cell(header, column).text.strip() if header is not None else ""
            columns.append((column, re.sub(r"\s+", " ", text), role))
    return ReadAs(
        kind=grid.kind,
        encoding=grid.encoding,
        delimiter=grid.delimiter,
        decimal=(first.sign or ".") if first else None,
        sheet=grid.sheet,
        header_row=first.layout.header_row if first else None,
        title=first.title if first else None,
        other_sheets=grid.other_sheets,
        columns=tuple(columns),
    )


_FATES = {
    "line": "line",
    "phase": "heading",
    "header": "heading",
    "total": "total",
    "subtotal": "total",
    "measurement": "measurement",
    "date": "date",
    "remark": "remark",
    "title": "title",
    "detail": "detail",
    "note": "set aside",
    "blank": "blank",
}


def _fates(grid: Grid, tables: list[Table], recipes: list[ReadRecipe]) -> Iterator[RowFate]:
    """What became of every row of the sheet."""
    lines = {x.row for recipe in recipes for x in recipe.lines}
    known: dict[int, tuple[str, str]] = {}
    for table in tables:
        titled = False
        for number in table.above:
            if grid.filled(number):
                known[number] = ("detail" if titled else "title", "above the table")
                titled = True
        if table.layout.header_row is not None:
            known[table.layout.header_row] = ("heading", "names the columns")
        for row in table.rows:
            fate = _FATES[row.kind]
            if row.kind == "line" and row.row not in lines:
                known[row.row] = ("set aside", "hidden or struck out, see the question")
            else:
                known[row.row] = (fate, row.note if row.kind != "line" else "")
    for number in grid.rows():
        cells = grid.filled(number)
        text = " | ".join(
            re.sub(r"\s+", " ", x.text).strip() or "(formula)" for x in cells.values()
        )
        fate, why = (
            known.get(number, ("set aside", "outside any table")) if cells else ("blank", "")
        )
        yield RowFate(row=number, text=text, kept_as=fate, why=why)
