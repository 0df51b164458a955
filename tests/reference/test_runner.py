"""The runner and its tolerance rules (design: own tolerance, else printed digits or 1e-6)."""

from __future__ import annotations

from pathlib import Path

import pytest

from labkit.errors import ScienceError
from tests.reference import run
from tests.reference.tolerance import (
    Band,
    band,
    groups,
    half_last_digit,
    match,
    near,
    number,
    refused,
)


@pytest.mark.parametrize(
    ("text", "half"),
    [("1.25", 0.005), ("0.10", 0.005), ("12", 0.5), ("1.2e-3", 0.00005), ("300", 0.5)],
)
def test_half_the_last_printed_digit(text: str, half: float) -> None:
    assert half_last_digit(text) == pytest.approx(half)


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ({"tol_abs": "0.01", "tolerance": "9 %"}, Band(0.01, 0.0)),
        ({"tol_abs": "", "tol_rel": "1e-4"}, Band(0.0, 1e-4)),
        ({"tolerance": "0.5 %"}, Band(0.0, 0.005)),
        ({"tolerance": "1e-4 relative"}, Band(0.0, 1e-4)),
        ({"tolerance": "0.05"}, Band(0.05)),
        ({"tolerance": "factor 2", "tol_rel": "1.0"}, Band(factor=2.0)),
        ({"tolerance": "worked: 0.5 %; physical: factor 2", "tol_rel": "0.005"}, Band(0.0, 0.005)),
        ({"tolerance": "log +-0.02; verdict exact"}, Band(0.02)),
        ({"tolerance": "exact"}, Band()),
        ({"source_kind": "computed"}, Band(0.0, 1e-6)),
        ({"source_kind": "opened"}, Band(0.005)),
        ({"source_kind": "memory", "tolerance": "n/s"}, Band(0.005)),
    ],
)
def test_the_rows_own_tolerance_comes_first(row: dict[str, str], expected: Band) -> None:
    assert band(row, "1.25") == expected


def test_a_band_by_factor_is_symmetric() -> None:
    assert Band(factor=2.0).holds(2.0, 4.0)
    assert Band(factor=2.0).holds(8.0, 4.0)
    assert not Band(factor=2.0).holds(1.9, 4.0)


def test_not_a_number_never_passes() -> None:
    assert not Band(absolute=1e9).holds(float("nan"), 1.0)


def test_numbers_are_found_in_prose() -> None:
    assert number("k at 25 C (1/day)") == 25.0
    assert number("−3.5 K") == -3.5
    assert number("none") is None


def test_json_leaves_are_compared_one_by_one() -> None:
    row = {"_id": "x", "tolerance": "1 %", "expected_json": '{"a": 1.0, "b": [true, "w"]}'}
    assert match(row, {"a": 1.005, "b": [True, "w"], "more": 1}).status == "passed"
    assert match(row, {"a": 1.02, "b": [True, "w"]}).status == "failed"
    assert match(row, {"a": 1.0}).status == "failed"


def test_a_call_that_answers_is_no_refusal() -> None:
    def refuse() -> None:
        raise ScienceError(where="Pair", found="16", allowed="4 to 15", cause="", do="")

    row = {"_id": "x"}
    assert refused(row, refuse, "4 to 15").status == "passed"
    assert refused(row, lambda: 1.0).status == "failed"


def test_near_says_both_sides() -> None:
    result = near({"_id": "x", "value": "1.25", "tol_abs": "0.01"}, 1.3)
    assert (result.status, result.expected, result.got) == ("failed", "1.25", "1.3")


def test_groups_keep_the_order_of_the_file() -> None:
    rows = [{"case": "b"}, {"case": "a"}, {"case": "b"}]
    assert [key for key, _ in groups(rows, "case")] == [("b",), ("a",)]


def test_an_unknown_table_is_reported_and_does_not_pass(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "unheard.csv"
    path.write_text("thing,amount\na,1\nb,2\n", encoding="utf-8")
    assert run.main([str(path)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == "0 passed, 0 failed, 2 not covered"


def test_the_list_of_rows_not_covered_is_no_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert run.main([str(run.LISTED)]) == 0
    assert capsys.readouterr().out == "0 passed, 0 failed, 0 not covered\n"


def test_a_table_of_facts_is_counted_as_facts(tmp_path: Path) -> None:
    path = tmp_path / "materials.csv"
    path.write_text("material_id,inci\nM001,Aqua\n", encoding="utf-8")
    assert [result.status for result in run.run_file(path)] == ["fact"]


def test_a_missing_file_is_told_without_a_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run.main([str(tmp_path / "nothing.csv")]) == 2
    assert "cannot be read" in capsys.readouterr().err


def test_an_adapter_that_raises_fails_its_rows() -> None:
    class Broken:
        @staticmethod
        def check(rows: list[dict[str, str]]) -> list[object]:
            raise RuntimeError("broken")

    (result,) = run.run_rows([{"_id": "r"}], [Broken])  # type: ignore[list-item]
    assert result.status == "failed"
    assert "broken" in result.reason


def test_a_table_under_another_name_is_known_by_its_columns(tmp_path: Path) -> None:
    path = tmp_path / "seven.csv"
    path.write_text(
        "id,substance,quantity,inputs,value,unit,temperature_C,tolerance,tol_abs,tol_rel,source,"
        "source_kind,note\n"
        'q,Benzoic Acid,"undissociated fraction, ideal","{""pH"": 4.2, ""pKa"": 4.2}",0.5,-,25,'
        ",,0.001,half at pH = pKa,computed,\n",
        encoding="utf-8",
    )
    assert [result.status for result in run.run_file(path)] == ["passed"]


def test_rows_without_an_id_are_told_apart(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("case,item\nx,k\nx,k\n", encoding="utf-8")
    assert [row["_id"] for row in run.load(path)] == ["x / k", "x / k #2"]
