"""Recipes as they lie around, read with a report of what was read as what."""

from __future__ import annotations

from pathlib import Path

from labkit.formula import Formula
from labkit.reading.cells import neutralise, plain_file_name, restore
from labkit.reading.reader import read_recipe
from labkit.reading.report import RecipeReport
from labkit.reading.writing import formula_text, write_csv, write_markdown, write_xlsx

__all__ = [
    "RecipeReport",
    "formula_text",
    "neutralise",
    "plain_file_name",
    "read_recipe",
    "restore",
    "write_csv",
    "write_markdown",
    "write_xlsx",
]


def _read_formula(path: Path) -> Formula:
    return read_recipe(path).formula()


Formula.reader = _read_formula
