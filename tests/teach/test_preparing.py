"""Shopping lists, one base in many beakers, bench cards."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import labkit as lk
from labkit.bench.stock import Stock
from labkit.errors import FormulaError, MaterialError
from labkit.paperwork.stickers import stickers
from labkit.teach import bench_card, master, shopping_list, split_base
from tests.teach.simulating import GEL

MATS = lk.Materials.starter()
CREAM = lk.Formula.parse(
    "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,4\nB,Sweet almond oil,8\n"
    "C,Lactic acid 80 %,0.2",
    name="Quay cream",
)


def test_twenty_four_groups_need_twenty_four_times_and_a_tenth() -> None:
    """24 groups of 100 g, 24 x each line plus 10 %: 4 % is 24 x 4 g x 1.1 = 105.6 g."""
    needs = {n.material: n.grams for n in shopping_list(CREAM, MATS, groups=24).needs}
    assert needs["Glycerin"] == Decimal("105.6")
    assert needs["Sweet almond oil"] == Decimal("211.2")
    assert 2640 <= sum(needs.values()) <= Decimal("2640.4"), "rounded up, never down"


def test_a_blank_counts_with_its_highest_share() -> None:
    made = master(GEL, {"Xanthan gum": ("0.3 %", "0.8 %")})
    needs = {n.material: n.grams for n in shopping_list(made, MATS, groups=10, spare=0).needs}
    assert needs["Xanthan gum"] == Decimal("8.0")


def test_what_is_on_the_shelf_is_not_bought() -> None:
    listed = shopping_list(CREAM, MATS, groups=24, stock={"glycerol": "100 g"})
    need = next(n for n in listed.needs if n.material == "Glycerin")
    assert (need.have_g, need.buy_g, need.packs) == (Decimal(100), Decimal("5.6"), 1)
    plenty = shopping_list(CREAM, MATS, groups=24, stock={"Glycerin": "2 kg"})
    assert next(n for n in plenty.needs if n.material == "Glycerin").buy_g == 0


def test_the_stock_of_a_bench_is_taken_off(tmp_path: Path) -> None:
    with lk.Bench.open(tmp_path) as bench:
        stock = Stock(bench, MATS)
        stock.receive("Glycerin", "80 g", lot="L-1")
        listed = shopping_list(CREAM, MATS, groups=24, stock=stock)
    need = next(n for n in listed.needs if n.material == "Glycerin")
    assert (need.have_g, need.buy_g) == (Decimal(80), Decimal("25.6"))


def test_materials_of_two_recipes_add_up() -> None:
    needs = {
        n.material: n.grams for n in shopping_list([CREAM, GEL], MATS, groups=1, spare=0).needs
    }
    assert needs["Glycerin"] == Decimal("8.0")


def test_an_allergy_names_the_material_to_replace() -> None:
    listed = shopping_list(CREAM, MATS, groups=4, allergies=["nuts"])
    assert listed.avoid == {"nut": ("Sweet almond oil",)}
    assert "Replace it for the whole class" in listed.page.text
    assert not shopping_list(GEL, MATS, groups=4, allergies=["nut"]).avoid


def test_hazards_stand_on_the_list() -> None:
    text = " ".join(shopping_list(CREAM, MATS, groups=4).page.text.split())
    assert "can damage eyes for good as supplied: goggles: Lactic acid 80 %" in text


def test_a_material_that_is_not_known_is_said() -> None:
    odd = lk.Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Barnacle extract,1", name="Odd")
    assert "Barnacle extract" in str(shopping_list(odd, MATS, groups=2))
    assert "read its sheet" in str(shopping_list(odd, MATS, groups=2))


@pytest.mark.parametrize(
    ("groups", "spare", "allergies", "words"),
    [
        (0, 0.1, (), "0 groups"),
        (3, -0.1, (), "-0.1 to spare"),
        (3, 0.1, ("moonlight",), "moonlight"),
    ],
)
def test_a_class_that_cannot_be_is_refused(groups, spare, allergies, words) -> None:
    with pytest.raises(MaterialError, match=words):
        shopping_list(CREAM, MATS, groups=groups, spare=spare, allergies=allergies)


class TestSplit:
    @given(
        st.lists(st.integers(1, 400_000), min_size=1, max_size=12),
        st.sampled_from(["20 g", "50 g", "37.5 g"]),
    )
    @settings(max_examples=60, deadline=None)
    def test_every_beaker_adds_up_to_a_hundred(self, units: list[int], beaker: str) -> None:
        doses = [("Fragrance", Decimal(n) / 10_000) for n in units]
        made = split_base(CREAM, doses, beaker=beaker)
        assert all(b.formula.total == 100 for b in made.beakers)
        assert all(b.base_g + b.addition_g == Decimal(beaker.split()[0]) for b in made.beakers)
        assert made.base_g >= sum(b.base_g for b in made.beakers) * Decimal("1.1")
        assert sum(g for _, g in made.grams()) == made.base_g

    def test_the_base_keeps_its_proportions(self) -> None:
        """5 % on top leaves 95 % of each line: 4 % glycerin becomes 3.8 %."""
        made = split_base(CREAM, {"Fragrance": "5 %"}, blank=None).beakers[0].formula
        assert made.lines[1].percent == Decimal("3.8000")

    def test_beakers_are_trials_of_one_batch(self, tmp_path: Path) -> None:
        made = split_base(CREAM, [("Fragrance", "0.5 %"), ("Xanthan gum", "0.4 %")])
        with lk.Bench.open(tmp_path) as bench:
            trials = made.record(bench, note="made together")
            assert len(trials) == len(made.beakers) == 3
            batch = bench.records("batch")[0]
            assert set(bench.trials()["batch"]) == {batch.id}
            assert bench.verify().ok
            sheet = stickers(trials, mats=MATS, conditions=("25 °C", "40 °C"))
            assert all(f"beaker {b.name}" in sheet.text for b in made.beakers)
            assert "6 stickers" in sheet.text
        assert made.table()["beaker"].tolist() == ["1", "2", "3"]
        assert "Fragrance" in made.page.text

    @pytest.mark.parametrize("additions", [{}, {"Fragrance": 0}, {"Fragrance": 100}])
    def test_nothing_to_add_is_refused(self, additions) -> None:
        with pytest.raises(FormulaError, match="above 0 and below 100 %"):
            split_base(CREAM, additions)


def test_a_card_leaves_the_blanks_open_and_adds_up() -> None:
    made = master(GEL, {"Xanthan gum": ("0.3 %", "0.8 %")})
    card = bench_card(made, MATS, batch="200 g", station="Station 3", readings=("pH",))
    words = " ".join(card.text.split())
    assert "Xanthan gum 0.30 to 0.80 your choice" in words
    assert "total 100.00 200.00" in words
    assert "Station 3" in words
    assert "Steps" not in words, "no heading over nothing"
    assert "fine dust: mask, no draught (Xanthan gum)" in words


def test_the_teaching_room_loads_nothing_before_it_is_used() -> None:
    assert lk.teach.__all__ == sorted(lk.teach.__all__)
    assert dir(lk.teach) == lk.teach.__all__
    assert all(getattr(lk.teach, name).__doc__ for name in lk.teach.__all__)
    with pytest.raises(AttributeError, match=r"labkit.teach has no 'mark'"):
        lk.teach.mark  # noqa: B018
