"""A forecast says what it rests on, widens where it knows less, and narrows as it learns."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from labkit.bench import Bench
from labkit.bench.demo import demo_bench
from labkit.errors import MeasurementError
from labkit.estimates import Forecaster, forecast
from labkit.formula import Brief, Formula
from labkit.materials import Materials

MATS = Materials.starter()
ACIDS = "A,Lactic acid 80 %,0.5\nA,Sodium lactate 60 %,1"
CREAM = f"""A,Glycerin,5
B,Mineral oil,12
B,Cetearyl alcohol,3
B,Polysorbate 60,2
B,Sorbitan stearate,2
{ACIDS}"""


def formula(lines: str) -> Formula:
    return Formula.parse(f"phase,material,percent\nA,Aqua,q.s.\n{lines}", "Test formula")


class TestPh:
    def test_a_buffered_solution_is_known_within_0_05(self) -> None:
        """±0.03 up to ionic strength 0.1 is the spread of activity models (Davies against
        Bates and Guggenheim); the rest is stray acid or base."""
        found = forecast(formula(ACIDS), MATS).ph
        assert found.spread == pytest.approx(0.035, abs=0.015)
        assert found.basis == "calculated"
        assert found.level == 0.80

    def test_an_emulsion_never_measured_is_known_within_0_4(self) -> None:
        found = forecast(formula(CREAM), MATS).ph
        assert found.spread == pytest.approx(0.40, abs=0.01)
        assert "an emulsion that was never measured" in found.words

    def test_unknown_materials_are_named_and_widen(self) -> None:
        plain = forecast(formula(ACIDS), MATS)
        strange = forecast(formula(f"{ACIDS}\nA,Essence of moonlight,2"), MATS)
        assert strange.unknown == ("Essence of moonlight",)
        assert plain.unknown == ()
        assert strange.ph.spread > plain.ph.spread + 0.3
        assert "not known widen it" in strange.ph.words
        assert "Essence of moonlight" in str(strange)

    def test_an_apparent_constant_widens_and_is_said(self) -> None:
        found = forecast(formula("A,Carbomer,0.4\nA,Sodium hydroxide 18 % solution,0.8"), MATS).ph
        assert found.spread >= 0.3
        assert "apparent" in found.words

    def test_a_reading_goes_before_the_calculation(self) -> None:
        found = forecast(formula(CREAM), MATS, measured_ph=5.5).ph
        assert (found.value, found.basis) == (5.5, "measured")
        assert found.spread == pytest.approx(0.05)

    def test_ph_55_is_refused_and_5_5_offered(self) -> None:
        with pytest.raises(MeasurementError, match=r"pH 55.*Write 5\.5 if that was meant"):
            forecast(formula(CREAM), MATS, measured_ph=55)
        with pytest.raises(MeasurementError, match="0 to 14"):
            forecast(formula(CREAM), MATS, measured_ph=-1)

    def test_nothing_that_sets_the_ph_is_unknown_and_not_seven(self) -> None:
        found = forecast(formula("A,Glycerin,5"), MATS).ph
        assert found.value is None
        assert "nothing in it that sets the pH" in str(found)
        dry = Formula.parse("phase,material,percent\nB,Squalane,q.s.\nB,Lactic acid 80 %,2")
        assert "too little water" in str(forecast(dry, MATS).ph)


class TestPreservation:
    def test_it_is_a_word_and_a_fraction_and_points_to_a_challenge_test(self) -> None:
        lines = "A,Potassium Sorbate,0.3\nA,Lactic acid 80 %,0.1"
        for ph, word in ((4.5, "works"), (6.0, "weak"), (6.8, "hardly works")):
            found = forecast(formula(lines), MATS, measured_ph=ph).preservation
            assert found.words.startswith(word)
            assert "A challenge test decides" in found.words
            assert "× the lowest usual dose" in str(found)

    def test_a_lower_ph_never_works_less(self) -> None:
        lines = formula("A,Potassium Sorbate,0.3\nA,Sodium Benzoate,0.3")
        doses = [
            forecast(lines, MATS, measured_ph=ph).preservation.value
            for ph in (4.0, 4.5, 5.0, 5.5, 6.0)
        ]
        assert doses == sorted(doses, reverse=True)

    def test_the_interval_of_the_ph_is_carried_on(self) -> None:
        found = forecast(formula(f"{CREAM}\nC,Potassium Sorbate,0.3"), MATS).preservation
        assert found.low < found.value < found.high

    def test_without_a_preservative_it_says_so(self) -> None:
        found = forecast(formula("A,Glycerin,5"), MATS).preservation
        assert found.value == 0.0
        assert "no preservative that labkit knows" in found.words


class TestOthers:
    def test_hlb_leaves_ionics_out_and_says_so(self) -> None:
        look = forecast(formula(f"{CREAM}\nB,Behentrimonium Methosulfate,2"), MATS)
        assert "left out because they carry a charge: Behentrimonium" in look.hlb.words
        assert look.hlb.value == pytest.approx(forecast(formula(CREAM), MATS).hlb.value)

    def test_required_hlb_is_a_band_that_names_its_sources(self) -> None:
        """Acceptance question 8: soybean oil 6 to 13 (Myers prints 13)."""
        found = forecast(formula("B,Soybean oil,10\nB,Polysorbate 80,2"), MATS).required_hlb
        assert (found.low, found.high) == (6.0, 13.0)
        assert found.words == "Soybean oil 6 (emulsifier maker's handbook) to 13 (Myers)"
        assert "D. Myers, Surfactant Science and Technology" in found.source
        assert "tutorial" in found.source

    def test_viscosity_is_unknown_before_it_was_measured(self) -> None:
        """Acceptance question 20, second half: it admits when it knows nothing."""
        found = forecast(formula(CREAM), MATS).viscosity
        assert found.value is None
        assert "learned from trials" in str(found)

    def test_cost_is_unknown_without_a_price(self) -> None:
        found = forecast(formula("A,Glycerin,5")).cost
        assert found.value is None
        assert "no material has a price" in str(found)

    def test_a_name_it_does_not_have_says_what_it_has(self) -> None:
        with pytest.raises(AttributeError, match="has no 'colour'; it has ph, viscosity"):
            _ = forecast(formula(CREAM), MATS).colour

    def test_the_words_never_judge(self) -> None:
        text = str(forecast(formula(f"{CREAM}\nC,Potassium Sorbate,0.3"), MATS)).casefold()
        for word in ("safe", "compliant", "approved"):
            assert f" {word} " not in text

    def test_the_record_holds_what_is_known_as_text(self) -> None:
        record = forecast(formula(CREAM), MATS).as_record()
        by_name = {e["quantity"]: e for e in record["estimates"]}
        assert "viscosity" not in by_name
        assert all(isinstance(v, str) for e in record["estimates"] for v in e.values())
        assert by_name["pH"]["basis"] == "calculated"


class TestAlong:
    def test_a_slider_sees_what_a_forecast_says(self) -> None:
        cream = formula(f"{CREAM}\nC,Potassium Sorbate,0.3")
        ask = Forecaster(MATS)
        percent = np.array([[float(x.percent) for x in cream.lines]])
        along, look = ask.along(cream, percent), ask(cream)
        assert along["ph"][0] == pytest.approx(look.ph.value, abs=1e-9)
        assert along["ph_low"][0] == pytest.approx(look.ph.low, abs=1e-9)
        assert along["preservation"][0] == pytest.approx(look.preservation.value, rel=1e-9)
        assert along["water"][0] == pytest.approx(look.water.value)


@pytest.fixture(scope="module")
def demo() -> Iterator[Bench]:
    with demo_bench(mats=MATS) as opened:
        yield opened


class TestLearned:
    def test_readings_of_the_family_narrow_the_ph(self, demo: Bench) -> None:
        cream = demo.trial("HC-11").formula
        before = forecast(cream, MATS).ph
        after = forecast(cream, MATS, bench=demo).ph
        assert before.spread == pytest.approx(0.40, abs=0.02)
        assert after.basis == "learned"
        assert after.spread < 0.6 * before.spread
        assert after.low <= 4.94 <= after.high

    def test_viscosity_is_learned_and_widens_outside_what_was_tried(self, demo: Bench) -> None:
        """Acceptance question 20, first half."""
        cream = demo.trial("HC-11").formula
        near = forecast(cream, MATS, bench=demo)
        far = forecast(
            cream.move("Cetearyl Alcohol", "9 %").move("Xanthan Gum", "1 %"), MATS, bench=demo
        )
        assert near.viscosity.basis == "learned"

        def ratio(look: object) -> float:
            return look.viscosity.high / look.viscosity.low  # type: ignore[attr-defined]

        assert ratio(far) > 1.3 * ratio(near)
        assert far.outside
        assert "outside what was tried" in str(far)
        assert not near.outside

    def test_an_empty_bench_leaves_the_calculation(self, tmp_path: Path) -> None:
        with Bench.open(tmp_path / "empty.db") as empty:
            look = forecast(formula(CREAM), MATS, bench=empty)
        assert look.ph.basis == "calculated"
        assert look.viscosity.value is None


def test_the_window_of_the_brief_is_judged_on_the_whole_interval() -> None:
    found = forecast(formula(CREAM), MATS, brief=Brief(product="hand cream", ph=(3.0, 7.0))).ph
    assert found.inside(3.0, 7.0) is True
    assert found.inside(found.value, 7.0) is False


def test_the_oils_named_are_those_of_the_formula_at_hand() -> None:
    """A forecaster keeps its compiled lines; the shares it speaks of are the new ones."""
    forecaster = Forecaster(MATS)
    without = formula("B,Mineral oil,0\nB,Soybean oil,8\nB,Polysorbate 60,2")
    assert "Mineral oil" not in forecaster(without).required_hlb.words
    richer = without.move("Mineral oil", "6 %")
    assert "Mineral oil" in forecaster(richer).required_hlb.words
    assert forecaster(richer).required_hlb.words == forecast(richer, MATS).required_hlb.words
