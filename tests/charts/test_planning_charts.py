"""Charts of effects, designs and proposals show the numbers they are drawn from."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest

import labkit as lk
from labkit.bench import Bench
from labkit.charts import repeats, surprises, ternary, trade_off, waterfall
from labkit.errors import BriefError, MeasurementError
from labkit.materials import Materials
from labkit.plan import effects, mixture, next_trials


@pytest.fixture(scope="module")
def mats() -> Materials:
    return Materials.starter()


@pytest.fixture(scope="module")
def bench(mats: Materials) -> Iterator[Bench]:
    with lk.demo_bench(mats=mats, product="Harbour") as opened:
        yield opened


def test_the_bars_of_a_waterfall_add_up_to_what_was_measured(bench: Bench, mats: Materials) -> None:
    chart = waterfall(bench, "HC-03", mats=mats)
    *parts, measured = chart.panels[0].bars
    assert sum(b.end - b.start for b in parts) == pytest.approx(measured.end, abs=1e-9)
    for before, after in pairwise(parts):
        assert after.start == pytest.approx(before.end)
    step = next(s for s in effects(bench, "viscosity", mats) if s.label == "HC-03")
    assert [b.end - b.start for b in parts[:-1]] == pytest.approx(
        [c.effect for c in step.contributions]
    )


def test_a_waterfall_of_ph_is_in_units_and_of_thickness_in_factors(
    bench: Bench, mats: Materials
) -> None:
    assert "pH units" in waterfall(bench, "HC-05", "pH", mats).svg
    assert "× 1.25" in waterfall(bench, "HC-03", mats=mats).svg


@pytest.mark.parametrize("label", ["HC-01", "HC-99"])
def test_a_trial_without_a_measured_parent_is_refused_with_the_steps_there_are(
    bench: Bench, mats: Materials, label: str
) -> None:
    with pytest.raises(MeasurementError, match="no measured parent.*HC-01 → HC-02"):
        waterfall(lk.learning.fit(bench, mats), label)


def test_a_triangle_shows_batches_field_and_window() -> None:
    names = ["Caprylic/Capric Triglyceride", "Squalane", "Isopropyl Myristate"]
    design = mixture(None, names, dict.fromkeys(names, (0.0, 12.0)), total=12, design="centroid")
    truth = np.array([3.0, 5.0, 1.0])
    answers = design.pseudo @ truth
    chart = ternary(design, answers, model="linear", window=(2.0, 3.0), title="feel")
    assert chart.values == pytest.approx((chart.grid / 12.0) @ truth), (
        "a linear fit of exact answers is exact everywhere"
    )
    assert chart.svg.count("<circle") >= 2 * len(design.percent)
    assert all(name in chart.svg for name in names)
    assert len(chart.figure.data) == 2


def test_a_triangle_needs_three_materials_and_every_answer() -> None:
    names = ["Squalane", "Isopropyl Myristate"]
    design = mixture(None, names, dict.fromkeys(names, (0.0, 10.0)), total=10, design="centroid")
    with pytest.raises(BriefError, match="Plan with three materials"):
        ternary(design, [1.0] * len(design.percent))


def test_a_trade_off_draws_each_proposal_once(bench: Bench, mats: Materials) -> None:
    brief = lk.Brief(product="hand cream", ph=(4.8, 5.2), viscosity=("28 Pa*s", "38 Pa*s"))
    proposals = next_trials(bench, brief, mats, n=2)
    table = trade_off(proposals).table()
    assert list(table["y"]) == pytest.approx([100 * p.chance for p in proposals])


def test_surprises_stand_in_the_order_of_the_trials(bench: Bench, mats: Materials) -> None:
    chart = surprises(bench, mats=mats)
    labels = [words for _, words in chart.panels[0].ticks]
    assert labels == sorted(labels)
    assert "HC-06" not in labels, "it separated and has no thickness"


def test_repeats_are_charted_with_limits_that_fit_few_batches() -> None:
    with Bench.open(tempfile.mkdtemp()) as bench:
        gel = lk.Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Xanthan Gum,0.5")
        labels = []
        for i, ph in enumerate((5.31, 5.36, 5.29, 5.33, 5.34)):
            trial = bench.record(gel, label=f"R{i}")
            bench.measure(trial, "pH", ph, temperature="25 °C")
            labels.append(trial.label)
        chart = repeats(bench, labels, "pH")
        assert "few batches (5)" in chart.note
        band = chart.panels[0].bands[0]
        values = [p.y for p in chart.panels[0].points]
        assert band.low is not None
        assert band.high is not None
        assert band.low < min(values) < max(values) < band.high
        other = bench.record(gel.move("Xanthan Gum", 1), label="X")
        with pytest.raises(MeasurementError, match="X is another recipe than R0"):
            repeats(bench, [*labels, other.label], "pH")
        with pytest.raises(MeasurementError, match="At least 3 batches"):
            repeats(bench, labels[:2], "pH")
