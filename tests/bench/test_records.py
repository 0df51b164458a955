"""Kinds of records: closed lists of fields, read for ever."""

from __future__ import annotations

from typing import Any

import pytest

from labkit.bench import records
from labkit.bench.canonical import canonical, record_id
from labkit.bench.records import KINDS, check_body, edges, make, opened, read
from labkit.errors import RecordError

HEAD = {
    "workspace": "0c0ffee0-0000-4000-8000-000000000001",
    "author": "0c0ffee0-0000-4000-8000-000000000002",
    "created": "2026-11-24T09:00:00.000001Z",
    "parents": [],
}
A, B = "a" * 64, "b" * 64
MINIMAL: dict[str, dict[str, Any]] = {
    "material": {"material": {"name": "glycerin"}},
    "formula": {"formula": {"name": "cream", "lines": []}},
    "trial": HEAD | {"label": "T1", "formula": {"name": "cream", "lines": []}},
    "batch": HEAD | {"mass_g": "250.0", "weighings": [{"line": 0, "grams": "12.51"}]},
    "lot": HEAD | {"name": "glycerin", "lot": "L-7"},
    "measurement": HEAD | {"about": [A], "quantity": "pH", "value": "4.60", "unit": "pH"},
    "correction": HEAD | {"about": [A], "reason": "too thin", "additions": []},
    "note": HEAD | {"about": [A], "text": "split overnight"},
    "photo": HEAD | {"about": [A], "photo": B, "media_type": "image/jpeg", "width": 4, "height": 3},
    "stability": HEAD | {"about": [A], "event": "start", "condition": "40 °C"},
    "challenge": HEAD | {"about": [A], "counts": [{"day": "7", "count": "<10"}]},
    "acceptance": HEAD | {"about": [A], "code": "ph-window", "reason": "raised on purpose"},
    "decision": HEAD | {"about": [A], "verdict": "keep", "reason": "nice"},
    "sample": HEAD | {"name": "tap water", "sort": "water"},
    "model": HEAD | {"name": "thickness", "model": {"w": ["0.1"]}, "seed": 7},
    "amendment": HEAD
    | {"about": [A], "path": "/value", "was": "4.62", "now": "4.26", "reason": "digits swapped"},
    "withdrawal": HEAD | {"about": [A], "reason": "wrong beaker"},
    "seal": HEAD | {"count": 3, "digest": A},
    "redaction": HEAD | {"about": [A], "pointers": ["/lot"], "reason": "asked by the supplier"},
}


def test_every_kind_has_an_example_here() -> None:
    assert set(MINIMAL) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_a_record_is_read_back_as_it_was_made(kind: str) -> None:
    record = make(kind, MINIMAL[kind])
    again = read(record.raw, record.id)
    assert again == record
    assert again.known
    assert again.body["schema"] == f"labkit/{kind}/1"
    assert again.summary() == record.summary()
    assert record.id in again._repr_html_()


@pytest.mark.parametrize("kind", KINDS)
def test_each_field_that_must_be_there_is_missed_by_name(kind: str) -> None:
    for field, (_, needed) in records.fields_of(kind).items():
        if needed and field != "schema":
            body = {k: v for k, v in MINIMAL[kind].items() if k != field}
            with pytest.raises(RecordError, match=f"'{field}' is missing"):
                make(kind, body)


@pytest.mark.parametrize("kind", KINDS)
def test_a_field_of_another_kind_is_refused(kind: str) -> None:
    with pytest.raises(RecordError, match="'colour_of_the_moon' is not a field"):
        make(kind, MINIMAL[kind] | {"colour_of_the_moon": "red"})


@pytest.mark.parametrize(
    ("kind", "field", "value", "words"),
    [
        ("measurement", "value", "4,60", "decimal number written as text"),
        ("measurement", "value", "NaN", "decimal number written as text"),
        ("measurement", "value", "1e5", "decimal number written as text"),
        ("measurement", "about", A, "sorted list of record names"),
        ("measurement", "about", [B, A], "sorted list of record names"),
        ("measurement", "about", [A, A], "sorted list of record names"),
        ("measurement", "created", "yesterday", "A UTC time"),
        ("photo", "photo", "../../secret.png", "never a path"),
        ("photo", "photo", "file:///etc/hostname", "never a path"),
        ("photo", "photo", A.upper(), "64-digit name"),
        ("photo", "width", -1, "A whole number"),
        ("seal", "count", True, "A whole number"),
        ("trial", "formula", [], "A table of values"),
        ("trial", "private", {"/note": "open"}, "Commitments by place"),
    ],
)
def test_a_field_of_the_wrong_sort_is_refused(
    kind: str, field: str, value: Any, words: str
) -> None:
    with pytest.raises(RecordError, match=words):
        make(kind, MINIMAL[kind] | {field: value})


def test_an_unknown_kind_is_not_made() -> None:
    with pytest.raises(RecordError, match="the kind 'wish'"):
        make("wish", {})


def test_a_record_of_a_newer_version_is_kept_and_shown_as_such() -> None:
    raw = canonical({"schema": "labkit/trial/2", "aroma": "rose", "parents": [A]})
    record = read(raw)
    assert not record.known
    assert record.raw == raw
    assert "written by a newer labkit" in record.summary()
    assert list(edges(record.body)) == [("parent", A)]


def test_a_record_of_an_unknown_kind_is_kept_and_shown_as_such() -> None:
    record = read(canonical({"schema": "labkit/dream/1"}))
    assert (record.kind, record.known) == ("dream", False)


def test_bytes_without_a_schema_are_refused() -> None:
    with pytest.raises(RecordError, match="no schema"):
        read(canonical({"schema": "other/trial/1"}))
    with pytest.raises(RecordError, match="no schema"):
        read(canonical({"a": 1}))


def test_an_old_record_is_raised_when_it_is_read_and_keeps_its_name(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def rename(body: dict[str, Any]) -> dict[str, Any]:
        rest = {k: v for k, v in body.items() if k != "words"}
        return rest | {"text": body["words"], "schema": "labkit/note/1"}

    monkeypatch.setitem(records._RAISE, "labkit/note/0", rename)
    monkeypatch.setattr(records, "_SCHEMA", records.re.compile(r"labkit/([a-z]+)/(\d+)"))
    raw = canonical(HEAD | {"schema": "labkit/note/0", "about": [A], "words": "old"})
    record = read(raw)
    assert record.body["text"] == "old"
    assert (record.id, record.raw, record.known) == (record_id(raw), raw, True)


def test_content_that_differs_from_its_name_is_refused() -> None:
    record = make("note", MINIMAL["note"])
    with pytest.raises(RecordError, match="its content differs from its name"):
        read(record.raw.replace(b"split", b"whole"), record.id)


def test_edges_name_each_record_once_with_its_role() -> None:
    body = MINIMAL["trial"] | {
        "parents": [A],
        "batch": B,
        "materials": [{"line": 0, "material": B}, {"line": 1, "material": A}, {"line": 2}],
        "uses": ["not a name"],
    }
    assert list(edges(body)) == [("parent", A), ("uses", B), ("uses", A)]


def test_a_material_recorded_twice_has_one_name() -> None:
    assert make("material", MINIMAL["material"]).id == make("material", MINIMAL["material"]).id


def test_a_body_can_be_checked_without_making_a_record() -> None:
    with pytest.raises(RecordError, match="'text' is missing"):
        check_body("note", HEAD | {"schema": "labkit/note/1", "about": [A]})


def test_a_record_without_openings_is_itself() -> None:
    record = make("note", MINIMAL["note"])
    assert opened(record, ()) is record
    assert "split overnight" in repr(record)
