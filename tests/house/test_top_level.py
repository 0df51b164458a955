"""The top level of the project holds what its card says, and no word that must not be printed."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

import labkit

REPO = Path(__file__).parents[2]
ROOT = Path(labkit.__file__).parent
CARD = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "labkit",
    "notebooks",
    "tests",
    "datasets",
    "shared",
}
VERDICTS = re.compile(r"\b(safe|compliant|approved)\b", re.IGNORECASE)


def test_the_top_level_is_what_the_card_says() -> None:
    listing = subprocess.run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard"],
        cwd=REPO,
        capture_output=True,
        text=True,
        check=False,
    )
    if listing.returncode:
        names = {p.name for p in REPO.iterdir() if p.suffix != ".egg-info"}
    else:
        names = {line.split("/")[0] for line in listing.stdout.splitlines()}
    assert {n for n in names if not n.startswith(".")} <= CARD


@pytest.mark.parametrize("path", sorted(ROOT.rglob("*.py")), ids=lambda p: str(p.relative_to(ROOT)))
def test_no_text_of_ours_pronounces_a_verdict(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docs = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    spoken = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs
    ]
    assert not [text for text in spoken if VERDICTS.search(text)]


@pytest.mark.parametrize(
    "path",
    [p for suffix in ("*.js", "*.css") for p in sorted(ROOT.rglob(suffix))],
    ids=lambda p: str(p.relative_to(ROOT)),
)
def test_no_script_pronounces_a_verdict(path: Path) -> None:
    assert not VERDICTS.search(path.read_text(encoding="utf-8"))
