from __future__ import annotations

import ast
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.learning import simulator
from tests.learning.palette import FUNCTIONS, NAMES
from tests.learning.simulator import INDEX, Bench, series, start


def test_the_simulator_knows_nothing_of_the_learner() -> None:
    for name in ("simulator.py", "palette.py"):
        source = ast.parse(Path(simulator.__file__).with_name(name).read_text(encoding="utf-8"))
        for node in ast.walk(source):
            if isinstance(node, ast.ImportFrom):
                assert not (node.module or "").startswith("labkit")


def test_the_same_seed_gives_the_same_bench() -> None:
    pd.testing.assert_frame_equal(series(5, "rough", 8), series(5, "rough", 8))


@pytest.mark.parametrize("world", list(simulator.WORLDS))
def test_every_formula_totals_100_and_every_reading_is_possible(world: str) -> None:
    for seed in range(5):
        frame = series(seed, world, 20)
        total = frame[[n for n in FUNCTIONS if n in frame]].sum(axis=1)
        assert np.allclose(total, 100.0, atol=1e-9)
        assert (frame["viscosity_mPas"] > 0).all()
        assert frame["pH"].between(0, 14).all()
        assert (frame["parent"].dropna() < frame["trial"].iloc[1:]).all()


def test_a_polyacid_thickens_only_when_neutralised_and_salt_makes_it_collapse() -> None:
    truth = Bench(1, "plain").truth
    x = np.zeros(len(NAMES))
    x[INDEX["Carbomer"]] = 0.4
    x[INDEX["Aqua"]] = 99.6
    assert truth.log10_viscosity(x, 6.5) > truth.log10_viscosity(x, 3.5) + 0.5
    salty = x.copy()
    salty[INDEX["Sodium Chloride"]] = 1.0
    assert truth.log10_viscosity(salty, 6.5) < truth.log10_viscosity(x, 6.5) - 0.3


def test_a_gel_network_needs_both_partners() -> None:
    truth = Bench(2, "plain").truth
    x = np.zeros(len(NAMES))
    x[INDEX["Cetearyl Alcohol"]] = 4.0
    alone = truth.log10_viscosity(x, 5.5)
    x[INDEX["Ceteareth-20"]] = 3.0
    assert truth.log10_viscosity(x, 5.5) > alone + 0.5


def test_acid_lowers_and_base_raises_the_true_ph() -> None:
    truth = Bench(3, "plain").truth
    x = start(np.random.default_rng(1))
    acid, base = x.copy(), x.copy()
    acid[INDEX["Citric Acid"]] += 0.2
    base[INDEX["Sodium Hydroxide"]] += 0.05
    assert truth.ph(acid) < truth.ph(x) < truth.ph(base)
