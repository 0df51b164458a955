from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.learning.regression import linear_fit, scheffe_design, scheffe_fit, scheffe_terms


def test_every_figure_agrees_with_a_reference_library() -> None:
    """statsmodels OLS, used at test time only."""
    rng = np.random.default_rng(2)
    x = np.column_stack([np.ones(30), rng.normal(size=(30, 3))])
    y = x @ [1.0, 0.5, -2.0, 0.0] + rng.normal(0, 0.3, 30)
    ours, theirs = linear_fit(x, y), sm.OLS(y, x).fit()
    assert ours.coefficients == pytest.approx(theirs.params, rel=1e-10)
    assert ours.std_errors == pytest.approx(theirs.bse, rel=1e-10)
    assert ours.r2 == pytest.approx(theirs.rsquared, rel=1e-10)
    assert ours.f_ratio == pytest.approx(theirs.fvalue, rel=1e-9)
    assert ours.leverage == pytest.approx(theirs.get_influence().hat_matrix_diag, rel=1e-9)


def test_exact_and_floating_agree_where_both_can() -> None:
    x = [[1, 1.5], [1, 2.5], [1, 4.0], [1, 7.25]]
    y = [2.0, 3.1, 4.4, 8.0]
    a, b = linear_fit(x, y), linear_fit(x, y, exact=True)
    assert a.coefficients == pytest.approx(b.coefficients, rel=1e-12)
    assert a.residual_ss == pytest.approx(b.residual_ss, rel=1e-9)


def test_an_ill_conditioned_polynomial_is_solved_exactly() -> None:
    """Wampler-like: y = 1 + x + ... + x^5 at x = 0..20 has every coefficient 1, residual 0."""
    t = np.arange(21.0)
    x = t[:, None] ** np.arange(6)
    fit = linear_fit(x, x.sum(axis=1), exact=True)
    assert fit.coefficients.tolist() == [1.0] * 6
    assert fit.residual_ss == 0.0


def test_a_saturated_fit_knows_no_standard_error() -> None:
    fit = scheffe_fit(np.eye(3), [1.0, 2.0, 3.0], "linear")
    assert fit.residual_df == 0
    assert np.isnan(fit.std_errors).all()


@settings(max_examples=40, deadline=None)
@given(st.integers(2, 5), st.sampled_from(["linear", "quadratic", "special cubic"]))
def test_a_mixture_model_gives_back_its_own_coefficients(q: int, model: str) -> None:
    rng = np.random.default_rng(q)
    terms = scheffe_terms(q, model)
    shares = rng.dirichlet(np.ones(q), size=4 * len(terms))
    truth = rng.normal(size=len(terms))
    fit = scheffe_fit(shares, scheffe_design(shares, model) @ truth, model)
    assert fit.coefficients == pytest.approx(truth, abs=1e-7)


def test_design_of_many_rows_is_that_of_each_row() -> None:
    shares = np.random.default_rng(0).dirichlet(np.ones(4), size=(3, 5))
    whole = scheffe_design(shares)
    assert whole.shape == (3, 5, 10)
    each = [[scheffe_design(s).tolist() for s in block] for block in shares]
    assert whole.tolist() == each


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        ([[1.0, 2.0]], [1.0], "1 runs for 2 terms"),
        ([[1.0], [np.nan]], [1.0, 2.0], "missing or infinite"),
        ([[1.0], [2.0]], [1.0], "1 answers"),
        ([[1, 2], [2, 4], [3, 6]], [1, 2, 3], "depend on each other"),
    ],
)
def test_fits_that_mean_nothing_are_refused(x: list, y: list, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        linear_fit(x, y)


def test_percentages_beside_a_constant_are_refused_in_exact_arithmetic_too() -> None:
    x = [[1, 30, 70], [1, 40, 60], [1, 55, 45], [1, 20, 80]]
    with pytest.raises(ScienceError, match="sum to 100 beside a constant"):
        linear_fit(x, [1, 2, 3, 4], exact=True)


def test_an_unknown_mixture_model_is_refused() -> None:
    with pytest.raises(ScienceError, match="linear, quadratic or special cubic"):
        scheffe_terms(3, "cubic")
