"""The numbers behind the next trial: which composition most likely lands inside every window."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from labkit.errors import BriefError
from labkit.learning.learner import Learner
from labkit.learning.posterior import Array, Mixture
from labkit.plan.candidates import Room, Whole, around, refined

FIRST, SECOND = 450, 200
PULL = 1e-3  # weight of the distance to the windows, so that far starts still know the way
COST_TIE = 0.02  # probabilities this close count as equal
REPEAT_MARGIN = 0.05
TEACHERS = 160
REGION = 60

Windows = Mapping[str, tuple[float, float]]
"""Quantity column to (low, high) in its own unit, e.g. ``viscosity_mPas``."""
Stops = Callable[[Array], Array]
"""Compositions (m, n) to True where a stop forbids making them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """Compositions with their chances: arrays along m."""

    percent: Array  # (m, n)
    chance: dict[str, Array]  # each (m,)
    score: Array  # (m,)

    @property
    def all_inside(self) -> Array:
        """Chance of being inside every window, taken as independent given the formula."""
        return np.asarray(np.prod(np.stack(list(self.chance.values())), axis=0))

    def only(self, keep: Whole) -> Judged:
        """Rows picked by mask or positions."""
        return Judged(
            percent=self.percent[keep],
            chance={k: v[keep] for k, v in self.chance.items()},
            score=self.score[keep],
        )


def judge(learner: Learner, percent: Array, windows: Windows) -> Judged:
    """Chance of each window and the score, for compositions (m, n)."""
    answers, acidity = learner.mixtures(percent)
    chance: dict[str, Array] = {}
    away = np.zeros(len(percent))
    for name, (low, high) in windows.items():
        mixture, lo, hi = _scaled(answers, acidity, name, low, high)
        chance[name] = mixture.cdf(hi) - mixture.cdf(lo)
        middle, half = 0.5 * (lo + hi), max(0.5 * (hi - lo), 1e-3)
        away += mixture.mean_of_square(middle) / half**2
    total = np.prod(np.stack(list(chance.values())), axis=0)
    return Judged(percent=percent, chance=chance, score=total - PULL * away)


def _scaled(
    answers: Mapping[str, Mixture], acidity: Mixture | None, name: str, low: float, high: float
) -> tuple[Mixture, float, float]:
    if name == "pH" and acidity is not None:
        return acidity, low, high
    if name in answers:
        return answers[name], float(np.log10(max(low, 1e-9))), float(np.log10(high))
    raise BriefError(
        where="Windows",
        found=f"a window for {name}",
        allowed=", ".join([*answers, *(["pH"] if acidity is not None else [])]),
        cause="That quantity was not measured on these trials",
        do="Measure it once, or leave its window out of the brief",
    )


def check_windows(windows: Windows) -> None:
    """Refuse an empty set of windows, and windows that hold nothing."""
    if not windows:
        raise BriefError(
            where="Brief",
            found="no window to aim for",
            allowed="A pH or a viscosity window at least",
            cause="The brief names no measured quantity",
            do="Add ph=(low, high) or viscosity=(low, high) to the brief",
        )
    for name, (low, high) in windows.items():
        if not low < high:
            raise BriefError(
                where="Brief",
                found=f"{name} from {low:g} to {high:g}",
                allowed="A low end below the high end",
                cause="The ends are swapped, or equal",
                do="Write the smaller number first",
            )


def search(
    learner: Learner,
    base: Array,
    room: Room,
    windows: Windows,
    *,
    at_most: int = 4,
    stops: Stops | None = None,
    price: Array | None = None,
    rng: np.random.Generator,
) -> Judged:
    """Candidates around ``base``, best first.

    Parameters
    ----------
    learner : Learner
        What the trials taught.
    base : ndarray, shape (n,)
        Composition to start from, in the learner's order.
    room : Room
        What may move, and how far.
    windows : mapping
        Quantity column to (low, high).
    at_most : int
        Changes in one trial.
    stops : callable, optional
        Excludes compositions.
    price : ndarray, shape (n,), optional
        Cost per kg; breaks ties between chances within two points.
    rng : Generator
        Source of candidates.
    """
    check_windows(windows)
    first = _allowed(around(base, room, FIRST, at_most, rng), stops)
    judged = judge(learner, np.concatenate([base[None], first]), windows)
    top = np.argsort(-judged.score)[:8]
    second = _allowed(refined(judged.percent[top], base, room, SECOND, rng), stops)
    if len(second):
        judged = joined(judged, judge(learner, second, windows))
    return judged.only(_order(judged, price))


def joined(a: Judged, b: Judged) -> Judged:
    """Two sets of judged compositions as one."""
    return Judged(
        percent=np.concatenate([a.percent, b.percent]),
        chance={k: np.concatenate([a.chance[k], b.chance[k]]) for k in a.chance},
        score=np.concatenate([a.score, b.score]),
    )


def _allowed(percent: Array, stops: Stops | None) -> Array:
    return percent if stops is None else percent[~np.asarray(stops(percent), bool)]


def _order(judged: Judged, price: Array | None) -> Whole:
    """Best score first; among near equals the cheaper."""
    if price is None:
        return np.argsort(-judged.score)
    cost = judged.percent @ np.nan_to_num(price) / 100.0
    best = judged.score.max()
    tier = np.floor((best - judged.score) / COST_TIE)
    return np.lexsort((cost, tier))


def different(judged: Judged, room: Room, count: int) -> list[int]:
    """Positions of the best ``count`` rows that change different materials."""
    kept: list[int] = []
    seen: set[tuple[int, ...]] = set()
    base = judged.percent[:, room.vary]
    start = _start(judged, room)
    for i in range(len(judged.score)):
        moved = tuple(np.flatnonzero(np.abs(base[i] - start) > 1e-9).tolist())
        if not moved or moved in seen:
            continue
        seen.add(moved)
        kept.append(i)
        if len(kept) == count:
            break
    return kept


def _start(judged: Judged, room: Room) -> Array:
    """The unchanged value of each varied material: the one most rows keep."""
    columns = judged.percent[:, room.vary]
    out = np.empty(room.vary.size)
    for j, column in enumerate(columns.T):
        values, counts = np.unique(column, return_counts=True)
        out[j] = values[np.argmax(counts)]
    return out


def most_teaching(learner: Learner, points: Array, name: str = "viscosity_mPas") -> int:
    """Position of the point whose result would teach most about the others (I-optimal).

    Notes
    -----
    ``argmax mean_u (u'Vx)^2 / (x'Vx + s^2)`` over the region u, V the covariance of the effects
    (Goos, Jones & Syafitri, JASA 111 (2016) 899, for I-optimality in mixtures).
    """
    points = points[:TEACHERS]
    model = learner.models[name]
    _, acidity = learner.mixtures(points)
    ph = np.full(len(points), learner.map.reference_ph)
    if acidity is not None:
        ph = (acidity.weight * acidity.mean).sum(axis=-1)
    rows = model.map.rows(points, np.zeros((len(points), 3)), ph)
    _, covariance = model.posterior.effects()
    noise = float(model.posterior.weight @ model.posterior.noise**2)
    cross = rows[:REGION] @ covariance @ rows.T
    own = np.einsum("mp,pq,mq->m", rows, covariance, rows)
    return int(np.argmax((cross**2).mean(axis=0) / (own + noise)))


def best_trials(learner: Learner, windows: Windows, count: int = 2) -> list[int]:
    """Positions of the trials whose formula, made again, most likely meets the windows."""
    judged = judge(learner, learner.data.percent, windows)
    order = np.argsort(-judged.score)
    kept: list[int] = []
    for i in order.tolist():
        if all(
            np.abs(learner.data.percent[i] - learner.data.percent[k]).max() > 1e-9 for k in kept
        ):
            kept.append(i)
        if len(kept) == count:
            break
    return kept
