"""The rebalance arithmetic of Python and of JavaScript against one table."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from labkit.formula.rebalance import reach, share_out
from tests.formula.make_vectors import PATH, text

SCRIPT = Path(__file__).parents[2] / "labkit" / "widgets" / "js" / "rebalance.js"
NODE = """
const fs = require("fs");
const room = new Function(fs.readFileSync(process.argv[1], "utf8") +
  "; return { reachOf, rebalance };")();
const bad = [];
JSON.parse(fs.readFileSync(process.argv[2], "utf8")).forEach((c, n) => {
  const rows = room.rebalance(c.units, c.low, c.high, c.line, c.givers, c.wanted, c.rank);
  const reach = room.reachOf(c.units, c.low, c.high, c.line, c.givers);
  if (String(rows) !== String(c.expected) || String(reach) !== String(c.reach)) bad.push(n);
});
console.log(JSON.stringify(bad));
"""


def cases() -> list[dict[str, Any]]:
    loaded: list[dict[str, Any]] = json.loads(PATH.read_text(encoding="utf-8"))
    return loaded


def test_the_table_is_what_its_seeded_script_writes() -> None:
    assert PATH.read_text(encoding="utf-8") == text()


def test_python_gives_every_row_of_the_table_to_the_last_unit() -> None:
    wrong = []
    for number, case in enumerate(cases()):
        givers, line, units = case["givers"], case["line"], case["units"]
        span = reach(units, case["low"], case["high"], line, givers)
        rest = sum(units[i] for i in givers) + units[line] - case["wanted"]
        shared = share_out(
            [units[i] for i in givers],
            [case["low"][i] for i in givers],
            [case["high"][i] for i in givers],
            rest,
            [case["rank"][i] for i in givers],
        )
        rows = list(units)
        rows[line] = case["wanted"]
        for i, amount in zip(givers, shared, strict=True):
            rows[i] = amount
        if rows != case["expected"] or list(span) != case["reach"]:
            wrong.append(number)
    assert wrong == []


def test_every_row_of_the_table_adds_up_to_a_million_units() -> None:
    assert {sum(case["expected"]) for case in cases()} == {1_000_000}


@pytest.mark.skipif(shutil.which("node") is None, reason="the browser test runs the same table")
def test_javascript_gives_every_row_of_the_table_to_the_last_unit() -> None:
    done = subprocess.run(
        ["node", "-e", NODE, str(SCRIPT), str(PATH)], capture_output=True, text=True, check=True
    )
    assert json.loads(done.stdout) == []
