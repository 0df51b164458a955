"""Thickness in five words, for benches without a viscometer: an ordered model on the same priors.

Each word is a range of log10 viscosity; the ranges are common practice, and the model's own scale
absorbs a bench that means thicker or thinner by its words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from labkit.errors import MeasurementError
from labkit.learning.posterior import Array, Prior

WORDS = ("runs", "pours", "drops", "mounds", "peaks")  # as the bench records them
EDGES = np.array([3.0, 3.6, 4.2, 4.7])  # log10 mPa s, common practice
WORD_SD = 0.14  # how unlike two people use the words, log10 units
EFFECT_GRID = (0.7, 1.5)
ROUNDS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class OrdinalModel:
    """A fitted five-word model."""

    prior: Prior
    design: Array
    fits: tuple[tuple[float, float, Array, Array], ...]  # weight, L, pull, inverse

    def predict(self, rows: Array) -> Array:
        """Probability of each word, shape (m, 5), for design rows (m, p)."""
        from scipy.special import ndtr

        out = np.zeros((rows.shape[0], len(WORDS)))
        for weight, lift, pull, inverse in self.fits:
            cross = kernel(rows, self.design, self.prior, lift)
            mean = self.prior.centre + rows @ self.prior.mean + cross @ pull
            own = np.einsum("mp,pq,mq->m", rows, self.prior.covariance * lift**2, rows)
            own = own + self.prior.centre_sd**2
            var = np.maximum(own - np.einsum("mn,nk,mk->m", cross, inverse, cross), 1e-9)
            sd = np.sqrt(var + WORD_SD**2)
            below = ndtr((EDGES - mean[:, None]) / sd[:, None])
            full = np.concatenate([np.zeros((len(mean), 1)), below, np.ones((len(mean), 1))], 1)
            out += weight * np.diff(full, axis=1)
        return out


def kernel(rows: Array, others: Array, prior: Prior, lift: float) -> Array:
    """Prior covariance of the hidden thickness between two sets of rows."""
    out: Array = lift**2 * (rows @ prior.covariance @ others.T) + prior.centre_sd**2
    return out


def word_number(word: str) -> int:
    """Position of a word on the scale, 0 to 4.

    Examples
    --------
    >>> word_number("mounds")
    3
    """
    folded = word.strip().lower()
    if folded not in WORDS:
        raise MeasurementError(
            where="Thickness in words",
            found=f"'{word}'",
            allowed=", ".join(WORDS),
            cause="Another word for the same thing",
            do="Choose the nearest of the five",
        )
    return WORDS.index(folded)


def fit_ordinal(rows: Array, words: Sequence[str], prior: Prior) -> OrdinalModel:
    """Fit thickness words on design rows (n, p) with the priors of viscosity.

    Notes
    -----
    Ordered probit with a Gaussian process prior, Laplace approximation (Rasmussen & Williams,
    Gaussian Processes for Machine Learning, 2006, ch. 3.4; Chu & Ghahramani, JMLR 6 (2005) 1019).
    """
    at = np.array([word_number(w) for w in words])
    edges = np.concatenate([[-np.inf], EDGES, [np.inf]])
    low, high = edges[at], edges[at + 1]
    fits = []
    for lift in EFFECT_GRID:
        cover = kernel(rows, rows, prior, lift) + 1e-8 * np.eye(len(at))
        fits.append((lift, *_laplace(cover, prior.centre + rows @ prior.mean, low, high)))
    evidence = np.array([f[1] for f in fits])
    weight = np.exp(evidence - evidence.max())
    weight /= weight.sum()
    return OrdinalModel(
        prior=prior,
        design=rows,
        fits=tuple((float(w), f[0], f[2], f[3]) for w, f in zip(weight, fits, strict=True)),
    )


def _laplace(cover: Array, mean: Array, low: Array, high: Array) -> tuple[float, Array, Array]:
    """Log evidence, pull ``K^-1 (f - mean)`` and ``(K + W^-1)^-1``."""
    f = mean.copy()
    log_like, slope, curve = _interval(f, low, high)
    for _ in range(ROUNDS):
        root = np.sqrt(curve)
        inner = np.linalg.inv(np.eye(f.size) + root[:, None] * cover * root)
        b = curve * (f - mean) + slope
        pull = b - root * (inner @ (root * (cover @ b)))
        new = mean + cover @ pull
        done = np.abs(new - f).max() < 1e-8
        f = f + np.clip(new - f, -2, 2)
        log_like, slope, curve = _interval(f, low, high)
        if done:
            break
    root = np.sqrt(curve)
    inner = np.linalg.inv(np.eye(f.size) + root[:, None] * cover * root)
    _, log_det = np.linalg.slogdet(inner)
    pull = slope
    evidence = log_like - 0.5 * float((f - mean) @ pull) + 0.5 * float(log_det)
    return evidence, pull, root[:, None] * inner * root


def _interval(f: Array, low: Array, high: Array) -> tuple[float, Array, Array]:
    """Log probability of each interval, its slope and curvature in ``f``."""
    from scipy.special import ndtr

    up, down = (high - f) / WORD_SD, (low - f) / WORD_SD
    chance = np.maximum(ndtr(up) - ndtr(down), 1e-12)
    pdf_up, pdf_down = np.exp(-0.5 * up**2), np.exp(-0.5 * down**2)
    norm = np.sqrt(2 * np.pi)
    slope = -(pdf_up - pdf_down) / (norm * WORD_SD * chance)
    finite_up, finite_down = np.where(np.isinf(up), 0.0, up), np.where(np.isinf(down), 0.0, down)
    bend = (finite_up * pdf_up - finite_down * pdf_down) / (norm * WORD_SD**2 * chance)
    return float(np.log(chance).sum()), slope, np.maximum(slope**2 + bend, 1e-6)
