"""Every limit of the table, above and below its figure, in a product that it names."""

from __future__ import annotations

from datetime import date
from functools import cache

import pytest

from labkit import tables
from labkit.estimates.check import check
from labkit.estimates.finding import Findings
from labkit.estimates.limit_table import (
    Limit,
    applies,
    in_force,
    limits_for,
    next_change,
)
from labkit.estimates.limits import ceilings
from labkit.formula import Formula
from labkit.formula.brief import MARKETS, Brief
from labkit.formula.product_types import product_types
from labkit.materials import Materials
from tests.estimates.cases import DAY, formula, materials

OWN = [x for market in MARKETS for x in limits_for(market) if not x.inherited]
UNSETTLED = {"UL060", "UL120"}
"""Entries whose products are named elsewhere: told as a check."""
BANS = {"INC54", "INC55"}
"""Bans that are told by their rule."""
OUTRANKED = {"UL013"}
"""A preservative's entry whose substance has a wider one for other uses."""
SKIPPED = {"UL053", "UL092"}
"""As a preservative only (its other uses have an entry); amine set free, no level in a formula."""


@cache
def product_for(limit: Limit) -> Brief | None:
    """A product that the entry names."""
    siblings = [
        x
        for x in limits_for(limit.market)
        if x is not limit and x.substance == limit.substance and x.role == limit.role and x.scope
        and "other" not in x.scope.split()
    ]  # fmt: skip
    kinds = {k.name: len(k.kinds) for k in product_types().values() if k.name != "baby wash"}
    for kind in sorted(kinds, key=lambda name: (kinds[name], name)):
        for sprayed in (False, True):
            brief = Brief(product=kind, sprayed=sprayed, market=(limit.market,), as_of=DAY)
            others = tuple(applies(x.scope, brief) for x in siblings)
            if applies(limit.scope, brief, others) is True:
                return brief
    return None


def found_at(limit: Limit, level: float, day: date = DAY) -> Findings:
    brief = product_for(limit)
    assert brief is not None
    mats = Materials().add(name="plain water", inci="Aqua", phase="water")
    names = [limit.only_with] if limit.only_with else [limit.members[0].inci]
    for name in names:
        mats = mats.add(name=name, inci=name, phase="water", functions=("active",))
    factor = next(m.factor for m in limit.members if m.inci == names[0])
    share = max(round(level / factor, 4), 0.0)
    text = f'phase,material,percent\nA,plain water,q.s.\nA,"{names[0]}",{share:.4f}'
    return check(Formula.parse(text), mats, brief, ph=5.5, day=day)


@pytest.mark.parametrize("limit", OWN, ids=lambda x: x.id)
def test_twice_the_figure_breaks_the_entry(limit: Limit) -> None:
    if limit.id in UNSETTLED:
        assert product_for(limit) is None
        return
    if limit.id in OUTRANKED:
        assert not found_at(limit, 2 * limit.percent).of(limit.id)
        return
    day = max(next_change(limit) or DAY, DAY)
    if not in_force(limit, day):
        pytest.fail("an entry that no day of this test meets")
    level = max(2 * limit.percent, 0.02)
    stops = found_at(limit, min(level, 60.0), day).stops
    same = [f for f in stops if f.facts.get("substance") is not None]
    assert same or set(stops.codes) & BANS, limit
    assert all(f.facts["limit"] <= limit.percent for f in same)


@pytest.mark.parametrize(
    "limit", [x for x in OWN if not x.bans and x.id not in UNSETTLED], ids=lambda x: x.id
)
def test_just_under_the_figure_does_not(limit: Limit) -> None:
    day = max(next_change(limit) or DAY, DAY)
    found = found_at(limit, 0.98 * limit.percent, day)
    assert limit.id not in found.codes


def test_every_row_with_a_figure_is_a_limit_or_is_left_out_for_a_reason() -> None:
    figures = {
        row["row_id"]
        for row in tables.rows("use_limits")
        if row["limit_max_pct"] and row["status"] not in ("guide", "info", "label", "condition")
    }
    assert figures - {x.id for x in OWN} == SKIPPED


def test_every_row_can_be_broken_by_name() -> None:
    """Each entry is the one told, in some product, or another entry of its sum or substance."""
    silent = []
    for limit in OWN:
        brief = product_for(limit)
        if brief is None:
            continue
        day = max(next_change(limit) or DAY, DAY)
        told = found_at(limit, max(2 * limit.percent, 0.02), day)
        if limit.id not in told.codes:
            silent.append((limit.id, told.stops.codes))
    by_another = {"UL047": "LIM03", "UL183": "INC55", "UL189": "INC54", "UL190": "INC54"}
    unexplained = [(c, t) for c, t in silent if by_another.get(c) not in t and not _same(c, t)]
    unexplained = [(c, t) for c, t in unexplained if c not in OUTRANKED]
    assert not unexplained


def _same(code: str, told: tuple[str, ...]) -> bool:
    """Whether another entry of the same substance and figure, or of its sum, is told."""
    entry = next(x for x in OWN if x.id == code)
    names = {m.inci for m in entry.members}
    return any(
        x.id in told and x.percent <= entry.percent and names & {m.inci for m in x.members}
        for x in OWN
    )


# --- the basis ------------------------------------------------------------------------


def benzoate(percent: str, product: str) -> Findings:
    text = f"Aqua qs | Sodium Benzoate {percent} | Hydroxyethylcellulose 0.5"
    return check(formula(text), materials(), Brief(product=product, as_of=DAY), ph=4.5)


def test_sodium_benzoate_is_read_as_acid_to_four_decimals() -> None:
    """0.59 x 122.12/144.11 = 0.5000 and 0.60 gives 0.5085 (use_limits, note of UL002)."""
    assert not benzoate("0.59", "hand cream").stops
    stop = benzoate("0.60", "hand cream").stops[0]
    assert stop.code == "UL002"
    assert "0.5085 % as acid (Benzoic Acid), limit 0.5 %" in stop.what


def test_the_ceiling_of_benzoate_shows_its_basis() -> None:
    lowest = ceilings("Sodium Benzoate", Brief(product="hand cream"))[0]
    assert (lowest.percent, lowest.basis) == (0.5, "as acid (Benzoic Acid)")
    assert lowest.as_supplied == pytest.approx(0.589, abs=0.001)


def test_a_shampoo_may_hold_what_a_lotion_may_not() -> None:
    assert benzoate("1.5", "hand cream").stops.codes == ("UL002",)
    assert not benzoate("1.5", "shampoo").stops
    assert benzoate("3.1", "shampoo").stops.codes == ("UL004",)


def test_benzoic_acid_and_its_salt_count_together() -> None:
    text = "Aqua qs | Sodium Benzoate 0.35 | Benzoic Acid 0.25 | Hydroxyethylcellulose 0.5"
    found = check(formula(text), materials(), Brief(product="hand cream", as_of=DAY), ph=4.5)
    assert found.stops[0].facts["percent"] == pytest.approx(0.35 * 0.8475 + 0.25)


def test_single_esters_and_all_parabens_have_two_limits() -> None:
    text = "Aqua qs | Methylparaben 0.40 | Ethylparaben 0.40 | Propylparaben 0.17 | Glycerin 3"
    found = check(formula(text), materials(), Brief(product="hand cream", as_of=DAY), ph=5.5)
    assert found.stops.codes == ("LS01",)


def test_two_sources_of_retinol_add_up_as_retinol() -> None:
    text = (
        "Aqua qs | Retinol 0.2 | Retinyl Palmitate 0.3 | Phenoxyethanol 0.9 | Caprylyl Glycol 0.5"
    )
    found = check(formula(text), materials(), Brief(product="face cream", as_of=DAY), ph=5.8)
    assert found.stops[0].facts["percent"] == pytest.approx(0.2 + 0.3 * 0.5458)


def test_the_move_brings_the_sum_to_the_limit() -> None:
    text = "Aqua qs | Phenoxyethanol 0.3 | Phenoxyethanol blend 90/10 1"
    recipe = formula(text)
    brief = Brief(product="hand cream", as_of=DAY)
    stop = check(recipe, materials(), brief, ph=5.5).stops[0]
    better = stop.apply(recipe)
    assert better.total == 100
    assert not check(better, materials(), brief, ph=5.5).stops


def test_a_top_of_range_is_told_as_a_check() -> None:
    """The certificate may say 3 % methyl eugenol where the middle of the range is 1.75 %."""
    text = "Aqua qs | Rose oil 0.0100 | Phenoxyethanol 0.9 | Caprylyl Glycol 0.5"
    brief = Brief(product="body lotion", as_of=DAY)
    found = check(formula(text), materials(), brief, ph=5.5).of("UL110")
    assert [f.severity for f in found] == ["check"]
    assert "top of the range" in found[0].why


def test_an_order_without_figures_is_judged_on_the_worst_case_and_told_as_a_check() -> None:
    """At 1.2 % a blend that starts with sodium benzoate may hold 0.4 to 1.2 % of it."""
    brief = Brief(product="hand cream", as_of=DAY)
    text = "Aqua qs | Benzoate sorbate solution {} | Glycerin 3"
    usual = check(formula(text.format("1.2")), materials(), brief, ph=4.8)
    assert not usual.stops
    assert "worst case" in usual.of("UL002")[0].why
    much = check(formula(text.format("3")), materials(), brief, ph=4.8)
    assert "UL002" in much.stops.codes


def test_no_preservative_blend_stops_at_its_usual_level() -> None:
    """What a supplier sells at a usual level does not break the law of a rinse-off."""
    for material in materials().values():
        if "preservative" in material.functions and material.use_high:
            recipe = formula(f"Aqua qs | {material.name} {material.use_high:.4f}")
            found = check(recipe, materials(), Brief(product="shampoo", as_of=DAY), ph=4.5)
            assert not [f for f in found.stops if f.facts.get("kind") == "law"], material.name


# --- the market and the day -----------------------------------------------------------


def test_d5_in_a_leave_on_waits_for_its_day() -> None:
    """Regulation (EU) 2024/1328: leave-on from 6 June 2027."""
    recipe = formula("Cyclopentasiloxane 10 | Dimethicone 90")
    brief = Brief(product="hair oil")
    before = check(recipe, materials(), brief, day=date(2027, 6, 5))
    after = check(recipe, materials(), brief, day=date(2027, 6, 6))
    assert [f.severity for f in before.of("UL185")] == ["fyi"]
    assert [f.severity for f in after.of("UL185")] == ["stop"]


def test_great_britain_keeps_what_it_took_over_and_not_what_came_later() -> None:
    brief = Brief(product="hand cream", market=("GB",), as_of=DAY)
    text = "Aqua qs | Phenoxyethanol 1.5 | Glycerin 3"
    stop = check(formula(text), materials(), brief, ph=5.5).stops[0]
    assert "31 December 2020" in stop.why
    later = "Aqua qs | Retinol 0.5 | Phenoxyethanol 0.9 | Caprylyl Glycol 0.5"
    assert not check(formula(later), materials(), brief, ph=5.8).stops


def test_the_usa_has_no_list_of_preservatives_but_figures_for_some() -> None:
    brief = Brief(product="hand cream", market=("US",), as_of=DAY)
    assert not check(formula("Aqua qs | Phenoxyethanol 1.5"), materials(), brief, ph=5.5).stops
    text = "Aqua qs | Diazolidinyl Urea 0.6"
    assert check(formula(text), materials(), brief, ph=5.5).stops.codes == ("UL123",)


def test_an_open_product_type_turns_a_stop_into_a_check() -> None:
    text = "Aqua qs | Retinol 0.1 | Phenoxyethanol 0.9 | Caprylyl Glycol 0.5"
    broad = check(formula(text), materials(), Brief(product="leave-on", as_of=DAY), ph=5.8)
    named = check(formula(text), materials(), Brief(product="body lotion", as_of=DAY), ph=5.8)
    assert [f.severity for f in broad.of("UL074")] == ["check"]
    assert [f.severity for f in named.of("UL074")] == ["stop"]


@pytest.mark.parametrize("table", ["limit_scope", "limit_members", "limit_conditions"])
def test_helper_tables_name_rows_that_exist(table: str) -> None:
    rows = tables.rows("use_limits")
    types = {r["product_type"] for r in rows}
    incis, ids = {r["inci"] for r in rows}, {r["row_id"] for r in rows}
    for row in tables.rows(table):
        if table == "limit_members":
            assert row["limit_inci"] in incis
        if table == "limit_conditions":
            assert row["row_id"] in ids
    if table == "limit_scope":
        assert types <= {r["product_type"] for r in tables.rows(table)}
