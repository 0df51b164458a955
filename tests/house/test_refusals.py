"""Every module that refuses something has a test that reads the words of a refusal."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import labkit
from labkit import errors

ROOT = Path(labkit.__file__).parent
TESTS = Path(__file__).parents[1]
CLASSES = {
    name
    for name in dir(errors)
    if isinstance(getattr(errors, name), type) and issubclass(getattr(errors, name), ValueError)
}
SHARED_LETTERS = 9
"""A pattern reads a refusal when they have at least so many letters in one run."""


def called(node: ast.Call) -> str:
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def texts(node: ast.AST) -> list[str]:
    """The literal pieces of text below a node, also those inside f-strings."""
    return [
        n.value for n in ast.walk(node) if isinstance(n, ast.Constant) and isinstance(n.value, str)
    ]


def refusals(path: Path) -> Iterator[tuple[int, str, list[str]]]:
    """Line, class and words of each refusal; words chosen beforehand lie in the function."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    functions = [n for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)]
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and called(node) in CLASSES:
            around = [f for f in functions if f.lineno <= node.lineno <= (f.end_lineno or 0)]
            inner = max(around, key=lambda f: f.lineno, default=None)
            named = any(
                isinstance(n, ast.Name | ast.Starred) for k in node.keywords for n in [k.value]
            )
            yield node.lineno, called(node), texts(inner if named and inner else node)


def patterns() -> list[str]:
    """What the tests look for with ``match=``, also where the pattern is a parameter."""
    found = []
    for path in sorted(TESTS.rglob("test_*.py")):
        source = path.read_text(encoding="utf-8")
        if "pytest.raises(" not in source or path == Path(__file__):
            continue
        for function in ast.walk(ast.parse(source)):
            if not isinstance(function, ast.FunctionDef):
                continue
            for call in ast.walk(function):
                if isinstance(call, ast.Call) and called(call) == "raises":
                    match = [k.value for k in call.keywords if k.arg == "match"]
                    plain = bool(match) and bool(texts(match[0]))
                    found += texts(match[0]) if plain else texts(function) if match else []
    return [re.sub(r"\\(.)", r"\1", text) for text in found]


def runs(text: str) -> set[str]:
    """Every run of letters of the stated length, blanks counted."""
    return {text[i : i + SHARED_LETTERS] for i in range(len(text) - SHARED_LETTERS + 1)}


RAISING = [p for p in sorted(ROOT.rglob("*.py")) if p.name != "errors.py" and list(refusals(p))]


@pytest.fixture(scope="module")
def looked_for() -> set[str]:
    return set().union(*(runs(text) for text in patterns()))


@pytest.mark.parametrize("path", RAISING, ids=lambda p: str(p.relative_to(ROOT)))
def test_some_test_reads_the_words_of_a_refusal(path: Path, looked_for: set[str]) -> None:
    unread = [
        (line, kind)
        for line, kind, words in refusals(path)
        if not any(runs(text) & looked_for for text in words)
    ]
    told = [f"line {line}: {kind}" for line, kind in unread]
    assert len(unread) < len(list(refusals(path))), f"no refusal is read by a test: {told}"


def test_a_module_without_a_test_would_be_seen() -> None:
    assert not runs("a sentence that stands in no test of the house") & runs("pH 55 lies outside")
    assert runs("pH 55 lies outside 0 to 14") & runs("pH 55 lies")
