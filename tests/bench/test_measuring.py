"""Readings as they are written at the bench."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.bench.conditions import conditions_text
from labkit.bench.measuring import base_values, measurement, reread
from labkit.bench.scales import SCALES, find_scale
from labkit.errors import LabkitError, MeasurementError, QuantityError
from labkit.quantities import parse


def base(quantity: str, value: Any, **how: Any) -> Any:
    body = measurement(quantity, value, **how)
    return base_values(body["quantity"], body)["value"]


@pytest.mark.parametrize(
    ("quantity", "typed", "expected"),
    [
        ("viscosity", "18.2 Pa*s", 18200.0),
        ("viscosity", "18900 cps", 18900.0),
        ("viscosity", "18900 mPas", 18900.0),
        ("viscosity", "20k cP", 20000.0),
        ("pH", "pH 5.31", 5.31),
        ("pH", 5.31, 5.31),
        ("pH", "5,31", 5.31),
        ("drain time", "1.5 min", 90.0),
        ("spread", "8.2 cm", 82.0),
        ("density", "982 kg/m3", 0.982),
        ("droplet size", "0.004 mm", 4.0),
        ("weight loss", "1.2 %", 1.2),
        ("weight loss", "-0.3 %", -0.3),
        ("counts", "120 CFU/g", 120.0),
        ("thickness", "runs", 1.0),
        ("thickness", "Peaks", 5.0),
        ("yield stress", "41 Pa", 41.0),
    ],
)
def test_bench_spellings_come_out_in_the_unit_of_the_quantity(
    quantity: str, typed: Any, expected: float
) -> None:
    assert base(quantity, typed) == pytest.approx(expected)


def test_digits_are_kept_as_read() -> None:
    assert measurement("pH", "4.60")["value"] == "4.60"
    assert measurement("pH", Decimal("4.6"))["value"] == "4.6"
    assert measurement("pH", np.float64(5.31))["value"] == "5.31"
    body = measurement("viscosity", "20k cP")
    assert (body["value"], body["unit"], body["text"]) == ("20000", "mPa*s", "20k cP")


def test_a_quantity_object_is_read_like_its_text() -> None:
    assert measurement("viscosity", parse("18.2 Pa*s"))["value"] == "18.2"


def test_an_array_of_readings_is_a_list_of_replicates() -> None:
    body = measurement("pH", np.array([5.3, 5.4]))
    assert [one["value"] for one in body["replicates"]] == ["5.3", "5.4"]


def test_replicates_keep_their_own_units() -> None:
    body = measurement("viscosity", ["18.2 Pa*s", "18900 cps"], speed="20 rpm")
    assert [one["unit"] for one in body["replicates"]] == ["Pa*s", "mPa*s"]
    assert "value" not in body


def test_conditions_are_kept_in_plain_units() -> None:
    body = measurement(
        "viscosity",
        "18.2 Pa*s",
        temperature="77 °F",
        spindle="S64",
        speed="20 rpm",
        torque="45",
        instrument="the old one",
        at="7 d",
    )
    assert body["conditions"] == {
        "temperature_c": "25",
        "spindle": "S64",
        "speed_rpm": "20",
        "torque_percent": "45",
        "instrument": "the old one",
    }
    assert body["at_h"] == "168"


def test_conditions_that_matter_make_different_lines_and_torque_does_not() -> None:
    def line(**how: Any) -> str:
        return conditions_text(measurement("viscosity", "1 Pa*s", **how).get("conditions", {}))

    assert line(speed="20 rpm", torque="45 %") == line(speed="20 rpm", torque="60 %") == "20 rpm"
    assert line(speed="20 rpm") != line(speed="10 rpm")
    assert line(temperature="25 °C") != line(temperature="35 °C")
    assert line(spindle="S64") != line(spindle="S63")


@pytest.mark.parametrize(
    ("typed", "step", "low", "high"),
    [("5-6", None, 5.0, 6.0), ("5.0–5.5", None, 5.0, 5.5), ("5.5", "0.5", 5.25, 5.75)],
)
def test_a_strip_keeps_its_coarse_interval(
    typed: str, step: str | None, low: float, high: float
) -> None:
    body = measurement("pH strip", typed, step=step)
    found = base_values("pH strip", body)
    assert (found["low"], found["high"]) == (low, high)
    assert body["quantity"] != "pH"


def test_a_count_below_ten_is_a_bound() -> None:
    body = measurement("counts", "<10 CFU/g")
    assert (body["bound"], body["value"]) == ("<", "10")
    assert base_values("counts", body)["bound"] == "<"


def test_a_colour_is_three_numbers_or_words() -> None:
    assert measurement("colour", (92.1, -0.4, 3.2))["word"] == "92.1 -0.4 3.2"
    assert measurement("colour", "L* 92.1 a* -0.4 b* 3.2")["unit"] == "L*a*b*"
    assert measurement("colour", "ivory")["unit"] == "text"


def test_a_quantity_of_ones_own_needs_a_unit_and_keeps_it() -> None:
    body = measurement("slip angle", "12 mm")
    assert (body["quantity"], body["unit"]) == ("slip angle", "mm")
    with pytest.raises(QuantityError, match="no unit"):
        measurement("slip angle", "12")


@pytest.mark.parametrize(
    ("quantity", "typed", "how", "kind", "words"),
    [
        ("pH", 55, {}, MeasurementError, r"between 0 and 14\. .*Did you mean 5\.5"),
        ("pH", "-1", {}, LabkitError, "-1"),
        ("pH", "5.31 5.32", {}, QuantityError, "two quantities in one field"),
        ("pH", None, {}, MeasurementError, "None"),
        ("pH", True, {}, MeasurementError, "True"),
        ("pH", [], {}, MeasurementError, "an empty list"),
        ("pH", float("nan"), {}, LabkitError, "no number that a bench can have"),
        ("viscosity", 12000, {}, QuantityError, r"Write '12000 mPa\*s' or '12 Pa\*s'"),
        ("viscosity", "1E9999999", {}, QuantityError, "Powers of ten"),
        ("viscosity", "0 mPa*s", {}, MeasurementError, "A viscosity lies between"),
        ("viscosity", "25 °C", {}, QuantityError, "is a temperature, not a viscosity"),
        ("viscosty", "1 Pa*s", {}, MeasurementError, "Did you mean 'viscosity'"),
        ("", "1 Pa*s", {}, MeasurementError, "the quantity ''"),
        ("pH strip", "5.5", {}, MeasurementError, "Write '5-6', or add step="),
        ("pH strip", "5-60", {}, MeasurementError, "A pH lies between 0 and 14"),
        ("thickness", "gloopy", {}, MeasurementError, "runs, pours, drops, mounds, peaks"),
        ("appearance", " ", {}, MeasurementError, "What was seen, in words"),
        ("colour", "L 120 a 0 b 0", {}, MeasurementError, "between 0 and 100"),
        ("panel score", 7, {}, MeasurementError, "no scale= beside the reading"),
        ("drain time", "1:32", {}, QuantityError, "1:32"),
        ("pH", 5.3, {"temperature": 25}, QuantityError, "no unit"),
        ("pH", 5.3, {"temperature": "5 rpm"}, QuantityError, "is a speed, not a temperature"),
        ("pH", 5.3, {"temperature": "400 °C"}, MeasurementError, "between -40 and 200 °C"),
        ("pH", 5.3, {"dilution": "a bit"}, MeasurementError, "'neat', '1:10'"),
        ("pH", 5.3, {"torque": "140 %"}, MeasurementError, "between 0 and 100 %"),
        ("pH", 5.3, {"temprature": "25 °C"}, MeasurementError, "temperature, speed"),
        ("pH", 5.3, {"at": "soon"}, QuantityError, "not one number"),
    ],
)
def test_what_cannot_be_recorded_is_refused_in_words(
    quantity: str, typed: Any, how: dict[str, Any], kind: type[Exception], words: str
) -> None:
    with pytest.raises(kind, match=words):
        measurement(quantity, typed, **how)


def test_a_suggestion_is_made_only_where_it_would_fit() -> None:
    with pytest.raises(MeasurementError, match="Read the instrument again"):
        measurement("pH", 777)


def test_every_quantity_is_found_by_each_of_its_names() -> None:
    for scale in SCALES.values():
        for name in (scale.name, *scale.also):
            assert find_scale(name.upper()) is scale


def test_no_quantity_is_turned_into_another() -> None:
    with pytest.raises(QuantityError, match="is a time, not a viscosity"):
        measurement("viscosity", "32 s")
    with pytest.raises(QuantityError, match="is a viscosity, not a time"):
        measurement("drain time", "3000 mPa*s")


@given(st.decimals("0.01", "99999", places=2))
def test_a_viscosity_is_the_same_in_both_units(value: Decimal) -> None:
    assert base("viscosity", f"{value} Pa*s") == pytest.approx(
        base("viscosity", f"{value * 1000} mPa*s")
    )


def test_a_reading_is_reread_in_its_own_unit() -> None:
    assert reread("viscosity", {"value": "18.2", "unit": "Pa*s"}, "18.4") == "18.4"
    assert reread("thickness", {"word": "runs", "unit": "word"}, "pours") == "pours"
    assert reread("pH strip", {"value": "5.5", "unit": "pH"}, "5-6") == "5.5"
