"""A stability programme: conditions, days to pull a jar, what is read, and the limits of drift.

No protocol is prescribed by law: the maker chooses and says why (ISO/TR 18811). A
programme is a plan to look, never a shelf life.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from itertools import pairwise
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from labkit import tables
from labkit.errors import BriefError
from labkit.plan.calendar import Entry, icalendar
from labkit.science.kinetics import storage_days

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Condition", "Programme", "Pull", "accelerated", "drift_limits", "stability_programme"]

USUAL = ("4 °C", "25 °C", "40 °C", "freeze-thaw", "light")
"""Cold control, room, warm, three cycles, light against a dark control; common practice."""
Q10_RANGE = (1.5, 3.0)
"""Shown beside any Q10 answer: the spread that practice names."""
ROOM_C = 25.0
_DAYS = {"d": 1, "w": 7}


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """Where jars stand: a temperature, cycles, or light; with the row it comes from."""

    name: str
    words: str
    temperature_c: float | None
    checks: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pull:
    """A jar to take out and read on a day."""

    condition: str
    name: str
    day: int
    on: date
    checks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Programme:
    """Which jars are looked at when.

    Attributes
    ----------
    start : date
        Day 0: filled and put away.
    conditions : tuple of Condition
    pulls : tuple of Pull
        By day, then condition.
    limits : mapping of str to (float, str)
        Largest drift from the start by quantity, with its unit.
    """

    start: date
    conditions: tuple[Condition, ...]
    pulls: tuple[Pull, ...]
    limits: Mapping[str, tuple[float, str]]

    def table(self) -> pd.DataFrame:
        """Columns day, on, condition, pull, checks."""
        import pandas as pd

        rows = [(p.day, p.on, p.condition, p.name, ", ".join(p.checks)) for p in self.pulls]
        return pd.DataFrame(rows, columns=["day", "on", "condition", "pull", "checks"])

    def calendar(self, label: str = "") -> str:
        """The pulls as an iCalendar file; one entry for each day and condition."""
        head = f"{label}: " if label else ""
        return icalendar(
            Entry(
                day=p.on,
                title=f"{head}{p.condition}, {p.name}",
                words="Read " + ", ".join(p.checks),
            )
            for p in self.pulls
        )

    def as_dict(self) -> dict[str, Any]:
        """The programme as plain values, for a record."""
        return {
            "start": self.start.isoformat(),
            "pulls": [
                {
                    "condition": p.condition,
                    "name": p.name,
                    "day": p.day,
                    "on": p.on.isoformat(),
                    "checks": list(p.checks),
                }
                for p in self.pulls
            ],
            "limits": [
                {"quantity": name, "drift": f"{value:g}", "unit": unit}
                for name, (value, unit) in self.limits.items()
            ],
        }

    @classmethod
    def from_dict(cls, record: Mapping[str, Any]) -> Programme:
        """The programme that :meth:`as_dict` wrote; conditions by their names alone."""
        pulls = tuple(
            Pull(
                condition=p["condition"],
                name=p["name"],
                day=int(p["day"]),
                on=date.fromisoformat(p["on"]),
                checks=tuple(p["checks"]),
            )
            for p in record["pulls"]
        )
        limits = {x["quantity"]: (float(x["drift"]), x["unit"]) for x in record["limits"]}
        named = dict.fromkeys(p.condition for p in pulls)
        return cls(
            start=date.fromisoformat(record["start"]),
            conditions=tuple(_condition(name) for name in named),
            pulls=pulls,
            limits=MappingProxyType(limits),
        )

    def _repr_html_(self) -> str:
        return str(self.table().to_html(index=False))


def stability_programme(
    start: date,
    conditions: Sequence[str] = USUAL,
    *,
    days: Sequence[int] | None = None,
    cycles: int = 3,
    limits: Mapping[str, tuple[float, str]] | None = None,
) -> Programme:
    """A programme by common protocols.

    Parameters
    ----------
    start : date
        Day 0.
    conditions : sequence of str
        Temperatures such as ``"40 °C"``, ``"freeze-thaw"``, ``"light"``.
    days : sequence of int, optional
        On which a jar is read; the usual time points if left out.
    cycles : int
        Of freeze and thaw, four days each.
    limits : mapping, optional
        Largest drift by quantity, ``{"viscosity": (15, "%")}``; the usual ones otherwise.

    Returns
    -------
    Programme

    Raises
    ------
    BriefError
        A condition that is not known, or days that do not begin at 0 and rise.

    Notes
    -----
    ``datasets/stability_practice.csv``, each row with its source: 4, 25 and 40 °C for 12
    weeks, three cycles of -10/25/45 °C, light against a dark control.

    Examples
    --------
    >>> plan = stability_programme(date(2026, 3, 2), ["25 °C", "40 °C"])
    >>> [p.day for p in plan.pulls if p.condition == "40 °C"]
    [0, 1, 7, 14, 28, 56, 84]
    """
    points = tuple(_usual_days() if days is None else days)
    if not points or points[0] != 0 or any(b <= a for a, b in pairwise(points)):
        raise BriefError(
            where="Stability programme",
            found=f"days {', '.join(map(str, points)) or 'none'}",
            allowed="Days that begin at 0 and rise",
            cause="The start value is left out, or two days are exchanged",
            do="Write days such as (0, 1, 7, 14, 28)",
        )
    chosen = tuple(_condition(name) for name in conditions)
    pulls = [pull for one in chosen for pull in _pulls(one, start, points, cycles)]
    return Programme(
        start=start,
        conditions=chosen,
        pulls=tuple(sorted(pulls, key=lambda p: p.day)),
        limits=MappingProxyType(dict(limits or drift_limits())),
    )


def _pulls(one: Condition, start: date, points: Sequence[int], cycles: int) -> list[Pull]:
    if one.name == "freeze-thaw":
        named = [("start", 0)] + [(f"after cycle {n}", 4 * n) for n in range(1, cycles + 1)]
    else:
        named = [("start" if d == 0 else f"day {d}", d) for d in points]
        if one.name == "light":
            named = [(name, d) for name, d in named if d <= 28]
    return [
        Pull(condition=one.name, name=n, day=d, on=start + timedelta(days=d), checks=one.checks)
        for n, d in named
    ]


def _condition(name: str) -> Condition:
    asked = " ".join(name.split()).casefold()
    degrees = re.fullmatch(r"(-?\d+(?:\.\d+)?)\s*°?\s*c", asked)
    if degrees:
        return _at(float(degrees[1]))
    for topic, item in (("freeze-thaw", "ST10"), ("light", "ST16")):
        if asked in (topic, topic.replace("-", " ")):
            row = _rows()[item]
            return Condition(
                name=topic,
                words=str(row["condition"]),
                temperature_c=None,
                checks=_checks(row["checks"]),
                source=str(row["source_id"]),
            )
    raise BriefError(
        where="Stability programme",
        found=f"the condition '{name}'",
        allowed="A temperature such as '40 °C', freeze-thaw, light",
        cause="Another word, or a temperature without its unit",
        do="Write one of these",
    )


def _at(temperature_c: float) -> Condition:
    stores = [r for r in _rows().values() if r["topic"] in ("long term", "accelerated")]
    row = min(stores, key=lambda r: abs(_middle(r) - temperature_c))
    known = abs(_middle(row) - temperature_c) <= 3
    return Condition(
        name=f"{temperature_c:g} °C",
        words=str(row["condition"]) if known else "chosen by the maker",
        temperature_c=temperature_c,
        checks=_checks(row["checks"]),
        source=str(row["source_id"]) if known else "the maker's own choice",
    )


def _middle(row: Mapping[str, str | None]) -> float:
    ends = ("temperature_low_c", "temperature_high_c")
    given = [row["temperature_c"]] if row["temperature_c"] else [row[name] for name in ends]
    return float(np.mean([float(x or 0) for x in given]))


def _checks(text: str | None) -> tuple[str, ...]:
    return tuple(x.strip() for x in (text or "").split(",") if x.strip())


@cache
def _rows() -> Mapping[str, Mapping[str, str | None]]:
    return {str(row["item_id"]): row for row in tables.rows("stability_practice")}


def _usual_days() -> tuple[int, ...]:
    found = []
    for part in str(_rows()["ST22"]["duration"]).split(","):
        number, _, unit = part.strip().partition(" ")
        found.append(int(number) * _DAYS.get(unit or "d", 1))
    return tuple(found)


def drift_limits() -> dict[str, tuple[float, str]]:
    """Usual limits of drift from the start: quantity → (largest drift, unit).

    Examples
    --------
    >>> drift_limits()["viscosity"]
    (20.0, '%')
    """
    wanted = {"ST23": "viscosity", "ST24": "pH", "ST25": "mass"}
    rows = _rows()
    return {
        name: (float(rows[item]["value"] or 0), str(rows[item]["unit"]))
        for item, name in wanted.items()
    }


def accelerated(days: float, test_c: float, storage_c: float = ROOM_C, q10: float = 2.0) -> str:
    """What days in a warm cabinet stand for, if one assumes a Q10; in words, with its spread.

    Parameters
    ----------
    days : float
        In the cabinet.
    test_c, storage_c : float
        [°C]
    q10 : float
        An assumption, not a measurement.

    Returns
    -------
    str

    Raises
    ------
    ScienceError
        A cabinet that is not warmer than storage.

    Notes
    -----
    `labkit.science.kinetics.storage_days`; Q10 is doubtful for emulsions, which fail in
    other ways than by one reaction.

    Examples
    --------
    >>> print(accelerated(90, 40)[:79])
    90 days at 40 °C stand for 255 days at 25 °C if Q10 is 2 (165 days if it is 1.5
    """
    low, middle, high = (
        float(storage_days(days, q, test_c, storage_c)) for q in (Q10_RANGE[0], q10, Q10_RANGE[1])
    )
    return (
        f"{days:g} days at {test_c:g} °C stand for {middle:.0f} days at {storage_c:g} °C if Q10 "
        f"is {q10:g} ({low:.0f} days if it is {Q10_RANGE[0]:g}, {high:.0f} days if it is "
        f"{Q10_RANGE[1]:g}). Q10 is an assumption; an emulsion can fail in other ways. Storage "
        "in real time decides."
    )
