"""Stability: the programme by common protocols, what is due, drift, and the calendar."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from labkit.bench import Bench, Trial
from labkit.errors import BriefError, LabkitError, MeasurementError, RecordError, ScienceError
from labkit.formula import Formula
from labkit.plan.calendar import Entry, icalendar
from labkit.plan.stability import Programme, accelerated, stability_programme
from labkit.plan.watching import (
    ageing,
    drift,
    due,
    first_crossing,
    keep_watch,
    observe,
    stability_results,
)

START = date(2026, 3, 2)
GEL = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5", name="gel")


def at(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 9, tzinfo=UTC)


def test_the_usual_programme_has_the_usual_days_and_cycles() -> None:
    plan = stability_programme(START)
    by = {c.name: [p.day for p in plan.pulls if p.condition == c.name] for c in plan.conditions}
    # datasets/stability_practice.csv: ST22 time points; ST10 three cycles of four days
    assert by["40 °C"] == [0, 1, 7, 14, 28, 56, 84]
    assert by["freeze-thaw"] == [0, 4, 8, 12]
    assert max(by["light"]) == 28
    assert plan.limits["pH"] == (0.5, "pH")
    assert all(c.source for c in plan.conditions)
    assert "viscosity" in plan.pulls[0].checks


def test_a_programme_comes_back_from_its_record() -> None:
    plan = stability_programme(START, ["4 °C", "45 °C"], days=(0, 30, 90))
    again = Programme.from_dict(plan.as_dict())
    assert again.pulls == plan.pulls
    assert again.limits == plan.limits


def test_ninety_days_at_forty_are_255_days_under_q10_two() -> None:
    # 90 x 2^1.5 = 254.6; 90 x 1.5^1.5 = 165.3; 90 x 3^1.5 = 467.7
    words = accelerated(90, 40)
    assert "255 days" in words
    assert "165 days" in words
    assert "468 days" in words
    assert "assumption" in words
    with pytest.raises(ScienceError, match="not accelerated"):
        accelerated(90, 25)


def test_what_is_due_ends_when_it_was_read(tmp_path: Path) -> None:
    now = at(START)
    with Bench.open(tmp_path, clock=lambda: now) as bench:
        trial = bench.record(GEL)
        keep_watch(bench, trial, stability_programme(START, ["25 °C", "40 °C"]))
        bench.measure(trial, "pH", 5.3, at="24 h")
        assert due(bench, START).condition.tolist() == ["25 °C", "40 °C"]
        observe(bench, trial, "40 °C", "start", {"pH": 5.31, "appearance": "white"})
        observe(bench, trial, "25 °C", "start", {"pH": "5.30"}, temperature="25 °C")
        assert due(bench, START).empty
        later = due(bench, START + timedelta(days=1), ahead=6)
        assert later.state.tolist() == ["due", "due", "ahead", "ahead"]
        assert set(due(bench, START + timedelta(days=9)).state) == {"overdue"}
        assert bench.verify().ok


def test_a_trial_without_its_reading_after_a_day_is_due(tmp_path: Path) -> None:
    now = at(START)
    with Bench.open(tmp_path, clock=lambda: now) as bench:
        trial = bench.record(GEL)
        bench.measure(trial, "pH", 5.3)
        assert due(bench, START).empty
        tomorrow = due(bench, START + timedelta(days=1))
        assert tomorrow[["label", "pull", "state"]].values.tolist() == [
            ["T1", "the day after", "due"]
        ]
        bench.measure(trial, "pH", 5.28, at="24 h")
        assert due(bench, START + timedelta(days=1)).empty


def watched(bench: Bench, values: dict[str, list[float]], quantity: str = "viscosity") -> Trial:
    trial = bench.record(GEL)
    days = (0, 7, 14, 28, 56, 84)
    keep_watch(bench, trial, stability_programme(START, list(values), days=days))
    for condition, row in values.items():
        for day, value in zip(days, row, strict=True):
            name = "start" if day == 0 else f"day {day}"
            unit = "mPa*s" if quantity == "viscosity" else "%"
            observe(bench, trial, condition, name, {quantity: f"{value:.4f} {unit}"})
    return trial


def test_drift_has_an_interval_and_stands_against_its_limit(tmp_path: Path) -> None:
    days = np.array([0, 7, 14, 28, 56, 84.0])
    noise = np.array([30, -40, 25, -20, 35, -30.0])
    with Bench.open(tmp_path) as bench:
        trial = watched(
            bench,
            {
                "25 °C": list(20000 - 5 * days + noise),
                "40 °C": list(20000 - 120 * days + noise),
                "45 °C": list(20000 - 47 * days + 20 * noise),
            },
        )
        cold = drift(bench, trial, "viscosity", "25 °C")
        assert "inside the limit of 20 %" in cold.words
        # numpy's own least squares as the outside check
        slope = np.polyfit(days, 20000 - 5 * days + noise, 1)[0]
        assert cold.change == pytest.approx(slope * 84 / 20030 * 100, rel=1e-6)
        assert cold.low is not None
        assert cold.high is not None
        assert cold.low < cold.change < cold.high
        warm = drift(bench, trial, "viscosity", "40 °C")
        assert "beyond the limit" in warm.words
        open_ = drift(bench, trial, "viscosity", "45 °C")
        assert "not decided" in open_.words
        table = stability_results(bench, trial)
        assert len(table) == 18
        point, bound, notes = first_crossing(
            bench,
            trial,
            "viscosity",
            "40 °C",
            16000.0,
        )
        assert bound < point == pytest.approx(4000 / 120, rel=0.02)
        assert "not a shelf life" in notes[0]


def test_the_interval_of_the_drift_covers_what_it_promises() -> None:
    from labkit.plan.watching import _line

    rng = np.random.default_rng(7)
    days, hits = np.array([0, 7, 14, 28, 56, 84.0]), 0
    for _ in range(2000):
        change, half = _line(days, 0.01 * days + rng.normal(0, 0.05, 6))
        assert half is not None
        hits += abs(change - 0.84) <= half
    assert 0.93 < hits / 2000 < 0.97


def test_ageing_takes_all_temperatures_in_one_step(tmp_path: Path) -> None:
    days, rng = np.array([0, 7, 14, 28, 56, 84.0]), np.random.default_rng(3)
    rows = {}
    for c in (40.0, 45.0, 50.0):
        k = 0.002 * np.exp(-80e3 / 8.314462618 * (1 / (c + 273.15) - 1 / 318.15))
        rows[f"{c:g} °C"] = list(2.0 * np.exp(-k * days) * (1 + rng.normal(0, 0.005, 6)))
    with Bench.open(tmp_path) as bench:
        trial = watched(bench, rows, "vitamin content")
        fit = ageing(bench, trial, "vitamin content")
        assert fit.energy_kj_mol == pytest.approx(80, abs=3 * fit.energy_se)
        value, low, high = fit.time_to_loss(0.1, 25.0)
        assert 0 < low < value < high
        with pytest.raises(ScienceError, match="no readings from jars"):
            ageing(bench, trial, "colour")


def test_the_calendar_is_folded_escaped_and_complete() -> None:
    plan = stability_programme(START, ["40 °C"])
    text = plan.calendar("HC-07, jar; A")
    assert text.startswith("BEGIN:VCALENDAR\r\nVERSION:2.0\r\n")
    assert text.count("BEGIN:VEVENT") == 7
    assert "SUMMARY:HC-07\\, jar\\; A: 40 °C\\, day 28" in text
    assert "DTSTART;VALUE=DATE:20260330" in text
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    unfolded = text.replace("\r\n ", "")
    assert "separation" in unfolded
    long = icalendar([Entry(day=START, title="µ" * 200)])
    assert "µ" * 200 in long.replace("\r\n ", "")


def test_an_entry_keeps_its_name_when_exported_again() -> None:
    once, twice = (stability_programme(START, ["4 °C"]).calendar("T1") for _ in range(2))
    uids = [[x for x in text.splitlines() if x.startswith("UID")] for text in (once, twice)]
    assert uids[0] == uids[1]
    assert len(set(uids[0])) == 7


@pytest.mark.parametrize(
    ("kind", "call", "words"),
    [
        (BriefError, lambda b, t: stability_programme(START, ["oven"]), "condition 'oven'"),
        (BriefError, lambda b, t: stability_programme(START, days=(7, 14)), "begin at 0"),
        (RecordError, lambda b, t: observe(b, t, "40 °C", "start", {"pH": 5}), "no stability"),
        (RecordError, lambda b, t: stability_results(b, t), "no stability programme"),
    ],
)
def test_what_cannot_be_is_refused(
    tmp_path: Path, kind: type[LabkitError], call: object, words: str
) -> None:
    with Bench.open(tmp_path) as bench:
        trial = bench.record(GEL)
        with pytest.raises(kind, match=words):
            call(bench, trial)  # type: ignore[operator]


def test_an_unknown_pull_or_a_slip_of_the_pen_saves_nothing(tmp_path: Path) -> None:
    with Bench.open(tmp_path) as bench:
        trial = bench.record(GEL)
        keep_watch(bench, trial, stability_programme(START, ["40 °C"]))
        with pytest.raises(RecordError, match="no such pull"):
            observe(bench, trial, "40 °C", "day 29", {"pH": 5})
        with pytest.raises(MeasurementError, match="Did you mean 5.5"):
            observe(bench, trial, "40 °C", "day 28", {"pH": 55})
        with pytest.raises(MeasurementError, match="two days"):
            drift(bench, trial, "pH", "40 °C")
        assert len(bench.records("stability")) == 1
