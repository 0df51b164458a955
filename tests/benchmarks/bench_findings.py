"""Findings of a 25-line cream: array predicates, words, and the same asked line by line.

    python -m tests.benchmarks.bench_findings

The named peer is the obvious way: each rule's sets summed in plain Python for one formula.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

import numpy as np

from labkit.estimates.check import Checker, _contents, _ready
from labkit.estimates.needs import Set
from labkit.estimates.rules import rules
from labkit.formula import Formula
from labkit.formula.brief import Brief
from labkit.materials import Materials

CREAM = """phase,material,percent
A,Purified water,q.s.
A,Glycerol,3
A,"1,3-Propanediol",2
A,Provitamin B5,1
A,Xanthan,0.2
A,EDTA disodium,0.1
A,Allantoin,0.2
A,Vitamin B3 amide,2
B,Acid-stable GMS,3
B,Cetostearyl alcohol,2
B,Cetyl alcohol,1
B,Sunflower oil,4
B,Sweet almond oil,3
B,MCT,3
B,Shea butter,2
B,Dimethicone 350 cSt,1
B,Vitamin E,0.3
C,"Aloe juice, preserved",2
C,Hydrolysed wheat protein,1
C,Phenoxyethanol blend 90/10,1
C,Sodium benzoate,0.3
C,Lavender oil,0.1
C,Lemon oil,0.1
C,Lactic acid 80 %,0.2
C,Vitamin E acetate,0.5
"""
PH = (5.1, 4.7, 5.5)
BATCH = 100_000


def milliseconds(call: Callable[[], object], repeat: int = 300) -> float:
    """Median time of a call."""
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        call()
        times.append((time.perf_counter() - start) * 1e3)
    return statistics.median(times)


def line_by_line(checker: Checker) -> int:
    """The peer: each set of each rule summed over lines and substances in Python."""
    contents, fired = checker.contents, 0
    percent = checker.percent
    for rule in rules().values():
        held = True
        for clause in rule.clauses:
            if not isinstance(clause, Set):
                continue
            total = 0.0
            for i, row in enumerate(contents.words):
                for j, words in enumerate(row):
                    if words and any(kind <= words for kind in clause.alternatives):
                        total += percent[i] * contents.share[i, j]
            enough = total > clause.threshold if clause.strict else total >= clause.threshold
            held = held and (enough != clause.absent)
        fired += held
    return fired


def main() -> None:
    """Print the figures."""
    mats = Materials.starter()
    formula = Formula.parse(CREAM, "cream")
    brief = Brief(product="body lotion", ph=(4.5, 5.5), market=("EU", "GB", "US"))
    checker = Checker(formula, mats, brief)

    def made_ready() -> Checker:
        _ready.cache_clear()
        _contents.cache_clear()
        return Checker(formula, mats, brief)

    print(f"{len(formula.lines)} lines, {len(checker.codes)} candidate findings, 3 markets")
    print(f"made ready (new lines)      {milliseconds(made_ready, 20):9.3f} ms")
    checker = Checker(formula, mats, brief)
    print(
        f"made ready (known lines)    {milliseconds(lambda: Checker(formula, mats, brief)):9.3f} ms"
    )
    print(f"decided, one formula        {milliseconds(lambda: checker.levels(ph=PH)):9.3f} ms")
    print(f"decided and told in words   {milliseconds(lambda: checker.findings(ph=PH)):9.3f} ms")
    rows = np.tile(checker.percent, (BATCH, 1))
    start = time.perf_counter()
    checker.levels(rows, PH)
    spent = time.perf_counter() - start
    print(f"decided, {BATCH} formulas  {spent / BATCH * 1e3:9.5f} ms each ({BATCH / spent:,.0f}/s)")
    peer = milliseconds(lambda: line_by_line(checker), 10)
    print(f"peer: sets line by line     {peer:9.3f} ms (the rules' sets only)")


if __name__ == "__main__":
    main()
