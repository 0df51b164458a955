"""Modules and functions stay small: what one person can hold in the head."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import labkit

ROOT = Path(labkit.__file__).parent
PYTHON = sorted(ROOT.rglob("*.py"))
SCRIPTS = sorted(ROOT.rglob("*.js"))
FORBIDDEN = {"utils", "util", "helpers", "misc", "common"}


@pytest.mark.parametrize("path", PYTHON + SCRIPTS, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_module_stays_below_six_hundred_lines(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 600
    assert path.stem not in FORBIDDEN


@pytest.mark.parametrize("path", PYTHON, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_python_function_stays_below_eighty_lines_of_code(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[1] if ast.get_docstring(node) and len(node.body) > 1 else node.body[0]
            length = (node.end_lineno or 0) - first.lineno + 1
            assert length <= 80, f"{node.name} has {length} lines"


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_script_function_stays_below_eighty_lines(path: Path) -> None:
    for name, length in script_functions(path.read_text(encoding="utf-8")):
        assert length <= 80, f"{name} has {length} lines"


def script_functions(text: str) -> list[tuple[str, int]]:
    """Name and length of each top-level function of a script, by its closing brace."""
    found, lines = [], text.splitlines()
    for start, line in enumerate(lines):
        head = re.match(r"(?:export )?(?:async )?(?:function (\w+)|const (\w+) = .*=> \{$)", line)
        if head:
            end = next((n for n in range(start, len(lines)) if lines[n].startswith("}")), start)
            found.append((head[1] or head[2], end - start + 1))
    return found


def test_the_script_measure_sees_a_long_function() -> None:
    text = "function long() {\n" + "  x();\n" * 90 + "}\n"
    assert script_functions(text) == [("long", 92)]
