"""A class's readings side by side: who lies where, what spreads, who is far off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from labkit.learning.repeatability import class_spread, cv_percent, nested_variance

__all__ = ["FAR", "Spread", "class_line", "distances", "spread_of"]

Array = npt.NDArray[np.float64]
FAR = 3.5
"""Distance from the class, in spreads, from which a reading is flagged: the usual cut-off for
distances over the median absolute deviation (Iglewicz and Hoaglin 1993, from memory)."""
USUAL_SD = {"pH": 0.05, "viscosity": 0.035}
"""Repeatability no class is below: pH 0.05; viscosity 8 %, in log10 (common practice)."""
FEWEST = 5


def class_line(blanks: npt.ArrayLike, values: npt.ArrayLike) -> Array:
    """What the class as a whole reads at each setting of the blanks, hardly moved by a few far off.

    Parameters
    ----------
    blanks : array-like, shape (n, k)
        Shares of the blanks [% w/w].
    values : array-like, shape (n,)
        One reading each; log10 for viscosity.

    Returns
    -------
    ndarray, shape (n,)
        The line at each of them; the median where no blank varies or fewer than three
        readings stand for each unknown.

    Notes
    -----
    Least sum of absolute deviations by iteratively reweighted least squares; with no blank
    it is the median.

    Examples
    --------
    >>> shares = [[1.0], [2.0], [3.0], [4.0], [5.0], [6.0]]
    >>> class_line(shares, [1, 2, 3, 4, 5, 60]).round(2).tolist()
    [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
    """
    y = np.asarray(values, float)
    x = np.asarray(blanks, float).reshape(y.size, -1)
    x = x[:, np.ptp(x, axis=0) > 0] if y.size else x
    if y.size < 3 * (x.shape[1] + 1) or not x.shape[1]:
        return np.full(y.size, np.median(y)) if y.size else y
    design = np.column_stack([np.ones(y.size), (x - x.mean(axis=0)) / x.std(axis=0)])
    weights = np.ones(y.size)
    fitted = np.full(y.size, np.median(y))
    for _ in range(200):
        root = np.sqrt(weights)[:, None]
        found, *_ = np.linalg.lstsq(design * root, y * root[:, 0], rcond=None)
        before, fitted = fitted, design @ found
        if np.max(np.abs(fitted - before)) < 1e-10:
            break
        weights = 1.0 / np.maximum(np.abs(y - fitted), 1e-6)
    return np.asarray(fitted)


def distances(residuals: npt.ArrayLike, usual_sd: float = 0.0) -> Array:
    """How far each lies from the class, in spreads of the class.

    Parameters
    ----------
    residuals : array-like, shape (n,)
        Reading less the class's line.
    usual_sd : float
        What the instrument alone scatters; the spread is taken as no smaller.

    Returns
    -------
    ndarray, shape (n,)
        0 where fewer than five readings could say.

    Notes
    -----
    residual / max(1.4826 x median absolute deviation, usual_sd).

    Examples
    --------
    >>> distances([0.0, 0.1, -0.1, 0.05, 2.0], 0.05).round(1).tolist()
    [0.0, 1.3, -1.3, 0.7, 27.0]
    """
    r = np.asarray(residuals, float)
    if r.size < FEWEST:
        return np.zeros(r.size)
    spread = max(1.4826 * float(np.median(np.abs(r - np.median(r)))), usual_sd, 1e-12)
    return np.asarray(r / spread)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Spread between desks beside the spread of one desk's own batches and readings.

    ``between``, ``batch`` and ``repeat`` are standard deviations in ``unit`` (percent for
    viscosity); None where the readings cannot say. ``between_without`` leaves the flagged
    trials out.
    """

    quantity: str
    unit: str
    desks: int
    readings: int
    between: float | None
    batch: float | None
    repeat: float | None
    between_without: float | None
    flagged: int

    @property
    def ratio(self) -> float | None:
        """Between desks over one desk's own readings."""
        return self.between / self.repeat if self.between is not None and self.repeat else None

    def __str__(self) -> str:
        if self.between is None or self.repeat is None:
            return (
                f"{self.quantity}: {self.desks} desks, {self.readings} readings; at least two "
                "desks must read the same thing twice before a spread can be told"
            )
        parts = [f"between desks {self._shown(self.between)}"]
        if self.batch is not None:
            parts.append(f"between batches of one desk {self._shown(self.batch)}")
        parts.append(f"one desk's own readings {self._shown(self.repeat)}")
        text = f"{self.quantity}: {', '.join(parts)}"
        text += f" ({self.desks} desks, {self.readings} readings)"
        if self.flagged and self.between_without is not None:
            text += f"; without the {self.flagged} flagged {self._shown(self.between_without)}"
        return text

    def _shown(self, value: float) -> str:
        return f"{value:.1f} %" if self.unit == "%" else f"{value:.3f} {self.unit}".strip()


def spread_of(
    quantity: str,
    unit: str,
    desks: Mapping[str, Sequence[Array]],
    flagged: Mapping[str, Sequence[bool]],
) -> Spread:
    """Spread of readings less the class's line: between desks, batches, readings.

    Parameters
    ----------
    quantity, unit : str
        What it is; log10 is expected, and percent given, for ``"%"``.
    desks : mapping of str to sequence of ndarray
        Desk to the readings of each of its trials, less the line.
    flagged : mapping of str to sequence of bool
        Which of them are flagged; they count, and are left out of ``between_without``.
    """
    every = _levels(desks, unit)
    kept = {
        desk: [g for g, far in zip(several, flagged[desk], strict=True) if not far]
        for desk, several in desks.items()
    }
    count = sum(sum(several) for several in flagged.values())
    without = _levels({k: v for k, v in kept.items() if v}, unit) if count else every
    return Spread(
        quantity=quantity,
        unit=unit,
        desks=len(desks),
        readings=sum(g.size for several in desks.values() for g in several),
        between=every[0],
        batch=every[1],
        repeat=every[2],
        between_without=without[0],
        flagged=count,
    )


def _levels(
    desks: Mapping[str, Sequence[Array]], unit: str
) -> tuple[float | None, float | None, float | None]:
    batches = [g for several in desks.values() for g in several]
    if len(desks) < 2 or sum(g.size for g in batches) <= len(batches):
        return None, None, None
    found: tuple[float | None, float | None, float | None]
    if len(batches) > len(desks):
        three = class_spread(desks)
        found = three.operator_sd, three.batch_sd, three.reading_sd
    else:
        two = nested_variance(batches)
        found = two.batch_sd, None, two.reading_sd
    if unit != "%":
        return found
    a, b, c = (None if x is None else float(cv_percent(x)) for x in found)
    return a, b, c
