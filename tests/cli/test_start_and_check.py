"""``labkit start`` does the main job once; ``labkit check`` says what could go wrong."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from labkit.bench import Bench
from labkit.cli import main, parser

CLEAN = "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,4\nA,Phenoxyethanol,0.9\nA,Panthenol,1\n"
CLASH = (
    "phase,material,percent\nA,Aqua,q.s.\nA,Sodium Laureth Sulfate,10\n"
    "A,Cetrimonium chloride 29 %,3\nA,Phenoxyethanol,0.9\n"
)


def test_start_ends_with_the_main_job_done_and_says_where(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "my bench"
    assert main(["start", str(folder), "--no-lab"]) == 0
    said = capsys.readouterr().out
    assert "14 lines read, total 100.0000 %" in said
    assert "29 trials of three products, recorded just now" in said
    assert "HC-06   separated" in said
    assert "The history holds" in said
    assert (folder / "notebooks" / "00-start-here.ipynb").is_file()
    with Bench.open(folder / "demo-bench.db") as bench:
        assert len(bench.trials()) == 29
        assert bench.trial("HC-01").forecast is not None
    with Bench.open(folder) as own:
        assert own.trials().empty


def test_start_a_second_time_leaves_everything_as_it_is(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["start", str(tmp_path), "--no-lab"])
    notebook = tmp_path / "notebooks" / "00-start-here.ipynb"
    notebook.write_text("my own words")
    main(["start", str(tmp_path), "--no-lab"])
    assert "was there already" in capsys.readouterr().out
    assert notebook.read_text() == "my own words"


def test_check_passes_a_plain_toner_and_stops_a_charge_clash(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    clean, clash = tmp_path / "clean.csv", tmp_path / "clash.csv"
    clean.write_text(CLEAN)
    clash.write_text(CLASH)
    assert main(["check", str(clean), "--product", "toner", "--leave-on"]) == 0
    assert main(["check", str(clash), "--product", "shampoo", "--rinse-off"]) == 1
    assert "stop: " in capsys.readouterr().out


def test_check_writes_json_for_other_programs(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    clash = tmp_path / "clash.csv"
    clash.write_text(CLASH)
    assert main(["check", str(clash), "--product", "shampoo", "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["findings"][0]["severity"] == "stop"


def test_a_recipe_with_open_questions_is_refused_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = tmp_path / "open.csv"
    sheet.write_text("Ingredient,%\nAqua,90\nGlycerin,\nUrea,5\n")
    assert main(["check", str(sheet)]) == 2
    told = capsys.readouterr().err
    assert "Glycerin" in told
    assert "Traceback" not in told


def test_a_file_that_is_not_there_is_told_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(tmp_path / "none.csv")]) == 2
    assert "none.csv" in capsys.readouterr().err


def test_every_command_has_help() -> None:
    text = parser().format_help()
    for word in ("start", "lab", "check", "Exit codes"):
        assert word in text


def test_the_installed_command_runs() -> None:
    code = "from labkit.cli import main; raise SystemExit(main(['--help']))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "labkit" in out.stdout
