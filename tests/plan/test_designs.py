from __future__ import annotations

from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import BriefError
from labkit.formula.model import Formula
from labkit.learning.regression import scheffe_design
from labkit.plan.designs import (
    blocks_of,
    d_bound,
    d_criterion,
    extreme_vertices,
    optimal_design,
    region_candidates,
    simplex_centroid,
    simplex_lattice,
)
from labkit.plan.mixture import mixture, surface, ternary_grid

POLYOLS = ("Glycerin", "Propanediol", "Sorbitol")
BOUNDS = dict.fromkeys(POLYOLS, (1.0, 5.0))


@pytest.mark.parametrize(("q", "m"), [(2, 3), (3, 3), (4, 2), (6, 2)])
def test_a_lattice_has_the_number_of_points_that_counting_gives(q: int, m: int) -> None:
    points = simplex_lattice(q, m)
    assert len(points) == comb(q + m - 1, m)
    assert np.allclose(points.sum(axis=1), 1)


def test_a_centroid_design_has_every_subset_once() -> None:
    assert len(np.unique(simplex_centroid(5).round(9), axis=0)) == 2**5 - 1


@settings(max_examples=80, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 0.3), st.floats(0.05, 0.9)), min_size=2, max_size=6))
def test_vertices_lie_in_the_region_and_no_other_blend_is_further_out(
    pairs: list[tuple[float, float]],
) -> None:
    low = np.array([a for a, _ in pairs])
    high = low + np.array([b for _, b in pairs])
    if low.sum() > 1 or high.sum() < 1:
        with pytest.raises(BriefError, match="room for a total"):
            extreme_vertices(low, high)
        return
    points = extreme_vertices(low, high)
    assert np.allclose(points.sum(axis=1), 1, atol=1e-7)
    assert (points >= low - 1e-7).all()
    assert (points <= high + 1e-7).all()
    slope = np.random.default_rng(1).normal(size=low.size)
    assert (points @ slope).max() == pytest.approx(_greedy(low, high, slope), abs=1e-6)


def _greedy(low: np.ndarray, high: np.ndarray, slope: np.ndarray) -> float:
    """Largest linear value by filling the best components first: another way to the same number."""
    x, rest = low.copy(), 1 - low.sum()
    for j in np.argsort(-slope):
        add = min(rest, high[j] - low[j])
        x[j] += add
        rest -= add
    return float(x @ slope)


def test_the_d_optimal_quadratic_design_of_a_simplex_is_its_lattice() -> None:
    """Kiefer (1961): the {q,2} lattice is D-optimal for the quadratic mixture model."""
    rows = scheffe_design(simplex_lattice(3, 4))
    chosen = optimal_design(rows, 6)
    lattice = {tuple(p) for p in simplex_lattice(3, 2).tolist()}
    assert {tuple(p) for p in simplex_lattice(3, 4)[chosen].tolist()} == lattice


def test_no_exact_design_beats_the_bound() -> None:
    rows = scheffe_design(region_candidates([0.1, 0.1, 0.2], [0.6, 0.5, 0.7]))
    bound = d_bound(rows)
    for runs in (6, 9, 14):
        assert d_criterion(rows[optimal_design(rows, runs)]) <= bound * (1 + 1e-6)


def test_an_i_optimal_design_predicts_better_on_average_than_a_d_optimal_one() -> None:
    rows = scheffe_design(region_candidates([0.1, 0.1, 0.2], [0.6, 0.5, 0.7]))
    moments = rows.T @ rows / len(rows)

    def mean_variance(kind: str) -> float:
        x = rows[optimal_design(rows, 9, kind)]
        return float(np.trace(np.linalg.inv(x.T @ x) @ moments))

    assert mean_variance("I") <= mean_variance("D") + 1e-9


def test_every_group_of_a_class_gets_a_fair_share_of_the_region() -> None:
    plan = mixture(None, POLYOLS, BOUNDS, design="D-optimal", total=9.0, runs=12, groups=4)
    assert np.bincount(plan.block).tolist() == [3, 3, 3, 3]
    means = np.stack([plan.pseudo[plan.block == b].mean(axis=0) for b in range(4)])
    assert np.ptp(means, axis=0).max() < 0.4


def test_blocks_differ_in_size_by_at_most_one() -> None:
    counts = np.bincount(blocks_of(simplex_lattice(3, 3), 3))
    assert counts.max() - counts.min() <= 1


def test_designed_batches_are_formulas_that_total_100() -> None:
    text = (
        "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,3\nA,Propanediol,3\nA,Sorbitol,3\n"
        "A,Xanthan Gum,0.5\n"
    )
    base = Formula.parse(text)
    plan = mixture(base, POLYOLS, BOUNDS, design="vertices")
    assert plan.total == 9.0
    made = plan.formulas(base)
    assert len(made) == len(plan.percent)
    for formula, row in zip(made, plan.percent, strict=True):
        assert formula.total == 100
        shares = [float(formula.lines[formula.find(n)].percent) for n in POLYOLS]
        assert shares == pytest.approx(row.tolist(), abs=1e-9)
        assert formula.lines[formula.find("Aqua")].percent == base.lines[0].percent


def test_the_fit_of_a_design_gives_back_the_surface_that_made_the_answers() -> None:
    plan = mixture(None, POLYOLS, BOUNDS, design="lattice", total=7.0, degree=3)
    truth = scheffe_design(plan.pseudo) @ [1.0, 2.0, 3.0, 0.5, -0.5, 4.0]
    fit = plan.fit(truth)
    assert fit.terms[3] == "Glycerin*Propanediol"
    grid = ternary_grid(plan.low, [5.0] * 3, plan.total, steps=10)
    expected = scheffe_design((grid - plan.low) / 4.0) @ [1.0, 2.0, 3.0, 0.5, -0.5, 4.0]
    assert surface(fit, plan, grid) == pytest.approx(expected, abs=1e-8)
    alone = np.array([surface(fit, plan, point[None])[0] for point in grid])
    assert surface(fit, plan, grid) == pytest.approx(alone, abs=1e-12)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"vary": ("Glycerin",)}, "2 to 6 materials"),
        ({"design": "star"}, "D-optimal"),
        ({"bounds": {"Glycerin": (1, 5)}}, "no bounds for Propanediol, Sorbitol"),
        ({"total": None}, "neither a formula nor a total"),
        ({"total": 30.0}, "room for a total of 30"),
        ({"runs": 3}, "6 runs or more"),
        ({"groups": 99}, "at least one batch a group"),
        ({"vary": ("Glycerin", "Glycerin")}, "named twice"),
        ({"design": "lattice", "total": 14.0}, "upper bound inside the triangle"),
    ],
)
def test_impossible_designs_are_refused(change: dict[str, object], words: str) -> None:
    given: dict[str, object] = {"vary": POLYOLS, "bounds": BOUNDS, "total": 9.0} | change
    vary, bounds = given.pop("vary"), given.pop("bounds")
    with pytest.raises(BriefError, match=words):
        mixture(None, vary, bounds, **given)  # type: ignore[arg-type]


def test_bounds_upside_down_are_refused() -> None:
    with pytest.raises(BriefError, match="lower bound above"):
        extreme_vertices([0.5, 0.2], [0.4, 0.9])


def test_an_unknown_criterion_is_refused() -> None:
    with pytest.raises(BriefError, match="D or I"):
        optimal_design(np.eye(3), 3, "A")
