"""Whether the balance can weigh the smallest lines, and the stock solution that helps."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

import numpy as np
from numpy.typing import NDArray

from labkit.estimates.catalogue import finding
from labkit.estimates.contents import Contents
from labkit.estimates.finding import Finding, Severity
from labkit.estimates.state import Candidate, Other, State, test
from labkit.formula.brief import Brief
from labkit.quantities import parse

__all__ = ["Stock", "stock_for", "weighing_candidates"]

Mask = NDArray[np.bool_]

READINGS = 100
"""Smallest weighing in readings of the balance for 1 % work; common practice."""
ROUGH, COARSE = 20, 50
"""Below 20 readings one digit is more than 5 %, below 50 more than 2 %."""
STRENGTHS = (Decimal(50), Decimal(20), Decimal(10), Decimal(5), Decimal(1), Decimal("0.1"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """A stock solution that makes a weighing large enough.

    ``strength`` in % w/w, ``grams`` of stock to weigh, ``carrier`` what it is made in.
    """

    strength: Decimal
    grams: Decimal
    carrier: str


def stock_for(
    grams: Decimal, readability_g: Decimal, carrier: str = "water", thickens: bool = False
) -> Stock | None:
    """The strongest usual stock of which the same amount is weighed with 100 digits.

    Parameters
    ----------
    grams : Decimal
        What is wanted of the substance [g].
    readability_g : Decimal
        One digit of the balance [g].
    carrier : str
        What the stock is made in.
    thickens : bool
        Gums and polymers: no stock above 1 % can be poured.

    Returns
    -------
    Stock or None
        None when the balance weighs the substance as it is, or no usual stock helps.

    Examples
    --------
    >>> stock_for(Decimal("0.05"), Decimal("0.01"))
    Stock(strength=Decimal('5'), grams=Decimal('1.00'), carrier='water')
    """
    least = READINGS * readability_g
    if grams <= 0 or grams >= least:
        return None
    for strength in (s for s in STRENGTHS if s <= 1 or not thickens):
        amount = grams * 100 / strength
        if amount >= least:
            rounded = amount.quantize(readability_g, rounding=ROUND_CEILING)
            return Stock(strength=strength, grams=rounded, carrier=carrier)
    return None


def weighing_candidates(contents: Contents, brief: Brief) -> list[Candidate]:
    """Lines that this balance weighs too roughly in this batch, told as one finding."""
    batch = parse(brief.batch, "mass").exact("g")
    step = parse(brief.balance, "mass").exact("g")
    coarse, rough = (n * float(step) * 100 / float(batch) for n in (COARSE, ROUGH))

    def small(state: State, bound: float) -> Mask:
        return (state.percent > 0) & (state.percent < bound - 1e-9)

    def roughly(state: State) -> Mask | bool:
        return np.asarray(small(state, rough).any(axis=-1))

    def only_coarsely(state: State) -> Mask | bool:
        return np.asarray(small(state, coarse).any(axis=-1) & np.logical_not(roughly(state)))

    def candidate(severity: Severity, decide: Other) -> Candidate:
        def tell(state: State, sure: bool) -> Finding:
            lines = tuple(int(i) for i in np.flatnonzero(small(state, coarse)))
            return _told(contents, state, lines, batch, step, severity)

        held = test(decide)
        return Candidate(code="WEIGH01", severity=severity, certain=held, possible=held, tell=tell)

    return [candidate("check", roughly), candidate("fyi", only_coarsely)]


def _told(
    contents: Contents,
    state: State,
    lines: tuple[int, ...],
    batch: Decimal,
    step: Decimal,
    severity: Severity,
) -> Finding:
    worst = min(lines, key=lambda i: float(state.percent[i]))
    grams = Decimal(repr(float(state.percent[worst]))) * batch / 100
    error = step / grams * 100
    return finding(
        "WEIGH01",
        contents,
        lines,
        f"{grams.normalize():f} g {contents.formula.lines[worst].material} on a "
        f"{step.normalize():f} g balance: one digit is {float(error):.2g} % of it.",
        f"{READINGS} digits are the smallest weighing for 1 % work: {READINGS * step:f} g.",
        _help(contents, state, lines, batch, step),
        severity=severity,
        grams=float(grams),
        error_percent=float(error),
    )


def _help(
    contents: Contents, state: State, lines: tuple[int, ...], batch: Decimal, step: Decimal
) -> str:
    parts = []
    for i in lines:
        name, material = contents.formula.lines[i].material, contents.materials[i]
        oily = material is not None and material.phase == "oil"
        thick = material is not None and material.charge_class == "polymer"
        grams = Decimal(repr(float(state.percent[i]))) * batch / 100
        stock = stock_for(grams, step, "oil of the formula" if oily else "water", thick)
        if stock is not None:
            parts.append(
                f"{stock.grams.normalize():f} g of a {stock.strength:f} % stock of "
                f"{name} in {stock.carrier}"
            )
    offer = "; ".join(parts[:3])
    larger = "or make a larger batch, or use a finer balance"
    return f"Weigh {offer} ({larger})." if offer else f"{larger[3:].capitalize()}."
