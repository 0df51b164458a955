"""``labkit list``: the ingredient list of a recipe file."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from labkit.cli.checking import brief_options, materials_of, stated_brief
from labkit.estimates.declaration import Declaration
from labkit.formula import Formula
from labkit.paperwork import ingredient_list

__all__ = ["add_commands"]


def add_commands(commands: Any) -> None:
    """``list``."""
    told = "ingredient list, ready to copy, with what is not certain"
    command = commands.add_parser("list", help=told)
    command.add_argument("formula", type=Path, help="a recipe file: CSV, XLSX, ODS, Markdown, text")
    command.add_argument("--explain", action="store_true", help="why each name stands there")
    command.add_argument("--save", type=Path, help="write it too: .html, .md, .txt or .csv")
    brief_options(command)
    command.set_defaults(run=run_list)


def run_list(asked: argparse.Namespace) -> int:
    """Print the list of each market, and what about it is not certain."""
    formula = Formula.read(asked.formula)
    made = ingredient_list(formula, materials_of(asked), brief=stated_brief(asked))
    if asked.save is not None:
        made.save(asked.save)
    if asked.json:
        record = {d.market: _plain(d) for d in made.declarations}
        print(json.dumps({"formula": formula.name} | record, ensure_ascii=False, indent=1))
    elif asked.explain:
        print(made.text)
    else:
        for one in made.declarations:
            print(f"{one.market}  {one.headed}")
            for question in one.questions:
                print(f"    not certain: {question}")
    return 0


def _plain(made: Declaration) -> dict[str, Any]:
    return {
        "list": made.text,
        "allergen_rules": made.allergen_rules,
        "names": [
            {
                "name": e.name,
                "percent": f"{e.amount.typical:f}",
                "low": f"{e.amount.low:f}",
                "high": f"{e.amount.high:f}",
                "block": e.block,
                "from": list(e.lines),
                "rules": list(e.rules),
                "not_certain_against": list(e.may_swap),
            }
            for e in made.entries
        ],
        "left_out": [{"name": x.name, "why": x.why} for x in made.left_out],
        "not_certain": list(made.questions),
    }
