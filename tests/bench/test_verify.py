"""A changed, swapped, missing or shortened history is found, and the record named."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from labkit.bench import Bench, Record
from labkit.bench.commitments import Opening
from labkit.bench.records import make
from labkit.bench.verify import check_record
from labkit.formula import Formula


@pytest.fixture
def history(bench: Bench, cream: Formula) -> Bench:
    first = bench.record(cream, note="first", label="HC-01", recipe=b"water 100")
    second = bench.record(cream.move("glycerin", "6 %"), parent=first, label="HC-02")
    bench.measure(second, "pH", "5.31", temperature="25 °C")
    bench.add("lot", {"name": "glycerin", "lot": "L-7", "supplier": "the shop"})
    bench.note(first, "split overnight")
    return bench


def tamper(bench: Bench, *statements: tuple[str, tuple[object, ...]]) -> None:
    """Change the file behind the bench's back, as an attacker or a failing disk would."""
    raw = sqlite3.connect(str(bench.store.file))
    for trigger in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        raw.execute(f"DROP TRIGGER {trigger[0]}")
    for statement, values in statements:
        raw.execute(statement, values)
    raw.commit()
    raw.close()


def named(bench: Bench) -> set[str]:
    found = bench.verify()
    assert not found.ok
    assert "not hold" in str(found)
    return {problem.record for problem in found.problems}


def test_an_untouched_history_holds(history: Bench) -> None:
    steps: list[tuple[int, int]] = []
    found = history.verify(lambda done, total: steps.append((done, total)))
    assert found.ok
    assert (found.records, found.files, found.seals, found.closed) == (5, 1, 0, 0)
    assert steps[-1] == (5, 5)
    assert "as it was recorded" in str(found)


def flips(raw: bytes) -> Iterator[bytes]:
    for at in range(len(raw) * 8):
        flipped = bytearray(raw)
        flipped[at // 8] ^= 1 << at % 8
        yield bytes(flipped)


def test_every_single_bit_flip_of_every_record_is_found_and_named(history: Bench) -> None:
    count = 0
    for record in history.records():
        for flipped in flips(record.raw):
            _, problems = check_record(record.id, flipped)
            assert [problem.record for problem in problems] == [record.id]
            count += 1
    assert count > 10_000


def test_every_single_bit_flip_of_a_private_value_is_found_and_named(history: Bench) -> None:
    (lot,) = history.records("lot")
    for opening in history.store.openings([lot.id])[lot.id]:
        for flipped in flips(opening.value.encode()):
            text = flipped.decode("utf-8", "replace")
            forged = Opening(pointer=opening.pointer, salt=opening.salt, value=text)
            _, problems = check_record(lot.id, lot.raw, [forged])
            assert [problem.record for problem in problems] == [lot.id]


@pytest.mark.parametrize("at", range(0, 2400, 131))
def test_a_flipped_bit_in_the_file_is_found_through_the_bench(history: Bench, at: int) -> None:
    records = history.records()
    record = records[at % len(records)]
    flipped = bytearray(record.raw)
    flipped[at % len(record.raw)] ^= 1 << at % 8
    tamper(history, ("UPDATE record SET body = ? WHERE hash = ?", (bytes(flipped), record.id)))
    assert named(history) == {record.id}
    with pytest.raises(Exception, match=record.id[:12]):
        history.store.get(record.id)


def test_one_changed_digit_of_a_measurement_names_its_record(history: Bench) -> None:
    (reading,) = history.records("measurement")
    forged = reading.raw.replace(b"5.31", b"5.13")
    tamper(history, ("UPDATE record SET body = ? WHERE hash = ?", (forged, reading.id)))
    found = history.verify()
    assert [problem.record for problem in found.problems] == [reading.id]
    assert "its content differs from its name" in str(found)


def test_swapped_records_are_both_named(history: Bench) -> None:
    first, second = (history.trial(label).record for label in ("HC-01", "HC-02"))
    tamper(
        history,
        ("UPDATE record SET body = ? WHERE hash = ?", (second.raw, first.id)),
        ("UPDATE record SET body = ? WHERE hash = ?", (first.raw, second.id)),
    )
    assert named(history) == {first.id, second.id}
    assert "Trial HC-01" in str(history.verify())


def test_a_missing_parent_is_named_by_the_record_that_needs_it(history: Bench) -> None:
    first, second = (history.trial(label).id for label in ("HC-01", "HC-02"))
    tamper(history, ("DELETE FROM record WHERE hash = ?", (first,)))
    found = history.verify()
    needs = [p for p in found.problems if p.record == second]
    assert "is missing" in needs[0].what
    assert first in needs[0].what


def test_a_missing_leaf_is_named_from_the_index(history: Bench) -> None:
    (note,) = history.records("note")
    tamper(history, ("DELETE FROM record WHERE hash = ?", (note.id,)))
    assert named(history) == {note.id}


def test_a_shortened_history_is_found_by_its_seal(history: Bench) -> None:
    (note,) = history.records("note")
    seal = history.seal("before the fair")
    assert history.verify().ok
    assert seal.body["count"] == 5
    tamper(
        history,
        ("DELETE FROM record WHERE hash = ?", (note.id,)),
        ("DELETE FROM edge WHERE child = ?", (note.id,)),
        ("DELETE FROM text_index WHERE record = ?", (note.id,)),
    )
    found = history.verify()
    assert [problem.record for problem in found.problems] == [note.id]
    assert "when the history was sealed" in str(found)


def test_later_records_do_not_break_a_seal(history: Bench, cream: Formula) -> None:
    history.seal()
    history.record(cream)
    history.seal()
    assert history.verify().ok
    assert history.verify().seals == 2


def test_a_seal_without_its_list_is_named(history: Bench) -> None:
    seal = history.seal()
    tamper(history, ("DELETE FROM blob WHERE sha256 = ?", (seal.body["digest"],)))
    assert named(history) == {seal.id}


def test_the_digest_of_a_seal_is_the_sha256_of_the_sorted_names(history: Bench) -> None:
    import hashlib

    names = sorted(record.id for record in history.records())
    digest = hashlib.sha256("".join(f"{name}\n" for name in names).encode()).hexdigest()
    assert history.seal().body["digest"] == digest


def test_a_forged_opening_is_named_with_its_field(history: Bench) -> None:
    (lot,) = history.records("lot")
    tamper(history, ("UPDATE opening SET value = '\"L-8\"' WHERE pointer = '/lot'", ()))
    found = history.verify()
    assert lot.id in {problem.record for problem in found.problems}
    assert "/lot does not match its commitment" in str(found)
    tamper(history, ("UPDATE opening SET value = '{' WHERE pointer = '/lot'", ()))
    assert "/lot cannot be read" in str(history.verify())


def test_a_redacted_field_is_told_and_still_holds(history: Bench) -> None:
    tamper(history, ("DELETE FROM opening WHERE pointer = '/supplier'", ()))
    history.reindex()
    found = history.verify()
    assert found.ok
    assert found.closed == 1
    assert "stay closed" in str(found)
    (lot,) = history.records("lot")
    assert "supplier" not in lot.body
    assert lot.body["lot"] == "L-7"


def test_an_opening_of_a_record_that_is_gone_is_named(history: Bench) -> None:
    (lot,) = history.records("lot")
    tamper(
        history,
        ("DELETE FROM record WHERE hash = ?", (lot.id,)),
        ("DELETE FROM edge WHERE child = ?", (lot.id,)),
        ("DELETE FROM text_index WHERE record = ?", (lot.id,)),
    )
    assert named(history) == {lot.id}


def test_a_changed_or_missing_file_is_named(history: Bench) -> None:
    trial = history.trial("HC-01")
    tamper(history, ("UPDATE blob SET bytes = ?", (b"water 99",)))
    assert named(history) == {trial.id}
    assert "was changed" in str(history.verify())
    tamper(history, ("DELETE FROM blob", ()))
    assert named(history) == {trial.id}


@pytest.mark.parametrize(
    ("statement", "kind"),
    [
        ("UPDATE trial_index SET note = 'better' WHERE label = 'HC-01'", "trial"),
        ("UPDATE measurement_index SET value = 5.9", "measurement"),
        ("DELETE FROM measurement_index", "measurement"),
        ("UPDATE text_index SET words = 'x' WHERE words = 'split overnight'", "note"),
        ("UPDATE record SET created = '2020' WHERE kind = 'note'", "note"),
        ("UPDATE record SET author = 'instructor' WHERE kind = 'note'", "note"),
    ],
)
def test_an_index_that_says_something_else_is_named(
    history: Bench, statement: str, kind: str
) -> None:
    tamper(history, (statement, ()))
    assert named(history) == {history.records(kind)[0].id}
    if "UPDATE record" not in statement:
        history.reindex()
        assert history.verify().ok


def test_an_index_row_without_a_record_is_named(history: Bench) -> None:
    tamper(
        history,
        (
            "INSERT INTO text_index VALUES (?, ?, ?, 'x')",
            (history.store.workspace, "f" * 64, "f" * 64),
        ),
    )
    assert named(history) == {"f" * 64}


def test_a_record_of_a_newer_labkit_is_kept_and_counted(history: Bench) -> None:
    from labkit.bench.canonical import canonical
    from labkit.bench.records import read

    newer = read(canonical({"schema": "labkit/aroma/3", "top_note": "rose"}))
    with history.store.writing() as writer:
        writer.take([newer])
    found = history.verify()
    assert found.ok
    assert found.newer == 1
    assert history.store.get(newer.id).raw == newer.raw
    assert history.records("aroma")[0].summary().startswith("written by a newer labkit")
    history.reindex()
    assert history.verify().ok


def test_a_foreign_record_with_odd_values_inside_is_kept_without_a_crash(history: Bench) -> None:
    body = {
        "workspace": "w",
        "author": "p",
        "created": "2026-11-24T09:00:00Z",
        "parents": [],
        "about": [history.trial("HC-01").id],
        "quantity": "viscosity",
        "replicates": [{"value": "x", "unit": "Pa*s"}, 7, {"value": "1", "unit": "furlong"}],
        "conditions": {"temperature_c": "warm", "spindle": ["4"], "method": True},
    }
    with history.store.writing() as writer:
        writer.take([make("measurement", body)])
    assert history.verify().ok
    assert len(history.readings()) == 3


def test_verification_reads_only(history: Bench, tmp_path: Path) -> None:
    assert history.store.file is not None
    before = history.store.file.read_bytes()
    history.verify()
    assert history.store.file.read_bytes() == before


def test_a_broken_seal_count_is_named(history: Bench) -> None:
    body = {"count": 99, "digest": history.seal().body["digest"]}
    wrong: Record = history.add("seal", body)
    assert named(history) == {wrong.id}
