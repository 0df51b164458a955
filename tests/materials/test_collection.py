"""Materials are found however they are typed, and a doubtful name is never guessed."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import MaterialError
from labkit.materials import Material, Materials

MATS = Materials.starter()


def name_of(text: str) -> str | None:
    found = MATS.resolve(text)
    return found.name if found else None


@pytest.mark.parametrize("material", MATS.values(), ids=lambda m: m.key)
def test_key_number_name_and_inci_lead_home(material: Material) -> None:
    for text in (material.key, material.starter_id or "", material.name, material.name.upper()):
        assert MATS.resolve(text) is material
    assert material in MATS.candidates(material.inci)
    found = MATS.resolve(material.inci)
    assert found is not None
    assert found.inci == material.inci


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Wasser", "Purified water"),
        ("glycerine", "Glycerol"),
        ("AQUA (for the gum)", "Purified water"),
        ("butter, shea", "Shea butter"),
        ("FD&C Red No. 40", "Allura red"),
        ("CI 77891", "Titanium Dioxide"),
        ("Sodium Laureth Sulphate", "SLES 28 %"),
        ("10 % sodium hydroxide", "Sodium hydroxide 10 % solution"),
        ("Ethylhexylglycerin (and) Phenoxyethanol", "Phenoxyethanol blend 90/10"),
        ("Phenoxyethanol & Ethylhexylglycerin", "Phenoxyethanol blend 90/10"),
    ],
)
def test_the_bench_spelling_of_a_name_resolves(text: str, name: str) -> None:
    expected = {"Titanium Dioxide": "CI 77891"}.get(name, name)
    assert name_of(text) == expected


@pytest.mark.parametrize(
    "text",
    ["", "  ", "glyc", "Glycerol monoxide", "Sheabutterine", "\u202eaqua x", "(and)", "A & B"],
)
def test_what_is_not_a_name_resolves_to_nothing(text: str) -> None:
    assert MATS.resolve(text) is None


def test_an_inci_of_several_grades_gives_its_usual_grade_and_shows_all() -> None:
    assert name_of("Citric Acid") == "Citric acid"
    assert name_of("Cetrimonium Chloride") == "Cetrimonium chloride 29 %"
    assert {m.name for m in MATS.candidates("Citric Acid")} == {
        "Citric acid",
        "Citric acid monohydrate",
        "Citric acid 50 % solution",
        "Citric acid 20 % solution",
    }


def test_without_a_usual_grade_nothing_is_guessed() -> None:
    mats = Materials([Material(key="a", name="A", inci="X"), Material(key="b", name="B", inci="X")])
    assert mats.resolve("X") is None
    assert {m.key for m in mats.candidates("X")} == {"a", "b"}


def test_your_own_grade_of_an_inci_comes_first() -> None:
    own = MATS.add(name="Quat from the new supplier", inci="Cetrimonium Chloride")
    found = own.resolve("Cetrimonium Chloride")
    assert found is not None
    assert found.name == "Quat from the new supplier"


def test_a_blend_of_known_parts_is_told_to_be_assumed() -> None:
    blend = MATS.resolve("Cetearyl Alcohol (and) Glyceryl Stearate")
    assert blend is not None
    assert blend.ordered_only
    assert blend.assumed is not None
    assert "not known" in blend.assumed
    assert [p.inci for p in blend.constituents] == ["Cetearyl Alcohol", "Glyceryl Stearate"]
    assert MATS.resolve("Cetearyl Alcohol (and) Unheardofium") is None


@pytest.mark.parametrize(
    "text",
    ["Cetearyl Alcohol (and) Glyceryl Stearate", "Polysorbate 60 & 1,2-Hexanediol + Isohexadecane"],
)
def test_an_assumed_blend_is_found_again_by_its_key(text: str) -> None:
    blend = MATS.resolve(text)
    assert blend is not None
    assert Materials(MATS.values()).resolve(blend.key) == blend


def test_candidates_of_an_unknown_name_are_what_is_nearest() -> None:
    assert "Phenoxyethanol" in [m.name for m in MATS.candidates("fenoxyethanol")]


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("glyc", "Glycerol"),
        ("buter shea", "Shea butter"),
        ("karité", "Shea butter"),
        ("cetyl alchol", "Cetyl alcohol"),
        ("phenoxethanol", "Phenoxyethanol"),
        ("sunfloweroil", "Sunflower oil"),
        ("ceteareth20", "Ceteareth-20"),
        ("7732-18-5", "Purified water"),
        ("xantan gum", "Xanthan"),
        ("niacinamid", "Vitamin B3 amide"),
        ("hyaluron", "Hyaluronic acid sodium salt"),
        ("vit e", "Vitamin E"),
        ("EDTA", "EDTA disodium"),
        ("emulsifying wax", "Emulsifying Wax BP"),
        ("tocoferol", "Vitamin E"),
        ("panthenl", "Provitamin B5"),
        ("kaolni", "China clay"),
    ],
)
def test_a_name_typed_roughly_is_among_the_first_five(typed: str, name: str) -> None:
    assert name in [m.name for m in MATS.find(typed, 5)]


@settings(deadline=None)
@given(st.sampled_from(list(MATS.values())), st.data())
def test_one_slip_in_a_long_word_still_finds_the_material(m: Material, data: st.DataObject) -> None:
    words = m.name.split()
    long = [i for i, w in enumerate(words) if len(w) >= 7 and w.isalpha() and w.isascii()]
    if not long:
        return
    which = data.draw(st.sampled_from(long))
    place = data.draw(st.integers(1, len(words[which]) - 2))
    word = words[which]
    words[which] = word[:place] + word[place + 1 :]
    assert m in MATS.find(" ".join(words), 12)


@settings(deadline=None)
@given(st.text(max_size=40))
def test_any_text_can_be_searched_and_resolved(text: str) -> None:
    assert len(MATS.find(text, 3)) <= 3
    found = MATS.resolve(text)
    assert found is None or isinstance(found, Material)


@pytest.mark.parametrize("n", [0, -1])
def test_asking_for_none_finds_none(n: int) -> None:
    assert MATS.find("glycerol", n) == []


def test_adding_leaves_the_old_collection_alone() -> None:
    more = MATS.add(name="Sea water", inci="Maris Aqua", phase="water")
    assert len(more) == 529
    assert "sea-water" in more
    assert "sea-water" not in MATS


def test_two_names_with_one_key_are_refused() -> None:
    twins = [Material(key="x", name="X", inci="X"), Material(key="x", name="x!", inci="X")]
    with pytest.raises(MaterialError, match="a second time"):
        Materials(twins)


def test_the_table_has_a_row_per_material() -> None:
    table = MATS.table()
    assert len(table) == 528
    row = table.set_index("key").loc["glycerol"]
    assert row["price_per_kg"] == 3.2
    assert row["inci"] == "Glycerin"
    assert table.set_index("key").loc["carbomer", "density_g_ml"] != 0


def test_equal_collections_are_equal() -> None:
    again = Materials(MATS.values())
    assert again == MATS
    assert hash(again) == hash(MATS)


def test_a_key_that_is_not_there_is_told_with_what_is_near() -> None:
    mats = Materials.starter()
    with pytest.raises(MaterialError, match=r"no material with the key 'Glycerin'.*'glycerol'"):
        mats["Glycerin"]
    with pytest.raises(KeyError, match="Add it"):
        Materials()["glycerol"]
    assert mats.get("Glycerin") is None
    assert "Glycerin" not in mats
