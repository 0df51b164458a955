"""A history that was changed, cut or dressed up is found out, in words, by record."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

import labkit as lk
from labkit.bench import Bench
from labkit.errors import ShareError
from tests.share.altering import altered, entries, record_names


def test_an_untouched_history_holds(published: Path) -> None:
    found = lk.share.verify(published)
    assert found.ok
    assert "holds" in str(found)
    assert "everything it names is here" in str(found)
    assert found.as_dict()["problems"] == []
    assert found.history.seals == 1


def _flip(name: str, old: bytes, new: bytes) -> Callable[[dict[str, bytes]], None]:
    def change(files: dict[str, bytes]) -> None:
        assert old in files[name]
        files[name] = files[name].replace(old, new, 1)

    return change


def test_rec_03_one_digit_of_a_reading_names_the_record(published: Path, tmp_path: Path) -> None:
    files = entries(published)
    name = next(n for n in record_names(files, "measurement") if b'"4.01"' in files[n])
    bad = altered(published, tmp_path / "bad.eln", _flip(name, b'"4.01"', b'"4.07"'))
    found = lk.share.verify(bad)
    assert not found.ok
    assert name[8:-5] in {problem.record for problem in found.problems}
    assert "its content differs from its name" in str(found)
    with pytest.raises(ShareError, match="nothing was taken from it"):
        lk.share.open(bad)


def test_every_record_that_is_missing_is_named(published: Path, tmp_path: Path) -> None:
    for name in sorted(n for n in entries(published) if n.startswith("records/")):
        bad = altered(published, tmp_path / "bad.eln", lambda files, n=name: files.pop(n))
        found = lk.share.verify(bad)
        assert not found.ok
        assert name[8:-5] in str(found), name


def test_rec_08_a_shortened_history_does_not_match_its_seal(
    published: Path, tmp_path: Path
) -> None:
    def shorten(files: dict[str, bytes]) -> None:
        """As somebody who knows the form would: lists and counts are made to fit."""
        gone = record_names(files, "photo")[0]
        del files[gone]
        del files["SHA256SUMS"]
        about = json.loads(files["history.json"])
        del about["digest"]
        files["history.json"] = json.dumps(about).encode()

    found = lk.share.verify(altered(published, tmp_path / "short.eln", shorten))
    assert not found.ok
    assert "the history was shortened" in str(found)


def test_a_number_told_another_way_shows_a_lost_end(published: Path, tmp_path: Path) -> None:
    number = lk.share.verify(published).digest

    def drop_seal(files: dict[str, bytes]) -> None:
        seal = record_names(files, "seal")[0]
        del files[seal], files["SHA256SUMS"]
        about = json.loads(files["history.json"])
        del about["digest"]
        files["history.json"] = json.dumps(about).encode()

    cut = altered(published, tmp_path / "cut.eln", drop_seal)
    assert "report.html" in str(lk.share.verify(cut))
    found = lk.share.verify(cut, expect=number)
    assert not found.ok
    assert "left out or replaced" in str(found)


@pytest.mark.parametrize("part", ["value", "salt"])
def test_rec_06_an_opening_with_another_value_or_salt_is_told(
    bench: Bench, tmp_path: Path, part: str
) -> None:
    path = lk.share.export(bench, tmp_path / "open.eln", leave_out=())

    def change(files: dict[str, bytes]) -> None:
        told = json.loads(files["openings.json"])
        first = next(o for several in told.values() for o in several if o["pointer"] == "/supplier")
        first[part] = "00" * 16
        files["openings.json"] = json.dumps(told).encode()

    bad = altered(path, tmp_path / "bad.eln", change)
    found = lk.share.verify(bad)
    assert "the private field /supplier does not match its commitment" in str(found)
    with pytest.raises(ShareError, match="does not match its commitment"):
        lk.share.open(bad)


def test_a_report_or_table_that_tells_another_story_is_found(
    published: Path, tmp_path: Path
) -> None:
    def report(files: dict[str, bytes]) -> None:
        files["report.html"] = files["report.html"].replace(b"sticky", b"silky")
        del files["SHA256SUMS"]

    found = lk.share.verify(altered(published, tmp_path / "a.eln", report))
    assert "report.html: it is not what the records say" in str(found)

    def table(files: dict[str, bytes]) -> None:
        files["readings.csv"] = files["readings.csv"].replace(b"4.01", b"5.01")
        del files["SHA256SUMS"]

    found = lk.share.verify(altered(published, tmp_path / "b.eln", table))
    assert "readings.csv: it is not what the records say" in str(found)


def test_a_report_in_another_dress_holds_with_a_note(published: Path, tmp_path: Path) -> None:
    def dress(files: dict[str, bytes]) -> None:
        files["report.html"] = files["report.html"].replace(b"<style>", b"<style>/* x */")
        del files["SHA256SUMS"]

    found = lk.share.verify(altered(published, tmp_path / "a.eln", dress))
    assert found.ok
    assert "only its words" in str(found)


def test_a_photo_of_other_bytes_is_found(published: Path, tmp_path: Path) -> None:
    name = next(n for n in entries(published) if n.startswith("photos/"))
    bad = altered(
        published, tmp_path / "a.eln", lambda files: files.update({name: b"\xff\xd8\xff?"})
    )
    found = lk.share.verify(bad)
    assert not found.ok
    assert "the photo or file of this name was changed" in str(found)


def test_a_list_that_does_not_fit_is_found(published: Path, tmp_path: Path) -> None:
    bad = altered(published, tmp_path / "a.eln", lambda files: files.pop("requirements.txt"))
    assert "requirements.txt is in the list SHA256SUMS and is missing" in str(lk.share.verify(bad))
    other = altered(
        published, tmp_path / "b.eln", lambda files: files.update({"README.txt": b"all good"})
    )
    assert "README.txt differs from the list" in str(lk.share.verify(other))


def test_a_bench_and_its_file_are_checked_the_same_way(bench: Bench) -> None:
    assert lk.share.verify(bench).ok
    assert bench.store.file is not None
    assert lk.share.verify(bench.store.file).ok
    assert not lk.share.verify(bench, expect="0" * 64).ok


def test_what_is_no_history_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ShareError, match="Check the path"):
        lk.share.verify(tmp_path / "none.eln")
    (tmp_path / "x.eln").write_bytes(b"hello")
    with pytest.raises(ShareError, match="this is no shared history"):
        lk.share.verify(tmp_path / "x.eln")
    (tmp_path / "empty").mkdir()
    with pytest.raises(ShareError, match="there is no record in it"):
        lk.share.verify(tmp_path / "empty")
