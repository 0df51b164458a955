"""Grades the planner on the simulated benches: trials needed to reach the windows.

``python -m tests.plan.grade --series 100``. The target lies 0.2-0.6 log10 units and 0.3-1.0 pH
units away; it was reachable when drawn (a formula of the same materials within the bounds meets
it). Windows: viscosity ± 20 %, pH ± 0.2. A trial counts as a hit when the *measured* values are
inside. The first batch counts as trial 1.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from labkit.learning.learner import fit
from labkit.plan.candidates import Room, around, weighing_step
from labkit.plan.search import best_trials, search
from tests.learning.palette import FUNCTIONS, NAMES
from tests.learning.simulator import Bench, World, _row, _sensible, start

FIXED = ("water", "preservative", "preservative salt", "fragrance", "active")
HALF = 0.0792  # log10(1.2)
PH_HALF = 0.2
LIMIT = 25


@dataclass(frozen=True, slots=True)
class Task:
    """A bench, its first formula, what may move, and the windows."""

    bench: Bench
    first: np.ndarray
    room: Room
    windows: dict[str, tuple[float, float]]


def task(seed: int, world: str) -> Task:
    """A task that can be solved: its target is the truth of some allowed formula."""
    bench = Bench(seed, world)
    rng = bench.rng
    for _ in range(200):
        first = _sensible(bench, start(rng), rng)
        room = room_around(first)
        ph = bench.truth.ph(first)
        level = bench.truth.log10_viscosity(first, ph)
        for x in around(first, room, 60, 4, rng):
            new_ph = bench.truth.ph(x)
            goal = bench.truth.log10_viscosity(x, new_ph)
            if 0.2 <= abs(goal - level) <= 0.6 and 0.3 <= abs(new_ph - ph) <= 1.0:
                windows = {
                    "viscosity_mPas": (10 ** (goal - HALF), 10 ** (goal + HALF)),
                    "pH": (new_ph - PH_HALF, new_ph + PH_HALF),
                }
                return Task(bench, first, room, windows)
    raise AssertionError(f"no task for seed {seed}")


def room_around(first: np.ndarray) -> Room:
    """Bounds of half to twice each present material; acid and base may come in."""
    words = [FUNCTIONS[n] for n in NAMES]
    both = np.array([w in ("acid", "base") for w in words])
    vary = np.array(
        [j for j, w in enumerate(words) if w not in FIXED and (first[j] > 0 or both[j])]
    )
    low = np.where(both, 0.0, 0.5 * first)
    high = np.where(both, np.maximum(2.0 * first, 0.4), 2.0 * first)
    return Room(
        vary=vary, low=low, high=high, filler=NAMES.index("Aqua"), step=weighing_step(first)
    )


def play(seed: int, world: str, at_most: int = 4) -> int:
    """Trials until both measured values lie inside; 26 when never in 25."""
    job = task(seed, world)
    rng = np.random.default_rng(seed)
    rows: list[dict[str, object]] = []
    x = job.first
    for trial in range(1, LIMIT + 1):
        made = job.bench.make(x)
        rows.append(_row(trial, trial - 1 or None, None, x, made, ""))
        if all(low <= made[name] <= high for name, (low, high) in job.windows.items()):
            return trial
        learner = fit(pd.DataFrame(rows), functions=FUNCTIONS)
        found = [
            search(
                learner,
                learner.data.percent[i],
                job.room,
                job.windows,
                at_most=at_most,
                rng=rng,
            )
            for i in best_trials(learner, job.windows)
        ]
        best = max(found, key=lambda judged: float(judged.score[0]))
        x = best.percent[0]
    return LIMIT + 1


def grade(world: str, seeds: Iterable[int]) -> np.ndarray:
    """Trials used, one a bench."""
    return np.array([play(seed, world) for seed in seeds])


def report(world: str, used: np.ndarray) -> str:
    """One line."""
    return (
        f"{world:8} median {np.median(used):.0f}   within 4: {100 * np.mean(used <= 4):.0f} %   "
        f"6: {100 * np.mean(used <= 6):.0f} %   10: {100 * np.mean(used <= 10):.0f} %   "
        f"never in {LIMIT}: {100 * np.mean(used > LIMIT):.0f} %   ({used.size} benches)"
    )


def main() -> None:
    """Print the report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--series", type=int, default=100)
    parser.add_argument("--world", default="all")
    given = parser.parse_args()
    for world in ("plain", "rough", "hostile") if given.world == "all" else (given.world,):
        print(report(world, grade(world, range(2000, 2000 + given.series))), flush=True)


__all__ = ["World", "grade", "play", "report", "task"]

if __name__ == "__main__":
    main()
