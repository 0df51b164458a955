"""One formula or a million: the same numbers, worked by hand or by another way."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import FormulaError
from labkit.estimates.acidity import ph_half_width
from labkit.evaluate import Evaluator, Numbers, compile_formula
from labkit.evaluate.evaluator import CHUNK
from labkit.formula import Formula
from labkit.materials import Constituent, Material, Materials
from labkit.science.acidbase import solve_ph
from labkit.science.preservation import un_ionised_fraction

MATS = Materials.starter()
FIELDS = [name for name in Numbers.__slots__ if name != "working"]


def formula(lines: str) -> Formula:
    return Formula.parse(f"phase,material,percent\nA,Aqua,q.s.\n{lines}", "Test formula")


def evaluator(lines: str, mats: Materials = MATS) -> Evaluator:
    return compile_formula(formula(lines), mats)


def around(one: Evaluator, count: int, seed: int = 1) -> np.ndarray:
    """Compositions near the formula's own, each 100 in total."""
    rng = np.random.default_rng(seed)
    rows = one.percent * rng.uniform(0.3, 2.0, (count, one.n_lines))
    rows[:, 0] = 0.0
    rows[:, 0] = 100.0 - rows.sum(axis=1)
    return rows


class TestShapes:
    def test_an_array_gives_what_its_elements_give(self, cream: Formula, mats: Materials) -> None:
        one = compile_formula(cream, mats)
        rows = around(one, 12)
        many = one(rows)
        for i, row in enumerate(rows):
            single = one(row)
            for name in FIELDS:
                got, want = getattr(many, name)[i], getattr(single, name)
                assert got == pytest.approx(float(want), rel=1e-9, abs=1e-9, nan_ok=True), name
            assert many.working.doses[i] == pytest.approx(single.working.doses, rel=1e-9)
            assert many.working.free[i] == pytest.approx(single.working.free, rel=1e-9)

    def test_every_leading_shape_is_kept(self, cream: Formula, mats: Materials) -> None:
        one = compile_formula(cream, mats)
        block = around(one, 6).reshape(2, 3, -1)
        found = one(block)
        for name in FIELDS:
            assert getattr(found, name).shape == (2, 3)
        assert found.working.doses.shape == (2, 3, len(found.working.names))
        assert one().ph.shape == ()

    def test_no_row_gives_no_number(self, cream: Formula, mats: Materials) -> None:
        one = compile_formula(cream, mats)
        assert one(np.zeros((0, one.n_lines))).ph.shape == (0,)

    def test_another_number_of_lines_is_refused(self, cream: Formula, mats: Materials) -> None:
        one = compile_formula(cream, mats)
        with pytest.raises(FormulaError, match=f"{one.n_lines} along the last axis"):
            one(np.ones(one.n_lines + 1))
        with pytest.raises(FormulaError, match="belong to another formula"):
            one(5.0)

    def test_chunks_join_without_a_seam(self, cream: Formula, mats: Materials) -> None:
        one = compile_formula(cream, mats)
        rows = around(one, CHUNK + 5)
        whole = one(rows)
        last = one(rows[-10:])
        assert whole.ph[-10:] == pytest.approx(last.ph, abs=1e-9)
        assert whole.working.doses[-10:] == pytest.approx(last.working.doses)

    def test_memory_stays_flat_however_many_formulas(self, cream: Formula, mats: Materials) -> None:
        """Beside the answer itself: eight times the formulas may not take twice the room."""
        one = compile_formula(cream, mats)

        def peak(count: int) -> float:
            rows = around(one, count)
            tracemalloc.start()
            found = one(rows)
            top = tracemalloc.get_traced_memory()[1]
            tracemalloc.stop()
            answer = sum(getattr(found, name).nbytes for name in FIELDS)
            answer += found.working.free.nbytes + found.working.doses.nbytes
            return top - 2 * answer

        assert peak(8 * 2 * CHUNK) < 2.0 * peak(2 * CHUNK)


class TestWater:
    def test_water_inside_a_material_counts(self) -> None:
        """Lactic acid 80 % brings a fifth of its weight as water: 94 + 0.2 x 6 = 95.2."""
        assert float(evaluator("A,Lactic acid 80 %,6")().water) == pytest.approx(95.2, abs=0.01)

    def test_water_inside_a_blend_of_ones_own_counts(self) -> None:
        blend = Material(
            key="slurry", name="Gum slurry", inci="Aqua (and) Xanthan Gum", phase="water",
            constituents=(
                Constituent(inci="Aqua", order=1, low=0.9, high=0.9, role="water"),
                Constituent(inci="Xanthan Gum", order=2, low=0.1, high=0.1),
            ),
        )  # fmt: skip
        one = evaluator("A,Gum slurry,20", MATS.add(blend))
        assert float(one().water) == pytest.approx(80 + 18)

    def test_without_a_list_only_plain_water_is_known(self) -> None:
        one = compile_formula(formula("A,Glycerin,5"), None)
        found = one()
        assert float(found.water) == 95.0
        assert float(found.unknown) == 5.0
        assert one.materials == (None, None)


class TestAcidity:
    def test_the_ph_is_that_of_a_direct_solve(self) -> None:
        """Two ways to one number: the compiled lines, and moles per kg of water by hand."""
        one = evaluator("A,Lactic acid 80 %,0.5\nA,Sodium lactate 60 %,1")
        water = (98.5 + 0.5 * 0.2 + 1.0 * 0.4) / 1000  # kg in 100 g
        acid, salt = 0.5 * 0.8 / 90.078 / water, 1.0 * 0.6 / 112.06 / water
        expected = float(solve_ph({"lactate": acid + salt, "Na": salt}))
        assert float(one().ph) == pytest.approx(expected, abs=0.003)

    def test_with_little_water_or_nothing_acid_the_ph_is_not_a_number(self) -> None:
        assert np.isnan(evaluator("A,Glycerin,5")().ph)
        dry = Formula.parse("phase,material,percent\nB,Squalane,q.s.\nB,Lactic acid 80 %,2")
        assert np.isnan(compile_formula(dry, MATS)().ph)

    @settings(max_examples=25, deadline=None)
    @given(st.floats(0.01, 2.0), st.floats(0.0, 2.0))
    def test_more_acid_never_raises_the_ph(self, acid: float, salt: float) -> None:
        one = evaluator("A,Lactic acid 80 %,1\nA,Sodium lactate 60 %,1")
        rows = np.array([[100 - a - salt, a, salt] for a in (acid, acid * 1.5)])
        first, second = one(rows).ph
        assert second <= first + 1e-9

    def test_the_interval_of_an_emulsion_is_0_4(self) -> None:
        """±0.4 for an emulsion never measured (the project's own rule): squares added."""
        assert float(ph_half_width(0.03, 0.05, 12.0, 0.0)) == pytest.approx(0.401, abs=0.001)
        assert float(ph_half_width(0.03, 0.05, 0.0, 0.0)) == pytest.approx(0.032, abs=0.001)
        assert float(ph_half_width(0.03, 0.05, 0.0, 5.0)) > 1.4
        assert float(ph_half_width(0.03, 1e-9, 0.0, 0.0)) == 3.0


class TestPreservation:
    def test_the_lowest_usual_dose_at_the_top_of_its_window_counts_as_one(self) -> None:
        """Like with like: the very dose and pH that the comparison stands for."""
        one = evaluator("A,Potassium Sorbate,0.2")
        (_, known) = one.preservatives[0]
        rows = np.array([100 - known.minimum_percent, known.minimum_percent])
        (dose,) = one.working(rows, known.window_top_ph).doses
        assert dose == pytest.approx(1.0, rel=0.01)

    def test_half_a_ph_lower_works_by_the_ratio_of_the_un_ionised_shares(self) -> None:
        """Sorbic acid, pKa 4.76: 36.5 % at pH 5.0 over 15.4 % at 5.5 is 2.37, by hand."""
        one = evaluator("A,Potassium Sorbate,0.2")
        at = one.working(np.tile(one.percent, (2, 1)), [5.0, 5.5]).doses[:, 0]
        assert at[0] / at[1] == pytest.approx(2.37, abs=0.01)
        shares = np.asarray(un_ionised_fraction([5.0, 5.5], 4.76))
        assert at[0] / at[1] == pytest.approx(shares[0] / shares[1], rel=1e-6)

    def test_the_acid_and_its_salt_are_counted_as_acid(self) -> None:
        """Sorbic acid 112.13 over potassium sorbate 150.22 g/mol: 0.746 (atomic weights)."""
        salt = evaluator("A,Potassium Sorbate,0.3")
        acid = evaluator("A,Sorbic Acid,0.3")
        free = [one.working(one.percent, 4.0).free[0] for one in (salt, acid)]
        assert free[0] / free[1] == pytest.approx(0.746, abs=0.005)

    def test_a_preservative_inside_a_blend_is_seen(self) -> None:
        one = evaluator("A,Benzyl alcohol DHA blend,1")
        names = set(one().working.names)
        assert {"Benzyl Alcohol", "Dehydroacetic Acid"} <= names

    def test_oil_takes_a_paraben_by_its_measured_coefficient(self) -> None:
        """Methylparaben 7.5 in soya oil, 0.02 in liquid paraffin (J. Soc. Cosmet. Chem. 16
        (1965) 15): at equal oil the plant oil leaves far less in the water."""
        lines = "A,Methylparaben,0.2\nB,{oil},20\nB,Polysorbate 60,3"
        free = [
            float(evaluator(lines.format(oil=oil))().working.free[0])
            for oil in ("Soybean oil", "Mineral oil")
        ]
        phi = (20 / 0.92) / 76.8
        assert free[0] / free[1] == pytest.approx((0.02 * phi + 1) / (7.5 * phi + 1), rel=0.02)


class TestEmulsifying:
    def test_hlb_leaves_charged_emulsifiers_out(self) -> None:
        """Acceptance question 10; Griffin: (2 x 15.0 + 2 x 4.3)/4 = 9.65."""
        pair = "B,Mineral oil,20\nB,Polysorbate 80,2\nB,Sorbitan oleate,2"
        with_quat = f"{pair}\nB,Behentrimonium Methosulfate,3\nB,Sodium cetearyl sulfate,1"
        for lines in (pair, with_quat):
            assert float(evaluator(lines)().hlb) == pytest.approx(9.65)

    def test_required_hlb_is_a_mean_by_weight_at_both_ends(self) -> None:
        """MCT 5 to 11 at 10 %, mineral oil 10 to 12 at 5 %: 6.67 to 11.33, by hand."""
        found = evaluator("B,Caprylic/Capric Triglyceride,10\nB,Mineral oil,5")()
        assert float(found.required_low) == pytest.approx(20 / 3, abs=0.01)
        assert float(found.required_high) == pytest.approx(34 / 3, abs=0.01)

    def test_without_emulsifier_or_oil_there_is_no_hlb(self) -> None:
        found = evaluator("A,Glycerin,5")()
        assert np.isnan(found.hlb)
        assert np.isnan(found.required_low)


class TestUnknown:
    def test_unknown_lines_count_as_unknown_and_are_kept(self) -> None:
        one = evaluator("A,Essence of moonlight,3\nA,Glycerin,2")
        assert one.materials[1] is None
        assert float(one().unknown) == 3.0

    def test_an_unknown_price_or_density_is_not_a_zero(self) -> None:
        found = evaluator("A,Essence of moonlight,8")()
        assert float(found.unpriced) > 0
        assert np.isnan(found.density)

    def test_cost_is_the_sum_of_share_times_price(self) -> None:
        mats = MATS.add(name="Alpha", inci="Alpha", price="12", currency="EUR")
        mats = mats.add(name="Beta", inci="Beta", price="30", currency="EUR")
        found = evaluator("A,Alpha,10\nA,Beta,2", mats)()
        water = mats.resolve("Aqua")
        assert water is not None
        beside = 0.0 if water.price is None else 0.88 * water.price.per_kg
        assert float(found.cost_per_kg) == pytest.approx(12 * 0.10 + 30 * 0.02 + beside)
