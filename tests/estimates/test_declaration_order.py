"""Where the order of a list is certain, against linear programming; every starter material."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from labkit import tables
from labkit.estimates.declaration import declare
from labkit.estimates.declaration_entries import gather
from labkit.estimates.declaration_names import is_colour_index, key_of, label_name
from labkit.estimates.declaration_order import certainly_before
from labkit.estimates.declaration_parts import parts_of
from labkit.formula import Brief, Formula, Line
from labkit.materials import Constituent, Materials
from labkit.materials.fractions import bounds

NAMES = ("Alpha", "Beta", "Gamma", "Delta")
DAY = date(2026, 11, 2)


@st.composite
def blends(draw: st.DrawFn) -> tuple[tuple[float | None, float | None], ...]:
    """Stated ranges in percent of 2 to 4 parts; some of them only by their order."""
    count = draw(st.integers(2, 4))
    found: list[tuple[float | None, float | None]] = []
    for _ in range(count):
        if draw(st.booleans()):
            found.append((None, None))
        else:
            low = draw(st.integers(0, 60))
            found.append((low / 100, min(100, low + draw(st.integers(0, 40))) / 100))
    return tuple(found)


def smallest_difference(
    ranges: tuple[tuple[float, float], ...], falling: bool, a: int, b: int
) -> float:
    """min x_a - x_b over sum 1, the ranges, and falling order: scipy.optimize.linprog."""
    n = len(ranges)
    cost = np.zeros(n)
    cost[a], cost[b] = 1.0, -1.0
    order = np.zeros((n - 1, n))
    for k in range(n - 1):
        order[k, k], order[k, k + 1] = -1.0, 1.0
    room = np.zeros(n - 1) if falling else np.full(n - 1, 2.0)
    found = linprog(
        cost, A_ub=order, b_ub=room, A_eq=np.ones((1, n)), b_eq=np.ones(1), bounds=ranges
    )
    assert found.success
    assert found.fun is not None
    return float(found.fun)


@settings(deadline=None)  # a busy machine is no fault of the list
@given(blends(), st.integers(0, 400), st.integers(1, 300))
def test_certain_means_certain_for_every_mixture(
    blend: tuple[tuple[float | None, float | None], ...], extra: int, share: int
) -> None:
    limits = bounds([low for low, _ in blend], [high for _, high in blend])
    if limits is None:
        return
    parts = tuple(
        Constituent(inci=NAMES[k], order=k + 1, low=low, high=high)
        for k, (low, high) in enumerate(blend)
    )
    mats = Materials().add(name="Aqua", inci="Aqua").add(name="Alpha", inci="Alpha")
    mats = mats.add(name="Blend", inci="x", composition=parts)
    own, mixed = Decimal(extra) / 100, Decimal(share) / 10
    percents = {"Aqua": 100 - own - mixed, "Alpha": own, "Blend": mixed}
    lines = tuple(Line(phase="A", material=m, percent=p) for m, p in percents.items())
    taken = parts_of(Formula("Any", lines), mats)
    found = {g.name: g for g in gather(taken, "EU", lambda part, line: False)[0]}
    by_line = {line.line: line for line in taken}
    falling = taken[-1].falling
    stated = tuple(
        (0.0 if low is None else low, 1.0 if high is None else high) for low, high in blend
    )
    for a in range(len(blend)):
        for b in range(len(blend)):
            if a == b or NAMES[a] not in found or NAMES[b] not in found:
                continue
            least = smallest_difference(stated, falling, a, b) * float(mixed)
            least += float(own) * ((a == 0) - (b == 0))
            said = certainly_before(found[NAMES[a]], found[NAMES[b]], by_line)
            if said:
                assert least >= -1e-7
            elif not falling:
                assert least < 1e-7


@pytest.mark.parametrize("market", ["EU", "GB", "US"])
def test_every_starter_material_can_be_listed(market: str) -> None:
    mats = Materials.starter()
    brief = Brief(product="cream", leave_on=True)
    for material in mats.values():
        lines = (
            Line(phase="A", material="Aqua", percent=Decimal(98)),
            Line(phase="A", material=material.key, percent=Decimal(2)),
        )
        made = declare(Formula("Any", lines), mats, brief=brief, market=market, day=DAY)
        total = sum((e.amount.typical for e in made.entries if _weighed(e.lines)), Decimal(0))
        assert all(name.strip() and "(and)" not in name for name in made.names)
        assert len({n.casefold() for n in made.names}) == len(made.names)
        assert abs(total - 100) < Decimal("1.2"), material.name


def _weighed(lines: tuple[str, ...]) -> bool:
    """Not only held inside another ingredient."""
    return any(not line.startswith("inside ") for line in lines)


def test_names_go_to_the_us_and_come_back() -> None:
    """One key for both markets' names, for every row that is not a colour of several numbers."""
    for row in tables.rows("label_names"):
        eu, us = row["eu_name"] or "", row["us_name"] or ""
        as_colour = row["kind"] == "colour"
        assert label_name(eu, "US", as_colour=as_colour).name == us
        assert label_name(eu, "EU", as_colour=as_colour).name == eu
        if not as_colour:
            assert label_name(us, "EU").name == eu
            assert key_of(eu) == key_of(us)
        else:
            assert is_colour_index(eu)


@pytest.mark.parametrize(
    ("number", "name"),
    [("CI 19140", "Yellow 5"), ("CI 42090", "Blue 1"), ("CI 16035", "Red 40"),
     ("CI 17200", "Red 33"), ("CI 60730", "Ext. Violet 2"), ("CI 77891", "Titanium Dioxide"),
     ("CI 77491", "Iron Oxides"), ("CI 75470", "Carmine"), ("CI 77007", "Ultramarines")],
)  # fmt: skip
def test_colours_go_by_their_us_names(number: str, name: str) -> None:
    """21 CFR parts 73 and 74, rules LR43 to LR47 of the table label_rules."""
    made = label_name(number, "US")
    assert (made.name, made.colour) == (name, True)


def test_a_colour_without_a_known_us_name_is_asked_for() -> None:
    mats = Materials().add(name="Aqua", inci="Aqua").add(name="CI 45430", inci="CI 45430")
    lines = (
        Line(phase="A", material="Aqua", percent=Decimal(99)),
        Line(phase="A", material="CI 45430", percent=Decimal(1)),
    )
    made = declare(Formula("Any", lines), mats, market="US", day=DAY)
    assert made.colours == ("CI 45430",)
    assert any("21 CFR" in q for q in made.questions)
