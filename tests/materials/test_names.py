"""Names are compared without accents, capitals and signs, and kept without traps."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import MaterialError
from labkit.materials.names import checked_name, fold, parts_of_blend, slug, without_remarks


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Crème de Karité", "creme de karite"),
        ("Sodium Lauryl Sulphate", "sodium lauryl sulfate"),
        ("Magnesium Aluminium Silicate", "MAGNESIUM ALUMINUM SILICATE"),
        ("Hydrolysed oat protein", "Hydrolyzed Oat Protein"),
        ("β-glucan", "beta glucan"),
        ("Ceteareth-20", "ceteareth 20"),
        ("ﬁbre", "fibre"),
    ],
)
def test_spellings_of_one_name_are_one(one: str, other: str) -> None:
    assert fold(one) == fold(other)


def test_a_decimal_comma_in_a_strength_is_a_point() -> None:
    assert fold("Dye 0,1 %") == fold("Dye 0.1 %") != fold("Dye 1 %")


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("A (and) B (and) C", ("A", "B", "C")),
        ("A & B", ("A", "B")),
        ("A + B", ("A", "B")),
        ("A(AND)B", ("A", "B")),
        ("Caprylic/Capric Triglyceride", ("Caprylic/Capric Triglyceride",)),
    ],
)
def test_blends_fall_into_their_names(text: str, parts: tuple[str, ...]) -> None:
    assert parts_of_blend(text) == parts


def test_a_remark_in_brackets_is_dropped_and_the_rest_kept() -> None:
    assert without_remarks("Aqua (for the gum)") == "Aqua"


@given(st.text(max_size=60))
def test_folding_twice_changes_nothing(text: str) -> None:
    assert fold(fold(text)) == fold(text)


@given(st.text(max_size=60))
def test_composed_and_decomposed_letters_fold_alike(text: str) -> None:
    assert fold(unicodedata.normalize("NFC", text)) == fold(unicodedata.normalize("NFD", text))


@given(st.text(max_size=80))
def test_a_slug_is_plain(text: str) -> None:
    assert all(c.isalnum() or c == "-" for c in slug(text))


def test_a_kept_name_is_in_normal_form_c() -> None:
    assert checked_name("Cre\u0300me", where="x") == "Cr\u00e8me"


@pytest.mark.parametrize("sign", ["\u202e", "\u2066", "\u200b", "\u0000", "\u00ad", "\ue000"])
def test_hidden_signs_are_refused_and_named(sign: str) -> None:
    with pytest.raises(MaterialError, match=f"cannot be seen .U.{ord(sign):04X}"):
        checked_name(f"Shea{sign}butter", where="own.csv, row 2")


@pytest.mark.parametrize("name", ["", "   ", "---", "%"])
def test_no_name_is_refused(name: str) -> None:
    with pytest.raises(MaterialError, match="at least one letter or digit"):
        checked_name(name, where="own.csv, row 2")


def test_a_whole_text_is_no_name() -> None:
    with pytest.raises(MaterialError, match="a name of 301 characters"):
        checked_name("a" * 301, where="own.csv, row 2")


@pytest.mark.parametrize("name", ["=1+1", "+cmd|x", "@SUM(A1)"])
def test_what_a_spreadsheet_would_execute_is_no_name(name: str) -> None:
    with pytest.raises(MaterialError, match="a spreadsheet would execute"):
        checked_name(name, where="own.csv, row 2")
