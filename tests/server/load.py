"""Many people at once, each in a process and with a login of their own; and a server that dies.

Everything goes through the public API. A writer says the id of a record only after
the call that made it has returned; the control says it just before the commit, and
must be caught.
"""

from __future__ import annotations

import contextlib
import os
import random
import signal
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from labkit.bench import Bench, server
from labkit.bench.writing import Writer
from labkit.errors import LabkitError
from labkit.formula import Formula
from tests.postgres import Server

CREAM = Formula.parse(
    "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5\nB,Cetearyl Alcohol,3", name="hand cream"
)


@dataclass(slots=True)
class Class:
    """The addresses of many learners of one teacher; the teacher's comes first."""

    addresses: list[str]
    names: list[str]


def seat(pg: Server, learners: int, database: str = "load") -> Class:
    """A class of that many learners."""
    address = pg.address(database)
    server.init(address)
    names = [f"{database}_{number:02d}" for number in range(learners)]
    made = server.add_class(address, database, teacher=f"{database}_teacher", learners=names)
    addresses = [pg.address(database, one.login, str(one.password)) for one in made]
    return Class(addresses, [one.login for one in made])


@dataclass(slots=True)
class Run:
    """What many writers did: seconds in all, seconds of each append, faults."""

    seconds: float = 0.0
    times: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def at(self, share: float) -> float:
        """The time that this share of the appends kept below [s]."""
        return sorted(self.times)[int(share * (len(self.times) - 1))]

    def __str__(self) -> str:
        return (
            f"{len(self.times)} appends in {self.seconds:.1f} s: "
            f"{len(self.times) / self.seconds:.0f}/s, median {self.at(0.5) * 1e3:.0f} ms, "
            f"p99 {self.at(0.99) * 1e3:.0f} ms, {len(self.faults)} faults"
        )


def write_together(
    addresses: list[str],
    appends: int,
    work: Callable[[Bench, int, list[float]], None],
    *,
    before: int = 0,
) -> Run:
    """Every address in a process of its own; all begin at the same moment.

    ``before`` appends go ahead untimed, as in a notebook that has been open for a while.
    """
    gate, opener = os.pipe()
    ready, said_ready = os.pipe()
    pipes = [os.pipe() for _ in addresses]
    children = [
        _fork(lambda a=a, w=w: _worker(a, (before, appends), work, gate, said_ready, w), opener)
        for a, (_, w) in zip(addresses, pipes, strict=True)
    ]
    for _, end in pipes:
        os.close(end)
    os.close(said_ready)
    seen = 0
    while seen < len(addresses) and (part := os.read(ready, 64)):
        seen += len(part)
    start, found = time.perf_counter(), Run()
    os.close(opener)
    for reading, _ in pipes:
        with os.fdopen(reading) as pipe:
            for line in pipe:
                _note(line.rstrip("\n"), found)
    found.seconds = time.perf_counter() - start
    for child in children:
        os.waitpid(child, 0)
    os.close(gate)
    os.close(ready)
    return found


def _note(line: str, found: Run) -> None:
    if line.startswith("!"):
        found.faults.append(line)
    else:
        found.times.append(float(line))


def _fork(work: Callable[[], None], unused: int) -> int:
    child = os.fork()
    if child:
        return child
    try:
        os.close(unused)
        work()
    except BaseException as error:
        sys.stderr.write(f"{type(error).__name__}: {error}\n")
    finally:
        os._exit(0)


def _worker(
    address: str,
    appends: tuple[int, int],
    work: Callable[[Bench, int, list[float]], None],
    gate: int,
    ready: int,
    end: int,
) -> None:
    times: list[float] = []
    lines: list[str] = []
    try:
        with Bench.open(address) as bench:
            work(bench, appends[0], [])
            os.write(ready, b".")
            os.read(gate, 1)
            work(bench, appends[1], times)
    except Exception as error:
        lines = ["! " + str(error).replace("\n", " ")]
    with os.fdopen(end, "w") as pipe:
        pipe.writelines(f"{line}\n" for line in [*lines, *map(str, times)])


def chain(bench: Bench, appends: int, times: list[float]) -> None:
    """Trials, each built on the last."""
    parent = None
    for number in range(appends):
        start = time.perf_counter()
        parent = bench.record(CREAM, parent=parent, note=f"trial {number}")
        times.append(time.perf_counter() - start)


# a server that dies ------------------------------------------------------------------


@dataclass(slots=True)
class Deaths:
    """What was seen over all kills of the server."""

    kills: int = 0
    acknowledged: int = 0
    lost: int = 0
    damaged: int = 0

    def __str__(self) -> str:
        return (
            f"{self.kills} kills, {self.acknowledged} acknowledged, {self.lost} lost, "
            f"{self.damaged} damaged"
        )


def kill_server(
    pg: Server, people: Class, kills: int, *, early: bool = False, seed: int = 1
) -> Deaths:
    """Kill the server (immediate) that often under all learners, and look after each time."""
    dice, found = random.Random(seed), Deaths()
    known: dict[str, set[str]] = {address: set() for address in people.addresses[1:]}
    for _ in range(kills):
        pipes = [os.pipe() for _ in known]
        children = [
            _fork(lambda a=a, w=w: _until_it_dies(a, w, early), r)
            for a, (r, w) in zip(known, pipes, strict=True)
        ]
        for _, end in pipes:
            os.close(end)
        for reading, _ in pipes:
            os.read(reading, 65)
        time.sleep(dice.random() * 0.5)
        pg.stop(signal.SIGQUIT)
        for address, (reading, _) in zip(known, pipes, strict=True):
            with os.fdopen(reading, "rb") as pipe:
                said = {line.decode() for line in pipe.read().split(b"\n") if len(line) == 64}
            found.acknowledged += len(said)
            known[address] |= said
        for child in children:
            os.waitpid(child, 0)
        pg.start()
        found.kills += 1
        _check(known, found)
    return found


def _check(known: dict[str, set[str]], found: Deaths) -> None:
    for address, said in known.items():
        with Bench.open(address) as bench:
            missing = said - {record.id for record in bench.store.records(sorted(said))}
            found.lost += len(missing)
            said -= missing
            found.damaged += not bench.verify().ok


def _until_it_dies(address: str, end: int, early: bool) -> None:
    bench = Bench.open(address)
    if early:
        _acknowledge_before_commit(bench, end)
    parent = None
    try:
        while True:
            parent = bench.record(CREAM, parent=parent)
            if not early:
                os.write(end, parent.id.encode() + b"\n")
    except LabkitError:
        return


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
            time.sleep(0.03)

    bench.store.writing = hasty  # type: ignore[method-assign, assignment]
