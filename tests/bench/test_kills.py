"""Nothing acknowledged is lost when a notebook is killed; two notebooks get along."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from labkit.bench import Bench

from .killing import kill_writers


@pytest.mark.slow
@pytest.mark.parametrize(("kills", "writers"), [(60, 1), (30, 2)])
def test_no_acknowledged_record_is_lost_when_writers_are_killed(
    kills: int, writers: int, tmp_path: Path
) -> None:
    found = kill_writers(kills, writers, folder=tmp_path)
    assert found.kills == kills
    assert found.acknowledged > kills
    assert (found.lost, found.damaged) == (0, 0), found
    assert found.slowest_open_s < 2


@pytest.mark.slow
@pytest.mark.parametrize("writers", [1, 2])
def test_a_writer_that_acknowledges_too_early_is_caught(writers: int, tmp_path: Path) -> None:
    found = kill_writers(20, writers, early=True, folder=tmp_path)
    assert found.lost > 0
    assert found.damaged == 0


WRITER = """
import sys
from labkit.bench import Bench
from labkit.formula import Formula
cream = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5")
with Bench.open(sys.argv[1]) as bench:
    for i in range(int(sys.argv[2])):
        bench.record(cream, note=f"{sys.argv[3]} {i}")
"""


@pytest.mark.slow
def test_two_notebooks_record_two_hundred_trials_each_on_one_file(tmp_path: Path) -> None:
    where = tmp_path / "bench.db"
    command = [sys.executable, "-c", WRITER, str(where), "200"]
    both = [subprocess.Popen([*command, name], stderr=subprocess.PIPE, text=True) for name in "ab"]
    for one in both:
        _, error = one.communicate(timeout=120)
        assert one.returncode == 0, error
    with Bench.open(where) as bench:
        frame = bench.trials()
        assert len(frame) == 400
        assert set(frame["label"]) == {f"T{i}" for i in range(1, 401)}
        assert bench.verify().ok
