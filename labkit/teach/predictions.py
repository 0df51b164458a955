"""Predictions asked before the slider moves, and how each came out, by computation."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from labkit.estimates.check import check
from labkit.evaluate import compile_formula
from labkit.evaluate.evaluator import Numbers
from labkit.formula import Formula
from labkit.formula.grid import show
from labkit.materials import Materials

__all__ = ["Prediction", "by_index", "by_mean", "found_together", "required", "water", "working"]

Outcome = tuple[str, str]
"""Which choice came true, and the numbers that say so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """A question to be answered before trying: its choices, and how it is decided."""

    text: str
    choices: tuple[str, ...]
    decide: Callable[[Formula, Materials], Outcome]


def _numbers(formula: Formula, mats: Materials) -> Numbers:
    shares = np.array([float(x.percent) for x in formula.lines])
    return compile_formula(formula, mats)(shares)


def water(formula: Formula, mats: Materials) -> Outcome:
    """Glycerin goes up by 3 %: what does the q.s. line do?"""
    after = formula.move("Glycerin", by="+3 %")
    assert formula.qs_line is not None
    assert after.qs_line is not None
    fell = formula.qs_line.percent - after.qs_line.percent
    words = f"water {show(formula.qs_line.percent)} → {show(after.qs_line.percent)} %"
    return ("it falls by 3" if fell == 3 else "it stays"), words


def required(formula: Formula, mats: Materials) -> Outcome:
    """Sunflower oil makes room for mineral oil: where does the required HLB go?"""
    after = formula.move("Mineral oil", by="+6 %", give=["Sunflower oil"])
    first, last = (_numbers(x, mats) for x in (formula, after))
    was, now = (float((n.required_low + n.required_high) / 2) for n in (first, last))
    came = "it rises" if now > was + 0.05 else "it falls" if now < was - 0.05 else "it stays"
    return came, f"required HLB, middle of the band: {was:.1f} → {now:.1f}"


def working(formula: Formula, mats: Materials) -> Outcome:
    """More lactic acid: what happens to the part of the benzoate that works?"""
    after = formula.move("Lactic acid 80 %", by="+0.3 %")
    first, last = (_numbers(x, mats) for x in (formula, after))
    was, now = (float(np.sum(n.working.free)) for n in (first, last))
    came = "it rises" if now > 1.02 * was else "it falls" if now < 0.98 * was else "it stays"
    words = (
        f"calculated pH {float(first.ph):.1f} → {float(last.ph):.1f}; un-ionised in the water "
        f"{was:.2f} → {now:.2f} %"
    )
    return came, words


def by_index(formula: Formula, mats: Materials) -> Outcome:
    """A gel of flow index 0.3, ten times faster: viscosity goes with speed to the n - 1."""
    ratio = 10 ** (0.3 - 1)
    choices = {"about the same": 1.0, "about half": 0.5, "about a fifth": 0.2}
    came = min(choices, key=lambda word: abs(math.log(choices[word] / ratio)))
    return came, f"10^(0.3 - 1) = {ratio:.2f} of the slow reading"


def found_together(formula: Formula, mats: Materials) -> Outcome:
    """A salt joins a carbomer gel: what does the check on paper name?"""
    after = formula.add("Sodium lactate", "1 %", phase="B")
    known = {(f.code, f.names) for f in check(formula, mats, ph=6.0)}
    fresh = [f for f in check(after, mats, ph=6.0) if (f.code, f.names) not in known]
    several = [f for f in fresh if len(f.names) > 1]
    if several:
        return "two lines together", f"{several[0].what} {several[0].do}"
    return ("one line" if fresh else "nothing new"), str(fresh[0]) if fresh else "no new finding"


def by_mean(formula: Formula, mats: Materials) -> Outcome:
    """Four readings in place of one: how much smaller is the error of the mean?"""
    left = 1 / math.sqrt(4)
    choices = {"it stays": 1.0, "it halves": 0.5, "it falls to a quarter": 0.25}
    came = min(choices, key=lambda word: abs(choices[word] - left))
    return came, f"1 / square root of 4 = {left:.2f}"
