"""Several targets at once: how desirable a formula is, which target binds, how sure that is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from labkit.errors import BriefError
from labkit.learning.posterior import Array, Mixture

FLOOR = 1e-3
POINTS = (np.arange(64) + 0.5) / 64


@dataclass(frozen=True, slots=True, kw_only=True)
class Desire:
    """What is wanted of one answer.

    Parameters
    ----------
    kind : {"larger", "smaller", "target"}
    low, high : float
        Worthless at ``low`` (larger), at ``high`` (smaller), at both (target).
    target : float, optional
        Best value, for ``target``.
    power, power_high : float
        Shape below and above the target; 1 is straight.
    weight : float
        Importance beside the others.
    """

    kind: str
    low: float
    high: float
    target: float | None = None
    power: float = 1.0
    power_high: float = 1.0
    weight: float = 1.0

    def __post_init__(self) -> None:
        goal = self.target
        inside = self.kind != "target" or (goal is not None and self.low < goal < self.high)
        if self.kind not in ("larger", "smaller", "target") or not self.low < self.high:
            inside = False
        if not inside or min(self.power, self.power_high, self.weight) <= 0:
            raise BriefError(
                where="Desirability",
                found=f"{self.kind} between {self.low:g} and {self.high:g}, target {goal}",
                allowed="larger, smaller or target; low below high, the target between; powers "
                "and weight above 0",
                cause="Ends swapped, or a target outside them",
                do="Correct the ends or the target",
            )

    def __call__(self, y: ArrayLike) -> float | Array:
        """Desirability 0 to 1 of values of any shape.

        Notes
        -----
        Derringer & Suich, J. Quality Technology 12 (1980) 214.

        Examples
        --------
        >>> Desire(kind="larger", low=80, high=97)(90.0)
        0.5882352941176471
        """
        v = np.asarray(y, float)
        if self.kind == "larger":
            out = _ramp(v, self.low, self.high) ** self.power
        elif self.kind == "smaller":
            out = _ramp(-v, -self.high, -self.low) ** self.power
        else:
            goal = float(self.target or 0.0)
            below = _ramp(v, self.low, goal) ** self.power
            above = _ramp(-v, -self.high, -goal) ** self.power_high
            out = np.where(v <= goal, below, above)
        return float(out) if out.ndim == 0 else np.asarray(out)

    def expected(self, mixture: Mixture) -> Array:
        """Mean desirability under a predictive mixture, a row; d has corners, so not d(mean)."""
        values = self(mixture.quantile(POINTS))
        return np.asarray(np.mean(values, axis=-1))


def _ramp(v: Array, zero: float, one: float) -> Array:
    return np.asarray(np.clip((v - zero) / (one - zero), 0.0, 1.0))


def overall(values: ArrayLike, weights: Sequence[float] | None = None) -> float | Array:
    """Weighted geometric mean along the last axis; any 0 gives 0.

    Examples
    --------
    >>> round(overall([0.5, 0.8]), 4)
    0.6325
    """
    d = np.asarray(values, float)
    w = np.ones(d.shape[-1]) if weights is None else np.asarray(weights, float)
    with np.errstate(divide="ignore"):
        logs = (w * np.log(d)).sum(axis=-1) / w.sum()
    out = np.where((d <= 0).any(axis=-1), 0.0, np.exp(logs))
    return float(out) if out.ndim == 0 else np.asarray(out)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """Several formulas against several desires: arrays along the formulas."""

    expected: Mapping[str, Array]
    overall: Array
    inside: Array
    binds: tuple[str, ...]


def weigh_up(
    predictions: Mapping[str, Mixture],
    desires: Mapping[str, Desire],
    windows: Mapping[str, tuple[float, float]] | None = None,
) -> Judgement:
    """Expected desirability of each formula, which target binds, and the chance of all windows.

    Parameters
    ----------
    predictions : mapping
        Quantity to predictive mixture over m formulas, on the scale of the desires.
    desires : mapping
        Quantity to `Desire`.
    windows : mapping, optional
        Quantity to (low, high); the ends of the desire when left out.
    """
    names = list(desires)
    absent = [n for n in names if n not in predictions]
    if absent or not names:
        raise BriefError(
            where="Desirability",
            found=f"no prediction for {', '.join(absent) or 'anything'}",
            allowed="A desire for quantities that are predicted",
            cause="The quantity was never measured",
            do="Measure it, or leave it out",
        )
    expected = {n: desires[n].expected(predictions[n]) for n in names}
    table = np.stack([expected[n] for n in names], axis=-1)
    limits = {n: (desires[n].low, desires[n].high) for n in names} | dict(windows or {})
    inside = np.ones(table.shape[:-1])
    for n in names:
        low, high = limits[n]
        inside = inside * (predictions[n].cdf(high) - predictions[n].cdf(low))
    return Judgement(
        expected=expected,
        overall=np.asarray(overall(table, [desires[n].weight for n in names])),
        inside=inside,
        binds=tuple(names[i] for i in np.argmin(table, axis=-1)),
    )


def searchable(values: ArrayLike, distance: ArrayLike) -> Array:
    """Overall desirability that still has a slope where it is 0: a floor less the distance.

    Notes
    -----
    Search with this, report the true value.
    """
    d = np.asarray(overall(np.maximum(np.asarray(values, float), FLOOR)))
    return d - FLOOR * np.asarray(distance, float)
