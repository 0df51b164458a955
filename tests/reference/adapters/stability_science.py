"""stability_worked: Q10, Arrhenius, time to a loss, the centrifuge's pull."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

from labkit.science import creaming, kinetics
from labkit.science.liquids import KELVIN
from tests.reference.tolerance import Result, Row, match, not_covered, refused

TABLES = ("stability_worked",)
COLUMNS = frozenset({"case_id", "method", "inputs_json", "expected_json"})

Inputs = dict[str, Any]


def check(rows: list[Row]) -> Iterable[Result]:
    for row in rows:
        inputs = json.loads(row["inputs_json"])
        call = METHODS.get(row["method"])
        if row["method"] == "refuse" and "real_days" in inputs:
            yield refused(row, partial(_cabinet_days, inputs), "not accelerated")
        elif call is None:
            yield not_covered(row, f"no science function for {row['method']}")
        else:
            yield match(row, call(inputs))


def _factor(inputs: Inputs) -> float:
    return float(kinetics.q10_factor(inputs["q10"], inputs["t_test_c"], inputs["t_store_c"]))


def _cabinet_days(inputs: Inputs) -> float:
    keys = ("real_days", "q10", "t_test_c", "t_store_c")
    return float(kinetics.cabinet_days(*(inputs[key] for key in keys)))


def _storage_days(inputs: Inputs) -> float:
    keys = ("test_days", "q10", "t_test_c", "t_store_c")
    return float(kinetics.storage_days(*(inputs[key] for key in keys)))


def _first_order(inputs: Inputs) -> dict[str, float]:
    ratio = kinetics.rate_ratio(inputs["ea_kj_mol"], inputs["at_c"], inputs["store_c"])
    k = float(inputs["k_per_day"] * ratio)
    loss = 1.0 - inputs["limit_fraction"]
    return {"k_store_per_day": k, "t_days": float(kinetics.time_to_loss(k, loss, "first"))}


def _zero_order(inputs: Inputs) -> dict[str, float]:
    ratio = kinetics.rate_ratio(inputs["ea_kj_mol"], inputs["at_c"], inputs["store_c"])
    k = float(inputs["k_pct_per_day"] * ratio)
    days = float(kinetics.time_to_loss(k, inputs["loss_allowed_pct"], "zero"))
    return {"k_store": k, "t_days": days}


def _two_points(inputs: Inputs) -> dict[str, float]:
    cold, warm = inputs["T1_K"] - KELVIN, inputs["T2_K"] - KELVIN
    return {"ea_kj_mol": float(kinetics.energy_from_two(inputs["k1"], cold, inputs["k2"], warm))}


METHODS: dict[str, Callable[[Inputs], dict[str, float]]] = {
    "q10": lambda i: {"factor": _factor(i), "test_days": _cabinet_days(i)},
    "q10_forward": lambda i: {
        "factor": _factor(i),
        "equivalent_days": _storage_days(i),
    },
    "q10_from_ea": lambda i: {
        "q10": float(kinetics.q10_from_energy(i["ea_kj_mol"], i["t1_c"], i["t2_c"]))
    },
    "ea_from_q10": lambda i: {
        "ea_kj_mol": float(kinetics.energy_from_q10(i["q10"], i["t1_c"], i["t2_c"]))
    },
    "arrhenius_two_point": _two_points,
    "arrhenius_shelf_life_first_order": _first_order,
    "arrhenius_shelf_life_zero_order": _zero_order,
    "rcf": lambda i: {"rcf": float(creaming.centrifuge_pull(i["rpm"], i["radius_cm"]))},
}
