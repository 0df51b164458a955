"""What the reader has to say about a recipe: what must be asked, what is only told."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from labkit.reading.model import Finding, ReadLine, ReadRecipe, digits
from labkit.reading.table import Table

__all__ = ["Speaker", "line_findings", "shown_unit"]

_BLEND = re.compile(r"\((and|und|et|e|y|en)\)| (and|und|&|\+|et) ", re.IGNORECASE)


class Speaker:
    """Makes findings for one recipe; questions of one trial among several name it."""

    def __init__(self, recipe: ReadRecipe) -> None:
        self.recipe, self.trial = recipe, recipe.trial

    def tell(self, row: int | None, code: str, say: str) -> Finding:
        """Something to know."""
        return Finding(row=row, code=code, severity="tell", say=say, trial=self.trial)

    def ask(self, row: int | None, code: str, say: str, about: str, *offers: str) -> Finding:
        """Something to decide before there is a formula."""
        return Finding(
            row=row,
            code=code,
            severity="ask",
            say=say,
            question=question_of(row, about, self.trial),
            offers=offers,
            trial=self.trial,
        )


def question_of(row: int | None, about: str, trial: str | None) -> str:
    """The name under which an answer is given."""
    place = "" if row is None else f"row {row}"
    if trial is not None:
        place = f"{place}, {trial}" if place else trial
    return f"{place}: {about}" if place else about


def shown_unit(recipe: ReadRecipe) -> str:
    """The unit of the recipe's amounts."""
    return {"percent": "%", "grams": "g", "parts": "parts"}[recipe.basis]


def line_findings(recipe: ReadRecipe, table: Table) -> Iterator[Finding]:
    """What is to be said about single lines."""
    say = Speaker(recipe)
    rest = recipe.rest_lines
    if len(rest) == 1:
        yield say.tell(rest[0].row, "balance_found", f"{rest[0].name} takes the rest")
    elif rest:
        names = tuple(f"row {x.row}" for x in rest)
        words = " and ".join(f"{x.name} (row {x.row})" for x in rest)
        yield say.ask(
            rest[1].row,
            "several_balances",
            f"{words} both take the rest: which one?",
            "rest",
            *names,
        )
    for line in recipe.lines:
        yield from _name_findings(line, say)
        yield from _amount_findings(line, say, table)
    yield from _mixed_signs(recipe, say, table)


def _name_findings(line: ReadLine, say: Speaker) -> Iterator[Finding]:
    if not line.name:
        yield say.ask(line.row, "name_missing", "an amount without a name: what is it?", "name")
    elif "⟨U+" in line.name:
        yield say.ask(
            line.row,
            "hidden_signs",
            f"the name holds signs that cannot be seen: {line.name}; type it again",
            "name",
        )
    elif len(line.name) > 300:
        yield say.ask(line.row, "name_too_long", "a whole paragraph in place of a name", "name")
    if _BLEND.search(line.name):
        yield say.tell(line.row, "blend", f"one line names several materials: {line.name}")
    if line.comment:
        yield say.tell(line.row, "comment", f"a comment hangs on the cell: {line.comment}")


def _amount_findings(line: ReadLine, say: Speaker, table: Table) -> Iterator[Finding]:
    row, name = line.row, line.name or "the line"
    unit = shown_unit(say.recipe)
    if line.kind == "to_target":
        yield say.ask(row, "amount_unknown", _target_words(line), "amount", "leave out")
    elif line.kind == "range":
        yield _range_finding(line, say, unit)
    elif line.kind == "missing":
        yield _missing(line, say, table)
    elif line.kind == "unreadable":
        words = f"{name}: '{line.text[:40]}' cannot be read as an amount"
        if re.fullmatch(r"\d{4}-\d\d-\d\d", line.text):
            words += " (a spreadsheet turns 2-4 into a date)"
        yield say.ask(row, "amount_unreadable", f"{words}; how much?", "amount", "leave out")
    elif line.kind == "volume":
        words = f"{name}: '{line.text}' is a volume; weigh it once and say how much that is"
        yield say.ask(row, "volume", words, "amount", "leave out")
    elif line.kind == "amount" and line.amount is not None:
        yield from _given_amount(line, say, unit)


def _target_words(line: ReadLine) -> str:
    goal = " ".join(filter(None, line.target or ())) or "it is enough"
    return (
        f"{line.name} is added until {goal}: the amount is not known before the trial; "
        "say how much to reserve"
    )


def _range_finding(line: ReadLine, say: Speaker, unit: str) -> Finding:
    if line.low is not None and line.high is not None:
        low, high = digits(line.low), digits(line.high)
        words = f"{line.name}: choose an amount between {low} and {high} {unit}"
        return say.ask(line.row, "range", words, "amount", f"{low} {unit}", f"{high} {unit}")
    end = line.high if line.high is not None else line.low
    side = "at most" if line.high is not None else "at least"
    words = f"{line.name}: choose an amount, {side} {digits(end or Decimal(0))} {unit}"
    return say.ask(line.row, "limit", words, "amount", f"{digits(end or Decimal(0))} {unit}")


def _missing(line: ReadLine, say: Speaker, table: Table) -> Finding:
    cells = [table.grid.cell(line.row, x.main) for x in table.layout.trials]
    if any(x.formula for x in cells):
        words = f"{line.name}: the cell holds a formula without a value; how much?"
        return say.ask(line.row, "amount_not_calculated", words, "amount", "leave out")
    words = f"{line.name or 'the line'} has no amount"
    return say.ask(line.row, "amount_missing", words, "amount", "leave out", "takes the rest")


def _given_amount(line: ReadLine, say: Speaker, unit: str) -> Iterator[Finding]:
    row, amount = line.row, line.amount or Decimal(0)
    shown = digits(amount)
    if line.text == "from grams":
        words = f"{line.name}: {digits(line.grams or Decimal(0))} g read as {shown} % of the batch"
        yield say.tell(row, "percent_from_grams", words)
    if line.about:
        yield say.tell(row, "about", f"{line.text.strip()} kept as {shown}, marked approximate")
    if line.doubtful:
        words = f"{line.name}: '{line.text.strip()}' has a question mark; is it {shown} {unit}?"
        yield say.ask(row, "amount_doubtful", words, "amount", f"{shown} {line.unit or unit}")
    mass_units = {"g", "kg", "mg"}
    fits = line.unit == unit or (unit == "g" and line.unit in mass_units)
    if not fits:
        words = f"{line.name}: {shown} {line.unit} among lines in {unit}; how much in {unit}?"
        yield say.ask(row, "unit_mixed", words, "amount", "leave out")
    elif unit == "%" and amount > 100:
        words = f"{line.name}: {shown} % is more than the whole batch; how much?"
        yield say.ask(row, "amount_over_100", words, "amount", "leave out")
    if line.odd_format:
        hundred = digits((amount * 100).normalize())
        words = (
            f"{line.name}: the other cells are formatted as percent, this one is not: {shown} %?"
        )
        yield say.ask(row, "percent_format_mixed", words, "amount", f"{shown} %", f"{hundred} %")
    if line.unclear and (unit != "%" or amount * 1000 <= 100):
        grouped = digits(amount * 1000 // 1)
        words = f"{line.name}: is '{line.text.strip()}' {shown} or {grouped}?"
        offers = (f"{shown} {line.unit}", f"{grouped} {line.unit}")
        yield say.ask(row, "number_ambiguous", words, "amount", *offers)
    elif line.grouped:
        yield say.tell(row, "thousands", f"{line.text.strip()} read as {shown}")
    if amount == 0:
        yield say.tell(row, "amount_zero", f"{line.name} stands there with 0")


def _mixed_signs(recipe: ReadRecipe, say: Speaker, table: Table) -> Iterator[Finding]:
    if table.sign != "mixed":
        return
    signed = [x for x in recipe.lines if x.signs]
    commas = [x for x in signed if "," in x.signs]
    points = [x for x in signed if "." in x.signs]
    for line in commas if len(commas) <= len(points) else points:
        words = f"{line.text.strip()} read with its own decimal sign: the file has both signs"
        yield say.tell(line.row, "decimal_mixed", words)
