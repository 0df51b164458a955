"""A material that cannot be is refused when it is made."""

from __future__ import annotations

from typing import Any

import pytest

from labkit.errors import LabkitError, MaterialError
from labkit.materials import Constituent, Material, SourceRef


def make(**fields: Any) -> Material:
    return Material(**({"key": "x", "name": "X", "inci": "X"} | fields))


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"use_low": 5.0, "use_high": 1.0}, "use level 5 to 1 %"),
        ({"use_high": 120.0}, "use level 120 %"),
        ({"ph_low": 3.0, "ph_high": 15.0}, "pH window 3 to 15"),
        ({"strength": 30.0}, "strength 30"),
        ({"density_g_ml": 910.0}, "density 910 g/mL"),
        ({"heat_limit_c": 3000.0}, "heat limit 3000 °C"),
        ({"ph_low": float("nan")}, "pH window nan"),
    ],
)
def test_impossible_figures_are_refused(fields: dict[str, float], words: str) -> None:
    with pytest.raises(MaterialError, match=words):
        make(**fields)


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([("A", 0.7, 0.8), ("B", 0.4, 0.5)], "add up to 110 to 130 %"),
        ([("A", 0.2, 0.3)], "add up to 20 to 30 %"),
        ([("A", 0.9, 0.2), ("B", 0.1, 0.8)], "shares of A from 0.9 to 0.2"),
        ([("A", None, 0.5), ("B", 0.5, 1.0)], "shares of A from None to 0.5"),
        ([("A", 0.5, 1.5)], "shares of A from 0.5 to 1.5"),
    ],
)
def test_parts_that_cannot_make_a_whole_are_refused(
    parts: list[tuple[str, float | None, float | None]], words: str
) -> None:
    with pytest.raises(MaterialError, match=words):
        make(constituents=tuple(Constituent(inci=n, low=a, high=b) for n, a, b in parts))


def test_a_refusal_has_five_parts() -> None:
    with pytest.raises(LabkitError) as caught:
        make(use_high=120.0)
    assert all(
        (
            caught.value.where,
            caught.value.found,
            caught.value.allowed,
            caught.value.cause,
            caught.value.do,
        )
    )


def test_shares_stay_with_what_is_known() -> None:
    blend = make(
        constituents=(
            Constituent(inci="A", low=0.7, high=0.77),
            Constituent(inci="B", low=0.23, high=0.3),
        )
    )
    low, usual, high = blend.shares()
    assert low == pytest.approx([0.7, 0.23])
    assert high == pytest.approx([0.77, 0.3])
    assert sum(usual) == pytest.approx(1.0)
    assert blend.is_blend
    assert not blend.ordered_only


def test_an_exact_share_is_exact() -> None:
    assert Constituent(inci="A", low=0.1, high=0.1).exact
    assert not Constituent(inci="A", low=0.1, high=0.2).exact
    assert not Constituent(inci="A").exact


def test_an_own_material_says_all_that_is_missing() -> None:
    words = make(functions=("emollient",), phase="oil").unknowns()
    assert {"density", "price", "heat limit", "required HLB", "usual use level"} <= set(words)
    assert "acid and base content" in make(charge="acid").unknowns()
    partly = make(
        constituents=(Constituent(inci="A", low=0.5, high=0.6), Constituent(inci="B", order=2))
    )
    assert "some shares of the blend" in partly.unknowns()


def test_a_source_is_told_in_words_with_its_place() -> None:
    ref = SourceRef(source_id="griffin-1949; memory", kind="opened", place="Table 5")
    assert "Griffin" in ref.words
    assert ref.words.endswith("from memory, Table 5")
    assert SourceRef(source_id="own file", kind="own").words == "own file"


def test_a_material_shows_its_name() -> None:
    assert repr(make()) == "<Material 'X': X>"
