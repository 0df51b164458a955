"""vapour_pressure: pressures, heats of vaporisation, molar masses, evaporation rates."""

from __future__ import annotations

import re
from collections.abc import Iterable

from labkit.errors import ScienceError
from labkit.science import evaporation, liquids
from tests.reference.tolerance import FAILED, PASSED, Result, Row, near, not_covered, verdict

TABLES = ("vapour_pressure",)
COLUMNS = frozenset({"substance", "cas", "quantity", "temperature_C"})


def check(rows: list[Row]) -> Iterable[Result]:
    for row in rows:
        try:
            yield _check(row)
        except ScienceError as refusal:
            yield not_covered(row, f"labkit refuses in words: {refusal}")


def _name(row: Row) -> str:
    if row["cas"] == "7732-18-5":
        return "water"
    return liquids.find(row["cas"]) or row["substance"]


def _check(row: Row) -> Result:
    name, quantity = _name(row), row["quantity"]
    degrees = float(row["temperature_C"]) if row["temperature_C"] else 25.0
    if quantity == "molar mass":
        return near(row, evaporation.molar_mass(name))
    if quantity == "heat of vaporisation":
        heat = float(evaporation.heat_of_vaporisation(name, degrees))
        if row["unit"] == "kJ/mol":
            heat *= evaporation.molar_mass(name) / 1000.0
        return near(row, heat)
    if "evaporation rate" in quantity:
        wind = re.search(r"u\s*=\s*([\d.]+)", quantity)
        pressure = evaporation.vapour_pressure(name, degrees)
        mass = evaporation.molar_mass(name)
        return near(row, float(evaporation.rate(pressure, mass, degrees, float(wind.group(1)))))  # type: ignore[union-attr]
    return _pressure(row, name, degrees)


def _pressure(row: Row, name: str, degrees: float) -> Result:
    """Met by the value, or, where sources disagree, by the band that labkit states."""
    result = near(row, float(evaporation.vapour_pressure(name, degrees)))
    if result.status == PASSED:
        return result
    if "ESTIMATE" in row["source"]:
        return not_covered(row, "a corresponding-states estimate; labkit holds the measured value")
    low, high = evaporation.vapour_pressure_band(name, degrees)
    other_source = row["source_kind"] in {"opened", "memory"}
    if result.status == FAILED and other_source:
        inside = low <= float(row["value"]) <= high
        return verdict(
            row, inside, row["value"], f"{low:.4g} to {high:.4g}", "the stated spread of sources"
        )
    return result
