"""Write ``datasets/datapackage.json`` (Frictionless Data Package) from the tables.

Run ``python -m tests.datasets.make_datapackage`` after any change of a table.
"""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from typing import Any

from labkit import tables

FOLDER = tables.path("sources").parent
TARGET = FOLDER / "datapackage.json"

_INTEGER = re.compile(r"-?\d{1,15}")
_NUMBER = re.compile(r"-?\d+(\.\d+)?([eE][+-]?\d+)?")


def package(folder: Path) -> dict[str, Any]:
    """The description of every CSV file below ``folder``."""
    files = sorted(folder.rglob("*.csv"), key=lambda file: _name(folder, file))
    known = {row["table"]: row for row in _rows(folder / "contents.csv")}
    return {
        "profile": "tabular-data-package",
        "name": "labkit-datasets",
        "title": "Raw materials, rules and physical data for skin- and hair-care formulation",
        "description": "One row, one fact. source_id names an entry of sources.csv or sources.d/; "
        "source_kind is opened (seen in the source, with its place), computed, memory, "
        "common-practice or invented.",
        "licenses": [
            {
                "name": "CC0-1.0",
                "path": "https://creativecommons.org/publicdomain/zero/1.0/",
                "title": "CC0 1.0 for the compilation; terms of each source in the sources tables",
            }
        ],
        "sources": [
            {"title": f"{len(tables.sources())} sources", "path": "sources.csv"},
        ],
        "resources": [_resource(folder, file, known) for file in files],
    }


def text(folder: Path) -> str:
    """The package as the text of its file."""
    return json.dumps(package(folder), ensure_ascii=False, indent=1) + "\n"


def _name(folder: Path, file: Path) -> str:
    return file.relative_to(folder).with_suffix("").as_posix()


def _rows(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def _resource(folder: Path, file: Path, known: dict[str, dict[str, str]]) -> dict[str, Any]:
    name = _name(folder, file)
    rows = _rows(file)
    entry = known.get(name, {})
    head = file.read_text(encoding="utf-8").split("\n", 1)[0].strip().split(",")
    schema: dict[str, Any] = {
        "fields": [_field(column, [row[column] for row in rows]) for column in head],
        "missingValues": [""],
    }
    if entry.get("primary_key"):
        schema["primaryKey"] = entry["primary_key"].split("; ")
    title = entry.get("title") or name.replace("_", " ").replace("/", ": ")
    return {
        "name": name.replace("/", "-").replace("_", "-").lower(),
        "title": title,
        "path": file.relative_to(folder).as_posix(),
        "profile": "tabular-data-resource",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": schema,
    }


def _field(column: str, cells: list[str]) -> dict[str, Any]:
    filled = [cell for cell in cells if cell]
    kind = "string"
    if filled and all(_INTEGER.fullmatch(cell) for cell in filled):
        kind = "integer"
    elif filled and all(_NUMBER.fullmatch(cell) for cell in filled):
        kind = "number"
    field: dict[str, Any] = {"name": column, "type": kind}
    if cells and len(filled) == len(cells):
        field["constraints"] = {"required": True}
    return field


def main() -> None:
    """Write the file."""
    TARGET.write_text(text(FOLDER), encoding="utf-8")


if __name__ == "__main__":
    main()
