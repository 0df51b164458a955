"""What goes into a shared history, and what stays behind."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import subprocess
import zipfile
from pathlib import Path

import pytest

import labkit as lk
from labkit.bench import Bench
from labkit.errors import LabkitError, ShareError
from labkit.reading.cells import restore
from labkit.share import exporting
from tests.share.altering import entries, record_names
from tests.share.conftest import open_bench

SECRETS = ("The Quiet Shop", "GL-77", "4.20", "R. Tidewater", "aqua 93")


def test_private_things_stay_behind_unless_asked_for(published: Path) -> None:
    everything = b"\n".join(entries(published).values()).decode("utf-8", "replace")
    assert not [secret for secret in SECRETS if secret in everything]
    assert "EUR/kg" not in everything
    with lk.share.open(published) as history:
        assert history.left_out["price"] >= 3
        assert {k: v for k, v in history.left_out.items() if k != "price"} == {
            "files": 1,
            "lot": 1,
            "person": 1,
            "supplier": 1,
        }


def test_opened_on_request_they_are_all_there(bench: Bench, tmp_path: Path) -> None:
    path = lk.share.export(bench, tmp_path / "open.eln", leave_out=())
    everything = b"\n".join(entries(path).values()).decode("utf-8", "replace")
    assert all(secret in everything for secret in SECRETS)
    with lk.share.open(path) as history:
        assert history.records("lot")[0].body["supplier"] == "The Quiet Shop"
        assert history.left_out == {}
    assert lk.share.verify(path).ok


def test_the_same_history_gives_the_same_bytes(bench: Bench, tmp_path: Path) -> None:
    one = lk.share.export(bench, tmp_path / "a.eln", title="gel").read_bytes()
    (tmp_path / "b").mkdir()
    assert lk.share.export(bench, tmp_path / "b" / "a.eln", title="gel").read_bytes() == one


def test_one_folder_of_the_same_name_with_a_description(published: Path) -> None:
    with zipfile.ZipFile(published) as packed:
        assert {name.split("/")[0] for name in packed.namelist()} == {"gel"}
        assert "gel/ro-crate-metadata.json" in packed.namelist()
        assert packed.testzip() is None


def test_sha256sum_alone_checks_it_as_the_readme_says(published: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(published) as packed:
        packed.extractall(tmp_path)
    folder = tmp_path / "gel"
    readme = (folder / "README.txt").read_text(encoding="utf-8")
    out = subprocess.run(
        ["sha256sum", "-c", "SHA256SUMS"], cwd=folder, capture_output=True, text=True, check=True
    )
    assert "FAILED" not in out.stdout
    command = next(line.strip() for line in readme.splitlines() if "cut -c1-64" in line)
    made = subprocess.run(
        command, shell=True, cwd=folder, capture_output=True, text=True, check=True
    )
    number = made.stdout.split()[0]
    assert number in readme
    assert lk.share.verify(published, expect=number).ok
    victim = next((folder / "records").iterdir())
    victim.write_bytes(victim.read_bytes() + b" ")
    bad = subprocess.run(
        ["sha256sum", "-c", "SHA256SUMS"], cwd=folder, capture_output=True, check=False
    )
    assert bad.returncode == 1


def test_readings_are_a_described_table(published: Path, bench: Bench) -> None:
    files = entries(published)
    rows = list(csv.DictReader(io.StringIO(files["readings.csv"].decode())))
    assert [row["value"] for row in rows if row["label"] == "G-2"] == ["4.01", "4.05"]
    assert rows[-1]["withdrawn"] == "meter not calibrated"
    described = json.loads(files["datapackage.json"])["resources"][0]["schema"]["fields"]
    assert [field["name"] for field in described] == list(rows[0])
    assert "numpy==" in files["requirements.txt"].decode()


@pytest.mark.parametrize("text", ["=1+1", "@SUM(1)", "-2+3+cmd", "\u2215", "'quoted", "＝1"])
def test_words_in_the_table_cannot_run_and_come_back(
    bench: Bench, tmp_path: Path, text: str
) -> None:
    bench.measure("G-1", "smell", text, note=text)
    rows = entries(lk.share.export(bench, tmp_path / "x.eln"))["readings.csv"].decode()
    last = list(csv.DictReader(io.StringIO(rows)))[-1]
    assert last["note"][:1] not in "=+-@\t\r\n＝＋－＠"
    assert restore(last["note"]) == text
    assert restore(last["text"]) == text


def test_a_selection_brings_what_it_rests_on_and_says_that_it_is_one(
    bench: Bench, tmp_path: Path
) -> None:
    path = lk.share.export(bench, tmp_path / "part.eln", trials=["G-3"])
    with lk.share.open(path) as history:
        assert set(history.trials()["label"]) == {"G-1", "G-3"}
        assert history.partial
        assert history.records("seal") == []
    checked = lk.share.verify(path)
    assert checked.ok
    assert "A selection" in str(checked)


def test_photos_can_be_left_behind_and_that_is_told(bench: Bench, tmp_path: Path) -> None:
    path = lk.share.export(bench, tmp_path / "x.eln", leave_out=("photos", "files"))
    assert not record_names(entries(path), "x")
    assert not [name for name in entries(path) if name.startswith("photos/")]
    checked = lk.share.verify(path)
    assert checked.ok
    assert "1 photo" in str(checked)


def test_hidden_recipe_lines_stay_hidden_and_count(tmp_path: Path, bench: Bench) -> None:
    gel = bench.trial("G-1").formula
    bench.record(gel, label="S-1", private=["/formula/lines/1"])
    path = lk.share.export(bench, tmp_path / "x.eln")
    with lk.share.open(path) as history:
        trial = history.trial("S-1")
        with pytest.raises(LabkitError, match="lines of the recipe are private"):
            trial.formula  # noqa: B018
        assert len(trial.record.body["formula"]["lines"]) == 5
        assert "the recipe was not shared" in history.report or "kept back" in history.report


def test_the_preview_is_what_the_file_says(bench: Bench, tmp_path: Path) -> None:
    seen = lk.share.preview(bench, title="gel")
    path = lk.share.export(bench, tmp_path / "gel.eln")
    files = entries(path)
    assert seen.html.encode() == files["report.html"]
    assert set(seen.files) == set(files)
    assert not [secret for secret in SECRETS if secret in seen.text]
    assert "supplier: closed" in seen.text
    opened = lk.share.preview(bench, leave_out=())
    assert all(secret in opened.text for secret in SECRETS[:4])


def test_refusals(bench: Bench, tmp_path: Path) -> None:
    with pytest.raises(ShareError, match="Call it 'history.eln'"):
        lk.share.export(bench, tmp_path / "history.zip")
    with pytest.raises(ShareError, match="supplier, price, lot"):
        lk.share.export(bench, tmp_path / "x.eln", leave_out=("prices",))
    with pytest.raises(ShareError, match="A folder that exists"):
        lk.share.export(bench, tmp_path / "no" / "x.eln")
    with (
        open_bench(tmp_path / "empty.db") as empty,
        pytest.raises(ShareError, match="nothing to share yet"),
    ):
        lk.share.export(empty, tmp_path / "x.eln")
    assert not (tmp_path / "x.eln").exists()


def test_txt_07_a_title_like_a_path_becomes_a_plain_file_name(bench: Bench, tmp_path: Path) -> None:
    path = lk.share.export(bench, tmp_path, title="../../etc/x")
    assert path == tmp_path / "etc-x.eln"
    assert lk.share.verify(path).ok
    assert {p.name for p in tmp_path.iterdir()} == {"bench.db", "etc-x.eln"}


def test_a_record_file_is_named_by_its_own_sum(published: Path) -> None:
    for name, raw in entries(published).items():
        if name.startswith("records/"):
            assert hashlib.sha256(raw).hexdigest() == name[8:-5]


def test_what_others_kept_back_is_still_told_when_it_is_handed_on(
    published: Path, other: Bench, tmp_path: Path
) -> None:
    lk.share.merge(other, published)
    path = lk.share.export(other, tmp_path / "on.eln", leave_out=())
    with lk.share.open(path) as history:
        assert history.left_out["supplier"] == 1
        assert history.left_out["files"] == 1
    assert lk.share.verify(path).ok


def test_what_no_labkit_would_open_is_not_written(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(exporting, "MAX_ENTRIES", 10)
    with pytest.raises(ShareError, match="write a folder with lk.share.write_folder"):
        lk.share.export(bench, tmp_path / "x.eln")
    assert not (tmp_path / "x.eln").exists()
