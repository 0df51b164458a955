"""The ingredient list: names, order, thresholds, what is left open."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import BriefError, FormulaError, MaterialError, QuantityError
from labkit.estimates.declaration import Declaration, declare
from labkit.formula import Brief, Formula, Line
from labkit.materials import Constituent, Materials

STARTER = Materials.starter()
LEAVE_ON = Brief(product="cream", leave_on=True)
RINSE_OFF = Brief(product="wash", leave_on=False)
NEW, OLD = date(2026, 7, 31), date(2026, 7, 30)
LAVENDER = {
    "Linalool": Decimal(33),
    "Linalyl Acetate": Decimal(35),
    "Beta-Caryophyllene": Decimal(3),
}


def formula(text: str, name: str = "Test cream") -> Formula:
    rows = "\n".join(f"A,{line.strip()}" for line in text.strip().split(";"))
    return Formula.parse(f"phase,material,percent\n{rows}", name=name)


def listed(text: str, **told: object) -> Declaration:
    told = {"brief": LEAVE_ON, "market": "EU", "day": NEW} | told
    mats = told.pop("mats", STARTER)
    return declare(formula(text), mats, **told)  # type: ignore[arg-type]


def part(name: str, share: float | None, order: int = 1, role: str = "main") -> Constituent:
    return Constituent(inci=name, order=order, low=share, high=share, role=role)


# --- blends ---------------------------------------------------------------------------


def test_a_blend_inside_a_blend_is_taken_apart_to_the_last_part() -> None:
    inner = STARTER.premix(
        formula("Aqua,50; Phenoxyethanol blend 90/10,50"), name="Preservative stock"
    )
    mats = STARTER.add(inner)
    outer = mats.premix(formula("Preservative stock,40; Glycerin,60"), name="Stock in glycerin")
    made = listed("Aqua,q.s.; Stock in glycerin,10", mats=mats.add(outer))
    amounts = {e.name: e.amount for e in made.entries}
    # by hand: 10 x 0.4 x 0.5 x 0.9 and 0.1; glycerin 10 x 0.6; water 90 + 10 x 0.4 x 0.5
    assert amounts["Phenoxyethanol"].typical == pytest.approx(Decimal("1.8"))
    assert amounts["Ethylhexylglycerin"].typical == pytest.approx(Decimal("0.2"))
    assert amounts["Glycerin"].typical == 6
    assert amounts["Aqua"].typical == 92
    assert made.text == "Aqua, Glycerin, Phenoxyethanol, Ethylhexylglycerin"


def test_a_constituent_of_five_materials_stands_once_with_all_five_named() -> None:
    mats = STARTER
    for k in range(4):
        parts = (part("Glycerin", 0.3), part(f"Extract {k}", 0.7, 2))
        mats = mats.add(name=f"Glycerite {k}", inci="blend", composition=parts)
    made = listed(
        "Aqua,q.s.; Glycerol,1; Glycerite 0,1; Glycerite 1,1; Glycerite 2,1; Glycerite 3,1",
        mats=mats,
    )
    assert made.names.count("Glycerin") == 1
    entry = next(e for e in made.entries if e.name == "Glycerin")
    assert entry.amount.typical == Decimal("2.2")
    assert len(entry.lines) == 5
    assert entry.lines[0] == "Glycerol 1 %"
    assert "LR14" in entry.rules


def test_water_goes_by_one_name_however_it_was_written() -> None:
    assert listed("Purified water,40; Aqua,30; Water,30").names == ("Aqua",)
    assert listed("Aqua,100", market="US").names == ("Water",)


# --- order ----------------------------------------------------------------------------


def test_ties_stand_by_the_alphabet_and_are_known_as_ties() -> None:
    made = listed("Aqua,q.s.; Squalane,3; Glycerin,3; Panthenol,3", mats=plain())
    assert made.ordered == (("Aqua",), ("Glycerin", "Panthenol", "Squalane"))


def test_exactly_one_percent_is_ordered_in_the_eu_and_free_in_the_us() -> None:
    """Article 19 says less than 1 %; 21 CFR 701.3(f) says 1 % or less."""
    for market, block in (("EU", "ordered"), ("GB", "ordered"), ("US", "free")):
        made = listed("Aqua,q.s.; Panthenol,1", market=market, mats=plain())
        assert next(e.block for e in made.entries if e.name == "Panthenol") == block


def test_a_line_of_nothing_is_left_out_and_a_ten_thousandth_stays() -> None:
    made = listed("Aqua,q.s.; Panthenol,0; Glycerin,0.0001", mats=plain())
    assert made.names == ("Aqua", "Glycerin")
    assert [(x.name, x.why) for x in made.left_out] == [("Panthenol", "a line of 0 %")]


def test_colours_come_last_whatever_their_amount() -> None:
    mats = plain("CI 77891", "CI 77491", "CI 77492")
    text = "Aqua,q.s.; CI 77891,6; CI 77491,2; CI 77492,1; Glycerin,3"
    made = listed(text, mats=mats)
    assert made.text == "Aqua, Glycerin, CI 77491, CI 77492, CI 77891"
    assert listed(text, mats=mats, market="US").text == (
        "Water, Glycerin, Iron Oxides, Titanium Dioxide"
    )
    shades = listed(text, mats=mats, may_contain=("CI 77499",))
    assert shades.text.endswith("+/- CI 77491, CI 77492, CI 77499, CI 77891")
    us = listed(text, mats=mats, market="US", may_contain=True)
    assert us.text.endswith(". May contain: Iron Oxides, Titanium Dioxide")


def test_a_pigment_known_by_its_mineral_name_gets_its_colour_index_number() -> None:
    made = listed("Aqua,q.s.; CI 77891,2")
    assert STARTER.resolve("CI 77891").inci == "Titanium Dioxide"  # type: ignore[union-attr]
    assert made.names == ("Aqua", "CI 77891")
    block = listed("Aqua,q.s.; CI 77891,2", not_colours=("Titanium Dioxide",))
    assert block.ordered == (("Aqua",), ("Titanium Dioxide",))


def test_a_hair_dye_keeps_its_colours_in_the_order_of_weight() -> None:
    brief = Brief(product="hair colour")
    made = listed("Aqua,q.s.; CI 77891,2; Glycerin,1", brief=brief)
    assert made.names[1] == "Titanium Dioxide"


def test_nano_is_said_in_the_eu() -> None:
    made = listed("Aqua,q.s.; CI 77891,2", nano=("Titanium Dioxide",))
    assert made.names == ("Aqua", "Titanium Dioxide (nano)")


# --- allergens ------------------------------------------------------------------------


def test_linalool_is_named_in_a_shampoo_and_caryophyllene_is_not() -> None:
    """Question 22 of the trade: 0.05 % lavender gives 0.0165 and 0.0015 %."""
    made = listed(
        "Aqua,q.s.; Lavender oil,0.05",
        brief=RINSE_OFF,
        certificates={"Lavender oil": LAVENDER},
    )
    assert set(made.names) == {"Aqua", "Lavandula Oil/Extract", "Linalool", "Linalyl Acetate"}
    off = {x.name: x for x in made.left_out}
    assert off["Beta-Caryophyllene"].amount.typical == Decimal("0.0015")
    assert "not more than 0.01 %" in off["Beta-Caryophyllene"].why


@pytest.mark.parametrize(("share", "named"), [("0.25", False), ("0.2501", True)])
def test_exactly_a_thousandth_of_a_percent_stays_off(share: str, named: bool) -> None:
    """Annex III: more than 0.001 %; 0.4 % perfume with 0.25 % citral is exactly 0.001 %."""
    made = listed("Aqua,q.s.; Parfum,0.4", certificates={"Parfum": {"Citral": share}}, mats=plain())
    assert ("Citral" in made.names) is named


def test_all_sources_of_one_allergen_are_added_before_comparing() -> None:
    each = {"Limonene": Decimal("0.3")}
    made = listed(
        "Aqua,q.s.; Parfum,0.2; Oil,0.2; Limonene,0.0001",
        mats=plain("Oil", "Limonene"),
        certificates={"Parfum": each, "Oil": each},
    )
    entry = next(e for e in made.entries if e.name == "Limonene")
    assert entry.amount.typical == Decimal("0.0013")
    assert [x.split()[0] for x in entry.lines] == ["inside", "inside", "Limonene"]


def test_the_names_of_2023_come_with_their_day_and_stock_has_until_2028() -> None:
    told = {"certificates": {"Lavender oil": LAVENDER}}
    text = "Aqua,q.s.; Lavender oil,0.3"
    assert "Lavandula Oil/Extract" in listed(text, day=NEW, **told).names
    before = listed(text, day=OLD, **told)
    assert "Lavandula Angustifolia Oil" in before.names
    assert "Linalool" in before.names
    assert "Linalyl Acetate" not in before.names
    assert "Linalyl Acetate" not in listed(text, day=NEW, on_shelf=True, **told).names
    late = listed(text, day=date(2028, 7, 31), on_shelf=True, **told)
    assert "Linalyl Acetate" in late.names


def test_the_us_list_names_no_allergens_and_says_fragrance() -> None:
    made = listed("Aqua,q.s.; Fragrance compound,0.5; Lavender oil,0.3", market="US")
    assert made.names == ("Water", "Fragrance", "Lavandula Angustifolia (Lavender) Oil")


def test_an_oil_used_as_perfume_stands_under_that_name_and_still_counts() -> None:
    made = listed("Aqua,q.s.; Lavender oil,0.3", as_perfume=("Lavandula Angustifolia Oil",))
    assert "Parfum" in made.names
    assert "Lavandula Oil/Extract" in made.names
    assert "Lavandula Angustifolia Oil" not in made.names


def test_typical_oils_leave_a_question_at_the_top_of_their_range() -> None:
    made = listed("Aqua,q.s.; Lavender oil,0.3")
    assert "Geraniol" not in made.names
    assert any(
        "then named: Geraniol (typical 0.0009 %, up to 0.003 %)" in q for q in made.questions
    )
    assert any("certificate" in q and "Lavender oil" in q for q in made.questions)


def test_a_perfume_without_a_statement_leaves_a_question() -> None:
    made = listed("Aqua,q.s.; Fragrance compound,0.5")
    assert any("its allergens are not known" in q for q in made.questions)


# --- what is not certain --------------------------------------------------------------


def test_a_blend_of_known_order_says_where_the_order_is_certain() -> None:
    made = listed("Aqua,q.s.; Olive emulsifier,5; Glycerin,2", mats=STARTER)
    swaps = {e.name: e.may_swap for e in made.entries}
    # cetearyl olivate 2.5 to 5 % is above 2 % glycerin; sorbitan olivate 0 to 2.5 % is not sure
    assert made.names[1] == "Cetearyl Olivate"
    assert swaps["Cetearyl Olivate"] == ()
    assert swaps["Sorbitan Olivate"] == ("Glycerin",)
    assert any("only the order of its parts is known" in q for q in made.questions)
    assert any("Glycerin and Sorbitan Olivate" in q for q in made.questions)


def test_a_range_that_cannot_overturn_the_order_leaves_it_certain() -> None:
    parts = (
        Constituent(inci="Alpha", order=1, low=0.6, high=0.7),
        Constituent(inci="Beta", order=2, low=0.3, high=0.4),
    )
    mats = plain().add(name="Blend", inci="x", composition=parts)
    made = listed("Aqua,q.s.; Blend,10", mats=mats)
    assert all(e.may_swap == () for e in made.entries)


def test_a_shared_range_inside_one_material_is_not_counted_twice() -> None:
    """Two parts of one blend that rise and fall together: 40-60 and 60-40."""
    parts = (
        Constituent(inci="Alpha", order=1, low=0.4, high=0.6),
        Constituent(inci="Beta", order=2, low=0.4, high=0.6),
    )
    mats = plain().add(name="Blend", inci="x", composition=parts).add(name="Alpha", inci="Alpha")
    sure = listed("Aqua,q.s.; Blend,10; Alpha,2", mats=mats)
    assert all(e.may_swap == () for e in sure.entries)  # 6 to 8 against 6 to 4
    unsure = listed("Aqua,q.s.; Blend,10; Alpha,1.9", mats=mats)
    assert any(e.may_swap for e in unsure.entries)  # 5.9 against 6 can be


def test_what_a_material_does_not_state_is_asked_for() -> None:
    made = listed("Aqua,q.s.; TEA,1")
    assert any("not stated" in q for q in made.questions)


# --- choices --------------------------------------------------------------------------


def test_an_incidental_ingredient_is_left_out_with_its_reason() -> None:
    parts = (part("Helianthus Annuus Seed Oil", 0.9995), part("Tocopherol", 0.0005, 2))
    mats = plain().add(name="Oil with tocopherol", inci="x", composition=parts)
    made = listed(
        "Aqua,q.s.; Oil with tocopherol,10",
        market="US",
        mats=mats,
        left_out={"Tocopherol": "keeps the oil, does nothing in the product"},
    )
    assert made.names == ("Water", "Helianthus Annuus (Sunflower) Seed Oil")
    assert made.left_out[0].why == "keeps the oil, does nothing in the product"


def test_drug_actives_stand_first_in_the_us() -> None:
    made = listed("Aqua,q.s.; Zinc Oxide,12", market="US", drug_actives=("Zinc Oxide",))
    assert made.headed == "Active ingredient: Zinc Oxide 12 %. Inactive ingredients: Water"


def plain(*names: str) -> Materials:
    """Materials known by their INCI name alone."""
    mats = Materials()
    for name in ("Aqua", "Glycerin", "Panthenol", "Squalane", "Parfum", *names):
        mats = mats.add(name=name, inci=name)
    return mats


# --- refusals -------------------------------------------------------------------------


def test_unknown_materials_are_all_named_with_what_to_do() -> None:
    with pytest.raises(MaterialError, match="Mystery wax, Secret base.*mats.add") as refusal:
        listed("Aqua,q.s.; Mystery wax,3; Secret base,2")
    assert refusal.value.facts["materials"] == ["Mystery wax", "Secret base"]


def test_a_material_without_inci_name_is_refused_with_what_to_do() -> None:
    mats = plain().add(name="Silky feel 200")
    with pytest.raises(MaterialError, match="no INCI name for: Silky feel 200.*inci="):
        listed("Aqua,q.s.; Silky feel 200,3", mats=mats)


def test_choices_about_names_that_are_not_there_are_refused() -> None:
    with pytest.raises(FormulaError, match="left_out names Tocopherol"):
        listed("Aqua,100", left_out={"Tocopherol": "none"})
    with pytest.raises(MaterialError, match="a certificate of rose oil"):
        listed("Aqua,100", certificates={"Rose oil": {"Geraniol": 1}})


def test_choices_that_cannot_be_are_refused() -> None:
    with pytest.raises(BriefError, match="no choice called sorted"):
        listed("Aqua,100", sorted=True)
    with pytest.raises(BriefError, match="allergen rules 'new'"):
        listed("Aqua,100", allergen_rules="new")
    with pytest.raises(BriefError, match="left out without a reason"):
        listed("Aqua,100", left_out={"Aqua": " "})
    with pytest.raises(BriefError, match="the market 'JP'"):
        listed("Aqua,100", market="JP")
    much = {"Parfum": {"Citral": 60, "Linalool": 50}}
    with pytest.raises(MaterialError, match="add up to 110 %.*1000 mg/kg is 0.1 %"):
        listed("Aqua,q.s.; Parfum,1", certificates=much, mats=plain())
    with pytest.raises(QuantityError, match="certificate of Parfum"):
        listed("Aqua,q.s.; Parfum,1", certificates={"Parfum": {"Citral": "NaN"}}, mats=plain())


# --- properties -----------------------------------------------------------------------

OWN = plain("Alpha", "Beta", "Gamma")
NAMES = ("Aqua", "Glycerin", "Panthenol", "Squalane", "Alpha", "Beta", "Gamma")


@st.composite
def recipes(draw: st.DrawFn) -> Formula:
    units = draw(st.lists(st.integers(0, 60_000), min_size=6, max_size=6))
    shares = [Decimal(u) / 10_000 for u in units]
    lines = [Line(phase="A", material=n, percent=p) for n, p in zip(NAMES[1:], shares, strict=True)]
    rest = 100 - sum(shares, Decimal(0))
    return Formula("Any", (Line(phase="A", material="Aqua", percent=rest), *lines))


@settings(deadline=None)  # a busy machine is no fault of the list
@given(recipes(), st.sampled_from(["EU", "US"]))
def test_amounts_add_up_to_the_whole_and_fall(recipe: Formula, market: str) -> None:
    made = declare(recipe, OWN, brief=LEAVE_ON, market=market, day=NEW)
    assert sum((e.amount.typical for e in made.entries), Decimal(0)) == 100
    assert all(a.amount.typical >= b.amount.typical for a, b in pairwise(made.entries))
    assert {e.name for e in made.entries} == {
        "Water" if market == "US" and x.material == "Aqua" else x.material
        for x in recipe.lines
        if x.percent
    }


@settings(deadline=None)  # a busy machine is no fault of the list
@given(recipes(), st.randoms())
def test_the_order_of_lines_does_not_matter(recipe: Formula, random: object) -> None:
    lines = list(recipe.lines)
    random.shuffle(lines)  # type: ignore[attr-defined]
    mixed = Formula("Any", tuple(lines))
    one, other = (
        declare(x, OWN, brief=LEAVE_ON, market="EU", day=NEW).text for x in (recipe, mixed)
    )
    assert one == other


def test_an_acid_and_its_base_may_stand_as_their_salt() -> None:
    """Rule LR16: as added, or as the salt; the choice is recorded."""
    told = {"Stearic Acid": "Sodium Stearate", "Sodium Hydroxide": "Sodium Stearate"}
    mats = plain("Stearic Acid", "Sodium Hydroxide")
    text = "Aqua,q.s.; Glycerin,3; Stearic Acid,3; Sodium Hydroxide,0.4"
    assert listed(text, mats=mats).names == (
        "Aqua", "Glycerin", "Stearic Acid", "Sodium Hydroxide",
    )  # fmt: skip
    made = listed(text, mats=mats, listed_as=told)
    assert made.names == ("Aqua", "Sodium Stearate", "Glycerin")
    assert made.entries[1].amount.typical == Decimal("3.4")


def test_a_nano_pigment_named_so_is_still_a_colour_and_still_nano() -> None:
    mats = plain("CI 77891 (nano)", "Zinc Oxide (nano)")
    made = listed("Aqua,q.s.; CI 77891 (nano),2; Zinc Oxide (nano),5", mats=mats)
    assert made.names == ("Aqua", "Zinc Oxide (nano)", "CI 77891 (nano)")
    assert made.colours == ("CI 77891 (nano)",)


def test_a_colour_under_its_us_name_is_a_colour_everywhere() -> None:
    mats = plain("Iron Oxides", "Yellow 5")
    text = "Aqua,q.s.; Iron Oxides,3; Yellow 5,0.01; Glycerin,2"
    made = listed(text, mats=mats, market="US")
    assert made.names == ("Water", "Glycerin", "Iron Oxides", "Yellow 5")
    made = listed(text, mats=mats)
    assert made.colours == ("CI 19140", "Iron Oxides")
    assert any(q.startswith("Iron Oxides: the EU name") for q in made.questions)
