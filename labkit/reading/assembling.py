"""From sorted rows to recipes: lines, totals, batch size, readings, dates."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from labkit.reading.amounts import Amount, read_amount, read_target, read_text, unit_name
from labkit.reading.columns import Layout, TrialColumns
from labkit.reading.days import judge_style, looks_like_day, read_day
from labkit.reading.grid import Cell, Grid
from labkit.reading.model import Measured, ReadLine, ReadRecipe
from labkit.reading.numerals import NUMERAL, DecimalSign, judge_decimal, read_numeral
from labkit.reading.sorting import SortedRow
from labkit.reading.words import measured, plain

__all__ = ["Table", "recipes_of", "sign_of"]

_BATCH = re.compile(
    rf"(?:\b(?:batch|size|ansatz|made|make|makes|for|charge|yields?|quantity|gesamt|menge"
    rf"|für|pour|lot|per|à|"
    rf"of|taille|ansatzgröße|total|weight|prepare"
    rf"|g for)\b[^\d%]{{0,20}})(?P<n>{NUMERAL}) ?(?P<u>kg|g|gr|grams?|gramm)\b"
)
_BATCH_OF = re.compile(
    rf"(?P<n>{NUMERAL}) ?(?P<u>kg|g|gr|grams?|gramm)[ -]+(?:batch|ansatz|total|size)\b"
)
_FOR_BATCH = re.compile(
    rf"(?:for|per|für|pour|/|auf|à|in|@) ?(?P<n>{NUMERAL}) ?(?P<u>kg|g)?\b"
    rf"|\((?P<m>{NUMERAL}) ?(?P<v>kg|g)\)|^(?P<k>{NUMERAL}) ?(?P<w>kg|g)$"
)

_FROM_GRAMS = "from grams"


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One table of a sheet, sorted, with what stands above it."""

    grid: Grid
    layout: Layout
    rows: tuple[SortedRow, ...]
    above: tuple[int, ...]
    title: str | None
    sign: DecimalSign
    day_style: str

    def of_kind(self, *kinds: str) -> list[SortedRow]:
        """The rows of some kinds."""
        return [x for x in self.rows if x.kind in kinds]


def sign_of(grid: Grid, layouts: Iterable[Layout]) -> DecimalSign:
    """The decimal sign of the sheet, from the cells in which numbers are expected."""
    columns: set[int] = set()
    for layout in layouts:
        columns.update(layout.amount_columns)
        columns.update(c for c, r in layout.roles.items() if r in {"cost_per_kg", "low", "high"})
        columns.update(layout.scaled)
    found: list[str] = []
    for row in grid.rows():
        for column in columns:
            cell = grid.cell(row, column)
            if cell.number is None and cell.text and not looks_like_day(cell.text):
                found += re.findall(NUMERAL, plain(cell.text))
    return judge_decimal(x.rstrip(".,") for x in found)


def day_style_of(grid: Grid) -> str:
    """The order of day and month in the sheet."""
    texts = [x.text for row in grid.cells.values() for x in row.values() if x.day is None]
    return judge_style(x for x in texts if looks_like_day(x))


def recipes_of(table: Table) -> tuple[ReadRecipe, ...]:
    """The recipes of one table: one, or one for each trial beside the other."""
    several = len(table.layout.trials) > 1
    return tuple(_recipe(table, trial, several) for trial in table.layout.trials)


def _recipe(table: Table, trial: TrialColumns, several: bool) -> ReadRecipe:
    lines = _shared_amounts(
        [x for row in table.of_kind("line") if (x := _line(table, row, trial, several))]
    )
    total_rows = table.of_kind("total")
    total_row = total_rows[-1].row if total_rows else None
    total = _number(table, total_row, trial.main)
    grams_total = _grams(table, total_row, trial)
    basis = _basis(trial, lines, total)
    lines = _from_grams(table, trial, lines, grams_total) if basis == "percent" else lines
    padded, total = _one_decimal(table, trial, lines, total, basis)
    lines = [_with_unit(x, trial, basis) for x in padded]
    batch = _batch(table, trial, lines, basis, total, grams_total)
    label = trial.label
    title = f"{table.title} {label}" if table.title and label else table.title or label
    return ReadRecipe(
        title=title,
        trial=label,
        day=_day(table, trial),
        basis=basis,
        batch_g=batch,
        stated_total=total,
        stated_grams=grams_total,
        total_row=total_row,
        lines=tuple(lines),
        measurements=tuple(_measurements(table, trial, several)),
        remark=_remark(table, trial, several),
        phase_notes=_phase_notes(table),
    )


def _line(table: Table, row: SortedRow, trial: TrialColumns, several: bool) -> ReadLine | None:
    grid, layout = table.grid, table.layout
    cell = grid.cell(row.row, trial.main)
    bounded = layout.roles.get(trial.main) in {"low", "high"}
    amount = _between(table, row.row) if bounded else read_amount(cell, table.sign)
    amount = _with_own_unit(table, row.row, cell, amount)
    beside = _grams(table, row.row, trial)
    if several and amount.kind == "missing" and (cell.blank or amount.dash) and beside is None:
        used = any(not grid.cell(row.row, x.main).blank for x in layout.trials)
        if used or trial is not layout.trials[0]:
            return None
    name = re.sub(r"\s+", " ", grid.cell(row.row, layout.name).text).strip()
    common = _text(table, row.row, "common")
    if not name and common:
        name, common = re.sub(r"\s+", " ", common), None
    remark = _text(table, row.row, "remark") or amount.remark or None
    if amount.qs:
        target = read_target(name, table.sign) or read_target(remark or "", table.sign)
        amount = replace(amount, target=target, qs=target is None)
    low, high = (_number(table, row.row, layout.column(x)) for x in ("low", "high"))
    line = _bare_line(row, name, amount, low, high)
    comments = [grid.cell(row.row, c).comment for c in grid.cells.get(row.row, {})]
    comment = "; ".join(x for x in comments if x) or None
    locked = plain(_text(table, row.row, "locked") or "")
    return replace(
        line,
        grams=beside,
        cost_per_kg=_number(table, row.row, layout.column("cost_per_kg")),
        common=common,
        function=_text(table, row.row, "function"),
        lot=_text(table, row.row, "lot"),
        remark=remark or comment,
        comment=comment,
        locked=locked in {"yes", "y", "x", "true", "1", "locked"},
        hidden=row.row in grid.hidden_rows or grid.cell(row.row, layout.name).struck,
        odd_format=_odd_format(table, row.row, trial),
    )


def _grams(table: Table, row: int | None, trial: TrialColumns) -> Decimal | None:
    """The grams beside a percentage; a column of kilograms is read in grams."""
    number = _number(table, row, trial.grams)
    if number is None or table.layout.roles.get(trial.grams or 0) != "kilograms":
        return number
    return number * 1000


def _with_own_unit(table: Table, row: int, cell: Cell, amount: Amount) -> Amount:
    """An amount whose unit stands in a column of its own."""
    unit = _text(table, row, "unit")
    if unit is None or amount.kind != "amount" or amount.unit is not None:
        return amount
    text = f"{amount.value:f}" if cell.number is not None else cell.text
    return read_text(f"{text} {unit}", "." if cell.number is not None else table.sign)


def _bare_line(
    row: SortedRow, name: str, amount: Amount, low: Decimal | None, high: Decimal | None
) -> ReadLine:
    """A line with what its amount cell says, and the bounds beside it."""
    kind = "to_target" if amount.qs else amount.kind
    if kind == "missing" and not amount.dash and (low is not None or high is not None):
        kind = "range"
    return ReadLine(
        row=row.row,
        phase=row.phase,
        name=name,
        kind=kind,
        amount=amount.value if kind in {"amount", "volume"} else None,
        unit=amount.unit,
        low=amount.low if amount.low is not None else low,
        high=amount.high if amount.high is not None else high,
        target=amount.target,
        about=amount.about,
        doubtful=amount.doubtful,
        unclear=amount.unclear,
        grouped=amount.grouped,
        signs=amount.signs,
        text="q.s." if amount.qs else "aa" if amount.each else amount.text,
        up_to=amount.up_to,
    )


def _odd_format(table: Table, row: int, trial: TrialColumns) -> bool:
    """A plain number among cells that are formatted as percent."""
    cell = table.grid.cell(row, trial.main)
    if cell.number is None or cell.percent:
        return False
    others = [table.grid.cell(x.row, trial.main) for x in table.of_kind("line")]
    formatted = sum(x.percent for x in others)
    return formatted * 2 > sum(x.number is not None for x in others)


def _between(table: Table, row: int) -> Amount:
    """An amount from two columns of bounds: the rest where one of them says so."""
    columns = [table.layout.column(x) for x in ("low", "high")]
    read = [read_amount(table.grid.cell(row, c), table.sign) for c in columns if c is not None]
    rest = next((x for x in read if x.kind in {"balance", "to_target"}), None)
    return rest if rest is not None else Amount(kind="missing")


def _shared_amounts(lines: list[ReadLine]) -> list[ReadLine]:
    """*aa 5* (of each): the lines above that say only *aa* take the same amount."""
    result = list(lines)
    for i in range(len(result) - 2, -1, -1):
        below = result[i + 1]
        shared = result[i].text == below.text == "aa" and result[i].kind == "missing"
        if shared and below.kind == "amount":
            result[i] = replace(result[i], kind="amount", amount=below.amount, unit=below.unit)
    return result


def _from_grams(
    table: Table, trial: TrialColumns, lines: list[ReadLine], grams_total: Decimal | None
) -> list[ReadLine]:
    """Lines that have grams but no percentage take it from the batch, where that is exact."""
    heading = _heading_batch(table, trial.grams) if trial.grams is not None else None
    batch = grams_total or heading or _told_batch(table)
    if not batch:
        return lines
    result = []
    for line in lines:
        if line.kind == "missing" and line.grams is not None and line.text != "aa":
            share = Fraction(line.grams) * 100 / Fraction(batch)
            exact = Decimal(share.numerator) / Decimal(share.denominator)
            line = replace(line, kind="amount", amount=exact, unit="%", text=_FROM_GRAMS)
        result.append(line)
    return result


def _text(table: Table, row: int, role: str) -> str | None:
    texts = [
        table.grid.cell(row, c).text.strip()
        for c, r in sorted(table.layout.roles.items())
        if r == role and not table.grid.cell(row, c).merged_from_above
    ]
    kept = [x for x in texts if x and not (role == "lot" and re.fullmatch(r"[-–—/]", x))]
    return "; ".join(kept) or None


def _number(table: Table, row: int | None, column: int | None) -> Decimal | None:
    if row is None or column is None:
        return None
    amount = read_amount(table.grid.cell(row, column), table.sign)
    if amount.kind == "balance":
        return amount.up_to
    if amount.kind != "amount" or amount.value is None:
        return None
    return amount.value


def _basis(trial: TrialColumns, lines: list[ReadLine], total: Decimal | None) -> str:
    if trial.unit in {"%", "g", "kg", "parts"}:
        return {"%": "percent", "parts": "parts"}.get(trial.unit, "grams")
    units = [x.unit for x in lines if x.kind in {"amount", "range"} and x.unit]
    if units:
        most = max(set(units), key=units.count)
        return {"%": "percent", "parts": "parts"}.get(most, "grams")
    if trial.unit == "ml":
        return "parts"
    rest = next((x for x in lines if x.kind == "balance"), None)
    whole = rest.up_to if rest is not None else None
    known = sum(
        (x.amount for x in lines if x.kind == "amount" and x.amount is not None), Decimal(0)
    )
    for stated in (whole, total):
        if stated is not None:
            return "percent" if abs(stated - 100) <= 15 else "parts"
    if rest is not None or 20 < known <= 130:
        return "percent"
    return "percent" if known <= 130 and known > 5 else "parts" if known > 0 else "percent"


def _one_decimal(
    table: Table, trial: TrialColumns, lines: list[ReadLine], total: Decimal | None, basis: str
) -> tuple[list[ReadLine], Decimal | None]:
    """Whole percentages of a workbook get one decimal where their column has decimals."""
    if table.grid.kind != "xlsx" or basis != "percent":
        return lines, total
    cells = {x.row: table.grid.cell(x.row, trial.main) for x in lines}
    values = [x.number for x in cells.values() if x.number is not None]
    if not any(x != x.to_integral_value() for x in values):
        return lines, total
    tenth = Decimal("0.1")
    result = [
        replace(x, amount=x.amount.quantize(tenth))
        if cells[x.row].whole and not cells[x.row].percent and x.amount is not None
        else x
        for x in lines
    ]
    sums = table.of_kind("total")
    cell = table.grid.cell(sums[-1].row, trial.main) if sums else Cell()
    if total is not None and cell.whole and not cell.percent:
        total = total.quantize(tenth)
    return result, total


def _with_unit(line: ReadLine, trial: TrialColumns, basis: str) -> ReadLine:
    if line.kind == "volume":
        return line
    own = trial.unit if trial.unit in {"%", "g", "kg", "parts"} else None
    if trial.unit == "ml" and line.kind == "amount":
        return replace(line, kind="volume", unit="ml")
    usual = own or {"percent": "%", "grams": "g", "parts": "parts"}[basis]
    return replace(line, unit=line.unit or usual) if line.kind == "amount" else line


def _batch(
    table: Table,
    trial: TrialColumns,
    lines: list[ReadLine],
    basis: str,
    total: Decimal | None,
    grams_total: Decimal | None,
) -> Decimal | None:
    kilo = 1000 if table.layout.roles.get(trial.grams or trial.main) == "kilograms" else 1
    headings = [trial.grams] if basis == "percent" else [trial.main, trial.grams]
    told = [_heading_batch(table, c) for c in headings if c is not None] + [_told_batch(table)]
    said = next((x for x in told if x is not None), None)
    if basis == "percent":
        return grams_total if grams_total is not None else said
    if basis != "grams":
        return None
    up_to = next((x.up_to for x in lines if x.kind == "balance" and x.up_to), None)
    if up_to is not None:
        return up_to
    if any(x.kind == "balance" for x in lines):
        return total * kilo if total is not None else said
    if total is not None:
        return total * kilo
    if any(x.kind not in {"amount", "balance"} for x in lines):
        return said
    whole = ReadRecipe(title=None, basis=basis, lines=tuple(lines)).whole
    return whole if lines else None


def _heading_batch(table: Table, column: int) -> Decimal | None:
    if table.layout.header_row is None:
        return None
    text = plain(table.grid.cell(table.layout.header_row, column).text)
    match = _FOR_BATCH.search(text)
    if match is None:
        return None
    group = next(x for x in ("n", "m", "k") if match[x])
    number = read_numeral(match[group], table.sign)
    unit = match[{"n": "u", "m": "v", "k": "w"}[group]]
    if number is None or (number.value < 5 and unit != "kg"):
        return None
    return number.value * (1000 if unit == "kg" else 1)


def _told_batch(table: Table) -> Decimal | None:
    rows = [*table.above, *(x.row for x in table.of_kind("title", "detail", "measurement", "note"))]
    for row in rows:
        text = plain(" ".join(x.text for x in table.grid.filled(row).values()))
        match = _BATCH.search(text) or _BATCH_OF.search(text)
        if match and (number := read_numeral(match["n"], table.sign)):
            return number.value * (1000 if unit_name(match["u"]) == "kg" else 1)
    return None


def _label_cell(table: Table, row: int) -> tuple[int, str]:
    cells = table.grid.filled(row)
    name = table.grid.cell(row, table.layout.name).text.strip()
    first = next(iter(cells.values()), Cell()).text
    if name and not (measured(first, surely=True) and name != first.strip()):
        return table.layout.name, re.sub(r"\s+", " ", name)
    column = min(cells, default=0)
    return column, re.sub(r"\s+", " ", table.grid.cell(row, column).text).strip()


def _value_cell(table: Table, row: int, trial: TrialColumns, several: bool) -> Cell:
    own = table.grid.cell(row, trial.main)
    if not own.blank or several:
        return own
    label, _ = _label_cell(table, row)
    return next((x for c, x in table.grid.filled(row).items() if c > label), Cell())


def _measurements(table: Table, trial: TrialColumns, several: bool) -> Iterable[Measured]:
    for row in table.of_kind("measurement"):
        _, quantity = _label_cell(table, row.row)
        text = _value_cell(table, row.row, trial, several).text.strip()
        if not text or re.fullmatch(r"[-–—/.]+|n/?a", text.casefold()):
            continue
        doubtful = text.endswith("?")
        bare = text.rstrip("? ") if doubtful else text
        numeral = re.fullmatch(NUMERAL, plain(bare))
        number = read_numeral(numeral[0], table.sign) if numeral else None
        value = f"{number.value:f}" if number else bare
        yield Measured(row=row.row, quantity=quantity.rstrip(": "), value=value, doubtful=doubtful)


def _remark(table: Table, trial: TrialColumns, several: bool) -> str | None:
    texts = [
        _value_cell(table, x.row, trial, several).text.strip() for x in table.of_kind("remark")
    ]
    return "\n".join(x for x in texts if x) or None


def _day(table: Table, trial: TrialColumns) -> date | None:
    several = len(table.layout.trials) > 1
    rows = [*table.above, *(x.row for x in table.of_kind("date", "detail", "title"))]
    for row in rows:
        cells = [_value_cell(table, row, trial, several)]
        if not several:
            cells += table.grid.filled(row).values()
        for cell in cells:
            if cell.day is not None:
                return cell.day
            words = [cell.text, *re.findall(r"\S*\d\S*", cell.text)]
            for word in words:
                if looks_like_day(word) and (day := read_day(word, table.day_style)):
                    return day
    return None


def _phase_notes(table: Table) -> tuple[tuple[str, str], ...]:
    notes: dict[str, str] = {}
    for row in table.of_kind("phase", "line"):
        if row.phase and row.note and row.kind in {"phase", "line"}:
            notes.setdefault(row.phase, row.note)
    return tuple(notes.items())
