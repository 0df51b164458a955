"""Flow-curve fits: the truth lies in the interval, and what the readings leave open is said."""

from __future__ import annotations

import numpy as np
import pytest

from labkit.errors import ScienceError
from labkit.science import flow_models, rheology

TRUTHS = {
    "power law": {"K": 4.0, "n": 0.4},
    "Herschel-Bulkley": {"tau0": 22.0, "K": 7.5, "n": 0.47},
    "Casson": {"tau0": 12.0, "eta_p": 0.35},
    "Cross": {"eta0": 1.2, "etainf": 0.005, "lambda": 0.2, "m": 0.72},
    "Carreau": {"eta0": 40.0, "etainf": 0.05, "lambda": 2.2, "n": 0.3},
    "Carreau-Yasuda": {"eta0": 2.5, "etainf": 0.02, "lambda": 1.8, "n": 0.45, "a": 1.6},
}
WIDE = np.logspace(-1.5, 3.0, 19)


@pytest.mark.parametrize("model", TRUTHS)
def test_without_noise_the_truth_comes_back(model: str) -> None:
    eta = flow_models.viscosity(model, TRUTHS[model], WIDE)
    found = rheology.fit(model, WIDE, viscosity_pa_s=eta)
    assert found.parameters == pytest.approx(TRUTHS[model], rel=1e-3)
    assert found.undetermined == ()
    assert found.viscosity(WIDE).tolist() == pytest.approx(np.asarray(eta).tolist(), rel=1e-3)  # type: ignore[union-attr]


@pytest.mark.parametrize("model", ["power law", "Herschel-Bulkley", "Casson", "Cross"])
def test_the_95_percent_interval_covers_the_truth_as_often_as_it_says(model: str) -> None:
    # simulation, 2 % noise, 60 series; fewer than 85 % of 60 has odds of 1 in 500
    rng, inside, asked = np.random.default_rng(20), 0, 0
    for _ in range(60):
        noise = 1.0 + 0.02 * rng.standard_normal(WIDE.size)
        stress = np.asarray(flow_models.stress(model, TRUTHS[model], WIDE)) * noise
        found = rheology.fit(model, WIDE, stress_pa=stress)
        for key, truth in TRUTHS[model].items():
            asked += 1
            inside += found.low[key] <= truth <= found.high[key]
    assert inside / asked >= 0.88


@pytest.mark.parametrize("model", ["Cross", "Carreau", "Carreau-Yasuda"])
def test_without_a_plateau_the_models_of_a_plateau_are_refused(model: str) -> None:
    rate = np.logspace(1.0, 3.0, 12)
    for seed in range(3):
        noise = 1.0 + 0.02 * np.random.default_rng(seed).standard_normal(rate.size)
        with pytest.raises(ScienceError, match="no plateau at low shear"):
            rheology.fit(model, rate, viscosity_pa_s=8.0 * rate**-0.7 * noise)


def test_the_refusal_for_want_of_a_plateau_shows_the_way_out() -> None:
    rate = np.logspace(1.0, 3.0, 12)
    rng = np.random.default_rng(6)
    eta = 8.0 * rate**-0.7 * (1.0 + 0.02 * rng.standard_normal(rate.size))
    with pytest.raises(ScienceError, match=r"down to 10 1/s.*or the power law"):
        rheology.fit("Carreau", rate, viscosity_pa_s=eta)


def test_a_high_shear_level_out_of_reach_is_said_to_be_open() -> None:
    rate = np.logspace(-1.5, 1.5, 13)
    rng = np.random.default_rng(1)
    eta = np.asarray(flow_models.viscosity("Carreau", TRUTHS["Carreau"], rate))
    found = rheology.fit(
        "Carreau", rate, viscosity_pa_s=eta * (1.0 + 0.02 * rng.standard_normal(rate.size))
    )
    assert found.undetermined == ("etainf",)
    assert any("etainf cannot be told" in note for note in found.notes)
    assert found.low["eta0"] < 40.0 < found.high["eta0"]


def test_a_liquid_without_yield_stress_is_not_given_one() -> None:
    rate = np.logspace(0.0, 2.5, 12)
    rng = np.random.default_rng(2)
    stress = 3.0 * rate**0.5 * (1.0 + 0.02 * rng.standard_normal(rate.size))
    found = rheology.fit("Herschel-Bulkley", rate, stress_pa=stress)
    assert found.undetermined == ("tau0",) or found.parameters["tau0"] < 0.3
    assert found.low["n"] <= 0.5 <= found.high["n"]


def test_the_order_of_the_readings_does_not_matter() -> None:
    stress = np.asarray(flow_models.stress("Casson", TRUTHS["Casson"], WIDE))
    stress = stress * (1.0 + 0.02 * np.random.default_rng(3).standard_normal(WIDE.size))
    there = rheology.fit("Casson", WIDE, stress_pa=stress)
    back = rheology.fit("Casson", WIDE[::-1], stress_pa=stress[::-1])
    assert back.parameters == pytest.approx(dict(there.parameters), rel=1e-6)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: rheology.fit("Casson", WIDE), "no readings"),
        (
            lambda: rheology.fit("Casson", WIDE, stress_pa=WIDE, viscosity_pa_s=WIDE),
            "both stress and viscosity",
        ),
        (lambda: rheology.fit("Casson", WIDE, stress_pa=WIDE[:-1]), "A cell of the table is empty"),
        (
            lambda: rheology.fit("Cross", WIDE[:5], stress_pa=WIDE[:5]),
            "5 readings for 4 parameters",
        ),
        (lambda: rheology.fit("Casson", WIDE, stress_pa=-WIDE), "Shear stress: -"),
    ],
)
def test_readings_that_carry_nothing_are_refused(call: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        call()  # type: ignore[operator]
