"""Check on paper as a practitioner asks it, and each window on its own."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from functools import cache

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labkit import tables
from labkit.estimates.allergens import allergens, declared
from labkit.estimates.check import Checker, check
from labkit.estimates.contents import Contents, look_into
from labkit.estimates.exclusions import exclusion_candidates, exclusions
from labkit.estimates.finding import Findings
from labkit.estimates.state import Board
from labkit.formula import Brief, Formula, Line, Phase
from labkit.formula.brief import FORMS, MARKETS
from labkit.formula.product_types import product_types
from labkit.materials import Material
from tests.estimates.cases import DAY, formula, materials


def found(text: str, product: str, ph: float | None = 5.5, **wishes: object) -> Findings:
    brief = Brief(product=product, as_of=DAY, **wishes)  # type: ignore[arg-type]
    return check(formula(text), materials(), brief, ph=ph)


def named(text: str, product: str, day: date = DAY, **wishes: object) -> list[str]:
    recipe = formula(text)
    brief = Brief(product=product, **wishes)  # type: ignore[arg-type]
    checker = Checker(recipe, materials(), brief, day=day)
    return [entry.name for entry, _, _ in declared(checker.contents, checker.percent, brief, day)]


# --- questions of a picky practitioner ------------------------------------------------


def test_question_4_a_shampoo_has_other_limits_and_thresholds_than_a_lotion() -> None:
    text = "Aqua qs | Sodium Benzoate 1 | Lavandula Angustifolia Oil 0.02 | Glycerin 3"
    lotion, wash = found(text, "body lotion", 4.5), found(text, "shampoo", 4.5)
    assert lotion.stops.codes == ("UL002",)
    assert not wash.stops
    assert "Linalool" in named(text, "body lotion")
    assert "Linalool" not in named(text, "shampoo")


def test_question_6_a_quat_with_laureth_sulfate_stops_with_lines_reason_and_exception() -> None:
    text = "Aqua qs | Cetrimonium Chloride 3 | Sodium Laureth Sulfate 20 | Phenoxyethanol 0.9"
    stop = found(text, "shampoo").stops[0]
    assert stop.code == "INC01"
    assert stop.names == ("Cetrimonium Chloride", "Sodium Laureth Sulfate")
    assert "opposite charges" in stop.why.lower()
    assert "Exceptions: amphoteric and nonionic surfactants" in stop.do


def test_question_7_the_benzoate_in_the_aloe_and_the_wheat_in_the_conditioner_are_seen() -> None:
    aloe = found("Aqua qs | Aloe juice, preserved 50 | Ascorbic Acid 5", "face serum", 3.2)
    assert "Sodium Benzoate" in aloe.of("INC19")[0].what
    wheat = found(
        "Aqua qs | Hydrolysed wheat protein 2 | Behentrimonium Chloride 2 | Phenoxyethanol 0.9",
        "hair conditioner",
        4.5,
        must_not=("wheat",),
    )
    assert wheat.of("EXC01")[0].names == ("Hydrolysed wheat protein",)


def test_question_14_five_hundredths_of_a_gram_asks_for_a_five_per_cent_stock() -> None:
    """One digit in five is 20 % (trade practice PR60)."""
    finding = found("Aqua qs | Disodium EDTA 0.05 | Glycerin 3", "toner").of("WEIGH01")[0]
    assert "0.05 g" in finding.what
    assert "20 %" in finding.what
    assert "1 g of a 5 % stock" in finding.do


def test_question_22_linalool_is_named_in_a_shampoo_and_beta_caryophyllene_is_not() -> None:
    """0.05 % lavender: 33 % linalool gives 0.0165 %, 3 % beta-caryophyllene 0.0015 %."""
    names = named("Aqua qs | Lavandula Angustifolia Oil 0.05", "shampoo")
    assert "Linalool" in names
    assert "Beta-Caryophyllene" not in names


def test_question_23_exactly_the_threshold_stays_off_the_list() -> None:
    assert "Benzyl Alcohol" not in named("Aqua qs | Benzyl Alcohol 0.0010", "body lotion")
    assert "Benzyl Alcohol" in named("Aqua qs | Benzyl Alcohol 0.0011", "body lotion")
    assert "Benzyl Alcohol" not in named("Aqua qs | Benzyl Alcohol 0.0100", "shampoo")


# --- allergens ------------------------------------------------------------------------


def test_the_names_of_2023_count_from_their_day_and_only_in_the_eu() -> None:
    """Regulation (EU) 2023/1545: new products from 31 July 2026."""
    text = "Aqua qs | Lavandula Angustifolia Oil 0.5"
    new = {a.name for a in allergens() if a.since_2023}
    assert not new & set(named(text, "body lotion", date(2026, 7, 30)))
    assert "Linalyl Acetate" in named(text, "body lotion", date(2026, 7, 31))
    assert not new & set(named(text, "body lotion", market=("GB",)))
    assert named(text, "body lotion", market=("US",)) == []


def test_every_allergen_is_named_above_its_threshold_and_not_at_it() -> None:
    for entry in allergens():
        inci = sorted(entry.members)[0]
        mats = materials().add(name="one of the list", inci=inci)
        for percent, expected in (("0.0010", False), ("0.0011", True)):
            recipe = formula(f"Aqua qs | one of the list {percent}")
            brief = Brief(product="body lotion")
            contents = look_into(recipe, [mats.resolve(x.material) for x in recipe.lines], mats)
            names = [e.name for e, _, _ in declared(contents, _percent(recipe), brief, DAY)]
            assert (entry.name in names) is expected, entry.name


def _percent(recipe: Formula) -> np.ndarray:
    return np.array([float(x.percent) for x in recipe.lines])


def test_sunlight_counts_only_for_what_stays_on_sunlit_skin() -> None:
    text = "Caprylic/Capric Triglyceride qs | Citrus Aurantium Bergamia Peel Oil 1"
    assert found(text, "body oil").stops.codes == ("PHOTO01",)
    assert not found(text, "body oil", sunlit=False).stops
    assert not found(text, "bath product").stops


# --- the brief ------------------------------------------------------------------------


@cache
def alone(material: Material) -> Contents:
    line = Line(phase="A", material=material.name, percent=Decimal(100))
    return look_into(Formula("alone", (line,)), [material], materials())


def breaks(material: Material, word: str) -> bool:
    brief = Brief(product="x", leave_on=True, must_not=(word,))
    return bool(exclusion_candidates(alone(material), brief, Board(1)))


def test_every_exclusion_finds_a_material_of_the_starter_list() -> None:
    """A word that nothing breaks would be a check that cannot fail."""
    for word in {e.word for e in exclusions().values()}:
        assert any(breaks(m, word) for m in materials().values()), word
    peanut = next(m for m in materials().values() if m.inci == "Arachis Hypogaea Oil")
    assert breaks(peanut, "peanut")
    assert not breaks(peanut, "nut")


def test_a_named_material_can_be_excluded_too() -> None:
    finding = found("Aqua qs | Glycerin 3", "toner", must_not=("Glycerin",)).of("EXC02")[0]
    assert finding.names == ("Glycerin",)


def test_a_wish_can_be_a_material_or_a_function() -> None:
    text = "Aqua qs | Glycerin 3"
    assert not found(text, "toner", must_have=("Glycerol", "humectant")).of("EXC03")
    assert found(text, "toner", must_have=("chelator",)).of("EXC03")


# --- windows --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ph", "severity"), [(6.5, None), (5.8, "fyi"), (5.2, "check"), (7.8, "fyi"), (8.2, "check")]
)
def test_a_ph_near_a_window_is_good_to_know_and_far_from_it_to_be_checked(
    ph: float, severity: str | None
) -> None:
    """SAP has a window of 6 to 7.5 in the material list."""
    told = found("Aqua qs | Sodium Ascorbyl Phosphate 3", "face serum", ph).of("PH01")
    assert [f.severity for f in told] == ([severity] if severity else [])


def test_water_and_carriers_have_no_use_level() -> None:
    text = "Aqua 99 | Glycerin 1"
    assert not found(text, "toner").of("USE01")
    assert not found("Caprylic/Capric Triglyceride 100", "body oil").of("USE01")
    assert not found("Aqua 5 | Caprylic/Capric Triglyceride qs", "body lotion").of("USE02")


def test_a_use_level_gives_way_to_a_limit_of_law() -> None:
    codes = found("Aqua qs | Phenoxyethanol 1.5 | Glycerin 3", "toner").codes
    assert "UL026" in codes
    assert "USE01" not in codes


def heated(steps: tuple[str, ...], phase: str = "A") -> Findings:
    recipe = formula("A: Aqua qs | A: Panthenol 2 | B: Glycerin 3 | C: Phenoxyethanol 0.9")
    phases = (Phase(key=phase, steps=steps),)
    return check(
        Formula("x", recipe.lines, phases, recipe.qs),
        materials(),
        Brief(product="toner", as_of=DAY),
        ph=5.5,
    )


@pytest.mark.parametrize(
    ("steps", "hot"),
    [
        (("Heat to 75 °C",), True),
        (("Warm to 70-75 C, hold 20 min",), True),
        (("Melt",), True),
        (("Stir at room temperature",), False),
        (("Add below 40 °C",), False),
        (("Heat to 75 °C, combine, cool to 40 °C",), True),
        ((), False),
    ],
)
def test_heat_is_read_from_the_steps(steps: tuple[str, ...], hot: bool) -> None:
    assert bool(heated(steps).of("HEAT01")) is hot


def test_the_move_of_a_heated_material_goes_to_the_cool_down() -> None:
    text = (
        "A: Aqua qs | A: Panthenol 2 | B: Cetearyl Alcohol 2 | B: Ceteareth-20 2 | "
        "B: Caprylic/Capric Triglyceride 8 | C: Phenoxyethanol 0.9"
    )
    recipe = formula(text)
    finding = found(text, "body lotion").of("HEAT01")[0]
    moved = finding.apply(recipe)
    assert next(x for x in moved.lines if x.material == "Panthenol").phase == "C"
    assert moved.total == 100


def test_hlb_is_asked_of_nonionic_pairs_only() -> None:
    mineral = "Aqua qs | Paraffinum Liquidum 15 | {} 4 | Phenoxyethanol 0.9"
    assert found(mineral.format("Polysorbate 20"), "body lotion").of("HLB01")
    assert not found(mineral.format("Potassium Cetyl Phosphate"), "body lotion").of("HLB01")
    assert not found(mineral.format("Conditioning emulsifier"), "hair conditioner").of("HLB01")
    assert not found(mineral.format("Acid-stable GMS"), "body lotion").of("HLB01")


def test_a_pair_of_high_and_low_emulsifier_is_read_together() -> None:
    """(1.5 x 14.9 + 2.5 x 4.7) / 4 = 8.5, inside 10 and the room around it; 14.9 alone is not."""
    oil = "Aqua qs | Paraffinum Liquidum 15 | {} | Phenoxyethanol 0.9"
    pair = "Polysorbate 60 1.5 | Sorbitan Stearate 2.5"
    assert not found(oil.format(pair), "body lotion").of("HLB01")
    assert found(oil.format("Polysorbate 60 4"), "body lotion").of("HLB01")


def test_every_pack_of_the_practice_table_can_be_too_thick_or_too_thin() -> None:
    rows = [r for r in tables.rows("process_practice") if r["topic"] == "packaging"]
    packs = [r["applies_to"] or "" for r in rows if "suits viscosity" in (r["fact"] or "")]
    assert len(packs) == 7
    for pack in packs:
        name = pack.split(" or ")[0]
        thick = found("Aqua qs | Glycerin 3", "thing", pack=name,
                      viscosity=("500 Pa*s", "900 Pa*s")).of("PACK01")  # fmt: skip
        thin = found("Aqua qs | Glycerin 3", "thing", pack=name,
                     viscosity=("1 mPa*s", "2 mPa*s")).of("PACK01")  # fmt: skip
        assert thick or thin, pack


def test_the_preservative_dose_falls_as_the_ph_rises() -> None:
    """0.2 % sodium benzoate is one dose at pH 5.0; a tenth works at pH 6 (pKa 4.20)."""
    text = "Aqua qs | Sodium Benzoate 0.2 | Glycerin 3"
    assert not found(text, "toner", 4.9).of("PRES01")
    weak = found("Aqua qs | Sodium Benzoate 0.1 | Glycerin 3", "toner", 5.0).of("PRES01")[0]
    assert weak.facts["doses"] == pytest.approx(0.5, abs=0.01)
    assert found(text, "toner", 6.0).stops.codes == ("INC18",)


def test_a_partner_closes_the_gap_that_a_preservative_leaves() -> None:
    alone = found("Aqua qs | Phenoxyethanol 0.9", "toner").of("PRES02")[0]
    assert alone.facts["germs"] == ("yeast", "mould")
    assert not found("Aqua qs | Phenoxyethanol 0.9 | Caprylyl Glycol 0.5", "toner").of("PRES02")
    assert not found("Aqua qs | Phenoxyethanol blend 90/10 1", "toner").of("PRES02")


def test_small_ions_never_clash() -> None:
    """Counter-ions, acids, salts and chelators beside a quat raise no charge finding."""
    quat = "Aqua qs | Cetrimonium Chloride 3 | Cetearyl Alcohol 4 | Phenoxyethanol 0.9 | {} 0.3"
    small = [m for m in materials().values() if m.charge in ("small-ion", "acid", "base")]
    plain = [m for m in small if m.charge_class is None and not m.is_blend]
    assert len(plain) > 40
    for material in plain:
        codes = found(quat.format(material.name), "hair conditioner", 4.5).codes
        assert not {"INC01", "INC02", "INC03", "INC04", "INC05", "INC07", "INC62"} & set(codes)


def test_every_anionic_surfactant_clashes_with_a_quat_and_no_other_kind_does() -> None:
    quat = "Aqua qs | Behentrimonium Methosulfate 2 | Cetearyl Alcohol 4 | {} 5"
    for material in materials().values():
        if material.charge_class != "surfactant" or material.is_blend:
            continue
        stops = found(quat.format(material.name), "hair conditioner", 4.5).stops.codes
        clash = bool({"INC01", "INC02"} & set(stops))
        assert clash is (material.charge == "anionic"), material.name


# --- whatever is typed ----------------------------------------------------------------

NAMES = [m.name for m in materials().values()]


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_any_formula_is_checked_without_a_fault(data: st.DataObject) -> None:
    picked = data.draw(
        st.lists(st.sampled_from([*NAMES, "moonlight"]), min_size=1, max_size=9, unique=True)
    )
    units = data.draw(st.lists(st.integers(1, 300_000), min_size=len(picked), max_size=len(picked)))
    total = sum(units)
    shares = [u * 1_000_000 // total for u in units]
    shares[0] += 1_000_000 - sum(shares)
    lines = tuple(
        Line(phase=data.draw(st.sampled_from("ABC")), material=n, percent=Decimal(s) / 10_000)
        for n, s in zip(picked, shares, strict=True)
    )
    kind = data.draw(st.sampled_from(sorted({k.name for k in product_types().values()})))
    brief = Brief(
        product=kind,
        form=data.draw(st.sampled_from([None, *FORMS])),
        market=tuple(data.draw(st.sets(st.sampled_from(sorted(MARKETS)), min_size=1))),
        under_3=data.draw(st.booleans()),
        sprayed=data.draw(st.booleans()),
        as_of=DAY,
    )
    ph = data.draw(st.one_of(st.none(), st.floats(0, 14)))
    checker = Checker(Formula("any", lines), materials(), brief)
    told = checker.findings(ph=ph)
    assert len(told) <= len(checker.codes)
    for finding in told:
        assert all(0 <= i < len(lines) for i in finding.lines)
        assert re.search(r"\bnan\b", finding.what) is None
    assert checker.levels(ph=ph).shape == (len(checker.codes),)
