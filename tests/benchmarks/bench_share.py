"""How long sharing takes: export, verify, open, merge, recalculate; how large the report is.

    python -m tests.benchmarks.bench_share            # 10 000 records into 10 000
    python -m tests.benchmarks.bench_share 40000      # 40 000 into 40 000

Half of the records are in both benches. Beside them: Python's zipfile and hashlib on the
same bytes, without a single check.
"""

from __future__ import annotations

import argparse
import hashlib
import resource
import tempfile
import time
import zipfile
from collections.abc import Callable
from itertools import islice
from pathlib import Path

import labkit as lk
from labkit.bench import Bench
from labkit.bench.demo import record_demo
from labkit.bench.records import Record
from labkit.estimates import Forecaster
from tests.benchmarks.bench_history import made


def timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def line(what: str, seconds: float, goal: str = "") -> None:
    print(f"{what:<58}{seconds:>9.2f} s   {goal}")


def fill(bench: Bench, records: list[Record]) -> None:
    with bench.store.writing() as writer:
        for start in range(0, len(records), 8_000):
            writer.take(records[start : start + 8_000])


def raw_zip(path: Path) -> None:
    """Read and hash every entry, nothing else."""
    with zipfile.ZipFile(path) as packed:
        for name in packed.namelist():
            hashlib.sha256(packed.read(name)).hexdigest()


def large(count: int, folder: Path) -> None:
    with Bench.open(folder / "a.db") as a, Bench.open(folder / "b.db") as b:
        records = list(islice(made(count, a.store.workspace, a.store.author), count))
        fill(a, records)
        fill(b, records[: count // 2])
        others = list(islice(made(count, b.store.workspace, b.store.author), count - count // 2))
        fill(b, others)
        target = folder / "a.eln"
        line(f"export {count} records", timed(lambda: lk.share.export(a, target)))
        print(f"{'size of the file':<58}{target.stat().st_size / 1e6:>9.1f} MB")
        line("peer: zipfile + hashlib read the same file", timed(lambda: raw_zip(target)))
        line("verify the file", timed(lambda: lk.share.verify(target)))
        line("open the file", timed(lambda: lk.share.open(target).close()))
        done: list[lk.share.Merged] = []
        seconds = timed(lambda: done.append(lk.share.merge(b, target)))
        line(
            f"merge: {done[0].new} new, {done[0].known} known, into {count}", seconds, "goal ≤ 5 s"
        )
        again = timed(lambda: done.append(lk.share.merge(b, target)))
        line(f"merge again: {done[1].new} new", again)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{'peak memory of all this':<58}{peak:>9.0f} MB")


def small(folder: Path) -> None:
    mats = lk.Materials.starter()
    with Bench.open(folder / "demo.db") as bench:
        record_demo(bench, mats, forecast=Forecaster(mats))
        target = folder / "demo.eln"
        line("demonstration, 29 trials: export", timed(lambda: lk.share.export(bench, target)))
        line("verify, with report and table compared", timed(lambda: lk.share.verify(target)))
        line("recalculate 29 forecasts", timed(lambda: lk.share.recalculate(target)))
        with lk.share.open(target) as history:
            size = len(history.report.encode())
        print(f"{'report of 29 trials':<58}{size / 1000:>9.0f} kB   goal ≤ 2000 kB for 50")


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    words.add_argument("records", nargs="?", type=int, default=10_000)
    asked = words.parse_args()
    with tempfile.TemporaryDirectory() as name:
        small(Path(name))
        large(asked.records, Path(name))


if __name__ == "__main__":
    main()
