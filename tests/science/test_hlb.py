"""HLB: refusals, and rules that hold for every blend."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science import hlb

VALUES = st.floats(1.0, 20.0)


@given(low=VALUES, gap=st.floats(0.1, 15.0), share=st.floats(0.0, 1.0))
def test_a_pair_mixed_by_its_share_has_the_wanted_hlb(low: float, gap: float, share: float) -> None:
    high = low + gap
    target = min(max(low + share * gap, low), high)
    part = float(hlb.pair_share(target, high, low))
    assert 0.0 <= part <= 1.0
    assert float(hlb.blend([part, 1.0 - part], [high, low])) == pytest.approx(target, abs=1e-9)


@given(st.lists(st.tuples(st.floats(0.01, 100.0), VALUES), min_size=1, max_size=8))
def test_a_blend_lies_between_its_ends_and_ignores_order(parts: list[tuple[float, float]]) -> None:
    shares, values = zip(*parts, strict=True)
    mean = float(hlb.blend(shares, values))
    assert min(values) - 1e-9 <= mean <= max(values) + 1e-9
    assert float(hlb.blend(shares[::-1], values[::-1])) == pytest.approx(mean)


def test_a_target_out_of_reach_is_refused_with_the_range() -> None:
    with pytest.raises(ScienceError, match="target 16 lies outside 4.3 to 15") as refusal:
        hlb.pair_share(16.0, 15.0, 4.3)
    assert refusal.value.facts["reachable"] == (4.3, 15.0)


def test_one_target_out_of_many_is_shown() -> None:
    with pytest.raises(ScienceError, match="target 3 lies outside"):
        hlb.pair_share([10.0, 3.0], 15.0, 4.3)


def test_twice_the_same_emulsifier_is_refused() -> None:
    with pytest.raises(ScienceError, match="both emulsifiers have the same HLB"):
        hlb.pair_share(10.0, 14.9, 14.9)


def test_exchanged_emulsifiers_are_refused() -> None:
    with pytest.raises(ScienceError, match="high and low exchanged"):
        hlb.pair_amounts(10.0, 4.3, 15.0, 5.0)


def test_an_ester_heavier_than_its_acid_is_refused() -> None:
    with pytest.raises(ScienceError, match="Exchange them"):
        hlb.ester(198, 161)


def test_an_oil_phase_without_oil_is_refused() -> None:
    with pytest.raises(ScienceError, match="nothing in it"):
        hlb.blend([0.0, 0.0], [7.0, 11.0])


def test_amounts_and_values_of_different_lines_are_refused() -> None:
    with pytest.raises(ScienceError, match="3 amounts and 2 HLB"):
        hlb.blend([1.0, 2.0, 3.0], [7.0, 11.0])


def test_published_group_numbers_give_the_published_hlb() -> None:
    # Davies 1957: sodium oleate 18, sodium dodecyl sulfate 40; cetyl alcohol 1.3
    assert hlb.davies([(19.1, 1)], 17) == pytest.approx(18.0, abs=0.1)
    assert hlb.davies([(38.7, 1)], 12) == pytest.approx(40.0, abs=0.05)
    assert hlb.davies([(1.9, 1)], 16) == pytest.approx(1.3, abs=0.05)


@pytest.mark.parametrize(("bad", "words"), [(-1.0, "from 0"), (float("nan"), "nan")])
def test_impossible_ethoxylates_are_refused(bad: float, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        hlb.ethoxylate(bad, 270.0)
