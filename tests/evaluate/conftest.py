from __future__ import annotations

import pytest

from labkit.formula import Formula
from labkit.materials import Materials

CREAM = """phase,material,percent
A,Aqua,q.s.
A,Glycerin,5
A,Xanthan gum,0.3
A,Disodium EDTA,0.1
B,Mineral oil,8
B,Shea butter,4
B,Cetearyl alcohol,3
B,Polysorbate 60,2
B,Sorbitan stearate,2
C,Sodium Benzoate,0.4
C,Potassium Sorbate,0.2
C,Lactic acid 80 %,0.2"""


@pytest.fixture(scope="session")
def mats() -> Materials:
    return Materials.starter()


@pytest.fixture(scope="session")
def cream() -> Formula:
    return Formula.parse(CREAM, "Test cream")
