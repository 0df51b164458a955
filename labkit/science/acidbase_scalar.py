"""One charge balance at a time, in plain Python floats: the quick path of a single solve.

The unknown is x = ln a(H+). All charges are gathered in two sums, positive P and
negative N; ln(P/N) rises with x and is nearly straight far from the root, so that a
Newton step on it lands in few tries from anywhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

LN10 = math.log(10.0)
LOWEST_X, HIGHEST_X = -20.0 * LN10, 3.5 * LN10
START_X = -6.0 * LN10
SHRINK = 0.6
X_TOLERANCE = 1e-8
D_TOLERANCE = 1e-12
MOST_ROUNDS = 200


@dataclass(frozen=True, slots=True)
class Ladder:
    """The charges of one acid or base, from no acid proton to all of them.

    ``counts[i]`` is the charge counted for the species with i protons, beyond ``base``,
    on the positive (``positive``) or the negative side; ``offset`` is the fixed negative
    part of an ampholyte.
    """

    column: int
    charge: int
    pka_up: tuple[float, ...]
    positive: bool
    base: float
    offset: float
    counts: tuple[float, ...]

    @classmethod
    def of(cls, column: int, charge: int, pka: Sequence[float]) -> Ladder:
        """Sort the charges of a component to the side where no digits cancel."""
        steps = len(pka)
        rising = tuple(float(i) for i in range(steps + 1))
        up = tuple(reversed(pka))
        if charge + steps <= 0:
            return cls(column, charge, up, False, float(-charge - steps), 0.0, rising[::-1])
        if charge >= 0:
            return cls(column, charge, up, True, float(charge), 0.0, rising)
        return cls(column, charge, up, True, 0.0, float(-charge), rising)


Term = tuple[float, bool, float, float, list[tuple[float, float]], Ladder]


def conditional(ladder: Ladder, d: float) -> list[float]:
    """Protonation constants in terms of a(H+) and concentrations, at activity term ``d``."""
    return [
        10.0 ** (pka + d * (2 * (ladder.charge + i) - 1)) for i, pka in enumerate(ladder.pka_up, 1)
    ]


def solve(
    ladders: Sequence[Ladder],
    strong: Sequence[tuple[int, int]],
    totals: Sequence[float],
    pkw: float,
    activity: Callable[[float], float],
    highest_d: float,
) -> tuple[float, float, float]:
    """Solve one system; gives x, the activity term D and the ionic strength."""
    present = [ladder for ladder in ladders if totals[ladder.column] > 0.0]
    net = squares = 0.0
    for column, charge in strong:
        net += charge * totals[column]
        squares += charge * charge * totals[column]
    positive = max(net, 0.0)
    negative = max(-net, 0.0)
    for ladder in present:
        negative += ladder.offset * totals[ladder.column]
    kw = 10.0**-pkw
    x = START_X
    strength = 0.0

    def misfit(d: float, tolerance: float) -> float:
        nonlocal x, strength
        terms = [_term(ladder, totals[ladder.column], d) for ladder in present]
        spread = 10.0**d
        x = _newton(x, terms, positive, negative, kw, spread, tolerance)
        strength = 0.5 * (squares + _moments(x, terms, kw, spread))
        return activity(strength) - d

    if highest_d == 0.0:
        misfit(0.0, X_TOLERANCE)
        return x, 0.0, strength
    d = _settle(misfit, activity(0.5 * (squares + abs(net))), activity(2.0), highest_d)
    return x, d, strength


def species(ladder: Ladder, total: float, x: float, d: float) -> list[float]:
    """Amounts from the form with all its acid protons to the form with none."""
    a_h = math.exp(x)
    weights = [1.0]
    for k in conditional(ladder, d):
        weights.append(weights[-1] * k * a_h)
    share = total / sum(weights)
    return [share * weight for weight in reversed(weights)]


def _term(ladder: Ladder, total: float, d: float) -> Term:
    steps = list(zip(conditional(ladder, d), ladder.counts[1:], strict=True))
    return total, ladder.positive, ladder.base, ladder.counts[0], steps, ladder


def _newton(
    x: float,
    terms: list[Term],
    positive: float,
    negative: float,
    kw: float,
    spread: float,
    tolerance: float,
) -> float:
    low, high = LOWEST_X, HIGHEST_X
    last = high - low
    for _ in range(MOST_ROUNDS):
        a_h = math.exp(x)
        h, oh = a_h * spread, kw * spread / a_h
        p, n, dp, dn = positive + h, negative + oh, h, oh
        for total, is_positive, base, first, steps, _ladder in terms:
            weight = sum0 = 1.0
            sum1 = first
            sum2 = first * first
            for k, count in steps:
                weight *= k * a_h
                sum0 += weight
                part = count * weight
                sum1 += part
                sum2 += count * part
            mean = sum1 / sum0
            variance = total * (sum2 / sum0 - mean * mean)
            if is_positive:
                p += total * (base + mean)
                dp += variance
            else:
                n += total * (base + mean)
                dn += variance
        misfit = math.log(p / n)
        if misfit > 0.0:
            high = x
        else:
            low = x
        step = -misfit / (dp / p + dn / n)
        if abs(step) <= tolerance:
            return x + step
        new = x + step
        if not low < new < high or abs(step) > SHRINK * abs(last):
            new = 0.5 * (low + high)
            step = new - x
            if abs(step) <= X_TOLERANCE * 1e-6:
                return new
        x, last = new, step
    return x


def _moments(x: float, terms: list[Term], kw: float, spread: float) -> float:
    """Sum of z² c over all that depends on pH."""
    a_h = math.exp(x)
    found = a_h * spread + kw * spread / a_h
    for total, _positive, _base, _first, steps, ladder in terms:
        charge = ladder.charge
        weight = sum0 = 1.0
        squares = float(charge * charge)
        for k, _count in steps:
            weight *= k * a_h
            charge += 1
            sum0 += weight
            squares += charge * charge * weight
        found += total * squares / sum0
    return found


def _settle(
    misfit: Callable[[float, float], float], start: float, lowest: float, highest: float
) -> float:
    """The D that agrees with the ionic strength it gives: secant inside a bracket."""
    low, high = min(lowest, 0.0) - 1e-9, highest + 1e-9
    d = min(max(start, low), high)
    last = high - low
    before_d = before = 0.0
    for round_number in range(MOST_ROUNDS):
        now = misfit(d, 1e-3 if round_number == 0 else X_TOLERANCE)
        if abs(now) <= D_TOLERANCE and round_number:
            break
        if now > 0.0:
            low = d
        else:
            high = d
        slope = (now - before) / (d - before_d) if round_number else -1.0
        new = d - now / slope if slope < 0.0 else d + now
        if not low < new < high or abs(new - d) > SHRINK * last:
            new = 0.5 * (low + high)
        if new == d:
            break
        before_d, before, last = d, now, abs(new - d)
        d = new
    return d
