"""How large the batch is that a recipe was written for."""

from __future__ import annotations

import re
from decimal import Decimal

from labkit.reading.amounts import unit_name
from labkit.reading.columns import TrialColumns
from labkit.reading.model import ReadLine, ReadRecipe
from labkit.reading.numerals import NUMERAL, read_numeral
from labkit.reading.table import Table
from labkit.reading.words import plain

__all__ = ["batch_of", "heading_batch", "told_batch"]

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


def batch_of(
    table: Table,
    trial: TrialColumns,
    lines: list[ReadLine],
    basis: str,
    total: Decimal | None,
    grams_total: Decimal | None,
) -> Decimal | None:
    """The grams of one trial's batch: from its heading, its total, the title, or its lines."""
    kilo = 1000 if table.layout.roles.get(trial.grams or trial.main) == "kilograms" else 1
    headings = [trial.grams] if basis == "percent" else [trial.main, trial.grams]
    told = [heading_batch(table, c) for c in headings if c is not None] + [told_batch(table)]
    said = next((x for x in told if x is not None), None)
    if basis == "percent":
        beside = [x.grams for x in lines if x.grams is not None]
        own = sum(beside, Decimal(0)) if beside and len(beside) == len(lines) else None
        return next((x for x in (grams_total, said, own) if x is not None), None)
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


def heading_batch(table: Table, column: int) -> Decimal | None:
    """The grams named in a column's heading, such as ``g for 500 g``."""
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


def told_batch(table: Table) -> Decimal | None:
    """The grams named in words above or beside the table, such as ``batch 2 kg``."""
    rows = [*table.above, *(x.row for x in table.of_kind("title", "detail", "measurement", "note"))]
    for row in rows:
        text = plain(" ".join(x.text for x in table.grid.filled(row).values()))
        match = _BATCH.search(text) or _BATCH_OF.search(text)
        if match and (number := read_numeral(match["n"], table.sign)):
            return number.value * (1000 if unit_name(match["u"]) == "kg" else 1)
    return None
