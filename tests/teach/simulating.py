"""A class that never was: desks that fork, measure and hand in, with and without slips."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from labkit.formula import Formula
from labkit.teach import Classroom, Desk, master

START = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
GEL = Formula.parse(
    "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,4\nA,Xanthan gum,0.5\nB,Phenoxyethanol,0.9",
    name="Harbour gel",
)


def ticking(start: datetime, step_s: float = 30.0) -> Callable[[], datetime]:
    """A clock that goes on by a fixed step each time it is read."""
    state = [start]

    def tick() -> datetime:
        state[0] += timedelta(seconds=step_s)
        return state[0]

    return tick


def entropy(seed: int) -> Callable[[int], bytes]:
    """Random bytes that come again."""
    return random.Random(seed).randbytes


class Wall:
    """A clock on the wall that a test sets."""

    def __init__(self, at: datetime = START) -> None:
        self.at = at

    def __call__(self) -> datetime:
        """The time it shows."""
        return self.at


def open_class(folder: Path, seed: int = 0, later: timedelta = timedelta(hours=6)) -> Classroom:
    """A class set up at the start, looked at some hours later."""
    folder.mkdir(parents=True, exist_ok=True)
    wall = Wall()
    room = Classroom.open(folder, clock=wall, entropy=entropy(seed))
    room.set_up(
        master(GEL, {"Xanthan gum": ("0.3 %", "0.8 %")}),
        title="Gels by the harbour",
        measures=["pH", "viscosity"],
    )
    wall.at = START + later
    return room


def desk(
    folder: Path, number: int, handout: Path, start: datetime = START + timedelta(hours=1)
) -> Desk:
    """A desk that has taken the hand-out."""
    return Desk.open(
        folder / f"desk-{number}",
        handout=handout,
        clock=ticking(start),
        entropy=entropy(1000 + number),
    )


def work(
    one: Desk,
    number: int,
    *,
    trials: int = 1,
    factor: float = 1.0,
    unit: str = "Pa*s",
    off: float = 0,
) -> None:
    """A desk's trials: viscosity goes with xanthan, each desk has a hand of its own."""
    hand = random.Random(number)
    own = hand.gauss(0, 0.02)
    for i in range(trials):
        share = (0.3, 0.4, 0.5, 0.6, 0.7)[(number + i) % 5]
        trial = one.fork({"Xanthan gum": f"{share} %"}, note="thicker?")
        level = 8.0 * (share / 0.5) ** 2 * 10**own * factor
        reads = [f"{level * 10 ** hand.gauss(0, 0.01):.2f} {unit}" for _ in range(3)]
        one.measure(trial, "viscosity", reads, temperature="25 °C", spindle="S64", speed="20 rpm")
        acid = [f"{5.4 + own + off + hand.gauss(0, 0.02):.2f}" for _ in range(2)]
        one.measure(trial, "pH", acid, temperature="25 °C", dilution="neat")
