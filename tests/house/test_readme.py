"""The README is true: its lines run, and print what it says."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


FENCED = re.findall(r"^```(\w*)\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def told_output() -> str:
    """The block that follows the Python lines."""
    names = [name for name, _ in FENCED]
    return str(FENCED[names.index("python") + 1][1])


def test_the_ten_lines_print_what_the_readme_says(tmp_path: Path) -> None:
    code = next(text for name, text in FENCED if name == "python")
    out = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path
    )
    assert out.stdout.strip() == told_output().strip()


def test_it_stays_short_and_gives_the_two_commands() -> None:
    assert len(README.splitlines()) <= 120
    commands = " ".join(text for _, text in FENCED)
    assert "labkit start my-bench" in commands
    assert "sh tests/run.sh" in commands
