"""DEVELOPERS.md is true: dependencies, floors and the files it sends people to."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from tests.house.test_layers import FLOORS

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_every_dependency_has_its_line_of_reason() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"].values()
    listed = [*project["dependencies"], *(entry for extra in extras for entry in extra)]
    names = {re.split(r"[\[<>=]", entry)[0] for entry in listed} - {"labkit"}
    table = PAGE.split("| library |")[1].split("\n\n")[0]
    told = {name for row in table.splitlines() for name in row.split("|")[1].split(", ")}
    told = {name.strip() for name in told} - {"library", "---", ""}
    assert told - {"why it is here"} == names


def test_the_floors_are_those_that_are_enforced() -> None:
    drawn = re.findall(r"^(\d)  (.+?)\s{3,}", PAGE, re.MULTILINE)
    rooms = {int(n): set(re.split(r" · | → ", line.strip())) for n, line in drawn}
    assert rooms == {n: set(floor) for n, floor in enumerate(FLOORS)}


def test_the_files_it_names_are_there() -> None:
    named = re.findall(r"`((?:labkit|tests|datasets|notebooks|shared)/[\w./]*)`", PAGE)
    assert len(named) > 15
    missing = [name for name in named if not (ROOT / name).exists()]
    assert not missing


def test_the_commands_it_gives_are_modules_that_exist() -> None:
    for module in re.findall(r"python -m (tests\.[\w.]+)", PAGE):
        assert ROOT.joinpath(*module.split(".")).with_suffix(".py").exists(), module
