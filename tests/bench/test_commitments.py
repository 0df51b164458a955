"""Private values: closed, opened, forged."""

from __future__ import annotations

import hashlib
import random
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from labkit.bench.commitments import Opening, commitment, fits, hide, reveal
from labkit.errors import RecordError

BODY: dict[str, Any] = {
    "name": "glycerin",
    "lot": "L-7",
    "price": {"per_kg": "3.20", "currency": "EUR"},
    "weighings": [{"grams": "1"}, {"grams": "2"}],
}
DICE = random.Random(1).randbytes


def test_the_commitment_is_the_hash_of_the_canonical_list() -> None:
    one = Opening(pointer="/lot", salt="ab" * 16, value="L-7")
    expected = rfc8785.dumps(["labkit-private-1", "/lot", "ab" * 16, "L-7"])
    assert commitment(one) == hashlib.sha256(expected).hexdigest()


def test_a_hidden_value_leaves_only_its_commitment() -> None:
    shut, openings = hide(BODY, ["/lot", "/price", "/absent"], DICE)
    assert "lot" not in shut
    assert "price" not in shut
    assert set(shut["private"]) == {"/lot", "/price"}
    assert b"3.20" not in rfc8785.dumps(shut)
    assert all(len(one.salt) == 32 for one in openings)
    assert BODY["lot"] == "L-7"


def test_the_same_value_hidden_twice_has_two_commitments() -> None:
    first, _ = hide(BODY, ["/lot"], DICE)
    second, _ = hide(BODY, ["/lot"], DICE)
    assert first["private"] != second["private"]


@given(st.sets(st.sampled_from(["/lot", "/price", "/weighings/1", "/weighings/0/grams"])))
def test_all_openings_give_the_body_back(pointers: set[str]) -> None:
    shut, openings = hide(BODY, pointers, DICE)
    found = reveal(shut, openings)
    found.pop("private", None)
    assert found == BODY


def test_a_body_can_be_partly_opened() -> None:
    shut, openings = hide(BODY, ["/lot", "/price"], DICE)
    found = reveal(shut, [one for one in openings if one.pointer == "/lot"])
    assert found["lot"] == "L-7"
    assert "price" not in found


def test_a_hidden_line_shows_that_there_is_one() -> None:
    shut, _ = hide(BODY, ["/weighings/0"], DICE)
    assert shut["weighings"] == [{"hidden_line": True}, {"grams": "2"}]


@pytest.mark.parametrize(
    "forge",
    [
        lambda one: Opening(pointer=one.pointer, salt=one.salt, value="L-8"),
        lambda one: Opening(pointer=one.pointer, salt="0" * 32, value=one.value),
        lambda one: Opening(pointer="/price", salt=one.salt, value=one.value),
        lambda one: Opening(pointer=one.pointer, salt=one.salt, value=1.5),
    ],
)
def test_a_forged_opening_is_refused(forge: Any) -> None:
    shut, (one,) = hide(BODY, ["/lot"], DICE)
    assert fits(shut, one)
    assert not fits(shut, forge(one))
    with pytest.raises(RecordError, match="does not match its commitment"):
        reveal(shut, [forge(one)])


def test_an_opening_is_kept_as_text_and_read_back() -> None:
    one = Opening(pointer="/price", salt="ab" * 16, value={"per_kg": "3.20"})
    assert Opening.kept(one.pointer, one.salt, one.value_text()) == one
    with pytest.raises(RecordError, match="cannot be read"):
        Opening.kept("/lot", "00", "{")
