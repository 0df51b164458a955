"""Lines fall into substances without gain or loss."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.materials import Constituent, Material, Materials, decompose

MATS = Materials.starter()
ALL = list(MATS.values())


def material(*parts: tuple[str, float]) -> Material:
    return Material(
        key="x",
        name="x",
        inci=" (and) ".join(name for name, _ in parts),
        constituents=tuple(
            Constituent(inci=name, order=k, low=share, high=share)
            for k, (name, share) in enumerate(parts, start=1)
        ),
    )


@st.composite
def exact_blends(draw: st.DrawFn) -> Material:
    names = draw(st.lists(st.sampled_from("ABCDEFG"), min_size=1, max_size=5, unique=True))
    weights = [draw(st.integers(1, 1000)) for _ in names]
    return material(*((n, w / sum(weights)) for n, w in zip(names, weights, strict=True)))


@settings(deadline=None)
@given(st.lists(exact_blends(), min_size=1, max_size=6), st.data())
def test_exact_blends_lose_nothing(blends: list[Material], data: st.DataObject) -> None:
    lines = [data.draw(st.floats(0, 100)) for _ in blends]
    parts = decompose(blends)
    low, high = parts.range(lines)
    assert parts.percent(lines).sum() == pytest.approx(sum(lines))
    assert low == pytest.approx(high)
    assert low == pytest.approx(parts.percent(lines))


@settings(deadline=None)
@given(st.lists(st.sampled_from(ALL), min_size=1, max_size=12))
def test_every_line_of_starter_materials_is_whole(lines: list[Material]) -> None:
    parts = decompose(lines)
    assert parts.typical.sum(axis=1) == pytest.approx(np.ones(len(lines)))
    assert (parts.low <= parts.typical + 1e-9).all()
    assert (parts.typical <= parts.high + 1e-9).all()
    assert (parts.low.sum(axis=1) <= 1 + 1e-9).all()
    assert (parts.high.sum(axis=1) >= 1 - 1e-9).all()


def test_one_substance_from_two_lines_is_summed_and_traced() -> None:
    lines = [MATS["cetyl-alcohol"], MATS["glycerol"], MATS["polyglyceryl-one-pot-blend"]]
    parts = decompose(lines)
    assert parts.lines_of("Cetyl Alcohol") == (0, 2)
    column = parts.inci.index("Cetyl Alcohol")
    share = parts.percent([2.0, 3.0, 5.0])[column]
    assert 2.0 < share < 2.0 + 5.0 / 4 + 1e-9
    assert parts.lines_of("Gold") == ()


def test_ninety_to_ten_is_ninety_to_ten() -> None:
    """1 % of a 90/10 blend brings 0.9 % and 0.1 %, as the blend's name says."""
    parts = decompose([MATS["phenoxyethanol-blend-90-10"]])
    assert parts.inci == ("Phenoxyethanol", "Ethylhexylglycerin")
    assert parts.percent([1.0]) == pytest.approx([0.9, 0.1])


def test_what_a_natural_oil_holds_counts_beside_the_sum() -> None:
    parts = decompose([MATS["rose-oil"], MATS["glycerol"]])
    oil, inner = parts.inci.index("Rosa Damascena Flower Oil"), parts.inci.index("Methyl Eugenol")
    assert parts.typical[0, oil] == 1.0
    assert parts.typical[0, inner] == 0.0
    assert parts.within_high[0, inner] == pytest.approx(0.03)
    assert parts.lines_of("Methyl Eugenol") == (0,)


def test_a_line_that_is_not_known_stays_whole_under_its_name() -> None:
    parts = decompose([None, MATS["glycerol"]], ["Mystery gel", "Glycerol"])
    assert parts.inci == ("Mystery gel", "Glycerin")
    assert parts.percent([4.0, 6.0]) == pytest.approx([4.0, 6.0])


def test_a_strength_without_composition_leaves_a_rest_that_is_not_stated() -> None:
    half = Material(key="x", name="X 50 %", inci="X", strength=0.5)
    parts = decompose([half])
    assert parts.inci == ("X", "not stated")
    assert parts.percent([10.0]) == pytest.approx([5.0, 5.0])


def test_a_substance_told_twice_in_one_material_is_summed() -> None:
    parts = decompose([material(("A", 0.3), ("B", 0.4), ("A", 0.3))])
    assert parts.inci == ("A", "B")
    assert parts.percent([10.0]) == pytest.approx([6.0, 4.0])
    assert parts.range([10.0])[1] == pytest.approx([6.0, 4.0])


def test_roles_are_kept() -> None:
    parts = decompose([MATS["capb-30"]])
    roles = dict(zip(parts.inci, parts.roles[0], strict=True))
    assert roles["Aqua"] == "water"
    assert roles["Sodium Chloride"] == "salt"


def test_many_formulas_at_once_are_each_formula_alone() -> None:
    lines = [MATS["purified-water"], MATS["sles-28"], MATS["capb-30"], MATS["salt"]]
    parts = decompose(lines)
    many = np.array([[60.0, 30.0, 8.0, 2.0], [50.0, 40.0, 9.0, 1.0]])
    assert parts.percent(many) == pytest.approx(np.array([parts.percent(row) for row in many]))
    assert parts.percent(many[0][None, None]).shape == (1, 1, len(parts.inci))
