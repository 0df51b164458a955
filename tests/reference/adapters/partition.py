"""partition: coefficients, distribution between oil and water, un-ionised fractions."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from typing import Any

from labkit.errors import ScienceError
from labkit.science import preservation
from tests.reference.tolerance import Result, Row, near, not_covered

TABLES = ("partition",)
COLUMNS = frozenset({"substance", "quantity", "inputs", "temperature_C"})


def check(rows: list[Row]) -> Iterable[Result]:
    for row in rows:
        try:
            value = _value(row["substance"], row["quantity"], json.loads(row["inputs"] or "{}"))
        except ScienceError as refusal:
            yield not_covered(row, f"labkit refuses in words: {refusal}")
            continue
        yield not_covered(row, "no such quantity") if value is None else near(row, value)


def _value(name: str, quantity: str, inputs: dict[str, Any]) -> float | None:
    oil = re.fullmatch(r"oil/water partition coefficient, (.+)", quantity)
    if oil:
        return preservation.oil_water(name, oil.group(1))
    if quantity == "log Kow":
        return preservation.log_kow(name)
    if quantity.startswith("log D"):
        return float(preservation.log_d(inputs["logP"], inputs["pH"], inputs["pKa"]))
    if quantity.startswith("surfactant binding"):
        return float(preservation.binding_ratio(inputs["S_percent"], inputs["C"]))
    if quantity.startswith("undissociated fraction"):
        return float(preservation.un_ionised_fraction(inputs["pH"], inputs["pKa"]))
    if quantity.startswith("unbound and un-ionised concentration"):
        share = preservation.un_ionised_fraction(inputs["pH"], inputs["pKa"])
        return float(inputs["C_percent"] * share)
    if "K" not in inputs:
        return None
    emulsion = (inputs["C_percent"], inputs["K"], inputs["phi_oil_to_water"])
    if quantity.startswith("undissociated acid in the water phase"):
        acid = (inputs["pH"], inputs["pKa"], inputs.get("R", 1.0))
        return float(preservation.free_acid(*emulsion, *acid))
    return float(preservation.in_water(*emulsion, inputs.get("R_total_over_free", 1.0)))
