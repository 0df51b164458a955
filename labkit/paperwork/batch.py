"""A batch record, to fill in by hand, after the contents of ISO 22716, section 7."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from labkit.bench import Batch, Bench, Trial
from labkit.formula import Brief, Formula
from labkit.formula.grid import show
from labkit.materials import Materials
from labkit.paperwork.blocks import (
    Block,
    Bullets,
    Cell,
    Facts,
    Group,
    Heading,
    Row,
    Table,
    Words,
)
from labkit.paperwork.page import Document
from labkit.paperwork.subject import Subject, measured, subject_of
from labkit.quantities import parse as parse_quantity

__all__ = ["batch_record"]

BLANK = Cell(kind="blank")
TICK = Cell(kind="tick")
START_UP = (
    "The documents for this batch are at hand, and this is the version to make",
    "All materials are there, identified, in date, and released for use",
    "Equipment is clean, in working order, and set up; balance checked",
    "The area is cleared of the product made before",
)
"""ISO 22716, 7.2.2 (start-up checks)."""
AFTER = (
    "Bulk named with name, batch number, storage conditions (7.2.6)",
    "Retained sample kept, labelled with the batch number",
    "Materials left over returned in closed, labelled containers (7.2.7)",
    "Equipment cleaned, and labelled as clean with the day",
)
PACKING = (
    "Area cleared before filling; the right pack, label and batch code at the line (7.3.2)",
    "Batch code and durability on every unit; first and last unit kept (7.3.3)",
    "Fill checked during the run; figures below (7.3.5)",
    "Labels and packs counted: used, spoilt, returned (7.3.6)",
)


def batch_record(
    about: Formula | Trial,
    mats: Materials,
    *,
    batch: Any = None,
    balance: Any = None,
    bench: Bench | None = None,
    brief: Brief | None = None,
    batch_number: str = "",
    equipment: Sequence[str] = (),
    paper: str | None = None,
) -> Document:
    """A batch record: what is known is filled in, the rest has lines to write on.

    Parameters
    ----------
    about : Formula or Trial
    mats : Materials
    batch : str, optional
        Mass to make; the brief's when left out.
    balance : str, optional
        What the balance reads to; the brief's when left out.
    bench : Bench, optional
        Readings, corrections and notes of the trial; what was weighed, from which lots, and
        the log, where a batch of the trial was begun and ``batch`` is left out.
    brief : Brief, optional
        Windows that the controls are read against.
    batch_number : str
        As it will stand on the pack.
    equipment : sequence of str
        Vessel, mixer, balance, meter …
    paper : str, optional
        ``"A4"`` or ``"Letter"``.

    Returns
    -------
    Document

    Raises
    ------
    FormulaError
        A batch that is no whole number of balance steps.

    Notes
    -----
    Contents after ISO 22716:2007, 7.2 and 7.3: equipment used, formula, every material with its
    batch number and quantity, steps, start-up checks, batch number, in-process controls,
    deviations.
    """
    subject = subject_of(about, brief)
    made = _last_batch(bench, subject)
    if made is not None and batch is None:
        size, weighed = f"{made.mass_g} g", made.planned_g
    else:
        size = batch or subject.brief.batch
        weighed = subject.formula.grams(size, balance or subject.brief.balance)
        made = None
    return Document(
        kind="Batch record",
        title=subject.formula.name,
        under=_under(subject, size, batch_number),
        blocks=tuple(_blocks(subject, mats, bench, weighed, batch_number, equipment, made)),
        foot="After the contents of ISO 22716:2007, section 7. Who releases the batch signs it.",
        paper=paper,
        table=_materials(subject, mats, weighed, made),
    )


def _last_batch(bench: Bench | None, subject: Subject) -> Batch | None:
    """The batch that was weighed for the trial, if it was."""
    begun = [] if bench is None or subject.trial is None else bench.batches(subject.trial)
    return begun[-1] if begun else None


def _under(subject: Subject, size: Any, number: str) -> str:
    mass = parse_quantity(size, "mass", where=subject.formula.name)
    trial = f" · formula of trial {subject.label}" if subject.label else ""
    return f"batch {number or '____________'} · {mass}{trial}"


def _blocks(
    subject: Subject,
    mats: Materials,
    bench: Bench | None,
    weighed: Sequence[Decimal],
    number: str,
    equipment: Sequence[str],
    made: Batch | None,
) -> Iterator[Block]:
    yield Table(
        head=("Batch number", "Day", "Begun", "Finished", "Made by", "Checked by"),
        rows=[(number or BLANK, BLANK, BLANK, BLANK, BLANK, BLANK)],
    )
    if subject.trial is not None:
        yield Words(text=f"Formula version: {subject.trial.id}", tone="muted")
    yield Heading(text="Before starting")
    yield Bullets(items=START_UP, ticks=True)
    yield Heading(text="Equipment used")
    yield Table(
        head=("Equipment", "Number or mark", "Clean", "Calibrated until"),
        rows=[
            *((name, BLANK, TICK, BLANK) for name in equipment),
            *((BLANK, BLANK, TICK, BLANK) for _ in range(max(0, 3 - len(equipment)))),
        ],
    )
    yield Heading(text="Materials")
    yield _materials(subject, mats, weighed, made)
    yield Heading(text="Steps")
    yield _steps(subject.formula)
    if made is not None and made.log_lines:
        yield Bullets(items=[str(line) for line in made.log_lines])
    yield Heading(text="Controls during and after making")
    yield _controls(subject, bench)
    yield Heading(text="Yield")
    yield Table(
        head=("Planned, g", "Vessel empty, g", "Vessel full, g", "Made, g", "Units", "Loss, %"),
        rows=[(f"{sum(weighed, Decimal(0)):f}", BLANK, BLANK, BLANK, BLANK, BLANK)],
        numeric=frozenset({0}),
    )
    yield Heading(text="Deviations, corrections, remarks")
    yield from _deviations(subject, bench)
    yield Heading(text="After making")
    yield Bullets(items=AFTER, ticks=True)
    yield Heading(text="Filling and packing")
    yield Bullets(items=PACKING, ticks=True)
    yield Table(
        head=("Pack material", "Lot", "Received", "Used", "Spoilt", "Returned"),
        rows=[(BLANK,) * 6 for _ in range(3)],
    )
    yield Heading(text="Release")
    yield Facts(
        pairs=[
            ("records complete", "____________________"),
            ("laboratory results", "____________________"),
            ("decision and reason", "____________________"),
            ("name, day, signature", "____________________"),
        ]
    )


def _materials(
    subject: Subject, mats: Materials, weighed: Sequence[Decimal], made: Batch | None
) -> Table:
    actual = made.weighed_g if made is not None else (Decimal(0),) * len(weighed)
    lots = made.lots if made is not None else ("",) * len(weighed)
    titles = {p.key: p.title for p in subject.formula.phases}
    rows: list[Row] = []
    last = None
    for i, (line, grams) in enumerate(zip(subject.formula.lines, weighed, strict=True)):
        if line.phase != last:
            title = titles.get(line.phase, "")
            rows.append(Group(text=f"Phase {line.phase}" + (f" · {title}" if title else "")))
            last = line.phase
        material = mats.resolve(line.key or line.material)
        lot = lots[i] or (material.lot if material is not None and material.lot else BLANK)
        done = f"{actual[i]:f}" if actual[i] else BLANK
        rows.append((line.material, show(line.percent), lot, f"{grams:f}", done, BLANK, TICK))
    return Table(
        head=("Material", "% w/w", "Lot", "Target, g", "Weighed, g", "By", "In"),
        rows=rows,
        foot=[("Total", "100.00", "", f"{sum(weighed, Decimal(0)):f}", BLANK, "", "")],
        numeric=frozenset({1, 3}),
    )


def _steps(formula: Formula) -> Table:
    rows: list[Row] = [
        (f"{p.key}: {step}", BLANK, BLANK, BLANK, BLANK) for p in formula.phases for step in p.steps
    ]
    rows += [(BLANK, BLANK, BLANK, BLANK, BLANK) for _ in range(2 if rows else 6)]
    return Table(head=("Step", "Time", "°C", "Speed", "By"), rows=rows)


def _controls(subject: Subject, bench: Bench | None) -> Table:
    brief = subject.brief
    windows: dict[str, str] = {
        "pH": "" if brief.ph is None else f"{brief.ph[0]:g} to {brief.ph[1]:g}",
        "viscosity": ""
        if brief.viscosity is None
        else f"{brief.viscosity[0]} to {brief.viscosity[1]}",
        "appearance": "as the retained sample",
        "smell": "as the retained sample",
    }
    rows: list[Row] = []
    for m in measured(bench, subject.trial):
        rows.append((m.quantity, windows.pop(m.quantity, ""), m.how, m.words, BLANK))
    rows += [(name, window, BLANK, BLANK, BLANK) for name, window in windows.items()]
    rows += [(BLANK, BLANK, BLANK, BLANK, BLANK)]
    return Table(head=("Control", "Window", "How", "Result", "By"), rows=rows)


def _deviations(subject: Subject, bench: Bench | None) -> Iterator[Block]:
    if bench is not None and subject.trial is not None:
        told = [_told(r.kind, r.body) for r in bench.records(about=subject.trial)]
        if kept := [words for words in told if words]:
            yield Bullets(items=kept)
    yield Table(
        head=("What", "Why", "What was done", "By"),
        rows=[(BLANK, BLANK, BLANK, BLANK) for _ in range(3)],
    )


def _told(kind: str, body: Mapping[str, Any]) -> str:
    if kind == "correction":
        return f"Correction: {body['reason']}"
    if kind == "note":
        return f"Note: {body['text']}"
    return ""
