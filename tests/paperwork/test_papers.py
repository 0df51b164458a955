"""What each paper says, and what it never says."""

from __future__ import annotations

import csv
import io
import re
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from labkit.bench import Bench, Trial
from labkit.errors import (
    BriefError,
    FormulaError,
    MeasurementError,
    QuantityError,
    ScienceError,
    ShareError,
)
from labkit.formula import Brief, Formula
from labkit.materials import Materials
from labkit.paperwork import (
    Document,
    batch_record,
    costing,
    ingredient_list,
    recipe_card,
    safety_file,
    specification,
)
from labkit.paperwork.ingredients import IngredientList
from tests.paperwork.conftest import DAY, LINES, cream

NAMES = ("list", "costing", "card", "safety", "specification", "batch")
VERDICTS = re.compile(r"\b(safe|compliant|approved)\b", re.IGNORECASE)


@pytest.mark.parametrize("name", NAMES)
def test_no_paper_pronounces_a_verdict(papers: dict[str, Document], name: str) -> None:
    for text in (papers[name].html, papers[name].text, papers[name].markdown):
        assert not VERDICTS.search(text)


@pytest.mark.parametrize("name", NAMES)
def test_a_paper_is_one_file_that_loads_nothing(papers: dict[str, Document], name: str) -> None:
    html = papers[name].html
    assert "<script" not in html
    assert not re.search(r"""(?:src|href|url\(|@import)\s*=?\s*["']?\s*(?:https?:)?//""", html)
    assert " style=" not in html
    assert "default-src 'none'" in html


@pytest.mark.parametrize("name", NAMES)
def test_a_paper_is_the_same_twice_and_saves_in_four_forms(
    papers: dict[str, Document], name: str, tmp_path: Path
) -> None:
    paper = papers[name]
    for ending, form in ((".html", paper.html), (".md", paper.markdown), (".txt", paper.text)):
        assert paper.save(tmp_path / f"paper{ending}").read_text(encoding="utf-8") == form
    rows = list(csv.reader(io.StringIO(paper.csv)))
    assert len({len(row) for row in rows}) == 1
    assert paper.save(tmp_path).parent == tmp_path


def test_an_unknown_ending_or_paper_size_is_refused(papers: dict[str, Document]) -> None:
    with pytest.raises(ShareError, match=r"the ending '.pdf'.*a browser prints it"):
        papers["card"].save("card.pdf")
    with pytest.raises(ShareError, match="the paper size 'A5'"):
        papers["card"].on("A5")
    words_only = Document(kind="Note", title="x", blocks=())
    with pytest.raises(ShareError, match="no table to write as CSV"):
        words_only.save("x.csv")


def test_a_title_that_is_a_path_stays_inside_the_folder(tmp_path: Path) -> None:
    paper = Document(kind="Note", title="../../etc/x", blocks=())
    assert paper.save(tmp_path).parent == tmp_path


# --- ingredient list ------------------------------------------------------------------


def test_the_list_is_ready_to_copy_for_each_market(papers: dict[str, Document]) -> None:
    made = papers["list"]
    assert isinstance(made, IngredientList)
    lists = made.lists
    assert lists["EU"].startswith("Aqua, Caprylic/Capric Triglyceride, Glycerin")
    assert lists["US"].startswith("Water, Caprylic/Capric Triglyceride, Glycerin")
    assert f"Ingredients: {lists['EU']}" in made.text
    assert "Sorbitan Olivate" in made.text
    assert "order against" in made.text
    assert "Local law" in made.html


def test_the_explanation_names_material_percentage_and_rule(papers: dict[str, Document]) -> None:
    rows = {r["name"]: r for r in csv.DictReader(io.StringIO(papers["list"].csv))}
    row = rows["Phenoxyethanol"]
    assert row["percent"].rstrip("0") == "0.9"
    assert row["comes_from"].startswith("Phenoxyethanol blend 90/10")
    assert "LR14" in row["rule_numbers"]
    assert "1223/2009" in row["source"]


def test_the_durability_decides_between_date_and_months_after_opening(mats: Materials) -> None:
    long = Brief(product="hand cream", durability=36, as_of=DAY)
    short = Brief(product="hand cream", durability=30, as_of=DAY)
    assert "it is the period after opening" in ingredient_list(cream(), mats, brief=long).text
    assert "it is the date" in ingredient_list(cream(), mats, brief=short).text


# --- costing --------------------------------------------------------------------------


def gel() -> Formula:
    return Formula.parse(
        "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5\nB,Squalane,2", name="Gel"
    )


PRICES = {"Aqua": "0.10 EUR/kg", "Glycerin": "4 EUR/kg", "Squalane": "30 EUR/kg"}


def test_costs_add_up_by_hand(mats: Materials) -> None:
    """93 % x 0.10 + 5 % x 4 + 2 % x 30 = 0.893 EUR/kg; 10 kg, 5 % loss, 50 g: 190 units."""
    made = costing(
        gel(), mats, batch="10 kg", fill="50 g", prices=PRICES, loss="5 %",
        pack={"jar": "0.40 EUR", "label": "0.05 EUR"}, labour=("2 h", "19 EUR"),
    ).costing  # fmt: skip
    assert made.units == 190
    assert made.materials_per_kg == Decimal("0.893")
    assert made.materials_per_batch == Decimal("8.93")
    assert made.labour == 38
    assert made.per_batch == Decimal("8.93") + 38 + 190 * Decimal("0.45")
    assert made.per_unit == made.per_batch / 190
    assert sum(x for _, x in made.parts_per_unit) == pytest.approx(made.per_unit)
    assert sum(x.share for x in made.lines if x.share) == pytest.approx(100)


def test_the_unit_cost_includes_the_pack_and_follows_price_and_loss(mats: Materials) -> None:
    """Question 24 of the trade."""
    told: dict[str, Any] = {"batch": "10 kg", "fill": "50 g"}
    base = costing(gel(), mats, prices=PRICES, **told).costing
    packed = costing(gel(), mats, prices=PRICES, pack="0.50 EUR", **told).costing
    dear = costing(gel(), mats, prices=PRICES | {"Glycerin": "8 EUR/kg"}, **told).costing
    lossy = costing(gel(), mats, prices=PRICES, loss="20 %", **told).costing
    assert packed.per_unit - base.per_unit == Decimal("0.5")
    assert dear.materials_per_kg - base.materials_per_kg == Decimal("0.2")
    assert lossy.per_unit > base.per_unit


def test_what_was_not_given_is_not_shown_as_a_price_of_nothing(mats: Materials) -> None:
    bare = costing(gel(), mats, prices=PRICES, batch="60 g", fill="50 g").text
    assert "pack per unit       not counted: nothing was given" in bare
    assert "1 unit of 50 g" in bare
    packed = costing(gel(), mats, prices=PRICES, batch="60 g", fill="50 g", pack="0.50 EUR").text
    assert "pack per unit       0.5000 EUR" in packed


def test_the_price_is_that_of_the_smallest_pack_that_covers_the_batch(mats: Materials) -> None:
    offers = PRICES | {"Glycerin": ["5 EUR for 500 g", "30 EUR for 5 kg"]}
    small = costing(gel(), mats, batch="5 kg", prices=offers).costing
    large = costing(gel(), mats, batch="50 kg", prices=offers).costing
    line = {x.material: x for x in small.lines}["Glycerin"]
    assert line.per_kg == 10
    assert line.packs == 1
    assert line.outlay == 5
    assert {x.material: x for x in large.lines}["Glycerin"].per_kg == 6


def test_another_currency_needs_a_rate(mats: Materials) -> None:
    prices = PRICES | {"Squalane": "30 USD/kg"}
    made = costing(gel(), mats, batch="1 kg", prices=prices, rates={"USD": "0.9"})
    assert made.costing.lines[2].per_kg == 27
    with pytest.raises(QuantityError, match=r"a price in USD.*rates="):
        costing(gel(), mats, batch="1 kg", prices=prices)


def test_a_missing_price_is_named_and_not_counted_as_nothing() -> None:
    mats = Materials()
    for name in ("Aqua", "Glycerin", "Squalane"):
        mats = mats.add(name=name, inci=name)
    made = costing(gel(), mats, batch="1 kg", prices={"Aqua": "0.1 EUR/kg"})
    assert [x.material for x in made.costing.unpriced] == ["Glycerin", "Squalane"]
    assert "at least" in made.text


def test_a_fill_by_volume_takes_the_density(mats: Materials) -> None:
    made = costing(gel(), mats, batch="1 kg", fill="100 mL", loss="0 %", density_g_ml="1.02")
    assert made.costing.fill_g == 102
    bare = Materials()
    for name in ("Aqua", "Glycerin", "Squalane"):
        bare = bare.add(name=name, inci=name)
    with pytest.raises(QuantityError, match="no density of the product"):
        costing(gel(), bare, batch="1 kg", fill="100 mL")


def test_a_target_says_what_would_meet_it(mats: Materials) -> None:
    terms: dict[str, Any] = {"batch": "10 kg", "fill": "50 g", "loss": "0 %", "prices": PRICES}
    made = costing(gel(), mats, target="0.0300 EUR", **terms)
    (_, wanted), *_ = made.costing.to_reach(Decimal("0.03"), made.costing.lines[0])
    check = gel().move("Squalane", f"{wanted:.4f} %")
    again = costing(check, mats, **terms).costing
    assert float(again.per_unit) == pytest.approx(0.03, abs=2e-6)
    assert "alone would meet it" in made.text


def test_a_change_is_told_line_by_line(mats: Materials) -> None:
    made = costing(
        gel(), mats, batch="10 kg", fill="50 g", loss="0 %", prices=PRICES,
        change=gel().move("Squalane", "1 %"),
    )  # fmt: skip
    assert made.changed is not None
    assert made.changed.per_unit - made.costing.per_unit == Decimal("-0.01495")
    assert "less a unit" in made.text


@pytest.mark.parametrize(
    ("told", "error", "words"),
    [
        ({"prices": {"Glycerin": "free"}}, QuantityError, "'free'"),
        ({"prices": {"Shea": "3 EUR/kg"}}, FormulaError, "prices for Shea"),
        ({"prices": {"Glycerin": "3 EUR for 0 g"}}, QuantityError, "more than nothing"),
        ({"batch": "20 g"}, FormulaError, "fills at least one unit"),
        ({"batch": "0 g"}, QuantityError, "More than nothing"),
        ({"fill": "0 g"}, QuantityError, "More than nothing"),
        ({"loss": "100 %"}, QuantityError, "a loss of 100 %"),
        ({"pack": "cheap"}, QuantityError, "'cheap'"),
        ({"target": "1 USD"}, QuantityError, "a target in USD"),
    ],
)
def test_terms_that_cannot_be_are_refused(
    mats: Materials, told: dict[str, Any], error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words):
        costing(gel(), mats, **({"batch": "1 kg"} | told))


# --- recipe card ----------------------------------------------------------------------


def test_a_card_has_everything_to_make_it_again(papers: dict[str, Document]) -> None:
    text = papers["card"].text
    for words in ("372.00", "Heat to 75 °C, hold 20 min", "5.02 (mean of 2)", "Ingredient list"):
        assert words in text
    assert all(material in text for _, material, _ in LINES)


def test_a_card_leaves_out_private_words_unless_asked(
    bench: Bench, trial: Trial, mats: Materials
) -> None:
    closed = recipe_card(trial, mats, bench=bench, day=DAY)
    assert "secret trial note" not in closed.html + closed.text + closed.markdown + closed.csv
    assert "EUR" not in closed.text
    opened = recipe_card(trial, mats, bench=bench, day=DAY, include=("trial note",))
    assert "secret trial note" in opened.text
    with pytest.raises(BriefError, match="include names price"):
        recipe_card(trial, mats, include=("price",))


def test_grams_on_a_card_add_up_to_the_batch(mats: Materials) -> None:
    made = recipe_card(cream(), mats, batch="333 g", balance="0.01 g", day=DAY)
    grams = [Decimal(r["grams"]) for r in csv.DictReader(io.StringIO(made.csv))]
    assert sum(grams) == 333
    with pytest.raises(FormulaError, match="whole number of balance steps"):
        recipe_card(cream(), mats, batch="100.005 g", balance="0.01 g")


def test_a_replacement_says_what_changes_on_paper(mats: Materials) -> None:
    replace: dict[str, str | None] = {
        "Phenoxyethanol blend 90/10": None, "Shea butter": "Mango butter", "Glycerin": "Gloop",
    }  # fmt: skip
    text = " ".join(recipe_card(cream(), mats, replace=replace, day=DAY).text.split())
    assert "no preservative is left" in text
    assert "may be replaced by Mango butter" in text
    assert "Gloop is not among the materials" in text


def test_a_card_with_an_unknown_material_says_why_there_is_no_list(mats: Materials) -> None:
    text = recipe_card(cream().swap("Shea butter", "Mystery fat"), mats, day=DAY).text
    assert "Not made: materials that are not known: Mystery fat" in text


# --- safety file ----------------------------------------------------------------------


def test_the_file_names_its_gaps_and_ends_with_who_decides(papers: dict[str, Document]) -> None:
    text = papers["safety"].text
    for gap in ("No stability study", "No challenge test", "Lot numbers", "No measured smell"):
        assert gap in text
    assert text.index("What is missing") < text.index("Who must decide")
    assert "qualified safety assessor" in text[text.index("Who must decide") :]
    assert "keep: spreads well" in text


def test_margins_show_every_input_and_send_to_an_assessor(mats: Materials) -> None:
    """Question 28. Phenoxyethanol up to 0.91 %: SED = 32.7 x 0.0091 x 0.4 = 0.11903 mg/kg/day
    (exposure of a hand cream, SCCS/1647/22 table 3A); MoS = 357 / 0.11903 = 2999."""
    point = {"point": 357, "source": "opinion of a committee", "absorption": 40, "oral": 1}
    points = {"Phenoxyethanol": point | {"absorption_source": "study", "oral_source": "study"}}
    brief = Brief(product="hand cream", as_of=DAY)
    text = safety_file(cream(), mats, brief=brief, points=points).text
    for words in (
        "357 mg/kg/day; opinion of a committee",
        "40 %; study",
        "0.119 mg/kg/day",
        "2999",
    ):
        assert words in text
    assert "reference line 100; above it" in text
    low = {"Phenoxyethanol": point | {"point": 5}}
    said = " ".join(safety_file(cream(), mats, brief=brief, points=low).text.split())
    assert "not above it: take it to the assessor" in said


def test_no_point_of_departure_means_no_margin(papers: dict[str, Document]) -> None:
    text = " ".join(papers["safety"].text.split())
    assert "No point of departure was entered, so no margin" in text
    assert "No point of departure, so no margin, for: Caprylic/Capric Triglyceride" in text


def test_a_product_without_exposure_figures_gets_none(mats: Materials) -> None:
    text = safety_file(cream(), mats, brief=Brief(product="foot cream", as_of=DAY)).text
    assert "No exposure figure for “foot cream”" in text


def test_studies_on_record_are_shown_and_close_their_gap(tmp_path: Path, mats: Materials) -> None:
    with Bench.open(tmp_path) as bench:
        trial = bench.record(cream(), brief=Brief(product="hand cream", as_of=DAY))
        seen = {"ph": "5.02", "look": "unchanged"}
        bench.add(
            "stability",
            {"event": "pull", "condition": "40 °C", "pull": "30 d", "observations": seen},
            about=trial,
        )
        count = {"organism": "S. aureus", "day": 7, "cfu_per_g": "<10"}
        bench.add(
            "challenge", {"counts": [count], "method": "ISO 11930", "criteria": "A"}, about=trial
        )
        text = " ".join(safety_file(trial, mats, bench=bench, day=DAY).text.split())
    assert "40 °C 30 d look unchanged; ph 5.02" in text
    assert "S. aureus 7 <10" in text
    assert "No stability study" not in text
    assert "No challenge test" not in text


def test_unknown_materials_are_a_gap_and_not_a_refusal(mats: Materials) -> None:
    text = " ".join(
        safety_file(cream().swap("Shea butter", "Mystery fat"), mats, day=DAY).text.split()
    )
    assert "counted nowhere in this file: Mystery fat" in text
    assert "No ingredient list" in text


def test_points_without_source_or_ingredient_are_refused(mats: Materials) -> None:
    with pytest.raises(FormulaError, match="without its source: Glycerin"):
        safety_file(cream(), mats, points={"Glycerin": {"point": 100}})
    with pytest.raises(FormulaError, match="a point of departure for Unobtainium"):
        safety_file(cream(), mats, points={"Unobtainium": {"point": 100, "source": "x"}})
    bad = {"Glycerin": {"point": 100, "source": "x", "absorption": 130}}
    with pytest.raises(ScienceError, match="Absorption"):
        safety_file(cream(), mats, brief=Brief(product="hand cream"), points=bad)


# --- specification and batch record ---------------------------------------------------


def test_limits_come_from_the_spread_between_batches(papers: dict[str, Document]) -> None:
    """pH 5.02, 4.97, 5.05, 5.00: mean 5.01, s 0.0337; t(0.99865, 3) = 9.219: ± 0.347."""
    rows = {r["quantity"]: r for r in csv.DictReader(io.StringIO(papers["specification"].csv))}
    row = rows["pH"]
    assert float(row["mean"]) == pytest.approx(5.01)
    assert float(row["sd"]) == pytest.approx(0.03367, abs=1e-4)
    assert float(row["high"]) - float(row["mean"]) == pytest.approx(0.347, abs=0.002)
    assert "the limits are wide because the batches are few" in " ".join(
        papers["specification"].text.split()
    )


def test_two_batches_are_no_spread_and_one_is_refused(bench: Bench) -> None:
    assert "too few batches (2" in specification(bench, ["HC-1", "HC-2"]).text
    with pytest.raises(MeasurementError, match="1 batch"):
        specification(bench, ["HC-1"])
    with pytest.raises(MeasurementError, match="1 batch"):
        specification(bench, ["HC-1", "HC-1"])


def test_batches_of_different_formulas_are_refused(bench: Bench, mats: Materials) -> None:
    other = bench.record(cream().move("Glycerin", "6 %"), label=f"other-{len(bench.trials())}")
    with pytest.raises(MeasurementError, match="different formulas"):
        specification(bench, ["HC-1", other])


def test_a_batch_record_asks_for_what_the_standard_lists(papers: dict[str, Document]) -> None:
    """ISO 22716:2007, 7.2: equipment, formula, lots and quantities, steps, controls, deviations."""
    text = papers["batch"].text
    for words in (
        "Equipment used", "Lot", "Weighed, g", "Before starting", "Steps", "Controls",
        "Deviations", "After making", "Release", "a little air on top", "1488",
    ):  # fmt: skip
        assert words in text


def test_a_batch_record_refuses_a_batch_the_balance_cannot_weigh(mats: Materials) -> None:
    with pytest.raises(FormulaError, match="whole number of balance steps"):
        batch_record(cream(), mats, batch="100.003 g", balance="0.01 g")


def test_the_day_of_the_law_is_the_one_told(mats: Materials) -> None:
    made = ingredient_list(cream(), mats, market="EU", day=date(2026, 7, 30))
    assert "Lavandula Angustifolia Oil" in made.lists["EU"]
