"""What a record says today, whoever folds it and in whatever order."""

from __future__ import annotations

import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.bench import Bench
from labkit.bench.fold import amendment_heads, fold, folding_order, void
from labkit.bench.records import Record, make
from labkit.errors import LabkitError, MeasurementError, RecordError
from labkit.formula import Formula

HEAD: dict[str, Any] = {"workspace": "w", "author": "p"}
A = "a" * 64
READING = make(
    "measurement",
    HEAD
    | {"created": "2026-11-24T09:00:00Z", "parents": [], "about": [A]}
    | {"quantity": "pH", "value": "4.62", "unit": "pH"},
)


def amend(now: str, second: int, *parents: Record, path: str = "/value") -> Record:
    body = {"created": f"2026-11-24T10:00:{second:02d}Z", "about": [READING.id], "path": path}
    named = sorted(parent.id for parent in parents)
    return make("amendment", HEAD | body | {"parents": named, "now": now, "reason": "typo"})


def withdraw(what: Record, second: int = 0) -> Record:
    body = {"created": f"2026-11-24T11:00:{second:02d}Z", "parents": [], "about": [what.id]}
    return make("withdrawal", HEAD | body | {"reason": "wrong beaker"})


def test_without_amendments_a_record_says_what_it_said() -> None:
    found = fold(READING)
    assert dict(found.body) == READING.body
    assert not found.rivals
    assert found.withdrawal is None


def test_a_chain_of_amendments_ends_at_its_last_whatever_their_clocks_said() -> None:
    first = amend("4.26", 50)
    second = amend("4.27", 10, first)
    found = fold(READING, [second, first])
    assert found.body["value"] == "4.27"
    assert found.original["value"] == "4.62"
    assert not found.rivals
    assert found.amendments == (first, second)


def test_two_amendments_that_do_not_know_of_each_other_are_both_shown() -> None:
    mine, yours = amend("4.26", 1), amend("4.36", 2)
    found = fold(READING, [yours, mine])
    assert [record.body["now"] for record in found.rivals["/value"]] == ["4.26", "4.36"]


def test_a_third_amendment_that_names_both_settles_it() -> None:
    mine, yours = amend("4.26", 1), amend("4.36", 2)
    third = amend("4.30", 0, mine, yours)
    found = fold(READING, [third, yours, mine])
    assert not found.rivals
    assert found.body["value"] == "4.30"


def test_amendments_of_different_places_are_no_rivals() -> None:
    found = fold(READING, [amend("4.26", 1), amend("warm", 2, path="/note")])
    assert not found.rivals
    assert (found.body["value"], found.body["note"]) == ("4.26", "warm")


@st.composite
def histories(draw: st.DrawFn) -> list[Record]:
    made: list[Record] = []
    for step in range(draw(st.integers(1, 9))):
        parents = draw(st.lists(st.sampled_from(made), max_size=2, unique=True)) if made else []
        path = draw(st.sampled_from(["/value", "/note"]))
        made.append(amend(f"4.{step}", draw(st.integers(0, 3)), *parents, path=path))
    return list({record.id: record for record in made}.values())


@given(histories(), st.integers(0, 2**32))
def test_the_order_of_arrival_is_irrelevant(history: list[Record], seed: int) -> None:
    shuffled = list(history)
    random.Random(seed).shuffle(shuffled)
    one, other = fold(READING, history), fold(READING, shuffled)
    assert dict(one.body) == dict(other.body)
    assert dict(one.rivals) == dict(other.rivals)
    assert one.amendments == other.amendments


@given(histories())
def test_nobody_stands_before_what_it_names(history: list[Record]) -> None:
    at = {record.id: i for i, record in enumerate(folding_order(history))}
    assert len(at) == len(history)
    for record in history:
        assert all(at[parent] < at[record.id] for parent in record.body["parents"])


@given(histories())
def test_every_place_has_a_head_and_no_head_is_followed(history: list[Record]) -> None:
    heads = amendment_heads(history)
    assert set(heads) == {record.body["path"] for record in history}
    for path, several in heads.items():
        followed = {p for r in history if r.body["path"] == path for p in r.body["parents"]}
        assert several
        assert not followed & {head.id for head in several}


def test_a_withdrawn_amendment_no_longer_counts() -> None:
    change = amend("4.26", 1)
    found = fold(READING, [change], void([withdraw(change)]))
    assert found.body["value"] == "4.62"


def test_a_withdrawal_can_be_withdrawn_and_that_again() -> None:
    first = withdraw(READING, 1)
    second = withdraw(first, 2)
    third = withdraw(second, 3)
    assert READING.id in void([first])
    assert READING.id not in void([second, first])
    assert READING.id in void([third, first, second])


# through the bench ------------------------------------------------------------


def test_an_amended_reading_shows_the_new_value_and_keeps_the_old(
    bench: Bench, cream: Formula
) -> None:
    trial = bench.record(cream)
    reading = bench.measure(trial, "pH", 4.62)
    change = bench.amend(reading, "/value", now=4.26, reason="digits swapped")
    assert change.body["was"] == "4.62"
    row = bench.readings().iloc[0]
    assert (row["value"], row["text"], bool(row["amended"])) == (4.26, "4.26 pH", True)
    assert bench.store.get(reading.id).body["value"] == "4.62"
    assert bench.verify().ok


def test_an_amendment_names_the_ones_before_it(bench: Bench, cream: Formula) -> None:
    reading = bench.measure(bench.record(cream), "pH", 4.62)
    first = bench.amend(reading, "/value", now=4.26, reason="swapped")
    second = bench.amend(reading, "/value", now="4.27", reason="read again")
    assert second.body["parents"] == [first.id]
    assert second.body["was"] == "4.26"
    assert not bench.reading(reading).rivals


def test_rival_amendments_are_shown_until_one_settles_them(bench: Bench, cream: Formula) -> None:
    reading = bench.measure(bench.record(cream), "pH", 4.62)
    for now in ("4.26", "4.36"):
        body = {"path": "/value", "now": now, "reason": "from another notebook"}
        bench.add("amendment", body, about=reading)
    shown = bench.reading(reading)
    assert len(shown.rivals["/value"]) == 2
    assert "4.26 or 4.36" in shown._repr_html_()
    assert "4.26 or 4.36" in bench.readings()["rivals"].iloc[0]
    bench.amend(reading, "/value", now="4.30", reason="measured again")
    assert bench.readings()["rivals"].isna().all()
    assert bench.readings()["value"].tolist() == [4.30]


def test_one_replicate_can_be_amended(bench: Bench, cream: Formula) -> None:
    reading = bench.measure(bench.record(cream), "viscosity", ["18.2 Pa*s", "18900 cps"])
    bench.amend(reading, "/replicates/0/value", now="19.2 Pa*s", reason="misread")
    bench.amend(reading, "/conditions/temperature_c", now="25", reason="forgotten")
    frame = bench.readings()
    assert frame["value"].tolist() == [19200.0, 18900.0]
    assert frame["temperature_c"].tolist() == [25.0, 25.0]


@pytest.mark.parametrize(
    ("path", "now", "kind", "words"),
    [
        ("/value", "55", MeasurementError, "A pH lies between 0 and 14"),
        ("/value", "12 mPa*s", LabkitError, "is a viscosity, not a pH"),
        ("/nowhere", "x", RecordError, "there is no '/nowhere'"),
        ("/about", [A], RecordError, "This part of a record never changes"),
        ("/created", "now", RecordError, "never changes"),
        ("value", "4.2", RecordError, "A place such as /value"),
        ("", "4.2", RecordError, "A place such as /value"),
        ("/at_h", "soon", RecordError, "decimal number written as text"),
    ],
)
def test_an_amendment_that_does_not_fit_is_refused(
    bench: Bench, cream: Formula, path: str, now: Any, kind: type[Exception], words: str
) -> None:
    reading = bench.measure(bench.record(cream), "pH", 4.62)
    before = bench.store.count()
    with pytest.raises(kind, match=words):
        bench.amend(reading, path, now=now, reason="a slip")
    assert bench.store.count() == before


def test_a_correction_in_another_unit_is_refused(bench: Bench, cream: Formula) -> None:
    reading = bench.measure(bench.record(cream), "viscosity", "18.2 Pa*s")
    with pytest.raises(MeasurementError, match=r"Write it in Pa\*s, or withdraw"):
        bench.amend(reading, "/value", now="18200 mPa*s", reason="unit")


def test_the_formula_and_the_forecast_of_a_trial_never_change(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream, forecast={"pH": (4, 5)})
    with pytest.raises(RecordError, match="Record a new trial"):
        bench.amend(trial, "/formula/lines/0/percent", now="60", reason="x")
    with pytest.raises(RecordError, match="a forecast stands as it was made"):
        bench.amend(trial, "/forecast", now={}, reason="x")


def test_an_amendment_without_a_reason_is_refused(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream, note="firts")
    with pytest.raises(RecordError, match="Reason: nothing was written"):
        bench.amend(trial, "/note", now="first", reason=" ")
    bench.amend(trial, "/note", now="first", reason="spelling")
    assert bench.trial(trial.id).note == "first"
    assert bench.trials()["note"].tolist() == ["first"]


def test_a_withdrawn_trial_and_its_readings_no_longer_count(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream)
    bench.measure(trial, "pH", 5.1)
    gone = bench.withdraw(trial, reason="wrong beaker")
    assert bench.trials().empty
    assert bench.readings().empty
    assert bench.trials(withdrawn=True)["withdrawn"].tolist() == ["wrong beaker"]
    assert bench.readings(withdrawn=True)["withdrawn"].tolist() == ["wrong beaker"]
    assert bench.trial("T1").withdrawn == "wrong beaker"
    bench.withdraw(gone, reason="it was the right beaker")
    assert len(bench.trials()) == 1
