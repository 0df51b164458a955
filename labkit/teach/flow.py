"""Exercises of the fourth lesson: thickness without and with a viscometer."""

from __future__ import annotations

import math

from labkit.science import viscometer
from labkit.teach.questions import NameQuestion, NumberQuestion, Slip
from labkit.teach.variants import Draw

__all__ = ["dial_reading", "drain_ratio", "flow_index", "like_with_like"]


def dial_reading(draw: Draw) -> NumberQuestion:
    """Viscosity from a dial reading."""
    rpm, reading, constant = draw.of((10, 20, 50)), draw.step(24, 82, 2), draw.of((20.0, 64.0))
    full = float(viscometer.full_scale(1.0, constant, rpm))
    answer = float(viscometer.viscosity(reading, full)[0])
    return NumberQuestion(
        key="dial",
        text=f"A viscometer with a full scale of {full:g} mPa·s at {rpm} rpm shows {reading:g} %. "
        "Which viscosity is that?",
        unit="mPa*s",
        answer=answer,
        relative=0.01,
        way=f"{full:g} x {reading:g} / 100 = {answer:g} mPa·s",
        slips=(
            Slip(
                name="full scale",
                value=full,
                reason="That is the full scale, what 100 % would stand for.",
            ),
            Slip(
                name="divided",
                value=full / reading * 100,
                reason="Divided by the reading: a thicker cream turns the dial further, so a "
                "larger reading must give more.",
            ),
        ),
    )


def drain_ratio(draw: Draw) -> NumberQuestion:
    """How much thicker, from two drain times of one cup."""
    thin, thick = draw.step(12, 20, 1), draw.step(30, 75, 3)
    answer = thick / thin
    return NumberQuestion(
        key="drain",
        text=f"Lotion A drains from the cup in {thin:g} s, lotion B in {thick:g} s, same "
        "temperature and density. How many times thicker is B (for long times, time and "
        "thickness run together)?",
        unit="",
        answer=answer,
        relative=0.02,
        way=f"{thick:g} / {thin:g} = {answer:.2f}",
        slips=(
            Slip(
                name="turned round",
                value=thin / thick,
                reason="Turned round: the thicker one drains longer, so the ratio is above 1.",
            ),
            Slip(
                name="difference",
                value=thick - thin,
                reason="That is the difference in seconds. Thickness is compared by ratios.",
            ),
        ),
    )


def flow_index(draw: Draw) -> NumberQuestion:
    """Flow index from readings at two speeds."""
    index, slow = draw.step(0.3, 0.7, 0.05), draw.of((5, 10))
    fast, at_slow = 10 * slow, draw.of((24000, 40000, 60000))
    at_fast = round(at_slow * 10 ** (index - 1), -1)
    slope = math.log10(at_fast / at_slow)
    return NumberQuestion(
        key="index",
        text=f"A gel reads {at_slow} mPa·s at {slow} rpm and {at_fast:g} mPa·s at {fast} rpm. What "
        "is its flow index n (1 would be a thin oil, below 1 gets thinner when stirred)?",
        unit="",
        answer=1 + slope,
        absolute=0.012,
        relative=0.0,
        way=f"n = 1 + log({at_fast:g}/{at_slow}) / log({fast}/{slow}) = {1 + slope:.2f}",
        slips=(
            Slip(
                name="slope",
                value=slope,
                reason="That is the slope of viscosity against speed. Stress is viscosity times "
                "speed, so n is one more.",
            ),
            Slip(
                name="wrong side",
                value=1 - slope,
                reason="Slow and fast changed places: above 1 it would get thicker when stirred.",
            ),
            Slip(
                name="plain ratio",
                value=at_fast / at_slow,
                reason="That is the ratio of the readings. The index is a power: take logarithms.",
            ),
        ),
    )


def like_with_like(draw: Draw) -> NameQuestion:
    """Which two readings can be compared."""
    pair = (
        "trial 1: 18 Pa·s, spindle 4, 20 rpm, 25 °C",
        "trial 2: 22 Pa·s, spindle 4, 20 rpm, 25 °C",
    )
    odd = draw.of(
        (
            ("trial 3: 15 Pa·s, spindle 4, 50 rpm, 25 °C", "it was read at another speed"),
            ("trial 3: 26 Pa·s, spindle 4, 20 rpm, 19 °C", "it was read at another temperature"),
            ("trial 3: 16 Pa·s, spindle 3, 20 rpm, 25 °C", "it was read with another spindle"),
        )
    )
    choices = tuple(x.replace(",", ";") for x in (*pair, odd[0]))
    return NameQuestion(
        key="compare",
        text=f"Which two readings of a cream can stand on one line? {', or '.join(choices)}",
        choices=choices,
        answer=frozenset(x.replace(",", ";") for x in pair),
        way="Same spindle, speed and temperature: then a difference is the cream's.",
        reasons={
            odd[0].replace(",", ";"): f"Not that one: {odd[1]}, "
            "and a cream gets thinner when it is stirred faster or warmer."
        },
    )
