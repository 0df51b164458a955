"""Run reference tables against labkit.

    python -m tests.reference.run FILE.csv ...            any path, any number
    python -m tests.reference.run --list FILE.csv ...     also rewrite not_covered.csv

Prints each failing row, each row not covered with its reason, a line a file, and last
``N passed, N failed, N not covered`` over all files. Exit code 1 on a failure, 2 when a
file cannot be read.

An adapter is a module ``tests/reference/adapters/<name>.py`` with

    TABLES: tuple[str, ...]     file stems it serves ("rheology" also serves
                                "rheology_more" and "2-rheology")
    COLUMNS: frozenset[str]     optional: columns that mark this kind of table, for a
                                file whose name says nothing
    def check(rows: list[Row]) -> Iterable[Result]

It is found by the file's name (longest stem that occurs in it), else by COLUMNS. When
several adapters know the columns, each row takes the first answer that is not
"not covered". A row without an answer is reported as not covered; an adapter that raises
fails the rows it has not answered (unless it was only guessed from the columns). Use the
helpers of ``tests.reference.tolerance``.
A table of facts has an adapter whose check yields ``fact(row)`` for every row.
"""

from __future__ import annotations

import argparse
import csv
import importlib
import pkgutil
import sys
import traceback
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType

from tests.reference import adapters
from tests.reference.tolerance import FAILED, NOT_COVERED, PASSED, Result, Row

LISTED = Path(__file__).resolve().with_name("not_covered.csv")
LISTED_COLUMNS = ("table", "row_id", "reason")


def load(path: Path) -> list[dict[str, str]]:
    """The rows of one CSV, each with ``_id``, ``_line`` and ``_table``."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = [
            {key: (value or "") for key, value in row.items() if key is not None}
            for row in csv.DictReader(file)
        ]
    seen: Counter[str] = Counter()
    for line, row in enumerate(rows, start=2):
        name = _name(row, line)
        seen[name] += 1
        row["_id"] = name if seen[name] == 1 else f"{name} #{seen[name]}"
        row["_line"], row["_table"] = str(line), path.stem
    return rows


def _name(row: Row, line: int) -> str:
    for key in ("id", "case_id", "row_id", "rule_id"):
        if row.get(key):
            return row[key]
    parts = [row[key] for key in ("case", "model", "record", "run", "item") if row.get(key)]
    return " / ".join(parts) or f"line {line}"


def all_adapters() -> list[ModuleType]:
    """Every adapter module, by name."""
    names = sorted(module.name for module in pkgutil.iter_modules(adapters.__path__))
    return [importlib.import_module(f"{adapters.__name__}.{name}") for name in names]


def by_name(stem: str) -> list[ModuleType]:
    """Adapters whose table's name occurs in the file's name; the longest names win."""
    found = [
        (len(table), module)
        for module in all_adapters()
        for table in module.TABLES
        if table in stem.lower()
    ]
    longest = max((length for length, _ in found), default=0)
    return [module for length, module in found if length == longest]


def choose(stem: str, columns: frozenset[str]) -> list[ModuleType]:
    """Adapters for a file: by its name, else by its columns."""
    return by_name(stem) or [
        module
        for module in all_adapters()
        if getattr(module, "COLUMNS", None) and columns >= module.COLUMNS
    ]


def run_rows(
    rows: list[dict[str, str]], modules: Sequence[ModuleType], *, guessed: bool = False
) -> list[Result]:
    """One result a row, in file order; an adapter that was only guessed may fail to read."""
    answers: dict[str, Result] = {}
    for module in modules:
        try:
            for result in module.check(rows):
                known = answers.get(result.row_id)
                if known is None or known.status == NOT_COVERED:
                    answers[result.row_id] = result
        except Exception as fault:
            where = traceback.extract_tb(fault.__traceback__)[-1]
            words = f"{type(fault).__name__}: {fault} ({Path(where.filename).name}:{where.lineno})"
            status = NOT_COVERED if guessed else FAILED
            for row in rows:
                answers.setdefault(
                    row["_id"], Result(row_id=row["_id"], status=status, reason=words)
                )
    silent = "no adapter answers this row" if modules else "no adapter knows this table"
    return [
        answers.get(row["_id"], Result(row_id=row["_id"], status=NOT_COVERED, reason=silent))
        for row in rows
    ]


def run_file(path: Path) -> list[Result]:
    """Run one table."""
    rows = load(path)
    columns = frozenset(rows[0]) if rows else frozenset()
    modules = choose(path.stem, columns)
    return run_rows(rows, modules, guessed=not by_name(path.stem))


def listed() -> list[tuple[str, str, str]]:
    """Rows known not to be covered: table, row, reason."""
    if not LISTED.exists():
        return []
    with LISTED.open(encoding="utf-8", newline="") as file:
        return [(row["table"], row["row_id"], row["reason"]) for row in csv.DictReader(file)]


def relist(table: str, results: Sequence[Result]) -> None:
    """Rewrite one table's lines in not_covered.csv."""
    kept = [line for line in listed() if line[0] != table]
    fresh = [(table, r.row_id, r.reason) for r in results if r.status == NOT_COVERED]
    lines = sorted(kept + fresh)
    with LISTED.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(LISTED_COLUMNS)
        writer.writerows(lines)


def _report(path: Path, results: Sequence[Result]) -> Counter[str]:
    count = Counter(result.status for result in results)
    for result in results:
        if result.status == FAILED:
            print(
                f"FAILED {path.name} {result.row_id}: expected {result.expected}, "
                f"got {result.got} {result.reason}".rstrip()
            )
        elif result.status == NOT_COVERED:
            print(f"not covered {path.name} {result.row_id}: {result.reason}")
    others = ", ".join(f"{count[kind]} {kind}" for kind in ("input", "fact") if count[kind])
    print(f"{path.name}: {_line(count)}" + (f" ({others})" if others else ""))
    return count


def _line(count: Counter[str]) -> str:
    return f"{count[PASSED]} passed, {count[FAILED]} failed, {count[NOT_COVERED]} not covered"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the files named on the command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.reference.run", description=__doc__)
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE.csv")
    parser.add_argument("--list", action="store_true", help="rewrite not_covered.csv")
    options = parser.parse_args(arguments)
    total: Counter[str] = Counter()
    for path in options.files:
        if path.resolve() == LISTED:
            continue
        try:
            results = run_file(path)
        except (OSError, UnicodeDecodeError, csv.Error) as fault:
            print(f"{path}: cannot be read: {fault}", file=sys.stderr)
            return 2
        total += _report(path, results)
        if options.list:
            relist(path.stem, results)
    print(_line(total))
    return 1 if total[FAILED] else 0


if __name__ == "__main__":
    sys.exit(main())
