"""kinetics: an Arrhenius line, two points, Q10, a straight trend to its limit."""

from __future__ import annotations

import re
from collections.abc import Iterable

from labkit.errors import ScienceError
from labkit.science import ageing, kinetics
from labkit.science.liquids import KELVIN
from tests.reference.tolerance import Result, Row, data, groups, near, not_covered, verdict

TABLES = ("kinetics",)
COLUMNS = frozenset({"case", "item", "value", "source_kind"})

RATE = re.compile(r"k at (-?[\d.]+) C \(1/day\)")
READING = re.compile(r"assay % at month ([\d.]+)")
NUMBER = r"(-?[\d.]+)"


def check(rows: list[Row]) -> Iterable[Result]:
    for _, group in groups(rows, "case"):
        try:
            yield from _group(group)
        except ScienceError as refusal:
            yield from (verdict(row, False, row["value"], str(refusal)) for row in group)


def _group(group: list[Row]) -> Iterable[Result]:
    if any(RATE.fullmatch(row["item"]) for row in group):
        yield from _line(group)
    elif any(READING.fullmatch(row["item"]) for row in group):
        yield from _trend(group)
    else:
        yield from map(_single, group)


def _line(group: list[Row]) -> Iterable[Result]:
    """Rates at several temperatures feed the line; the other rows are read off it."""
    points = [(m, row) for row in group if (m := RATE.fullmatch(row["item"]))]
    line = ageing.arrhenius_line(
        [float(m.group(1)) for m, _ in points], [float(row["value"]) for _, row in points]
    )
    for row in group:
        item = row["item"]
        if RATE.fullmatch(item):
            yield data(row)
        elif "printed" in item:
            yield not_covered(row, "the sheet's own rounding of 1/T, not a result of its data")
        elif item.startswith("Ea least squares"):
            yield near(row, line.energy_kj_mol)
        elif item.startswith("ln A"):
            yield near(row, line.ln_prefactor)
        elif item.startswith("Ea standard error"):
            yield near(row, line.energy_se)
        else:
            yield _read_off(row, group, line)


def _read_off(row: Row, group: list[Row], line: ageing.Arrhenius) -> Result:
    """Rate or days at a temperature; the days' temperature and loss stand in their first row."""
    item = row["item"]
    place = 1 if "lo95" in item else 2 if "hi95" in item else 0
    rate = re.match(rf"k at {NUMBER} C", item)
    if rate:
        return near(row, line.rate(float(rate.group(1)))[place])
    told = re.search(rf"days to lose {NUMBER} % at {NUMBER} C", " ".join(r["item"] for r in group))
    if item.startswith("days") and told:
        loss, degrees = float(told.group(1)) / 100.0, float(told.group(2))
        return near(row, line.time_to_loss(loss, degrees)[place])
    return not_covered(row, "no call for this item")


def _trend(group: list[Row]) -> Iterable[Result]:
    points = [(m, row) for row in group if (m := READING.fullmatch(row["item"]))]
    limits = [m for row in group if (m := re.search(rf"{NUMBER} %$", row["item"]))]
    limit = float(limits[0].group(1)) if limits else 90.0
    found = ageing.time_to_limit(
        [float(m.group(1)) for m, _ in points], [float(row["value"]) for _, row in points], limit
    )
    names = {
        "intercept": found.intercept,
        "slope per": found.slope,
        "residual sd": found.residual_sd,
        "point time": found.point,
        "time when one-sided 95 %": found.bound,
    }
    for row in group:
        value = next((v for name, v in names.items() if row["item"].startswith(name)), None)
        if READING.fullmatch(row["item"]):
            yield data(row)
        elif value is None:
            yield not_covered(row, "no call for this item")
        else:
            yield near(row, value)


def _single(row: Row) -> Result:
    item = row["item"]
    two = re.search(rf"Ea for k {NUMBER} -> {NUMBER} .*, {NUMBER} -> {NUMBER} K", item)
    if two:
        k1, k2, cold, warm = map(float, two.groups())
        return near(row, float(kinetics.energy_from_two(k1, cold - KELVIN, k2, warm - KELVIN)))
    q10 = re.search(rf"at {NUMBER} C equal to {NUMBER} \w+ at {NUMBER} C, Q10 = {NUMBER}", item)
    if q10:
        test, span, store, factor = map(float, q10.groups())
        return near(row, span / float(kinetics.q10_factor(factor, test, store)))
    half = re.search(rf"half-life .*k\s*=\s*{NUMBER}", item)
    if half:
        return near(row, float(kinetics.time_to_loss(float(half.group(1)), 0.5)))
    return not_covered(row, "its numbers stand in prose that no pattern reads")
