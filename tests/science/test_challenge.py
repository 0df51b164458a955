"""Challenge tests: bounds stay bounds, and the worst organism decides."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science import challenge as c


@given(st.floats(1e4, 1e8), st.floats(1.0, 1e8))
def test_a_reduction_is_the_difference_of_the_logarithms(start: float, now: float) -> None:
    reduction = c.log_reductions({0: start, 14: now})[14]
    assert start / 10.0**reduction.value == pytest.approx(now)
    assert not reduction.at_least


def test_a_count_below_the_limit_is_a_lower_bound() -> None:
    assert str(c.log_reductions({"0": 1e6, "7": "<10"})[7]) == ">5.00"


def test_missing_days_are_named_and_never_taken_as_met() -> None:
    few = c.log_reductions({0: 1e6, 7: "<10"})
    assert c.verdict("ISO 11930", "bacteria", few) == "incomplete: days 14 and 28 missing"


def test_a_rebound_fails_although_the_reduction_is_still_high() -> None:
    rebound = c.log_reductions({0: 1e6, 7: 200, 14: 10, 28: 100})
    assert c.verdict("ISO 11930", "E. coli", rebound) == "fails"


def test_half_a_log_counts_as_no_increase_and_more_does_not() -> None:
    # USP <51>, category 2, yeast and mould: no increase from the initial count
    for count, expected in ((3.1e5, "meets"), (3.3e5, "fails")):
        found = c.log_reductions({0: 1e5, 14: count, 28: 1e5})
        assert c.verdict("USP <51> category 2", "C. albicans", found) == expected


def test_slow_death_meets_the_second_criterion_only() -> None:
    # ISO 11930: A asks 3 log at day 7, B at day 14
    slow = c.log_reductions({0: 1e6, 7: 1e4, 14: 900, 28: 900})
    assert c.verdict("ISO 11930", "S. aureus", slow) == "B"


def test_the_worst_organism_decides() -> None:
    assert c.overall({"a": "A", "b": "A"})[0] == "A"
    assert c.overall({"a": "A", "b": "B"}) == ("B", "needs documented extra protection")
    assert c.overall({"a": "B", "b": "fails"})[0] == "fails"
    assert c.overall({"a": "B", "b": "incomplete: day 28 missing"}) == (
        "incomplete",
        "day 28 missing",
    )


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: c.log_reductions({7: 100}), "no count at day 0"),
        (lambda: c.log_reductions({0: "<10", 7: 5}), "no count at day 0"),
        (lambda: c.log_reductions({0: 1e6, 7: 0}), "Count at day 7: 0 CFU/g"),
        (lambda: c.log_reductions({0: 1e6, 7: "many"}), "Count at day 7: nan"),
        (lambda: c.verdict("house method", "bacteria", {}), "no criteria of 'house method'"),
        (lambda: c.verdict("ISO 11930", "algae", {}), "for 'algae'"),
        (lambda: c.overall({}), "no organism"),
    ],
)
def test_what_cannot_be_read_is_refused(call: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        call()  # type: ignore[operator]
