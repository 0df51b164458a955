"""Scaling up: the checklist, its numbers, and the new trial it makes."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from labkit.bench import Bench
from labkit.bench.demo import demo_formulas
from labkit.errors import BriefError, FormulaError, LabkitError
from labkit.materials import Materials
from labkit.plan.scale_up import scale_up, time_ratio, tip_speed

MATS = Materials.starter()
CREAM = demo_formulas()["HC-02"]


def test_the_list_covers_more_than_multiplication() -> None:
    plan = scale_up(
        CREAM,
        "2 kg",
        mats=MATS,
        vessel="3 kg",
        rotor_mm=(20.0, 40.0),
        speed_rpm=8000.0,
        heat_min=12,
        cool_min=25,
    )
    topics = {item.topic for item in plan.items}
    assert topics >= {"heating", "cooling", "holding", "shear", "speed", "vessel", "loss"}
    assert topics >= {"gums", "late additions", "set point", "steam", "pH", "new trial"}
    told = str(plan)
    # cube root of 20 is 2.714: 12 min → 33, 25 min → 68; equal tip speed halves the rpm
    assert "12 min become about 33 min" in told
    assert "25 min become about 68 min" in told
    assert "4000 rpm" in told
    assert "filled to 67 %" in told
    assert "2062 to 2174 g" in told
    assert all(item.source for item in plan.items)


def test_grams_at_the_new_size_are_exact() -> None:
    assert sum(scale_up(CREAM, "2 kg", mats=MATS).grams()) == Decimal(2000)


def test_it_is_a_new_trial(tmp_path: Path) -> None:
    with Bench.open(tmp_path) as bench:
        small = bench.record(CREAM, label="HC-02")
        plan = scale_up(small, "2 kg", mats=MATS)
        large = bench.record(plan.formula, parent=small, note=plan.note)
        assert large.parents == (small.id,)
        assert "a new trial" in large.note


def test_a_vessel_hardly_filled_draws_air() -> None:
    assert "draws air" in str(scale_up(CREAM, "500 g", mats=MATS, vessel="5 kg"))
    assert "little room" in str(scale_up(CREAM, "900 g", mats=MATS, vessel="1 kg"))


def test_arrays_give_what_their_elements_give() -> None:
    sizes = np.array([100.0, 800.0, 2700.0])
    np.testing.assert_allclose(np.asarray(time_ratio(100.0, sizes)), [1.0, 2.0, 3.0])
    speeds = np.array([1000.0, 3000.0])
    each = [tip_speed(30.0, s) for s in speeds]
    np.testing.assert_allclose(np.asarray(tip_speed(30.0, speeds)), np.asarray(each))


@pytest.mark.parametrize(
    ("kind", "call", "words"),
    [
        (BriefError, {"to": "100 g"}, "in both"),
        (BriefError, {"to": "2 kg", "vessel": "1 kg"}, "larger than the batch"),
        (FormulaError, {"to": "0 g"}, "above 0 g"),
        (LabkitError, {"to": "2 L"}, "mass"),
    ],
)
def test_a_size_that_cannot_be_is_refused(
    kind: type[LabkitError], call: dict[str, str], words: str
) -> None:
    with pytest.raises(kind, match=words):
        scale_up(CREAM, call["to"], mats=MATS, vessel=call.get("vessel"))
