"""Write the table of rebalance vectors that Python and JavaScript are both held to.

    python -m tests.formula.make_vectors

The expected rows come from an implementation of its own below, in exact fractions
and by bisection on the water level, so that neither of the two checked programs
writes its own answers.
"""

from __future__ import annotations

import json
import random
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

SEED = 20_240_611
TOTAL = 1_000_000
PATH = Path(__file__).with_name("rebalance_vectors.json")

Case = dict[str, Any]


def settled(case: Case) -> list[int]:
    """All lines after the move: proportional shares clipped at the bounds, exactly."""
    givers = case["givers"]
    units = case["units"]
    rest = sum(units[i] for i in givers) + units[case["line"]] - case["wanted"]
    low = [case["low"][i] for i in givers]
    high = [case["high"][i] for i in givers]
    exact = level_shares([units[i] for i in givers], low, high, rest)
    rounded = [int(x) for x in exact]
    order = sorted(
        range(len(givers)), key=lambda k: (rounded[k] - exact[k], case["rank"][givers[k]])
    )
    for k in order[: rest - sum(rounded)]:
        rounded[k] += 1
    result = list(units)
    result[case["line"]] = case["wanted"]
    for k, i in enumerate(givers):
        result[i] = rounded[k]
    return result


def level_shares(weights: list[int], low: list[int], high: list[int], rest: int) -> list[Fraction]:
    """The one level t with sum(clip(weight * t, low, high)) = rest, in fractions.

    Lines of zero weight stand at their low bound; when all others are full (or all
    weights are zero) they share what is left equally, by a level of their own.
    """
    heavy = [k for k, w in enumerate(weights) if w > 0]
    idle = [k for k, w in enumerate(weights) if w == 0]
    at_rest = sum(low[k] for k in idle)
    room = sum(high[k] for k in heavy)
    shares: dict[int, Fraction] = {}
    if heavy and rest - at_rest <= room:
        shares |= fill(heavy, [Fraction(weights[k]) for k in heavy], low, high, rest - at_rest)
        shares |= {k: Fraction(low[k]) for k in idle}
    else:
        shares |= {k: Fraction(high[k]) for k in heavy}
        shares |= fill(idle, [Fraction(1)] * len(idle), low, high, rest - room)
    return [shares[k] for k in range(len(weights))]


def fill(
    lines: list[int], weights: list[Fraction], low: list[int], high: list[int], rest: int
) -> dict[int, Fraction]:
    """Walk the level up through its breakpoints until the lines hold ``rest``."""
    marks = sorted(
        {Fraction(b[k]) / w for k, w in zip(lines, weights, strict=True) for b in (low, high)}
        | {Fraction(0)}
    )

    def held(level: Fraction) -> dict[int, Fraction]:
        return {
            k: min(max(w * level, Fraction(low[k])), Fraction(high[k]))
            for k, w in zip(lines, weights, strict=True)
        }

    for lower, upper in pairwise(marks):
        before, after = sum(held(lower).values()), sum(held(upper).values())
        if before <= rest <= after:
            part = Fraction(rest - before) / (after - before) if after > before else Fraction(0)
            return held(lower + (upper - lower) * part)
    return held(marks[-1])


def drawn(rng: random.Random) -> Case:
    """One random formula, its bounds and a move inside its reach."""
    n = rng.choice([2, 3, 5, 8, 20, 60])
    cuts = sorted(rng.randrange(TOTAL + 1) for _ in range(n - 1))
    units = [b - a for a, b in zip([0, *cuts], [*cuts, TOTAL], strict=True)]
    bounded = rng.random() < 0.6
    low = [rng.randrange(u + 1) if bounded and rng.random() < 0.5 else 0 for u in units]
    high = [rng.randrange(u, TOTAL + 1) if bounded and rng.random() < 0.5 else TOTAL for u in units]
    line = rng.randrange(n)
    others = [i for i in range(n) if i != line]
    givers = sorted(rng.sample(others, rng.randint(1, len(others))))
    rank = list(range(n))
    rng.shuffle(rank)
    case = {"units": units, "low": low, "high": high, "line": line, "givers": givers, "rank": rank}
    lowest = max(low[line], units[line] - sum(high[i] - units[i] for i in givers))
    highest = min(high[line], units[line] + sum(units[i] - low[i] for i in givers))
    ends = [lowest, highest, rng.randint(lowest, highest), rng.randint(lowest, highest)]
    return case | {"reach": [lowest, highest], "wanted": rng.choice(ends)}


def corner_cases() -> list[Case]:
    """Hand-made: ties, zero weights, both bounds overrun alike, one unit, full reach."""
    free = {"low": [0, 0, 0, 0], "high": [TOTAL] * 4, "rank": [0, 1, 2, 3]}
    even = [250_000] * 4
    return [
        {**free, "units": even, "line": 0, "givers": [1, 2, 3], "wanted": 250_001},
        {**free, "units": even, "line": 0, "givers": [1, 2, 3], "wanted": 249_999},
        {**free, "units": even, "line": 0, "givers": [1, 2, 3], "wanted": 0},
        {**free, "units": even, "line": 0, "givers": [1, 2, 3], "wanted": TOTAL},
        {
            **free,
            "rank": [0, 3, 2, 1],
            "units": even,
            "line": 0,
            "givers": [1, 2, 3],
            "wanted": 250_001,
        },
        {**free, "units": [TOTAL, 0, 0, 0], "line": 0, "givers": [1, 2, 3], "wanted": 999_999},
        {**free, "units": [TOTAL, 0, 0, 0], "line": 0, "givers": [1, 2], "wanted": 0},
        {**free, "units": [0, 500_000, 500_000, 0], "line": 0, "givers": [1, 2, 3], "wanted": 1},
        {
            **free,
            "low": [0, 400_000, 0, 0],
            "high": [TOTAL, TOTAL, 450_000, TOTAL],
            "units": [100_000, 400_000, 400_000, 100_000],
            "line": 0,
            "givers": [1, 2, 3],
            "wanted": 40_000,
        },
        {
            **free,
            "low": [0, 300_000, 300_000, 0],
            "high": [TOTAL, 300_000, 300_000, TOTAL],
            "units": [100_000, 300_000, 300_000, 300_000],
            "line": 0,
            "givers": [1, 2, 3],
            "wanted": 400_000,
        },
        {
            **free,
            "high": [TOTAL, 0, TOTAL, TOTAL],
            "units": [200_000, 0, 800_000, 0],
            "line": 2,
            "givers": [0, 1, 3],
            "wanted": 1,
        },
    ]


def vectors() -> list[Case]:
    """Every case with the reach and the rows that are expected."""
    rng = random.Random(SEED)
    cases = corner_cases() + [drawn(rng) for _ in range(300)]
    for case in cases:
        line, givers = case["line"], case["givers"]
        units, low, high = case["units"], case["low"], case["high"]
        case.setdefault(
            "reach",
            [
                max(low[line], units[line] - sum(high[i] - units[i] for i in givers)),
                min(high[line], units[line] + sum(units[i] - low[i] for i in givers)),
            ],
        )
        case["expected"] = settled(case)
    return cases


def text() -> str:
    """The table as it stands in the file, one case a line."""
    rows = ",\n".join(json.dumps(case, separators=(",", ":"), sort_keys=True) for case in vectors())
    return f"[\n{rows}\n]\n"


if __name__ == "__main__":
    PATH.write_text(text(), encoding="utf-8")
