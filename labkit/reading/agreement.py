"""Whether a recipe agrees with itself: totals, columns beside each other, names twice."""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from labkit.reading.amounts import read_amount
from labkit.reading.checks import Speaker
from labkit.reading.columns import TrialColumns
from labkit.reading.model import Finding, ReadLine, ReadRecipe, digits
from labkit.reading.table import Table, cell_at
from labkit.reading.words import is_water_name, plain

__all__ = ["agreement_findings", "doubles", "grams_of_percent", "tidy_name"]


def agreement_findings(recipe: ReadRecipe, table: Table, trial: TrialColumns) -> Iterator[Finding]:
    """What is to be said about the recipe as a whole."""
    say = Speaker(recipe)
    yield from _duplicates(recipe, say)
    yield from _columns(recipe, say)
    yield from _total(recipe, table, trial, say)
    if recipe.basis == "grams" and recipe.rest_lines and recipe.batch_g is None:
        words = "a line takes the rest, but the size of the batch is not said: how many grams?"
        yield say.ask(None, "batch_unknown", words, "batch")
    yield from _rounding(recipe, say)
    yield from _subtotals(recipe, table, trial, say)


def tidy_name(name: str) -> str:
    """A name for comparing: case, blanks, accents' form and brackets at the end left aside."""
    bare = re.sub(r"\s*\([^()]*\)$", "", plain(name))
    folded = unicodedata.normalize("NFC", bare)
    return "aqua" if is_water_name(name) else folded


def doubles(recipe: ReadRecipe) -> dict[str, list[ReadLine]]:
    """Materials that stand on more than one line."""
    groups: dict[str, list[ReadLine]] = defaultdict(list)
    for line in recipe.lines:
        if line.name:
            groups[tidy_name(line.name)].append(line)
    return {name: lines for name, lines in groups.items() if len(lines) > 1}


def _duplicates(recipe: ReadRecipe, say: Speaker) -> Iterator[Finding]:
    for lines in doubles(recipe).values():
        latest = {lines[0].phase: lines[0]}
        for line in lines[1:]:
            before = latest.get(line.phase)
            latest[line.phase] = line
            if before is None:
                yield say.tell(line.row, "duplicate_across_phases", _across(lines, line))
                continue
            where = f"in phase {line.phase}" if line.phase else "in the recipe"
            if _meant_twice(before, line):
                words = f"{line.name} twice {where}, with a remark: kept as two additions"
                yield say.tell(line.row, "duplicate_in_phase", words)
                continue
            sums = [x.amount for x in (before, line) if x.kind == "amount" and x.amount is not None]
            joined = f" to {digits(sum(sums, Decimal(0)))} {line.unit}" if len(sums) == 2 else ""
            words = (
                f"rows {before.row} and {line.row} are the same material {where}: "
                f"keep two additions or join{joined}?"
            )
            yield say.ask(line.row, "duplicate_in_phase", words, "twice", "keep", "join")


def _meant_twice(first: ReadLine, second: ReadLine) -> bool:
    """Whether a remark says why the material comes twice."""
    if plain(first.name).endswith(")") != plain(second.name).endswith(")"):
        return True
    if plain(first.name).endswith(")") and plain(first.name) != plain(second.name):
        return True
    remarks = [plain(x.remark or "") for x in (first, second)]
    purpose = r"^(for|to|in|as|zum|zur|für|pour|pre-?mix|slurry|rinse|with|mit|avec|second|part)\b"
    return remarks[0] != remarks[1] and any(re.search(purpose, x) for x in remarks)


def _across(lines: list[ReadLine], line: ReadLine) -> str:
    phases = " and ".join(dict.fromkeys(str(x.phase) for x in lines))
    sums = [x.amount for x in lines if x.kind == "amount" and x.amount is not None]
    total = f", one total of {digits(sum(sums, Decimal(0)))} {line.unit}" if sums else ""
    return f"{line.name} stands in phases {phases}: kept as two additions{total}"


def grams_of_percent(recipe: ReadRecipe) -> Decimal | None:
    """The batch that the grams beside the percentages were made for."""
    grams = [x.grams for x in recipe.lines if x.grams is not None]
    if not grams or recipe.basis != "percent":
        return None
    return recipe.batch_g if recipe.batch_g is not None else sum(grams, Decimal(0))


def _columns(recipe: ReadRecipe, say: Speaker) -> Iterator[Finding]:
    batch = grams_of_percent(recipe)
    if not batch:
        return
    lines = [x for x in recipe.lines if x.grams is not None and x.kind == "amount"]
    gram_step = _step(x.grams for x in lines)
    percent_step = _step(x.amount for x in lines)
    slack = max(gram_step, percent_step * batch / 100) / 2
    for line in lines:
        share, grams = line.amount or Decimal(0), line.grams or Decimal(0)
        meant = share * batch / 100
        if abs(meant - grams) > slack:
            words = (
                f"{line.name}: {digits(share)} % of {digits(batch)} g is "
                f"{digits(meant.normalize())} g, the sheet says {digits(grams)} g: which one?"
            )
            yield say.ask(
                line.row, "columns_disagree", words, "column", "percent column", "grams column"
            )


def _step(values: Iterator[Decimal | None]) -> Decimal:
    """One unit of the last digit that a column uses."""
    places = [-int(x.as_tuple().exponent) for x in values if x is not None]
    return Decimal(1).scaleb(-max(places, default=0))


def _total(
    recipe: ReadRecipe, table: Table, trial: TrialColumns, say: Speaker
) -> Iterator[Finding]:
    row, total, unit = recipe.total_row, recipe.total, recipe.shown_unit
    if row is not None and recipe.stated_total is None:
        yield from _total_without_number(recipe, table, trial, say, row)
    if recipe.rest_lines:
        whole = Decimal(100) if recipe.basis == "percent" else recipe.batch_g
        if whole is not None and recipe.whole > whole:
            words = f"the lines give {digits(total)} {unit}: nothing is left for the rest"
            yield say.ask(row, "over_the_whole", words, "total", "scale to 100")
        return
    grams = sum((x.grams for x in recipe.lines if x.grams is not None), Decimal(0))
    stated = recipe.stated_total
    if stated is not None and stated != total:
        own = f"the lines give {digits(total)}: {_gap(stated, total)}"
        words = f"the sheet says {digits(stated)}, {own}"
        yield say.ask(row, "total_disagrees", words, "total", *_offers(recipe))
    elif recipe.stated_grams is not None and grams not in {0, recipe.stated_grams}:
        said = digits(recipe.stated_grams)
        words = f"the gram lines give {digits(grams)}, the sheet says {said}"
        yield say.ask(row, "total_disagrees", words, "total", *_offers(recipe))
    elif recipe.basis == "percent" and total != 100 and (total > 100 or not recipe.open_lines):
        words = f"the lines give {digits(total)} %: {_gap(Decimal(100), total)}"
        yield say.ask(row, "total_not_100", words, "total", *_offers(recipe))


def _gap(stated: Decimal, total: Decimal) -> str:
    gap = stated - total
    return f"{digits(abs(gap))} {'are missing' if gap > 0 else 'too much'}"


def _offers(recipe: ReadRecipe) -> tuple[str, ...]:
    water = next((x.name for x in recipe.lines if is_water_name(x.name)), None)
    first = "scale to 100" if recipe.basis == "percent" else "use the lines"
    return (first, f"difference to {water}") if water else (first,)


def _total_without_number(
    recipe: ReadRecipe, table: Table, trial: TrialColumns, say: Speaker, row: int
) -> Iterator[Finding]:
    cell = cell_at(table, row, trial.main)
    own = f"{digits(recipe.total)} {recipe.shown_unit} is our own sum"
    if cell.formula:
        words = f"the total cell holds a formula without a value; {own}"
        yield say.tell(row, "total_not_calculated", words)
    elif cell.blank:
        yield say.tell(row, "total_blank", "the total row has no number")
    elif read_amount(cell, table.sign).kind != "balance":
        yield say.tell(row, "total_unreadable", f"the total '{cell.text[:40]}' is no number; {own}")


def _rounding(recipe: ReadRecipe, say: Speaker) -> Iterator[Finding]:
    if recipe.open_lines or not recipe.lines:
        return
    whole = Fraction(100) if recipe.basis == "percent" else Fraction(recipe.whole)
    if recipe.rest_lines and recipe.basis != "percent":
        whole = Fraction(recipe.batch_g or 0)
    if not whole:
        return
    rows = [x.row for x in recipe.lines if (x.mass or 0) * 1_000_000 % whole]
    if rows:
        named = ", ".join(map(str, rows[:12]))
        words = (
            f"rows {named}: the formula rounds them to 0.0001 % so that the total is exactly 100"
        )
        yield say.tell(None, "rounded", words)


def _subtotals(
    recipe: ReadRecipe, table: Table, trial: TrialColumns, say: Speaker
) -> Iterator[Finding]:
    amounts = {x.row: x for x in recipe.lines}
    since: list[ReadLine] = []
    for row in table.rows:
        if row.row in amounts:
            since.append(amounts[row.row])
        if row.kind == "phase":
            since = []
        if row.kind != "subtotal":
            continue
        said = read_amount(cell_at(table, row.row, trial.main), table.sign).value
        known = [x.amount for x in since if x.kind == "amount" and x.amount is not None]
        if said is not None and len(known) == len(since) and sum(known, Decimal(0)) != said:
            own = digits(sum(known, Decimal(0)))
            words = f"the subtotal says {digits(said)}, the lines above give {own}"
            yield say.tell(row.row, "subtotal_disagrees", words)
        since = []
