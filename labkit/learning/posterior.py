"""A Gaussian linear model with informative priors, averaged over a small grid of its scales.

``y = b0 + X (m + w) + noise`` with ``w ~ N(0, L^2 C)``, ``b0 ~ N(centre, centre_sd^2)`` and noise
variance ``s^2 V``. The noise scale ``s`` and the effect scale ``L`` are averaged over a grid by
marginal likelihood, so that the bands carry the doubt about both. Bayesian linear regression as in
Bishop, Pattern Recognition and Machine Learning (2006), ch. 3.3 and 6.4.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

NOISE_GRID = (0.03, 0.05, 0.08, 0.13)
EFFECT_GRID = (0.6, 1.2, 2.4)
BEND_GRID = (0.02, 0.08, 0.2)
KEPT = 12
MANY, KEPT_OF_MANY = 120, 3  # above so many trials the scales come from the latest
TAIL_FACTORS = np.array([0.65, 1.0, 1.9])
TAIL_WEIGHTS = np.array([0.25, 0.55, 0.20])
BLUNDER_CHANCE = 0.005
BLUNDER_SD = 0.4
ROUNDS = 9
INV_ROOT_2PI = 0.3989422804014327


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """What is believed before the first trial: effect means, covariance, centre of the answer."""

    mean: Array
    covariance: Array
    centre: float = 3.7
    centre_sd: float = 0.6
    noise_grid: tuple[float, ...] = NOISE_GRID
    noise_centre: float = 0.06
    noise_log_sd: float = 0.5
    effect_grid: tuple[float, ...] = EFFECT_GRID
    effect_centre: float = 0.7
    bend_grid: tuple[float, ...] = BEND_GRID
    reach: float = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """The averaged fit: one entry a kept pair of scales along the leading axis ``g``."""

    prior: Prior
    design: Array  # (n, p) rows as fitted
    weight: Array  # (g,)
    noise: Array  # (g,) s
    effect: Array  # (g,) L
    bend: Array  # (g,) D, size of what a straight line cannot follow
    inverse: Array  # (g, n, n) K^-1
    pull: Array  # (g, n) K^-1 r
    widening: float
    doubt: Array  # (n,) how likely each trial is a blunder

    def moments(self, rows: Array, extra: Array | float = 0.0) -> tuple[Array, Array, Array]:
        """Mean ``(g, m)``, epistemic variance ``(g, m)`` and noise variance ``(g, 1)``."""
        prior, lift = self.prior, self.effect[:, None] ** 2
        cx = rows @ prior.covariance
        near = nearness(rows, self.design, prior)
        cross = lift[:, :, None] * (cx @ self.design.T) + prior.centre_sd**2
        cross = cross + (self.bend**2)[:, None, None] * near
        mean = prior.centre + rows @ prior.mean + (cross @ self.pull[:, :, None])[..., 0]
        own = lift * np.einsum("mp,mp->m", cx, rows) + prior.centre_sd**2
        own = own + self.bend[:, None] ** 2
        known = np.einsum("gmn,gmn->gm", cross @ self.inverse, cross)
        return mean, np.maximum(own - known, 1e-10) + extra, self.noise[:, None] ** 2

    def effects(self) -> tuple[Array, Array]:
        """Posterior mean ``(p,)`` and covariance ``(p, p)`` of the effects, grid averaged."""
        c, x = self.prior.covariance, self.design
        lift = self.effect**2
        xc = x @ c
        each = self.prior.mean + lift[:, None] * (self.pull @ xc)
        mean = self.weight @ each
        cov = np.einsum("g,gij->ij", self.weight * lift**2, xc.T @ self.inverse @ xc)
        spread = each - mean
        covariance = (self.weight @ lift) * c - cov + (spread.T * self.weight) @ spread
        return mean, 0.5 * (covariance + covariance.T)


def fit(design: Array, y: Array, noise_share: Array, prior: Prior) -> Posterior:
    """Average the model over its scales; rows whose reading looks like a blunder count less.

    Parameters
    ----------
    design : ndarray, shape (n, p)
        Features of the trials.
    y : ndarray, shape (n,)
        The answers.
    noise_share : ndarray, shape (n, n)
        Noise covariance in units of ``s^2``.
    prior : Prior
        Means, covariance and scales.

    Returns
    -------
    Posterior

    Notes
    -----
    Above 120 rows the scales are weighed on the latest 120 and the three heaviest are kept.
    """
    core = design @ prior.covariance @ design.T
    rest = y - prior.centre - design @ prior.mean
    near = nearness(design, design, prior)
    grid = np.array(list(product(prior.noise_grid, prior.effect_grid, prior.bend_grid))).T
    if y.size > MANY:
        late = slice(y.size - MANY, None)
        part = core[late, late], near[late, late], rest[late], noise_share[late, late]
        grid = _average(grid, *part, prior, np.zeros(MANY))[0][:, -KEPT_OF_MANY:]
    every = core, near, rest, noise_share
    first = _average(grid, *every, prior, np.zeros(y.size))
    doubt = _doubt(first)
    if doubt.max(initial=0.0) > 0.05:
        first = _average(first[0], *every, prior, doubt)
    (noise, effect, bend), weight, inverse, pull = first
    z2 = np.sum(weight[:, None] * pull**2 / np.einsum("gii->gi", inverse), axis=0)
    widening = max(1.0, float(np.sqrt((8 + np.minimum(z2, 16).sum()) / (8 + y.size))))
    return Posterior(
        prior=prior,
        design=design,
        weight=weight,
        noise=noise,
        effect=effect,
        bend=bend,
        inverse=inverse,
        pull=pull,
        widening=widening,
        doubt=doubt,
    )


def nearness(rows: Array, others: Array, prior: Prior) -> Array:
    """Likeness of two formulas, 1 at the same point, in prior standard deviations of answer."""
    scale = np.sqrt(np.diagonal(prior.covariance)) / prior.reach
    a, b = rows * scale, others * scale
    square = (a * a).sum(axis=1)[:, None] + (b * b).sum(axis=1)[None, :] - 2 * a @ b.T
    out: Array = 1.0 / (1.0 + np.maximum(square, 0.0))
    return out


def _average(
    grid: Array, core: Array, near: Array, rest: Array, share: Array, prior: Prior, doubt: Array
) -> tuple[Array, Array, Array, Array]:
    """Fit every triple of scales at once; return the heaviest, heaviest last, with weights."""
    s, lift, bend = grid
    extra = np.diag(doubt / np.maximum(1 - doubt, 0.02) * BLUNDER_SD**2)
    k = (lift**2)[:, None, None] * core + prior.centre_sd**2 + extra
    k = k + (s**2)[:, None, None] * share + (bend**2)[:, None, None] * near
    chol = np.linalg.cholesky(k)
    inverse = np.linalg.inv(k)
    pull = inverse @ rest
    log_det = 2 * np.log(np.einsum("gii->gi", chol)).sum(axis=1)
    score = -0.5 * (pull @ rest + log_det)
    score -= 0.5 * (np.log(s / prior.noise_centre) / prior.noise_log_sd) ** 2
    score -= 0.5 * (np.log(lift / prior.effect_centre) / 0.7) ** 2
    keep = np.argsort(score)[-KEPT:]
    weight = np.exp(score[keep] - score[keep].max())
    return grid[:, keep], weight / weight.sum(), inverse[keep], pull[keep]


def _doubt(fitted: tuple[Array, Array, Array, Array]) -> Array:
    """Chance that each trial's reading is a blunder, from its leave-one-out surprise."""
    _, weight, inverse, pull = fitted
    variance = 1.0 / np.einsum("gii->gi", inverse)
    surprise2 = (pull * variance) ** 2
    wide = variance + BLUNDER_SD**2
    log_ratio = 0.5 * (np.log(variance / wide) + surprise2 / variance - surprise2 / wide)
    odds = BLUNDER_CHANCE / (1 - BLUNDER_CHANCE) * np.exp(np.minimum(log_ratio, 50))
    chance: Array = np.sum(weight[:, None] * (odds / (1 + odds)), axis=0)
    return chance


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixture:
    """A predictive distribution a row: Gaussians along the last axis."""

    weight: Array  # (..., k), sums to 1
    mean: Array  # (..., k)
    sd: Array  # (..., k)

    def cdf(self, value: Array | float) -> Array:
        """Probability below ``value`` (broadcast over rows)."""
        from scipy.special import ndtr

        z = (np.asarray(value, float)[..., None] - self.mean) / self.sd
        out: Array = np.sum(self.weight * ndtr(z), axis=-1)
        return out

    def quantile(self, levels: Array) -> Array:
        """Quantiles at ``levels`` (q,) for every row: shape ``(..., q)``."""
        from scipy.special import ndtr, ndtri

        middle = np.sum(self.weight * self.mean, axis=-1)
        spread2 = np.sum(self.weight * (self.sd**2 + self.mean**2), axis=-1) - middle**2
        spread = np.sqrt(np.maximum(spread2, 1e-14))
        low = (self.mean - 9 * self.sd).min(axis=-1)[..., None] + np.zeros(levels.size)
        high = (self.mean + 9 * self.sd).max(axis=-1)[..., None] + np.zeros(levels.size)
        x = np.clip(middle[..., None] + spread[..., None] * ndtri(levels), low, high)
        weight, mean, sd = (a[..., None, :] for a in (self.weight, self.mean, self.sd))
        for _ in range(ROUNDS):
            z = (x[..., None] - mean) / sd
            miss = np.sum(weight * ndtr(z), axis=-1) - levels
            low, high = np.where(miss < 0, x, low), np.where(miss > 0, x, high)
            slope = np.sum(weight * np.exp(-0.5 * z * z) / sd, axis=-1) * INV_ROOT_2PI
            trial = x - miss / np.maximum(slope, 1e-12)
            outside = (trial < low) | (trial > high)
            x = np.where(outside, 0.5 * (low + high), trial)
        return np.asarray(x)

    def mean_of_square(self, target: float) -> Array:
        """Expected squared distance to ``target``, a row."""
        out: Array = np.sum(self.weight * ((self.mean - target) ** 2 + self.sd**2), axis=-1)
        return out


def predictive(
    post: Posterior, rows: Array, extra: Array | float = 0.0, new_share: float = 0.675
) -> Mixture:
    """The band of a new measured batch, its own noise included."""
    mean, epistemic, noise = post.moments(rows, extra)
    factor = (TAIL_FACTORS * post.widening)[:, None, None]
    sd = np.sqrt(factor**2 * epistemic[None] + noise[None] * new_share * post.widening**2)
    weight = (TAIL_WEIGHTS[:, None] * post.weight[None]).ravel()
    count = rows.shape[0]
    return Mixture(
        weight=np.broadcast_to(weight, (count, weight.size)),
        mean=np.broadcast_to(mean[None], sd.shape).reshape(-1, count).T,
        sd=sd.reshape(-1, count).T,
    )
