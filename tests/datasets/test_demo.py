"""The invented scenario comes from its seeded script, and is as varied as it should be."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import load_workbook

from labkit import tables
from labkit.bench import Bench
from labkit.bench.demo import demo_formulas, demo_recipe, record_demo
from labkit.materials import Materials
from tests.datasets import make_demo


def test_the_files_are_what_the_seeded_script_writes() -> None:
    for name, text in make_demo.build().items():
        assert (make_demo.FOLDER / name).read_text(encoding="utf-8") == text, name


def test_the_sheet_as_found_is_what_the_script_writes() -> None:
    assert make_demo.cells(load_workbook(demo_recipe())) == make_demo.cells(make_demo.sheet())


def test_every_recipe_is_a_formula_of_known_materials() -> None:
    mats = Materials.starter()
    for label, formula in demo_formulas().items():
        assert formula.total == 100, label
        assert all(mats.resolve(x.material) is not None for x in formula.lines), label


def test_each_product_has_nine_to_twelve_trials_branches_a_failure_and_its_cause() -> None:
    rows = tables.rows("demo/trials")
    for product in {row["product"] for row in rows}:
        mine = [row for row in rows if row["product"] == product]
        assert 9 <= len(mine) <= 12
        parents = [row["parents"] for row in mine]
        assert len(parents) > len(set(parents)), "no branch"
        failed = [row for row in mine if row["split"] == "yes"]
        assert len(failed) == 1
        assert ":" in str(failed[0]["seen"]), "the cause is told"


def test_a_cream_is_as_thick_as_creams_are() -> None:
    values = [
        float(row["value"] or 0)
        for row in tables.rows("demo/readings")
        if row["quantity"] == "viscosity" and str(row["label"]).startswith("HC")
    ]
    assert 10 < min(values) < max(values) < 80


@pytest.mark.parametrize("product", [None, "Low tide"])
def test_the_scenario_is_recorded_with_its_family_tree(tmp_path: Path, product: str | None) -> None:
    with Bench.open(tmp_path) as bench:
        made = record_demo(bench, product=product)
        assert len(bench.trials()) == len(made) == (9 if product else 29)
        assert bench.verify().ok
        last = bench.trial(made[-1].label)
        assert len(bench.lineage(last)) >= 3
