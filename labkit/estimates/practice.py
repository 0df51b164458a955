"""Bench practice: emulsifier and oil, HLB, thickness and pack, late water, cost."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from labkit import tables
from labkit.estimates.catalogue import finding
from labkit.estimates.contents import Contents
from labkit.estimates.finding import Finding, Severity
from labkit.estimates.making import Making
from labkit.estimates.sourcing import source_words
from labkit.estimates.state import Atom, Board, Candidate, State, Test, always, test
from labkit.evaluate import asks_for_hlb, counts_in_hlb
from labkit.formula.brief import Brief
from labkit.formula.names import fold
from labkit.materials import Material

__all__ = ["practice_candidates"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

OIL_PER_EMULSIFIER = 10.0
"""More oil than this on one part of emulsifier is little; common practice is 4 to 5."""
LEAST_OIL = 3.0
HLB_ROOM = 2.0
"""Published required values differ by as much; only so far outside the band is it said."""
COOL_SHARE = 15.0
"""More than this added after the emulsion [% of the batch] cools and thins it (practice)."""
LATE_WATER = 5.0
_PAIRED = frozenset({"emulsifier", "co-emulsifier", "solubiliser"})
_POLYMERS = frozenset({("group", "acrylate-polymer")})


def practice_candidates(
    contents: Contents, brief: Brief, form: str, making: Making, board: Board
) -> list[Candidate]:
    """What bench practice says of this formula."""
    return [
        *_emulsifier(contents, form, board),
        *_hlb(contents, form, board),
        *_after(contents, making, board),
        *_pack(contents, brief),
        *_cost(contents, brief, board),
    ]


def _one(
    code: str, severity: Severity, decide: Test, tell: Callable[[State], Finding]
) -> Candidate:
    return Candidate(
        code=code,
        severity=severity,
        certain=decide,
        possible=decide,
        tell=lambda state, sure: tell(state),
    )


def _flags(contents: Contents, test: Callable[[Material], bool]) -> Array:
    return np.array([float(m is not None and test(m)) for m in contents.materials])


def _is_oil(material: Material) -> bool:
    jobs = set(material.functions)
    aids = {"emulsifier", "co-emulsifier", "fragrance", "antioxidant", "preservative", "booster"}
    return material.phase == "oil" and not jobs & aids and material.charge != "pigment"


def _shown(flags: Array, state: State) -> tuple[int, ...]:
    return tuple(int(i) for i in np.flatnonzero(flags * state.percent > 0))


def _emulsifier(contents: Contents, form: str, board: Board) -> list[Candidate]:
    if form not in ("o/w emulsion", "lotion"):
        return []
    oils = _flags(contents, _is_oil)
    holders = _flags(
        contents, lambda m: bool(_PAIRED & set(m.functions)) or m.charge_class == "surfactant"
    )
    polymers = contents.mask([_POLYMERS]).any(axis=1).astype(float)
    oily = Test((Atom(board.term(oils), LEAST_OIL), Atom(board.term(polymers), 1e-9, -1)))
    return [
        _little(contents, oils, holders, oily, board),
        _none(contents, oils, holders, oily, board),
    ]


def _little(contents: Contents, oils: Array, holders: Array, oily: Test, board: Board) -> Candidate:
    oil, holder = board.term(oils), board.term(holders)
    short = Atom(board.term(oils - OIL_PER_EMULSIFIER * holders), 0.0)

    def tell(state: State) -> Finding:
        ratio = float(state.sums[oil] / state.sums[holder])
        return finding(
            "EMUL01",
            contents,
            _shown(holders, state),
            f"One part of emulsifier to {ratio:.0f} parts of oil.",
            "Usual are four to five parts of oil, up to ten with a strong emulsifier.",
            "Raise the emulsifier or lower the oil, and try it: the maker's dose wins.",
            ratio=ratio,
        )

    return _one("EMUL01", "check", oily & Test((Atom(holder, 0.0), short)), tell)


def _none(contents: Contents, oils: Array, holders: Array, oily: Test, board: Board) -> Candidate:
    oil = board.term(oils)
    wet = Atom(board.term(contents.water), LEAST_OIL)
    absent = Atom(board.term(holders + contents.unknown), 1e-9, -1)

    def tell(state: State) -> Finding:
        return finding(
            "EMUL02",
            contents,
            _shown(oils, state),
            f"{float(state.sums[oil]):.3g} % oil in a product with water, and no emulsifier.",
            "Nothing in the list of materials holds oil and water together here.",
            "Add an emulsifier, or shake before use and say so on the label.",
        )

    return _one("EMUL02", "check", oily & Test((absent, wet)), tell)


def _hlb(contents: Contents, form: str, board: Board) -> list[Candidate]:
    """Silent beside what is not chosen by HLB: a charged emulsifier or a ready blend."""
    if form != "o/w emulsion":
        return []
    known = _flags(contents, counts_in_hlb)
    numbers = _hlb_numbers(contents, known, board)

    def decide(state: State) -> Mask | bool:
        hlb, least, most, usable = numbers(state)
        return usable & ((hlb < least - HLB_ROOM) | (hlb > most + HLB_ROOM))

    def tell(state: State) -> Finding:
        hlb, least, most, _ = (float(x) for x in numbers(state))
        return finding(
            "HLB01",
            contents,
            _shown(known, state),
            f"HLB of the emulsifiers about {hlb:.1f}; the oil phase asks for "
            f"{least:.1f} to {most:.1f}.",
            "Weighted means; published values for one oil differ, so the demand is a band.",
            f"Pair with an emulsifier of {'higher' if hlb < least else 'lower'} HLB, and try it.",
            hlb=hlb,
            low=least,
            high=most,
        )

    return [_one("HLB01", "check", test(decide), tell)]


def _hlb_numbers(
    contents: Contents, known: Array, board: Board
) -> Callable[[State], tuple[Array, Array, Array, Mask]]:
    """HLB of the emulsifiers, ends of the band asked for, and whether they can be compared."""
    values = np.array([0.0 if m is None or m.hlb is None else m.hlb[1] for m in contents.materials])
    oils = _flags(contents, lambda m: _is_oil(m) or asks_for_hlb(m))
    told = _flags(contents, asks_for_hlb)
    asked = [None if m is None else m.required_hlb for m in contents.materials]
    ends = np.array([(0.0, 0.0) if b is None else (b[0], b[2]) for b in asked]).T
    outside = board.term(_flags(contents, _not_by_hlb))
    mass, product = board.term(known), board.term(known * values)
    oil, answered = board.term(oils), board.term(told)
    low, high = board.term(told * ends[0]), board.term(told * ends[1])

    def numbers(state: State) -> tuple[Array, Array, Array, Mask]:
        sums = state.sums
        with np.errstate(divide="ignore", invalid="ignore"):
            hlb = sums[..., product] / sums[..., mass]
            band = (sums[..., k] / sums[..., answered] for k in (low, high))
            least, most = band
        told_enough = sums[..., answered] >= 0.8 * sums[..., oil]
        comparable = (sums[..., outside] <= 0) & (sums[..., mass] > 0)
        return hlb, least, most, comparable & told_enough & (sums[..., oil] >= LEAST_OIL)

    return numbers


def _not_by_hlb(material: Material) -> bool:
    """Charged emulsifiers, ready blends and those without a value are not chosen by HLB."""
    jobs = set(material.functions)
    charged = material.charge in ("anionic", "cationic", "amphoteric")
    if charged and material.charge_class in ("surfactant", "polymer"):
        return bool(jobs & {"emulsifier", "conditioning agent", "surfactant"})
    return "emulsifier" in jobs and (material.hlb is None or material.is_blend)


def _after(contents: Contents, making: Making, board: Board) -> list[Candidate]:
    late = np.array([float(x.phase in making.after) for x in contents.formula.lines])
    if not late.any():
        return []
    wet = late * contents.water * (contents.water > 0.95)
    share, water = board.term(late), board.term(wet)

    much = Test((Atom(share, COOL_SHARE), Atom(water, LATE_WATER + 1e-9, -1)))
    watery = Test((Atom(water, LATE_WATER),))

    def tell_much(state: State) -> Finding:
        return finding(
            "COOL01",
            contents,
            _shown(late, state),
            f"{float(state.sums[share]):.3g} % is added after the emulsion is made.",
            "Much cold addition cools waxes in a shock and thins what has formed.",
            "Move what stands the heat into a hot phase, or warm the addition to 40 °C.",
        )

    def tell_water(state: State) -> Finding:
        return finding(
            "LATE01",
            contents,
            _shown(wet, state),
            f"{float(state.sums[water]):.3g} % water is added after the emulsion is made.",
            "Late water can seed grains, thin the cream and carry germs past the heating.",
            "Move it to the hot water phase, or use freshly boiled water and look next day.",
        )

    return [_one("COOL01", "check", much, tell_much), _one("LATE01", "check", watery, tell_water)]


def _pack(contents: Contents, brief: Brief) -> list[Candidate]:
    if brief.pack is None or brief.viscosity is None:
        return []
    low, high = (q.to("mPa*s") for q in brief.viscosity)
    for row in tables.rows("process_practice"):
        names = {fold(x) for x in (row["applies_to"] or "").replace(" or ", ",").split(",")}
        if row["topic"] != "packaging" or fold(brief.pack) not in names:
            continue
        least, most = float(row["low"] or 0.0), float(row["high"] or np.inf)
        if least <= high and low <= most:
            return []
        return [_one("PACK01", "check", always, _pack_words(contents, brief, row, low > most))]
    return []


def _pack_words(
    contents: Contents, brief: Brief, row: tables.Row, thick: bool
) -> Callable[[State], Finding]:
    assert brief.viscosity is not None
    window = f"{brief.viscosity[0]} to {brief.viscosity[1]}"
    bounds = [
        f"{word} {float(row[end] or 0) / 1000:g} Pa*s"
        for word, end in (("from", "low"), ("up to", "high"))
        if row[end]
    ]

    def tell(state: State) -> Finding:
        return finding(
            "PACK01",
            contents,
            (),
            f"The brief asks for {window} in a {brief.pack}, which suits {' '.join(bounds)}.",
            f"Too {'thick' if thick else 'thin'}: {row['what_goes_wrong_otherwise']}.",
            "Choose another pack or another thickness; try the pack with water and a cream.",
            source=source_words(row),
        )

    return tell


def _cost(contents: Contents, brief: Brief, board: Board) -> list[Candidate]:
    if brief.cost is None or not brief.cost.replace(" ", "").endswith("/kg"):
        return []
    amount, currency = brief.cost.split("/")[0].split()[:2]
    ceiling = float(amount.replace(",", "."))
    priced = [
        m.price.per_kg if m is not None and m.price is not None and m.price.currency == currency
        else None
        for m in contents.materials
    ]  # fmt: skip
    if not any(p is not None for p in priced):
        return []
    column = board.term([0.0 if p is None else p / 100 for p in priced])
    missing = [i for i, p in enumerate(priced) if p is None]

    decide = Test((Atom(column, ceiling),))

    def tell(state: State) -> Finding:
        without = f" {len(missing)} lines have no price and are not in it." if missing else ""
        dear = np.array([0.0 if p is None else p for p in priced]) * state.percent
        top = tuple(int(i) for i in np.argsort(-dear)[:3] if dear[i] > 0)
        return finding(
            "COST01",
            contents,
            top,
            f"Materials cost {float(state.sums[column]):.2f} {currency}/kg, "
            f"the brief allows {ceiling:g}.",
            f"List prices, without loss, pack and work.{without}",
            "Lower or replace the dearest lines: " + ", ".join(contents.line_names(top)) + ".",
        )

    return [_one("COST01", "check", decide, tell)]
