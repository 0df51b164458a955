"""One bench, one cream, and a clock and dice that always fall the same way."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from labkit.bench import Bench
from labkit.formula import Formula

RECIPE = """phase,material,percent
A,Aqua,q.s.
A,Glycerin,5
B,Cetearyl Alcohol,3
B,Caprylic/Capric Triglyceride,8
C,Phenoxyethanol,0.8"""


def steady_clock() -> Callable[[], datetime]:
    ticks = iter(range(1_000_000))
    start = datetime(2026, 11, 24, 9, tzinfo=UTC)
    return lambda: start + timedelta(seconds=next(ticks))


@pytest.fixture
def cream() -> Formula:
    return Formula.parse(RECIPE, name="hand cream")


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    dice = random.Random(7).randbytes
    with Bench.open(tmp_path / "bench.db", clock=steady_clock(), entropy=dice) as opened:
        yield opened
