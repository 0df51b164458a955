"""Two histories become one, whatever the order, and nothing half is shown."""

from __future__ import annotations

import itertools
import json
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import labkit as lk
from labkit.bench import Bench, layout
from labkit.bench.canonical import canonical
from labkit.bench.records import Record, make
from labkit.errors import RecordError, ShareError
from tests.share.altering import altered, entries, record_names, written
from tests.share.conftest import GEL, open_bench


def names(bench: Bench) -> set[str]:
    return {record.id for record in bench.records()}


def test_the_other_bench_comes_in_as_branches_with_its_alias(published: Path, other: Bench) -> None:
    gel = lk.Formula.parse(GEL, name="Low water gel")
    other.record(gel, label="G-1")
    done = lk.share.merge(other, published, alias="tide")
    assert (done.new, done.known, done.held) == (16, 0, 0)
    assert set(other.trials()["label"]) == {"G-1", "G-1@tide", "G-2@tide", "G-3@tide"}
    assert set(done.heads) == {"G-1", "G-2@tide", "G-3@tide"}
    assert "16 new, 0 already here, 3 heads" in str(done)
    found = other.verify()
    assert found.ok
    assert "1 photos or files were kept back" in str(found)
    mine = other.record(gel, parent=other.trial("G-2@tide"), label="own")
    assert [t.label for t in other.lineage(mine)] == ["G-1@tide", "G-2@tide"]


def test_a_second_merge_adds_nothing_and_keeps_the_alias(published: Path, other: Bench) -> None:
    lk.share.merge(other, published, alias="tide")
    again = lk.share.merge(other, published, alias="another")
    assert (again.new, again.known, again.alias) == (0, 16, "tide")
    assert "G-1@tide" in set(other.trials()["label"])


def test_two_benches_with_one_alias_are_told_apart(
    published: Path, other: Bench, tmp_path: Path
) -> None:
    lk.share.merge(other, published, alias="class")
    with open_bench(tmp_path / "third.db", seed=5) as third:
        third.record(lk.Formula.parse(GEL, name="x"), label="G-1")
        assert lk.share.merge(other, third, alias="class").alias == "class-2"
    assert {"G-1@class", "G-1@class-2"} <= set(other.trials()["label"])


def test_an_alias_travels_on(published: Path, other: Bench, tmp_path: Path) -> None:
    lk.share.merge(other, published, alias="tide")
    other.record(lk.Formula.parse(GEL, name="x"), label="own")
    path = lk.share.export(other, tmp_path / "second.eln")
    with lk.share.open(path) as history:
        assert {"own", "G-1@tide"} <= set(history.trials()["label"])
    with open_bench(tmp_path / "third.db", seed=5) as third:
        lk.share.merge(third, path)
        assert {"own@second", "G-1@tide"} <= set(third.trials()["label"])


def test_everything_comes_across(published: Path, other: Bench, bench: Bench) -> None:
    lk.share.merge(other, published)
    assert names(other) == names(bench)
    reading = other.records("measurement")[0]
    assert other.reading(reading).texts == ("4.01 pH", "4.05 pH")
    assert other.store.file_bytes(other.records("photo")[0].body["photo"])[0] == "image/jpeg"
    assert len(other.readings("pH")) == len(bench.readings("pH"))


def test_rec_04_what_rests_on_something_missing_waits_unseen(
    published: Path, other: Bench, tmp_path: Path
) -> None:
    files = entries(published)
    gone = next(n for n in record_names(files, "trial") if b'"label":"G-2"' in files[n])
    bad = altered(published, tmp_path / "part.eln", lambda f: f.pop(gone))
    done = lk.share.merge(other, bad)
    assert done.missing == (gone[8:-5],)
    assert done.held == 3
    assert gone[8:-5] in str(done)
    assert set(other.trials()["label"]) == {"G-1@part", "G-3@part"}
    found = other.verify()
    assert "it was here when the history was sealed, and is missing now" in str(found)
    assert gone[8:-5] in {problem.record for problem in found.problems}
    with lk.share.open(bad) as history:
        assert history.missing == (gone[8:-5],)
        assert "incomplete" in str(history)
        assert "are not shown" in history.report
    rest = written(tmp_path / "rest.eln", {gone: files[gone]})
    done = lk.share.merge(other, rest)
    assert (done.new, done.held, done.missing) == (4, 0, ())
    assert set(other.trials()["label"]) == {"G-1@part", "G-2@part", "G-3@part"}
    assert other.verify().ok


def test_rec_03_a_changed_record_stops_the_merge(
    published: Path, other: Bench, tmp_path: Path
) -> None:
    files = entries(published)
    name = record_names(files, "note")[0]
    bad = altered(
        published, tmp_path / "x.eln", lambda f: f.update({name: f[name].replace(b"thin", b"rich")})
    )
    with pytest.raises(ShareError, match="nothing was added"):
        lk.share.merge(other, bad)
    assert other.store.count() == 0
    lk.share.merge(other, published)
    with pytest.raises(ShareError, match="its content differs from its name"):
        lk.share.merge(other, bad)


def test_an_opening_that_comes_later_opens_what_is_here(
    bench: Bench, published: Path, other: Bench, tmp_path: Path
) -> None:
    lk.share.merge(other, published)
    assert "supplier" not in other.records("lot")[0].body
    lk.share.merge(other, lk.share.export(bench, tmp_path / "open.eln", leave_out=()))
    assert other.records("lot")[0].body["supplier"] == "The Quiet Shop"
    assert other.verify().ok


def test_a_forged_opening_of_a_known_record_is_refused(
    bench: Bench, published: Path, other: Bench, tmp_path: Path
) -> None:
    lk.share.merge(other, published)
    path = lk.share.export(bench, tmp_path / "open.eln", leave_out=())

    def forge(files: dict[str, bytes]) -> None:
        files["openings.json"] = files["openings.json"].replace(b"The Quiet Shop", b"The Loud Shop")

    with pytest.raises(ShareError, match="does not match its commitment"):
        lk.share.merge(other, altered(path, tmp_path / "bad.eln", forge))
    assert "supplier" not in other.records("lot")[0].body


def test_img_03_a_photo_that_is_a_page_is_refused(
    bench: Bench, other: Bench, tmp_path: Path
) -> None:
    import hashlib

    page = b"<html><script>document.title='owned'</script></html>"
    sha = hashlib.sha256(page).hexdigest()
    head = {"workspace": other.store.workspace, "author": "a", "created": "2026-03-02T09:00:00Z"}
    trial = bench.trial("G-1")
    photo = make(
        "photo",
        head
        | {"parents": [], "about": [trial.id], "photo": sha, "media_type": "image/jpeg"}
        | {"width": 1, "height": 1},
    )
    path = lk.share.export(bench, tmp_path / "a.eln")
    extra = {f"records/{photo.id}.json": photo.raw, f"photos/{sha}.jpg": page}
    bad = altered(path, tmp_path / "b.eln", lambda files: files.update(extra))
    with pytest.raises(ShareError, match="its photo is no photo"):
        lk.share.merge(other, bad)
    assert "names as a photo is none" in str(lk.share.verify(bad))
    with lk.share.open(bad) as history:
        assert "owned" not in history.report


def test_a_shared_history_cannot_be_added_to(published: Path) -> None:
    with lk.share.open(published) as history:
        assert not hasattr(history, "record")
        assert not hasattr(history, "note")


@pytest.fixture(scope="module")
def pieces() -> tuple[Record, ...]:
    """A history in which most records rest on others."""
    with tempfile.TemporaryDirectory() as folder, open_bench(Path(folder) / "b.db") as bench:
        gel = lk.Formula.parse(GEL, name="gel")
        first = bench.record(gel, label="A")
        second = bench.record(gel.move("glycerin", "6 %"), parent=first, label="B")
        third = bench.record(gel.move("glycerin", "7 %"), parent=[first, second], label="C")
        reading = bench.measure(second, "pH", "4.2")
        bench.amend(reading, "/value", "4.3", reason="x")
        note = bench.note(third, "soft")
        bench.withdraw(note, reason="wrong jar")
        return tuple(bench.records())


@given(st.data())
@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_the_union_is_the_same_in_any_order_and_in_any_pieces(
    pieces: tuple[Record, ...], data: st.DataObject
) -> None:
    places = data.draw(st.lists(st.integers(0, 2), min_size=len(pieces), max_size=len(pieces)))
    order = data.draw(st.permutations([0, 1, 2]))
    repeats = data.draw(st.lists(st.sampled_from(order), max_size=2))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for part in range(3):
            mine = [r for r, place in zip(pieces, places, strict=True) if place == part]
            if mine:
                files = {f"records/{r.id}.json": r.raw for r in mine}
                written(folder / f"{part}.eln", files)
        with open_bench(folder / "into.db", seed=3) as into:
            for part in (*order, *repeats):
                if (folder / f"{part}.eln").exists():
                    lk.share.merge(into, folder / f"{part}.eln", alias="x")
            assert names(into) == {record.id for record in pieces}
            assert into.verify().ok
            assert into.trial("C@x").label == "C@x"
            assert into.reading(into.records("measurement")[0]).texts == ("4.3 pH",)


def test_benches_that_swap_end_with_the_same_set(tmp_path: Path) -> None:
    gel = lk.Formula.parse(GEL, name="gel")
    with open_bench(tmp_path / "a.db", seed=1) as a, open_bench(tmp_path / "b.db", seed=2) as b:
        for bench, at in itertools.product((a, b), (3, 4)):
            bench.record(gel.move("glycerin", f"{at} %"))
        lk.share.merge(a, b)
        lk.share.merge(b, a)
        assert names(a) == names(b)
        assert a.store.count(layout.trial_index) == 4


def test_an_unreadable_beside_file_is_told(published: Path, other: Bench, tmp_path: Path) -> None:
    bad = altered(published, tmp_path / "x.eln", lambda f: f.update({"openings.json": b"[1]"}))
    with pytest.raises(ShareError, match="openings.json cannot be read"):
        lk.share.merge(other, bad)
    worse = altered(
        published,
        tmp_path / "y.eln",
        lambda f: f.update({"openings.json": json.dumps({"a": [{"x": 1}]}).encode()}),
    )
    with pytest.raises(ShareError, match="openings.json cannot be read"):
        lk.share.merge(other, worse)


def test_a_newer_kind_of_record_is_kept_as_it_is(
    published: Path, other: Bench, tmp_path: Path
) -> None:
    import hashlib

    raw = canonical({"schema": "labkit/weather/3", "rain": "yes"})
    sha = hashlib.sha256(raw).hexdigest()
    newer = altered(published, tmp_path / "x.eln", lambda f: f.update({f"records/{sha}.json": raw}))
    lk.share.merge(other, newer)
    kept = other.store.get(sha)
    assert not kept.known
    assert kept.raw == raw
    with pytest.raises(RecordError):
        other.trial(sha)
