"""The one spelling of a record, held against the reference implementation of RFC 8785."""

from __future__ import annotations

import hashlib
import json
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from labkit.bench.canonical import (
    MAX_BYTES,
    canonical,
    decimal_text,
    parse,
    plain,
    record_id,
    visible,
)
from labkit.errors import RecordError

KEYS = st.from_regex(r"[a-z][a-z0-9_]{0,12}", fullmatch=True)
TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
LETTERS = st.characters(exclude_categories=["Cs"], exclude_characters="\0" + TURNING)
TEXTS = st.text(LETTERS, max_size=30).map(plain)
VALUES = st.recursive(
    st.one_of(
        TEXTS,
        st.integers(-(2**53) + 1, 2**53 - 1),
        st.booleans(),
    ),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(KEYS, inner, max_size=4)),
    max_leaves=20,
)
BODIES = st.dictionaries(KEYS.filter(lambda key: key != "private"), VALUES, max_size=6)


@given(BODIES)
def test_the_bytes_are_those_of_the_reference_implementation(body: dict[str, Any]) -> None:
    assert canonical(body) == rfc8785.dumps(body)


@given(BODIES)
def test_reading_gives_back_what_was_written(body: dict[str, Any]) -> None:
    assert parse(canonical(body)) == body


@given(BODIES, st.randoms())
def test_the_order_of_keys_is_irrelevant(body: dict[str, Any], dice: Any) -> None:
    keys = list(body)
    dice.shuffle(keys)
    assert canonical({key: body[key] for key in keys}) == canonical(body)


def test_accents_and_signs_beyond_ascii_agree_with_the_reference() -> None:
    body = {"note": plain('Crème "brûlée"\\ 25 °C\n\t\x07\u2028 😀'), "unit": "µm"}
    assert canonical(body) == rfc8785.dumps(body)


def test_the_name_is_the_plain_sha256_of_the_bytes() -> None:
    raw = canonical({"value": "4.60"})
    assert record_id(raw) == hashlib.sha256(raw).hexdigest()


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({"a": 1.5}, "type float"),
        ({"a": None}, "an empty value"),
        ({"a": [None]}, "an empty value"),
        ({"A": 1}, "the key 'A'"),
        ({"a b": 1}, "the key 'a b'"),
        ({"ä": 1}, "the key"),
        ({"": 1}, "the key ''"),
        ({"/a": 1}, "the key '/a'"),
        ({"private": {"lot": "x"}}, "the key 'lot'"),
        ({"a": 2**53}, "whole number 9007199254740992"),
        ({"a": -(2**53)}, "whole number"),
        ({"a": "x\0y"}, "a NUL sign"),
        ({"a": "é\0y"}, "a NUL sign"),
        ({"a": "\ud800"}, "half of a surrogate pair"),
        ({"a": "e\u0300"}, "not NFC"),
        ({"a": b"x"}, "type bytes"),
        ({"a": Decimal(1)}, "type Decimal"),
        ({"a": "x" * MAX_BYTES}, "At most 1000000 bytes"),
    ],
)
def test_what_has_no_canonical_form_is_refused(body: dict[str, Any], words: str) -> None:
    with pytest.raises(RecordError, match=words):
        canonical(body)


def nested(depth: int) -> dict[str, Any]:
    body: dict[str, Any] = {"a": 1}
    for _ in range(depth - 1):
        body = {"a": body}
    return body


def test_thirty_two_levels_are_allowed_and_one_more_is_not() -> None:
    assert parse(canonical(nested(32))) == nested(32)
    with pytest.raises(RecordError, match="more than 32 levels"):
        canonical(nested(33))
    with pytest.raises(RecordError, match="more than 32 levels"):
        parse(json.dumps(nested(33), separators=(",", ":")).encode())
    with pytest.raises(RecordError, match="more than 32 levels"):
        plain(nested(5000))


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b'{"a":1,"a":2}', "not written in the canonical way"),
        (b'{"a":2,"a":2}', "not written in the canonical way"),
        (b'{"b":1,"a":2}', "not written in the canonical way"),
        (b'{"a": 1}', "not written in the canonical way"),
        (b'{"a":1}\n', "not written in the canonical way"),
        (b'{"a":"\\u0041"}', "not written in the canonical way"),
        (b'{"a":-0}', "not written in the canonical way|type float"),
        (b'{"a":1e2}', "type float"),
        (b'{"a":null}', "an empty value"),
        (b'{"a":"\\ud800"}', "not a record that can be read"),
        (b'{"a":"\xff"}', "not a record that can be read"),
        (b'{"a":NaN}', "not a record that can be read"),
        (b"[" * 200_000, "not a record that can be read"),
        (b'{"a":' * 150_000, "not a record that can be read"),
        (b"[1]", "a list or a single value"),
        (b'"x"', "a list or a single value"),
        (b"", "not a record that can be read"),
        (b"\x80\x04K\x01.", "not a record that can be read"),
        (b" " * (MAX_BYTES + 1), "At most 1000000 bytes"),
    ],
)
def test_bytes_that_are_not_canonical_are_refused(raw: bytes, words: str) -> None:
    with pytest.raises(RecordError, match=words):
        parse(raw)


@given(st.binary(max_size=60))
def test_any_bytes_are_read_exactly_or_refused(raw: bytes) -> None:
    try:
        body = parse(raw)
    except RecordError:
        return
    assert canonical(body) == raw


def test_plain_values_keep_digits_and_leave_out_what_is_missing() -> None:
    given_values = {"value": Decimal("4.60"), "t": 25.0, "n": None, "on": True, "list": (1, "a")}
    assert plain(given_values) == {"value": "4.60", "t": "25.0", "on": True, "list": [1, "a"]}


def test_numpy_values_are_plain_numbers() -> None:
    given_values = {
        "a": np.float32(0.5),
        "b": np.int64(3),
        "c": np.array([1.5, 2.5]),
        "d": np.True_,
    }
    assert plain(given_values) == {"a": "0.5", "b": 3, "c": ["1.5", "2.5"], "d": True}


def test_a_missing_value_inside_a_list_is_refused_by_the_canonical_form() -> None:
    with pytest.raises(RecordError, match="an empty value"):
        canonical({"a": plain([1, None])})


def test_an_accent_written_apart_gives_the_same_name() -> None:
    assert plain("Cre\u0300me base") == plain("Cr\u00e8me base")


@pytest.mark.parametrize("turning", "\u202a\u202e\u2066\u2069")
def test_hidden_direction_marks_are_refused_and_shown(turning: str) -> None:
    with pytest.raises(RecordError, match="hidden direction marks in 'Aqua⟨U"):
        plain(f"Aqua{turning}%5.0")


def test_an_object_without_plain_values_is_refused() -> None:
    with pytest.raises(RecordError, match="a value of the type object"):
        plain({"a": object()})


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1E9999999", "1E-9999999"])
def test_numbers_that_no_bench_has_are_refused_fast(number: str) -> None:
    with pytest.raises(RecordError, match="no number that a bench can have"):
        decimal_text(Decimal(number))


def test_a_number_of_a_hundred_digits_is_refused() -> None:
    with pytest.raises(RecordError, match="more than sixty digits"):
        decimal_text(Decimal("0." + "3" * 100))


@given(st.floats(-1e12, 1e12).filter(lambda x: x == 0 or abs(x) > 1e-12))
def test_a_float_comes_back_from_its_digits(number: float) -> None:
    assert float(decimal_text(number)) == number


def test_no_minus_zero() -> None:
    assert decimal_text(-0.0) == "0.0"


def test_control_and_direction_marks_are_made_visible() -> None:
    assert visible("a\u202eb\x07c\u200bd\ne") == "a⟨U+202E⟩b⟨U+0007⟩c⟨U+200B⟩d\ne"
