from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.learning.posterior import Mixture, Posterior, Prior, fit, predictive


def _fitted(n: int = 8, seed: int = 1) -> tuple[Posterior, np.ndarray]:
    rng = np.random.default_rng(seed)
    x = rng.normal(0, 1, (n, 3))
    y = 3.7 + x @ [0.5, -0.2, 0.0] + rng.normal(0, 0.05, n)
    prior = Prior(mean=np.zeros(3), covariance=0.3**2 * np.eye(3))
    return fit(x, y, np.eye(n), prior), x


def test_moments_agree_with_the_conditional_gaussian_written_out() -> None:
    """One pair of scales, checked against the joint normal distribution by direct inversion."""
    rng = np.random.default_rng(3)
    x, new = rng.normal(0, 1, (5, 2)), rng.normal(0, 1, (3, 2))
    y = rng.normal(3.7, 0.3, 5)
    prior = Prior(
        mean=np.array([0.2, -0.1]),
        covariance=np.diag([0.1, 0.2]),
        noise_grid=(0.05,),
        effect_grid=(1.0,),
        bend_grid=(1e-6,),
    )
    post = fit(x, y, np.eye(5), prior)
    every = np.vstack([x, new])
    joint = every @ prior.covariance @ every.T + 0.36
    k = joint[:5, :5] + 0.05**2 * np.eye(5)
    mean = 3.7 + new @ prior.mean
    mean = mean + joint[5:, :5] @ np.linalg.solve(k, y - 3.7 - x @ prior.mean)
    var = np.diag(joint[5:, 5:] - joint[5:, :5] @ np.linalg.solve(k, joint[:5, 5:]))
    got_mean, got_var, _ = post.moments(new)
    if post.doubt.max() < 0.05:
        assert got_mean[0] == pytest.approx(mean, abs=1e-6)
        assert got_var[0] == pytest.approx(var, abs=1e-6)


def test_predictions_of_many_rows_equal_those_of_each_row() -> None:
    post, x = _fitted()
    levels = np.array([0.1, 0.5, 0.9])
    together = predictive(post, x).quantile(levels)
    alone = np.concatenate([predictive(post, row[None]).quantile(levels) for row in x])
    assert together == pytest.approx(alone, abs=1e-9)


def test_effects_find_the_slopes_that_made_the_data() -> None:
    post, _ = _fitted(30)
    mean, cov = post.effects()
    assert mean == pytest.approx([0.5, -0.2, 0.0], abs=0.06)
    assert (np.linalg.eigvalsh(cov) > 0).all()


def test_a_blunder_is_doubted_and_hardly_moves_the_fit() -> None:
    rng = np.random.default_rng(5)
    x = np.repeat(rng.normal(0, 0.5, (6, 2)), 3, axis=0)
    y = 3.7 + x @ [0.4, 0.1] + rng.normal(0, 0.02, 18)
    y[4] += 0.8
    prior = Prior(mean=np.zeros(2), covariance=0.2**2 * np.eye(2))
    post = fit(x, y, np.eye(18), prior)
    assert post.doubt[4] > 0.9
    assert np.delete(post.doubt, 4).max() < 0.5
    median = predictive(post, x[[4]]).quantile(np.array([0.5]))[0, 0]
    assert median == pytest.approx(3.7 + x[4] @ [0.4, 0.1], abs=0.08)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-3, 3), st.floats(0.01, 2)), min_size=1, max_size=6),
    st.floats(0.02, 0.98),
)
def test_quantile_undoes_the_distribution_function(
    parts: list[tuple[float, float]], level: float
) -> None:
    mean = np.array([[m for m, _ in parts]])
    sd = np.array([[s for _, s in parts]])
    mixture = Mixture(weight=np.full_like(mean, 1 / len(parts)), mean=mean, sd=sd)
    value = mixture.quantile(np.array([level]))[:, 0]
    spread = float(np.ptp(mean)) + float(sd.max())
    assert mixture.cdf(value)[0] == pytest.approx(level, abs=2e-3 * max(1.0, spread / sd.min()))


def test_hundreds_of_trials_are_fitted_with_the_scales_of_the_latest() -> None:
    post, x = _fitted(260)
    assert post.weight.size <= 3
    assert predictive(post, x[:4]).quantile(np.array([0.5]))[:, 0] == pytest.approx(
        3.7 + x[:4] @ [0.5, -0.2, 0.0], abs=0.06
    )
