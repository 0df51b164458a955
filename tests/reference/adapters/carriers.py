"""carrier_viscosity_density: water, mixtures with water, single liquids and oils."""

from __future__ import annotations

from collections.abc import Iterable

from labkit.errors import ScienceError
from labkit.science import carriers, liquids, water
from tests.reference.tolerance import Result, Row, near, not_covered

TABLES = ("carrier_viscosity_density",)
COLUMNS = frozenset({"mixture", "component", "fraction_percent", "property", "temperature_C"})


def check(rows: list[Row]) -> Iterable[Result]:
    for row in rows:
        try:
            yield near(row, _value(row))
        except ScienceError as refusal:
            yield not_covered(row, f"labkit refuses in words: {refusal}")


def _value(row: Row) -> float:
    thick = "viscosity" in row["property"]
    name, degrees = row["mixture"].strip(), float(row["temperature_C"])
    percent = float(row["fraction_percent"])
    if name.casefold() == "water":
        return float((water.viscosity if thick else water.density)(degrees))
    if name.casefold().startswith("water +"):
        call = carriers.viscosity if thick else carriers.mixture_density
        return float(call(row["component"], percent, degrees))
    return float(liquids.value(name, "viscosity" if thick else "density", degrees))
