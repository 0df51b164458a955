"""A pair of nonionic emulsifiers for the HLB that an oil phase asks for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from html import escape

from labkit.errors import FormulaError, MaterialError
from labkit.evaluate import Evaluator, Oil, compile_formula, counts_in_hlb, oils_of
from labkit.formula import Formula, Move, formula_of
from labkit.formula.lines import Line
from labkit.materials import Material, Materials
from labkit.quantities import decimal
from labkit.science.hlb import pair_share

__all__ = ["Pair", "emulsifier_of", "emulsifier_pair"]

GRID = Decimal("0.0001")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two emulsifiers and their shares for a wanted HLB.

    Attributes
    ----------
    target : float
        The HLB asked for.
    band : (float, float) or None
        Required HLB of the oil phase, low and high; None where no oil has data.
    reachable : (float, float)
        HLB of the two alone.
    share : float
        Of the higher one in the pair, 0 to 1.
    high, low : str
        The two emulsifiers.
    high_percent, low_percent : Decimal
        [% w/w of the batch]
    moves : tuple of Move
        To be applied in this order.
    formula : Formula
        The formula after the moves.
    oils : tuple of Oil
    words : str
    """

    target: float
    band: tuple[float, float] | None
    reachable: tuple[float, float]
    share: float
    high: str
    low: str
    high_percent: Decimal
    low_percent: Decimal
    moves: tuple[Move, ...]
    formula: Formula
    oils: tuple[Oil, ...]
    words: str

    def __str__(self) -> str:
        return self.words

    def _repr_html_(self) -> str:
        return f"<p>{escape(self.words)}</p>"


def emulsifier_pair(
    formula: Formula,
    mats: Materials,
    high: str,
    low: str,
    *,
    target: float | None = None,
    total: float | str | None = None,
) -> Pair:
    """Shares of two nonionic emulsifiers that give a wanted HLB.

    Parameters
    ----------
    formula : Formula
        Its oils set the band; its q.s. line takes up the difference.
    mats : Materials
    high, low : str
        The emulsifier of higher and of lower HLB, in either order.
    target : float, optional
        Wanted HLB; without one the middle of the band that the oils ask for.
    total : float or str, optional
        Both together [% w/w]; without it what the formula holds of the two.

    Returns
    -------
    Pair

    Raises
    ------
    MaterialError
        An emulsifier that is not known, carries a charge, or has no HLB.
    ScienceError
        A target outside the reach of this pair; the range is named. Never a negative amount.
    FormulaError
        No target and no oil with data; no total and neither emulsifier in the formula.

    Notes
    -----
    share = (target - low)/(high - low), means by weight (Griffin 1949). HLB belongs to
    nonionic emulsifiers; quats, soaps and polymers are chosen by the maker's dose.

    Examples
    --------
    >>> cream = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... B,Mineral oil,20''')
    >>> pair = emulsifier_pair(cream, Materials.starter(), "Polysorbate 80", "Sorbitan oleate",
    ...     target=10.5, total=4)
    >>> pair.reachable, round(pair.share, 3), pair.high_percent + pair.low_percent
    ((4.3, 15.0), 0.579, Decimal('4.0000'))
    """
    formula = formula_of(formula, "Emulsifier pair")
    pair = sorted((emulsifier_of(name, mats) for name in (high, low)), key=lambda x: -x[1])
    (top, top_hlb), (foot, foot_hlb) = pair
    evaluator = compile_formula(formula, mats)
    band = _band(evaluator)
    wanted = _target(formula, target, band)
    share = float(pair_share(wanted, top_hlb, foot_hlb))
    lines = {m.key: _line_of(evaluator, m) for m in (top, foot)}
    together = _total(formula, total, [i for i in lines.values() if i is not None])
    upper = Decimal(repr(float(together) * share)).quantize(GRID)
    shares = ((top, upper), (foot, (together - upper).quantize(GRID)))
    after, moves = _apply(formula, mats, shares)
    return Pair(
        target=wanted,
        band=band,
        reachable=(foot_hlb, top_hlb),
        share=share,
        high=top.name,
        low=foot.name,
        high_percent=shares[0][1],
        low_percent=shares[1][1],
        moves=moves,
        formula=after,
        oils=oils_of(evaluator),
        words=_words(wanted, band, shares, (foot_hlb, top_hlb)),
    )


def emulsifier_of(name: str, mats: Materials) -> tuple[Material, float]:
    """The nonionic emulsifier of that name with its HLB.

    Raises
    ------
    MaterialError
        It is not known, carries a charge, or has no HLB.
    """
    found = mats.resolve(name)
    if found is None:
        near = [m.name for m in mats.find(name, n=5) if m.hlb is not None]
        raise MaterialError(
            where=name,
            found="not in the list of materials",
            allowed="A nonionic emulsifier" + (f", such as {', '.join(near)}" if near else ""),
            cause="Another spelling, or several grades share the name",
            do="Use the name as it stands in the list",
        )
    if found.hlb is None or not counts_in_hlb(found):
        raise MaterialError(
            where=found.name,
            found=_why_not(found),
            allowed="Nonionic emulsifiers with an HLB",
            cause="HLB says nothing about quats, soaps and polymers; blends are sold by dose",
            do="Use it at the maker's dose, or give its HLB: mats.add(...)",
        )
    return found, found.hlb[1]


def _why_not(material: Material) -> str:
    if material.charge != "nonionic":
        return f"it is {material.charge}"
    return "no HLB is known for it" if material.hlb is None else "it is no emulsifier"


def _band(evaluator: Evaluator) -> tuple[float, float] | None:
    numbers = evaluator()
    low, high = float(numbers.required_low), float(numbers.required_high)
    return (low, high) if math.isfinite(low) else None


def _target(formula: Formula, target: float | None, band: tuple[float, float] | None) -> float:
    if target is not None:
        return float(target)
    if band is None:
        raise FormulaError(
            where=formula.name,
            found="no oil with a required HLB",
            allowed="A wanted HLB, or an oil whose demand is known",
            cause="The oils are not in the table",
            do="Give target=…, from the supplier or a trial series",
        )
    return (band[0] + band[1]) / 2


def _total(formula: Formula, total: float | str | None, lines: list[int]) -> Decimal:
    if total is not None:
        text = str(total).strip().removesuffix("%").strip()
        return decimal(text, where=f"{formula.name}, emulsifiers together")
    held = sum((formula.lines[i].percent for i in lines), Decimal(0))
    if held <= 0:
        raise FormulaError(
            where=formula.name,
            found="neither emulsifier is in the recipe",
            allowed="A total for both together",
            cause="The pair is new to this recipe",
            do="Give total=4 for 4 % together",
        )
    return held


def _line_of(evaluator: Evaluator, material: Material) -> int | None:
    keys = [None if m is None else m.key for m in evaluator.materials]
    return keys.index(material.key) if material.key in keys else None


def _apply(
    formula: Formula, mats: Materials, shares: tuple[tuple[Material, Decimal], ...]
) -> tuple[Formula, tuple[Move, ...]]:
    """The moves one after the other; what shrinks goes first, so that there is room."""
    moves: list[Move] = []
    present = {m.key: _line_of(compile_formula(formula, mats), m) for m, _ in shares}

    def growth(pair: tuple[Material, Decimal]) -> Decimal:
        line = present[pair[0].key]
        return pair[1] - (formula.lines[line].percent if line is not None else Decimal(0))

    after = formula
    for material, percent in sorted(shares, key=growth):
        move = _move(after, material, percent, _line_of(compile_formula(after, mats), material))
        if move is not None:
            moves.append(move)
            after = after.apply(move)
    return after, tuple(moves)


def _move(formula: Formula, material: Material, percent: Decimal, line: int | None) -> Move | None:
    if line is None:
        phase = _phase(formula.lines, material)
        return Move(kind="add", material=material.name, phase=phase, percent=percent)
    here = formula.lines[line]
    if here.percent == percent:
        return None
    return Move(kind="set", line=line, material=here.material, percent=percent)


def _phase(lines: tuple[Line, ...], material: Material) -> str:
    """The phase of the oils for an oil-soluble emulsifier, of the water for the other."""
    return lines[-1].phase if material.phase == "oil" else lines[0].phase


def _words(
    target: float,
    band: tuple[float, float] | None,
    shares: tuple[tuple[Material, Decimal], ...],
    reach: tuple[float, float],
) -> str:
    pair = " with ".join(f"{p:.2f} % {m.name}" for m, p in shares)
    asks = f"the oils ask for {band[0]:.1f} to {band[1]:.1f}" if band else "no oil has data"
    return (
        f"{pair} gives HLB {target:.1f} ({asks}; this pair reaches {reach[0]:g} to {reach[1]:g}). "
        "A starting point: make one below and one above it and keep the one that holds."
    )
