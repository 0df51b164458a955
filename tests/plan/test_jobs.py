"""Jobs on a formula: neutralise, pair the emulsifiers, dose a dye."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import FormulaError, MaterialError, QuantityError, ScienceError
from labkit.estimates import forecast
from labkit.formula import Formula
from labkit.materials import Materials
from labkit.plan import dye, emulsifier_pair, neutralise

MATS = Materials.starter()
NAOH = "Sodium hydroxide 18 % solution"


def formula(lines: str) -> Formula:
    return Formula.parse(f"phase,material,percent\nA,Aqua,q.s.\n{lines}", "Test formula")


class TestNeutralise:
    def test_one_call_gives_moves_a_band_a_caution_and_a_titration(self) -> None:
        job = neutralise(formula("A,Carbomer,0.4"), MATS, NAOH, ph=6.5, batch="500 g")
        assert [m.kind for m in job.moves] == ["add"]
        assert job.low < job.percent < job.high
        assert job.first == pytest.approx(0.75 * job.low)
        assert job.grams[1] == pytest.approx(5 * job.percent)
        assert "Caustic" in job.caution
        assert "check by titration" in job.words
        assert "apparent" in job.words
        assert job.source

    def test_carbomer_takes_the_base_that_makers_print(self) -> None:
        """Makers' tables: 2.3 g of 18 % sodium hydroxide to 1 g of carbomer for pH near 7
        (from memory); the band must hold it."""
        job = neutralise(formula("A,Carbomer,1"), MATS, NAOH, ph=7.0)
        assert job.low <= 2.3 <= job.high

    def test_the_formula_after_the_moves_has_the_ph_asked_for(self) -> None:
        for lines, reagent, ph in (
            ("A,Carbomer,0.4\nB,Citric acid,0.1", NAOH, 6.5),
            ("A,Carbomer,0.4", "L-Arginine", 6.0),
            ("B,SAPDMA,2\nB,Cetearyl alcohol,5", "Lactic acid 80 %", 4.5),
        ):
            job = neutralise(formula(lines), MATS, reagent, ph=ph)
            assert job.formula.total == 100
            assert forecast(job.formula, MATS).ph.value == pytest.approx(ph, abs=0.01)

    def test_other_acids_take_more_base(self) -> None:
        alone = neutralise(formula("A,Carbomer,0.4"), MATS, NAOH, ph=6.5)
        beside = neutralise(formula("A,Carbomer,0.4\nA,Citric acid,0.2"), MATS, NAOH, ph=6.5)
        assert beside.percent > alone.percent + 0.2

    def test_half_of_the_stearic_acid_by_its_acid_number(self) -> None:
        """Acid value 205 mg KOH/g (triple-pressed, maker's sheet, from memory): 3 g hold
        10.96 mmol; 40 % of it wants 4.4 mmol of triethanolamine, 149.19 g/mol: 0.66 g."""
        job = neutralise(formula("B,Stearic acid (triple-pressed),3"), MATS, "TEA", degree=0.4)
        assert job.percent == pytest.approx(3 * 205 / 56.11 * 0.4 * 0.14919, rel=0.02)
        assert job.ph is None

    def test_with_a_degree_the_other_acids_are_named_not_counted(self) -> None:
        lines = "B,Stearic acid (triple-pressed),3\nC,Citric acid,0.1"
        job = neutralise(formula(lines), MATS, "TEA", degree=0.4)
        assert "Not counted, and on top: Citric acid" in job.words

    def test_a_line_that_is_there_is_set_anew(self) -> None:
        start = formula(f"A,Carbomer,0.4\nC,{NAOH},0.2")
        job = neutralise(start, MATS, NAOH, ph=6.5)
        assert [m.kind for m in job.moves] == ["set"]
        assert "holds 0.2 g of it" in job.words
        again = neutralise(job.formula, MATS, NAOH, ph=6.5)
        assert again.moves == ()

    def test_moves_survive_being_written_down(self) -> None:
        start = formula("A,Carbomer,0.4")
        job = neutralise(start, MATS, NAOH, ph=6.5)
        copy = start
        for move in job.moves:
            copy = copy.apply(type(move).from_dict(move.as_dict()))
        assert copy.fingerprint == job.formula.fingerprint

    def test_nothing_to_neutralise_is_said(self) -> None:
        with pytest.raises(FormulaError, match="no line that .* neutralises"):
            neutralise(formula("A,Glycerin,3"), MATS, NAOH, ph=7)

    def test_an_acid_for_a_carbomer_is_refused_with_what_it_wants(self) -> None:
        with pytest.raises(FormulaError, match="Carbomer wants a base"):
            neutralise(formula("A,Carbomer,0.4"), MATS, "Lactic acid 80 %", ph=4)

    def test_a_ph_out_of_reach_names_the_range(self) -> None:
        with pytest.raises(FormulaError, match=r"does not reach.*pH \d"):
            neutralise(formula("A,Carbomer,0.4"), MATS, NAOH, ph=2.0)

    def test_ph_and_degree_fix_each_other(self) -> None:
        for wishes in ({}, {"ph": 6.0, "degree": 0.5}):
            with pytest.raises(ScienceError, match="One of the two"):
                neutralise(formula("A,Carbomer,0.4"), MATS, NAOH, **wishes)

    def test_an_unknown_reagent_is_refused(self) -> None:
        with pytest.raises(MaterialError, match="Name the grade on the label"):
            neutralise(formula("A,Carbomer,0.4"), MATS, "moonlight", ph=6)

    @settings(max_examples=15, deadline=None)
    @given(st.floats(0.1, 1.0), st.floats(5.0, 8.0))
    def test_more_polymer_or_a_higher_ph_never_wants_less_base(
        self, share: float, ph: float
    ) -> None:
        def wants(percent: float, level: float) -> float:
            start = formula(f"A,Carbomer,{percent:.4f}")
            return neutralise(start, MATS, NAOH, ph=level).percent

        here = wants(share, ph)
        assert wants(share * 1.5, ph) > here
        assert wants(share, ph + 0.3) > here


OIL = "B,Mineral oil,20"


class TestEmulsifierPair:
    def test_shares_by_griffin(self) -> None:
        """(10.5 - 4.3)/(15.0 - 4.3) = 0.5794; of 4 %: 2.3178 and 1.6822, by hand."""
        pair = emulsifier_pair(
            formula(OIL), MATS, "Polysorbate 80", "Sorbitan oleate", target=10.5, total=4
        )
        assert (pair.high_percent, pair.low_percent) == (Decimal("2.3178"), Decimal("1.6822"))
        assert pair.formula.total == 100
        assert forecast(pair.formula, MATS).hlb.value == pytest.approx(10.5, abs=0.001)

    def test_hlb_16_of_polysorbate_80_and_sorbitan_oleate_is_refused(self) -> None:
        """Acceptance question 9: refused, with the reachable range."""
        with pytest.raises(ScienceError, match=r"reaches 4\.3 to 15") as refused:
            emulsifier_pair(
                formula(OIL), MATS, "Polysorbate 80", "Sorbitan oleate", target=16, total=4
            )
        assert refused.value.facts["reachable"] == (4.3, 15.0)

    def test_without_a_target_it_takes_the_middle_of_the_band(self) -> None:
        """Mineral oil 10 to 12 in the table: 11."""
        pair = emulsifier_pair(formula(OIL), MATS, "Polysorbate 80", "Sorbitan oleate", total=4)
        assert pair.band == (10.0, 12.0)
        assert pair.target == 11.0
        assert [o.name for o in pair.oils] == ["Mineral oil"]
        assert pair.oils[0].source

    def test_lines_that_are_there_keep_their_total(self) -> None:
        start = formula(f"{OIL}\nB,Polysorbate 80,1\nB,Sorbitan oleate,3")
        pair = emulsifier_pair(start, MATS, "Sorbitan oleate", "Polysorbate 80", target=9.65)
        assert pair.high_percent == pair.low_percent == Decimal("2.0000")
        assert [m.kind for m in pair.moves] == ["set", "set"]
        assert pair.formula.lines[0].percent == start.lines[0].percent

    def test_a_quat_and_a_blend_without_hlb_are_refused(self) -> None:
        with pytest.raises(MaterialError, match="it is cationic"):
            emulsifier_pair(
                formula(OIL), MATS, "Behentrimonium methosulfate, pure", "Sorbitan oleate", total=4
            )
        with pytest.raises(MaterialError, match="no HLB is known"):
            emulsifier_pair(
                formula(OIL), MATS, "Nonionic emulsifying wax", "Sorbitan oleate", total=4
            )
        with pytest.raises(MaterialError, match="it is no emulsifier"):
            emulsifier_pair(formula(OIL), MATS, "Polysorbate 80", "Glycol distearate", total=4)
        with pytest.raises(MaterialError, match="not in the list"):
            emulsifier_pair(formula(OIL), MATS, "Polysorbat", "Sorbitan oleate", total=4)

    def test_no_target_and_no_total_are_asked_for(self) -> None:
        names = ("Polysorbate 80", "Sorbitan oleate")
        with pytest.raises(FormulaError, match="no oil with a required HLB"):
            emulsifier_pair(formula("A,Glycerin,3"), MATS, *names, total=4)
        with pytest.raises(FormulaError, match="neither emulsifier is in the recipe"):
            emulsifier_pair(formula(OIL), MATS, *names)
        with pytest.raises(QuantityError, match="four"):
            emulsifier_pair(formula(OIL), MATS, *names, total="four")

    @settings(max_examples=30, deadline=None)
    @given(st.floats(4.3, 15.0), st.floats(0.5, 8.0))
    def test_never_a_negative_gram_and_always_the_whole(self, target: float, total: float) -> None:
        pair = emulsifier_pair(
            formula(OIL), MATS, "Polysorbate 80", "Sorbitan oleate",
            target=target, total=round(total, 4),
        )  # fmt: skip
        assert pair.high_percent >= 0
        assert pair.low_percent >= 0
        assert pair.high_percent + pair.low_percent == Decimal(str(round(total, 4)))
        assert pair.formula.total == 100


WASH = formula("A,Glycerin,3")


class TestDye:
    def test_a_fifth_of_a_gram_of_1_percent_in_100_g_is_20_ppm(self) -> None:
        """The trade's own figure: 1 % stock, 0.2 g in 100 g gives 0.002 %."""
        dose = dye(WASH, "Blue stock", strength="1 %", amount="0.2 g")
        assert (dose.ppm, dose.percent) == (20.0, Decimal("0.2000"))
        assert dose.move is not None
        assert WASH.apply(dose.move).total == 100

    def test_the_way_back_gives_the_grams(self) -> None:
        dose = dye(WASH, "Blue stock", strength=1, wanted_ppm=20, batch="250 g")
        assert dose.stock_g == pytest.approx(0.5)

    def test_drops_are_refused_until_the_dropper_was_weighed(self) -> None:
        with pytest.raises(ScienceError, match="Weigh twenty drops"):
            dye(WASH, "Blue stock", strength="1 %", amount="5 drops")
        dose = dye(WASH, "Blue stock", strength="1 %", amount="5 drops", grams_per_drop=0.042)
        assert dose.stock_g == pytest.approx(0.21)

    def test_a_weighing_too_small_for_the_balance_offers_a_weaker_stock(self) -> None:
        """0.2 g on 0.01 g is 20 steps; 1 g of a 0.2 % stock brings the same dye."""
        words = dye(WASH, "Blue stock", strength="1 %", amount="0.2 g").words
        assert "20 steps" in words
        assert "a stock of 0.2 % and 1 g of it" in words
        assert "steps" not in dye(WASH, "Blue stock", strength="0.1 %", amount="2 g").words

    def test_a_line_that_is_there_is_set(self) -> None:
        start = WASH.add("Blue stock", "0.1 %")
        dose = dye(start, "blue stock", strength="1 %", amount="0.2 g")
        assert dose.move is not None
        assert dose.move.kind == "set"
        same = dye(start, "Blue stock", strength="1 %", amount="0.1 g")
        assert same.move is None

    def test_what_cannot_be_is_refused(self) -> None:
        with pytest.raises(FormulaError, match="One of the two"):
            dye(WASH, "Blue stock", strength="1 %")
        with pytest.raises(QuantityError, match="strong"):
            dye(WASH, "Blue stock", strength="strong", amount="0.2 g")
        with pytest.raises(ScienceError, match="more stock than batch"):
            dye(WASH, "Blue stock", strength="1 %", amount="200 g")
        with pytest.raises(ScienceError, match="weaker than the level wanted"):
            dye(WASH, "Blue stock", strength="0.001 %", wanted_ppm=500)
