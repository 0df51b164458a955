"""Hostile inputs of the published list that concern records, texts, numbers and photos.

The other cases of the list belong to import, export, report and server.
"""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

import pytest

from labkit.bench import Bench
from labkit.bench.canonical import plain
from labkit.bench.records import make, read
from labkit.errors import LabkitError, RecordError
from labkit.formula import Formula

LIST = Path(__file__).parents[1] / "reference" / "hostile_inputs.json"
CASES: dict[str, dict[str, Any]] = {
    case["id"]: case for case in json.loads(LIST.read_text(encoding="utf-8"))["items"]
}


SPOKEN = [c for c, case in CASES.items() if c[:4] in {"csv-", "html"} and "text" in case["give"]]


def given(case: str) -> dict[str, Any]:
    found: dict[str, Any] = CASES[case]["give"]
    return found


@pytest.mark.parametrize("case", SPOKEN)
def test_words_meant_for_a_sheet_or_a_page_are_kept_exactly_and_shown_as_words(
    bench: Bench, cream: Formula, case: str
) -> None:
    text = given(case)["text"]
    note = bench.note(bench.record(cream), text)
    assert bench.store.get(note.id).body["text"] == text.strip()
    page = note._repr_html_()
    assert "<script" not in page
    assert "<img" not in page
    assert "<iframe" not in page
    assert bench.verify().ok


def test_txt_01_a_direction_override_is_refused_and_made_visible(
    bench: Bench, cream: Formula
) -> None:
    text = given("txt-01")["text"]
    with pytest.raises(RecordError, match="⟨U"):
        bench.note(bench.record(cream), text)
    with pytest.raises(LabkitError):
        bench.record(cream.swap("glycerin", text))
    assert len(bench.trials()) == 1


def test_txt_03_a_nul_is_refused_with_a_clear_word(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream)
    with pytest.raises(RecordError, match="a NUL sign"):
        bench.note(trial, given("txt-03")["text"])
    with pytest.raises(RecordError, match="a NUL sign"):
        bench.record(cream, note=given("txt-03")["text"])


def test_txt_04_half_a_surrogate_pair_is_refused_on_entry_and_in_a_file(
    bench: Bench, cream: Formula
) -> None:
    trial = bench.record(cream)
    with pytest.raises(RecordError, match="half of a surrogate pair"):
        bench.note(trial, json.loads(given("txt-04")["json"]))
    note = bench.note(trial, "X").raw
    with pytest.raises(RecordError):
        read(note.replace(b'"X"', given("txt-04")["json"].encode()))


def test_txt_05_two_spellings_of_an_accent_are_one_name() -> None:
    one, other = given("txt-05")["text_pair"]
    assert one != other
    bodies = [{"material": plain({"name": name})} for name in (one, other)]
    assert make("material", bodies[0]).id == make("material", bodies[1]).id


def test_txt_09_what_is_typed_into_the_search_box_is_bound(bench: Bench, cream: Formula) -> None:
    text = given("txt-09")["text"]
    trial = bench.record(cream)
    assert bench.search(text) == []
    bench.note(trial, "x", tags=[text])
    assert len(bench.search(text)) == 1
    with Bench.open(str(bench.store.file), person=text) as again:
        again.record(cream)
    assert bench.verify().ok
    assert len(bench.trials()) == 2


@pytest.mark.parametrize("text", given("num-01")["text_each"])
def test_num_01_a_reading_that_is_no_number_is_refused(
    bench: Bench, cream: Formula, text: str
) -> None:
    trial = bench.record(cream)
    with pytest.raises(LabkitError):
        bench.measure(trial, "viscosity", f"{text} mPa*s")
    assert bench.readings().empty


def test_num_04_a_giant_exponent_is_refused_fast(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream)
    text = given("num-04")["text"]
    start = time.perf_counter()
    for typed in (text, f"{text} mPa*s", f"-{text} mPa*s"):
        with pytest.raises(LabkitError, match="Powers of ten"):
            bench.measure(trial, "viscosity", typed)
    assert time.perf_counter() - start < 1
    assert bench.readings().empty


def test_rec_01_doubled_keys_are_refused() -> None:
    with pytest.raises(RecordError, match="Doubled keys"):
        read(given("rec-01")["json"].encode())


def test_rec_02_deep_nesting_is_refused_without_an_overflow() -> None:
    with pytest.raises(RecordError, match="not a record that can be read"):
        read(b"[" * 200_000)
    with pytest.raises(RecordError, match="more than 32 levels"):
        read(b'{"a":' + b"[" * 200 + b"]" * 200 + b"}")


def test_rec_10_a_claimed_author_is_only_a_claim(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream)
    body = {k: v for k, v in trial.record.body.items() if k != "schema"}
    forged = make("trial", body | {"author": "instructor"})
    with bench.store.writing() as writer:
        writer.take([forged])
    frame = bench.trials()
    assert "instructor" in set(frame["author"])
    assert forged.id != trial.id
    assert "instructor" not in bench.trial(forged.id)._repr_html_()


def test_txt_07_a_title_that_looks_like_a_path_opens_nothing(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream.renamed(given("txt-07")["text"]))
    assert bench.trial(trial.id).name == given("txt-07")["text"]
    assert bench.store.file is not None
    assert {p.name for p in bench.store.file.parent.iterdir()} == {"bench.db"}
