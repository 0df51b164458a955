"""How long the history takes: append, list, open, wide table, family tree, verify.

    python -m tests.benchmarks.bench_history            # 10 000 trials
    python -m tests.benchmarks.bench_history 100000     # 100 000 trials

A trial has 12 lines, a forecast, a note and three readings. Beside the append
stands a bare sqlite3 connection with the same journal and the same bytes.
"""

from __future__ import annotations

import argparse
import random
import resource
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from labkit.bench import Bench
from labkit.bench.measuring import measurement
from labkit.bench.records import Record, make
from labkit.formula import Formula

LINES = "\n".join(f"{'ABC'[i % 3]},Material {i},{1 + i / 10:.2f}" for i in range(11))
CREAM = Formula.parse(f"phase,material,percent\nA,Aqua,q.s.\n{LINES}", name="hand cream")
NOTE = "softer than the last one, a little draggy on the back of the hand after a minute"
FORECAST = {"pH": (4.9, 5.7), "viscosity": (12000, 19000, 30000)}
DAY = "2026-{:02d}-{:02d}T{:02d}:{:02d}:{:02d}.{:06d}Z"


def timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def line(what: str, found: str, goal: str) -> None:
    print(f"{what:<52}{found:>26}   goal {goal}")


def appends(count: int = 300) -> None:
    """One durable append through the public API, beside bare sqlite3 in the same minutes."""
    with tempfile.TemporaryDirectory() as folder, Bench.open(folder) as bench:
        raw = sqlite3.connect(Path(folder) / "raw.db", isolation_level=None)
        raw.execute("PRAGMA journal_mode=DELETE")
        raw.execute("PRAGMA synchronous=EXTRA")
        raw.execute("CREATE TABLE r (hash TEXT PRIMARY KEY, body BLOB)")
        own, peer, trial = [], [], None
        for i in range(count):
            formula = CREAM.move("Material 3", f"{1 + i / 1000:.3f} %")
            start = time.perf_counter()
            trial = bench.record(formula, parent=trial, note=NOTE, forecast=FORECAST)
            own.append(time.perf_counter() - start)
            start = time.perf_counter()
            raw.execute("BEGIN IMMEDIATE")
            raw.execute("INSERT INTO r VALUES (?, ?)", (trial.id, trial.record.raw))
            raw.execute("COMMIT")
            peer.append(time.perf_counter() - start)
        raw.close()
    a, b = statistics.median(own) * 1e3, statistics.median(peer) * 1e3
    p99 = statistics.quantiles(own, n=100)[98] * 1e3
    line("record, median (p99)", f"{a:.2f} ms ({p99:.1f})", "≤ 6 ms (≤ 50)")
    line("the same bytes by bare sqlite3, DELETE/EXTRA", f"{b:.2f} ms", "peer")
    line("ratio", f"{a / b:.1f} x", "≤ 5 x")


def made(count: int, workspace: str, author: str) -> Iterator[Record]:
    rng = random.Random(20261124)
    recent: list[str] = []
    formula = {**CREAM.as_dict()}
    for i in range(count):
        moment, second = divmod(i * 7, 60)
        hour, minute = divmod(moment, 60)
        day, hour = divmod(hour, 24)
        stamp = (day // 28 % 12 + 1, day % 28 + 1, hour, minute, second)
        head = {"workspace": workspace, "author": author}
        parents = [rng.choice(recent)] if recent else []
        lines = [dict(x) for x in formula["lines"]]
        lines[3]["percent"] = f"{1 + i % 900 / 1000:.4f}"
        trial = make(
            "trial",
            head
            | {
                "created": DAY.format(*stamp, i % 1_000_000),
                "parents": parents,
                "label": f"T{i + 1}",
                "formula": formula | {"lines": lines},
                "note": NOTE,
                "forecast": {"estimates": [{"quantity": "pH", "low": "4.9", "high": "5.7"}] * 4},
                "software": {"labkit": "0.1.0"},
            },
        )
        recent = [*recent[-40:], trial.id]
        yield trial
        for quantity, value, how in (
            ("pH", f"{rng.gauss(5.2, 0.2):.2f}", {"temperature": "25 °C"}),
            ("viscosity", f"{rng.randint(9000, 60000)} mPa*s", {"speed": "20 rpm"}),
            ("drain time", f"{rng.randint(5, 90)} s", {}),
        ):
            yield make(
                "measurement",
                head
                | {"created": DAY.format(*stamp, i % 1_000_000), "parents": []}
                | {"about": [trial.id]}
                | measurement(quantity, value, **how),
            )


def fill(bench: Bench, count: int) -> None:
    """Many records at once, as a merge brings them in."""
    batch: list[Record] = []
    with bench.store.writing() as writer:
        for record in made(count, bench.store.workspace, bench.store.author):
            batch.append(record)
            if len(batch) == 8_000:
                writer.take(batch)
                batch = []
        if batch:
            writer.take(batch)


def fresh_process(file: Path) -> float:
    """Open and list in a fresh process, timed after `import labkit`."""
    code = (
        "import time, sys, labkit as lk; start = time.perf_counter(); "
        f"frame = lk.Bench.open({str(file)!r}).trials(); frame._repr_html_(); "
        "print(time.perf_counter() - start)"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return float(out.stdout)


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def reading(count: int) -> None:
    small = count <= 10_000
    with tempfile.TemporaryDirectory() as folder, Bench.open(folder) as bench:
        took = timed(lambda: fill(bench, count))
        file = bench.store.file
        assert file is not None
        line(f"fill {count} trials, {4 * count} records", f"{took:.1f} s", "-")
        line("size of the file", f"{file.stat().st_size / 1e6:.0f} MB", "-")
        whole = statistics.median(fresh_process(file) for _ in range(3))
        line("open + list + show, fresh process, after import", f"{whole:.2f} s", "≤ 1 s")
        bench.trials()
        again = statistics.median(timed(bench.trials) for _ in range(5))
        line("list again", f"{again:.2f} s", "≤ 0.2 s" if small else "≤ 1.0 s")
        line("all readings", f"{timed(bench.readings):.2f} s", "-")
        start = peak_mb()
        took = timed(bench.wide)
        goal = "≤ 1.0 s" if small else "≤ 8 s, ≤ 500 MB"
        line("wide table", f"{took:.2f} s, peak {peak_mb():.0f} MB", goal)
        name = bench.trials()["id"].iloc[-1]
        took = statistics.median(timed(lambda: bench.lineage(name)[-1]) for _ in range(5))
        depth = len(bench.lineage(name))
        line(f"lineage of one trial ({depth} ancestors)", f"{took * 1e3:.0f} ms", "≤ 20 ms")
        near = bench.lineage(name)[20].id
        took = statistics.median(timed(lambda: bench.lineage(near)) for _ in range(5))
        line("lineage of one trial (20 or so ancestors)", f"{took * 1e3:.1f} ms", "≤ 20 ms")
        took = timed(lambda: bench.record(CREAM, note="one more"))
        line("record one more trial (first finds its number)", f"{took * 1e3:.1f} ms", "-")
        took = statistics.median(timed(lambda: bench.record(CREAM, note="x")) for _ in range(50))
        line("record in the full bench", f"{took * 1e3:.2f} ms", "≤ 6 ms")
        took = timed(lambda: bench.search("softer than the last"))
        line("search", f"{took:.2f} s", "-")
        start = peak_mb()
        seen: list[int] = []
        took = timed(lambda: seen.append(len(bench.verify(lambda a, b: None).problems)))
        goal = "≤ 1.0 s / 10 k records" if small else "≤ 10 s / 100 k records"
        line(f"verify all {4 * count} records", f"{took:.2f} s, +{peak_mb() - start:.0f} MB", goal)
        assert seen == [0]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("trials", nargs="?", type=int, default=10_000)
    count = parser.parse_args().trials
    appends()
    reading(count)


if __name__ == "__main__":
    main()
