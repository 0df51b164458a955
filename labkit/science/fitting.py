"""Least squares for curves: parameters with 95 % intervals, and what the data leave open."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import given

Model = Callable[..., Any]
"""``model(x, *parameters)``: numpy arithmetic that also works on complex numbers."""

LEVEL = 0.95
_STEP = 1e-30  # complex step: no subtraction, so that it may be this small
_NEAR = 1e-7  # relative step below which rounding, not the step, decides the misfit
_SETTLED = 1e-16


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A fitted curve.

    Attributes
    ----------
    names : tuple of str
        The parameters.
    values, standard_errors : ndarray, shape (p,)
        Least-squares estimates and their standard errors.
    low, high : ndarray, shape (p,)
        95 % interval of each parameter (t quantile).
    covariance : ndarray, shape (p, p)
        Of the parameters.
    residual_ss, residual_sd : float
        Sum of squares of the residuals, and its root per degree of freedom.
    degrees : int
        Points less parameters.
    """

    names: tuple[str, ...]
    values: npt.NDArray[np.float64]
    standard_errors: npt.NDArray[np.float64]
    low: npt.NDArray[np.float64]
    high: npt.NDArray[np.float64]
    covariance: npt.NDArray[np.float64]
    residual_ss: float
    residual_sd: float
    degrees: int

    @property
    def parameters(self) -> Mapping[str, float]:
        """The estimates by name."""
        return dict(zip(self.names, map(float, self.values), strict=True))


def fit_curve(
    model: Model,
    x: npt.ArrayLike,
    y: npt.ArrayLike,
    start: npt.ArrayLike,
    names: Sequence[str],
    restarts: int = 0,
) -> Fit:
    """Fit a curve by least squares.

    Parameters
    ----------
    model : callable
        ``model(x, *parameters)``, analytic (no abs, no branch), so that derivatives are exact.
    x, y : array-like, shape (n,)
        The points.
    start : array-like, shape (p,) or (k, p)
        Where to begin, in the order of ``names``; of several the lowest misfit wins.
    names : sequence of str
        The parameters.
    restarts : int
        Further beginnings, each parameter up to a hundred times larger or smaller (the same
        ones at every call); the lowest misfit wins. For curves with several valleys.

    Returns
    -------
    Fit

    Raises
    ------
    ScienceError
        Fewer points than parameters and one, no convergence, or parameters that the points
        cannot tell apart.

    Notes
    -----
    Levenberg-Marquardt (scipy), then Gauss-Newton steps in extended precision with
    complex-step derivatives. Covariance s^2 (J'J)^-1; intervals by Student's t.

    Examples
    --------
    >>> x = np.array([0.0, 1.0, 2.0, 3.0])
    >>> fit = fit_curve(lambda x, a, b: a * np.exp(b * x), x, 2.0 * np.exp(0.5 * x), (1, 1), "ab")
    >>> fit.values.round(6).tolist()
    [2.0, 0.5]
    """
    points, target = given(x, "x of the curve"), given(y, "y of the curve")
    degrees = target.size - len(names)
    if points.shape != target.shape or points.ndim != 1 or degrees < 1:
        raise ScienceError(
            where="Curve fit",
            found=f"{target.size} points for {len(names)} parameters",
            allowed=f"At least {len(names) + 1} points, one y for each x",
            cause="Too few readings, or a gap in the table",
            do="Measure more points, or take a model with fewer parameters",
        )
    rough = min(
        (_approach(model, points, target, begin) for begin in _beginnings(start, restarts)),
        key=lambda parameters: _misfit(model, points, target, parameters),
    )
    values, jacobian, residual = _polish(model, points, target, rough)
    return _summary(tuple(names), values, jacobian, residual, degrees)


def _beginnings(start: npt.ArrayLike, restarts: int) -> Iterator[npt.NDArray[np.float64]]:
    starts = np.atleast_2d(np.asarray(start, dtype=np.float64))
    yield from starts
    first = starts[0]
    random = np.random.default_rng(0)
    for _ in range(restarts):
        yield first * 10.0 ** random.uniform(-2.0, 2.0, first.size)


def _misfit(
    model: Model,
    x: npt.NDArray[np.float64],
    y: npt.NDArray[np.float64],
    parameters: npt.NDArray[np.float64],
) -> float:
    with np.errstate(all="ignore"):
        total = float(((np.asarray(model(x, *parameters)) - y) ** 2).sum())
    return total if np.isfinite(total) else np.inf


def _approach(
    model: Model,
    x: npt.NDArray[np.float64],
    y: npt.NDArray[np.float64],
    start: npt.NDArray[np.float64],
) -> npt.NDArray[np.float64]:
    from scipy.optimize import least_squares

    def miss(parameters: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        with np.errstate(all="ignore"):
            gap = np.asarray(model(x, *parameters) - y, dtype=np.float64)
        return np.where(np.isfinite(gap), gap, 1e150)

    scale = np.where(start != 0.0, np.abs(start), 1.0)

    def scaled_miss(parameters: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        return miss(parameters * scale)

    def slope(parameters: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        with np.errstate(all="ignore"):
            exact = _derivatives(model, x, parameters * scale) * scale
        return np.where(np.isfinite(exact), exact, 0.0)

    done = least_squares(
        scaled_miss,
        start / scale,
        jac=slope,
        method="lm",
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
        max_nfev=400,
    )
    return np.asarray(done.x * scale, dtype=np.float64)


def _polish(
    model: Model,
    x: npt.NDArray[np.float64],
    y: npt.NDArray[np.float64],
    start: npt.NDArray[np.float64],
) -> tuple[npt.NDArray[Any], npt.NDArray[Any], npt.NDArray[Any]]:
    """Gauss-Newton in long double; far from the end a step may not raise the misfit."""
    p = start.astype(np.longdouble)
    wide_x, wide_y = x.astype(np.longdouble), y.astype(np.longdouble)
    residual = wide_y - model(wide_x, *p)
    best = residual @ residual
    for _ in range(60):
        step = _solve(_derivatives(model, wide_x, p), residual)
        near = bool(np.all(np.abs(step) <= _NEAR * np.abs(p)))
        for _ in range(30):
            trial = wide_y - model(wide_x, *(p + step))
            after = trial @ trial
            if np.isfinite(after) and (near or after <= best):
                break
            step = step / 2
        else:
            break
        p, residual, best = p + step, trial, after
        if np.all(np.abs(step) <= _SETTLED * np.abs(p)):
            break
    return p, _derivatives(model, wide_x, p), residual


def _derivatives(model: Model, x: npt.NDArray[Any], p: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """Derivatives by complex step, in the precision of the parameters."""
    complex_kind = np.clongdouble if p.dtype == np.longdouble else np.complex128
    wide, columns = x.astype(complex_kind), []
    for index in range(p.size):
        shifted = p.astype(complex_kind)
        size = _STEP * max(abs(p[index]), 1.0)
        shifted[index] += 1j * size
        columns.append(np.broadcast_to(model(wide, *shifted).imag, x.shape) / size)
    return np.stack(columns, axis=1)


def _solve(jacobian: npt.NDArray[Any], residual: npt.NDArray[Any]) -> npt.NDArray[Any]:
    inverse, scale = _inverse(jacobian)
    return np.asarray((inverse @ ((jacobian / scale).T @ residual)) / scale)


def _inverse(jacobian: npt.NDArray[Any]) -> tuple[npt.NDArray[Any], npt.NDArray[Any]]:
    """(S'S)^-1 of the column-scaled Jacobian by Gauss-Jordan in long double, and the scales."""
    scale = np.sqrt((jacobian**2).sum(axis=0))
    if not np.all(np.isfinite(scale)) or np.any(scale == 0.0):
        raise _undetermined()
    scaled = jacobian / scale
    size = scale.size
    table = np.concatenate([scaled.T @ scaled, np.eye(size, dtype=np.longdouble)], axis=1)
    for column in range(size):
        pivot = column + int(np.argmax(np.abs(table[column:, column])))
        if abs(table[pivot, column]) < 1e-17:
            raise _undetermined()
        table[[column, pivot]] = table[[pivot, column]]
        table[column] /= table[column, column]
        for other in range(size):
            if other != column:
                table[other] -= table[other, column] * table[column]
    return table[:, size:], scale


def _undetermined() -> ScienceError:
    return ScienceError(
        where="Curve fit",
        found="points that cannot tell the parameters apart",
        allowed="Points that spread over the part of the curve where each parameter shows",
        cause="The range is too narrow, or the model has more parameters than the curve has bends",
        do="Measure a wider range, or take a simpler model",
    )


def _summary(
    names: tuple[str, ...],
    values: npt.NDArray[Any],
    jacobian: npt.NDArray[Any],
    residual: npt.NDArray[Any],
    degrees: int,
) -> Fit:
    inverse, scale = _inverse(jacobian)
    misfit = residual @ residual
    covariance = misfit / degrees * inverse / np.outer(scale, scale)
    errors = np.sqrt(np.diag(covariance)).astype(np.float64)
    reach = t_quantile(0.5 + LEVEL / 2.0, degrees) * errors
    centre = values.astype(np.float64)
    return Fit(
        names=names,
        values=centre,
        standard_errors=errors,
        low=centre - reach,
        high=centre + reach,
        covariance=covariance.astype(np.float64),
        residual_ss=float(misfit),
        residual_sd=float(np.sqrt(misfit / degrees)),
        degrees=degrees,
    )


def t_quantile(probability: float, degrees: int) -> float:
    """Quantile of Student's t.

    Parameters
    ----------
    probability : float
        Between 0 and 1 [-].
    degrees : int
        Degrees of freedom.

    Returns
    -------
    float

    Raises
    ------
    ScienceError
        No degree of freedom.

    Notes
    -----
    scipy.special.stdtrit.

    Examples
    --------
    >>> round(t_quantile(0.975, 10), 3)
    2.228
    """
    from scipy.special import stdtrit

    given(degrees, "Degrees of freedom", "", 1.0)
    return float(stdtrit(degrees, given(probability, "Probability", "", above=0.0, high=1.0)))
