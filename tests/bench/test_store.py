"""The file: full, locked, read-only, foreign, newer, moved; nothing is ever lost."""

from __future__ import annotations

import os
import pickle
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from labkit.bench import Bench, BenchPlaceWarning
from labkit.bench.place import bench_file, risky_place
from labkit.bench.store import Store
from labkit.errors import StoreError
from labkit.formula import Formula


def test_a_file_a_folder_and_a_new_name_are_each_a_bench(tmp_path: Path, cream: Formula) -> None:
    (tmp_path / "folder").mkdir()
    for where in (tmp_path / "my-bench.db", tmp_path / "folder", str(tmp_path / "x.db")):
        with Bench.open(where) as bench:
            trial = bench.record(cream)
        with Bench.open(where) as bench:
            assert bench.trial("T1").id == trial.id
    assert (tmp_path / "folder" / "bench.db").exists()


def test_the_file_is_kept_as_measured(bench: Bench) -> None:
    with bench.store.reading() as connection:
        pragma = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    assert pragma == {
        "journal_mode": "delete",
        "synchronous": 3,
        "foreign_keys": 1,
        "busy_timeout": 30000,
    }


@pytest.mark.parametrize("table", ["record", "opening", "blob"])
@pytest.mark.parametrize("verb", ["UPDATE {} SET workspace = 'x'", "DELETE FROM {}"])
def test_the_file_itself_refuses_to_change_what_was_recorded(
    bench: Bench, cream: Formula, table: str, verb: str
) -> None:
    bench.record(cream, note="secret", private=["/note"], recipe=b"recipe")
    raw = sqlite3.connect(str(bench.store.file))
    with pytest.raises(sqlite3.IntegrityError, match=f"a {table} is never changed"):
        raw.execute(verb.format(table))
    raw.close()
    assert bench.verify().ok


def test_a_full_disk_loses_nothing_and_says_so(bench: Bench, cream: Formula) -> None:
    kept = [bench.record(cream, note=str(i)).id for i in range(5)]
    with bench.store.engine.connect() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        connection.exec_driver_sql(f"PRAGMA max_page_count={pages}")

    def many() -> None:
        for i in range(100):
            kept.append(bench.record(cream, note=str(i) * 500).id)

    with pytest.raises(StoreError, match=r"the disk is full\. .*Make room"):
        many()
    with bench.store.engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA max_page_count=1000000")
    assert set(bench.trials()["id"]) == set(kept)
    assert bench.verify().ok
    bench.record(cream, note="room again")


def test_a_file_size_limit_in_the_middle_of_a_write_loses_nothing(tmp_path: Path) -> None:
    code = f"""
import resource, signal
from labkit.bench import Bench
from labkit.errors import StoreError
from labkit.formula import Formula
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
cream = Formula.parse("phase,material,percent\\nA,Aqua,q.s.")
bench = Bench.open({str(tmp_path / "b.db")!r})
size = bench.store.file.stat().st_size
resource.setrlimit(resource.RLIMIT_FSIZE, (size + 30_000, resource.RLIM_INFINITY))
kept = []
try:
    for i in range(1000):
        kept.append(bench.record(cream, note="x" * 3000).id)
except StoreError as error:
    print(error.found)
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
print(len(kept), set(bench.trials()["id"]) == set(kept), bench.verify().ok)
"""
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    words, counts = out.stdout.splitlines()
    assert words in {"the disk is full", "the disk did not read or write"}
    count, same, holds = counts.split()
    assert int(count) > 0
    assert (same, holds) == ("True", "True")


def test_a_file_opened_to_read_only_can_be_read_and_not_written(
    tmp_path: Path, cream: Formula
) -> None:
    where = tmp_path / "b.db"
    with Bench.open(where) as bench:
        trial = bench.record(cream)
    with Bench.open(where, read_only=True) as bench:
        assert bench.trial("T1").id == trial.id
        with pytest.raises(StoreError, match="can only be read"):
            bench.note(trial, "x")
        assert bench.verify().ok
    with pytest.raises(StoreError, match="no such file"):
        Bench.open(tmp_path / "absent.db", read_only=True)
    empty = tmp_path / "empty.db"
    empty.touch()
    with pytest.raises(StoreError, match="this is no bench file"):
        Bench.open(empty, read_only=True)


@pytest.mark.skipif(not hasattr(os, "setuid"), reason="needs an ordinary user to be")
def test_a_read_only_place_is_told_to_an_ordinary_user(cream: Formula) -> None:
    place = Path(tempfile.mkdtemp())
    with Bench.open(place) as bench:
        bench.record(cream)
    os.chmod(place / "bench.db", 0o444)
    os.chmod(place, 0o555)
    code = f"""
import os
from labkit.bench import Bench
from labkit.errors import StoreError
from labkit.formula import Formula
import labkit.bench.bench, pandas
from importlib.metadata import version
version("labkit")
if os.getuid() == 0:
    os.setuid(65534)
bench = Bench.open({str(place)!r})
print(len(bench.trials()))
try:
    bench.record(Formula.parse("phase,material,percent\\nA,Aqua,q.s."))
except StoreError as error:
    print(error.found)
try:
    Bench.open({str(place / "new.db")!r})
except StoreError as error:
    print(error.found)
"""
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    os.chmod(place, 0o755)
    shutil.rmtree(place)
    assert out.stdout.splitlines() == [
        "1",
        "the file or its folder can only be read",
        "the file cannot be opened",
    ], out.stderr


def test_a_locked_file_is_told_after_waiting(tmp_path: Path, cream: Formula) -> None:
    where = tmp_path / "b.db"
    with Bench.open(where) as bench:
        kept = bench.record(cream)
    impatient = Bench(Store(where, busy_s=0.1))
    other = sqlite3.connect(where, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(StoreError, match="another program holds the file"):
        impatient.note(kept.id, "x")
    with pytest.raises(StoreError, match="another program holds the file"):
        Store(where, busy_s=0.1)
    other.execute("ROLLBACK")
    other.close()
    impatient.note(kept.id, "now it works")
    impatient.close()


def test_a_file_of_a_newer_format_is_left_alone(tmp_path: Path, cream: Formula) -> None:
    where = tmp_path / "b.db"
    with Bench.open(where) as bench:
        bench.record(cream)
    raw = sqlite3.connect(where)
    raw.execute("UPDATE meta SET value = '99' WHERE key = 'format'")
    raw.commit()
    raw.close()
    before = where.read_bytes()
    with pytest.raises(StoreError, match=r"a bench of format 99\. .*Update labkit"):
        Bench.open(where)
    assert where.read_bytes() == before


def test_a_database_of_another_program_is_left_alone(tmp_path: Path) -> None:
    where = tmp_path / "other.db"
    raw = sqlite3.connect(where)
    raw.execute("CREATE TABLE recipes (name TEXT)")
    raw.commit()
    raw.close()
    before = where.read_bytes()
    with pytest.raises(StoreError, match="this is no bench file"):
        Bench.open(where)
    assert where.read_bytes() == before


@pytest.mark.parametrize(
    "content",
    [b"name,percent\nwater,100\n" * 50, pickle.dumps({"a": [1]}) * 40, b"\x93NUMPY\x01\x00" * 90],
)
def test_a_file_of_another_kind_is_refused_and_left_alone(tmp_path: Path, content: bytes) -> None:
    where = tmp_path / "history.labkit"
    where.write_bytes(content)
    with pytest.raises(StoreError, match="this is no bench file"):
        Bench.open(where)
    assert where.read_bytes() == content


def test_a_cut_file_is_told_as_damaged(tmp_path: Path, cream: Formula) -> None:
    where = tmp_path / "b.db"
    with Bench.open(where) as bench:
        for i in range(30):
            bench.record(cream, note=str(i))
    where.write_bytes(where.read_bytes()[: 4096 * 12])
    with pytest.raises(StoreError, match="the file is damaged"), Bench.open(where) as bench:
        bench.verify()


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="there is no such folder"):
        Bench.open(tmp_path / "absent" / "b.db")


def test_a_bench_whose_file_was_moved_does_not_write_into_nowhere(
    tmp_path: Path, cream: Formula
) -> None:
    where = tmp_path / "b.db"
    with Bench.open(where) as bench:
        bench.record(cream)
        where.rename(tmp_path / "c.db")
        with pytest.raises(StoreError, match="moved, renamed or deleted"):
            bench.record(cream)
    with Bench.open(tmp_path / "c.db") as bench:
        assert len(bench.trials()) == 1


def test_a_backup_is_a_whole_bench_and_never_overwrites(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream, note="x", private=["/note"])
    assert bench.store.file is not None
    target = bench.store.file.parent / "copy 'quoted'.db"
    assert bench.backup(target) == target
    with Bench.open(target) as copy:
        assert copy.trial("T1").id == trial.id
        assert copy.trial("T1").note == "x"
        assert copy.verify().ok
        copy.record(cream)
    with pytest.raises(StoreError, match="Choose another name"):
        bench.backup(target)
    with pytest.raises(StoreError, match="in a folder that exists"):
        bench.backup(target.parent / "absent" / "c.db")


def test_a_child_process_uses_a_connection_of_its_own(bench: Bench, cream: Formula) -> None:
    bench.record(cream)
    before = bench.store.engine
    child = os.fork()
    if child == 0:
        code = 1
        try:
            mine = bench.record(cream, label="from the child")
            code = 0 if bench.store.engine is not before and mine.label else 1
        finally:
            os._exit(code)
    assert os.waitpid(child, 0)[1] == 0
    bench.record(cream)
    assert "from the child" in set(bench.trials()["label"])
    assert bench.verify().ok


def test_a_synced_folder_is_warned_about(tmp_path: Path) -> None:
    folder = tmp_path / "Dropbox" / "bench"
    folder.mkdir(parents=True)
    with pytest.warns(BenchPlaceWarning, match="a folder that a program copies"):
        Bench.open(folder).close()
    marked = tmp_path / "marked"
    (marked / ".stfolder").mkdir(parents=True)
    assert risky_place(marked / "b.db") == "a folder that a program copies to other computers"


def test_a_network_drive_is_recognised_from_the_table_of_mounts(tmp_path: Path) -> None:
    mounts = tmp_path / "mounts"
    mounts.write_text(
        "/dev/sda1 / ext4 rw 0 0\nserver:/x /mnt/studio\\040share nfs4 rw 0 0\nbroken\n"
        "//nas/y /srv/nas cifs rw 0 0\ntmp /mnt/studio\\040share/local tmpfs rw 0 0\n",
        encoding="utf-8",
    )
    assert risky_place(Path("/mnt/studio share/b.db"), mounts) == "a network drive"
    assert risky_place(Path("/srv/nas/a/b.db"), mounts) == "a network drive"
    assert risky_place(Path("/mnt/studio share/local/b.db"), mounts) is None
    assert risky_place(Path("/home/x/b.db"), mounts) is None
    assert risky_place(Path("/home/x/b.db"), tmp_path / "absent") is None


def test_paths_with_strange_signs_are_plain_files(tmp_path: Path, cream: Formula) -> None:
    where = tmp_path / "a?mode=memory&x#%41 ü.db"
    with Bench.open(where) as bench:
        bench.record(cream)
    assert where.exists()
    assert bench_file(f"{tmp_path}/new/") == tmp_path / "new" / "bench.db"


def test_reindex_rebuilds_what_was_lost(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream, private=["/note"], note="x")
    bench.measure(trial, "pH", [5.1, 5.2])
    before = bench.trials(), bench.readings()
    raw = sqlite3.connect(str(bench.store.file))
    for table in ("edge", "trial_index", "measurement_index", "text_index"):
        raw.execute(f"DELETE FROM {table}")
    raw.commit()
    raw.close()
    assert not bench.verify().ok
    seen: list[tuple[int, int]] = []
    assert bench.reindex(lambda done, total: seen.append((done, total))) == 2
    assert seen == [(2, 2)]
    assert bench.verify().ok
    assert bench.trials().equals(before[0])
    assert bench.readings().equals(before[1])


def test_a_folder_that_is_closed_to_this_person_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def shut(path: Path) -> bool:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "is_dir", shut)
    with pytest.raises(StoreError, match="cannot be looked into.*Ask the owner for access"):
        Bench.open("somewhere/bench.db")
