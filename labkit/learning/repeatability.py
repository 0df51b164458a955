"""How well a bench repeats itself: readings, batches, operators; and the scale to judge it on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from labkit.errors import ScienceError
from labkit.learning.control import chart_constants
from labkit.learning.posterior import Array

LN10 = float(np.log(10.0))
CHI2_95 = 3.841458820694124  # 95 % point of chi-squared with one degree of freedom


def cv_percent(log10_sd: ArrayLike) -> float | Array:
    """Coefficient of variation [%] of a value whose log10 has this standard deviation.

    Notes
    -----
    ``100 sqrt(exp(s² ln²10) - 1)``, log-normal distribution.

    Examples
    --------
    >>> round(cv_percent(0.05), 1)
    11.6
    """
    s = np.asarray(log10_sd, float)
    out = 100 * np.sqrt(np.expm1((s * LN10) ** 2))
    return float(out) if out.ndim == 0 else np.asarray(out)


@dataclass(frozen=True, slots=True, kw_only=True)
class NestedVariance:
    """Spread of readings of one batch, and between batches; negative estimates are 0."""

    reading_sd: float
    batch_sd: float
    batches: int
    readings: int


def nested_variance(groups: Sequence[ArrayLike]) -> NestedVariance:
    """Reading and batch spread from repeated batches of one formula, any readings each.

    Parameters
    ----------
    groups : sequence of array-like
        Readings of each batch; use log10 for viscosity.

    Notes
    -----
    One-way analysis of variance with unequal numbers: n0 = (N - Σn²/N)/(k - 1).
    """
    values = [np.asarray(g, float) for g in groups]
    sizes = np.array([v.size for v in values])
    total = int(sizes.sum())
    if len(values) < 2 or total <= len(values) or (sizes == 0).any():
        raise _refuse(f"{len(values)} batches with {total} readings in all")
    means = np.array([v.mean() for v in values])
    within = sum(float(((v - v.mean()) ** 2).sum()) for v in values) / (total - len(values))
    grand = float((sizes * means).sum() / total)
    between = float((sizes * (means - grand) ** 2).sum() / (len(values) - 1))
    n0 = (total - float((sizes**2).sum()) / total) / (len(values) - 1)
    return NestedVariance(
        reading_sd=float(np.sqrt(within)),
        batch_sd=float(np.sqrt(max(0.0, (between - within) / n0))),
        batches=len(values),
        readings=total,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassSpread:
    """Where the spread of a class comes from; negative estimates are 0."""

    operator_sd: float
    batch_sd: float
    reading_sd: float
    operators: int
    batches: int
    readings: int


def class_spread(readings: Mapping[str, Sequence[ArrayLike]]) -> ClassSpread:
    """Spread between operators, between batches of one operator, and between readings.

    Parameters
    ----------
    readings : mapping of str to sequence of array-like
        Operator to the readings of each of their batches of one formula, any number of each;
        use log10 for viscosity.

    Raises
    ------
    ScienceError
        Fewer than two operators, or no repeated batch, or no repeated reading.

    Notes
    -----
    Two-level nested analysis of variance with unequal numbers; coefficients of the expected mean
    squares as in Sokal & Rohlf, Biometry, 3rd ed. (1995), box 10.4 (from memory).
    """
    table = [[np.asarray(b, float) for b in batches] for batches in readings.values()]
    sizes = [np.array([b.size for b in batches], float) for batches in table]
    total = float(sum(n.sum() for n in sizes))
    a, b = len(table), sum(len(n) for n in sizes)
    if a < 2 or b <= a or total <= b or any((n == 0).any() or not n.size for n in sizes):
        raise _refuse(f"{a} operators, {b} batches, {total:g} readings")
    means = [np.array([x.mean() for x in batches]) for batches in table]
    own = np.array([(n * m).sum() / n.sum() for n, m in zip(sizes, means, strict=True)])
    weight = np.array([n.sum() for n in sizes])
    grand = float((weight * own).sum() / total)
    within = sum(float(((x - x.mean()) ** 2).sum()) for batches in table for x in batches)
    between = sum(
        float((n * (m - o) ** 2).sum()) for n, m, o in zip(sizes, means, own, strict=True)
    )
    ms_read = within / (total - b)
    ms_batch = between / (b - a)
    ms_operator = float((weight * (own - grand) ** 2).sum()) / (a - 1)
    inner = sum(float((n**2).sum() / n.sum()) for n in sizes)
    outer = sum(float((n**2).sum()) for n in sizes) / total
    k1, k2 = (total - inner) / (b - a), (inner - outer) / (a - 1)
    k3 = (total - float((weight**2).sum()) / total) / (a - 1)
    batch = max(0.0, (ms_batch - ms_read) / k1)
    operator = max(0.0, (ms_operator - ms_read - k2 * batch) / k3)
    return ClassSpread(
        operator_sd=float(np.sqrt(operator)),
        batch_sd=float(np.sqrt(batch)),
        reading_sd=float(np.sqrt(ms_read)),
        operators=a,
        batches=b,
        readings=int(total),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeStudy:
    """Measuring system against the parts it measures (average-and-range method)."""

    mean_range: float
    operator_difference: float
    part_range: float
    ev: float
    av: float
    grr: float
    pv: float
    tv: float
    ss_part: float
    ss_operator: float
    ss_interaction: float
    ss_repeat: float
    ms_repeat: float
    pooled_repeat: float

    @property
    def grr_percent(self) -> float:
        """Share of the measuring system in the total spread [%]."""
        return 100 * self.grr / self.tv

    @property
    def ndc(self) -> float:
        """Distinct categories the measuring system can tell apart."""
        return 1.41 * self.pv / self.grr


def gauge_study(readings: ArrayLike) -> GaugeStudy:
    """Repeatability and reproducibility of operators × trials × parts.

    Parameters
    ----------
    readings : array-like, shape (operators, trials, parts)
        Every operator reads every part the same number of times.

    Notes
    -----
    Average-and-range method with K = 1/d2* rounded to the four digits of the published tables,
    d2*(m, 1) = sqrt(d2² + d3²), and two-way analysis of variance (AIAG, Measurement Systems
    Analysis, 4th ed.). ndc = 1.41 PV/GRR, without a root.
    """
    x = np.asarray(readings, float)
    if x.ndim != 3 or min(x.shape) < 2 or not np.isfinite(x).all():
        raise _refuse(f"readings of shape {x.shape}")
    operators, trials, parts = x.shape
    mean_range = float(np.ptp(x, axis=1).mean())
    difference = float(np.ptp(x.mean(axis=(1, 2))))
    part_range = float(np.ptp(x.mean(axis=(0, 1))))
    ev = mean_range * round(1 / chart_constants(trials).d2, 4)
    av2 = (difference * _k_star(operators)) ** 2 - ev**2 / (parts * trials)
    av = float(np.sqrt(max(0.0, av2)))
    grr, pv = float(np.hypot(ev, av)), part_range * _k_star(parts)
    squares = _two_way(x)
    df_inter, df_repeat = (operators - 1) * (parts - 1), operators * parts * (trials - 1)
    return GaugeStudy(
        mean_range=mean_range,
        operator_difference=difference,
        part_range=part_range,
        ev=ev,
        av=av,
        grr=grr,
        pv=pv,
        tv=float(np.hypot(grr, pv)),
        ss_part=squares[0],
        ss_operator=squares[1],
        ss_interaction=squares[2],
        ss_repeat=squares[3],
        ms_repeat=squares[3] / df_repeat,
        pooled_repeat=(squares[2] + squares[3]) / (df_inter + df_repeat),
    )


def _k_star(m: int) -> float:
    c = chart_constants(m)
    return round(float(1 / np.hypot(c.d2, c.d3)), 4)


def _two_way(x: Array) -> tuple[float, float, float, float]:
    operators, trials, parts = x.shape
    grand = x.mean()
    cell = x.mean(axis=1)
    part = float(operators * trials * ((x.mean(axis=(0, 1)) - grand) ** 2).sum())
    operator = float(parts * trials * ((x.mean(axis=(1, 2)) - grand) ** 2).sum())
    cells = float(trials * ((cell - grand) ** 2).sum())
    repeat = float(((x - cell[:, None, :]) ** 2).sum())
    return part, operator, cells - part - operator, repeat


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxCox:
    """Best power and its 95 % interval; ``keep_log`` when the logarithm lies inside."""

    power: float
    low95: float
    high95: float

    @property
    def keep_log(self) -> bool:
        """True when power 0, the logarithm, is inside the interval."""
        return self.low95 <= 0.0 <= self.high95


def box_cox(y: ArrayLike, design: ArrayLike | None = None) -> BoxCox:
    """Power that makes ``y`` most normal about a linear model, by profile likelihood.

    Parameters
    ----------
    y : array-like, shape (n,)
        Positive answers.
    design : array-like, shape (n, p), optional
        Model; a constant when left out.

    Notes
    -----
    Box & Cox, J. Roy. Statist. Soc. B 26 (1964) 211; scaled by the geometric mean. The interval
    holds powers whose log likelihood is within χ²(0.95, 1)/2 of the best.
    """
    from scipy.optimize import brentq, minimize_scalar

    values = np.asarray(y, float)
    if values.size < 3 or not (values > 0).all():
        raise _refuse(f"{values.size} values, some not above 0")
    x = np.ones((values.size, 1)) if design is None else np.asarray(design, float)
    q, _ = np.linalg.qr(x)
    logs = np.log(values)
    middle = logs.mean()

    def loss(power: float) -> float:
        if abs(power) < 1e-8:
            z = np.exp(middle) * logs
        else:
            z = np.expm1(power * logs) / (power * np.exp((power - 1) * middle))
        rest = z - q @ (q.T @ z)
        return float(0.5 * values.size * np.log(rest @ rest))

    found = minimize_scalar(loss, bounds=(-10, 10), method="bounded", options={"xatol": 1e-10})
    best, limit = float(found.x), float(found.fun) + CHI2_95 / 2
    low = brentq(lambda p: loss(p) - limit, -40, best) if loss(-40) > limit else -np.inf
    high = brentq(lambda p: loss(p) - limit, best, 40) if loss(40) > limit else np.inf
    return BoxCox(power=best, low95=float(low), high95=float(high))


def _refuse(found: str) -> ScienceError:
    return ScienceError(
        where="Repeatability",
        found=found,
        allowed="Complete repeats: two or more of each kind",
        cause="Too few repeats, or a gap among them",
        do="Add repeats of one formula, or leave the incomplete part out",
    )
