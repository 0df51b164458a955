"""rheology: flow models, fits, suspensions and emulsions, viscometer conversions, oil blends."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from typing import Any

from labkit.errors import ScienceError
from labkit.science import carriers, flow_models, rheology, suspensions, viscometer
from tests.reference.tolerance import Result, Row, groups, near, not_covered, number, verdict

TABLES = ("rheology",)
COLUMNS = frozenset({"case", "model", "parameters", "x", "x_unit", "quantity"})

Inputs = dict[str, Any]


def check(rows: list[Row]) -> Iterable[Result]:
    fits = [row for row in rows if row["case"].startswith("fit test")]
    for _, group in groups(fits, "case", "model"):
        yield from _fit(group)
    for row in rows:
        if row["case"].startswith("fit test"):
            continue
        try:
            value = _value(row)
        except ScienceError as refusal:
            yield not_covered(row, f"labkit refuses in words: {refusal}")
            continue
        yield not_covered(row, "no call for this row") if value is None else near(row, value)


def _fit(group: list[Row]) -> Iterable[Result]:
    """Every truth lies in its interval or within the row's tolerance, or is said to be open."""
    rate, value = ([float(row[key]) for row in group] for key in ("x", "value"))
    read = "stress_pa" if "stress" in group[0]["quantity"] else "viscosity_pa_s"
    try:
        found = rheology.fit(group[0]["model"], rate, **{read: value})
    except ScienceError as refusal:
        for row in group:
            yield verdict(row, False, row["parameters"], str(refusal))
        return
    for row in group:
        room = number(row.get("tol_rel")) or 0.0
        misses = [
            f"{key} {truth:g} not in {found.low[key]:.4g} to {found.high[key]:.4g}"
            for key, truth in json.loads(row["parameters"]).items()
            if key not in found.undetermined
            and not found.low[key] <= truth <= found.high[key]
            and abs(found.parameters[key] - truth) > room * truth
        ]
        yield verdict(row, not misses, row["parameters"], str(found.parameters), "; ".join(misses))


def _value(row: Row) -> float | None:
    parameters: Inputs = json.loads(row["parameters"] or "{}")
    x, model, case = float(row["x"]), row["model"], row["case"].casefold()
    if row["x_unit"] == "1/s":
        call = flow_models.stress if "stress" in row["quantity"] else flow_models.viscosity
        return float(call(model, parameters, x))
    if row["x_unit"] == "volume fraction":
        thick = next((f for name, f in THICKENING.items() if case.startswith(name)), None)
        return None if thick is None else thick(x, parameters)
    return _instrument(row, x, parameters)


def _instrument(row: Row, x: float, p: Inputs) -> float | None:
    case, quantity = row["case"].casefold(), row["quantity"].casefold()
    if quantity.startswith("full-scale"):
        return float(viscometer.full_scale(p["TK"], p["SMC"], x))
    if "reading_percent" in p:
        full = 100.0
        if "spindle" in p:
            full = float(viscometer.full_scale(*viscometer.constants(p["spindle"]), p["rpm"]))
        value, error = map(float, viscometer.viscosity(p["reading_percent"], full))
        if any(word in quantity for word in ("error", "accuracy", "uncertainty")):
            return 100.0 * error / value if row["unit"] == "%" else error
        return value
    if "shear-rate factor" in case:
        return float(viscometer.mitschka_rate_factor(p["n"]))
    if "stress factor" in case:
        return viscometer.mitschka_stress_factor(int(p["spindle"]))
    if "Rb_mm" in p:
        return float(viscometer.coaxial_shear_rate(x, p["Rb_mm"], p["Rc_mm"]))
    if "kinematic viscosity of blend" in quantity:
        share = float(p.get("w1", x))
        return float(carriers.oil_blend([share, 1.0 - share], [p["v1"], p["v2"]]))
    return None


THICKENING: dict[str, Callable[[float, Inputs], float]] = {
    "einstein": lambda x, p: float(suspensions.einstein(x)),
    "batchelor": lambda x, p: float(suspensions.batchelor(x, p.get("alpha", 6.2))),
    "brinkman": lambda x, p: float(suspensions.brinkman(x)),
    "krieger": lambda x, p: float(
        suspensions.krieger_dougherty(x, p["phim"], p.get("intrinsic", 2.5))
    ),
    "taylor": lambda x, p: float(suspensions.taylor(x, p["lam"])),
    "pal": lambda x, p: float(suspensions.pal(x, p["lam"], p["phim"])),
}
