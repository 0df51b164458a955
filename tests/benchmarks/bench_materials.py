"""Reading, searching and taking apart raw materials, each beside a named peer.

    python -m tests.benchmarks.bench_materials

Peers: pandas.read_csv for reading the same tables, difflib.get_close_matches for a
name typed with a slip, a loop over dictionaries for taking formulas apart.
"""

from __future__ import annotations

import difflib
import statistics
import subprocess
import sys
import time
from collections.abc import Callable

import numpy as np

from labkit import tables
from labkit.materials import Materials, decompose

TABLES = (
    "materials", "material_facts", "material_constituents", "material_hazards",
    "material_tags", "material_names", "material_defaults", "demo/prices",
    "partition", "partition_further", "use_limits", "acid_base_materials",
)  # fmt: skip
TYPED = ("glyc", "buter shea", "cetyl alchol", "phenoxethanol", "sunflower seed oil", "xantan gum")
COLD = (
    "import time; from labkit.materials import Materials; t = time.perf_counter();"
    "Materials.starter(); print(1e3 * (time.perf_counter() - t))"
)
COLD_PEER = (
    "import time, sys, pandas as pd; t = time.perf_counter();"
    "[pd.read_csv(f, dtype=str) for f in sys.argv[1:]]; print(1e3 * (time.perf_counter() - t))"
)


def fresh(code: str, *arguments: str) -> float:
    """Median of five fresh processes, in milliseconds."""
    runs = [
        float(subprocess.run(
            [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True
        ).stdout)
        for _ in range(5)
    ]  # fmt: skip
    return statistics.median(runs)


def median_ms(work: Callable[[], object], times: int = 200) -> float:
    """Median time of one call, in milliseconds."""
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        spent.append(1e3 * (time.perf_counter() - start))
    return statistics.median(spent)


def searching(mats: Materials) -> None:
    """Names typed roughly: labkit, and close matches of the whole name."""
    names = [m.name for m in mats.values()]
    mats.find("glycerol")
    for typed in TYPED:
        ours = median_ms(lambda typed=typed: mats.find(typed), 50)  # type: ignore[misc]
        peer = median_ms(lambda typed=typed: difflib.get_close_matches(typed, names, 10), 5)  # type: ignore[misc]
        found = mats.find(typed, 1)[0].name
        near = difflib.get_close_matches(typed, names, 1)
        print(f"find {typed!r}: {ours:.2f} ms -> {found}; difflib {peer:.2f} ms -> {near}")


def taking_apart(mats: Materials) -> None:
    """20 lines, 10 000 sets of percentages: one matrix product, and loops."""
    lines = list(mats.values())[60:80]
    parts = decompose(lines)
    shares = np.random.default_rng(1).dirichlet(np.ones(20), 10_000) * 100
    by_line = [dict(zip(parts.inci, row, strict=True)) for row in parts.typical]

    def loops() -> None:
        for row in shares[:100]:
            total: dict[str, float] = {}
            for share, held in zip(row, by_line, strict=True):
                for inci, fraction in held.items():
                    total[inci] = total.get(inci, 0.0) + share * fraction

    print(f"decompose 20 lines: {median_ms(lambda: decompose(lines)):.2f} ms once")
    print(f"10 000 formulas: {median_ms(lambda: parts.percent(shares), 50):.2f} ms as a matrix,")
    print(f"  {100 * median_ms(loops, 3):.0f} ms as loops over dictionaries")


def main() -> None:
    """Print all figures."""
    files = [str(tables.path(name)) for name in TABLES]
    print(f"Materials.starter() cold: {fresh(COLD):.0f} ms")
    print(f"pandas.read_csv, the same tables, nothing built: {fresh(COLD_PEER, *files):.0f} ms")
    mats = Materials.starter()
    print(f"resolve, first look at a new name: {median_ms(_new_names(mats), 500):.3f} ms")
    searching(mats)
    taking_apart(mats)


def _new_names(mats: Materials) -> Callable[[], object]:
    texts = iter([f"{m.name} " + " " * k for m in mats.values() for k in range(2)])
    return lambda: mats.resolve(next(texts))


if __name__ == "__main__":
    main()
