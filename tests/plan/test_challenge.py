"""Challenge tests: bounds stay bounds, rebounds are seen, the wording decides nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from labkit.bench import Bench
from labkit.errors import ScienceError
from labkit.formula import Formula
from labkit.plan.challenge import read_challenge

FIVE: dict[str, dict[int, float | str]] = {
    "P. aeruginosa": {0: 1e6, 7: 200, 14: "<10", 28: "<10"},
    "S. aureus": {0: 1e6, 7: 300, 14: 20, 28: "<10"},
    "E. coli": {0: 1e6, 7: 150, 14: "<10", 28: "<10"},
    "C. albicans": {0: 2e5, 7: 1.8e4, 14: 1.5e4, 28: 1.2e4},
    "A. brasiliensis": {0: 1e5, 14: 1.2e5, 28: 6e4},
}


def test_the_worst_organism_decides() -> None:
    # ISO 11930 as in datasets/challenge_criteria.csv: mould with 0.22 log at day 28 is B
    read = read_challenge(FIVE)
    assert read.verdicts["A. brasiliensis"] == "B"
    assert (read.overall, read.words) == ("B", "needs documented extra protection")


def test_a_count_below_detection_is_a_bound_in_the_table() -> None:
    table = read_challenge(FIVE).table()
    row = table[(table.organism == "E. coli") & (table.day == 14)].iloc[0]
    assert (row["count"], row.reduction) == ("<10", ">5.00")
    assert table[table.day == 0].reduction.eq("").all()


def test_a_rebound_is_told_with_its_size() -> None:
    read = read_challenge({"bacteria": {0: 1e6, 7: 200, 14: 10, 28: 100}})
    assert read.overall == "fails"
    assert "rose by 1.00 log from day 14 to day 28, beyond" in read.rebounds[0]
    small = read_challenge({"mould": {0: 1e5, 14: 3e4, 28: 5e4}}, "USP <51> category 2")
    assert small.overall == "meets"
    assert "within the 0.5 log" in small.rebounds[0]


def test_a_rise_after_a_bound_is_at_least_that_much() -> None:
    read = read_challenge({"bacteria": {0: 1e6, 7: 200, 14: "<10", 28: 100}})
    assert "at least 1.00 log" in read.rebounds[0]


def test_the_words_defer_to_laboratory_and_assessor() -> None:
    told = str(read_challenge(FIVE))
    assert "laboratory" in told
    assert "assessor" in told
    assert "preserved" not in told


def test_missing_days_are_incomplete() -> None:
    read = read_challenge({"bacteria": {0: 1e6, 7: "<10"}})
    assert read.overall == "incomplete"
    assert read.words == "days 14 and 28 missing"


def test_the_reading_is_kept_with_the_trial(tmp_path: Path) -> None:
    with Bench.open(tmp_path) as bench:
        trial = bench.record(Formula.parse("phase,material,percent\nA,Aqua,100"))
        record = read_challenge(FIVE).record(bench, trial, method="report 12, contract laboratory")
        assert record.body["counts"][2] == {
            "organism": "P. aeruginosa",
            "day": "14",
            "count": "<10",
        }
        assert record.body["criteria"] == "ISO 11930"
        assert bench.records("challenge", about=trial) == [record]
        assert bench.verify().ok


def test_an_unknown_standard_is_refused() -> None:
    with pytest.raises(ScienceError, match="no criteria of"):
        read_challenge(FIVE, "home test")
