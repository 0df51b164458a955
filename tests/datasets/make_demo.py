"""Writes datasets/demo/ from the invented story: ``python -m tests.datasets.make_demo``.

Seeded: the same files come out each time, and a test compares them.
"""

from __future__ import annotations

import csv
import io
import math
import random
from pathlib import Path
from typing import Any

from labkit.evaluate import compile_formula
from labkit.formula import Formula
from labkit.materials import Materials
from tests.datasets.demo_story import PRODUCTS, Product, Step

SEED = 20261103
FOLDER = Path(__file__).parents[2] / "datasets" / "demo"
LINES = ["label", "product", "phase", "material", "percent", "qs", "note"]
TRIALS = ["label", "product", "parents", "day", "note", "seen", "split"]
READINGS = [
    "label", "quantity", "value", "unit", "temperature", "dilution", "spindle", "speed", "weight",
    "cup", "at",
]  # fmt: skip
SERUM_PH = 6.0


def changed(formula: Formula, step: Step) -> Formula:
    """The parent's formula with the step's changes."""
    for material in step.removes:
        formula = formula.remove(material)
    for phase, material, percent in step.adds:
        formula = formula.add(material, percent, phase=phase)
    for material, percent in step.sets.items():
        formula = formula.move(material, percent)
    for old, new in step.swaps.items():
        formula = formula.swap(old, new)
    return formula


def thickness(product: Product, first: Formula, formula: Formula) -> float:
    """log10 of the viscosity in mPa·s: a straight line in the changes."""

    def share(recipe: Formula, name: str) -> float:
        return float(sum(x.percent for x in recipe.lines if x.material == name))

    return product.log_viscosity + sum(
        slope * (share(formula, name) - share(first, name))
        for name, slope in product.slopes.items()
    )


def acidity(product: Product, formula: Formula, mats: Materials) -> float:
    """pH: the engine and an offset of its own; a neutralised gel by its base ratio."""
    shares = {x.material: float(x.percent) for x in formula.lines}
    if "Carbomer" in shares:
        return SERUM_PH + 1.5 * (shares["Arginine"] / shares["Carbomer"] - 1) + product.ph_offset
    return float(compile_formula(formula, mats)().ph) + product.ph_offset


def readings(
    product: Product, step: Step, log_eta: float, ph: float, dice: random.Random
) -> list[dict[str, Any]]:
    """What was measured, with noise: 5 % for viscosity, 0.03 for pH."""
    rows: list[dict[str, Any]] = []
    room = {"temperature": "22 °C", "at": "24 h"}
    flow = {"temperature": "25 °C", "spindle": "helical C", "speed": "5 rpm", "at": "24 h"}

    def add(quantity: str, value: str, unit: str, **how: str) -> None:
        row = {"label": step.label, "quantity": quantity, "value": value, "unit": unit}
        rows.append(row | how)

    for _ in range(2):
        shown = f"{ph + dice.gauss(0, 0.03):.2f}"
        add("pH", shown, "pH", temperature="25 °C", dilution="neat", at="24 h")
    if step.split:
        add("appearance", "separated", "", at="24 h")
        return rows
    log_eta += dice.gauss(0, 0.025)
    for _ in range(3):
        add("viscosity", f"{10 ** (log_eta + dice.gauss(0, 0.02) - 3):.3g}", "Pa*s", **flow)
    if step.label in {"HC-04", "RC-05"}:
        eta = 10 ** (log_eta - 0.012 * 6 + dice.gauss(0, 0.02) - 3)
        add("viscosity", f"{eta:.3g}", "Pa*s", **(flow | {"temperature": "31 °C"}))
    if product.name.startswith("Harbour"):
        spread = 62 * 10 ** (-0.22 * (log_eta - 4.1)) + dice.gauss(0, 0.8)
        add("spread", f"{spread:.0f}", "mm", weight="200 g", **room)
    if product.name.startswith("Low"):
        drain = 30 * 10 ** (0.8 * (log_eta - 3.6)) + dice.gauss(0, 1)
        add("drain time", f"{drain:.0f}", "s", cup="6 mm hole", **room)
    word = ["pours", "drops", "mounds", "peaks"][sum(log_eta > x for x in (3.65, 3.95, 4.35))]
    add("thickness", word, "", at="24 h")
    return rows


def build() -> dict[str, str]:
    """The text of each file."""
    dice, mats = random.Random(SEED), Materials.starter()
    trials: list[dict[str, Any]] = []
    lines: list[dict[str, Any]] = []
    measured: list[dict[str, Any]] = []
    for product in PRODUCTS:
        first = Formula.parse(product.recipe, name=product.name)
        made: dict[str, Formula] = {}
        for step in product.steps:
            formula = changed(made[step.parent] if step.parent else first, step)
            made[step.label] = formula
            parents = [p for p in (step.parent, step.second_parent) if p]
            trials.append(
                {
                    "label": step.label,
                    "product": product.name,
                    "parents": " ".join(parents),
                    "day": step.day,
                    "note": step.note,
                    "seen": step.seen,
                    "split": "yes" if step.split else "no",
                }
            )
            lines += [
                {
                    "label": step.label,
                    "product": product.name,
                    "phase": x.phase,
                    "material": x.material,
                    "percent": f"{x.percent:f}",
                    "qs": "yes" if i == formula.qs else "no",
                    "note": x.note,
                }
                for i, x in enumerate(formula.lines)
            ]
            log_eta = thickness(product, first, formula)
            assert math.isfinite(log_eta)
            measured += readings(product, step, log_eta, acidity(product, formula, mats), dice)
    return {
        "trials.csv": _text(TRIALS, trials),
        "lines.csv": _text(LINES, lines),
        "readings.csv": _text(READINGS, measured),
    }


def _text(columns: list[str], rows: list[dict[str, Any]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def sheet() -> Any:
    """The first hand cream as a workbook that grew by hand: merged phases, commas, remarks."""
    from openpyxl import Workbook

    book = Workbook()
    page = book.active
    page.title = "cream 1"
    page["A1"], page["A2"] = "Harbour hand cream", "first draft, copied from the board"
    page.append([])
    page.append(["Phase", "Ingredient", "%", "Remark"])
    formula = Formula.parse(PRODUCTS[0].recipe, name=PRODUCTS[0].name)
    last, start = None, 0
    for i, line in enumerate(formula.lines):
        share = "ad 100" if i == formula.qs else f"{line.percent.normalize():f}".replace(".", ",")
        new = line.phase != last
        page.append([line.phase if new else None, line.material, share, line.note or None])
        row = page.max_row
        if new and last is not None and row - start > 1:
            page.merge_cells(start_row=start, end_row=row - 1, start_column=1, end_column=1)
        if new:
            last, start = line.phase, row
    page.append([])
    page.append([None, "Total", "=SUM(C5:C18)", None])
    return book


def main() -> None:
    """Write the files; the workbook only when its cells differ, since its bytes hold the time."""
    from openpyxl import load_workbook

    for name, text in build().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
    target, fresh = FOLDER / "hand-cream-as-found.xlsx", sheet()
    if not target.exists() or cells(load_workbook(target)) != cells(fresh):
        fresh.save(target)


def cells(book: Any) -> list[list[Any]]:
    """Every cell of the first page, and the merged ranges."""
    page = book.active
    rows = [list(row) for row in page.iter_rows(values_only=True)]
    return [*rows, sorted(str(r) for r in page.merged_cells.ranges)]


if __name__ == "__main__":
    main()
