"""Imports run only down the floors, and within a floor only in the order written."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

import labkit

ROOT = Path(labkit.__file__).parent
FLOORS = [
    ["errors", "tables", "quantities", "science"],
    ["materials", "formula", "reading"],
    ["evaluate"],
    ["bench"],
    ["learning"],
    ["estimates"],
    ["plan"],
    ["charts", "paperwork", "share", "teach"],
    ["widgets"],
    ["cli", "magics"],
]
PLACE = {room: (floor, i) for floor, rooms in enumerate(FLOORS) for i, room in enumerate(rooms)}
DOOR = {"__init__", "__main__"}
FILES = sorted(ROOT.rglob("*.py"))


def room_of(path: Path) -> str:
    parts = path.relative_to(ROOT).parts
    return parts[0].removesuffix(".py")


def project_imports(tree: ast.Module) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.level:
            yield node.lineno, "relative"
        elif isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "labkit":
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                yield node.lineno, inner if _is_module(inner) else str(node.module)
        elif isinstance(node, ast.Import):
            names = [a.name for a in node.names if a.name.split(".")[0] == "labkit"]
            yield from ((node.lineno, name) for name in names)


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_module_imports_only_from_its_own_floor_or_below(path: Path) -> None:
    room = room_of(path)
    if room in DOOR:
        return
    assert room in PLACE, f"the room {room} stands on no floor"
    wrong = []
    for line, name in project_imports(ast.parse(path.read_text(encoding="utf-8"))):
        target = name.split(".")[1] if "." in name else name
        if target == room:
            continue
        if target not in PLACE or PLACE[target] > PLACE[room]:
            wrong.append(f"line {line}: {name}")
    assert not wrong, f"{path.relative_to(ROOT)} reaches up: {wrong}"


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_project_import_hides_in_a_function(path: Path) -> None:
    if room_of(path) in DOOR:
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))
    hidden = [
        f"line {line}: {name}"
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef)
        for line, name in project_imports(ast.Module(body=function.body, type_ignores=[]))
    ]
    assert not hidden, f"{path.relative_to(ROOT)} hides an import: {hidden}"


def test_no_two_modules_import_each_other() -> None:
    graph: dict[str, set[str]] = {}
    for path in FILES:
        name = ".".join(("labkit", *path.relative_to(ROOT).with_suffix("").parts))
        name = name.removesuffix(".__init__")
        tree = ast.parse(path.read_text(encoding="utf-8"))
        top = ast.Module(body=[n for n in tree.body if not _typing_only(n)], type_ignores=[])
        graph[name] = {target for _, target in project_imports(top) if target != name}
    graph.pop("labkit", None)
    for start in graph:
        seen, stack = set(), [(start, [start])]
        while stack:
            here, way = stack.pop()
            for target in graph.get(here, ()):
                assert target != start, f"circle: {' -> '.join([*way, target])}"
                if target not in seen:
                    seen.add(target)
                    stack.append((target, [*way, target]))


def _is_module(name: str) -> bool:
    path = ROOT.joinpath(*name.split(".")[1:])
    return path.with_suffix(".py").is_file() or (path / "__init__.py").is_file()


def _typing_only(node: ast.stmt) -> bool:
    return isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)


def _loaded_after(code: str) -> set[str]:
    script = f"import sys; {code}; print('\\n'.join(sys.modules))"
    out = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return set(out.stdout.split())


def test_importing_the_door_loads_numpy_at_most() -> None:
    heavy = {
        "pandas",
        "scipy",
        "pint",
        "plotly",
        "ipywidgets",
        "anywidget",
        "IPython",
        "sqlalchemy",
        "openpyxl",
        "odf",
        "PIL",
        "jupyterlab",
    }
    assert not heavy & _loaded_after("import labkit")


def test_the_science_knows_no_formula() -> None:
    rooms = [r for floor in FLOORS[1:] for r in floor]
    for path in sorted((ROOT / "science").rglob("*.py")):
        names = {
            n.split(".")[1] for _, n in project_imports(ast.parse(path.read_text())) if "." in n
        }
        assert not names & set(rooms), path


def test_floors_are_listed_once() -> None:
    flat = [room for floor in FLOORS for room in floor]
    assert len(flat) == len(set(flat)) == len(PLACE)
    assert all(a < b for a, b in pairwise(sorted(PLACE.values())))
