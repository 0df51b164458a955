"""What is handed over in place of a formula is told in words."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import labkit as lk
from labkit.bench import Bench
from labkit.errors import FormulaError

MATS = lk.Materials.starter()
GEL = lk.Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5\nA,Xanthan Gum,1")
DOORS = [
    lk.charts.titration, lk.charts.working_share, lk.charts.required_hlb, lk.charts.dry_down,
    lk.plan.neutralise, lk.paperwork.costing, lk.paperwork.ingredient_list,
]  # fmt: skip
JOBS = [lk.forecast, lk.check, lk.estimates.declare, lk.estimates.cost]


@pytest.mark.parametrize("job", JOBS, ids=lambda f: f.__name__)
def test_a_trial_stands_for_its_formula(job: Any, tmp_path: Path) -> None:
    trial = Bench.open(tmp_path / "b.db").record(GEL)
    assert str(job(trial, MATS)).splitlines()[1:] == str(job(GEL, MATS)).splitlines()[1:]


@pytest.mark.parametrize("job", [*JOBS, *DOORS], ids=lambda f: f.__name__)
@pytest.mark.parametrize(
    ("given", "words"),
    [
        (lk.read_recipe("Aqua 95\nGlycerin 5\n"), r"no formula yet.*Write report\.formula\(\)"),
        ("HC-01", r"the text 'HC-01'. A formula, or a recorded trial"),
        (None, "nothing was given"),
        (7, "something else"),
    ],
)
def test_anything_else_is_refused_in_words(job: Any, given: Any, words: str) -> None:
    with pytest.raises(FormulaError, match=words):
        job(given, MATS)
