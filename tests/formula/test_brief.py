"""The brief: one switch for limits, thresholds and windows; contradictions are refused."""

from __future__ import annotations

import pickle
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit import tables
from labkit.errors import BriefError, QuantityError
from labkit.formula.brief import FORMS, MARKETS, Brief
from labkit.formula.product_types import AREAS, USES, product_type, product_types


def test_a_product_that_names_a_type_sets_type_and_use() -> None:
    brief = Brief(product="Hand cream")
    assert (brief.product_type, brief.leave_on) == ("hand cream", True)
    assert Brief(product="Shampoo").leave_on is False


def test_a_product_of_its_own_name_leaves_the_use_open() -> None:
    brief = Brief(product="The blue one")
    assert (brief.product_type, brief.leave_on) == (None, None)
    assert [brief.kind.has(tag) for tag in ("leave-on", "hair", "shampoo")] == [None] * 3


def test_the_last_words_of_a_product_name_its_type_unless_said_otherwise() -> None:
    assert Brief(product="Harbour hand cream").product_type == "hand cream"
    assert Brief(product="argan hair serum").product_type == "hair oil"
    assert Brief(product="a shampoo thing").product_type is None
    assert Brief(product="morning mask shampoo", leave_on=True).product_type is None


def test_a_scrub_is_used_wet_unless_said_otherwise() -> None:
    assert Brief(product="sugar rub", form="scrub").used_wet
    assert not Brief(product="sugar rub", form="scrub", wet_hands=False).used_wet
    assert Brief(product="butter", wet_hands=True).used_wet


def test_what_stays_on_meets_the_sun_unless_said_otherwise() -> None:
    assert Brief(product="face cream").on_sunlit_skin
    assert not Brief(product="shampoo").on_sunlit_skin
    assert not Brief(product="night balm", leave_on=True, sunlit=False).on_sunlit_skin


FULL = {
    "product": "winter hand cream",
    "product_type": "hand cream",
    "form": "o/w emulsion",
    "market": ("EU", "US"),
    "ph": (4.8, 5.6),
    "viscosity": ("20 Pa*s", "35 Pa*s"),
    "conditions": {"temperature": "25 °C", "spindle": "T-C", "speed": "10 rpm"},
    "windows": {"yield stress": ("10 Pa", "40 Pa"), "spread": ("35 mm", "50 mm")},
    "cost": "6.50 EUR/kg",
    "must_have": ("shea butter",),
    "must_not": ("wool", "silicone-free"),
    "pack": "jar",
    "fill": "50 g",
    "durability": "18 months",
    "under_3": True,
    "wet_hands": True,
    "sunlit": False,
    "batch": "250 g",
    "as_of": date(2026, 11, 24),
}


def test_a_full_brief_survives_the_file_and_the_pickle() -> None:
    brief = Brief(**FULL)
    again = Brief.from_dict(brief.as_dict())
    assert again == brief
    assert again.as_dict() == brief.as_dict()
    assert pickle.loads(pickle.dumps(brief)) == brief
    assert brief.durability == 18
    assert brief.windows["yield stress"][1].to("Pa") == 40


def test_what_is_not_set_is_not_written() -> None:
    assert Brief(product="thing").as_dict() == {
        "product": "thing",
        "market": ["EU"],
        "batch": "100 g",
        "balance": "0.01 g",
    }


def test_another_product_type_turns_leave_on_into_rinse_off() -> None:
    lotion = Brief(product="body lotion", ph=(4.5, 6))
    wash = lotion.with_(product_type="shower gel")
    assert (wash.leave_on, wash.product_type, wash.ph) == (False, "shower gel", (4.5, 6.0))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"product": "  "}, "no product"),
        ({"product_type": "hand creme"}, "product type 'hand creme' is not known.*hand cream"),
        ({"product_type": "shampoo", "leave_on": True}, "but a shampoo is rinsed off"),
        ({"leave_on": "yes"}, "leave on is 'yes'"),
        ({"form": "foam"}, "form 'foam' is not known"),
        ({"market": ("UK",)}, "market 'UK' is not known.*GB for Great Britain"),
        ({"market": ()}, "no market"),
        ({"ph": (5.6, 4.8)}, "pH window of 5.6 to 4.8"),
        ({"ph": (4.8, 48)}, "pH window of 4.8 to 48"),
        ({"ph": 5}, "the ph window is 5"),
        ({"viscosity": ("35 Pa*s", "20 Pa*s")}, "viscosity window of 35 Pa"),
        ({"windows": {"spread": ("5 mm", "5 g")}}, "spread window of 5 mm to 5 g"),
        ({"must_have": ("Wool",), "must_not": ("wool",)}, "'wool' is wanted and excluded"),
        ({"durability": "a while"}, "durability of 'a while'"),
        ({"durability": 0}, "durability of 0"),
        ({"cost": "cheap"}, "cost ceiling of 'cheap'"),
        ({"cost": "0 EUR/kg"}, "cost ceiling of '0 EUR/kg'"),
        ({"batch": "0 g"}, "batch of 0 g.*More than zero"),
    ],
)
def test_a_brief_that_contradicts_itself_is_refused(change: dict, words: str) -> None:
    with pytest.raises(BriefError, match=words):
        Brief(**({"product": "cream"} | change))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"viscosity": ("20", "35")}, "has no unit"),
        ({"viscosity": ("20 g", "35 g")}, "is a mass, not a viscosity"),
        ({"batch": "3 min"}, "is a time"),
        ({"ph": ("NaN", 5)}, "is not a pH"),
        ({"cost": "1.2.3 EUR/kg"}, "more than one decimal sign"),
    ],
)
def test_a_window_without_a_usable_unit_is_refused(change: dict, words: str) -> None:
    with pytest.raises(QuantityError, match=words):
        Brief(**({"product": "cream"} | change))


def test_an_unknown_point_is_refused_with_the_known_ones() -> None:
    with pytest.raises(BriefError, match="no point called 'pH'.*viscosity"):
        Brief(product="cream").with_(pH=(4, 5))
    with pytest.raises(BriefError, match="points that are not known: colour"):
        Brief.from_dict({"product": "cream", "colour": "blue"})


@given(st.floats(0, 13.9), st.floats(0.05, 5))
def test_any_ordered_ph_window_survives_the_file(low: float, width: float) -> None:
    if low + width <= 14:
        brief = Brief(product="x", ph=(repr(round(low, 3)), repr(round(low + width, 3))))
        assert Brief.from_dict(brief.as_dict()).ph == brief.ph


def test_every_product_type_is_used_somehow_and_somewhere_known() -> None:
    kinds = set(product_types().values())
    assert {k.use for k in kinds} == USES
    assert all(k.areas <= AREAS for k in kinds)
    exposures = {row["product_type"] for row in tables.rows("exposure")}
    assert {k.exposure for k in kinds} - {None} <= exposures
    names = [
        name.strip().casefold()
        for row in tables.rows("product_types")
        for name in (row["product_type"], *(row["aliases"] or "").split(";"))
        if name and name.strip()
    ]
    assert len(names) == len(set(names)), "a name stands for two product types"


def test_a_broad_type_leaves_open_what_a_named_one_settles() -> None:
    broad, lotion = product_type("leave-on"), product_type("body lotion")
    assert broad is not None
    assert lotion is not None
    assert (broad.has("body-lotion"), lotion.has("body-lotion")) == (None, True)
    assert (broad.has("shampoo"), lotion.has("face-cream")) == (False, False)
    assert (broad.has("rinse-off"), broad.has("hair")) == (False, None)
    assert (broad.has("spray"), broad.has("spray", sprayed=True)) == (False, True)


def test_forms_and_markets_are_named_once() -> None:
    assert len(set(FORMS)) == len(FORMS)
    assert set(MARKETS) == {"EU", "GB", "US"}
