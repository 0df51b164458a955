"""Linear least squares to the last digit, and Scheffé fits of mixtures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike

from labkit.errors import ScienceError
from labkit.learning.posterior import Array

SCHEFFE_ORDERS = {"linear": 1, "quadratic": 2, "special cubic": 3}


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearFit:
    """A least-squares fit; standard errors are nan where no degree of freedom is left."""

    terms: tuple[str, ...]
    coefficients: Array
    std_errors: Array
    residual_ss: float
    residual_df: int
    residual_sd: float
    r2: float
    f_ratio: float
    leverage: Array
    d_criterion: float

    def table(self) -> list[tuple[str, float, float]]:
        """Term, coefficient and standard error, in order."""
        return list(
            zip(self.terms, self.coefficients.tolist(), self.std_errors.tolist(), strict=True)
        )


def linear_fit(
    design: ArrayLike,
    y: ArrayLike,
    terms: Sequence[str] | None = None,
    *,
    exact: bool = False,
) -> LinearFit:
    """Ordinary least squares of ``y`` on the columns of ``design``.

    Parameters
    ----------
    design : array-like, shape (n, p)
        One column a term; add a column of ones for an intercept.
    y : array-like, shape (n,)
        Answers.
    terms : sequence of str, optional
        Names of the columns.
    exact : bool
        Solve in rational arithmetic on the numbers as typed. Slower (a 16 by 7 problem takes
        milliseconds), and right to the last printed digit for ill-conditioned columns.

    Returns
    -------
    LinearFit
        R² is about the mean; F compares with the mean alone when a constant is in the span,
        else with zero.

    Raises
    ------
    ScienceError
        Fewer rows than columns, columns that depend on each other, numbers missing.

    Notes
    -----
    Householder QR on columns scaled to unit length, with one step of iterative refinement in
    extended precision (Björck, Numerical Methods for Least Squares Problems, 1996, ch. 2.9).
    D is ``|X'X/n|^(1/p)``.

    Examples
    --------
    >>> fit = linear_fit([[1, 0], [1, 1], [1, 2]], [1.0, 3.0, 5.0])
    >>> fit.coefficients.round(6).tolist()
    [1.0, 2.0]
    """
    x = np.asarray(design, float)
    values = np.asarray(y, float)
    _check(x, values)
    n, p = x.shape
    names = tuple(terms) if terms is not None else tuple(f"b{i}" for i in range(p))
    scale = np.linalg.norm(x, axis=0)
    q, r = np.linalg.qr(x / np.where(scale > 0, scale, 1.0))
    if np.abs(np.diag(r)).min() < 1e-13 * np.abs(np.diag(r)).max() and not exact:
        raise _dependent(names)
    leverage = np.sum(q * q, axis=1)
    if exact:
        beta, residual_ss, unscaled, total, raw = _rational(x, values, names)
    else:
        beta, residual_ss, unscaled, total, raw = _floating(x, values, scale, q, r)
    df = n - p
    spread = residual_ss / df if df else float("nan")
    constant = _spans_constant(q)
    model_df = p - 1 if constant else p
    explained = (total if constant else raw) - residual_ss
    log_det = 2 * np.sum(np.log(np.abs(np.diag(r)) * scale))
    return LinearFit(
        terms=names,
        coefficients=beta,
        std_errors=np.sqrt(unscaled * spread),
        residual_ss=residual_ss,
        residual_df=df,
        residual_sd=float(np.sqrt(spread)),
        r2=1.0 - residual_ss / total if total > 0 else float("nan"),
        f_ratio=explained / model_df / spread if df and model_df and spread else float("nan"),
        leverage=leverage,
        d_criterion=float(np.exp((log_det - p * np.log(n)) / p)),
    )


def _check(x: Array, y: Array) -> None:
    problem = ""
    if x.ndim != 2 or y.shape != x.shape[:1]:
        problem = f"a table of shape {x.shape} and {y.size} answers"
    elif not (np.isfinite(x).all() and np.isfinite(y).all()):
        problem = "a missing or infinite number"
    elif x.shape[0] < x.shape[1]:
        problem = f"{x.shape[0]} runs for {x.shape[1]} terms"
    if problem:
        raise ScienceError(
            where="Least squares",
            found=problem,
            allowed="A number in every cell, and at least as many runs as terms",
            cause="Too few runs for this model, or an empty cell",
            do="Choose a simpler model, or add runs",
        )


def _dependent(names: Sequence[str]) -> ScienceError:
    return ScienceError(
        where="Least squares",
        found=f"columns that depend on each other among {', '.join(names)}",
        allowed="Terms that the runs can tell apart",
        cause="Percentages that sum to 100 beside a constant, or two terms always moved together",
        do="Leave one term out, or vary them apart",
    )


def _spans_constant(q: Array) -> bool:
    ones = np.ones(q.shape[0])
    return bool(np.linalg.norm(ones - q @ (q.T @ ones)) < 1e-7 * np.sqrt(ones.size))


def _floating(
    x: Array, y: Array, scale: Array, q: Array, r: Array
) -> tuple[Array, float, Array, float, float]:
    beta = np.linalg.solve(r, q.T @ y) / scale
    for _ in range(2):
        wide = np.asarray(x, np.longdouble) @ np.asarray(beta, np.longdouble)
        rest = np.asarray(np.asarray(y, np.longdouble) - wide, float)
        beta = beta + np.linalg.solve(r, q.T @ rest) / scale
    rest = y - x @ beta
    inverse = np.linalg.solve(r, np.eye(r.shape[0])) / scale[:, None]
    total = float(np.sum((y - y.mean()) ** 2))
    return beta, float(rest @ rest), np.sum(inverse**2, axis=1), total, float(y @ y)


def _rational(x: Array, y: Array, names: Sequence[str]) -> tuple[Array, float, Array, float, float]:
    """Normal equations in exact fractions of the shortest decimals that give the numbers."""
    rows = [[Fraction(repr(float(v))) for v in row] for row in x]
    values = [Fraction(repr(float(v))) for v in y]
    p = len(rows[0])
    gram = [[sum((r[i] * r[j] for r in rows), Fraction()) for j in range(p)] for i in range(p)]
    right = [
        sum((r[i] * v for r, v in zip(rows, values, strict=True)), Fraction()) for i in range(p)
    ]
    inverse = _invert(gram, names)
    beta = [sum((a * b for a, b in zip(row, right, strict=True)), Fraction()) for row in inverse]
    raw = sum((v * v for v in values), Fraction())
    residual = raw - sum((b * c for b, c in zip(beta, right, strict=True)), Fraction())
    total = raw - sum(values, Fraction()) ** 2 / len(values)
    unscaled = np.array([float(inverse[i][i]) for i in range(p)])
    return np.array([float(b) for b in beta]), float(residual), unscaled, float(total), float(raw)


def _invert(matrix: list[list[Fraction]], names: Sequence[str]) -> list[list[Fraction]]:
    p = len(matrix)
    work = [row[:] + [Fraction(int(i == j)) for j in range(p)] for i, row in enumerate(matrix)]
    for i in range(p):
        pivot = next((k for k in range(i, p) if work[k][i]), None)
        if pivot is None:
            raise _dependent(names)
        work[i], work[pivot] = work[pivot], work[i]
        lead = work[i][i]
        work[i] = [v / lead for v in work[i]]
        for k in range(p):
            if k != i and work[k][i]:
                factor = work[k][i]
                work[k] = [a - factor * b for a, b in zip(work[k], work[i], strict=True)]
    return [row[p:] for row in work]


def scheffe_terms(components: int, model: str) -> list[tuple[int, ...]]:
    """Terms of a Scheffé model as tuples of component positions.

    Examples
    --------
    >>> scheffe_terms(3, "quadratic")
    [(0,), (1,), (2,), (0, 1), (0, 2), (1, 2)]
    """
    if model not in SCHEFFE_ORDERS:
        raise ScienceError(
            where="Mixture model",
            found=f"'{model}'",
            allowed="linear, quadratic or special cubic",
            cause="A model with another name",
            do="Choose one of the three",
        )
    top = SCHEFFE_ORDERS[model]
    return [t for size in range(1, top + 1) for t in combinations(range(components), size)]


def scheffe_design(shares: ArrayLike, model: str = "quadratic") -> Array:
    """Design matrix of a Scheffé model: products of shares, no intercept.

    Parameters
    ----------
    shares : array-like, shape (..., q)
        Shares of the varied part, each row sums to 1.
    model : {"linear", "quadratic", "special cubic"}

    Returns
    -------
    ndarray, shape (..., terms)

    Notes
    -----
    Scheffé, J. Roy. Statist. Soc. B 20 (1958) 344.
    """
    x = np.asarray(shares, float)
    terms = scheffe_terms(x.shape[-1], model)
    return np.stack([np.prod(x[..., list(t)], axis=-1) for t in terms], axis=-1)


def scheffe_fit(
    shares: ArrayLike,
    y: ArrayLike,
    model: str = "quadratic",
    names: Sequence[str] | None = None,
) -> LinearFit:
    """Fit a Scheffé model; R² is about the mean.

    Examples
    --------
    >>> fit = scheffe_fit([[1, 0], [0, 1], [0.5, 0.5]], [2.0, 4.0, 5.0])
    >>> fit.terms, fit.coefficients.round(6).tolist()
    (('x1', 'x2', 'x1*x2'), [2.0, 4.0, 8.0])
    """
    x = np.asarray(shares, float)
    labels = names or [f"x{i + 1}" for i in range(x.shape[-1])]
    terms = scheffe_terms(x.shape[-1], model)
    titles = ["*".join(labels[i] for i in t) for t in terms]
    return linear_fit(scheffe_design(x, model), y, titles)
