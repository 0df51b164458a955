"""Keeping watch over jars: what is due, what was read, and how far it drifted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from labkit.bench import Bench, Record, Trial
from labkit.bench.measuring import base_values, measurement
from labkit.bench.snapshots import values_of
from labkit.errors import MeasurementError, RecordError, ScienceError
from labkit.plan.stability import Programme
from labkit.science.ageing import Arrhenius, arrhenius_fit, time_to_limit
from labkit.science.fitting import t_quantile

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Drift", "ageing", "drift", "due", "keep_watch", "observe", "stability_results"]

RESULT_COLUMNS = ("condition", "pull", "day", "quantity", "value", "unit", "text")
DAY_AFTER = "the day after"
LEVEL = 0.95


def keep_watch(bench: Bench, trial: Trial, programme: Programme, note: str = "") -> Record:
    """Record a programme for a trial; `due` then tells which jar is read when."""
    body: dict[str, Any] = {"event": "programme", "plan": values_of(programme.as_dict())}
    if note:
        body["note"] = note
    return bench.add("stability", body, about=trial)


def observe(
    bench: Bench,
    trial: Trial,
    condition: str,
    pull: str,
    readings: Mapping[str, Any],
    *,
    note: str = "",
    **conditions: Any,
) -> Record:
    """Record what a pulled jar showed.

    Parameters
    ----------
    condition, pull : str
        As the programme names them, such as ``"40 °C"`` and ``"day 28"``.
    readings : mapping of str to value
        Quantity → reading with its unit, or words (``{"appearance": "white, smooth"}``).
    note : str
    **conditions
        How it was measured, as in ``bench.measure``.

    Raises
    ------
    RecordError
        The trial has no programme, or no such pull.
    MeasurementError, QuantityError
        A reading that cannot be; nothing is saved.
    """
    programme = programme_of(bench, trial)
    known = [(p.condition, p.name) for p in programme.pulls]
    if (condition, pull) not in known:
        pulls = [name for place, name in known if place == condition]
        raise RecordError(
            where=f"Trial {trial.label}, {condition}, {pull}",
            found="no such pull",
            allowed=", ".join(pulls) or ", ".join(dict.fromkeys(c for c, _ in known)),
            cause="Another spelling, or a day outside the programme",
            do="Use one of these, or note it on the trial",
        )
    told = [
        measurement(name, value, **(conditions if _takes_conditions(value) else {}))
        for name, value in readings.items()
    ]
    body: dict[str, Any] = {
        "event": "pull",
        "condition": condition,
        "pull": pull,
        "observations": {"readings": told},
    }
    if note:
        body["note"] = note
    return bench.add("stability", body, about=trial)


def _takes_conditions(value: Any) -> bool:
    return any(sign.isdigit() for sign in str(value))


def programme_of(bench: Bench, trial: Trial) -> Programme:
    """The last programme recorded for a trial.

    Raises
    ------
    RecordError
        There is none.
    """
    found = [
        r for r in bench.records("stability", about=trial) if r.body.get("event") == "programme"
    ]
    if not found:
        raise RecordError(
            where=f"Trial {trial.label}",
            found="no stability programme",
            allowed="A trial with a programme",
            cause="It was not recorded yet",
            do="Record one with keep_watch(bench, trial, stability_programme(day))",
        )
    return Programme.from_dict(found[-1].body["plan"])


def due(bench: Bench, today: date | None = None, ahead: int = 0) -> pd.DataFrame:
    """What is to be read: jars of the programmes, and trials that are a day old and unread.

    Parameters
    ----------
    today : date, optional
    ahead : int
        Days to look ahead.

    Returns
    -------
    DataFrame
        Columns on, label, condition, pull, checks, state (``due``, ``overdue``, ``ahead``).
    """
    import pandas as pd

    day = today or date.today()
    rows = [row for row in _jars(bench) if row[0] <= day + timedelta(days=ahead)]
    rows += [row for row in _fresh(bench) if row[0] <= day + timedelta(days=ahead)]
    told = [
        (*row, "due" if row[0] == day else "overdue" if row[0] < day else "ahead")
        for row in sorted(rows)
    ]
    return pd.DataFrame(told, columns=["on", "label", "condition", "pull", "checks", "state"])


def _jars(bench: Bench) -> list[tuple[date, str, str, str, str]]:
    told = []
    records = bench.records("stability")
    last = {r.about[0]: r for r in records if r.body.get("event") == "programme"}
    done = {
        (r.about[0], r.body.get("condition"), r.body.get("pull"))
        for r in records
        if r.body.get("event") == "pull"
    }
    for name, record in last.items():
        trial = bench.trial(name)
        if trial.withdrawn is not None:
            continue
        for p in Programme.from_dict(record.body["plan"]).pulls:
            if (name, p.condition, p.name) not in done:
                told.append((p.on, trial.label, p.condition, p.name, ", ".join(p.checks)))
    return told


def _fresh(bench: Bench) -> list[tuple[date, str, str, str, str]]:
    """Trials whose reading after 24 h has not been taken: none of a day or more after making."""
    frame = bench.readings()
    read = set()
    made = dict(zip(*_columns(bench.trials(), "id", "created"), strict=True))
    for trial, when, hours in zip(*_columns(frame, "trial", "created", "at_h"), strict=True):
        begun = made.get(trial)
        late = begun is not None and when - begun >= timedelta(hours=18)
        if late or (hours is not None and hours >= 18):
            read.add(trial)
    labels = dict(zip(*_columns(bench.trials(), "id", "label"), strict=True))
    return [
        (_day(when) + timedelta(days=1), labels[t], "room", DAY_AFTER, "pH, viscosity, appearance")
        for t, when in made.items()
        if t not in read
    ]


def _columns(frame: pd.DataFrame, *names: str) -> list[list[Any]]:
    return [frame[name].tolist() for name in names]


def _day(when: datetime) -> date:
    return date(when.year, when.month, when.day)


def stability_results(bench: Bench, trial: Trial) -> pd.DataFrame:
    """Everything read from the jars of a trial, one row a reading, in the unit of its quantity."""
    import pandas as pd

    days = {(p.condition, p.name): p.day for p in programme_of(bench, trial).pulls}
    rows = []
    for record in bench.records("stability", about=trial):
        body = record.body
        if body.get("event") != "pull":
            continue
        at = (body["condition"], body["pull"])
        for told in body["observations"]["readings"]:
            for one in told.get("replicates", [told]):
                read = base_values(told["quantity"], one)
                rows.append(
                    (*at, days.get(at), told["quantity"], read["value"], read["unit"], read["text"])
                )
    return pd.DataFrame(rows, columns=list(RESULT_COLUMNS))


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """How a quantity moved at one condition since the start.

    Attributes
    ----------
    change, low, high : float
        Drift of the fitted line at the last day, with its 95 % interval; the last reading
        less the first where there are fewer than three days (then without an interval).
    limit : float or None
    unit : str
        Of change and limit: % for relative limits.
    words : str
    """

    quantity: str
    condition: str
    days: tuple[int, ...]
    change: float
    low: float | None
    high: float | None
    limit: float | None
    unit: str
    words: str

    def __str__(self) -> str:
        return self.words


def drift(bench: Bench, trial: Trial, quantity: str, condition: str) -> Drift:
    """Drift of a quantity at a condition, against the limit of the programme.

    Parameters
    ----------
    quantity, condition : str

    Returns
    -------
    Drift

    Raises
    ------
    MeasurementError
        Fewer than two days read.

    Notes
    -----
    A straight line through all readings; drift = slope x last day, interval from the slope's
    standard error and the t quantile (two-sided 95 %). No shelf life follows from it.
    """
    frame = stability_results(bench, trial)
    mine = frame[(frame["quantity"] == quantity) & (frame["condition"] == condition)]
    mine = mine[mine["value"].notna()]
    days, values = mine["day"].to_numpy(float), mine["value"].to_numpy(float)
    if np.unique(days).size < 2:
        raise MeasurementError(
            where=f"Trial {trial.label}, {quantity} at {condition}",
            found=f"readings of {np.unique(days).size} day",
            allowed="At least two days, better four",
            cause="The jars were not pulled yet",
            do="Go on; due(bench) tells which jar is next",
        )
    limit, unit = programme_of(bench, trial).limits.get(quantity, (None, ""))
    start = float(values[days == days.min()].mean())
    scale = 100.0 / start if unit == "%" else 1.0
    change, half = _line(days, values)
    change, half = change * scale, None if half is None else half * abs(scale)
    shown = unit or str(mine["unit"].iloc[0])
    low, high = (None, None) if half is None else (change - half, change + half)
    return Drift(
        quantity=quantity,
        condition=condition,
        days=tuple(int(x) for x in np.unique(days)),
        change=change,
        low=low,
        high=high,
        limit=limit,
        unit=shown,
        words=_drift_words(quantity, condition, int(days.max()), (change, low, high), limit, shown),
    )


def _line(days: Any, values: Any) -> tuple[float, float | None]:
    """Drift of the fitted line over all days, and half of its interval."""
    span = float(days.max() - days.min())
    n, spread = days.size, float(((days - days.mean()) ** 2).sum())
    slope = float(((days - days.mean()) * (values - values.mean())).sum() / spread)
    if n < 3:
        return slope * span, None
    rest = values - values.mean() - slope * (days - days.mean())
    error = float(np.sqrt((rest**2).sum() / (n - 2) / spread))
    return slope * span, t_quantile(0.5 + LEVEL / 2, n - 2) * error * span


def _drift_words(
    quantity: str,
    condition: str,
    day: int,
    moved: tuple[float, float | None, float | None],
    limit: float | None,
    unit: str,
) -> str:
    change, low, high = moved
    unit = "" if unit == "pH" else unit
    band = "" if low is None else f" ({low:+.3g} to {high:+.3g})"
    said = f"{quantity} at {condition}: {change:+.3g} {unit}".rstrip() + f"{band} by day {day}"
    if limit is None:
        return f"{said}; no limit was set."
    ends = [x for x in (low, high) if x is not None] or [change]
    if all(abs(x) <= limit for x in ends):
        where = "inside the limit of"
    elif low is not None and high is not None and (low > limit or high < -limit):
        where = "beyond the limit of"
    else:
        where = "not decided against the limit of"
    return f"{said}; {where} {limit:g} {unit}".rstrip() + "."


def ageing(
    bench: Bench, trial: Trial, quantity: str, conditions: Sequence[str] | None = None
) -> Arrhenius:
    """One Arrhenius fit to all jars of a trial that were kept at different temperatures.

    Parameters
    ----------
    quantity : str
        Something that is lost with time, such as the content of an active.
    conditions : sequence of str, optional
        Of storage; every temperature of the programme otherwise.

    Returns
    -------
    Arrhenius
        ``.time_to_loss(0.1, 25)`` with its interval on ln(time): a planning aid.

    Raises
    ------
    ScienceError
        One temperature only, or no loss to be seen.
    """
    frame = stability_results(bench, trial)
    frame = frame[(frame["quantity"] == quantity) & frame["value"].notna()]
    degrees = {c.name: c.temperature_c for c in programme_of(bench, trial).conditions}
    chosen = [name for name in (conditions or degrees) if degrees.get(name) is not None]
    frame = frame[frame["condition"].isin(chosen)]
    if frame.empty:
        raise ScienceError(
            where=f"Trial {trial.label}, {quantity}",
            found="no readings from jars at a temperature",
            allowed="Readings at two temperatures or more",
            cause="The jars were not read, or the quantity is spelt differently",
            do="Record them with observe",
        )
    kept = [float(degrees[name] or 0.0) for name in frame["condition"]]
    return arrhenius_fit(frame["day"].to_numpy(float), kept, frame["value"].to_numpy(float))


def first_crossing(
    bench: Bench, trial: Trial, quantity: str, condition: str, limit: float
) -> tuple[float, float, tuple[str, ...]]:
    """Day on which a straight trend, and its one-sided 95 % bound, meet a limit; and notes."""
    frame = stability_results(bench, trial)
    mine = frame[(frame["quantity"] == quantity) & (frame["condition"] == condition)]
    mine = mine[mine["value"].notna()]
    found = time_to_limit(mine["day"].to_numpy(float), mine["value"].to_numpy(float), limit)
    return found.point, found.bound, found.notes
