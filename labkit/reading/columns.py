"""Which column of a sheet holds what: by its heading, else by what stands in it."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from decimal import Decimal
from statistics import fmean

from labkit.reading.amounts import looks_like_amount, read_text
from labkit.reading.grid import Cell, Grid
from labkit.reading.words import TRIAL, column_role, date_row, is_total, measured, plain

__all__ = ["Layout", "TrialColumns", "find_headers", "layout_of"]

_NAMES = ("inci", "name", "common")
_UNITS = {"percent": "%", "grams": "g", "kilograms": "kg", "parts": "parts", "amount": None,
          "volume": "ml"}  # fmt: skip
_UNIT_WORDS = re.compile(
    r"\(?%( ?\(?[wm]/[wm]\)?)?\)?|\(?\b(g|kg|grams?|gramm|grammes|percent|prozent|w/w|m/m"
    r"|amount|menge|"
    r"weight|gewicht|parts|teile|in)\b\)?|[\[\]:,;/]+",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialColumns:
    """The columns of one trial: its main amount, and grams beside it."""

    label: str | None
    main: int
    unit: str | None
    grams: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Where things stand in one table of a sheet."""

    header_row: int | None
    first_row: int
    last_row: int
    name: int
    trials: tuple[TrialColumns, ...]
    roles: dict[int, str] = field(default_factory=dict)
    scaled: tuple[int, ...] = ()

    def column(self, role: str) -> int | None:
        """The first column with a role."""
        return next((c for c, r in sorted(self.roles.items()) if r == role), None)

    @property
    def amount_columns(self) -> list[int]:
        """Every column that holds amounts."""
        pairs = [(x.main, x.grams) for x in self.trials]
        return [c for pair in pairs for c in pair if c is not None]


def find_headers(grid: Grid) -> list[int]:
    """Rows that are column headings."""
    return [row for row in grid.rows() if row in grid.cells and _is_header(grid, row)]


def _is_header(grid: Grid, row: int) -> bool:
    cells = grid.filled(row)
    if len(cells) < 2 or any(x.number is not None and x.percent for x in cells.values()):
        return False
    roles = {c: column_role(x.text) for c, x in cells.items()}
    known = {c: r for c, r in roles.items() if r}
    has_name = any(r in _NAMES for r in known.values())
    has_amount = any(r in _UNITS or r in {"low", "high"} for r in known.values())
    if any(is_total(x.text) for x in list(cells.values())[:2]):
        return False
    amounts = [c for c, x in cells.items() if c not in known and looks_like_amount(x)]
    if has_name and has_amount:
        return len(known) * 2 >= len(cells) - len(amounts) or len(known) >= 3
    several = len(set(known.values())) >= 2 or len(known) == len(cells)
    if has_amount and len(known) >= 2 and several and not amounts:
        return True
    if not has_name:
        return False
    below = [c for c in cells if c not in known and _numeric_below(grid, c, row)]
    return len(known) + len(below) >= len(cells) and bool(below)


def _numeric_below(grid: Grid, column: int, row: int) -> bool:
    below = [grid.cell(r, column) for r in range(row + 1, min(row + 40, grid.last_row + 1))]
    filled = [x for x in below if not x.blank]
    return len(filled) >= 1 and sum(map(looks_like_amount, filled)) * 2 > len(filled)


def layout_of(grid: Grid, header: int | None, first: int, last: int) -> Layout | None:
    """The layout of the table in a span of rows; None where no recipe can be found."""
    if header is None:
        header = _heading_by_content(grid, first, last)
    roles: dict[int, str] = {}
    for column, cell in grid.filled(header).items() if header is not None else ():
        if role := column_role(cell.text):
            roles[column] = role
    begin = first if header is None else header + 1
    rows = [r for r in range(begin, last + 1) if grid.filled(r)]
    amount_roles = {c: r for c, r in roles.items() if r in _UNITS}
    bounds = {c: "low" for c, r in roles.items() if r in {"low", "high"}}
    if not amount_roles and bounds:
        amount_roles = bounds
    elif not amount_roles:
        for column in _amount_columns_by_content(grid, rows, roles):
            amount_roles[column] = roles[column] = "amount"
    name = _name_column(grid, rows, roles)
    if name is None or not amount_roles:
        return None
    _other_columns(grid, rows, roles, name)
    trials, scaled = _trials(grid, rows, roles, header)
    return Layout(
        header_row=header,
        first_row=begin,
        last_row=last,
        name=name,
        trials=trials,
        roles=roles,
        scaled=scaled,
    )


def _heading_by_content(grid: Grid, first: int, last: int) -> int | None:
    """A row of words above a column of numbers, where no heading word is known."""
    numeric = [r for r in range(first, last + 1) if _has_amount(grid, r)]
    if not numeric:
        return None
    row = numeric[0] - 1
    cells = grid.filled(row) if row >= first else {}
    below = {c for c, x in grid.filled(numeric[0]).items() if looks_like_amount(x)}
    known = sum(1 for x in cells.values() if column_role(x.text))
    first_text = next(iter(cells.values())).text if cells else ""
    if re.match(r"(?i)(phase|fase|ph\.|part|teil) +\S", first_text):
        return None
    if len(cells) < 2 or not below & set(cells) or date_row(next(iter(cells.values())).text):
        return None
    texts = [x for x in cells.values() if not looks_like_amount(x)]
    return row if len(texts) == len(cells) and (known or len(cells) >= 2) else None


def _has_amount(grid: Grid, row: int) -> bool:
    cells = grid.filled(row)
    return len(cells) >= 2 and any(looks_like_amount(x) for x in cells.values())


def _amount_columns_by_content(grid: Grid, rows: list[int], roles: dict[int, str]) -> list[int]:
    scored: dict[int, float] = {}
    for column in grid.columns:
        if column in roles:
            continue
        cells = [grid.cell(r, column) for r in rows]
        filled = [x for x in cells if not x.blank]
        hits = [x for x in filled if looks_like_amount(x)]
        if hits and len(hits) * 2 > len(filled) and not _counting(hits):
            scored[column] = float(len(hits))
    top = max(scored.values(), default=0.0)
    return [c for c, n in scored.items() if n * 2 >= top or n >= 4]


def _counting(cells: list[Cell]) -> bool:
    """A column of 1, 2, 3 … numbers the lines."""
    texts = [x.text.strip().rstrip(".)") for x in cells]
    return len(texts) > 2 and texts == [str(i) for i in range(1, len(texts) + 1)]


def _name_column(grid: Grid, rows: list[int], roles: dict[int, str]) -> int | None:
    for wanted in _NAMES:
        columns = [c for c, r in sorted(roles.items()) if r == wanted]
        if columns:
            for other, role in list(roles.items()):
                if role in _NAMES and other != columns[0]:
                    roles[other] = "common"
            roles[columns[0]] = "name"
            return columns[0]
    best, score = None, 0.0
    for column in grid.columns:
        texts = [grid.cell(r, column).text.strip() for r in rows if column not in roles]
        words = [x for x in texts if len(x) >= 3 and re.search(r"[^\W\d_]{3}", x)]
        if not words:
            continue
        worth = len(set(words)) * min(fmean(map(len, words)), 25.0) / (1 + 0.3 * column)
        if worth > score:
            best, score = column, worth
    if best is not None:
        roles[best] = "name"
    return best


def _other_columns(grid: Grid, rows: list[int], roles: dict[int, str], name: int) -> None:
    """Roles of columns without a known heading, by what stands in them."""
    for column in grid.columns:
        if column in roles:
            continue
        texts = [x for r in rows if (x := grid.cell(r, column).text.strip())]
        short = [x for x in texts if re.fullmatch(r"(?i)(phase )?([a-z]\d?|[ivx]{1,4}|\d)\.?", x)]
        if (
            column < name
            and short
            and len(short) * 2 >= len(texts)
            and "phase" not in roles.values()
        ):
            roles[column] = "phase"
        elif texts and "remark" not in roles.values() and column > name:
            roles[column] = "remark"
        elif texts:
            roles[column] = "other"


def _trials(
    grid: Grid, rows: list[int], roles: dict[int, str], header: int | None
) -> tuple[tuple[TrialColumns, ...], tuple[int, ...]]:
    by_role = {u: [c for c, r in sorted(roles.items()) if r == u] for u in _UNITS}
    if any(_tells(grid, rows, c) for c in by_role["grams"] + by_role["kilograms"]):
        by_role["percent"] = [c for c in by_role["percent"] if _tells(grid, rows, c)]
    percent, grams = by_role["percent"], by_role["grams"] or by_role["kilograms"]
    bounds = [c for c, r in sorted(roles.items()) if r in {"low", "high"}]
    if not any(by_role.values()):
        return (TrialColumns(label=None, main=bounds[0], unit=None),), ()
    main_role = next(u for u in _UNITS if by_role[u])
    main = by_role[main_role]
    if main_role == "amount" and header is None and len(main) > 1:
        main = main[:1] if _scaled(grid, rows, main[0], main[1]) else main
    if percent and grams:
        pairs = dict(zip(percent, grams, strict=False))
        extra = tuple(x for x in grams if x not in pairs.values())
    else:
        pairs, extra = (
            {},
            tuple(
                x for x in main[1:] if _scaled(grid, rows, main[0], x) or not _filled(grid, rows, x)
            ),
        )
        main = [x for x in main if x not in extra]
    several = len(main) > 1
    trials = tuple(
        TrialColumns(
            label=_label(grid, header, c, i) if several else None,
            main=c,
            unit=_UNITS[main_role],
            grams=pairs.get(c),
        )
        for i, c in enumerate(main, 1)
    )
    return trials, extra


def _filled(grid: Grid, rows: list[int], column: int) -> bool:
    return any(not grid.cell(r, column).blank for r in rows)


def _tells(grid: Grid, rows: list[int], column: int) -> bool:
    """Whether a column says anything: a number or a word, not only formulas without value."""
    return any(grid.cell(r, column).text.strip() for r in rows)


def _scaled(grid: Grid, rows: list[int], first: int, second: int) -> bool:
    """Whether one column is another one times a batch size."""
    ratios = []
    for row in rows:
        a, b = (_value(grid.cell(row, c)) for c in (first, second))
        if (a is None) != (b is None):
            return False
        if a and b:
            ratios.append(float(b / a))
    if len(ratios) < 2:
        return False
    middle = sorted(ratios)[len(ratios) // 2]
    return abs(middle - 1) > 0.2 and all(abs(x / middle - 1) < 0.06 for x in ratios)


def _value(cell: Cell) -> Decimal | None:
    if cell.number is not None:
        return cell.number
    amount = read_text(cell.text, "mixed")
    return amount.value if amount.kind == "amount" else None


def _label(grid: Grid, header: int | None, column: int, place: int) -> str:
    """The name of a trial: in the heading, or in the rows above it."""
    if header is None:
        return str(place)
    own = re.sub(r"\s+", " ", _UNIT_WORDS.sub(" ", grid.cell(header, column).text)).strip(" -–()")
    if own and not column_role(own):
        return own
    for row in range(header - 1, max(0, header - 6), -1):
        cells = grid.filled(row)
        if not cells or date_row(next(iter(cells.values())).text):
            continue
        told = [x for c, x in cells.items() if c > min(cells) or TRIAL.match(plain(x.text))]
        above = grid.cell(row, column)
        if not above.blank and len(told) >= 2 and not measured(next(iter(cells.values())).text):
            return re.sub(r"\s+", " ", above.text).strip()
    return str(place)
