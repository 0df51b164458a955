"""The class table: each desk's readings, how far they lie from the class, and odd ones."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from labkit.bench import Bench
from labkit.bench.scales import find_scale
from labkit.teach.blanks import blanks_of
from labkit.teach.comparing import (
    FAR,
    FEWEST,
    USUAL_SD,
    Array,
    Spread,
    class_line,
    distances,
    spread_of,
)
from labkit.teach.terms import DESK, Terms
from labkit.teach.variants import pseudonym

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["COLUMNS", "class_readings", "class_spread", "class_table", "desks_of"]

COLUMNS = ("desk", "trial", "quantity", "value", "n", "unit", "how", "class", "off", "spreads",
           "flag", "typed", "id")  # fmt: skip
"""Columns of the class table; ``class`` is what the class reads at this setting of the blanks,
``off`` the difference (a factor for viscosity), ``spreads`` the same in spreads of the class."""
LOGARITHMIC = {"viscosity", "drain time"}


def desks_of(bench: Bench, terms: Terms) -> dict[str, str]:
    """Every desk that handed in: the id of its bench to what the class calls it."""
    found = {
        str(r.body["workspace"]): pseudonym(str(r.body["workspace"]))
        for r in bench.records("sample")
        if r.body.get("sort") == DESK
    }
    here = str(terms.master.record.body["workspace"])
    return {k: v for k, v in sorted(found.items(), key=lambda pair: pair[1]) if k != here}


def class_readings(bench: Bench, terms: Terms) -> pd.DataFrame:
    """Every reading of the desks' trials, with the desk and the shares of the blanks."""
    desks = desks_of(bench, terms)
    trials = bench.trials().set_index("id")
    origin = _origins(bench)
    readings = bench.readings()
    readings = readings[readings["trial"].isin(trials.index)].copy()
    readings["desk"] = [desks.get(origin.get(trial, "")) for trial in readings["trial"]]
    readings = readings[readings["desk"].notna() & readings["value"].notna()]
    wide = bench.wide().set_index("id")
    for name in blanks_of(terms.master.formula):
        readings[f"% {name}"] = readings["trial"].map(wide[name]) if name in wide else np.nan
    return readings.reset_index(drop=True)


def _origins(bench: Bench) -> dict[str, str]:
    return {r.id: str(r.body["workspace"]) for r in bench.records("trial")}


def class_table(bench: Bench, terms: Terms, quantity: str | None = None) -> pd.DataFrame:
    """One row for each desk's trial, quantity and way of reading it; see :data:`COLUMNS`."""
    import pandas as pd

    readings = class_readings(bench, terms)
    if quantity is not None:
        scale = find_scale(quantity)
        readings = readings[readings["quantity"] == (scale.name if scale else quantity)]
    parts = [
        _one_way(group, str(name[0]), str(name[1]), terms, _usual_way(readings, str(name[0])))
        for name, group in readings.groupby(["quantity", "conditions"], sort=True)
    ]
    if not parts:
        return pd.DataFrame(columns=list(COLUMNS))
    frame = pd.concat(parts, ignore_index=True)
    return frame.sort_values(["quantity", "desk", "trial", "how", "id"]).reset_index(drop=True)


def _usual_way(readings: pd.DataFrame, quantity: str) -> str:
    """How most desks read it; ties go to the first in the alphabet."""
    same = readings[readings["quantity"] == quantity]
    desks = same.groupby("conditions")["desk"].nunique()
    return str(desks[desks == desks.max()].index.min())


def _one_way(
    group: pd.DataFrame, quantity: str, how: str, terms: Terms, usual: str
) -> pd.DataFrame:
    import pandas as pd

    names = [f"% {name}" for name in blanks_of(terms.master.formula)]
    log = quantity in LOGARITHMIC and bool((group["value"] > 0).all())
    scaled = group.assign(scaled=np.log10(group["value"]) if log else group["value"])
    means = scaled.groupby("trial", sort=True).agg(
        {"scaled": "mean", "value": "size", "desk": "first", "label": "first", "unit": "first"}
        | dict.fromkeys(names, "first")
    )
    means["typed"] = (
        scaled.groupby("trial", sort=True)["text"].agg("; ".join).str.replace(" pH", "")
    )
    line = class_line(means[names].fillna(0.0).to_numpy(float), means["scaled"].to_numpy(float))
    off = means["scaled"].to_numpy(float) - line
    far = distances(off, _usual_sd(quantity, log))
    flags = [
        _flag(x, z, log, means.shape[0]) if how == usual else _other_way(how, usual)
        for x, z in zip(off, far, strict=True)
    ]
    return pd.DataFrame(
        {
            "desk": means["desk"],
            "trial": means["label"].str.split("@").str[0],
            "quantity": quantity,
            "value": _back(means["scaled"].to_numpy(float), log),
            "n": means["value"],
            "unit": means["unit"],
            "how": how,
            "class": _back(line, log),
            "off": _back(off, log),
            "spreads": far,
            "flag": flags,
            "typed": means["typed"],
            "id": means.index,
        }
    )[list(COLUMNS)]


def _back(values: Array, log: bool) -> Array:
    return np.asarray(10.0**values if log else values)


def _usual_sd(quantity: str, log: bool) -> float:
    return USUAL_SD.get(quantity, 0.035 if log else 0.0)


def _other_way(how: str, usual: str) -> str:
    """Why a reading is compared with nobody: its temperature, speed, spindle … are others."""
    here, there = (_DEGREES.match(words) for words in (how, usual))
    if here and there and abs((float(here[1]) - 32) / 1.8 - float(there[1])) < 2:
        return f"unit: {here[1]} °C would be the class's {there[1]} °C if it was read in °F"
    return f"read another way than {usual}"


_DEGREES = re.compile(r"(-?[\d.]+) °C")


def _flag(off: float, far: float, log: bool, count: int) -> str:
    """What is odd about a reading, in words; nothing is removed for it."""
    if count < FEWEST or abs(far) <= FAR:
        return ""
    power = round(off) if log else 0
    if power and abs(off - power) < 0.2:
        times = f"{10 ** abs(power)} times {'more' if power > 0 else 'less'} than the class"
        meant = "Pa·s and mPa·s changed places?" if abs(power) == 3 else "a decimal sign?"
        return f"unit: {times}, {meant}"
    return f"far: {abs(far):.1f} spreads {'above' if off > 0 else 'below'} the class"


def class_spread(bench: Bench, terms: Terms, quantity: str) -> Spread:
    """Between-desk spread beside the spread of a desk's own readings; see `Spread`."""
    scale = find_scale(quantity)
    name = scale.name if scale else quantity
    readings = class_readings(bench, terms)
    readings = readings[readings["quantity"] == name]
    log = name in LOGARITHMIC
    unit = "%" if log else ("" if name == "pH" else str(scale.unit if scale else ""))
    if readings.empty:
        return spread_of(name, unit, {}, {})
    usual = readings[readings["conditions"] == _usual_way(readings, name)]
    table = class_table(bench, terms, name).set_index("id")
    line = usual["trial"].map(table.loc[table["how"] == usual["conditions"].iloc[0], "class"])
    off = np.log10(usual["value"] / line) if log else usual["value"] - line
    far = set(table.index[table["flag"].str.startswith(("far", "unit"))])
    desks: dict[str, list[Array]] = {}
    flagged: dict[str, list[bool]] = {}
    for (desk, trial), rows in usual.assign(off=off).groupby(["desk", "trial"], sort=True):
        desks.setdefault(str(desk), []).append(rows["off"].to_numpy(float))
        flagged.setdefault(str(desk), []).append(trial in far)
    return spread_of(name, unit, desks, flagged)
