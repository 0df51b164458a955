"""Kill writers through the public API: 500 with one, 200 with two, each with its control.

    python -m tests.benchmarks.bench_kills            # all
    python -m tests.benchmarks.bench_kills 50 20      # fewer

The control acknowledges just before the commit and must be caught. A kill is not
a power cut: that the disk keeps what it said it kept is not tested here.
"""

from __future__ import annotations

import argparse
import time

from tests.bench.killing import kill_writers


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("one", nargs="?", type=int, default=500)
    parser.add_argument("two", nargs="?", type=int, default=200)
    asked = parser.parse_args()
    good = True
    for writers, kills in ((1, asked.one), (2, asked.two)):
        start = time.perf_counter()
        found = kill_writers(kills, writers, seed=writers)
        good &= found.lost == 0 and found.damaged == 0
        print(f"{writers} writer(s): {found}, {time.perf_counter() - start:.0f} s")
        control = kill_writers(max(20, kills // 10), writers, early=True, seed=writers)
        good &= control.lost > 0
        print(f"{writers} writer(s), control: {control}")
    print("holds" if good else "DOES NOT HOLD")
    raise SystemExit(not good)


if __name__ == "__main__":
    main()
