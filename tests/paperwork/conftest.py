"""A bench with a trial, repeats and records, and every paper of it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from labkit.bench import Bench, Trial
from labkit.formula import Brief, Formula, Line, Phase
from labkit.materials import Materials
from labkit.paperwork import (
    Document,
    batch_record,
    costing,
    ingredient_list,
    recipe_card,
    safety_file,
    specification,
)
from labkit.quantities import parse

DAY = date(2026, 11, 2)
BRIEF = Brief(
    product="hand cream",
    market=("EU", "US"),
    ph=(4.6, 5.4),
    viscosity=(parse("20 Pa*s"), parse("40 Pa*s")),
    pack="jar",
    fill="50 g",
    durability=18,
    as_of=DAY,
)
LINES = (
    ("A", "Aqua", "74.4"),
    ("A", "Glycerin", "5"),
    ("A", "Xanthan Gum", "0.3"),
    ("B", "Caprylic/Capric Triglyceride", "10"),
    ("B", "Shea butter", "4"),
    ("B", "Olive emulsifier", "5"),
    ("C", "Phenoxyethanol blend 90/10", "1"),
    ("C", "Lavender oil", "0.2"),
    ("D", "Lactic acid 80 %", "0.1"),
)


def cream(name: str = "Harbour cream") -> Formula:
    lines = tuple(Line(phase=p, material=m, percent=Decimal(x)) for p, m, x in LINES)
    phases = (
        Phase(key="A", title="Water", steps=("Heat to 75 °C, hold 20 min",)),
        Phase(key="B", title="Oil", steps=("Heat to 75 °C", "Add to A, homogenise 3 min")),
        Phase(key="C", title="Cool down", steps=("Below 40 °C, stir in",)),
        Phase(key="D", title="Adjust", steps=("At 25 °C, read the pH",)),
    )
    return Formula(name, lines, phases, 0)


@pytest.fixture(scope="session")
def mats() -> Materials:
    return Materials.starter()


@pytest.fixture(scope="session")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    folder: Path = tmp_path_factory.mktemp("papers")
    with Bench.open(folder) as made:
        first = made.record(cream(), label="HC-1", note="secret trial note", brief=BRIEF)
        made.measure(first, "pH", [5.01, 5.03], temperature="25 °C", dilution="neat")
        made.measure(first, "viscosity", "30.5 Pa*s", spindle="S64", speed="20 rpm")
        made.note(first, "a little air on top")
        made.decide(first, "keep", reason="spreads well")
        for k, (ph, mpas) in enumerate(((4.97, 31000), (5.05, 29000), (5.00, 33000)), start=2):
            again = made.record(cream(), parent=first, label=f"HC-{k}")
            made.measure(again, "pH", ph, temperature="25 °C", dilution="neat")
            made.measure(again, "viscosity", f"{mpas} mPa*s", spindle="S64", speed="20 rpm")
        yield made


@pytest.fixture(scope="session")
def trial(bench: Bench) -> Trial:
    return bench.trial("HC-1")


@pytest.fixture(scope="session")
def papers(bench: Bench, trial: Trial, mats: Materials) -> dict[str, Document]:
    repeats = ["HC-1", "HC-2", "HC-3", "HC-4"]
    return {
        "list": ingredient_list(trial, mats, day=DAY),
        "costing": costing(trial, mats, batch="5 kg", target="0.40 EUR", pack={"jar": "0.48 EUR"}),
        "card": recipe_card(trial, mats, batch="500 g", bench=bench, day=DAY),
        "safety": safety_file(trial, mats, bench=bench, repeats=repeats, day=DAY),
        "specification": specification(bench, repeats),
        "batch": batch_record(trial, mats, batch="2 kg", bench=bench),
    }
