"""The README is true: its lines run, and print what it says."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    fenced = re.findall(r"^```(\w*)\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    return [text for name, text in fenced if name == language]


def test_the_ten_lines_print_what_the_readme_says(tmp_path: Path) -> None:
    code = blocks("python")[0]
    out = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path
    )
    assert out.stdout.strip() == blocks("")[-1].strip()


def test_it_stays_short_and_gives_the_two_commands() -> None:
    assert len(README.splitlines()) <= 120
    commands = " ".join(blocks(""))
    assert "labkit start my-bench" in commands
    assert "sh tests/run.sh" in commands
