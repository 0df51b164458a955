"""The recipe card: one page to publish or hand out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from labkit.bench import Bench, Trial
from labkit.errors import BriefError, FormulaError, MaterialError
from labkit.estimates.declaration import declare
from labkit.formula import Brief, Formula
from labkit.formula.grid import show
from labkit.materials import Material, Materials
from labkit.paperwork.blocks import (
    Block,
    Bullets,
    Copy,
    Facts,
    Group,
    Heading,
    Row,
    Side,
    Table,
    Words,
)
from labkit.paperwork.costs import grams as mass_words
from labkit.paperwork.page import Document
from labkit.paperwork.subject import LAW, Measured, Subject, measured, subject_of
from labkit.paperwork.swaps import swaps
from labkit.quantities import parse as parse_quantity

__all__ = ["PRIVATE", "recipe_card"]

PRIVATE = ("trial note", "line notes", "lots")
"""What a card leaves out unless asked."""

COMPACT = """
.lk-paper h2{margin-top:1.1rem}
.lk-paper .lk-side{grid-template-columns:minmax(0,1.05fr) minmax(0,1fr)}
.lk-paper .lk-side dl{grid-template-columns:minmax(5rem,max-content) 1fr}
@media print{.lk-paper{font-size:9.4pt;line-height:1.32}.lk-paper table{font-size:8.9pt}
.lk-paper h1{font-size:18pt}.lk-paper h2{font-size:11pt;margin:3.2mm 0 1mm}
.lk-paper th,.lk-paper td{padding-top:.16rem;padding-bottom:.16rem}
.lk-paper header{padding-bottom:2mm;margin-bottom:2mm}
.lk-paper footer{margin-top:3mm;padding-top:1.5mm}
.lk-paper .lk-copy{padding:.4rem .6rem;font-size:8.9pt}
.lk-paper .lk-caution{padding:.3rem .6rem;margin:.4rem 0}
.lk-paper .lk-group th{padding-top:.5rem}}
@page{margin:12mm 14mm}
"""


def recipe_card(
    about: Formula | Trial,
    mats: Materials,
    *,
    batch: Any = None,
    balance: Any = None,
    bench: Bench | None = None,
    brief: Brief | None = None,
    purpose: str = "",
    notes: Sequence[str] = (),
    replace: Mapping[str, str | None] | Sequence[str] | None = None,
    cautions: Sequence[str] = (),
    market: str | None = None,
    include: Sequence[str] = (),
    day: date | None = None,
    paper: str | None = None,
    **choices: Any,
) -> Document:
    """A recipe card of a formula or of a trial.

    Parameters
    ----------
    about : Formula or Trial
        A trial brings its brief and, with ``bench``, what was measured.
    mats : Materials
    batch : str, optional
        Mass the grams are for; the brief's, else 100 g.
    balance : str, optional
        What the balance reads to; grams are then whole steps that add up to the batch.
    bench : Bench, optional
        Where the trial's readings are.
    brief : Brief, optional
    purpose : str
        What the product is for, in a sentence.
    notes : sequence of str
        Words for the reader.
    replace : mapping or sequence of str, optional
        Material to what may stand in its place, None where it may be left out; materials
        alone ask for the likest there is.
    cautions : sequence of str
        Further cautions; those of the materials are always there.
    market : str, optional
        Of the ingredient list.
    include : sequence of str
        Of `PRIVATE`: what shall not be left out.
    day : date, optional
        On which the product is placed on the market.
    paper : str, optional
        ``"A4"`` or ``"Letter"``.
    **choices
        Of the ingredient list.

    Returns
    -------
    Document

    Raises
    ------
    BriefError
        ``include`` names something else.
    FormulaError
        A batch that is no whole number of balance steps.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5", name="Gel")
    >>> card = recipe_card(gel, Materials.starter(), batch="200 g")
    >>> "10.00" in card.text
    True
    """
    _check_include(include, about.name)
    subject = subject_of(about, brief)
    read = measured(bench, subject.trial)
    size = batch or subject.brief.batch
    weighed = _grams(subject, size, balance)
    found = [mats.resolve(x.key or x.material) for x in subject.formula.lines]
    left: list[Block] = [_table(subject.formula, weighed, "line notes" in include)]
    right: list[Block] = [*_steps(subject.formula), *_measured(read, subject)]
    blocks: list[Block] = []
    if purpose:
        blocks.append(Words(text=purpose, tone="lead"))
    blocks.append(Side(left=left, right=[*right, *_pack(subject)]))
    blocks += _notes(subject, notes, include, found)
    if replace:
        blocks.append(Heading(text="What may be left out or replaced"))
        blocks.append(Bullets(items=swaps(subject.formula, mats, subject.brief, replace)))
    blocks += _cautions(found, cautions)
    blocks += _label(subject, mats, market, day, choices)
    return Document(
        kind="Recipe card",
        title=subject.formula.name,
        under=_under(subject, size),
        blocks=tuple(blocks),
        foot=LAW,
        paper=paper,
        css=COMPACT,
        table=_csv(subject.formula, weighed, found),
    )


def _check_include(include: Sequence[str], name: str) -> None:
    strange = [x for x in include if x not in PRIVATE]
    if strange:
        raise BriefError(
            where=f"{name}, recipe card",
            found=f"include names {', '.join(strange)}",
            allowed=", ".join(PRIVATE),
            cause="Prices, suppliers and people are on no card; other words are there anyway",
            do="Use one of these names",
        )


def _grams(subject: Subject, batch: Any, balance: Any) -> tuple[Decimal, ...]:
    if balance is not None:
        return subject.formula.grams(batch, balance)
    try:
        return subject.formula.grams(batch, subject.brief.balance)
    except FormulaError:
        return subject.formula.grams(batch)


def _under(subject: Subject, batch: Any) -> str:
    size = parse_quantity(batch, "mass", where=f"{subject.formula.name}, batch").exact("g")
    parts = [subject.brief.product] if subject.brief.product != subject.formula.name else []
    parts.append(f"grams for a batch of {mass_words(size)}")
    if subject.label:
        parts.append(f"trial {subject.label}")
    return " · ".join(parts)


def _table(formula: Formula, weighed: Sequence[Decimal], line_notes: bool) -> Table:
    titles = {p.key: p.title for p in formula.phases}
    rows: list[Row] = []
    last = None
    for i, (line, mass) in enumerate(zip(formula.lines, weighed, strict=True)):
        if line.phase != last:
            title = titles.get(line.phase, "")
            rows.append(Group(text=f"Phase {line.phase}" + (f" · {title}" if title else "")))
            last = line.phase
        name = line.material + (" (q.s.)" if i == formula.qs else "")
        if line_notes and line.note:
            name += f"\n{line.note}"
        rows.append((name, show(line.percent), _mass(mass, weighed)))
    total = sum(weighed, Decimal(0))
    return Table(
        head=("Material", "% w/w", "g"),
        rows=rows,
        foot=[("Total", show(formula.total), _mass(total, weighed))],
        numeric=frozenset({1, 2}),
    )


def _mass(mass: Decimal, weighed: Sequence[Decimal]) -> str:
    """Grams with as many decimals as the finest of them, at least two and at most four."""
    places = max((-int(x.as_tuple().exponent) for x in weighed), default=2)
    return f"{mass:.{min(max(places, 2), 4)}f}"


def _steps(formula: Formula) -> Iterator[Block]:
    steps = [
        f"{p.key}: {step}" if len(formula.phases) > 1 else step
        for p in formula.phases
        for step in p.steps
    ]
    if steps:
        yield Heading(text="How it is made")
        yield Bullets(items=steps, ordered=True)


def _measured(read: Sequence[Measured], subject: Subject) -> Iterator[Block]:
    yield Heading(text="Measured")
    if not read:
        trial = "this formula is not a recorded trial" if subject.trial is None else "no readings"
        yield Words(text=f"Nothing yet: {trial}.", tone="muted")
        return
    yield Facts(
        pairs=[(m.quantity, m.words + (f"\n{m.how}" if m.how else "")) for m in read],
    )


def _pack(subject: Subject) -> Iterator[Block]:
    brief = subject.brief
    wanted = (
        ("pack", brief.pack),
        ("filled", brief.fill),
        ("keeps for", f"{brief.durability} months wanted; a stability study decides")
        if brief.durability
        else ("keeps for", None),
    )
    pairs = [(name, str(x)) for name, x in wanted if x]
    if pairs:
        yield Heading(text="Pack")
        yield Facts(pairs=pairs)


def _notes(
    subject: Subject, notes: Sequence[str], include: Sequence[str], found: Sequence[Material | None]
) -> Iterator[Block]:
    words = list(notes)
    if "trial note" in include and subject.trial is not None and subject.trial.note:
        words.append(subject.trial.note)
    if "lots" in include:
        words += [f"{m.name}: lot {m.lot}" for m in found if m is not None and m.lot]
    if words:
        yield Heading(text="Notes")
        yield Bullets(items=words)


def _cautions(found: Sequence[Material | None], cautions: Sequence[str]) -> Iterator[Block]:
    told: dict[str, list[str]] = {}
    for material in found:
        for hazard in material.hazards if material is not None else ():
            told.setdefault(hazard, []).append(material.name if material else "")
    items = [f"{', '.join(dict.fromkeys(names))}: {hazard}" for hazard, names in told.items()]
    yield Heading(text="Cautions")
    yield Bullets(
        items=[
            *cautions,
            *items,
            "Wear goggles and gloves with hot oils, acids and bases; read the suppliers' safety "
            "data sheets first.",
        ]
    )


def _label(
    subject: Subject, mats: Materials, market: str | None, day: date | None, choices: Any
) -> Iterator[Block]:
    try:
        made = declare(
            subject.formula, mats, brief=subject.brief, market=market, day=day, **choices
        )
    except MaterialError as gap:
        yield Heading(text="Ingredient list")
        yield Words(text=f"Not made: {gap.found}. {gap.do}.", tone="caution")
        return
    yield Heading(text=f"Ingredient list ({made.market})")
    yield Copy(text=made.headed)
    if made.questions:
        count = len(made.questions)
        points = "One point is" if count == 1 else f"{count} points are"
        yield Words(text=f"{points} not certain yet; ingredient_list names them.", tone="muted")


def _csv(formula: Formula, weighed: Sequence[Decimal], found: Sequence[Material | None]) -> Table:
    rows = [
        (x.phase, x.material, m.inci if m else "", f"{x.percent:f}", f"{mass:f}")
        for x, m, mass in zip(formula.lines, found, weighed, strict=True)
    ]
    return Table(
        head=("phase", "material", "inci", "percent", "grams"), rows=rows, numeric=frozenset({3, 4})
    )
