"""From sorted rows to recipes: lines with their amounts, totals, phases."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from labkit.reading.amounts import Amount, read_amount, read_target, read_text
from labkit.reading.batch_size import batch_of, heading_batch, told_batch
from labkit.reading.below import day_of, measurements_of, remark_of
from labkit.reading.columns import TrialColumns
from labkit.reading.grid import Cell
from labkit.reading.model import ReadLine, ReadRecipe
from labkit.reading.sorting import SortedRow
from labkit.reading.table import Table, grams_at, number_at, text_at
from labkit.reading.words import plain

__all__ = ["recipes_of"]

_FROM_GRAMS = "from grams"


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
    total = number_at(table, total_row, trial.main)
    grams_total = grams_at(table, total_row, trial)
    basis = _basis(trial, lines, total)
    lines = _from_grams(table, trial, lines, grams_total) if basis == "percent" else lines
    padded, total = _one_decimal(table, trial, lines, total, basis)
    lines = [_with_unit(x, trial, basis) for x in padded]
    batch = batch_of(table, trial, lines, basis, total, grams_total)
    label = trial.label
    title = f"{table.title} {label}" if table.title and label else table.title or label
    return ReadRecipe(
        title=title,
        trial=label,
        day=day_of(table, trial),
        basis=basis,
        batch_g=batch,
        stated_total=total,
        stated_grams=grams_total,
        total_row=total_row,
        lines=tuple(lines),
        measurements=tuple(measurements_of(table, trial, several)),
        remark=remark_of(table, trial, several),
        phase_notes=_phase_notes(table),
    )


def _line(table: Table, row: SortedRow, trial: TrialColumns, several: bool) -> ReadLine | None:
    grid, layout = table.grid, table.layout
    cell = grid.cell(row.row, trial.main)
    bounded = layout.roles.get(trial.main) in {"low", "high"}
    amount = _between(table, row.row) if bounded else read_amount(cell, table.sign)
    amount = _with_own_unit(table, row.row, cell, amount)
    beside = grams_at(table, row.row, trial)
    if several and amount.kind == "missing" and (cell.blank or amount.dash) and beside is None:
        used = any(not grid.cell(row.row, x.main).blank for x in layout.trials)
        if used or trial is not layout.trials[0]:
            return None
    name = re.sub(r"\s+", " ", grid.cell(row.row, layout.name).text).strip()
    common = text_at(table, row.row, "common")
    if not name and common:
        name, common = re.sub(r"\s+", " ", common), None
    remark = text_at(table, row.row, "remark") or amount.remark or None
    if amount.kind == "missing" and cell.blank and remark and not cell.formula:
        said = read_text(remark, table.sign)
        amount = said if said.kind in {"balance", "to_target"} else amount
    if amount.qs:
        target = read_target(name, table.sign) or read_target(remark or "", table.sign)
        amount = replace(amount, target=target, qs=target is None)
    low, high = (number_at(table, row.row, layout.column(x)) for x in ("low", "high"))
    line = _bare_line(row, name, amount, low, high)
    comments = [grid.cell(row.row, c).comment for c in grid.cells.get(row.row, {})]
    comment = "; ".join(x for x in comments if x) or None
    locked = plain(text_at(table, row.row, "locked") or "")
    return replace(
        line,
        grams=beside,
        cost_per_kg=number_at(table, row.row, layout.column("cost_per_kg")),
        common=common,
        function=text_at(table, row.row, "function"),
        lot=text_at(table, row.row, "lot"),
        remark=remark or comment,
        comment=comment,
        locked=locked in {"yes", "y", "x", "true", "1", "locked"},
        hidden=row.row in grid.hidden_rows or grid.cell(row.row, layout.name).struck,
        odd_format=_odd_format(table, row.row, trial),
    )


def _with_own_unit(table: Table, row: int, cell: Cell, amount: Amount) -> Amount:
    """An amount whose unit stands in a column of its own."""
    unit = text_at(table, row, "unit")
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
    heading = heading_batch(table, trial.grams) if trial.grams is not None else None
    batch = grams_total or heading or told_batch(table)
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


def _phase_notes(table: Table) -> tuple[tuple[str, str], ...]:
    notes: dict[str, str] = {}
    for row in table.of_kind("phase", "line"):
        if row.phase and row.note and row.kind in {"phase", "line"}:
            notes.setdefault(row.phase, row.note)
    return tuple(notes.items())
