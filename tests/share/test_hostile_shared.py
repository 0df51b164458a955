"""Hostile inputs of the published list that come as a shared history, a report or a table."""

from __future__ import annotations

import io
import json
import pickle
import resource
import struct
import time
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import labkit as lk
from labkit.bench import Bench
from labkit.errors import ShareError
from labkit.share import zips
from labkit.share.notes import note_html, sanitised
from tests.share.altering import altered, entries, record_names, written

LIST = Path(__file__).parents[1] / "reference" / "hostile_inputs.json"
CASES: dict[str, dict[str, Any]] = {
    case["id"]: case for case in json.loads(LIST.read_text(encoding="utf-8"))["items"]
}
MARKUP = [c for c, case in CASES.items() if c.startswith("html-") and "text" in case["give"]]


def refused(path: Path, bench: Bench, words: str) -> None:
    """Refused by each door, and nothing was taken in or written beside it."""
    before, beside = bench.store.count(), {p.name for p in path.parent.iterdir()}
    for door in (lk.share.open, lk.share.verify, lambda p: lk.share.merge(bench, p)):
        with pytest.raises(ShareError, match=words):
            door(path)
    assert bench.store.count() == before
    assert {p.name for p in path.parent.iterdir()} == beside


def with_entry(source: Path, target: Path, name: str, raw: bytes = b"x", **how: Any) -> Path:
    """A copy with one more entry, its name as it stands."""
    files = entries(source)
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as packed:
        for own, content in files.items():
            packed.writestr(f"root/{own}", content)
        entry = zipfile.ZipInfo(name)
        entry.compress_type = zipfile.ZIP_DEFLATED
        for key, value in how.items():
            setattr(entry, key, value)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)
            packed.writestr(entry, raw)
    return target


@pytest.mark.parametrize(
    "name",
    [
        *(CASES[c]["give"]["zip_entry"] for c in ("zip-01", "zip-02", "zip-04")),
        "root/../../evil.txt",
        "C:/evil.txt",
        "root//evil.txt",
        "root/./evil.txt",
        "root/ev\x07il.txt",
        "other/evil.txt",
        "evil.txt",
    ],
)
def test_zip_01_to_04_an_entry_outside_the_folder_is_refused(
    published: Path, other: Bench, tmp_path: Path, name: str
) -> None:
    bad = with_entry(published, tmp_path / "bad.eln", name)
    refused(bad, other, "outside the folder|no plain file name|folders at the top|beside the one")


@pytest.mark.parametrize(
    "place", ["zeros.bin", f"records/{'0' * 64}.json", f"photos/{'0' * 64}.jpg"]
)
def test_zip_06_a_bomb_is_refused_by_counting(
    published: Path, other: Bench, tmp_path: Path, place: str
) -> None:
    bad = tmp_path / "bomb.eln"
    size = int(CASES["zip-06"]["give"]["zip_bomb"]["bytes_of_zero"])
    files = entries(published)
    with zipfile.ZipFile(bad, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        for own, content in files.items():
            packed.writestr(f"root/{own}", content)
        with packed.open(f"root/{place}", "w", force_zip64=True) as entry:
            block = bytes(1 << 20)
            for _ in range(size >> 20):
                entry.write(block)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.perf_counter()
    refused(bad, other, "swells over 100 times|more than (1|50|200) MB")
    assert time.perf_counter() - start < 10
    assert (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024 < 100


def test_zip_06_a_size_that_lies_is_not_believed(
    published: Path, other: Bench, tmp_path: Path
) -> None:
    bad = with_entry(published, tmp_path / "bad.eln", "root/zeros.bin", bytes(30_000_000))
    raw = bytearray(bad.read_bytes())
    raw = raw.replace(struct.pack("<I", 30_000_000), struct.pack("<I", 30))
    bad.write_bytes(raw)
    refused(bad, other, "swells|damaged")


def test_many_small_swellings_together_are_refused(
    published: Path, other: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(zips, "MAX_BYTES", 50_000)
    refused(Path(written(tmp_path / "a.eln", entries(published))), other, "more than 0 MB")


def test_zip_08_too_many_entries_are_told_from_the_directory(other: Bench, tmp_path: Path) -> None:
    bad = tmp_path / "many.eln"
    with zipfile.ZipFile(bad, "w") as packed:
        for i in range(CASES["zip-08"]["give"]["entries"]):
            packed.writestr(f"root/{i}", b"")
    start = time.perf_counter()
    refused(bad, other, "100001 entries")
    assert time.perf_counter() - start < 5


def test_zip_10_names_that_differ_by_case_alone_are_refused(
    published: Path, other: Bench, tmp_path: Path
) -> None:
    files = entries(published) | {"A.json": b"1", "a.json": b"2"}
    refused(written(tmp_path / "bad.eln", files), other, "only its case differs")


def test_the_same_name_twice_is_refused(published: Path, other: Bench, tmp_path: Path) -> None:
    bad = with_entry(published, tmp_path / "bad.eln", "root/history.json", b"{}")
    refused(bad, other, "the same name twice")


@pytest.mark.parametrize("share", [0.02, 0.3, 0.7, 0.99])
def test_zip_12_a_cut_file_is_damaged(
    published: Path, other: Bench, tmp_path: Path, share: float
) -> None:
    whole = published.read_bytes()
    bad = tmp_path / "cut.eln"
    bad.write_bytes(whole[: int(len(whole) * share)])
    refused(bad, other, "damaged or cut short")


def test_zip_13_a_locked_zip_is_refused_in_a_word(
    published: Path, other: Bench, tmp_path: Path
) -> None:
    raw = bytearray(published.read_bytes())
    at = raw.find(b"PK\x01\x02")
    raw[at + 8] |= 1
    local = struct.unpack("<I", raw[at + 42 : at + 46])[0]
    raw[local + 6] |= 1
    (tmp_path / "locked.eln").write_bytes(raw)
    refused(tmp_path / "locked.eln", other, "locked with a password")


def test_a_link_is_refused(published: Path, other: Bench, tmp_path: Path) -> None:
    bad = with_entry(
        published, tmp_path / "bad.eln", "root/files/x", b"/etc/hostname",
        create_system=3, external_attr=0o120777 << 16,
    )  # fmt: skip
    refused(bad, other, "a link to another place")


def test_every_byte_of_damage_is_a_word_and_never_a_traceback(
    published: Path, tmp_path: Path
) -> None:
    whole = published.read_bytes()
    bad = tmp_path / "bad.eln"
    for at in range(0, len(whole), max(1, len(whole) // 60)):
        raw = bytearray(whole)
        raw[at] ^= 0x41
        bad.write_bytes(raw)
        try:
            found = lk.share.verify(bad)
        except ShareError:
            continue
        assert not found.ok or "otherwise" in str(found) or raw[at : at + 1] != whole[at : at + 1]


@pytest.mark.parametrize("kind", ["pickle", "npy", "joblib"])
def test_pk_01_nothing_is_unpickled(
    published: Path, other: Bench, tmp_path: Path, kind: str
) -> None:
    class Evil:
        def __reduce__(self) -> tuple[Callable[..., Any], tuple[str]]:
            return (open, (str(tmp_path / "owned"), "w"))  # type: ignore[return-value]

    raw = pickle.dumps(Evil())
    if kind == "npy":
        out = io.BytesIO()
        np.save(out, np.array([Evil()], dtype=object), allow_pickle=True)
        raw = out.getvalue()
    (tmp_path / "history.labkit").write_bytes(raw)
    refused(tmp_path / "history.labkit", other, "this is no shared history")
    inside = altered(
        published, tmp_path / "x.eln", lambda f: f.update({"files/x.pkl": raw, "model.joblib": raw})
    )
    with lk.share.open(inside) as history:
        lk.share.recalculate(history)
    assert not (tmp_path / "owned").exists()


@pytest.mark.parametrize("case", ["nb-01", "nb-03", "nb-04"])
def test_nb_a_notebook_inside_is_never_opened_shown_or_run(
    published: Path, tmp_path: Path, case: str
) -> None:
    markup = "<script>document.title='owned'</script><img src=x onerror=alert(1)>"
    told = {
        "cells": [{"cell_type": "code", "outputs": [{"data": {"text/html": [markup]}}]}],
        "metadata": {
            "kernelspec": {"argv": ["sh", "-c", f"touch {tmp_path}/owned"], "name": "evil"},
            "widgets": {"state": {"x": {"model_name": "HTMLModel", "state": {"value": markup}}}},
        },
    }
    book = json.dumps(told).encode()
    path = altered(published, tmp_path / f"{case}.eln", lambda f: f.update({"evil.ipynb": book}))
    with lk.share.open(path) as history:
        assert "owned" not in history.report
    assert not (tmp_path / "owned").exists()


def test_rec_01_doubled_keys_in_a_record_file(
    published: Path, other: Bench, tmp_path: Path
) -> None:
    import hashlib

    raw = CASES["rec-01"]["give"]["json"].encode()
    sha = hashlib.sha256(raw).hexdigest()
    bad = altered(published, tmp_path / "x.eln", lambda f: f.update({f"records/{sha}.json": raw}))
    with pytest.raises(ShareError, match="(?i)doubled keys"):
        lk.share.open(bad)
    with pytest.raises(ShareError, match="nothing was added"):
        lk.share.merge(other, bad)


def test_rec_02_deep_nesting_overflows_nothing(
    published: Path, other: Bench, tmp_path: Path
) -> None:
    import hashlib

    raw = b"[" * 200_000
    sha = hashlib.sha256(raw).hexdigest()
    bad = altered(published, tmp_path / "x.eln", lambda f: f.update({f"records/{sha}.json": raw}))
    assert not lk.share.verify(bad).ok
    with pytest.raises(ShareError):
        lk.share.merge(other, bad)
    for beside in ("openings.json", "history.json"):
        worse = altered(
            published, tmp_path / "y.eln", lambda f, name=beside: f.update({name: b"[" * 100_000})
        )
        with pytest.raises(ShareError, match=f"{beside} cannot be read"):
            lk.share.open(worse)


def test_rec_10_an_author_is_only_a_claim(published: Path) -> None:
    with lk.share.open(published) as history:
        assert "R. Tidewater" not in history.report
        assert history.person(history.trial("G-1").author) == ""


def test_path_01_a_record_names_files_by_their_content_alone(
    published: Path, other: Bench, tmp_path: Path
) -> None:
    import hashlib

    files = entries(published)
    name = record_names(files, "photo")[0]
    body = json.loads(files[name])
    for place in ("file:///etc/hostname", "../../secret.png"):
        raw = json.dumps(body | {"photo": place}, sort_keys=True, separators=(",", ":")).encode()
        sha = hashlib.sha256(raw).hexdigest()
        bad = altered(
            published,
            tmp_path / "x.eln",
            lambda f, s=sha, r=raw: f.update({f"records/{s}.json": r}),
        )
        with pytest.raises(ShareError, match="'photo' is"):
            lk.share.open(bad)
        with pytest.raises(ShareError, match="'photo' is"):
            lk.share.merge(other, bad)


@pytest.mark.parametrize("case", MARKUP)
def test_html_a_note_keeps_no_markup_and_the_sanitiser_alone_leaves_none(case: str) -> None:
    text = CASES[case]["give"]["text"]
    for made in (note_html(text), sanitised(text)):
        low = made.lower()
        for sign in ("<script", "<img", "<iframe", "<svg", "<style", "<a ", "<div", "<input"):
            assert sign not in low
        assert " on" not in "".join(part.split(">")[0] for part in low.split("<")[1:])
    assert "javascript:" not in sanitised(text).lower() or "<a" not in sanitised(text)


def test_html_17_the_report_carries_no_data_in_a_script(published: Path) -> None:
    assert b"<script" not in entries(published)["report.html"]


def test_a_long_line_of_marks_is_read_at_once() -> None:
    start = time.perf_counter()
    for text in ("*" * 20_000, "**a" * 7_000, "`" * 20_000, "~~a " * 5_000, "- \n" * 5_000):
        note_html(text)
    assert time.perf_counter() - start < 5
