"""Outcomes that are yes or no, such as "split": a logistic model learned from the trials.

The score is linear in the amounts, in the totals of each charge class and in their products
(anionic with cationic and the like), with a smooth remainder for what lines cannot follow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.errors import MeasurementError
from labkit.learning.posterior import Array

SCALES = ((0.6, 0.6), (0.6, 1.4), (1.2, 0.6), (1.2, 1.4), (1.2, 2.4))  # linear, smooth
BASE_SD = 1.0
REACH = 1.0
ROUNDS = 60
PROBIT = np.pi / 8


@dataclass(frozen=True, slots=True, kw_only=True)
class PassFailModel:
    """A fitted yes-or-no outcome; `predict` gives the chance of "yes"."""

    centre: Array
    scale: Array
    classes: tuple[NDArray[np.intp], ...]
    design: Array
    base: float
    fits: tuple[tuple[float, float, float, Array, Array], ...]

    def predict(self, percent: Array) -> Array:
        """Chance of "yes" for compositions (m, n) in % w/w."""
        rows = _rows(percent, self.centre, self.scale, self.classes)
        out = np.zeros(rows.shape[0])
        for weight, linear, smooth, pull, inverse in self.fits:
            cross = _kernel(rows, self.design, linear, smooth)
            mean = self.base + cross @ pull
            own = (linear**2) * (rows**2).mean(axis=1) + smooth**2 + BASE_SD**2
            var = np.maximum(own - np.einsum("mn,nk,mk->m", cross, inverse, cross), 0.0)
            out += weight / (1 + np.exp(-mean / np.sqrt(1 + PROBIT * var)))
        return out


def fit_passfail(
    percent: Array, yes: Sequence[bool], charges: Sequence[str | None] | None = None
) -> PassFailModel:
    """Learn a yes-or-no outcome from compositions.

    Parameters
    ----------
    percent : ndarray, shape (n, materials)
        Compositions [% w/w].
    yes : sequence of bool, length n
        The outcome of each.
    charges : sequence of str or None, optional
        Charge class of each material ("anionic surfactant", "cationic polymer", ...); totals of
        a class and products of two classes join the score.

    Returns
    -------
    PassFailModel

    Raises
    ------
    MeasurementError
        No trials, or outcomes that do not match them.

    Notes
    -----
    Logistic regression with Gaussian priors, linear plus smooth kernel, Laplace approximation,
    averaged over five pairs of scales by evidence; probabilities by MacKay's formula (Rasmussen &
    Williams, Gaussian Processes for Machine Learning, 2006, alg. 3.1 and 3.2; MacKay, Neural
    Computation 4 (1992) 720).
    """
    x, y = np.asarray(percent, float), np.asarray(yes, float)
    if x.ndim != 2 or x.shape[0] != y.size or y.size == 0:
        raise MeasurementError(
            where="Yes-or-no outcomes",
            found=f"{y.size} outcomes for a table of shape {x.shape}",
            allowed="One outcome a trial, one trial at least",
            cause="A trial without an outcome",
            do="Leave trials without an outcome out",
        )
    names = sorted({c for c in charges or () if c})
    classes = tuple(np.array([j for j, c in enumerate(charges or ()) if c == n]) for n in names)
    raw = _raw(x, classes)
    centre, scale = raw.mean(axis=0), np.maximum(raw.std(axis=0), 0.1)
    rows = (raw - centre) / scale
    share = (y.sum() + 1.0) / (y.size + 2.0)
    base = float(np.log(share / (1 - share)))
    fits = []
    for linear, smooth in SCALES:
        evidence, pull, inverse = _laplace(_kernel(rows, rows, linear, smooth), base, y)
        fits.append((evidence, linear, smooth, pull, inverse))
    best = max(f[0] for f in fits)
    weights = np.exp(np.array([f[0] for f in fits]) - best)
    weights /= weights.sum()
    return PassFailModel(
        centre=centre,
        scale=scale,
        classes=classes,
        design=rows,
        base=base,
        fits=tuple((float(w), *f[1:]) for w, f in zip(weights, fits, strict=True)),
    )


def _raw(percent: Array, classes: tuple[NDArray[np.intp], ...]) -> Array:
    amounts = np.sqrt(np.maximum(percent, 0.0))
    totals = [percent[:, k].sum(axis=1) for k in classes]
    products = [
        np.sqrt(np.maximum(a * b, 0.0)) for i, a in enumerate(totals) for b in totals[i + 1 :]
    ]
    return np.column_stack([amounts, *totals, *products])


def _rows(
    percent: Array, centre: Array, scale: Array, classes: tuple[NDArray[np.intp], ...]
) -> Array:
    return np.asarray((_raw(np.asarray(percent, float), classes) - centre) / scale)


def _kernel(rows: Array, others: Array, linear: float, smooth: float) -> Array:
    p = rows.shape[1]
    square = (rows**2).sum(axis=1)[:, None] + (others**2).sum(axis=1) - 2 * rows @ others.T
    near = np.exp(-0.5 * np.maximum(square, 0.0) / (p * REACH**2))
    return np.asarray(linear**2 * rows @ others.T / p + smooth**2 * near + BASE_SD**2)


def _laplace(cover: Array, base: float, y: Array) -> tuple[float, Array, Array]:
    """Log evidence, pull and ``(K + W^-1)^-1`` of a logistic likelihood."""
    f = np.full(y.size, base)
    cover = cover + 1e-8 * np.eye(y.size)
    for _ in range(ROUNDS):
        chance = 1 / (1 + np.exp(-f))
        curve = chance * (1 - chance) + 1e-9
        root = np.sqrt(curve)
        inner = np.linalg.inv(np.eye(y.size) + root[:, None] * cover * root)
        b = curve * (f - base) + y - chance
        pull = b - root * (inner @ (root * (cover @ b)))
        new = base + cover @ pull
        done = np.abs(new - f).max() < 1e-6
        f = new
        if done:
            break
    chance = 1 / (1 + np.exp(-f))
    _, log_det = np.linalg.slogdet(inner)
    log_like = float(np.sum(y * f - np.logaddexp(0, f)))
    evidence = log_like - 0.5 * float((f - base) @ pull) + 0.5 * float(log_det)
    return evidence, pull, root[:, None] * inner * root
