"""The sample sheets come out as stated beside them (tests/reference/messy_sheets/README.md)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from labkit.reading import read_recipe
from tests.reading.comparing import differences

SAMPLES = Path(__file__).parents[1] / "reference" / "messy_sheets"
EXPECTED = sorted(SAMPLES.glob("*.expected.json"))


def _sheet_of(expected: Path) -> Path:
    stem = expected.name.removesuffix(".expected.json")
    (sheet,) = [x for x in SAMPLES.glob(f"{stem}.*") if not x.name.endswith(".expected.json")]
    return sheet


def test_there_are_samples() -> None:
    assert len(EXPECTED) >= 8


@pytest.mark.parametrize("expected", EXPECTED, ids=lambda x: x.name.partition(".")[0])
def test_a_sample_comes_out_as_stated(expected: Path) -> None:
    stated = json.loads(expected.read_text(encoding="utf-8"))
    assert differences(stated, read_recipe(_sheet_of(expected)).as_dict()) == []


@pytest.mark.parametrize("expected", EXPECTED, ids=lambda x: x.name.partition(".")[0])
def test_every_row_of_a_sample_is_accounted_for(expected: Path) -> None:
    report = read_recipe(_sheet_of(expected))
    assert [x.row for x in report.rows] == list(range(1, len(report.rows) + 1))
    lines = {x.row for recipe in report.recipes for x in recipe.lines}
    assert {x.row for x in report.rows if x.kept_as == "line"} == lines
    assert all(x.kept_as == "blank" for x in report.rows if not x.text)


def test_the_comparison_can_fail() -> None:
    stated = json.loads(EXPECTED[0].read_text(encoding="utf-8"))
    stated["formulas"][0]["lines"][1]["amount"] = "400"
    stated["findings"].append({"row": 99, "code": "blend", "severity": "tell"})
    wrong = differences(stated, read_recipe(_sheet_of(EXPECTED[0])).as_dict())
    assert len(wrong) == 2
