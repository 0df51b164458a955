"""What holds for every mixture."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.science.acid_constants import shipped_components
from labkit.science.acidbase import compile_system, solve_ph

WEAK = sorted(name for name, part in shipped_components().items() if part.pka25)
AMOUNT = st.one_of(st.just(0.0), st.floats(1e-12, 2.0))
MIXTURE = st.dictionaries(st.sampled_from([*WEAK, "Na", "K", "Cl"]), AMOUNT, min_size=1, max_size=8)


@settings(max_examples=200, deadline=None)
@given(totals=MIXTURE, level=st.floats(0.0, 100.0))
def test_any_mixture_solves_and_the_two_paths_agree(totals: dict[str, float], level: float) -> None:
    single = float(solve_ph(totals, temperature_c=level))
    assert -3.0 < single < 17.0
    batch = solve_ph({name: [x, 0.5 * x] for name, x in totals.items()}, temperature_c=level)
    assert abs(batch[0] - single) < 1e-9  # type: ignore[index]


DILUTE = st.dictionaries(
    st.sampled_from([*WEAK, "Na", "K", "Cl"]),
    st.one_of(st.just(0.0), st.floats(1e-9, 0.05)),
    min_size=1,
    max_size=6,
)


@settings(max_examples=200, deadline=None)
@given(totals=DILUTE, more=st.floats(1e-6, 0.02), activity=st.sampled_from(["davies", "ideal"]))
def test_more_strong_acid_never_raises_ph_and_more_base_never_lowers_it(
    totals: dict[str, float], more: float, activity: str
) -> None:
    before = float(solve_ph(totals, activity=activity))
    acid = totals | {"Br": more}
    base = totals | {"Li": more}
    # added salt moves pKa: with activities the acid's own charge is a second, small effect
    assert float(solve_ph(acid, activity=activity)) <= before + 1e-9
    assert float(solve_ph(base, activity=activity)) >= before - 1e-9


@settings(max_examples=100, deadline=None)
@given(totals=DILUTE)
def test_the_order_of_components_does_not_matter(totals: dict[str, float]) -> None:
    turned = dict(reversed(list(totals.items())))
    assert solve_ph(turned) == pytest.approx(float(solve_ph(totals)), abs=1e-9)


@pytest.mark.parametrize("activity", ["davies", "bates-guggenheim", "ideal"])
@pytest.mark.parametrize("level", [0.0, 25.0, 100.0])
def test_ten_thousand_random_systems_settle_with_balanced_charge(
    activity: str, level: float
) -> None:
    rng = np.random.default_rng(20240131)
    names = [*rng.permutation(WEAK)[:10], "Na", "Cl"]
    system = compile_system([str(name) for name in names], None, level, activity)
    totals = 10.0 ** rng.uniform(-12.0, np.log10(2.0), (10_000, 12))
    totals[rng.random(totals.shape) < 0.3] = 0.0
    found = system.detail(totals)
    assert np.all(np.isfinite(found.ph))
    for row in range(0, 10_000, 500):
        assert abs(system.solve(totals[row]) - found.ph[row]) < 1e-9  # type: ignore[index]
    carried = totals[:, -2] - totals[:, -1]
    for name, amounts in found.species.items():
        carried = carried + amounts @ np.array(found.charges[name], dtype=float)
    d = np.log10(_spread(found, activity, level))
    water = 10.0 ** (-found.ph + d) - 10.0 ** (found.ph - system.pkw + d)
    scale = totals.sum(axis=1) + 1e-7
    assert np.max(np.abs(carried + water) / scale) < 1e-7


def _spread(found: object, activity: str, level: float) -> np.ndarray:
    from labkit.science.activity import activity_term

    strength = found.ionic_strength  # type: ignore[attr-defined]
    return np.asarray(10.0 ** np.asarray(activity_term(strength, level, activity)))
