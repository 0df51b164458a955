"""``labkit check``: what a recipe file says before the beaker."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from labkit.estimates import forecast
from labkit.formula import Brief, Formula
from labkit.materials import Materials

__all__ = ["add_commands", "brief_options", "materials_of", "stated_brief"]


def add_commands(commands: Any) -> None:
    """``check``."""
    check = commands.add_parser("check", help="what could go wrong; exit 1 on a stop")
    check.add_argument("formula", type=Path, help="a recipe file: CSV, XLSX, ODS, Markdown, text")
    check.add_argument("--ph", type=float, help="the pH that was measured")
    brief_options(check)
    check.set_defaults(run=run_check)


def brief_options(command: argparse.ArgumentParser) -> None:
    """The points of the brief that limits depend on, and the materials."""
    command.add_argument("--product", default="cream", help="what it is, such as 'hand cream'")
    command.add_argument("--product-type", help="from the list of product types")
    use = command.add_mutually_exclusive_group()
    use.add_argument("--leave-on", action="store_true", default=None)
    use.add_argument("--rinse-off", action="store_true", default=None)
    command.add_argument("--market", default="EU", help="EU, GB, US, joined by commas")
    command.add_argument("--materials", type=Path, help="own materials, CSV or XLSX")
    command.add_argument("--json", action="store_true", help="write JSON")


def stated_brief(asked: argparse.Namespace) -> Brief:
    """The brief that the options state."""
    leave_on = True if asked.leave_on else False if asked.rinse_off else None
    return Brief(
        product=asked.product,
        product_type=asked.product_type,
        leave_on=leave_on,
        market=tuple(word.strip().upper() for word in asked.market.split(",")),
    )


def materials_of(asked: argparse.Namespace) -> Materials:
    """The starter materials, and the own ones where a file is named."""
    if asked.materials is None:
        return Materials.starter()
    return Materials.read(asked.materials)


def run_check(asked: argparse.Namespace) -> int:
    """Print the findings; 1 when one of them is a stop."""
    formula = Formula.read(asked.formula)
    look = forecast(formula, materials_of(asked), brief=stated_brief(asked), measured_ph=asked.ph)
    stops = [f for f in look.findings if f.severity == "stop"]
    if asked.json:
        print(
            json.dumps({"formula": formula.name} | look.as_record(), ensure_ascii=False, indent=1)
        )
    else:
        print(look)
    return 1 if stops else 0
