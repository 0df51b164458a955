"""adjust_worked: arithmetic of a batch in the beaker."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from functools import partial
from typing import Any

import numpy as np

from labkit.formula import Formula
from labkit.science import batch, preservation, weighing
from labkit.science.restoring import to_bring_up
from tests.reference.tolerance import Result, Row, match, not_covered, refused

TABLES = ("adjust_worked",)
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
            yield _by_inputs(row, inputs)
        else:
            yield match(row, call(inputs))


def _by_inputs(row: Row, inputs: Inputs) -> Result:
    """A method of another name: the first call that takes the inputs and gives what is asked."""
    wanted = json.loads(row["expected_json"])
    for needed, call in BY_INPUTS:
        if needed <= inputs.keys() and isinstance(wanted, dict):
            found = call(inputs)
            if wanted.keys() <= found.keys():
                return match(row, found)
    return not_covered(row, f"no call for {row['method']}")


def _refusal(row: Row, inputs: Inputs) -> Result:
    """A refusal names no function: the one that takes these inputs is asked."""
    for needed, call in (
        ("current_pct", _to_reach),
        ("strong_pct", _two_stocks),
        ("gross_after_heating_g", _water_lost),
    ):
        if needed in inputs:
            return refused(row, partial(call, inputs))
    return not_covered(row, "the row names no function and its inputs fit none here")


def _within(value: float, limit: float) -> bool:
    return value <= limit * (1.0 + 1e-9)


def _to_reach(i: Inputs) -> dict[str, float]:
    strength = i.get("material_strength_pct", 100.0)
    add = batch.to_reach(i["batch_g"], i["current_pct"], i["target_pct"], strength)
    return {"add_g": float(add)}


def _water_lost(i: Inputs) -> dict[str, float]:
    keys = ("vessel_g", "expected_batch_g", "gross_after_heating_g")
    return {"add_water_g": batch.water_lost(*(i[key] for key in keys))}


def _titration(i: Inputs) -> dict[str, float]:
    given = [value for key, value in i.items() if key.endswith("stock_added_g")]
    _, whole = batch.dose_for_batch(i["sample_g"], given[0], i["batch_left_g"])
    active = float(whole) * i["stock_strength_pct"] / 100.0
    return {"stock_for_batch_g": float(whole), "acid_g": active, "base_g": active}


def _salt(i: Inputs) -> dict[str, Any]:
    value = float(batch.on_basis(i["pct"], i["factor"]))
    return {"acid_pct": value, "within": _within(value, i["limit_acid_pct"])}


def _retinol(i: Inputs) -> dict[str, Any]:
    value = float(batch.on_basis(i["pct"], i["factor"]))
    return {"re_pct": value, "within": _within(value, i["limit_pct"])}


def _undissociated(i: Inputs) -> dict[str, float]:
    share = float(preservation.un_ionised_fraction(i["ph"], i["pka"]))
    return {"fraction": share, "active_pct": share * i["acid_pct"]}


def _sum(i: Inputs) -> dict[str, Any]:
    shares, limit = [part[1] for part in i["parts"]], i["parts"][0][2]
    total = float(np.sum(batch.on_basis(shares, 1.0)))
    return {"sum_pct": total, "limit_pct": limit, "within": _within(total, limit)}


def _two_stocks(i: Inputs) -> dict[str, float]:
    keys = ("strong_pct", "weak_pct", "target_pct", "total_g")
    strong, weak = batch.blend_to(*(i[key] for key in keys))
    return {"strong_g": float(strong), "weak_g": float(weak)}


def _smallest(i: Inputs) -> dict[str, float]:
    least = weighing.smallest_weighing(i["std_dev_g"], i.get("readability_g", 0.0))
    return {"min_weight_g": float(least)}


def _balanced(i: Inputs) -> dict[str, Any]:
    water = next(iter(i["before"]))
    lines = "\n".join(
        f"A,{name},{'q.s.' if name == water else percent}" for name, percent in i["before"].items()
    )
    formula = Formula.parse(f"phase,material,percent\n{lines}")
    for name, percent in i["set"].items():
        formula = formula.move(name, f"{percent} %", give="qs")
    return {"after": {line.material: float(line.percent) for line in formula.lines}}


def _renormalised(i: Inputs) -> dict[str, Any]:
    names = list(i["before"]) + [name for name in i["added_g_to_100g"] if name not in i["before"]]
    before = [i["before"].get(name, 0.0) for name in names]
    after = batch.after_addition(before, [i["added_g_to_100g"].get(name, 0.0) for name in names])
    return {"after": dict(zip(names, map(float, after), strict=True))}


def _overage(i: Inputs) -> dict[str, float]:
    add = weighing.with_overage(i["active_target_pct"], i["assay_pct"], i["loss_pct"])
    return {"add_pct": float(add)}


def _grams(i: Inputs) -> dict[str, Any]:
    found = {name: float(weighing.grams(p, i["batch_g"])) for name, p in i["pct"].items()}
    return {"g": found}


METHODS: dict[str, Callable[[Inputs], dict[str, Any]]] = {
    "scale_batch": _grams,
    "evaporation_top_up": _water_lost,
    "add_to_reach_pct": _to_reach,
    "restore_preservative": _to_reach,
    "ph_small_sample_scale_up": _titration,
    "salt_to_acid_limit": _salt,
    "undissociated": _undissociated,
    "two_preservative_ratio_sum": _sum,
    "retinol_equivalent": _retinol,
    "alligation": _two_stocks,
    "usp41_minimum_weight": _smallest,
    "usp41_minimum_weight_floor": _smallest,
    "balance_to_water": _balanced,
    "renormalise": _renormalised,
    "oil_emulsifier_ratio": lambda i: {
        "ratio": float(batch.oil_to_emulsifier(i["oil_pct"], i["emulsifier_pct"]))
    },
    "potency_overage": _overage,
}


def _watered(i: Inputs) -> dict[str, Any]:
    """Water stirred in: every percentage falls alike."""
    water = float(i["water_g"] if "water_g" in i else i["add_water_g"])
    m = float(i["batch_g"])
    if isinstance(i.get("pct"), dict):
        wet = next((name for name in i["pct"] if name.casefold() in {"aqua", "water"}), "Aqua")
        before = {wet: 0.0} | i["pct"]
        grams = [water if name == wet else 0.0 for name in before]
        shares = batch.after_addition(list(before.values()), grams, m)
        after = dict(zip(before, map(float, shares), strict=True))
        return {"after": after, "pct": after}
    share = float(batch.after_addition([i["current_pct"], 0.0], [0.0, water], m)[0])
    return dict.fromkeys(("pct", "new_pct", "after_pct"), share)


def _filled(i: Inputs) -> dict[str, float]:
    made = float(weighing.to_make(i["fill_g"] * i.get("units", 1), i["loss_pct"]))
    return dict.fromkeys(("make_g", "batch_g", "to_make_g"), made)


def _stock_in_batch(i: Inputs) -> dict[str, float]:
    strength = i["stock_pct"] if "stock_pct" in i else i["stock_strength_pct"]
    share = float(strength * i["stock_g"] / i["batch_g"])
    return dict.fromkeys(("pct", "final_pct", "dye_pct", "active_pct"), share)


def _brought_up(i: Inputs) -> dict[str, Any]:
    adds = to_bring_up(list(i["planned_g"].values()), list(i["weighed_g"].values()))
    grams = dict(zip(i["planned_g"], map(float, adds), strict=True))
    return {"add_g": grams, "g": grams}


BY_INPUTS: tuple[tuple[frozenset[str], Callable[[Inputs], dict[str, Any]]], ...] = (
    (frozenset({"vessel_g", "expected_batch_g", "gross_after_heating_g"}), _water_lost),
    (frozenset({"batch_g", "current_pct", "target_pct"}), _to_reach),
    (frozenset({"strong_pct", "weak_pct", "target_pct", "total_g"}), _two_stocks),
    (frozenset({"batch_g", "water_g", "pct"}), _watered),
    (frozenset({"batch_g", "water_g", "current_pct"}), _watered),
    (frozenset({"batch_g", "add_water_g", "pct"}), _watered),
    (frozenset({"batch_g", "add_water_g", "current_pct"}), _watered),
    (frozenset({"fill_g", "loss_pct"}), _filled),
    (frozenset({"batch_g", "stock_g", "stock_pct"}), _stock_in_batch),
    (frozenset({"batch_g", "stock_g", "stock_strength_pct"}), _stock_in_batch),
    (frozenset({"planned_g", "weighed_g"}), _brought_up),
    (frozenset({"before", "set"}), _balanced),
    (frozenset({"before", "added_g_to_100g"}), _renormalised),
    (frozenset({"pct", "batch_g"}), _grams),
)
