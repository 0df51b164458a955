"""How fast the science functions are, beside a named peer in the same run.

    python -m tests.benchmarks.bench_science

Flow-curve fits with intervals beside scipy.optimize.curve_fit from parameters near the truth
(without intervals on the logarithm, without a search of starts, without refusals);
carriers in an array beside one by one; a dry-down.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
from scipy.optimize import curve_fit

from labkit.science import carriers, evaporation, flow_models, rheology, suspensions

TRUTHS = {
    "Herschel-Bulkley": {"tau0": 22.0, "K": 7.5, "n": 0.47},
    "Carreau": {"eta0": 40.0, "etainf": 0.05, "lambda": 2.2, "n": 0.3},
}
RATE = np.logspace(-1.5, 3.0, 19)


def median_ms(work: Callable[[], object], repeats: int) -> float:
    """Median time of one call in milliseconds."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return 1e3 * statistics.median(times)


def fits() -> None:
    noise = 1.0 + 0.02 * np.random.default_rng(1).standard_normal(RATE.size)
    for model, truth in TRUTHS.items():
        eta = np.asarray(flow_models.viscosity(model, truth, RATE)) * noise
        ours = median_ms(partial(rheology.fit, model, RATE, viscosity_pa_s=eta), 7)
        begin = 1.3 * np.log(list(truth.values()))
        peer = median_ms(partial(curve_fit, curve(model), RATE, np.log(eta), begin), 7)
        print(f"{model} fit: {ours:.1f} ms, scipy curve_fit {peer:.1f} ms, ratio {ours / peer:.1f}")


def curve(model: str) -> Callable[..., Any]:
    """ln viscosity of a model against the logarithms of its parameters."""
    return lambda x, *logs: np.log(flow_models.equation(model, x, list(np.exp(logs))))


def arrays() -> None:
    percent = np.linspace(0.0, 100.0, 10_000)
    once = median_ms(lambda: carriers.viscosity("ethanol", percent, 25.0), 7)
    singly = median_ms(lambda: [carriers.viscosity("ethanol", w, 25.0) for w in percent[:50]], 3)
    print(f"10 000 carrier viscosities: {once:.1f} ms, one by one {singly * 200:.0f} ms")
    phi = np.linspace(0.0, 0.6, 10_000)
    roots = median_ms(lambda: suspensions.pal(phi, 10.0), 7)
    print(f"10 000 implicit emulsion viscosities: {roots:.1f} ms")


def drying() -> None:
    names = ["water", "ethanol", "D5", "isododecane", "glycerin", "ester"]
    minutes = np.linspace(0.0, 240.0, 60)
    took = median_ms(lambda: evaporation.dry_down(names, [50, 20, 10, 10, 5, 5], 1.0, minutes), 5)
    print(f"dry-down of six components with its band, 60 times: {took:.0f} ms")


if __name__ == "__main__":
    fits()
    arrays()
    drying()
