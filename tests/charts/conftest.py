from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from labkit.bench import Bench
from labkit.formula import Formula
from labkit.materials import Materials

CREAM = """phase,material,percent
A,Aqua,q.s.
A,Glycerin,5
B,Mineral oil,12
B,Cetearyl alcohol,3
B,Polysorbate 60,2
B,Sorbitan stearate,2
C,Sodium Benzoate,0.4
C,Potassium Sorbate,0.2
C,Lactic acid 80 %,0.2"""


@pytest.fixture(scope="session")
def mats() -> Materials:
    return Materials.starter()


@pytest.fixture
def cream() -> Formula:
    return Formula.parse(CREAM, "Test cream")


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with Bench.open(tmp_path / "bench.db") as opened:
        yield opened
