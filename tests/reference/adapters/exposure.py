"""exposure_worked: systemic dose, margin, highest concentration, refusals."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from typing import Any

from labkit.science import exposure
from tests.reference.tolerance import Result, Row, match, not_covered, refused

TABLES = ("exposure_worked",)
COLUMNS = frozenset({"case_id", "method", "inputs_json", "expected_json"})

Inputs = dict[str, Any]


def check(rows: list[Row]) -> Iterable[Result]:
    for row in rows:
        inputs = json.loads(row["inputs_json"])
        if row["method"] == "refuse":
            yield _refusal(row, inputs)
            continue
        call = METHODS.get(row["method"])
        if call is None:
            yield not_covered(row, f"no call for {row['method']}")
        else:
            yield match(row, call(inputs))


def _refusal(row: Row, inputs: Inputs) -> Result:
    """A refusal names no function: the one that takes these inputs is asked."""
    if "e_product_mg_kg_d" in inputs and "conc_pct" in inputs:
        return refused(row, lambda: _percent(inputs))
    if "da_ug_cm2" in inputs:
        return refused(row, lambda: _area(inputs))
    if "podsys_mg_kg_d" in inputs:
        return refused(row, lambda: _highest(inputs))
    return not_covered(row, "the row names no function and its inputs fit none here")


def _percent(inputs: Inputs) -> dict[str, Any]:
    dose = float(
        exposure.systemic_dose(
            inputs["e_product_mg_kg_d"],
            inputs["conc_pct"],
            inputs.get("dermal_absorption_pct", 50.0),
        )
    )
    margin = float(
        exposure.margin(inputs["pod_mg_kg_d"], dose, inputs.get("oral_bioavailability", 0.5))
    )
    return {"sed_mg_kg_d": dose, "mos": margin, "above_100": margin > exposure.REFERENCE_LINE}


def _area(inputs: Inputs) -> dict[str, float]:
    keys = ("da_ug_cm2", "skin_area_cm2", "applications_per_day", "body_weight_kg")
    return {"sed_mg_kg_d": float(exposure.systemic_dose_by_area(*(inputs[key] for key in keys)))}


def _table(inputs: Inputs) -> dict[str, float]:
    made = float(exposure.product_exposure(inputs["amount_mg_kg"], inputs["retention"]))
    return {"e_product_mg_kg": made, "printed": made}


def _highest(inputs: Inputs) -> dict[str, float]:
    keys = ("podsys_mg_kg_d", "e_product_mg_kg_d", "dermal_absorption_pct", "mos")
    return {"conc_pct": float(exposure.concentration_at_margin(*(inputs[key] for key in keys)))}


METHODS: dict[str, Callable[[Inputs], dict[str, Any]]] = {
    "SED_and_MoS_percent_absorption": _percent,
    "SED_area_absorption": _area,
    "table_consistency": _table,
    "max_concentration_for_MoS": _highest,
}
