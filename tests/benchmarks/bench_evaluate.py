"""Every number of a 20-line formula: one at a time and batched, beside a plain Python loop.

    python -m tests.benchmarks.bench_evaluate

The peer is written for this figure: the same lines, dictionaries in place of arrays, one
formula at a time, with labkit's own pH solver for the acids.
"""

from __future__ import annotations

import statistics
import time
import tracemalloc
from collections.abc import Callable

import numpy as np

from labkit.charts import titration
from labkit.evaluate import Evaluator, compile_formula
from labkit.formula import Formula
from labkit.materials import Materials
from labkit.science.acidbase import solve_ph

TWENTY = """phase,material,percent
A,Aqua,q.s.
A,Glycerin,4
A,Propanediol,2
A,Xanthan gum,0.3
A,Disodium EDTA,0.1
A,Panthenol,1
B,Caprylic/Capric Triglyceride,6
B,Mineral oil,4
B,Shea butter,3
B,Squalane,2
B,Cetearyl alcohol,3
B,Glyceryl Stearate,2
B,Polysorbate 60,2
B,Sorbitan stearate,1
C,Sodium Benzoate,0.4
C,Potassium Sorbate,0.2
C,Tocopherol,0.2
C,Lactic acid 80 %,0.2
C,Sodium lactate 60 %,0.5
C,Citric acid,0.05"""
FORMULAS = 100_000


def plain_loop(one: Evaluator) -> Callable[[np.ndarray], dict[str, float]]:
    """The same numbers for one formula, line by line."""
    lines = [
        {
            "water": float(one.water[i]),
            "oil": float(one.oil[i]),
            "emulsifier": float(one.emulsifier[i]),
            "price": float(np.nan_to_num(one.price[i])),
            "hlb": (float(one.hlb[0, i]), float(one.hlb[1, i])),
            "required": tuple(float(v) for v in one.required[:, i]),
            "moles": dict(zip(one.system.names, one.moles[i].tolist(), strict=True))
            if one.system is not None
            else {},
            "parts": one.parts.typical[i].tolist(),
        }
        for i in range(one.n_lines)
    ]
    kept = [(j, known) for j, known in one.preservatives]

    def numbers(percent: np.ndarray) -> dict[str, float]:
        found = {"water": 0.0, "oil": 0.0, "emulsifier": 0.0, "price": 0.0}
        mass = product = need = low = high = 0.0
        moles: dict[str, float] = {}
        level = dict.fromkeys((j for j, _ in kept), 0.0)
        for share, line in zip(percent.tolist(), lines, strict=True):
            for name in found:
                found[name] += share * line[name]
            mass += share * line["hlb"][0]
            product += share * line["hlb"][1]
            need += share * line["required"][0]
            low += share * line["required"][1]
            high += share * line["required"][2]
            for name, mol in line["moles"].items():
                moles[name] = moles.get(name, 0.0) + share * mol
            for j in level:
                level[j] += share * line["parts"][j]
        water_kg = found["water"] / 1000
        ph = float(solve_ph({name: mol / water_kg for name, mol in moles.items() if mol}))
        found |= {"ph": ph, "hlb": product / mass, "low": low / need, "high": high / need}
        for j, known in kept:
            share = 1.0 if known.pka is None else 1 / (1 + 10 ** (ph - known.pka))
            found[known.inci] = level[j] * known.acid_factor * share
        return found

    return numbers


def median_ms(call: Callable[[], object], repeats: int) -> float:
    call()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return 1e3 * statistics.median(times)


def around(one: Evaluator, count: int) -> np.ndarray:
    rng = np.random.default_rng(7)
    rows = one.percent * rng.uniform(0.5, 1.5, (count, one.n_lines))
    rows[:, 0] = 0.0
    rows[:, 0] = 100.0 - rows.sum(axis=1)
    return rows


def peak_mb(one: Evaluator, rows: np.ndarray) -> float:
    tracemalloc.start()
    found = one(rows)
    top = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return (top - 2 * 17 * found.ph.nbytes) / 1e6


def main() -> None:
    """Print the figures."""
    mats = Materials.starter()
    formula = Formula.parse(TWENTY)
    compiled = median_ms(lambda: compile_formula(formula, mats), 10)
    one = compile_formula(formula, mats)
    peer = plain_loop(one)
    got, want = float(one().ph), peer(one.percent)["ph"]
    print(f"{one.n_lines} lines, pH labkit {got:.4f}, plain loop {want:.4f}")
    single = median_ms(lambda: one(one.percent), 300)
    loop = median_ms(lambda: peer(one.percent), 300)
    print(f"compile            {compiled:8.2f} ms")
    print(f"one formula        {single:8.3f} ms   plain loop {loop:.3f} ms   x{loop / single:.1f}")
    rows = around(one, FORMULAS)
    start = time.perf_counter()
    one(rows)
    rate = FORMULAS / (time.perf_counter() - start)
    sample = rows[:300]
    start = time.perf_counter()
    for row in sample:
        peer(row)
    plain = len(sample) / (time.perf_counter() - start)
    print(
        f"batch of {FORMULAS}    {rate:8.0f} formulas/s   plain loop {plain:.0f}/s   "
        f"x{rate / plain:.0f}"
    )
    small, large = peak_mb(one, rows[:10_000]), peak_mb(one, rows)
    print(f"memory beside the answer: {small:.1f} MB for 10 000, {large:.1f} MB for {FORMULAS}")
    chart = median_ms(lambda: titration(formula, mats), 5)
    print(f"titration chart    {chart:8.1f} ms")


if __name__ == "__main__":
    main()
