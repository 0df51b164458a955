"""Tables of facts: they feed ``datasets/`` and are checked by the loaders' tests, not by calls."""

from __future__ import annotations

from collections.abc import Iterable

from tests.reference.tolerance import Result, Row, fact

TABLES = (
    "challenge_criteria",
    "essential_oil_allergens",
    "exposure",
    "fragrance_allergens",
    "hlb_emulsifiers",
    "hlb_required",
    "incompatibilities",
    "label_rules",
    "material_constituents",
    "materials",
    "process_practice",
    "stability_practice",
    "use_limits",
)


def check(rows: list[Row]) -> Iterable[Result]:
    return map(fact, rows)
