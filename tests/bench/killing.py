"""Kill writers at random moments, and look what became of every acknowledged record.

The writer goes through the public API and says the id of a trial only after
``bench.record`` has returned. The control says it just before the commit: a
harness that does not catch the control proves nothing.
"""

from __future__ import annotations

import contextlib
import os
import random
import select
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from labkit.bench import Bench
from labkit.bench.writing import Writer
from labkit.formula import Formula

CREAM = Formula.parse(
    "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5\nB,Cetearyl Alcohol,3", name="hand cream"
)
RUNS_PER_FILE = 20
LONGEST_S = 0.08
LONGEST_WAIT_S = 0.5


@dataclass(slots=True)
class Outcome:
    """What was seen over all kills."""

    kills: int = 0
    acknowledged: int = 0
    lost: int = 0
    caught_runs: int = 0
    damaged: int = 0
    checkers_killed: int = 0
    slowest_open_s: float = 0.0

    def __str__(self) -> str:
        return (
            f"{self.kills} kills, {self.acknowledged} acknowledged, {self.lost} lost "
            f"(in {self.caught_runs} runs), {self.damaged} damaged, "
            f"{self.checkers_killed} checkers killed, slowest open {self.slowest_open_s:.2f} s"
        )


def kill_writers(
    kills: int, writers: int = 1, *, early: bool = False, seed: int = 1, folder: Path | None = None
) -> Outcome:
    """Kill that often, and check after each kill.

    Parameters
    ----------
    kills : int
        How many runs; one file is kept through :data:`RUNS_PER_FILE` of them.
    writers : int
        How many processes write to the file at once; all are killed.
    early : bool
        The control: acknowledge before the commit.
    seed : int
        Of the moments.
    folder : Path, optional
        Where the files lie.

    Returns
    -------
    Outcome
    """
    dice, found = random.Random(seed), Outcome()
    with tempfile.TemporaryDirectory(dir=folder) as place:
        _warm_up(Path(place))
        known: set[str] = set()
        for run in range(kills):
            if run % RUNS_PER_FILE == 0:
                known = set()
            file = Path(place) / f"{run // RUNS_PER_FILE}.db"
            known |= _one_run(file, writers, early, dice, found)
            _check(file, known, dice, found)
    return found


def _warm_up(place: Path) -> None:
    """Load once what each child would otherwise load before its first record."""
    with Bench.open(place / "warm.db") as bench:
        bench.measure(bench.record(CREAM), "pH", 5.31)
        bench.verify()


def _one_run(
    file: Path, writers: int, early: bool, dice: random.Random, found: Outcome
) -> set[str]:
    pipes = [os.pipe() for _ in range(writers)]
    children = [_start(lambda fd=w: _write(file, fd, early), r) for r, w in pipes]
    for _, end in pipes:
        os.close(end)
    if dice.random() < 0.9:
        for start, _ in pipes:
            select.select([start], [], [], LONGEST_WAIT_S)
    time.sleep(dice.random() * LONGEST_S)
    for child in dice.sample(children, len(children)):
        os.kill(child, signal.SIGKILL)
        time.sleep(dice.random() * 0.002)
    for child in children:
        os.waitpid(child, 0)
    said: set[str] = set()
    for start, _ in pipes:
        with os.fdopen(start, "rb") as pipe:
            said |= {line.decode() for line in pipe.read().split(b"\n")[:-1]}
    found.kills += 1
    found.acknowledged += len(said)
    return said


def _start(work: Callable[[], None], unused: int) -> int:
    child = os.fork()
    if child:
        return child
    try:
        os.close(unused)
        work()
    except BaseException as error:
        sys.stderr.write(f"{type(error).__name__}: {error}\n")
    finally:
        os._exit(1)


def _write(file: Path, end: int, early: bool) -> None:
    bench = Bench.open(file)
    if early:
        _acknowledge_before_commit(bench, end)
    parent = None
    while True:
        parent = bench.record(CREAM, parent=parent, note=f"from {os.getpid()}")
        if not early:
            os.write(end, parent.id.encode() + b"\n")
        reading = bench.measure(parent, "pH", 5.31)
        if not early:
            os.write(end, reading.id.encode() + b"\n")


def _acknowledge_before_commit(bench: Bench, end: int) -> None:
    honest = bench.store.writing

    @contextlib.contextmanager
    def hasty() -> Iterator[Writer]:
        with honest() as writer:
            names: list[str] = []
            add = writer.add

            def noted(*args: object, **more: object) -> object:
                record = add(*args, **more)  # type: ignore[arg-type]
                names.append(record.id)
                return record

            writer.add = noted  # type: ignore[method-assign, assignment]
            yield writer
            for name in names:
                os.write(end, name.encode() + b"\n")

    bench.store.writing = hasty  # type: ignore[method-assign, assignment]


def _check(file: Path, known: set[str], dice: random.Random, found: Outcome) -> None:
    if not file.exists():
        found.lost += len(known)
        return
    if dice.random() < 0.1:
        found.checkers_killed += 1
        quiet, end = os.pipe()
        child = _start(lambda: _look(file), quiet)
        time.sleep(dice.random() * 0.01)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        os.close(quiet)
        os.close(end)
    start = time.perf_counter()
    bench = Bench.open(file)
    found.slowest_open_s = max(found.slowest_open_s, time.perf_counter() - start)
    with bench:
        here = {record.id for record in bench.store.records(sorted(known))}
        missing = known - here
        found.lost += len(missing)
        found.caught_runs += bool(missing)
        known -= missing
        if not bench.verify().ok:
            found.damaged += 1


def _look(file: Path) -> None:
    with Bench.open(file) as bench:
        bench.verify()
