"""From a grid to its tables: where each begins and ends, its title, its rows sorted."""

from __future__ import annotations

import re
from dataclasses import replace

from labkit.reading.columns import Layout, TrialColumns, find_headers, layout_of
from labkit.reading.grid import Grid
from labkit.reading.sorting import phase_of, sort_rows
from labkit.reading.table import Table, day_style_of, sign_of
from labkit.reading.words import (
    column_role,
    date_row,
    is_total,
    is_water_name,
    measured,
    plain,
    remark_row,
)

__all__ = ["tables_of"]

_TITLE_WORD = re.compile(
    r"^(?:title|recipe|formula|formulation|product|name|rezept(?:ur)?|titel|produkt|produit"
    r"|formule|recette|titre|"
    r"prodotto|ricetta|producto)(?: name)? ?[:=] ?(?P<rest>.+)$",
    re.IGNORECASE | re.DOTALL,
)
_TITLE_KEY = re.compile(
    r"^(title|recipe|formula|formulation|product|name|product name|recipe name|rezept"
    r"|rezeptur|titel|produkt|"
    r"produit|formule|recette|nom|titre|prodotto|ricetta|producto|nombre) ?[:=]?$"
)
_DETAIL_KEY = re.compile(
    r"^(batch|charge|version|rev|revision|date|datum|author|autor|by|made|size|ansatz|no|nr"
    r"|code|sheet|for|"
    r"operator|lot|ref|reference|status|project|projekt|class|group|chef|lab|page|ph)\b"
)


def tables_of(grid: Grid) -> list[Table]:
    """The tables of a sheet that hold a recipe, each with its rows sorted."""
    layouts = _layouts(grid)
    sign = sign_of(grid, [layout for layout, _ in layouts])
    style = day_style_of(grid)
    return [_table(grid, layout, above, sign, style) for layout, above in layouts]


def _layouts(grid: Grid) -> list[tuple[Layout, tuple[int, ...]]]:
    if grid.kind == "free":
        return [(_list_layout(grid), ())] if grid.cells else []
    headers = _starts(grid)
    if not headers:
        layout = layout_of(grid, None, 1, grid.last_row)
        if layout is None:
            return []
        above = tuple(range(1, (layout.header_row or 1)))
        return [(layout, above)]
    last = _last_row(grid)
    found, begin = [], 1
    for place, header in enumerate(headers):
        end = last
        if place + 1 < len(headers):
            end = _own_heading(grid, header, headers[place + 1]) - 1
        layout = layout_of(grid, header, begin, end)
        if layout is not None:
            found.append((layout, tuple(range(begin, header))))
            begin = end + 1
    return found


def _last_row(grid: Grid) -> int:
    """Where the tables end: labkit's own files list their phases below the recipe."""
    below = [r for r in grid.rows() if _words(grid, r) == ["phase", "title", "step"]]
    return below[0] - 1 if below else grid.last_row


def _list_layout(grid: Grid) -> Layout:
    roles = {2: "name", 3: "amount", 4: "remark"}
    if any(not row[1].blank for row in grid.cells.values() if 1 in row):
        roles[1] = "phase"
    return Layout(
        header_row=None,
        first_row=1,
        last_row=grid.last_row,
        name=2,
        trials=(TrialColumns(label=None, main=3, unit=None),),
        roles=roles,
    )


def _starts(grid: Grid) -> list[int]:
    """Heading rows that begin a table; the same headings again without a total do not."""
    kept: list[int] = []
    for row in find_headers(grid):
        if not kept:
            kept.append(row)
            continue
        before = kept[-1]
        if row == before + 1:
            kept[-1] = row if _richer(grid, row, before) else before
            continue
        same = _words(grid, row) == _words(grid, before)
        if same and not _total_between(grid, before, row):
            continue
        kept.append(row)
    return kept


def _richer(grid: Grid, row: int, before: int) -> bool:
    return len(grid.filled(row)) >= len(grid.filled(before))


def _words(grid: Grid, row: int) -> list[str]:
    return [plain(x.text) for x in grid.filled(row).values()]


def _total_between(grid: Grid, first: int, last: int) -> bool:
    rows = range(first + 1, last)
    return any(is_total(x.text) == "total" for r in rows for x in list(grid.filled(r).values())[:2])


def _own_heading(grid: Grid, first: int, header: int) -> int:
    """The first of the rows directly above a heading that belong to its table."""
    row = header
    while row - 1 > first:
        cells = grid.filled(row - 1)
        words = [x.text for x in cells.values()]
        if (
            not cells
            or len(cells) > 2
            or is_total(words[0])
            or any(x.number for x in cells.values())
        ):
            break
        row -= 1
    return row


def _table(grid: Grid, layout: Layout, above: tuple[int, ...], sign: str, style: str) -> Table:
    rows = sort_rows(grid, layout, above)
    title = None
    for row in above:
        title = _title_in(grid, row)
        if title:
            break
    if title is None:
        titles = [x.row for x in rows if x.kind == "title"]
        title = _title_in(grid, titles[0]) if titles else None
        rows = [x if x.kind != "title" or title else replace(x, kind="detail") for x in rows]
    return Table(
        grid=grid,
        layout=layout,
        rows=tuple(rows),
        above=above,
        title=title,
        sign=sign,
        day_style=style,
    )


def _title_in(grid: Grid, row: int) -> str | None:
    """The title that a row gives, if it gives one."""
    cells = [re.sub(r"\s+", " ", x.text).strip() for x in grid.filled(row).values()]
    if not cells:
        return None
    first = cells[0]
    if len(cells) > 1 and _TITLE_KEY.match(plain(first)):
        return cells[1]
    if len(cells) > 1 and column_role(first) in {"name", "inci", "phase"}:
        return None
    told = _TITLE_WORD.match(first)
    if told:
        return told["rest"].strip()
    if len(cells) == 2 and (_DETAIL_KEY.match(plain(first)) or first.endswith(":")):
        return None
    if date_row(first) or measured(first, surely=True) or remark_row(first) or is_total(first):
        return None
    if re.fullmatch(r"[\W\d_]+", first) or is_water_name(first) or _lettered_phase(first):
        return None
    return first.lstrip("# ")


def _lettered_phase(text: str) -> bool:
    return phase_of(text) is not None and bool(
        re.match(r"(?i)(ph(ase)?\b|fase|[a-z][.:) ]*$)", text)
    )
