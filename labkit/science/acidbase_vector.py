"""Many charge balances at once: the same equations as the single solve, in numpy.

Systems are taken in chunks that stay in the processor's cache; those that have settled
leave the chunk.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.science.acidbase_scalar import (
    D_TOLERANCE,
    HIGHEST_X,
    LN10,
    LOWEST_X,
    MOST_ROUNDS,
    SHRINK,
    START_X,
    X_TOLERANCE,
    Ladder,
)
from labkit.science.activity import Array

Index = NDArray[np.integer[Any]]

CHUNK = 4096


@dataclass(frozen=True, slots=True)
class Family:
    """Ladders of one length and one side, stacked."""

    columns: tuple[int, ...]
    charges: Array
    pka_up: Array
    positive: bool
    base: Array
    offset: Array
    counts: tuple[float, ...]

    @classmethod
    def gather(cls, ladders: Sequence[Ladder]) -> tuple[Family, ...]:
        """Stack ladders that go through the same arithmetic."""
        kinds: dict[tuple[bool, tuple[float, ...]], list[Ladder]] = {}
        for ladder in ladders:
            kinds.setdefault((ladder.positive, ladder.counts), []).append(ladder)
        return tuple(
            cls(
                columns=tuple(ladder.column for ladder in members),
                charges=np.array([[float(ladder.charge)] for ladder in members]),
                pka_up=np.array([ladder.pka_up for ladder in members]),
                positive=positive,
                base=np.array([[ladder.base] for ladder in members]),
                offset=np.array([[ladder.offset] for ladder in members]),
                counts=counts,
            )
            for (positive, counts), members in kinds.items()
        )

    def conditional(self, d: Array) -> list[Array]:
        """Protonation constants at each system's activity term, one array a step."""
        return [
            np.exp(LN10 * (self.pka_up[:, i - 1 : i] + d * (2.0 * (self.charges + i) - 1.0)))
            for i in range(1, len(self.counts))
        ]


@dataclass(frozen=True, slots=True)
class Batch:
    """One chunk of systems: amounts of each family, and what the strong ions carry."""

    families: tuple[Family, ...]
    kw: float
    amounts: tuple[Array, ...]
    net: Array
    squares: Array
    positive: Array
    negative: Array

    @classmethod
    def of(
        cls,
        families: Sequence[Family],
        strong: Sequence[tuple[int, int]],
        totals: Array,
        pkw: float,
    ) -> Batch:
        """From totals whose rows are components and whose columns are systems."""
        amounts = tuple(totals[list(family.columns)] for family in families)
        net, squares = np.zeros(totals.shape[1]), np.zeros(totals.shape[1])
        for column, charge in strong:
            net += charge * totals[column]
            squares += charge * charge * totals[column]
        negative = np.maximum(-net, 0.0)
        for family, amount in zip(families, amounts, strict=True):
            if family.offset.any():
                negative += (family.offset * amount).sum(axis=0)
        return cls(
            tuple(families), 10.0**-pkw, amounts, net, squares, np.maximum(net, 0.0), negative
        )

    def pick(self, live: Index) -> Batch:
        """The same for some of the systems."""
        return Batch(
            self.families,
            self.kw,
            tuple(amount[:, live] for amount in self.amounts),
            self.net[live],
            self.squares[live],
            self.positive[live],
            self.negative[live],
        )

    def newton(self, x: Array, d: Array, tolerance: float) -> Array:
        """x = ln a(H+) of every system at fixed activity term ``d``."""
        constants = [family.conditional(d) for family in self.families]
        spread = np.exp(LN10 * d)
        low, high = np.full_like(x, LOWEST_X), np.full_like(x, HIGHEST_X)
        last = high - low
        done = np.zeros(x.shape, dtype=bool)
        for _ in range(MOST_ROUNDS):
            misfit, slope = self._misfit(x, constants, spread)
            above = misfit > 0.0
            high, low = np.where(above, x, high), np.where(above, low, x)
            step = -misfit / slope
            small = np.abs(step) <= tolerance
            new = x + step
            wild = ~small & ((new <= low) | (new >= high) | (np.abs(step) > SHRINK * np.abs(last)))
            if wild.any():
                new = np.where(wild, 0.5 * (low + high), new)
                step = new - x
                small |= np.abs(step) <= X_TOLERANCE * 1e-6
            x, last = np.where(done, x, new), step
            done |= small
            if done.all():
                break
        return x

    def _misfit(
        self, x: Array, constants: Sequence[Sequence[Array]], spread: Array
    ) -> tuple[Array, Array]:
        a_h = np.exp(x)
        h, oh = a_h * spread, self.kw * spread / a_h
        p, n = self.positive + h, self.negative + oh
        dp, dn = h, oh
        for family, amount, steps in zip(self.families, self.amounts, constants, strict=True):
            mean, variance = _mean_and_variance(family.counts, steps, a_h)
            charge = (amount * (family.base + mean)).sum(axis=0)
            change = (amount * variance).sum(axis=0)
            if family.positive:
                p += charge
                dp = dp + change
            else:
                n += charge
                dn = dn + change
        return np.log(p / n), dp / p + dn / n

    def strength(self, x: Array, d: Array) -> Array:
        """Ionic strength of every system."""
        a_h, spread = np.exp(x), np.exp(LN10 * d)
        found = self.squares + a_h * spread + self.kw * spread / a_h
        for family, amount in zip(self.families, self.amounts, strict=True):
            weight = np.ones_like(amount)
            sum0, squares = weight.copy(), family.charges**2 * weight
            for i, constant in enumerate(family.conditional(d), 1):
                weight = weight * (constant * a_h)
                sum0 += weight
                squares = squares + (family.charges + i) ** 2 * weight
            found += (amount * squares / sum0).sum(axis=0)
        return np.asarray(0.5 * found)

    def residual(self, x: Array, d: Array) -> Array:
        """Net charge of every system at x, without any ion that would make it neutral."""
        a_h, spread = np.exp(x), np.exp(LN10 * d)
        p = self.positive + a_h * spread
        n = self.negative + self.kw * spread / a_h
        for family, amount in zip(self.families, self.amounts, strict=True):
            mean, _ = _mean_and_variance(family.counts, family.conditional(d), a_h)
            charge = (amount * (family.base + mean)).sum(axis=0)
            if family.positive:
                p += charge
            else:
                n += charge
        return np.asarray(p - n)


def _mean_and_variance(
    counts: Sequence[float], steps: Sequence[Array], a_h: Array
) -> tuple[Array, Array]:
    weight = steps[0] * a_h
    first = counts[0]
    sum0 = 1.0 + weight
    sum1 = first + counts[1] * weight
    sum2 = first * first + counts[1] * counts[1] * weight
    for constant, count in zip(steps[1:], counts[2:], strict=True):
        weight = weight * (constant * a_h)
        sum0 += weight
        if count:
            part = count * weight
            sum1 += part
            sum2 += count * part
    mean = sum1 / sum0
    return mean, sum2 / sum0 - mean * mean


def settle(
    misfit: Callable[[Array, Index, int], Array], start: Array, lowest: float, highest: float
) -> Array:
    """The D of every system that agrees with the ionic strength it gives.

    ``misfit(d, live, round)`` answers for the systems in ``live``; secant inside a
    bracket, a bisection whenever the step does not shrink.
    """
    low = np.full_like(start, min(lowest, 0.0) - 1e-9)
    high = np.full_like(start, highest + 1e-9)
    d = np.clip(start, low, high)
    last = high - low
    before_d, before = np.zeros_like(d), np.zeros_like(d)
    live = np.arange(d.size)
    for round_number in range(MOST_ROUNDS):
        here = d[live]
        now = misfit(here, live, round_number)
        if round_number:
            open_ = np.abs(now) > D_TOLERANCE
            live, here, now = live[open_], here[open_], now[open_]
        if live.size == 0:
            break
        above = now > 0.0
        low[live], high[live] = np.where(above, here, low[live]), np.where(above, high[live], here)
        new = here + now
        if round_number:
            slope = (now - before[live]) / (here - before_d[live])
            new = np.where(slope < 0.0, here - now / np.minimum(slope, -1e-300), new)
        wild = (new <= low[live]) | (new >= high[live])
        wild |= np.abs(new - here) > SHRINK * last[live]
        new = np.where(wild, 0.5 * (low[live] + high[live]), new)
        before_d[live], before[live], last[live] = here, now, np.abs(new - here)
        d[live] = new
        live = live[new != here]
        if live.size == 0:
            break
    return d


def solve(
    batch: Batch, activity: Callable[[Array], Array], lowest_d: float, highest_d: float
) -> tuple[Array, Array]:
    """x and D of every system of the batch."""
    x = np.full(batch.net.shape, START_X)
    zero = np.zeros_like(x)
    if highest_d == 0.0:
        return batch.newton(x, zero, X_TOLERANCE), zero

    part, known = batch, x.size

    def misfit(d: Array, live: Index, round_number: int) -> Array:
        nonlocal part, known
        if live.size != known:
            part, known = batch.pick(live), live.size
        x[live] = part.newton(x[live], d, X_TOLERANCE if round_number else 1e-3)
        return np.asarray(activity(part.strength(x[live], d)) - d)

    guess = np.asarray(activity(0.5 * (batch.squares + np.abs(batch.net))))
    return x, settle(misfit, guess, lowest_d, highest_d)
