"""``labkit list`` in the words of the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from labkit.cli import main

RECIPE = """phase,material,percent
A,Aqua,q.s.
A,Glycerin,5
B,Olive emulsifier,4
C,Phenoxyethanol blend 90/10,1
"""


@pytest.fixture
def recipe(tmp_path: Path) -> Path:
    file = tmp_path / "cream.csv"
    file.write_text(RECIPE, encoding="utf-8")
    return file


def test_the_list_of_each_market_is_printed(
    recipe: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["list", str(recipe), "--market", "EU,US", "--leave-on"]) == 0
    said = capsys.readouterr().out
    assert "EU  Ingredients: Aqua, Glycerin, Cetearyl Olivate" in said
    assert "US  Ingredients: Water, Glycerin, Cetearyl Olivate" in said
    assert "not certain: Olive emulsifier" in said


def test_the_list_is_json_on_request(recipe: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["list", str(recipe), "--market", "US", "--json"]) == 0
    made = json.loads(capsys.readouterr().out)
    assert made["US"]["names"][0] == {
        "name": "Water", "percent": "90.0000", "low": "90.0000", "high": "90.0000",
        "block": "ordered", "from": ["Aqua 90 %"], "rules": ["LR29"], "not_certain_against": [],
    }  # fmt: skip


def test_the_explanation_is_printed_and_saved(
    recipe: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "list.html"
    assert main(["list", str(recipe), "--explain", "--save", str(target)]) == 0
    assert "Why each name stands where it does" in capsys.readouterr().out
    assert target.read_text(encoding="utf-8").startswith("<!doctype html>")


def test_an_unknown_material_is_told_without_a_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "odd.csv"
    file.write_text(RECIPE + "C,Mystery powder,1\n", encoding="utf-8")
    assert main(["list", str(file)]) == 2
    assert "Mystery powder" in capsys.readouterr().err
