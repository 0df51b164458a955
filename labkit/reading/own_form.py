"""The table in which labkit writes a formula, and reads it back to the last digit.

formula,Hand cream
phase,material,percent,locked,low,high,note
A,Aqua,q.s.,,,,
A,Glycerin,4.0000,yes,3.0000,,from the last trial

phase,title,step
A,Water phase,Heat to 75 °C
A,,Hold for 20 minutes
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from labkit.formula import Formula, Line, Phase
from labkit.formula.grid import read_percent
from labkit.reading.grid import Cell, Grid
from labkit.reading.model import ReadLine, ReadRecipe, RowFate

__all__ = ["OwnForm", "own_rows", "read_own"]

_HEADING = ("phase", "material", "percent", "locked", "low", "high", "note")
_PHASES = ("phase", "title", "step")
_TITLE, _REST = "formula", "q.s. line"


@dataclass(frozen=True, slots=True)
class OwnForm:
    """A formula read from labkit's own table, with the rows it came from."""

    formula: Formula
    recipe: ReadRecipe
    rows: tuple[RowFate, ...]
    header_row: int


def own_rows(formula: Formula) -> list[list[str | Decimal]]:
    """The rows of the table, for any kind of file."""
    rows: list[list[str | Decimal]] = [[_TITLE, formula.name]]
    if formula.qs is None:
        rows.append([_REST, "none"])
    rows.append(list(_HEADING))
    for place, line in enumerate(formula.lines):
        share: str | Decimal = "q.s." if place == formula.qs else line.percent
        bounds: list[str | Decimal] = [x if x is not None else "" for x in (line.low, line.high)]
        locked = "yes" if line.locked else ""
        rows.append([line.phase, line.material, share, locked, *bounds, line.note])
    rows += [[], list(_PHASES)]
    for phase in formula.phases:
        rows.append([phase.key, phase.title, phase.steps[0] if phase.steps else ""])
        rows += [[phase.key, "", step] for step in phase.steps[1:]]
    return rows


def read_own(grid: Grid) -> OwnForm | None:
    """The formula of a sheet in labkit's own form; None where it is laid out otherwise.

    A sheet that was changed by hand so that it is no formula any more (a total off 100,
    a name missing) is None too: it is read like any other sheet, with its questions.
    """
    start = _start(grid)
    if start is None:
        return None
    name, rest_named, header = start
    try:
        return _read(grid, name, rest_named, header)
    except ValueError:  # every refusal of labkit is one
        return None


def _start(grid: Grid) -> tuple[str, bool, int] | None:
    filled = [r for r in sorted(grid.cells) if grid.filled(r)][:3]
    if not filled or _raw(grid, filled[0], 1) != _TITLE:
        return None
    named = len(filled) > 1 and _raw(grid, filled[1], 1) != _REST
    header = filled[1 if named else 2] if len(filled) > (1 if named else 2) else None
    if header is None or tuple(_raw(grid, header, c) for c in range(1, 8)) != _HEADING:
        return None
    return _raw(grid, filled[0], 2), named, header


def _raw(grid: Grid, row: int, column: int) -> str:
    cell = grid.cell(row, column)
    return cell.raw if cell.number is None else cell.text


def _read(grid: Grid, name: str, rest_named: bool, header: int) -> OwnForm:
    row = header + (2 if grid.kind == "markdown" else 1)
    first = row
    while row <= grid.last_row and any(_raw(grid, row, c) for c in range(1, 8)):
        row += 1
    numbers = range(first, row)
    shares = [_share(grid.cell(r, 3), _raw(grid, r, 3)) for r in numbers]
    rests = [i for i, x in enumerate(shares) if x is None]
    if len(rests) != (1 if rest_named else 0):
        raise ValueError("a table of ours names one q.s. line, or says that there is none")
    rest = 100 - sum((x for x in shares if x is not None), Decimal(0))
    lines = [_line(grid, r, rest if x is None else x) for r, x in zip(numbers, shares, strict=True)]
    qs = rests[0] if rests else None
    formula = Formula(name, tuple(lines), _phases(grid, row), qs)
    read = [
        _read_line(r, x, is_rest=i == qs)
        for i, (r, x) in enumerate(zip(numbers, lines, strict=True))
    ]
    recipe = ReadRecipe(title=formula.name, basis="percent", lines=tuple(read))
    return OwnForm(formula, recipe, tuple(_fates(grid, numbers)), header)


def _share(cell: Cell, text: str) -> Decimal | None:
    """The share in the third column; None for the q.s. line."""
    if text == "q.s.":
        return None
    return read_percent(text.removesuffix("%").strip() if cell.percent else text, where="percent")


def _line(grid: Grid, row: int, percent: Decimal) -> Line:
    phase, material, _, locked, low, high, note = (_raw(grid, row, c) for c in range(1, 8))
    bounds = [None if not x else read_percent(x, where=f"row {row}") for x in (low, high)]
    return Line(
        phase=phase,
        material=material,
        percent=percent,
        locked=locked == "yes",
        low=bounds[0],
        high=bounds[1],
        note=note,
    )


def _read_line(row: int, line: Line, *, is_rest: bool) -> ReadLine:
    return ReadLine(
        row=row,
        phase=line.phase,
        name=line.material,
        kind="balance" if is_rest else "amount",
        amount=None if is_rest else line.percent,
        unit=None if is_rest else "%",
        low=line.low,
        high=line.high,
        remark=line.note or None,
        locked=line.locked,
    )


def _phases(grid: Grid, row: int) -> tuple[Phase, ...]:
    while row <= grid.last_row and tuple(_raw(grid, row, c) for c in (1, 2, 3)) != _PHASES:
        row += 1
    titles: dict[str, str] = {}
    steps: dict[str, list[str]] = {}
    for place in range(row + 1, grid.last_row + 1):
        key, title, step = (_raw(grid, place, c) for c in (1, 2, 3))
        if not key:
            continue
        titles.setdefault(key, title)
        steps.setdefault(key, []).extend([step] if step else [])
    return tuple(Phase(key=k, title=t, steps=tuple(steps[k])) for k, t in titles.items())


def _fates(grid: Grid, lines: range) -> Iterator[RowFate]:
    """What became of every row."""
    for row in grid.rows():
        cells = grid.filled(row)
        kind = "line" if row in lines else "title" if row == 1 else "heading"
        text = " | ".join(x.text for x in cells.values())
        yield RowFate(row=row, text=text, kept_as=kind if cells else "blank")
