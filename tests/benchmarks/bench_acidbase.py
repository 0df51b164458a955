"""Six acids in water: labkit against pHcalc, single and batch.

    python -m tests.benchmarks.bench_acidbase

pHcalc solves ideal solutions only and one at a time; it is the named peer for both lines.
"""

from __future__ import annotations

import statistics
import time
import tracemalloc
from collections.abc import Callable

import numpy as np

from labkit.science.acid_constants import shipped_components
from labkit.science.acidbase import compile_system, solve_ph

SIX = {
    "citrate": 0.02,
    "lactate": 0.03,
    "benzoate": 0.035,
    "sorbate": 0.01,
    "phosphate": 0.01,
    "gluconate": 0.02,
    "Na": 0.08,
}
SYSTEMS = 200_000


def peer() -> Callable[[], float]:
    """The same mixture in pHcalc."""
    if not hasattr(np, "cumproduct"):
        np.cumproduct = np.cumprod  # type: ignore[attr-defined]
    from pHcalc import Acid, Inert, System

    parts = [
        Acid(pKa=list(shipped_components()[name].pka25), charge=0, conc=amount)
        for name, amount in SIX.items()
        if name != "Na"
    ]
    parts.append(Inert(charge=1, conc=SIX["Na"]))

    def solve() -> float:
        system = System(*parts)
        system.pHsolve()
        return float(system.pH)

    return solve


def median_us(call: Callable[[], object], repeats: int) -> float:
    """Median time of one call in microseconds."""
    call()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return 1e6 * statistics.median(times)


def batch_per_second(activity: str, systems: int) -> float:
    """Systems solved per second in one matrix."""
    rng = np.random.default_rng(7)
    totals = rng.uniform(0.001, 0.1, (systems, len(SIX)))
    system = compile_system(list(SIX), activity=activity)
    system.solve(totals[:8192])
    start = time.perf_counter()
    system.solve(totals)
    return systems / (time.perf_counter() - start)


def peak_mb(systems: int) -> float:
    """Peak memory of a batch beside its own input and output."""
    totals = np.full((systems, len(SIX)), 0.02)
    system = compile_system(list(SIX))
    tracemalloc.start()
    system.solve(totals)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return (peak - 16 * systems) / 1e6


def main() -> None:
    """Print the figures."""
    calc = peer()
    ideal = float(solve_ph(SIX, activity="ideal"))
    print(f"pH ideal: labkit {ideal:.3f}, pHcalc {calc():.3f}; with activities {solve_ph(SIX):.3f}")
    theirs = median_us(calc, 30)
    print(f"single pHcalc, ideal             {theirs:9.0f} us")
    for activity in ("davies", "ideal"):
        mine = median_us(lambda activity=activity: solve_ph(SIX, activity=activity), 300)
        print(f"single labkit, {activity:<18}{mine:9.0f} us   {theirs / mine:7.0f} x pHcalc")
    for activity in ("davies", "ideal"):
        rate = batch_per_second(activity, SYSTEMS)
        print(f"batch  labkit, {activity:<18}{rate:9.0f} /s   {rate * theirs / 1e6:7.0f} x pHcalc")
    print(f"memory beside input and output: {peak_mb(50_000):.1f} MB for 50 000 systems, "
          f"{peak_mb(400_000):.1f} MB for 400 000")  # fmt: skip


if __name__ == "__main__":
    main()
