"""How long the front door takes to open: ``python -m tests.benchmarks.bench_start``.

Peer: a bare Python, and a Python that imports pandas, in the same run.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

CASES = {
    "bare Python": "pass",
    "import labkit": "import labkit",
    "labkit + Formula": "import labkit as lk; lk.Formula",
    "labkit + starter materials": "import labkit as lk; lk.Materials.starter()",
    "peer: import pandas": "import pandas",
}
ROUNDS = 7


def seconds(code: str) -> float:
    """Wall time of one fresh process."""
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], check=True)
    return time.perf_counter() - start


def main() -> None:
    """Print the medians and what each costs over a bare Python."""
    times = {
        name: statistics.median(seconds(c) for _ in range(ROUNDS)) for name, c in CASES.items()
    }
    bare = times["bare Python"]
    for name, value in times.items():
        print(f"{name:28} {value * 1e3:7.0f} ms   {(value - bare) * 1e3:+7.0f} ms")


if __name__ == "__main__":
    main()
