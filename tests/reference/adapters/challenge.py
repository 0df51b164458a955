"""challenge_worked: log reductions and verdicts of challenge tests."""

from __future__ import annotations

import json
from collections.abc import Iterable

from labkit.science import challenge
from tests.reference.tolerance import FAILED, Result, Row, match, verdict

TABLES = ("challenge_worked",)
COLUMNS = frozenset({"case_id", "standard", "organism_group", "counts_json"})


def check(rows: list[Row]) -> Iterable[Result]:
    for row in rows:
        counts = json.loads(row["counts_json"])
        if not any(key.isdigit() for key in counts):
            head, words = challenge.overall(counts)
            got = f"overall {head}: {words}"
            yield verdict(row, got == row["expected"], row["expected"], got)
            continue
        reductions = challenge.log_reductions(counts)
        logs = {str(r.day): str(r) if r.at_least else r.value for r in reductions.values()}
        result = match(row, logs, json.loads(row["log_reductions_json"]))
        if result.status != FAILED:
            got = challenge.verdict(row["standard"], row["organism_group"], reductions)
            result = verdict(row, got == row["expected"], row["expected"], got)
        yield result
