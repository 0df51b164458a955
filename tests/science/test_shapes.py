"""Every science function keeps the shape of its numbers: an array gives what its elements give."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pytest

from labkit.science import (
    carriers,
    colour,
    creaming,
    density,
    evaporation,
    exposure,
    flow_models,
    heat,
    hlb,
    humidity,
    kinetics,
    liquids,
    preservation,
    suspensions,
    viscometer,
    water,
)

CREAM = {"tau0": 22.0, "K": 7.5, "n": 0.47}
TEMPERATURES = np.array([15.0, 20.0, 25.0, 32.0])
SHARES = np.array([0.0, 5.0, 33.3, 60.0])
RATES = np.array([0.1, 1.0, 10.0, 300.0])
FRACTIONS = np.array([0.0, 0.05, 0.3, 0.6])
PHS = np.array([3.0, 4.2, 5.5, 9.0])

ONE = {
    "water density": (water.density, TEMPERATURES),
    "water viscosity": (water.viscosity, TEMPERATURES),
    "water vapour pressure": (water.vapour_pressure, TEMPERATURES),
    "water specific heat": (water.specific_heat, TEMPERATURES),
    "water heat of vaporisation": (water.heat_of_vaporisation, TEMPERATURES),
    "liquid": (partial(liquids.value, "D5", "vapour_pressure"), TEMPERATURES),
    "melting point": (partial(liquids.value, "beeswax", "melting_point"), TEMPERATURES),
    "density of": (partial(density.of, "olive oil"), TEMPERATURES),
    "glycerin density": (lambda w: density.water_glycerin(w, 25.0), SHARES),
    "glycerin viscosity": (lambda w: carriers.viscosity("glycerin", w, 25.0), SHARES),
    "glycol viscosity": (lambda w: carriers.viscosity("propylene glycol", w, 22.0), SHARES),
    "ethanol density": (lambda w: carriers.mixture_density("ethanol", w, 33.0), SHARES),
    "ethanol heat": (lambda w: carriers.specific_heat("ethanol", w, 33.0), SHARES),
    "syrup viscosity": (lambda w: carriers.viscosity("sucrose", w, 25.0), SHARES),
    "glycerin heat": (lambda w: heat.water_mixture("glycerin", w, 25.0), SHARES),
    "ethanol temperatures": (lambda t: carriers.viscosity("ethanol", 30.0, t), TEMPERATURES),
    "steam": (lambda m: heat.steam_loss(m, 75.0), SHARES),
    "cooling": (lambda t: heat.cooling_time(75.0, t, 10.0, 0.02), TEMPERATURES),
    "cooling rate": (lambda t: heat.cooling_rate(75.0, t, 10.0, 30.0), TEMPERATURES),
    "drop": (lambda q: heat.temperature_drop(q, 100.0, 3.7), SHARES),
    "heating": (lambda t: heat.heating(20.0, 2.0, t, 75.0, 4.0, 142.0), TEMPERATURES),
    "ester": (lambda s: hlb.ester(s, 200.0), np.array([50.0, 100.0, 161.0])),
    "ethoxylate": (lambda n: hlb.ethoxylate(n, 270.5), np.array([0.0, 2.0, 21.0])),
    "davies": (lambda n: hlb.davies([(38.7, 1)], n), np.array([8.0, 12.0, 16.0])),
    "pair": (lambda t: hlb.pair_share(t, 15.0, 4.3), np.array([4.3, 10.0, 15.0])),
    "un-ionised": (lambda ph: preservation.un_ionised_fraction(ph, 4.2), PHS),
    "binding": (lambda s: preservation.binding_ratio(s, 0.5), SHARES),
    "in water": (lambda k: preservation.in_water(0.4, k, 0.5, 1.3), SHARES),
    "free acid": (lambda ph: preservation.free_acid(0.3, 2.5, 0.25, ph, 4.2), PHS),
    "working": (lambda c: preservation.working_ratio(c, 0.2, 5.5, 4.76), FRACTIONS),
    "log D": (lambda ph: preservation.log_d(1.87, ph, 4.2), PHS),
    "oil to water": (lambda o: preservation.oil_to_water_ratio(o, 70.0), SHARES),
    "molality": (lambda w: humidity.molality(w, 92.09), SHARES),
    "salt": (humidity.sodium_chloride, np.array([0.0, 0.1, 2.0, 6.0])),
    "pressure": (partial(evaporation.vapour_pressure, "water"), TEMPERATURES),
    "vaporisation": (partial(evaporation.heat_of_vaporisation, "ethanol"), TEMPERATURES),
    "evaporation": (lambda p: evaporation.rate(p, 46.0), np.array([0.0, 10.0, 4000.0])),
    "creaming": (lambda d: creaming.velocity(d, -80.0, 100.0, 0.2), np.array([0.5, 2.0, 20.0])),
    "pull": (lambda r: creaming.centrifuge_pull(r, 10.0), np.array([0.0, 500.0, 3000.0])),
    "product": (lambda a: exposure.product_exposure(a, 0.1), SHARES),
    "dose": (lambda c: exposure.systemic_dose(123.2, c), SHARES),
    "dose by area": (lambda a: exposure.systemic_dose_by_area(a, 565.0, 2.0), SHARES),
    "margin": (lambda d: exposure.margin(100.0, d), np.array([0.01, 0.3, 4.0])),
    "at margin": (lambda e: exposure.concentration_at_margin(50.0, e), np.array([1.0, 24.0])),
    "ppm": (lambda g: colour.ppm(1.0, g, 100.0), SHARES),
    "stock": (lambda p: colour.stock_for(p, 1.0, 100.0), SHARES),
    "drops": (lambda n: colour.drops_to_grams(n, 0.04), SHARES),
    "reflectance": (lambda k: colour.thick_reflectance(k, 30.0), SHARES),
    "q10": (lambda t: kinetics.q10_factor(2.0, t, 25.0), TEMPERATURES),
    "ratio": (lambda t: kinetics.rate_ratio(80.0, 25.0, t), TEMPERATURES),
    "q10 from energy": (lambda e: kinetics.q10_from_energy(e, 25.0, 40.0), SHARES),
    "left, zero": (lambda t: kinetics.amount_left(100.0, 2.0, t, "zero"), SHARES),
    "left, first": (lambda t: kinetics.amount_left(100.0, 0.02, t), SHARES),
    "loss": (lambda x: kinetics.time_to_loss(0.004, x), FRACTIONS),
    "flow": (partial(flow_models.viscosity, "Herschel-Bulkley", CREAM), RATES),
    "stress": (partial(flow_models.stress, "Herschel-Bulkley", CREAM), RATES),
    "einstein": (suspensions.einstein, FRACTIONS),
    "batchelor": (suspensions.batchelor, FRACTIONS),
    "brinkman": (suspensions.brinkman, FRACTIONS),
    "krieger": (suspensions.krieger_dougherty, FRACTIONS),
    "taylor": (lambda x: suspensions.taylor(x, 10.0), FRACTIONS),
    "pal": (lambda x: suspensions.pal(x, 10.0), FRACTIONS),
    "full scale": (lambda v: viscometer.full_scale(1.0, 20.0, v), RATES),
    "dial": (lambda r: viscometer.viscosity(r, 1e4)[0], SHARES),
    "dial error": (lambda r: viscometer.viscosity(r, 1e4)[1], SHARES),
    "mitschka": (viscometer.mitschka_rate_factor, np.array([0.1, 0.37, 1.0])),
    "coaxial": (lambda v: viscometer.coaxial_shear_rate(v, 9.42, 13.8), RATES),
}


@pytest.mark.parametrize(("call", "values"), ONE.values(), ids=ONE)
def test_an_array_gives_what_its_elements_give(
    call: Callable[[Any], Any], values: np.ndarray[Any, np.dtype[np.float64]]
) -> None:
    together = call(values)
    one_by_one = [call(float(value)) for value in values]
    assert all(isinstance(value, float) for value in one_by_one)
    assert together.shape == values.shape
    assert together.tolist() == pytest.approx(one_by_one, rel=1e-12, abs=1e-300)
    square = call(values.reshape(1, -1, 1))
    assert square.shape == (1, values.size, 1)


ROWS = {
    "blend": (lambda x: hlb.blend(x, [15.0, 4.3, 8.6])),
    "mixing": (lambda x: heat.mixing_temperature(x, [4.2, 2.0, 0.84], [75.0, 70.0, 22.0])),
    "mixture density": (lambda x: density.mixture(x, [1000.0, 920.0, 1261.0])),
    "oil blend": (lambda x: carriers.oil_blend(x, [5.0, 80.0, 500.0])),
    "norrish": (lambda x: humidity.norrish(x, [1.16, 1.65, 0.0])),
    "ross": (lambda x: humidity.ross(x, [1.16, 1.65, 0.0])),
    "raoult": humidity.raoult,
}


@pytest.mark.parametrize("call", ROWS.values(), ids=ROWS)
def test_a_table_of_mixtures_gives_what_its_rows_give(call: Callable[[Any], Any]) -> None:
    table = np.array([[[1.0, 0.0, 0.0], [0.2, 0.5, 3.0]], [[0.0, 2.0, 1.0], [4.0, 4.0, 4.0]]])
    together = call(table)
    assert together.shape == (2, 2)
    for at in np.ndindex(2, 2):
        assert together[at] == pytest.approx(call(table[at]), rel=1e-12)
        assert isinstance(call(table[at]), float)
