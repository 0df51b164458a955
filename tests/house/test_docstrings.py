"""Every public name says what it is; science says units, equation, range and an example."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import labkit

ROOT = Path(labkit.__file__).parent
FILES = sorted(ROOT.rglob("*.py"))
SCIENCE = [p for p in FILES if p.parent.name == "science" and p.stem != "__init__"]
SECTIONS = ("Parameters", "Returns", "Notes", "Examples")
INNER = {"acidbase_checks", "acidbase_scalar", "acidbase_vector", "bounds"}
"""Parts of the engines that no door leads to: one line tells what they do."""
Definition = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


def listed(tree: ast.Module) -> set[str] | None:
    """The names of ``__all__``; None where a module has none."""
    for node in tree.body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            return {str(name) for name in ast.literal_eval(node.value)}
    return None


def public(path: Path) -> Iterator[Definition]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names = listed(tree)
    for node in tree.body:
        if (
            isinstance(node, Definition)
            and not overload(node)
            and (node.name in names if names is not None else not node.name.startswith("_"))
        ):
            yield node


def overload(node: Definition) -> bool:
    return any("overload" in ast.unparse(d) for d in node.decorator_list)


def missing_sections(node: ast.FunctionDef) -> list[str]:
    doc = ast.get_docstring(node) or ""
    takes = bool(node.args.args or node.args.kwonlyargs or node.args.posonlyargs)
    refuses = any(isinstance(n, ast.Raise) for n in ast.walk(node))
    wanted = [s for s in SECTIONS if takes or s != "Parameters"] + ["Raises"] * refuses
    return [s for s in wanted if not re.search(rf"^{s}\n-{{3,}}$", doc, re.MULTILINE)]


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_public_name_says_what_it_is(path: Path) -> None:
    silent = [f"line {n.lineno}: {n.name}" for n in public(path) if not ast.get_docstring(n)]
    assert not silent, f"{path.relative_to(ROOT)}: {silent}"


@pytest.mark.parametrize("path", SCIENCE, ids=lambda p: p.stem)
def test_a_science_function_tells_units_equation_source_and_example(path: Path) -> None:
    short = {
        node.name: missing
        for node in public(path)
        if path.stem not in INNER
        and isinstance(node, ast.FunctionDef)
        and (missing := missing_sections(node))
    }
    assert not short, f"{path.relative_to(ROOT)}: {short}"
