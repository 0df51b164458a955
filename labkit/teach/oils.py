"""Exercises of the second lesson: oil phase, required HLB, emulsifier pairs."""

from __future__ import annotations

from labkit.science import hlb
from labkit.teach.questions import NameQuestion, NumberQuestion, Slip
from labkit.teach.variants import Draw

__all__ = ["grams_of_a_pair", "out_of_reach", "required_value", "share_of_a_pair"]

REQUIRED = {"mineral oil": 10.5, "sunflower oil": 7.0, "isopropyl myristate": 11.5}
"""Required HLB for oil in water: heavy mineral oil after Griffin (1949), isopropyl myristate
after OCL 29 (2022), sunflower oil from memory of a common table; published values differ, and
`datasets/hlb_required.csv` has the bands with their sources."""
HIGH = ("polysorbate 60", 14.9)
LOW = ("sorbitan stearate", 4.7)
"""HLB of the pair: sorbitan stearate after Griffin (1949), polysorbate 60 from a makers' list
(`datasets/hlb_emulsifiers.csv`)."""


def required_value(draw: Draw) -> NumberQuestion:
    """Required HLB of a mixed oil phase."""
    one, other = draw.of(
        (
            ("mineral oil", "sunflower oil"),
            ("isopropyl myristate", "sunflower oil"),
        )
    )
    shares = draw.of(((12, 6), (6, 12), (15, 5), (5, 10), (9, 3)))
    values = [REQUIRED[one], REQUIRED[other]]
    answer = float(hlb.blend(shares, values))
    whole = sum(s * v for s, v in zip(shares, values, strict=True))
    return NumberQuestion(
        key="required",
        text=f"A cream has {shares[0]} % {one} (required HLB {values[0]:g}) and {shares[1]} % "
        f"{other} (required HLB {values[1]:g}). Which HLB does the oil phase ask for?",
        unit="",
        answer=answer,
        absolute=0.06,
        way=f"({shares[0]} x {values[0]:g} + {shares[1]} x {values[1]:g}) / {sum(shares)} "
        f"= {answer:.2f}",
        slips=(
            Slip(
                name="wrong basis",
                value=whole / 100,
                reason="Weighted by shares of the whole cream. Water asks for no HLB: divide by "
                "the oil phase, not by 100.",
            ),
            Slip(
                name="no weights",
                value=sum(values) / 2,
                reason="That is the plain mean. The larger part of the oil phase counts for more.",
            ),
            Slip(
                name="weights swapped",
                value=float(hlb.blend(shares, values[::-1])),
                reason="The shares stand beside the wrong oils.",
            ),
        ),
    )


def share_of_a_pair(draw: Draw) -> NumberQuestion:
    """Share of the higher emulsifier of a pair."""
    target = draw.step(6.5, 13.0, 0.5)
    if abs(target - (HIGH[1] + LOW[1]) / 2) < 0.2:
        target += 0.5
    answer = 100 * float(hlb.pair_share(target, HIGH[1], LOW[1]))
    return NumberQuestion(
        key="pair",
        text=f"You blend {HIGH[0]} (HLB {HIGH[1]:g}) and {LOW[0]} (HLB {LOW[1]:g}) to HLB "
        f"{target:g}. What percentage of the pair is {HIGH[0]}?",
        unit="%",
        answer=answer,
        absolute=0.3,
        relative=0.0,
        way=f"100 x ({target:g} - {LOW[1]:g}) / ({HIGH[1]:g} - {LOW[1]:g}) = {answer:.1f} %",
        slips=(
            Slip(
                name="the other one",
                value=100 - answer,
                reason=f"That is the share of {LOW[0]}. Ask which end the target lies nearer to.",
            ),
            Slip(
                name="no low end",
                value=100 * target / HIGH[1],
                reason="Divided by the high value alone. The other emulsifier brings HLB too: "
                "take its value off above and below.",
            ),
            Slip(
                name="fraction",
                value=answer / 100,
                reason="That is a fraction, written as if it were percent. "
                "Percent is a hundred times that.",
            ),
        ),
    )


def grams_of_a_pair(draw: Draw) -> NumberQuestion:
    """Grams of the lower emulsifier in a batch."""
    target, total, mass = draw.of((7.5, 8.5, 11.0, 12.0)), draw.of((3, 4, 5)), draw.of((150, 250))
    high, low = (float(x) for x in hlb.pair_amounts(target, HIGH[1], LOW[1], total * mass / 100))
    return NumberQuestion(
        key="pair grams",
        text=f"{mass} g of cream shall hold {total} % of the pair {HIGH[0]} (HLB {HIGH[1]:g}) and "
        f"{LOW[0]} (HLB {LOW[1]:g}) at HLB {target:g}. How many grams of {LOW[0]}?",
        unit="g",
        answer=low,
        relative=0.01,
        way=f"{total * mass / 100:g} g of pair, of it ({HIGH[1]:g} - {target:g}) / "
        f"({HIGH[1]:g} - {LOW[1]:g}) is {LOW[0]}: {low:.2f} g",
        slips=(
            Slip(
                name="the other one",
                value=high,
                reason=f"Those are the grams of {HIGH[0]}.",
            ),
            Slip(
                name="for 100 g",
                value=low * 100 / mass,
                reason=f"That is for 100 g. The batch is {mass} g.",
            ),
            Slip(
                name="half each",
                value=total * mass / 200,
                reason="Half of each gives the HLB in the middle, which is not the target.",
            ),
        ),
    )


def out_of_reach(draw: Draw) -> NameQuestion:
    """Whether a pair reaches a target at all."""
    target, reachable = draw.of(((16.0, False), (4.0, False), (9.0, True), (13.5, True)))
    yes, no = "it can be blended", "no blend of the two reaches it"
    return NameQuestion(
        key="reach",
        text=f"Can {HIGH[0]} (HLB {HIGH[1]:g}) and {LOW[0]} (HLB {LOW[1]:g}) be blended to HLB "
        f"{target:g}?",
        choices=(yes, no),
        answer=frozenset({yes if reachable else no}),
        way=f"A blend lies between its two ends, {LOW[1]:g} and {HIGH[1]:g}.",
        reasons={
            yes: "One of the two amounts would have to be negative. What are the ends?",
            no: "The target lies between the two ends, so some share of each reaches it.",
        },
    )
