"""A proposal for the next trial, in moves, chances and reasons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np

from labkit.formula.model import Formula
from labkit.learning.bench_table import column_of
from labkit.learning.learner import Learner
from labkit.learning.posterior import Array
from labkit.plan.effects import path_shares
from labkit.plan.search import Judged

TOWARDS, TEACHES, REPEAT = "towards the brief", "teaches most", "repeat this batch"
REASONS = 3


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Proposal:
    """One trial worth making.

    Attributes
    ----------
    kind : str
        ``towards the brief``, ``teaches most`` or ``repeat this batch``.
    base : object
        The trial it starts from.
    label : str
        What the bench calls it.
    titles : mapping of str to str
        Names to show, for materials known by their key.
    moves : tuple of (str, Decimal)
        Materials and the % w/w they are set to; the q.s. line takes the rest.
    chances : mapping of str to float
        Chance that a new measured batch is inside each window.
    chance : float
        Chance of being inside all of them.
    why : tuple of str
        The largest expected contributions, in words.
    outside : tuple of str
        What was never tried that far.
    cost : float or None
        Per kg, where every price is known.
    percent : mapping of str to float
        The whole composition [% w/w].
    """

    kind: str
    base: Any
    label: str
    titles: Mapping[str, str]
    moves: tuple[tuple[str, Decimal], ...]
    chances: Mapping[str, float]
    chance: float
    why: tuple[str, ...]
    outside: tuple[str, ...]
    cost: float | None
    percent: Mapping[str, float]

    def apply(self, formula: Formula, mats: Any = None) -> Formula:
        """The proposal made from the formula of its base trial; the q.s. line gives."""
        for name, percent in self.moves:
            line = next(
                (
                    i
                    for i, x in enumerate(formula.lines)
                    if name in (x.material, x.key) or column_of(x.key or x.material, mats) == name
                ),
                None,
            )
            if line is None:
                formula = formula.add(name, f"{percent} %", give="qs")
            else:
                formula = formula.move(line, f"{percent} %", give="qs")
        return formula

    @property
    def words(self) -> str:
        """One sentence."""
        if not self.moves:
            return f"{self.kind}: trial {self.label}, chance of all windows {self.chance:.0%}"
        moved = ", ".join(f"{self.titles.get(n, n)} to {percent:f} %" for n, percent in self.moves)
        said = f"{self.kind}: from trial {self.label}, {moved}"
        return f"{said}; chance of all windows {self.chance:.0%}"

    def __str__(self) -> str:
        return self.words

    def __repr__(self) -> str:
        return f"<Proposal {self.words}>"


def propose(
    learner: Learner, kind: str, trial: int, found: Judged, i: int, price: Array | None
) -> Proposal:
    """The proposal for one candidate, told against the trial it starts from."""
    x, base, names = found.percent[i], learner.data.percent[trial], learner.data.names
    water = [w == "water" for w in learner.data.words]
    moves = tuple(
        (names[j], Decimal(str(round(float(x[j]), 4))))
        for j in np.flatnonzero(np.abs(x - base) > 1e-9)
        if not water[j]
    )
    one = found.only(np.array([i]))
    return Proposal(
        kind=kind,
        base=learner.data.trials[trial],
        label=learner.data.labels[trial],
        titles={n: t for n, t in zip(names, learner.titles, strict=True) if n != t},
        moves=moves,
        chances={k: float(v[0]) for k, v in one.chance.items()},
        chance=float(one.all_inside[0]),
        why=reasons(learner, base, x),
        outside=learner.outside(x[None])[0],
        cost=None if price is None else float(x @ price / 100.0),
        percent={name: float(v) for name, v in zip(names, x, strict=True) if v > 0},
    )


def reasons(learner: Learner, base: Array, x: Array) -> tuple[str, ...]:
    """The largest expected contributions of the changes, in words."""
    said: list[tuple[float, str]] = []
    names = learner.data.names
    for column, model in learner.models.items():

        def rows(points: Array, model: Any = model) -> Array:
            zero = np.zeros((len(points), 3))
            return np.asarray(model.map.rows(points[:, :-1], zero, points[:, -1]))

        ph = expected_ph(learner, np.stack([base, x]))
        share = path_shares(rows, np.append(base, ph[0]), np.append(x, ph[1]))
        effect = share @ model.posterior.effects()[0]
        title = column.split("_")[0].replace("drain", "drain time")
        for j in np.argsort(-np.abs(effect))[:REASONS]:
            if abs(effect[j]) >= 0.01 and (j >= len(names) or learner.data.words[j] != "water"):
                what = learner.titles[j] if j < len(names) else "the pH"
                said.append((abs(effect[j]), f"{what}: {title} × {10 ** effect[j]:.2f}"))
    ph = expected_ph(learner, np.stack([base, x]))
    if learner.ph_model is not None and abs(ph[1] - ph[0]) >= 0.03:
        said.append((abs(ph[1] - ph[0]), f"pH {ph[0]:.2f} to {ph[1]:.2f}"))
    return tuple(words for _, words in sorted(said, reverse=True)[:REASONS])


def expected_ph(learner: Learner, percent: Array) -> Array:
    """Expected pH of compositions (m, n); that of the first trial where pH is unknown."""
    if learner.ph_model is None:
        return np.full(len(percent), learner.map.reference_ph)
    mixture = learner.ph_model.predict(percent)
    return np.asarray((mixture.weight * mixture.mean).sum(axis=-1))
