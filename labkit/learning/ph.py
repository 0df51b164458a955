"""pH learned as the chemistry engine plus two numbers: a residual charge and a meter offset.

``pH = engine(formula; q) + b``: ``q`` stands for ions nobody weighed (counter-ions of a quat, an
impure acid), ``b`` for the meter. The net charge of the formula against pH is computed once on a
grid and inverted for every ``q``. Near an end point a milligram of acid moves the pH: the part of
the noise that comes from weighing is learned apart from the part that comes from the meter.
Prior widths are common practice of the authors.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from labkit.learning.posterior import Array, Mixture, Posterior, Prior, fit, predictive

PH_GRID = np.linspace(1.5, 11.5, 81)
RESIDUAL = np.linspace(-4e-3, 4e-3, 17)  # mol/kg
RESIDUAL_SD = 1.8e-3
OFFSET_SD = 0.2
METER_GRID = np.array([0.03, 0.05, 0.08, 0.13, 0.22])
METER_CENTRE, METER_LOG_SD = 0.06, 0.6
WEIGHING_GRID = np.array([1e-4, 6e-4, 2.5e-3])  # mol/kg
WEIGHING_WEIGHT = np.array([0.3, 0.4, 0.3])
WIDE_FACTOR, WIDE_WEIGHT = 2.7, 0.18
TRAVEL = 0.10  # engine error per pH unit away from what was measured
BLUNDER_CHANCE, BLUNDER_SD = 0.01, 0.6
KEPT = 40

POLYACID_SHARE = np.array([0.5, 0.75, 1.0, 1.25, 1.5])  # of the nominal acid sites
POLYACID_SHARE_SD = 0.3


class ChargeCurve(Protocol):
    """Net charge of formulas against pH, on ``PH_GRID``; falls with pH."""

    def curves(self, percent: Array) -> tuple[Array, Array | None]:
        """Charge ``(m, 81)`` in mol per kg water, and that of the polyacid apart."""
        ...


def invert(charge: Array, residual: Array) -> Array:
    """pH where ``charge + residual`` is zero: ``(m, k)`` from charge ``(m, grid)``.

    Examples
    --------
    >>> falling = np.linspace(1e-2, -1e-2, PH_GRID.size)[None]
    >>> invert(falling, np.array([0.0])).round(2)
    array([[6.5]])
    """
    falling = np.minimum.accumulate(charge, axis=1)
    out = np.empty((charge.shape[0], residual.size))
    for i, row in enumerate(falling):
        out[i] = np.interp(residual, -row, PH_GRID)
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class EnginePh:
    """The fitted engine: what ``q``, ``b`` and the two noises are likely to be."""

    curve: ChargeCurve
    weight: Array  # (k,)
    setting: NDArray[np.intp]  # (k,) index of the residual charge (and polyacid share)
    meter: Array  # (k,)
    weighing: Array  # (k,)
    offset: Array  # (k,)
    offset_var: Array  # (k,)
    seen: Array  # pH values measured so far

    def predict(self, percent: Array) -> Mixture:
        """Predictive distribution of the pH a new batch will read."""
        engine, slope = _engine(self.curve, percent)
        return self.predict_engine(engine, slope)

    def predict_engine(self, engine: Array, slope: Array) -> Mixture:
        """The same from engine pH and slopes already computed."""
        mean = engine[:, self.setting] + self.offset
        variance = self.offset_var + self.meter**2
        variance = variance + (slope[:, self.setting] * self.weighing) ** 2
        if self.seen.size:
            travel = np.abs(mean[:, :, None] - self.seen).min(axis=2)
            variance = variance + (TRAVEL * travel) ** 2
        else:
            variance = np.broadcast_to(variance + 0.15**2, mean.shape)
        sd = np.sqrt(variance)
        weight = np.concatenate([(1 - WIDE_WEIGHT) * self.weight, WIDE_WEIGHT * self.weight])
        return Mixture(
            weight=np.broadcast_to(weight, (mean.shape[0], weight.size)),
            mean=np.concatenate([mean, mean], axis=1),
            sd=np.concatenate([sd, WIDE_FACTOR * sd], axis=1),
        )


def _engine(curve: ChargeCurve, percent: Array) -> tuple[Array, Array]:
    """Engine pH ``(m, settings)`` and its slope against residual charge."""
    charge, polyacid = curve.curves(percent)
    if polyacid is None:
        found = [invert(charge, RESIDUAL)]
    else:
        found = [invert(charge + share * polyacid, RESIDUAL) for share in POLYACID_SHARE]
    slopes = [np.abs(np.gradient(ph, RESIDUAL, axis=1)) for ph in found]
    return np.concatenate(found, axis=1), np.concatenate(slopes, axis=1)


def _prior_score(settings: int) -> Array:
    """Log prior of every (setting, weighing, meter)."""
    charge = -0.5 * (RESIDUAL / RESIDUAL_SD) ** 2
    if settings > RESIDUAL.size:
        share = -0.5 * ((POLYACID_SHARE - 1.0) / POLYACID_SHARE_SD) ** 2
        charge = (share[:, None] + charge).ravel()
    meter = -0.5 * (np.log(METER_GRID / METER_CENTRE) / METER_LOG_SD) ** 2
    return np.asarray(charge[:, None, None] + np.log(WEIGHING_WEIGHT)[:, None] + meter)


def fit_engine(curve: ChargeCurve, percent: Array, ph: Array) -> EnginePh:
    """Learn residual charge, offset and noise from measured pH (n,); n may be 0."""
    engine, slope = _engine(curve, percent)
    rest = ph[:, None] - engine  # (n, k)
    weighing = (slope[:, :, None] * WEIGHING_GRID) ** 2  # (n, k, w)
    variance = weighing[..., None] + METER_GRID**2  # (n, k, w, s)
    score = _prior_score(engine.shape[1])
    doubt = np.zeros(ph.size)
    for _ in range(2):
        extra = doubt / np.maximum(1 - doubt, 0.02) * BLUNDER_SD**2
        total = variance + extra[:, None, None, None]
        precision = (1.0 / total).sum(axis=0) + 1.0 / OFFSET_SD**2
        offset = (rest[..., None, None] / total).sum(axis=0) / precision
        square = (rest[..., None, None] ** 2 / total).sum(axis=0) - offset**2 * precision
        fitted = score - 0.5 * (square + np.log(total).sum(axis=0) + np.log(precision))
        doubt = _doubt(rest, variance, offset, precision, fitted)
        if doubt.max(initial=0.0) < 0.05:
            break
    flat = fitted.ravel()
    keep = np.argsort(flat)[-KEPT:]
    weight = np.exp(flat[keep] - flat[keep].max())
    at_q, at_w, at_s = np.unravel_index(keep, fitted.shape)
    return EnginePh(
        curve=curve,
        weight=weight / weight.sum(),
        setting=at_q,
        meter=METER_GRID[at_s],
        weighing=WEIGHING_GRID[at_w],
        offset=offset.ravel()[keep],
        offset_var=1.0 / precision.ravel()[keep],
        seen=np.unique(ph),
    )


def _doubt(rest: Array, variance: Array, offset: Array, precision: Array, score: Array) -> Array:
    """Chance of a blunder of each reading at the most likely setting, left out of its own fit."""
    at = np.unravel_index(int(np.argmax(score)), score.shape)
    own, off, prec = variance[:, at[0], at[1], at[2]], offset[at], precision[at]
    residual = rest[:, at[0]] - off
    left = np.maximum(own - 1.0 / prec, 0.2 * own)
    surprise2 = (residual * own / left) ** 2
    loo = own * own / left
    wide = loo + BLUNDER_SD**2
    log_ratio = 0.5 * (np.log(loo / wide) + surprise2 / loo - surprise2 / wide)
    odds = BLUNDER_CHANCE / (1 - BLUNDER_CHANCE) * np.exp(np.minimum(log_ratio, 50))
    return np.asarray(odds / (1 + odds))


@dataclass(frozen=True, slots=True, kw_only=True)
class EmpiricalPh:
    """pH without chemistry: for benches whose acids and bases labkit does not know."""

    posterior: Posterior
    reference: Array
    use: NDArray[np.intp]  # columns

    def predict(self, percent: Array) -> Mixture:
        """Predictive distribution of the pH a new batch will read."""
        return predictive(self.posterior, _log_rows(percent, self.reference, self.use))


def _log_rows(percent: Array, reference: Array, use: NDArray[np.intp]) -> Array:
    moved = np.log10((percent[:, use] + 0.05) / (reference[use] + 0.05))
    return np.asarray(moved)


def fit_empirical(
    words: tuple[str, ...], percent: Array, ph: Array, reference: Array
) -> EmpiricalPh:
    """pH by the logs of acids, bases and salts; wide priors, signs of acid and base known."""
    slope = {"acid": (-0.6, 0.6), "base": (0.8, 0.8)}
    near = ("buffer salt", "preservative salt", "electrolyte", "unknown", "cationic", "active")
    use = np.array([j for j, w in enumerate(words) if w in slope or w in near], dtype=np.intp)
    mean = np.array([slope.get(words[j], (0.0, 0.2))[0] for j in use])
    sd = np.array([slope.get(words[j], (0.0, 0.2))[1] for j in use])
    prior = Prior(
        mean=mean,
        covariance=np.diag(sd**2),
        centre=5.5,
        centre_sd=1.2,
        noise_grid=(0.04, 0.08, 0.16, 0.3),
        noise_centre=0.1,
        bend_grid=(0.05, 0.2, 0.5),
        effect_centre=1.0,
    )
    rows = _log_rows(percent, reference, use)
    posterior = fit(rows, ph, np.eye(ph.size), prior)
    return EmpiricalPh(posterior=posterior, reference=reference, use=use)
