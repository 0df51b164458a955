"""Heat balances and cooling: energy is kept, impossible cases are refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labkit.errors import ScienceError
from labkit.science import heat

PARTS = st.lists(
    st.tuples(st.floats(0.1, 500.0), st.floats(0.5, 4.5), st.floats(-5.0, 95.0)),
    min_size=1,
    max_size=6,
)


@given(PARTS)
def test_mixing_keeps_the_heat_and_stays_between_the_parts(
    parts: list[tuple[float, float, float]],
) -> None:
    m, c, t = zip(*parts, strict=True)
    end = float(heat.mixing_temperature(m, c, t))
    assert min(t) - 1e-6 <= end <= max(t) + 1e-6
    gained = sum(mi * ci * (end - ti) for mi, ci, ti in parts)
    assert gained == pytest.approx(0.0, abs=1e-6 * sum(mi * ci for mi, ci, _ in parts) * 100)


def test_water_of_seventy_and_of_twenty_meet_in_the_middle() -> None:
    assert heat.mixing_temperature([50, 50], [4.184, 4.184], [70, 20]) == pytest.approx(45.0)


def test_the_beaker_costs_a_hot_phase_thirteen_degrees() -> None:
    # 120 g glass (0.84 kJ/kg/K) at 22 °C, 75 g water at 75 °C: hand calculation
    end = (75 * 4.19 * 75 + 120 * 0.84 * 22) / (75 * 4.19 + 120 * 0.84)
    c = [4.19, float(heat.specific_heat("glass"))]
    assert heat.mixing_temperature([75, 120], c, [75, 22]) == pytest.approx(end, abs=1e-9)


def test_time_and_rate_of_cooling_belong_together() -> None:
    k = float(heat.cooling_rate(75.0, 50.0, 22.0, 30.0))
    assert heat.cooling_time(75.0, 50.0, 22.0, k) == pytest.approx(30.0)


def test_warming_up_in_a_room_obeys_the_same_law() -> None:
    assert heat.cooling_time(4.0, 13.0, 22.0, 0.02) == pytest.approx(34.657, abs=1e-3)


def test_a_batch_never_cools_past_the_room() -> None:
    with pytest.raises(ScienceError, match="never passes the room's temperature"):
        heat.cooling_time(75.0, 20.0, 22.0, 0.02)
    with pytest.raises(ScienceError, match="beyond the temperature of the room"):
        heat.cooling_rate(22.0, 20.0, 22.0, 10.0)


def test_nothing_has_no_temperature() -> None:
    with pytest.raises(ScienceError, match="nothing to mix"):
        heat.mixing_temperature([0.0], [4.2], [20.0])


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: heat.mixing_temperature([-1.0], [4.2], [20.0]), "Mass of a part: -1 g"),
        (lambda: heat.steam_loss(-1.0, 75.0), "Water lost: -1 g"),
        (lambda: heat.temperature_drop(1.0, 0.0, 4.2), "Mass: 0 g"),
        (lambda: heat.cooling_time(75, 40, 22, 0.0), "Cooling constant: 0"),
        (lambda: heat.specific_heat("moonshine"), "no specific heat"),
    ],
)
def test_impossible_inputs_are_refused(call: object, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        call()  # type: ignore[operator]
