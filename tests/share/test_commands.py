"""``labkit export``, ``verify``, ``recalculate`` and ``merge``."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from labkit.bench import Bench
from labkit.cli import main
from tests.share.altering import altered, entries, record_names


@pytest.fixture
def place(bench: Bench, tmp_path: Path) -> str:
    return str(tmp_path / "bench.db")


def test_export_verify_recalculate_merge(
    place: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = str(tmp_path / "gel.eln")
    assert main(["export", file, "--bench", place, "--licence", "CC0-1.0"]) == 0
    assert "gel: holds" in capsys.readouterr().out
    assert main(["verify", file, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["ok"]
    assert main(["verify", file, "--expect", told["check_number"]]) == 0
    assert main(["verify", file, "--expect", "0" * 64]) == 1
    assert main(["verify", place]) == 0
    capsys.readouterr()
    assert main(["recalculate", file]) == 0
    first = capsys.readouterr().out.splitlines()[0]
    assert first.endswith("0 differ, 2 not run")
    assert (
        main(["merge", file, "--bench", str(tmp_path / "own.db"), "--alias", "tide", "--json"]) == 0
    )
    assert json.loads(capsys.readouterr().out)["new"] == 16


def test_a_preview_writes_nothing(
    place: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "gel.eln"
    words = ["export", str(file), "--bench", place, "--preview"]
    assert main(words) == 0
    assert "supplier: closed" in capsys.readouterr().out
    assert main([*words, "--open", "supplier", "--trials", "G-1"]) == 0
    assert "The Quiet Shop" not in capsys.readouterr().out, "the lot belongs to no chosen trial"
    assert main([*words, "--open", "supplier", "--json"]) == 0
    assert "The Quiet Shop" in json.loads(capsys.readouterr().out)["text"]
    assert not file.exists()


def test_exit_codes_say_what_was_found(
    published: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    name = record_names(entries(published), "note")[0]
    bad = altered(
        published,
        tmp_path / "bad.eln",
        lambda f: f.update({name: f[name].replace(b"thin", b"rich")}),
    )
    assert main(["verify", str(bad)]) == 1
    assert name[8:20] in capsys.readouterr().out
    assert main(["merge", str(bad), "--bench", str(tmp_path / "own.db")]) == 2
    assert "nothing was added" in capsys.readouterr().err
    part = altered(
        published,
        tmp_path / "part.eln",
        lambda f: f.pop(next(n for n in record_names(f, "trial") if b'"G-2"' in f[n])),
    )
    assert main(["merge", str(part), "--bench", str(tmp_path / "own.db")]) == 1
    assert "are held back" in capsys.readouterr().out
    assert main(["verify", str(tmp_path / "none.eln")]) == 2
    assert main(["export", str(tmp_path / "x.eln"), "--bench", str(tmp_path / "no.db")]) == 2
