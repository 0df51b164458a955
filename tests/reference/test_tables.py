"""Every reference table in this folder, through the one generic runner."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.reference import run
from tests.reference.tolerance import FAILED, NOT_COVERED, PASSED

TABLES = sorted(
    path for path in Path(__file__).parent.glob("*.csv") if path.name != run.LISTED.name
)


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.stem)
def test_every_row_passes_or_is_listed_with_a_reason(path: Path) -> None:
    results = run.run_file(path)
    failed = [
        f"{r.row_id}: expected {r.expected}, got {r.got} {r.reason}"
        for r in results
        if r.status == FAILED
    ]
    assert not failed, "\n".join(failed)
    skipped = {r.row_id for r in results if r.status == NOT_COVERED}
    listed = {row_id for table, row_id, _ in run.listed() if table == path.stem}
    assert skipped == listed


def test_every_line_of_the_list_of_rows_not_covered_gives_a_reason() -> None:
    stems = {path.stem for path in TABLES}
    for table, row_id, reason in run.listed():
        assert table in stems
        assert reason.strip(), row_id


@pytest.mark.parametrize("path", TABLES, ids=lambda path: path.stem)
def test_a_damaged_number_is_noticed(path: Path) -> None:
    """The runner can fail: values moved far away make rows fail that passed."""
    rows = run.load(path)
    modules = run.choose(path.stem, frozenset(rows[0]))
    before = {result.row_id: result.status for result in run.run_rows(rows, modules)}
    moved = [
        {key: text if key[0] == "_" else _moved(key, text) for key, text in row.items()}
        for row in rows
    ]
    after = {result.row_id: result.status for result in run.run_rows(moved, modules)}
    passed = [row_id for row_id, status in before.items() if status == PASSED]
    worse = [row_id for row_id in passed if after[row_id] == FAILED]
    assert worse or not passed


def _moved(column: str, text: str) -> str:
    if not column.startswith(("value", "expected", "std_error", "y", "x", "viscosity")):
        return text
    return re.sub(r"\d+(?:\.\d+)?", lambda m: f"{float(m.group()) * 9 + 77:.6g}", text)
