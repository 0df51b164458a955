"""Thickness (and drain time, and spread) learned from trials on a log10 scale."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from labkit.learning.features import Array, FeatureMap
from labkit.learning.posterior import Mixture, Posterior, fit, predictive

BATCH_SHARE = 0.35  # of the variance: what more readings of one beaker cannot remove
BASE_SHARE = 0.15  # of the variance: what trials poured from one shared base have in common


@dataclass(frozen=True, slots=True)
class Response:
    """One answer measured on trials, and how it follows thickness (common practice)."""

    name: str
    column: str
    centre: float
    centre_sd: float
    factor: float  # log10 of the answer per log10 of viscosity


VISCOSITY = Response("viscosity", "viscosity_mPas", 3.7, 0.6, 1.0)
DRAIN_TIME = Response("drain time", "drain_s", 1.2, 0.7, 0.8)
SPREAD = Response("spread", "spread_mm", 1.7, 0.3, -0.25)
RESPONSES = (VISCOSITY, DRAIN_TIME, SPREAD)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResponseModel:
    """A fitted answer: predict it for any composition of the same materials."""

    response: Response
    map: FeatureMap
    posterior: Posterior
    new_share: float

    def predict(
        self, percent: Array, process: Array, ph: Array, ph_sd: Array | float = 0.0
    ) -> Mixture:
        """Predictive distribution of log10 of a new measured batch, a row of ``percent``.

        Parameters
        ----------
        percent : ndarray, shape (m, n)
            Composition [% w/w], in the order of ``map.names``.
        process : ndarray, shape (m, 3)
            Temperature above 23 °C, log10 days, ln of shearing over reference; zeros if unknown.
        ph : ndarray, shape (m,)
            Expected pH; used only where a polyacid is present.
        ph_sd : float or ndarray, shape (m,)
            Doubt about it.

        Returns
        -------
        Mixture
            Of Gaussians in log10 units.
        """
        rows = self.map.rows(percent, process, ph)
        doubt = self.map.ph_doubt(percent, ph, ph_sd)
        return predictive(self.posterior, rows, doubt, self.new_share)


def noise_share(readings: Array, base: NDArray[np.int64] | None = None) -> Array:
    """Noise covariance in units of s²: batch and reading kept apart, shared bases tied.

    Parameters
    ----------
    readings : ndarray, shape (n,)
        Readings averaged in each trial.
    base : ndarray of int, shape (n,), optional
        Number of the shared base; negative where a trial has its own.

    Returns
    -------
    ndarray, shape (n, n)
    """
    share = np.diag(BATCH_SHARE + (1 - BATCH_SHARE) / np.maximum(readings, 1.0))
    if base is not None:
        same = (base[:, None] == base[None, :]) & (base >= 0)[:, None]
        np.fill_diagonal(same, False)
        share = share + BASE_SHARE * same
    return share


def fit_response(
    response: Response,
    feature_map: FeatureMap,
    rows: Array,
    y: Array,
    readings: Array,
    base: NDArray[np.int64] | None = None,
) -> ResponseModel:
    """Fit one answer on log10 values ``y`` (n,) with design ``rows`` (n, p)."""
    prior = feature_map.prior()
    scale = response.factor
    prior = replace(
        prior,
        mean=prior.mean * scale,
        covariance=prior.covariance * scale**2,
        centre=response.centre,
        centre_sd=response.centre_sd,
    )
    share = noise_share(readings, base)
    new = BATCH_SHARE + (1 - BATCH_SHARE) * float(np.mean(1.0 / np.maximum(readings, 1.0)))
    posterior = fit(rows, y, share, prior)
    return ResponseModel(response=response, map=feature_map, posterior=posterior, new_share=new)
