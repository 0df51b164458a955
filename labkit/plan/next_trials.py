"""Proposals for the next trial: towards the brief, the most teaching, or the same again."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np

from labkit.errors import BriefError
from labkit.formula.model import Formula
from labkit.learning.bench_table import column_of
from labkit.learning.learner import Learner, fit
from labkit.learning.posterior import Array
from labkit.materials import Materials
from labkit.plan.candidates import LEAST_FILL, Room, weighing_step
from labkit.plan.effects import path_shares
from labkit.plan.search import (
    Judged,
    Stops,
    Windows,
    best_trials,
    check_windows,
    different,
    joined,
    judge,
    most_teaching,
    search,
)

TOWARDS, TEACHES, REPEAT = "towards the brief", "teaches most", "repeat this batch"
FIXED_WORDS = ("water", "preservative", "preservative salt", "fragrance", "active")
LOWER, UPPER = 0.5, 2.0  # bounds as shares of the present amount, common practice
ROOM_FOR_ABSENT = 1.0  # % when a material named in vary is not in the formula yet
REASONS = 3
REPEAT_SURPRISE = 1.5  # standard deviations of the noise
NEVER_REPEATED = 6  # trials after which a first repeat is worth its batch
SEED = 7
COLUMN_OF_WINDOW = {
    "pH": "pH",
    "viscosity": "viscosity_mPas",
    "drain time": "drain_s",
    "spread": "spread_mm",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """One trial worth making.

    Attributes
    ----------
    kind : str
        ``towards the brief``, ``teaches most`` or ``repeat this batch``.
    base : object
        The trial it starts from.
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
            return f"{self.kind}: trial {self.base}, chance of all windows {self.chance:.0%}"
        moved = ", ".join(f"{name} to {percent:f} %" for name, percent in self.moves)
        return (
            f"{self.kind}: from trial {self.base}, {moved}; chance of all windows {self.chance:.0%}"
        )


def windows_of(brief: Any) -> dict[str, tuple[float, float]]:
    """Windows of a brief (or a plain mapping) in the learner's columns and units."""
    if isinstance(brief, Mapping):
        return {
            str(COLUMN_OF_WINDOW.get(k, k)): (float(v[0]), float(v[1])) for k, v in brief.items()
        }
    out: dict[str, tuple[float, float]] = {}
    if brief.ph is not None:
        out["pH"] = (float(brief.ph[0]), float(brief.ph[1]))
    if brief.viscosity is not None:
        low, high = (q.to("mPa*s") for q in brief.viscosity)
        out["viscosity_mPas"] = (float(low), float(high))
    units = {"drain time": "s", "spread": "mm"}
    for name, unit in units.items():
        if name in brief.windows:
            low, high = (q.to(unit) for q in brief.windows[name])
            out[COLUMN_OF_WINDOW[name]] = (float(low), float(high))
    return out


def next_trials(
    bench: Any,
    brief: Any,
    mats: Any = None,
    n: int = 3,
    *,
    vary: Sequence[str] | None = None,
    bounds: Mapping[str, tuple[float, float]] | None = None,
    at_most: int = 4,
    stops: Stops | Callable[[Array], Array] | None = None,
    seed: int = SEED,
) -> list[Proposal]:
    """Propose the next trial.

    Parameters
    ----------
    bench : Bench, DataFrame or Learner
        The trials so far.
    brief : Brief or mapping
        Windows to land in; a mapping such as ``{"pH": (4.8, 5.4), "viscosity": (2e4, 3e4)}``
        is in pH units and mPa·s.
    mats : Materials, optional
        Your materials: names, prices. The starter set when left out.
    n : int
        Proposals towards the brief that change different materials.
    vary : sequence of str, optional
        Materials that may change; else everything in the formula except water, preservatives,
        fragrance and actives, and acids and bases of the trials.
    bounds : mapping, optional
        Material to (low, high) % w/w; else half to twice the present share.
    at_most : int
        Changes in one trial.
    stops : callable, optional
        Compositions (m, materials) in the order of ``learner.data.names`` to True where a stop
        forbids them.
    seed : int
        The same trials and seed give the same proposals.

    Returns
    -------
    list of Proposal
        ``n`` towards the brief, best first; then ``repeat this batch`` when noise is the
        question; then the one that ``teaches most``.

    Raises
    ------
    BriefError
        No window, a window that holds nothing, or one for a quantity never measured.

    Notes
    -----
    Maximises the chance that a new measured batch is inside every window. Stops are left out,
    cost breaks ties. The bands behind the chances hold batch and reading noise.
    """
    mats = Materials.starter() if mats is None else mats
    learner = bench if isinstance(bench, Learner) else fit(bench, mats)
    windows = windows_of(brief)
    check_windows(windows)
    rng = np.random.default_rng(seed)
    price = prices(learner.data.names, mats)
    out: list[Proposal] = []
    pools: list[tuple[int, Room, Judged]] = []
    for trial in best_trials(learner, windows):
        room = room_of(learner, learner.data.percent[trial], vary, bounds, mats)
        found = search(
            learner,
            learner.data.percent[trial],
            room,
            windows,
            at_most=at_most,
            stops=stops,
            price=price,
            rng=rng,
        )
        pools.append((trial, room, found))
    trial, room, found = max(pools, key=lambda pool: float(pool[2].score[0]))
    for i in different(found, room, n):
        out.append(_proposal(learner, TOWARDS, trial, found, i, price))
    again = _repeat(learner, windows, price)
    if again is not None:
        out.append(again)
    teach = next(iter(learner.models), None)
    if teach is not None:
        at = most_teaching(learner, found.percent, teach)
        out.append(_proposal(learner, TEACHES, trial, found, at, price))
    return out


def room_of(
    learner: Learner,
    base: Array,
    vary: Sequence[str] | None,
    bounds: Mapping[str, tuple[float, float]] | None,
    mats: Any,
) -> Room:
    """What may move around ``base``, from names and bounds or by common practice."""
    names, words = list(learner.data.names), learner.data.words
    filler = max(
        (j for j, w in enumerate(words) if w == "water"), key=lambda j: base[j], default=-1
    )
    if filler < 0:
        filler = int(np.argmax(base))
    if vary is None:
        chosen = [
            j
            for j, w in enumerate(words)
            if j != filler and w not in FIXED_WORDS and (base[j] > 0 or w in ("acid", "base"))
        ]
    else:
        chosen = [_position(name, names, mats) for name in vary]
    if not chosen:
        raise _no_room()
    low, high = LOWER * base, UPPER * base
    high = np.where(base > 0, high, ROOM_FOR_ABSENT)
    acid = np.array([w in ("acid", "base") for w in words])
    low, high = np.where(acid, 0.0, low), np.where(acid, np.maximum(high, 0.4), high)
    for name, (lo, hi) in (bounds or {}).items():
        at = _position(name, names, mats)
        if not 0 <= lo <= hi <= 100:
            raise BriefError(
                where=f"Bounds of {name}",
                found=f"{lo:g} to {hi:g} %",
                allowed="0 to 100 %, the lower first",
                cause="The ends are swapped, or a share of 1 was meant",
                do="Give % w/w of the batch",
            )
        low[at], high[at] = lo, hi
    free = np.array([j for j in chosen if j != filler and high[j] > low[j]], dtype=np.intp)
    if not free.size:
        raise _no_room()
    return Room(
        vary=free, low=low, high=high, filler=filler, step=weighing_step(np.maximum(base, low))
    )


def _no_room() -> BriefError:
    return BriefError(
        where="Next trial",
        found="nothing that may change",
        allowed="At least one material with room between its bounds",
        cause="Every material is fixed, or its bounds leave no room",
        do=f"Name materials in vary, or widen bounds; {LEAST_FILL:g} % of water must remain",
    )


def _position(name: str, names: Sequence[str], mats: Any) -> int:
    for candidate in (name, column_of(name, mats)):
        if candidate in names:
            return names.index(candidate)
    same = [j for j, known in enumerate(names) if column_of(known, mats) == column_of(name, mats)]
    if same:
        return same[0]
    raise BriefError(
        where="Next trial",
        found=f"'{name}'",
        allowed=", ".join(names),
        cause="No trial contains that material, or it is spelt differently",
        do="Name a material of the trials; try a new one by hand first",
    )


def prices(names: Sequence[str], mats: Any) -> Array | None:
    """Price per kg of each material, None unless every one but water is known."""
    out = np.zeros(len(names))
    for j, name in enumerate(names):
        material = mats.resolve(name) if mats is not None else None
        price = getattr(material, "price", None)
        if price is None:
            if material is not None and (material.inci or "").lower() == "aqua":
                continue
            return None
        out[j] = price.per_kg
    return out


def _proposal(
    learner: Learner, kind: str, trial: int, found: Judged, i: int, price: Array | None
) -> Proposal:
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

        ph = _expected_ph(learner, np.stack([base, x]))
        share = path_shares(rows, np.append(base, ph[0]), np.append(x, ph[1]))
        effect = share @ model.posterior.effects()[0]
        title = column.split("_")[0].replace("drain", "drain time")
        for j in np.argsort(-np.abs(effect))[:REASONS]:
            if abs(effect[j]) >= 0.01 and (j >= len(names) or learner.data.words[j] != "water"):
                what = names[j] if j < len(names) else "the pH"
                said.append((abs(effect[j]), f"{what}: {title} x {10 ** effect[j]:.2f}"))
    ph = _expected_ph(learner, np.stack([base, x]))
    if learner.ph_model is not None and abs(ph[1] - ph[0]) >= 0.03:
        said.append((abs(ph[1] - ph[0]), f"pH {ph[0]:.2f} to {ph[1]:.2f}"))
    return tuple(words for _, words in sorted(said, reverse=True)[:REASONS])


def _expected_ph(learner: Learner, percent: Array) -> Array:
    if learner.ph_model is None:
        return np.full(len(percent), learner.map.reference_ph)
    mixture = learner.ph_model.predict(percent)
    return np.asarray((mixture.weight * mixture.mean).sum(axis=-1))


def _repeat(learner: Learner, windows: Windows, price: Array | None) -> Proposal | None:
    """The same again, when its own reading is in doubt or nothing was ever repeated."""
    data = learner.data
    best = best_trials(learner, windows, 1)[0]
    judged = judge(learner, data.percent[[best]], windows)
    unique = np.unique(data.percent.round(4), axis=0)
    never = len(unique) == len(data.percent) and len(data.percent) >= NEVER_REPEATED
    if not (never or _in_doubt(learner, best, windows)):
        return None
    return _proposal(learner, REPEAT, best, joined(judged, judged), 0, price)


def _in_doubt(learner: Learner, trial: int, windows: Windows) -> bool:
    """A reading inside the windows that the other trials do not expect, or the reverse."""
    for name in windows:
        values = learner.data.ph if name == "pH" else learner.data.log_values.get(name)
        if values is None or not np.isfinite(values[trial]):
            continue
        answers, acidity = learner.mixtures(learner.data.percent[[trial]])
        mixture = acidity if name == "pH" else answers[name]
        if mixture is None:
            continue
        middle = float((mixture.weight * mixture.mean).sum())
        square = float((mixture.weight * (mixture.sd**2 + mixture.mean**2)).sum())
        sd = max(float(np.sqrt(max(square - middle**2, 0.0))), 1e-6)
        if abs(values[trial] - middle) > REPEAT_SURPRISE * sd:
            return True
    return False
