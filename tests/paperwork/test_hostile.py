"""Names, notes and titles that mean harm stay words on every paper."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from labkit.bench import Bench
from labkit.formula import Brief, Formula, Line, Phase
from labkit.materials import Materials
from labkit.paperwork import (
    Document,
    batch_record,
    costing,
    ingredient_list,
    recipe_card,
    safety_file,
)
from labkit.paperwork.blocks import Bullets, Cell, Copy, Facts, Group, Heading, Table, Words

CASES = json.loads(
    (Path(__file__).parents[1] / "reference" / "hostile_inputs.json").read_text(encoding="utf-8")
)
CASES = CASES["items"]


ELEMENTS = """html head meta title style body main header footer h1 h2 h3 p br ul ol li dl dt dd
div table caption thead tbody tfoot tr th td figure figcaption"""
ATTRIBUTES = "class lang charset http-equiv content name scope colspan data-label"


def texts(*starts: str) -> list[tuple[str, str]]:
    found = []
    for case in CASES:
        give: Any = case["give"]
        if not case["id"].startswith(starts) or not isinstance(give, dict):
            continue
        for key in ("text", "value", "cell"):
            if isinstance(give.get(key), str):
                found.append((case["id"], give[key]))
        found += [(case["id"], t) for t in give.get("text_pair", [])]
        if "json" in give and "ud800" in str(give["json"]):
            found.append((case["id"], "\ud800"))
    return found


class Watcher(HTMLParser):
    """Elements and attributes that a paper of ours never has."""

    ALLOWED = frozenset(re.findall(r"\w+", ELEMENTS))
    KEPT = frozenset(re.findall(r"[\w-]+", ATTRIBUTES))

    def __init__(self) -> None:
        super().__init__()
        self.strange: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.strange += [] if tag in self.ALLOWED else [tag]
        self.strange += [name for name, _ in attrs if name not in self.KEPT]


def watched(html: str) -> list[str]:
    watcher = Watcher()
    watcher.feed(html)
    return watcher.strange


def everywhere(text: str) -> Document:
    return Document(
        kind=text,
        title=text,
        under=text,
        foot=text,
        blocks=(
            Heading(text=text),
            Words(text=text),
            Words(text=text, tone="caution"),
            Bullets(items=[text]),
            Facts(pairs=[(text, text)]),
            Copy(text=text, title=text),
            Table(
                head=(text, "b"),
                rows=[Group(text=text), (text, Cell(text=text, kind="strong"))],
                caption=text,
            ),
        ),
        table=Table(head=(text, "b"), rows=[(text, "5")], numeric=frozenset({1})),
    )


HOSTILE = texts("html-", "txt-", "csv-", "nb-")


def test_there_are_hostile_texts_to_try() -> None:
    assert len(HOSTILE) >= 15


@pytest.mark.parametrize(
    ("case", "text"), HOSTILE, ids=[f"{c}-{i}" for i, (c, _) in enumerate(HOSTILE)]
)
def test_words_stay_words_in_every_block(case: str, text: str) -> None:
    paper = everywhere(text)
    assert watched(paper.html) == []
    assert set(watched(paper._repr_html_())) <= {"style"}
    for form in (paper.html, paper.text, paper.markdown, paper.csv):
        form.encode("utf-8")
        assert not {"\x00", "\u202e", "\u2066"} & set(form)
    assert "<script" not in paper.markdown
    assert not re.search(r"(?<!\\)\]\(", paper.markdown)


@pytest.mark.parametrize("text", ["=1+1", "+cmd|' /C calc'!A0", "-2", "@sum", "\t=1", "＝1"])
def test_cells_that_a_spreadsheet_would_run_are_marked(text: str) -> None:
    first = everywhere(text).csv.splitlines()[1].lstrip('"')
    assert first.startswith("'")


def test_every_paper_of_a_hostile_formula_holds(tmp_path: Path) -> None:
    evil = "<img src=x onerror=alert(1)>"
    mats = Materials.starter().add(name=evil, inci=evil, hazards=evil, lot=evil, note=evil)
    lines = (
        Line(phase="A", material="Aqua", percent=Decimal(90), note=evil),
        Line(phase="A", material=evil, percent=Decimal(10)),
    )
    formula = Formula(evil, lines, (Phase(key="A", title=evil, steps=(evil,)),), 0)
    brief = Brief(product=evil, pack=evil, claims=(evil,), leave_on=True)
    with Bench.open(tmp_path) as bench:
        trial = bench.record(formula, note=evil, brief=brief)
        bench.measure(trial, "appearance", evil)
        bench.note(trial, evil)
        told: dict[str, Any] = {"bench": bench, "brief": brief}
        papers = [
            ingredient_list(trial, mats, brief=brief, left_out={evil: evil}),
            costing(trial, mats, prices={evil: "3 EUR/kg"}, pack={evil: "1 EUR"}),
            recipe_card(
                trial, mats, purpose=evil, notes=[evil], cautions=[evil],
                include=("trial note", "line notes", "lots"), replace={evil: None}, **told,
            ),
            safety_file(trial, mats, points={evil: {"point": 1, "source": evil}}, **told),
            batch_record(trial, mats, equipment=[evil], batch_number=evil, **told),
        ]  # fmt: skip
    for paper in papers:
        assert watched(paper.html) == [], paper.kind
        assert "onerror=alert(1)>" not in paper.html
        assert "&lt;img" in paper.html
        assert replace(paper, title="x").html
