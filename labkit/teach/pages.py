"""Pages of a lesson: the station card for the bench, and the teacher's page."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING

from labkit.formula import Formula
from labkit.formula.grid import show
from labkit.materials import Materials
from labkit.paperwork.blocks import (
    Block,
    Break,
    Bullets,
    Cell,
    Facts,
    Group,
    Heading,
    Row,
    Side,
    Table,
    Words,
)
from labkit.paperwork.page import Document
from labkit.teach.questions import Question
from labkit.teach.shopping import cautions, shopping_list

if TYPE_CHECKING:
    from labkit.teach.lesson_plans import LessonPlan

__all__ = ["bench_card", "station_card", "teacher_page"]

RULES = (
    "Do what the materials' own documents and the house rules ask; if in doubt, ask before you "
    "open it. Nothing made in a class goes home onto skin without the teacher's word."
)
LARGE = """
.lk-paper table{font-size:1.05rem}.lk-paper li{margin:.35rem 0}
@media print{.lk-paper{font-size:10.5pt;line-height:1.3}.lk-paper table{font-size:10.5pt}
.lk-paper h2{margin:3mm 0 1mm}.lk-paper li{margin:.12rem 0}
.lk-paper th,.lk-paper td{padding-top:.14rem;padding-bottom:.14rem}
.lk-paper .lk-group th{padding-top:.4rem}.lk-paper header{padding-bottom:2mm;margin-bottom:2mm}
.lk-paper footer{margin-top:3mm;padding-top:1.5mm}}
@page{margin:12mm 14mm}
"""


def bench_card(
    formula: Formula,
    mats: Materials,
    *,
    batch: str = "100 g",
    balance: str = "0.01 g",
    needs: tuple[str, ...] = (),
    steps: tuple[str, ...] = (),
    readings: tuple[str, ...] = (),
    station: str = "",
    paper: str | None = "A4",
) -> Document:
    """A card for one station: what to weigh, what to do, what to write down.

    Parameters
    ----------
    formula : Formula
        What is made; blanks are left open for the group to fill in.
    mats : Materials
        Where the cautions come from.
    batch, balance : str
        Mass, and what the balance reads to: grams are whole steps that add up exactly.
    needs, steps, readings : tuple of str
        Things on the bench; steps in order; what is written down.
    station : str
        Such as ``"Station 3"``.
    paper : str, optional
        ``"A4"`` or ``"Letter"``.
    """
    blocks: list[Block] = [_weighing(formula, batch, balance)]
    if told := cautions(formula, mats):
        said = "; ".join(f"{hazard} ({', '.join(names)})" for hazard, names in told.items())
        blocks.append(Words(text=f"As supplied: {said}.", tone="caution"))
    own = tuple(step for phase in formula.phases for step in phase.steps)
    left: list[Block] = _titled("Steps", Bullets(items=steps or own, ordered=True))
    right: list[Block] = _titled("On the bench", Bullets(items=needs, ticks=True))
    blocks += [Side(left=left, right=right)] if left and right else [*left, *right]
    if readings:
        rows: list[Row] = [(name, *(Cell(kind="blank") for _ in range(3))) for name in readings]
        blocks += [
            Heading(text="Write down at once"),
            Table(head=("what", "first", "second", "third"), rows=rows, stack_from=9),
        ]
    under = " · ".join(x for x in (station, f"{batch}, balance {balance}", "Group: ________") if x)
    return Document(
        kind="Station card", title=formula.name, blocks=blocks, under=under, foot=RULES,
        paper=paper, css=LARGE,
    )  # fmt: skip


def _titled(title: str, listed: Bullets) -> list[Block]:
    return [Heading(text=title), listed] if listed.items else []


def _weighing(formula: Formula, batch: str, balance: str) -> Table:
    grams = formula.grams(batch, balance)
    rows: list[Row] = []
    for phase in formula.phases:
        lines = [(x, g) for x, g in zip(formula.lines, grams, strict=True) if x.phase == phase.key]
        if lines:
            rows.append(Group(text=f"{phase.key} {phase.title}".strip()))
        for line, mass in lines:
            blank = line.low is not None and line.high is not None
            share = f"{show(line.low)} to {show(line.high)}" if blank else show(line.percent)  # type: ignore[arg-type]
            weigh = "your choice" if blank else f"{mass:f}"
            rows.append((line.material, share, weigh, Cell(kind="blank"), Cell(kind="tick")))
    return Table(
        head=("material", "% w/w", "weigh [g]", "weighed [g]", "in"),
        rows=rows,
        foot=[("total", "100.00", f"{sum(grams, Decimal(0)):f}", "", "")],
        numeric=frozenset({1, 2}),
        stack_from=9,
    )


def station_card(plan: LessonPlan, mats: Materials, paper: str | None) -> Document:
    """The card of a lesson's bench exercise."""
    station = plan.station
    return bench_card(
        plan.formula,
        mats,
        batch=station.batch,
        needs=station.needs,
        steps=station.steps,
        readings=station.readings,
        station=f"Lesson {plan.number}",
        paper=paper,
    )


def teacher_page(
    plan: LessonPlan,
    worked: Mapping[str, Mapping[str, Question]],
    groups: int,
    mats: Materials,
    paper: str | None,
) -> Document:
    """Time, preparation, what to watch for, and the answers of the learners named."""
    clock, timetable = 0, []
    for minutes, what in plan.timetable:
        timetable.append((f"{clock} to {clock + minutes} min", what))
        clock += minutes
    needed = shopping_list(plan.formula, mats, groups=groups, batch=plan.station.batch)
    came, numbers = plan.prediction.decide(plan.formula, mats)
    blocks: list[Block] = [
        Words(text=plan.aim, tone="lead"),
        Heading(text=f"{clock} minutes"),
        Facts(pairs=timetable),
        Heading(text="The prediction"),
        Words(text=f"{plan.prediction.text} It comes out: {came} ({numbers})."),
        Heading(text=f"For {groups} groups of {plan.station.batch}"),
        Table(
            head=("material", "grams, a tenth to spare"),
            rows=[(n.material, f"{n.grams:.1f}") for n in needed.needs],
            numeric=frozenset({1}),
        ),
        Bullets(items=[f"{x}: {groups} x" for x in plan.station.needs], ticks=True),
        Heading(text="Watch for"),
        Bullets(items=plan.watch),
        Heading(text="Cautions"),
        *(
            Words(text=f"{hazard}: {', '.join(names)}", tone="caution")
            for hazard, names in cautions(plan.formula, mats).items()
        ),
    ]
    if worked:
        blocks += [Break(), Heading(text="Answers, each learner's own")]
    for who, questions in worked.items():
        rows: list[Row] = [(key, one.text, one.worked()) for key, one in questions.items()]
        blocks += [Heading(text=who, level=3), Table(head=("", "question", "way"), rows=rows)]
    return Document(
        kind="Teacher's page", title=f"Lesson {plan.number}: {plan.title}", blocks=blocks,
        foot=RULES, paper=paper,
    )  # fmt: skip
