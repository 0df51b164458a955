"""heat: specific heats, heats of fusion and vaporisation, mixing temperatures, worked prose."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable

from labkit.errors import ScienceError
from labkit.science import heat, liquids, water
from tests.reference.tolerance import Result, Row, near, not_covered

TABLES = ("heat",)
COLUMNS = frozenset({"material_or_case", "inputs", "quantity", "temperature_C"})


def check(rows: list[Row]) -> Iterable[Result]:
    lost_kj: float | None = None
    for row in rows:
        try:
            value = _value(row, lost_kj)
        except ScienceError as refusal:
            yield not_covered(row, f"labkit refuses in words: {refusal}")
            continue
        if row["quantity"] == "energy carried away":
            lost_kj = value
        if value is None:
            yield not_covered(row, "its numbers stand in prose that no pattern reads")
        else:
            yield near(row, value)


def _value(row: Row, lost_kj: float | None) -> float | None:
    quantity = row["quantity"].casefold()
    case = re.sub(r"\b\d+/\d+\b", "", row["material_or_case"])
    degrees = float(row["temperature_C"]) if row["temperature_C"] else 25.0
    if quantity.startswith("mixing temperature"):
        parts = json.loads(row["inputs"])
        columns = [[part[key] for part in parts] for key in ("m_g", "c_kJ_kgK", "T_C")]
        return float(heat.mixing_temperature(*columns))
    if quantity == "specific heat":
        mixed = re.fullmatch(r"water \+ ([\d.]+) wt% (.+)", case.casefold())
        if mixed:
            return float(heat.water_mixture(mixed.group(2), float(mixed.group(1)), degrees))
        return float(heat.specific_heat(case, degrees))
    if quantity == "heat of fusion":
        return float(liquids.value(case, "heat_of_fusion"))
    if quantity == "heat of vaporisation" and case.casefold() == "water":
        return float(water.heat_of_vaporisation(degrees))
    return _prose(quantity, case, lost_kj)


def _prose(quantity: str, case: str, lost_kj: float | None) -> float | None:
    """The worked sentences of this table; a drop follows the loss of the row before."""
    text = case.casefold()
    heated = re.match(
        r"heat ([\d.]+) g (\w+)(?: phase)? (?:from )?([\d.]+) to ([\d.]+) c"
        r"(?: incl\. melting ([\d.]+) g [a-z ]+ \(([\d.]+) kj/kg\))?$",
        text,
    )
    if quantity == "energy" and heated:
        mass, name, low, high, melt, fusion = heated.groups()
        c = float(heat.specific_heat("water" if name == "water" else "vegetable oil"))
        melting = (float(melt or 0.0), float(fusion or 0.0))
        return float(heat.heating(float(mass), c, float(low), float(high), *melting))
    lost = re.search(r"([\d.]+) g water lost at ([\d.]+) c", text)
    if quantity == "energy carried away" and lost:
        return float(heat.steam_loss(float(lost.group(1)), float(lost.group(2))))
    rest = re.search(r"remaining ([\d.]+) g \(c ([\d.]+)\)", text)
    if quantity == "temperature drop" and rest and lost_kj is not None:
        return float(heat.temperature_drop(lost_kj, *map(float, rest.groups())))
    cooled = re.search(
        r"newton cooling: ([\d.]+) c to ([\d.]+) c, ambient ([\d.]+) c, k=([\d.]+)", text
    )
    if quantity == "time" and cooled:
        return float(heat.cooling_time(*map(float, cooled.groups())))
    return None
