"""What each change did, from trial to trial: a waterfall with intervals and a remainder."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from labkit.errors import MeasurementError
from labkit.learning.learner import Learner, fit
from labkit.learning.posterior import Array, nearness

NODES, WEIGHTS = np.polynomial.legendre.leggauss(6)
NODES, WEIGHTS = 0.5 * (NODES + 1), 0.5 * WEIGHTS
STEP = 1e-4
Z80 = 1.2815515655446004
WIDEN = 1.2  # bands of effects, from the simulated benches
TOGETHER = -0.8
PH_NOISE = 0.085  # of a difference of two readings, common practice
BEND_LEFT = 1.0  # of the bend's variance that neighbouring trials leave open, simulated benches
NAMES = {
    "viscosity": "viscosity_mPas",
    "drain time": "drain_s",
    "spread": "spread_mm",
    "pH": "pH",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """What one change did; log10 units for thickness, pH units for pH."""

    what: str
    before: float | None
    after: float | None
    effect: float
    low80: float
    high80: float

    @property
    def factor(self) -> float:
        """The effect as a factor on the quantity itself (log10 quantities)."""
        return float(10.0**self.effect)


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Step:
    """One trial against its parent.

    Attributes
    ----------
    contributions : tuple of Contribution
        Largest first; the water that filled is not counted twice.
    measured : float or None
        Measured change; None when either was not measured.
    not_explained : float or None
        Measured change less the sum of contributions.
    noise80 : float
        Half width within which 80 % of pure noise falls.
    cannot_tell : tuple of (str, str)
        Pairs that always moved together.
    water : float
        Change of water in percentage points.
    """

    trial: Any
    parent: Any
    label: str
    parent_label: str
    contributions: tuple[Contribution, ...]
    measured: float | None
    not_explained: float | None
    noise80: float
    cannot_tell: tuple[tuple[str, str], ...]
    water: float

    @property
    def words(self) -> tuple[str, ...]:
        """The step in sentences."""
        said = [_said(c) for c in self.contributions]
        for a, b in self.cannot_tell:
            said.append(f"{a} and {b} cannot be told apart: they moved together")
        if self.not_explained is not None:
            size = "within noise" if abs(self.not_explained) <= self.noise80 else "beyond noise"
            said.append(f"not explained: {self.not_explained:+.2f} ({size})")
        if abs(self.water) >= 0.01:
            said.append(f"water moved {self.water:+.2f} % to make room")
        return tuple(said)

    def __str__(self) -> str:
        return "\n  ".join([f"{self.parent_label} → {self.label}", *self.words])

    def __repr__(self) -> str:
        return f"<Step {self.parent_label} → {self.label}: {'; '.join(self.words)}>"


def _said(c: Contribution) -> str:
    moved = "" if c.before is None else f" {c.before:g} to {c.after:g} %"
    return f"{c.what}{moved}: {c.effect:+.2f} ({c.low80:+.2f} to {c.high80:+.2f})"


def effects(bench_or_learner: Any, quantity: str = "viscosity", mats: Any = None) -> list[Step]:
    """What each change did, one step for every trial that has a parent.

    Parameters
    ----------
    bench_or_learner : Bench, DataFrame or Learner
        Trials with readings, or what was learned from them.
    quantity : {"viscosity", "pH", "drain time", "spread"}
    mats : Materials, optional
        Used when a bench is given.

    Returns
    -------
    list of Step
        In the order made. Effects in log10 units (pH in pH units), with 80 % intervals.

    Raises
    ------
    MeasurementError
        The quantity was never measured.

    Notes
    -----
    Each change is credited along the straight path between the two compositions (Aumann &
    Shapley, Values of Non-Atomic Games, 1974), so that contributions add up to the change the
    linear part of the model expects; the remainder is "not explained". "+1 % oil" is also
    "-1 % water": effects are against water.
    """
    learner = (
        bench_or_learner if isinstance(bench_or_learner, Learner) else fit(bench_or_learner, mats)
    )
    name = NAMES.get(quantity, quantity)
    attribute = _attributor(learner, name)
    out = []
    for i, parent in enumerate(learner.data.parent.tolist()):
        if parent >= 0:
            out.append(attribute(parent, i))
    return out


def _attributor(learner: Learner, name: str) -> Callable[[int, int], Step]:
    if name == "pH" and learner.ph_model is not None and np.isfinite(learner.data.ph).any():
        return lambda p, q: _ph_step(learner, p, q)
    if name in learner.models:
        return lambda p, q: _step(learner, name, p, q)
    spoken = {column: word for word, column in NAMES.items()}
    raise MeasurementError(
        where="Effects",
        found=f"no {spoken.get(name, name)} measured",
        allowed=", ".join(spoken.get(x, x) for x in [*learner.models, "pH"]),
        cause="The quantity was not measured on these trials",
        do="Choose a quantity that was measured",
    )


def path_shares(function: Callable[[Array], Array], start: Array, end: Array) -> Array:
    """Share of each moved coordinate in ``function(end) - function(start)``.

    Parameters
    ----------
    function : callable
        Points (m, v) to values (m, f).
    start, end : ndarray, shape (v,)

    Returns
    -------
    ndarray, shape (v, f)
        Columns sum to the change of each value exactly.
    """
    delta = end - start
    moved = np.flatnonzero(delta)
    out = np.zeros((start.size, function(start[None]).shape[1]))
    if not moved.size:
        return out
    points = start + NODES[:, None] * delta
    nudge = np.zeros((moved.size, start.size))
    nudge[np.arange(moved.size), moved] = STEP * delta[moved]
    up = (points[:, None] + nudge).reshape(-1, start.size)
    down = (points[:, None] - nudge).reshape(-1, start.size)
    slope = (function(up) - function(down)).reshape(NODES.size, moved.size, -1) / (2 * STEP)
    share = np.einsum("k,kvf->vf", WEIGHTS, slope)
    total = (function(end[None]) - function(start[None]))[0]
    size = np.abs(share)
    weight = size / np.maximum(size.sum(axis=0), 1e-300)
    even = np.where(size.sum(axis=0) > 0, weight, 1.0 / moved.size)
    out[moved] = share + even * (total - share.sum(axis=0))
    return out


def _labels(learner: Learner) -> list[str]:
    return [*learner.titles, "pH"]


def _step(learner: Learner, name: str, p: int, q: int) -> Step:
    data, model = learner.data, learner.models[name]
    ph = _ph_of(learner)
    zero = np.zeros((1, 3))

    def rows(points: Array) -> Array:
        process = np.broadcast_to(zero, (len(points), 3))
        return model.map.rows(points[:, :-1], process, points[:, -1])

    ends = [np.append(data.percent[i], ph[i]) for i in (p, q)]
    share = path_shares(rows, *ends)
    share[_water(learner)] = 0.0
    moved_process = data.process[q] - data.process[p]
    process = np.zeros((3, share.shape[1]))
    process[:, -3:] = np.diag(moved_process)
    every = np.concatenate([share, process])
    labels = [*_labels(learner), *(f.label for f in model.map.features[-3:])]
    beta, covariance = model.posterior.effects()
    mean = every @ beta
    spread = every @ covariance @ every.T
    bend = _bend(learner, name, every, p)
    values = data.log_values[name]
    noise = _noise(learner, name, p, q)
    return _assemble(learner, p, q, labels, mean, (spread, bend), values, noise)


def _bend(learner: Learner, name: str, shares: Array, p: int) -> Array:
    """Variance of each contribution from what a straight line cannot follow."""
    post = learner.models[name].posterior
    here = learner.tried[[p]]
    near = nearness(here + shares, here, post.prior)[:, 0]
    return np.asarray(2.0 * float(post.weight @ post.bend**2) * BEND_LEFT * (1.0 - near))


def _noise(learner: Learner, name: str, p: int, q: int) -> float:
    post = learner.models[name].posterior
    s2 = float(post.weight @ post.noise**2)
    share = 0.35 + 0.65 / learner.data.readings[[p, q]]
    return float(np.sqrt(s2 * share.sum()))


def _ph_step(learner: Learner, p: int, q: int) -> Step:
    model, data = learner.ph_model, learner.data
    assert model is not None

    def expected(points: Array) -> Array:
        mixture = model.predict(np.maximum(points, 0.0))
        return np.asarray((mixture.weight * mixture.mean).sum(axis=-1))[:, None]

    share = path_shares(expected, data.percent[p], data.percent[q])
    mean = share[:, 0]
    sd = 0.1 * np.abs(mean) + np.where(mean != 0, 0.01, 0.0)
    return _assemble(
        learner,
        p,
        q,
        list(learner.titles),
        mean,
        (np.diag(sd**2), np.zeros(sd.size)),
        data.ph,
        PH_NOISE,
    )


def _assemble(
    learner: Learner,
    p: int,
    q: int,
    labels: Sequence[str],
    mean: Array,
    doubt: tuple[Array, Array],
    values: Array,
    noise: float,
) -> Step:
    """Contributions with their doubt: covariance of the linear part, variance of the bend."""
    data, (spread, bend) = learner.data, doubt
    linear_sd = np.sqrt(np.maximum(np.diagonal(spread), 0.0))
    sd = np.sqrt(linear_sd**2 + bend)
    order = [int(j) for j in np.argsort(-np.abs(mean)) if sd[j] > 1e-6 or abs(mean[j]) > 1e-6]
    found = []
    for j in order:
        half = Z80 * WIDEN * float(sd[j])
        material = j < len(data.names)
        found.append(
            Contribution(
                what=labels[j],
                before=float(data.percent[p, j]) if material else None,
                after=float(data.percent[q, j]) if material else None,
                effect=float(mean[j]),
                low80=float(mean[j]) - half,
                high80=float(mean[j]) + half,
            )
        )
    measured = float(values[q] - values[p])
    known = bool(np.isfinite(measured))
    total_sd = float(np.sqrt(noise**2 + max(float(spread.sum() + bend.sum()), 0.0)))
    return Step(
        trial=data.trials[q],
        parent=data.trials[p],
        label=data.labels[q],
        parent_label=data.labels[p],
        contributions=tuple(found),
        measured=measured if known else None,
        not_explained=measured - float(mean.sum()) if known else None,
        noise80=Z80 * total_sd,
        cannot_tell=_together(labels, order, spread, linear_sd),
        water=float((data.percent[q] - data.percent[p])[_water(learner)].sum()),
    )


def _together(
    labels: Sequence[str], order: Sequence[int], spread: Array, sd: Array
) -> tuple[tuple[str, str], ...]:
    pairs = []
    for k, i in enumerate(order):
        for j in order[k + 1 :]:
            if min(sd[i], sd[j]) > 0.02 and spread[i, j] / (sd[i] * sd[j]) < TOGETHER:
                pairs.append((labels[i], labels[j]))
    return tuple(pairs)


def _water(learner: Learner) -> list[int]:
    return [j for j, word in enumerate(learner.data.words) if word == "water"]


def _ph_of(learner: Learner) -> Array:
    """pH of each trial as the learner used it: measured, else expected."""
    data = learner.data
    if learner.ph_model is None:
        return np.where(np.isfinite(data.ph), data.ph, learner.map.reference_ph)
    mixture = learner.ph_model.predict(data.percent)
    expected = (mixture.weight * mixture.mean).sum(axis=-1)
    return np.asarray(np.where(np.isfinite(data.ph), data.ph, expected))
