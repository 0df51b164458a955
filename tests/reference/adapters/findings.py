"""Clean controls and planted faults: which findings a formula may and must raise."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from functools import cache

from labkit.estimates.check import check as check_formula
from labkit.estimates.finding import Findings
from labkit.formula import Formula, Line
from labkit.formula.brief import FORMS, Brief
from labkit.formula.names import fold
from labkit.formula.product_types import product_type
from labkit.materials import Materials
from tests.reference.tolerance import FAILED, PASSED, Result, Row, not_covered, number

TABLES = ("clean_controls", "planted_faults")
COLUMNS = frozenset({"case_id", "product_type", "form", "market", "formula_json"})


@cache
def materials() -> Materials:
    return Materials.starter()


def check(rows: list[Row]) -> Iterable[Result]:
    """One result a row."""
    for row in rows:
        unknown = _unknown(row)
        if unknown:
            yield not_covered(row, f"materials that labkit does not ship: {unknown}")
        elif "expected_finding" in row:
            yield _fault(row)
        else:
            yield _clean(row)


def _unknown(row: Row) -> str:
    parts = json.loads(row["formula_json"])
    return ", ".join(p["material_id"] for p in parts if not _resolve(p))


def _resolve(part: dict[str, str]) -> str | None:
    found = materials().resolve(part["material_id"]) or materials().resolve(part["name"])
    return None if found is None else found.key


def findings_of(row: Row) -> Findings:
    """What labkit finds in a row's formula."""
    lines = tuple(
        Line(phase="A", material=p["name"], percent=Decimal(p["percent"]), key=_resolve(p))
        for p in json.loads(row["formula_json"])
    )
    ph = number(row["ph"])
    return check_formula(Formula(row["title"], lines), materials(), _brief(row), ph=ph)


def _brief(row: Row) -> Brief:
    kind = next((x for x in (row["product_type"], row["use"]) if product_type(x)), None)
    markets = [m.strip() for m in row["market"].replace(",", ";").split(";") if m.strip()]
    return Brief(
        product=row["title"],
        product_type=kind,
        form=row["form"] if fold(row["form"]) in FORMS else None,
        wet_hands=True if row["form"] == "used wet" else None,
        market=tuple("GB" if m == "UK" else m for m in markets),
        as_of=date.fromisoformat(row["as_of_date"]),
    )


def _clean(row: Row) -> Result:
    found = findings_of(row)
    allowed = number(row["expected_stop_count"])
    return Result(
        row_id=row["_id"],
        status=PASSED if len(found.stops) == allowed else FAILED,
        expected=f"{row['expected_stop_count']} stops",
        got=" ".join(f"{f.code} ({f.what})" for f in found.stops) or "no stop",
    )


def _fault(row: Row) -> Result:
    found = findings_of(row)
    wanted, level = row["expected_finding"], row["expected_level"]
    allowed = {part.split(":")[0].strip() for part in row["also_allowed"].split(";")} | {wanted}
    hits = found.of(lambda f: f.code == wanted and f.severity == level)
    others = [f.code for f in found.stops if f.code not in allowed]
    ids = {p["name"]: p["material_id"] for p in json.loads(row["formula_json"])}
    lines = {ids[name] for name in hits[0].names} if hits else set()
    missing = {x.strip() for x in row["expected_lines"].split(";") if x.strip()} - lines
    good = bool(hits) and not others and not missing
    return Result(
        row_id=row["_id"],
        status=PASSED if good else FAILED,
        expected=f"{level} {wanted} in {row['expected_lines']}",
        got=", ".join(f"{f.severity} {f.code}" for f in found) or "nothing",
        reason="" if good else f"other stops {others}, lines missing {sorted(missing)}",
    )
