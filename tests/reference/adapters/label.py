"""label_worked: ingredient lists, block by block."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from functools import partial
from typing import Any

from labkit.estimates.allergens import allergens
from labkit.estimates.declaration import Declaration, declare
from labkit.estimates.declaration_names import key_of
from labkit.formula import Brief, Formula, Line
from labkit.materials import Constituent, Materials
from tests.reference.tolerance import FAILED, PASSED, Result, Row, not_covered, refused

TABLES = ("label_worked",)
COLUMNS = frozenset({"case_id", "formula_json", "options_json", "expected_ordered_json"})

AS_THEY_ARE = ("may_contain", "left_out", "nano", "drug_actives", "as_perfume", "listed_as")
NO_CHOICE = ("neutralised_as_added", "leave_on", "note")
"""Options that state what labkit does anyway, or what another column says."""
NO_EFFECT = ("water", "evaporat", "neutralised", "top_up", "topped")
"""Words of options that change nothing: a list goes by the amounts added."""


def check(rows: list[Row]) -> Iterable[Result]:
    for row in rows:
        if "refuse" in f"{row['one_valid_declaration']} {row['tolerance']}".lower():
            yield refused(row, partial(worked, row))
            continue
        options = json.loads(row["options_json"] or "{}")
        choices, unknown = _choices(options, row)
        if unknown:
            yield not_covered(row, f"no choice of labkit for {', '.join(unknown)}")
        else:
            yield _compare(row, worked(row, choices))


def worked(row: Row, choices: Mapping[str, Any] | None = None) -> Declaration:
    """The row's formula through labkit."""
    items = json.loads(row["formula_json"], parse_float=Decimal, parse_int=Decimal)
    mats = Materials()
    for item in items:
        mats = _add(mats, item)
    lines = tuple(Line(phase="A", material=item["item"], percent=item["pct"]) for item in items)
    formula = Formula(row["case_id"], lines)
    brief = Brief(product="product", leave_on=row["product_type"] != "rinse-off")
    return declare(formula, mats, brief=brief, market=row["jurisdiction"], **(choices or {}))


def _add(mats: Materials, item: Mapping[str, Any]) -> Materials:
    parts = _flat(item.get("composition_pct") or [], Decimal(1))
    constituents = tuple(
        Constituent(inci=name, order=k, low=float(share), high=float(share))
        for k, (name, share) in enumerate(parts, start=1)
    )
    if not parts and item["item"][:1].islower():
        return mats.add(name=item["item"])  # a trade description, no INCI name
    return mats.add(name=item["item"], inci=item["item"], composition=constituents)


def _flat(parts: Any, of: Decimal) -> list[tuple[str, Decimal]]:
    """A composition, with blends inside it taken apart."""
    found: list[tuple[str, Decimal]] = []
    for part in parts:
        if isinstance(part, Mapping):
            part = [part["item"], part["pct"], part.get("composition_pct")]
        name, share, *inside = part
        amount = of * Decimal(str(share)) / 100
        found += _flat(inside[0], amount) if inside and inside[0] else [(name, amount)]
    return found


def _choices(options: Mapping[str, Any], row: Row) -> tuple[dict[str, Any], list[str]]:
    chosen: dict[str, Any] = {}
    unknown = []
    names = [item["item"] for item in json.loads(row["formula_json"])]
    for key, value in options.items():
        if key in AS_THEY_ARE:
            chosen[key] = value
        elif key == "allergen_rules":
            chosen[key] = "original 26" if _is_older(str(value)) else "2023/1545"
        elif key in ("incidental", "processing_aids", "impurities", "not_ingredient"):
            chosen["left_out"] = dict.fromkeys(value, f"{key} in the row")
        elif key in ("colourants", "colours", "colorants"):
            chosen["colours"] = value
        elif key == "oil_profile_pct":
            chosen.setdefault("certificates", {}).update(_profiles(value, names))
        elif key == "fragrance_statement_pct_of_fragrance":
            perfume = next(n for n in names if n.casefold() in ("parfum", "fragrance"))
            chosen.setdefault("certificates", {})[perfume] = value
        elif key not in NO_CHOICE and not any(word in key for word in NO_EFFECT):
            unknown.append(key)
    return chosen, unknown


def _is_older(value: str) -> bool:
    """Whether a row asks for the list of allergens before Regulation (EU) 2023/1545."""
    older = ("pre", "before", "old", "original", "earlier", "1223")
    return "1545" not in value or any(word in value.lower() for word in older)


def _profiles(value: Mapping[str, Any], names: list[str]) -> dict[str, Any]:
    if any(isinstance(x, Mapping) for x in value.values()):
        return dict(value)
    members = {key_of(member) for entry in allergens() for member in entry.members}
    named = [n for n in names if key_of(n) in members]
    (oil,) = (named or [n for n in names if n.casefold().endswith((" oil", " extract"))])[-1:]
    return {oil: value}


def _compare(row: Row, made: Declaration) -> Result:
    wanted = {
        "ordered": [sorted(group) for group in json.loads(row["expected_ordered_json"])],
        "any order": sorted(json.loads(row["expected_any_order_json"])),
        "colours": sorted(json.loads(row["expected_colourants_json"])),
    }
    got = {
        "ordered": [sorted(group) for group in made.ordered],
        "any order": sorted(made.free),
        "colours": sorted({*made.colours, *made.may_contain}),
    }
    result = Result(row_id=row["_id"], status=PASSED, expected=str(wanted), got=str(got))
    return result if wanted == got else replace(result, status=FAILED)
