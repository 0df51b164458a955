"""What goes back to a desk, and who needs help."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from labkit.bench import Bench, Trial
from labkit.bench.scales import find_scale
from labkit.formula.grid import show
from labkit.paperwork.blocks import Block, Bullets, Facts, Heading, Row, Table, Words
from labkit.paperwork.page import Document
from labkit.teach.blanks import blanks_of
from labkit.teach.class_table import class_spread, class_table, desks_of
from labkit.teach.hand_ins import Flag
from labkit.teach.terms import Terms

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["certificate", "page", "stuck"]

TWICE = 2
NO_MARKS = (
    "This page says what was made and measured. It gives no marks, and says nothing about "
    "whether a product keeps or suits anybody's skin."
)


def answers(bench: Bench, terms: Terms) -> dict[str, dict[str, list[tuple[bool, str]]]]:
    """Desk → question → each try in order: right or not, and the slip."""
    desks = desks_of(bench, terms)
    found: dict[str, dict[str, list[tuple[bool, str]]]] = {}
    for note in bench.records("note"):
        tags = note.body.get("tags", [])
        desk = desks.get(str(note.body["workspace"]))
        if desk is None or len(tags) < 4 or tags[0] != "answer":
            continue
        tries = found.setdefault(desk, {}).setdefault(f"{tags[1]}, {tags[2]}", [])
        tries.append((tags[3] == "right", str(tags[4]) if len(tags) > 4 else ""))
    return found


def stuck(bench: Bench, terms: Terms) -> pd.DataFrame:
    """Columns desk, trials, missing, questions, help; only desks that need some."""
    import pandas as pd

    table = class_table(bench, terms)
    desks = desks_of(bench, terms)
    made = _made(bench, desks)
    tries = answers(bench, terms)
    rows = []
    for desk in desks.values():
        measured = set(table.loc[table["desk"] == desk, "quantity"])
        missing = [q for q in terms.measures if _named(q) not in measured]
        wrong = [
            question + (f" ({several[-1][1]})" if several[-1][1] else "")
            for question, several in sorted(tries.get(desk, {}).items())
            if len(several) >= TWICE and not any(right for right, _ in several)
        ]
        if made.get(desk, 0) and not missing and not wrong:
            continue
        helps = [
            *(["ask what holds them up: nothing was made"] if not made.get(desk) else []),
            *([f"not measured: {', '.join(missing)}"] if missing and made.get(desk) else []),
            *([f"wrong at least twice: {'; '.join(wrong)}"] if wrong else []),
        ]
        rows.append((desk, made.get(desk, 0), ", ".join(missing), "; ".join(wrong),
                     ". ".join(helps)))  # fmt: skip
    return pd.DataFrame(rows, columns=["desk", "trials", "missing", "questions", "help"])


def _named(quantity: str) -> str:
    scale = find_scale(quantity)
    return scale.name if scale else quantity


def _made(bench: Bench, desks: dict[str, str]) -> dict[str, int]:
    count: dict[str, int] = {}
    for record in bench.records("trial"):
        desk = desks.get(str(record.body["workspace"]))
        if desk is not None:
            count[desk] = count.get(desk, 0) + 1
    return count


def page(bench: Bench, terms: Terms, desk: str, flags: Sequence[Flag]) -> Document:
    """Readings of one desk beside the class, what is odd, and the questions."""
    table = class_table(bench, terms)
    mine = table[table["desk"] == desk]
    rows: list[Row] = [
        (str(r["trial"]), str(r["quantity"]), str(r["typed"]), _number(r["class"], r["unit"]),
         _away(r))
        for r in mine.to_dict("records")
    ]  # fmt: skip
    head = ("trial", "what", "you read", "the class at your blanks", "")
    blocks: list[Block] = [Table(head=head, rows=rows)] if rows else []
    blocks += [
        Words(text=str(class_spread(bench, terms, q)) + ".")
        for q in terms.measures
        if not mine[mine["quantity"] == _named(q)].empty
    ]
    odd = [f"{flag.sort}: {flag.words}" for flag in flags if flag.desk == desk]
    if odd:
        blocks += [Heading(text="Look at these again"), Bullets(items=odd)]
    missing = [q for q in terms.measures if _named(q) not in set(mine["quantity"])]
    if missing:
        blocks.append(Words(text=f"Not measured yet: {', '.join(missing)}."))
    asked = answers(bench, terms).get(desk, {})
    if asked:
        rows = [
            (question, str(len(tries)), "right" if any(r for r, _ in tries) else "not yet",
             ", ".join(dict.fromkeys(slip for _, slip in tries if slip)))
            for question, tries in sorted(asked.items())
        ]  # fmt: skip
        blocks += [
            Heading(text="Questions"),
            Table(head=("question", "tries", "", "slips on the way"), rows=rows),
        ]
    return Document(kind="Back to the desk", title=desk, blocks=blocks, under=terms.title,
                    foot=NO_MARKS)  # fmt: skip


def _number(value: Any, unit: Any) -> str:
    if unit == "pH":
        return f"{float(value):.2f}"
    return f"{float(f'{float(value):.3g}'):.12g} {str(unit).replace('*', '·')}"


def _away(row: dict[Any, Any]) -> str:
    if row["flag"]:
        return str(row["flag"])
    return "with the class" if abs(float(row["spreads"])) < 2 else "at the edge of the class"


def certificate(
    bench: Bench, terms: Terms, desk: str, trials: Sequence[Trial], paper: str | None
) -> Document:
    """What one desk made and measured, with room for a name and a signature."""
    blanks = blanks_of(terms.master.formula)
    made: list[Row] = [
        (
            trial.label.split("@")[0],
            "; ".join(
                f"{x.material} {show(x.percent)} %"
                for x in trial.formula.lines
                if x.material in blanks
            ),
        )
        for trial in trials
    ]
    read: list[Row] = []
    for trial in trials:
        for row in bench.readings(trial=trial).to_dict("records"):
            label = trial.label.split("@")[0]
            read.append((label, str(row["quantity"]), str(row["text"]), str(row["conditions"])))
    blocks: list[Block] = [
        Facts(pairs=[("Class", terms.title), ("Desk", desk), ("Name", "_" * 32)]),
        Heading(text="Made"),
        Table(head=("trial", "decided"), rows=made),
        Heading(text="Measured"),
        Table(head=("trial", "what", "reading", "how"), rows=read, stack_from=9),
        Facts(pairs=[("Date", "_" * 20), ("Seen by", "_" * 32)]),
    ]
    return Document(kind="Certificate", title=f"{desk} was there", blocks=blocks, foot=NO_MARKS,
                    paper=paper)  # fmt: skip
