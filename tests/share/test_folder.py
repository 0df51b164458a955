"""Record files in a synced folder or a repository."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

import labkit as lk
from labkit.bench import Bench
from labkit.errors import ShareError
from labkit.share import folder as folder_texts
from tests.share.conftest import GEL, open_bench


def test_a_folder_is_a_history(bench: Bench, other: Bench, tmp_path: Path) -> None:
    done = lk.share.write_folder(bench, tmp_path / "sync")
    assert done.known == 0
    for file in (tmp_path / "sync" / "records").rglob("*"):
        if file.is_file():
            assert hashlib.sha256(file.read_bytes()).hexdigest() == file.stem
            assert file.parent.name == file.stem[:2]
    assert lk.share.verify(tmp_path / "sync").ok
    assert lk.share.merge(other, tmp_path / "sync").new == 16
    with lk.share.open(tmp_path / "sync") as history:
        assert len(history.trials()) == 3
    again = lk.share.write_folder(bench, tmp_path / "sync")
    assert (again.new, again.known) == (0, done.new)
    assert "0 files written" in str(again)


def test_two_computers_meet_in_one_folder(bench: Bench, other: Bench, tmp_path: Path) -> None:
    other.record(lk.Formula.parse(GEL, name="x"), label="B-1")
    for one in (bench, other):
        lk.share.write_folder(one, tmp_path / "sync")
    for one in (bench, other):
        lk.share.merge(one, tmp_path / "sync")
    assert {r.id for r in bench.records()} == {r.id for r in other.records()}


def test_what_else_lies_there_is_never_read(bench: Bench, other: Bench, tmp_path: Path) -> None:
    folder = tmp_path / "sync"
    lk.share.write_folder(bench, folder)
    some = next((folder / "records").rglob("*.json"))
    (some.parent / f"{some.stem} (conflicted copy).json").write_bytes(b"{}")
    (some.parent / "notes.txt").write_text("x")
    (some.parent / ".labkit-x.part").write_bytes(some.read_bytes()[:10])
    (folder / "records" / "ab.json").write_bytes(b"{}")
    secret = tmp_path / "secret"
    secret.write_text("x")
    link = some.parent / f"{'0' * 64}.json"
    link.symlink_to(secret)
    assert lk.share.verify(folder).ok
    assert lk.share.merge(other, folder).new == 16


def test_private_things_stay_behind_there_too(bench: Bench, tmp_path: Path) -> None:
    lk.share.write_folder(bench, tmp_path / "sync")
    said = b"".join(f.read_bytes() for f in (tmp_path / "sync").rglob("*") if f.is_file())
    assert b"The Quiet Shop" not in said
    assert not (tmp_path / "sync" / "openings.json").exists()


def test_git_files_are_written_once(tmp_path: Path) -> None:
    assert {p.name for p in lk.share.git_ready(tmp_path)} == {".gitattributes", ".gitignore"}
    (tmp_path / ".gitignore").write_text("mine\n")
    assert lk.share.git_ready(tmp_path) == []
    assert (tmp_path / ".gitignore").read_text() == "mine\n"
    assert "filter=nbstripout" in (tmp_path / ".gitattributes").read_text()
    assert "*.db" in folder_texts.IGNORED


def test_a_file_in_the_way_is_told(bench: Bench, tmp_path: Path) -> None:
    (tmp_path / "sync").write_text("x")
    with pytest.raises(ShareError, match="Choose another place"):
        lk.share.write_folder(bench, tmp_path / "sync")


def test_folders_of_two_benches_merge_in_either_order(tmp_path: Path, bench: Bench) -> None:
    lk.share.write_folder(bench, tmp_path / "a")
    with open_bench(tmp_path / "c.db", seed=4) as third:
        third.record(lk.Formula.parse(GEL, name="x"), label="C-1")
        lk.share.write_folder(third, tmp_path / "b")
    found = []
    for order in (("a", "b"), ("b", "a")):
        with open_bench(tmp_path / f"{order[0]}.db", seed=9) as into:
            for part in order:
                lk.share.merge(into, tmp_path / part)
            found.append({r.id for r in into.records()})
    assert found[0] == found[1]


def test_a_huge_file_in_a_folder_is_refused(bench: Bench, other: Bench, tmp_path: Path) -> None:
    lk.share.write_folder(bench, tmp_path / "sync")
    huge = tmp_path / "sync" / "records" / "00" / f"{'0' * 64}.json"
    huge.parent.mkdir(exist_ok=True)
    huge.write_bytes(b"x" * 1_000_001)
    with pytest.raises(ShareError, match="more than 1 MB"):
        lk.share.merge(other, tmp_path / "sync")
