"""Hand-written formulas by INCI or common name, each with the finding it must raise."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

from labkit.estimates.check import Checker
from labkit.formula import Formula
from labkit.formula.brief import Brief
from labkit.materials import Materials

DAY = date(2026, 11, 24)


@cache
def materials() -> Materials:
    return Materials.starter()


@dataclass(frozen=True, slots=True)
class Case:
    id: str
    title: str
    formula: Formula
    brief: Brief
    ph: float | None
    code: str | None
    severity: str | None

    def checker(self) -> Checker:
        return Checker(self.formula, materials(), self.brief, day=DAY)


@cache
def cases() -> tuple[Case, ...]:
    path = Path(__file__).with_name("cases.csv")
    with path.open(encoding="utf-8", newline="") as file:
        return tuple(_case(row) for row in csv.DictReader(file))


def formula(text: str, name: str = "case") -> Formula:
    """``A: Aqua qs | B: Cetyl Alcohol 2``; without a letter all is one phase."""
    rows = ["phase,material,percent"]

    for part in text.split("|"):
        phase, _, body = part.rpartition(": ")
        material, _, share = body.strip().rpartition(" ")
        rows.append(f'{phase.strip() or "A"},"{material}",{share}')
    return Formula.parse("\n".join(rows), name)


def _case(row: dict[str, str]) -> Case:
    wishes = dict(part.split("=", 1) for part in row["brief"].split(";") if part)
    code, _, severity = row["expect"].partition(":")
    clean = row["expect"] == "none"
    return Case(
        id=row["case_id"],
        title=row["title"],
        formula=formula(row["formula"], row["title"]),
        brief=Brief(
            product=wishes.get("product", row["product"]),
            form=row["form"] or None,
            market=(row["market"],),
            as_of=DAY,
            **_more(wishes),
        ),
        ph=float(row["ph"]) if row["ph"] else None,
        code=None if clean else code,
        severity=None if clean else severity,
    )


def _more(wishes: dict[str, str]) -> dict[str, object]:
    found: dict[str, object] = {}
    for name, text in wishes.items():
        if name in ("ph", "viscosity"):
            found[name] = tuple(text.split(","))
        elif name in ("must_not", "must_have"):
            found[name] = (text,)
        elif name == "under_3":
            found[name] = True
        elif name != "product":
            found[name] = text
    return found
