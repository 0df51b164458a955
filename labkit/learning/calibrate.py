"""Was labkit as sure as it should have been? Forecasts stored before the result, scored after."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from labkit.errors import MeasurementError
from labkit.learning.posterior import Array, Mixture

ENOUGH = 8
SPLIT_CHANCE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """One band stored before the result, and the result; both on one scale."""

    low: float
    high: float
    level: float
    value: float
    median: float | None = None

    @property
    def true(self) -> bool:
        """Whether the result fell inside."""
        return self.low <= self.value <= self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """How forecasts of one level came out."""

    level: float
    forecasts: int
    came_true: int
    interval_score: float
    verdict: str

    @property
    def words(self) -> str:
        """As told on screen."""
        return (
            f"of {self.forecasts} forecasts with an {100 * self.level:g} % band, "
            f"{self.came_true} came true"
        )


def interval_score(low: ArrayLike, high: ArrayLike, value: ArrayLike, level: float) -> Array:
    """Width of the band plus a fine for each miss; smaller is better.

    Notes
    -----
    ``(u - l) + 2/a (l - y)+ + 2/a (y - u)+`` with a = 1 - level (Gneiting & Raftery, JASA 102
    (2007) 359, eq. 43).

    Examples
    --------
    >>> interval_score([1.0], [2.0], [2.5], 0.8).round(6).tolist()
    [6.0]
    """
    lo, hi, y = (np.asarray(v, float) for v in (low, high, value))
    fine = 2 / (1 - level)
    return np.asarray(hi - lo + fine * (np.maximum(lo - y, 0) + np.maximum(y - hi, 0)))


def calibrate(forecasts: Iterable[Forecast]) -> list[Calibration]:
    """Score stored forecasts, one line a level.

    Parameters
    ----------
    forecasts : iterable of Forecast
        Each with the result that came later; use log10 for viscosity.

    Returns
    -------
    list of Calibration
        ``verdict`` is "too few to tell", "as sure as it should be", "too sure" or "too unsure",
        by a two-sided binomial test at 5 %.
    """
    by_level: dict[float, list[Forecast]] = {}
    for forecast in forecasts:
        if not (forecast.low <= forecast.high and 0 < forecast.level < 1):
            raise MeasurementError(
                where="Stored forecast",
                found=f"band {forecast.low:g} to {forecast.high:g} at level {forecast.level:g}",
                allowed="A lower end not above the upper, and a level between 0 and 1",
                cause="Ends swapped, or percent in place of a share",
                do="Give low, high and a level such as 0.8",
            )
        by_level.setdefault(forecast.level, []).append(forecast)
    return [_scored(level, group) for level, group in sorted(by_level.items())]


def _scored(level: float, group: Sequence[Forecast]) -> Calibration:
    hits = sum(f.true for f in group)
    low, high, value = (np.array([getattr(f, k) for f in group]) for k in ("low", "high", "value"))
    return Calibration(
        level=level,
        forecasts=len(group),
        came_true=hits,
        interval_score=float(interval_score(low, high, value, level).mean()),
        verdict=_verdict(hits, len(group), level),
    )


def _verdict(hits: int, count: int, level: float) -> str:
    if count < ENOUGH:
        return "too few to tell"
    from scipy.stats import binomtest

    if binomtest(hits, count, level).pvalue > SPLIT_CHANCE:
        return "as sure as it should be"
    return "too sure" if hits < level * count else "too unsure"


def pit(mixture: Mixture, value: ArrayLike) -> Array:
    """Probability integral transform: where each result fell in its forecast, 0 to 1.

    Notes
    -----
    Uniform when forecasts are calibrated (Dawid, J. Roy. Statist. Soc. A 147 (1984) 278).
    """
    return mixture.cdf(np.asarray(value, float))


def surprise(mixture: Mixture, value: ArrayLike) -> Array:
    """Standardised surprise: (measured - predicted) / predictive standard deviation.

    It can be charted across iterations although every trial is another formula.
    """
    mean = (mixture.weight * mixture.mean).sum(axis=-1)
    square = (mixture.weight * (mixture.sd**2 + mixture.mean**2)).sum(axis=-1)
    return np.asarray((np.asarray(value, float) - mean) / np.sqrt(square - mean**2))
