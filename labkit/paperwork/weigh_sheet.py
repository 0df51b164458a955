"""The weigh sheet: phase by phase in making order, to be read with wet gloves on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from labkit.bench import Trial
from labkit.errors import BriefError
from labkit.estimates.check import check
from labkit.estimates.weighing import READINGS, stock_for
from labkit.formula import Brief, Formula
from labkit.formula.grid import show
from labkit.formula.names import fold
from labkit.materials import Material, Materials
from labkit.paperwork.blocks import Block, Bullets, Cell, Group, Heading, Row, Table, Words
from labkit.paperwork.page import Document
from labkit.paperwork.subject import Subject, subject_of
from labkit.quantities import parse as parse_quantity

__all__ = ["cautions_of", "weigh_sheet"]

BLANK = Cell(kind="blank")
TICK = Cell(kind="tick")
SMALL = " (!)"
COOL_C = 60.0
"""Heat limits up to here are told on the sheet: below what phases are heated to."""
GLOVES = "Goggles and gloves with hot oils, acids and bases; read the safety data sheets first."
LARGE = """
.lk-paper table{font-size:1.05rem}
.lk-paper td.lk-number{font-size:1.2rem;font-weight:650}
.lk-paper td.lk-tick{width:2rem}
.lk-paper td.lk-strong{font-weight:400;font-style:italic}
@media print{.lk-paper{font-size:11pt;line-height:1.25}.lk-paper h1{font-size:18pt}
.lk-paper header{padding-bottom:1.5mm;margin-bottom:1.5mm}
.lk-paper table{font-size:11.5pt}.lk-paper td.lk-number{font-size:13.5pt}
.lk-paper thead th{font-size:9pt}
.lk-paper th,.lk-paper td{padding:.3mm 2.5mm .3mm 0;vertical-align:middle}
.lk-paper .lk-group th{padding-top:1.2mm}
.lk-paper .lk-blank{height:5.6mm;min-width:19mm}
.lk-paper h2{font-size:11.5pt;margin:2.2mm 0 .6mm}
.lk-paper ul,.lk-paper p{margin:.6mm 0;font-size:9.5pt;line-height:1.2;max-width:none}
.lk-paper .lk-caution{padding:1mm 2.5mm;margin:1.2mm 0}
.lk-paper footer{margin-top:2mm;padding-top:1mm;font-size:8.5pt}}
@media screen and (max-width:640px){
.lk-paper .lk-table:not(.lk-stack) :is(table,tbody,tfoot){display:block}
.lk-paper .lk-table:not(.lk-stack) thead{display:none}
.lk-paper .lk-table:not(.lk-stack) tr{display:grid;grid-template-columns:1.8rem minmax(0,1fr) auto;
align-items:end;border-bottom:1px solid var(--lk-line);padding:.3rem 0}
.lk-paper .lk-table:not(.lk-stack) :is(td,th){border-bottom:0;padding:.1rem .4rem .1rem 0}
.lk-paper .lk-table:not(.lk-stack) .lk-group th{grid-column:1/-1}
.lk-paper .lk-table:not(.lk-stack) td:nth-child(3){display:none}
.lk-paper .lk-table:not(.lk-stack) td:nth-child(5){grid-column:2}
.lk-paper .lk-table:not(.lk-stack) td.lk-blank{border-bottom:1.5px solid var(--lk-ink)}
.lk-paper .lk-table:not(.lk-stack) td:nth-child(n+5)::before{content:attr(data-label) " ";
color:var(--lk-soft);font-size:.75rem;font-weight:400}
.lk-paper .lk-table:not(.lk-stack) tr:has(td.lk-strong) td::before{content:none}
.lk-paper .lk-stack td.lk-blank{height:auto;min-height:1.9rem}}
@page{margin:10mm 12mm}
"""


def weigh_sheet(
    about: Formula | Trial,
    batch: Any = None,
    *,
    balance: Any = None,
    mats: Materials | None = None,
    lots: Mapping[str, str] | None = None,
    brief: Brief | None = None,
    paper: str | None = None,
) -> Document:
    """A weigh sheet to print, or to read on a telephone beside the balance.

    Parameters
    ----------
    about : Formula or Trial
    batch : str, optional
        Such as ``"500 g"``; the brief's when left out.
    balance : str, optional
        What the balance reads to, such as ``"0.01 g"``.
    mats : Materials, optional
        The starter set if left out.
    lots : mapping of str to str, optional
        Material → lot, as it stands on the bottle; see ``bench.stock.lots_for``.
    brief : Brief, optional
    paper : str, optional
        ``"A4"`` or ``"Letter"``.

    Returns
    -------
    Document
        Grams are whole steps of the balance and add up to exactly the batch.

    Raises
    ------
    FormulaError
        A batch that is no whole number of balance steps.
    BriefError
        A lot of a material that the formula does not have.

    Notes
    -----
    Weighings of less than 100 steps of the balance are marked (1 % work, common practice),
    with the stock solution that helps.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5", name="Gel")
    >>> sheet = weigh_sheet(gel, "250 g", balance="0.1 g")
    >>> "237.5" in sheet.text and "12.5" in sheet.text
    True
    """
    subject = subject_of(about, brief)
    known = Materials.starter() if mats is None else mats
    size, step = batch or subject.brief.batch, balance or subject.brief.balance
    weighed = subject.formula.grams(size, step)
    found = [known.resolve(x.key or x.material) for x in subject.formula.lines]
    digit = parse_quantity(step, "mass", where="Balance").exact("g")
    lot_of = _lots(subject.formula, found, lots or {})
    table = _table(subject.formula, weighed, lot_of, digit)
    blocks: list[Block] = [*_stops(subject, known), _head(), table]
    blocks += _small(subject.formula, weighed, found, digit)
    blocks += [_water(sum(weighed, Decimal(0)))]
    blocks += _cautions(subject.formula, found)
    return Document(
        kind="Weigh sheet",
        title=subject.formula.name,
        under=_under(subject, size, step),
        blocks=tuple(blocks),
        foot="The finished percentages come from what was weighed, not from the plan.",
        paper=paper,
        css=LARGE,
        table=_csv(subject.formula, weighed, lot_of),
    )


def _under(subject: Subject, batch: Any, balance: Any) -> str:
    code = f"trial {subject.label} ({subject.trial.id[:6]}) · " if subject.trial else ""
    mass = parse_quantity(batch, "mass", where=subject.formula.name)
    return f"{code}batch {mass} · balance {parse_quantity(balance, 'mass', where='Balance')}"


def _lots(formula: Formula, found: Sequence[Material | None], lots: Mapping[str, str]) -> list[str]:
    """The lot of each line; every lot named must belong to a line."""
    left = {fold(name): lot for name, lot in lots.items()}
    told = []
    for line, material in zip(formula.lines, found, strict=True):
        names = [line.material, line.key or ""]
        names += [material.name, material.key, material.inci] if material is not None else []
        hit = next((name for name in map(fold, names) if name in left), None)
        own = material.lot if material is not None and material.lot else ""
        told.append(left[hit] if hit is not None else own)
    used = {fold(x) for line, m in zip(formula.lines, found, strict=True) for x in _names(line, m)}
    if strange := [name for name in lots if fold(name) not in used]:
        raise BriefError(
            where=f"{formula.name}, weigh sheet",
            found=f"a lot of {', '.join(strange)}",
            allowed=", ".join(x.material for x in formula.lines),
            cause="Another spelling, or a material of another formula",
            do="Name the material as it stands in the formula",
        )
    return told


def _names(line: Any, material: Material | None) -> list[str]:
    own = [material.name, material.key, material.inci] if material is not None else []
    return [line.material, line.key or "", *own]


def _head() -> Block:
    return Table(
        head=("Day", "By", "Vessel empty, g", "Mixer", "Room, °C", "Begun"),
        rows=[(BLANK,) * 6],
    )


def _table(
    formula: Formula, weighed: Sequence[Decimal], lots: Sequence[str], digit: Decimal
) -> Table:
    rows: list[Row] = []
    for phase in formula.phases:
        title = f" · {phase.title}" if phase.title else ""
        inside = [i for i, x in enumerate(formula.lines) if x.phase == phase.key]
        if not inside:
            continue
        subtotal = sum((weighed[i] for i in inside), Decimal(0))
        rows.append(Group(text=f"Phase {phase.key}{title} · {subtotal:f} g"))
        rows += [_line(formula, i, weighed[i], lots[i], digit) for i in inside]
        rows += [_step(step) for step in phase.steps]
    return Table(
        head=("", "Material", "% w/w", "Target, g", "Weighed, g", "Lot"),
        rows=rows,
        foot=[("", "Total", "100.00", f"{sum(weighed, Decimal(0)):f}", BLANK, "")],
        numeric=frozenset({3}),
        stack_from=9,
    )


def _line(formula: Formula, i: int, grams: Decimal, lot: str, digit: Decimal) -> Row:
    line = formula.lines[i]
    name = line.material + (" (q.s.)" if i == formula.qs else "")
    mark = SMALL if 0 < grams < READINGS * digit else ""
    return (TICK, name + mark, show(line.percent), f"{grams:f}", BLANK, lot or BLANK)


def _step(step: str) -> Row:
    return (TICK, Cell(text=step, kind="strong"), "", "", Cell(text="at"), Cell(text="°C"))


def _small(
    formula: Formula,
    weighed: Sequence[Decimal],
    found: Sequence[Material | None],
    digit: Decimal,
) -> Iterator[Block]:
    told = []
    for line, grams, material in zip(formula.lines, weighed, found, strict=True):
        if not 0 < grams < READINGS * digit:
            continue
        oily = material is not None and material.phase == "oil"
        thick = material is not None and material.charge_class == "polymer"
        carrier = "an oil of the formula" if oily else "water"
        stock = stock_for(grams, digit, carrier, thick)
        error = digit / grams * 100
        words = f"{line.material}: one digit is {float(error):.2g} % of it"
        if stock is not None and stock.grams < sum(weighed, Decimal(0)) / 2:
            less = stock.grams - grams
            words += (
                f"; or {stock.grams:f} g of a {stock.strength:f} % stock in {carrier}, and "
                f"{less:f} g less of that"
            )
        told.append(words)
    if told:
        yield Words(
            text=f"(!) under {READINGS} digits of the balance ({READINGS * digit:f} g). "
            + ". ".join(told)
            + ". A stock only where the material dissolves at that strength.",
            tone="caution",
        )


def _water(total: Decimal) -> Block:
    return Table(
        head=("Vessel and batch, hot, g", f"less vessel, less {total:f}", "Water to add, g", "pH"),
        rows=[(BLANK,) * 4],
    )


def _stops(subject: Subject, mats: Materials) -> Iterator[Block]:
    for stop in check(subject.formula, mats, subject.brief).stops:
        yield Words(text=f"STOP {stop.code}: {stop.what} {stop.do}", tone="caution")


def cautions_of(found: Sequence[Material | None]) -> list[str]:
    """Hazards of materials, each once, with the names of those that have it."""
    told: dict[str, list[str]] = {}
    for material in found:
        for hazard in material.hazards if material is not None else ():
            told.setdefault(hazard, []).append(material.name if material else "")
    return [f"{', '.join(dict.fromkeys(names))}: {hazard}" for hazard, names in told.items()]


def _cautions(formula: Formula, found: Sequence[Material | None]) -> Iterator[Block]:
    limits: dict[float, list[str]] = {}
    for line, material in zip(formula.lines, found, strict=True):
        limit = None if material is None else material.heat_limit_c
        if limit is not None and limit <= COOL_C:
            limits.setdefault(limit, []).append(line.material)
    warm = [f"Not above {c:g} °C: {', '.join(names)}" for c, names in sorted(limits.items())]
    unknown = [line.material for line, m in zip(formula.lines, found, strict=True) if m is None]
    not_known = (
        [f"No cautions known of {', '.join(unknown)}: read the data sheet"] if unknown else []
    )
    yield Heading(text="Cautions")
    yield Bullets(items=[*cautions_of(found), *warm, *not_known, GLOVES])


def _csv(formula: Formula, weighed: Sequence[Decimal], lots: Sequence[str]) -> Table:
    rows = [
        (x.phase, x.material, f"{x.percent:f}", f"{grams:f}", lot)
        for x, grams, lot in zip(formula.lines, weighed, lots, strict=True)
    ]
    return Table(
        head=("phase", "material", "percent", "grams", "lot"), rows=rows, numeric=frozenset({2, 3})
    )
