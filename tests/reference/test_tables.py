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
    """The runner can fail: values moved far away make every passing row fail."""
    if not any(result.status == PASSED for result in run.run_file(path)):
        pytest.skip("a table of facts, or one without a covered row")
    rows = run.load(path)
    columns = [c for c in ("value", "expected", "expected_json", "std_error") if c in rows[0]]
    if "value" not in columns and not any(c.startswith("expected") for c in columns):
        pytest.skip("its expectation is not in a numeric column")
    before = {
        r.row_id: r.status for r in run.run_rows(rows, run.choose(path.stem, frozenset(rows[0])))
    }
    moved = [dict(row) for row in rows]
    for row in moved:
        for column in columns:
            row[column] = _moved(row[column])
    after = run.run_rows(moved, run.choose(path.stem, frozenset(rows[0])))
    assert any(before[r.row_id] == PASSED and r.status == FAILED for r in after)


def _moved(text: str) -> str:
    return re.sub(r"\d+(?:\.\d+)?", lambda m: f"{float(m.group()) * 9 + 77:.6g}", text)
