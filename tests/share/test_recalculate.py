"""Stored forecasts come out again, or it is said which do not and why."""

from __future__ import annotations

import copy
import dataclasses
from pathlib import Path
from typing import Any

import pytest

import labkit as lk
from labkit.bench import Bench
from labkit.bench.snapshots import material_values
from labkit.errors import RecordError, ShareError
from labkit.share.rebuilding import material_from_values
from tests.share.conftest import GEL


def test_everything_comes_out_again_on_the_same_versions(bench: Bench, published: Path) -> None:
    own = lk.share.recalculate(bench)
    assert own.count("reproduced") == len(own.values) > 10
    assert str(own).splitlines()[0] == own.summary
    shared = lk.share.recalculate(published)
    assert shared.ok
    assert {one.why for one in shared.values if one.verdict == "not run"} == {
        "it is private and was kept back"
    }
    assert shared.count("not run") == 2


def recorded_with(bench: Bench, change: Any) -> lk.share.Recalculation:
    mats = lk.Materials.starter()
    gel = lk.Formula.parse(GEL, name="Low water gel")
    told = copy.deepcopy(lk.forecast(gel, mats).as_record())
    change(told)
    trial = bench.record(gel, mats=mats, forecast=told, label="forged")
    assert bench.verify().ok, "the records hold: it was altered before it was named"
    found = lk.share.recalculate(bench)
    mine = tuple(one for one in found.values if one.trial == trial.label)
    return dataclasses.replace(found, values=mine)


@pytest.mark.parametrize("part", ["value", "low", "high"])
def test_an_altered_and_renamed_forecast_differs(bench: Bench, part: str) -> None:
    def change(told: dict[str, Any]) -> None:
        ph = next(one for one in told["estimates"] if one["quantity"] == "pH")
        ph[part] = f"{float(ph[part]) + 0.001:.6f}"

    found = recorded_with(bench, change)
    assert [one.quantity for one in found.values if one.verdict == "differs"] == ["pH"]
    assert f"{part} by -0.001" in str(found)
    assert "1 differs" in found.summary
    assert not found.ok


def test_a_finding_that_was_struck_out_differs(bench: Bench) -> None:
    found = recorded_with(bench, lambda told: told["findings"].pop())
    assert [one.quantity for one in found.values if one.verdict == "differs"] == ["findings"]


def test_noise_in_the_last_digit_is_no_difference(bench: Bench) -> None:
    def change(told: dict[str, Any]) -> None:
        for one in told["estimates"]:
            one["value"] = f"{float(one['value']) * (1 + 1e-12):.6f}"

    assert recorded_with(bench, change).ok


def test_a_forecast_by_hand_is_not_run_and_says_so(bench: Bench) -> None:
    bench.record(lk.Formula.parse(GEL, name="x"), forecast={"pH": (4.0, 4.4)}, label="hand")
    mine = [one for one in lk.share.recalculate(bench).values if one.trial == "hand"]
    assert [one.why for one in mine] == ["written by hand, not calculated"]


def test_learned_values_come_out_again_from_what_was_known_then(bench: Bench) -> None:
    mats = lk.Materials.starter()
    gel = lk.Formula.parse(GEL, name="Low water gel")
    for i, (share, ph) in enumerate([("4 %", "4.02"), ("6 %", "4.08"), ("8 %", "4.11")]):
        trial = bench.record(gel.move("glycerin", share), label=f"L-{i}", mats=mats)
        bench.measure(trial, "pH", ph, temperature="25 °C", dilution="neat")
        bench.measure(trial, "viscosity", f"{12 + i} Pa*s", temperature="25 °C", speed="20 rpm")
    look = lk.forecast(gel, mats, bench=bench)
    assert look.ph.basis == "learned"
    bench.record(gel, mats=mats, forecast=look, label="told")
    later = bench.measure("L-0", "pH", "5.9", temperature="25 °C", dilution="neat")
    bench.amend(later, "/value", "6.1", reason="later, and unlike")
    found = lk.share.recalculate(bench)
    mine = {one.quantity: one.verdict for one in found.values if one.trial == "told"}
    assert mine["pH"] == mine["viscosity"] == "reproduced"


def test_a_model_of_another_name_is_not_run(bench: Bench) -> None:
    def change(told: dict[str, Any]) -> None:
        told["model"] = {"name": "oracle", "version": "9", "seed": 0, "data": []}
        told["estimates"][0]["basis"] = "learned"

    found = recorded_with(bench, change)
    assert "it was learned by oracle" in str(found)


def test_a_trial_is_rebuilt_from_its_records_alone(published: Path) -> None:
    with lk.share.open(published) as history:
        again = history.rebuild("G-2")
    assert again.formula.total == 100
    assert str(again.formula.lines[again.formula.find("Glycerin")].percent) == "7.0000"
    assert len(again.mats) == 5
    assert again.brief is not None
    assert again.brief.leave_on
    assert not again.priced
    look = lk.forecast(again.formula, again.mats, brief=again.brief)
    assert look.ph.known


def test_every_starter_material_comes_back_as_it_was() -> None:
    for material in lk.Materials.starter().values():
        bare = dataclasses.replace(material, price=None)
        again = material_from_values(material_values(material))
        assert again == bare
        assert dict(again.facts) == dict(bare.facts)


def test_a_premix_comes_back_as_it_was() -> None:
    mats = lk.Materials.starter()
    slurry = lk.Formula.parse("phase,material,percent\nA,Glycerin,q.s.\nA,Xanthan Gum,10", name="s")
    material = mats.premix(slurry, name="gum in glycerin")
    assert material_from_values(material_values(material)) == dataclasses.replace(
        material, price=None
    )


def test_what_cannot_be_read_back_is_told() -> None:
    with pytest.raises(ShareError, match="cannot be read back"):
        material_from_values({"key": "x", "name": "X", "inci": "X", "use_high": "much"})


def test_a_closed_recipe_is_not_run(bench: Bench, tmp_path: Path) -> None:
    mats = lk.Materials.starter()
    gel = lk.Formula.parse(GEL, name="secret")
    bench.record(
        gel, mats=mats, forecast=lk.forecast(gel, mats), label="S", private=["/formula/lines/1"]
    )
    path = lk.share.export(bench, tmp_path / "x.eln")
    with lk.share.open(path) as history:
        with pytest.raises(RecordError, match="private and closed"):
            history.rebuild("S")
        mine = [one for one in lk.share.recalculate(history).values if one.trial == "S"]
    assert {one.verdict for one in mine} == {"not run"}
