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
        contents,
        lambda m: (
            bool({"emulsifier", "co-emulsifier", "solubiliser"} & set(m.functions))
            or m.charge_class == "surfactant"
        ),
    )
    polymers = contents.mask([_POLYMERS]).any(axis=1).astype(float)
    oil, holder = board.term(oils), board.term(holders)
    polymer, water = board.term(polymers), board.term(contents.water)

    little = Test(
        (
            Atom(oil, LEAST_OIL),
            Atom(holder, 0.0),
            Atom(polymer, 1e-9, -1),
            Atom(board.term(oils - OIL_PER_EMULSIFIER * holders), 0.0),
        )
    )
    none = Test(
        (
            Atom(oil, LEAST_OIL),
            Atom(holder, 1e-9, -1),
            Atom(polymer, 1e-9, -1),
            Atom(water, LEAST_OIL),
        )
    )

    def tell_little(state: State) -> Finding:
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

    def tell_none(state: State) -> Finding:
        return finding(
            "EMUL02",
            contents,
            _shown(oils, state),
            f"{float(state.sums[oil]):.3g} % oil in a product with water, and no emulsifier.",
            "Nothing in the list of materials holds oil and water together here.",
            "Add an emulsifier, or shake before use and say so on the label.",
        )

    return [
        _one("EMUL01", "check", little, tell_little),
        _one("EMUL02", "check", none, tell_none),
    ]


def _hlb(contents: Contents, form: str, board: Board) -> list[Candidate]:
    """Only emulsifiers that are chosen by HLB: nonionic, and not sold as a ready blend."""
    if form != "o/w emulsion":
        return []
    charged = _flags(
        contents,
        lambda m: (
            m.charge in ("anionic", "cationic", "amphoteric")
            and m.charge_class in ("surfactant", "polymer")
            and bool({"emulsifier", "conditioning agent", "surfactant"} & set(m.functions))
        ),
    )
    unknown = _flags(
        contents, lambda m: "emulsifier" in m.functions and (m.hlb is None or m.is_blend)
    )
    known = _flags(contents, lambda m: bool(_PAIRED & set(m.functions)) and m.hlb is not None)
    values = np.array([0.0 if m is None or m.hlb is None else m.hlb[1] for m in contents.materials])
    oils = _flags(contents, lambda m: _is_oil(m))
    told = _flags(contents, lambda m: _is_oil(m) and m.required_hlb is not None)
    bands = [
        (0.0, 0.0)
        if m is None or m.required_hlb is None
        else (m.required_hlb[0], m.required_hlb[2])
        for m in contents.materials
    ]
    ends = np.array(bands).T
    columns = [board.term(x) for x in (charged + unknown, known, known * values, oils, told)]
    low, high = board.term(told * ends[0]), board.term(told * ends[1])

    def numbers(state: State) -> tuple[Array, Array, Array, Mask]:
        outside, mass, product, oil, answered = (state.sums[..., c] for c in columns)
        with np.errstate(divide="ignore", invalid="ignore"):
            hlb = product / mass
            band = state.sums[..., low] / answered, state.sums[..., high] / answered
        usable = (outside <= 0) & (mass > 0) & (answered >= 0.8 * oil) & (oil >= LEAST_OIL)
        return hlb, band[0], band[1], usable

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
