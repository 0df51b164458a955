"""Whether there is preservative enough, of the right kinds, and how much the water keeps.

Numbers only: whether a product is preserved is for a challenge test in a laboratory.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import NDArray

from labkit import tables
from labkit.estimates.carrying import ENOUGH, Carrying
from labkit.estimates.catalogue import finding
from labkit.estimates.contents import Contents
from labkit.estimates.finding import Finding
from labkit.estimates.state import Atom, Board, Candidate, State, Test, never, test
from labkit.formula.names import fold
from labkit.science import preservation

__all__ = ["oil_kind", "preservation_candidates"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
WET = 5.0
"""Water [% of the batch] from which a product needs preservation; common practice."""
TRIAL = "Only a challenge test in a laboratory tells whether it is enough."
_GERMS = ("bacteria", "yeast", "mould")
_STRONG = 2.0
_OIL_DENSITY = 0.92
_MINERAL = frozenset({"paraffinum liquidum", "petrolatum", "squalane", "isohexadecane"})
_BOOSTERS = frozenset({("group", "booster")})


def preservation_candidates(
    contents: Contents, carrying: Carrying, form: str, medium: str | None, board: Board
) -> list[Candidate]:
    """What the preservatives of this formula may lack."""
    if not (carrying.full | carrying.acid).any():
        return []
    return [
        _dose(contents, carrying, board),
        _spectrum(contents, carrying, board),
        *_partition(contents, carrying, form, medium, board),
    ]


class _Doses:
    """Doses of all preservatives at a pH, acids by their un-ionised share."""

    def __init__(self, contents: Contents, carrying: Carrying, board: Board) -> None:
        full = (carrying.per_dose * carrying.full).sum(axis=1)
        self._full = board.term(full)
        self._acids: list[tuple[int, float | None, float]] = []
        for j in np.flatnonzero(carrying.acid.any(axis=0)):
            known = carrying.known[j]
            column = board.term(carrying.per_dose[:, j] * carrying.acid[:, j])
            pka = None if known is None else known.pka
            self._acids.append((column, pka, carrying.top_ph(int(j))))

    def at(self, state: State, ph: Array) -> Array:
        """1 is one usual minimum dose that works as at the top of its window."""
        total = np.array(state.sums[..., self._full])
        for column, pka, top in self._acids:
            share = np.ones(state.shape)
            if pka is not None:
                at_top = 1 / (1 + 10 ** (top - pka))
                share = np.where(np.isnan(ph), 1.0, 1 / (1 + 10 ** (ph - pka)) / at_top)
            total = total + state.sums[..., column] * share
        return total


def _dose(contents: Contents, carrying: Carrying, board: Board) -> Candidate:
    doses, water = _Doses(contents, carrying, board), board.term(contents.water)
    sold = np.array(
        [m is not None and "preservative" in m.functions for m in contents.materials], dtype=float
    )
    any_sold = board.term(sold)

    def weak(state: State, ph: Array) -> Mask:
        level = doses.at(state, ph)
        held = (level > 1e-6) & (level < 1.0)
        return held & ((state.sums[..., any_sold] > 0) | (level < ENOUGH))

    def certain(state: State) -> Mask | bool:
        return weak(state, state.ph_low)

    def tell(state: State, sure: bool) -> Finding:
        level = float(doses.at(state, state.ph))
        lines = contents.lines_with(carrying.full | carrying.acid, state.percent)
        words = "about a " + ("tenth" if level < 0.15 else "quarter" if level < 0.35 else "half")
        share = f"{words} of" if level < 0.75 else "a little less than"
        return finding(
            "PRES01",
            contents,
            lines,
            f"The preservatives add up to {share} one usual minimum dose at this pH.",
            "Each is compared with the lowest usual level, acids by the share that is not ionised.",
            f"Raise it within its limit, lower the pH for an acid, or add a partner. {TRIAL}",
            doses=level,
        )

    held = Test((Atom(water, WET),)) & test(certain)
    return Candidate(code="PRES01", severity="check", certain=held, possible=held, tell=tell)


@cache
def _spectra() -> dict[str, tuple[float, float, float]]:
    found = {}
    for row in tables.rows("preservative_spectrum"):
        reach = [float(row[g] or 0) for g in _GERMS]
        found[fold(row["inci"] or "")] = (reach[0], reach[1], reach[2])
    return found


def _spectrum(contents: Contents, carrying: Carrying, board: Board) -> Candidate:
    """Partners count: two of weak effect on a germ count as one of strong effect."""
    helpers = contents.mask([_BOOSTERS])
    counted = carrying.full | carrying.acid | helpers
    columns = [
        (board.term(contents.share[:, j] * counted[:, j]), _spectra().get(name))
        for j, name in enumerate(contents.substances)
        if counted[:, j].any()
    ]
    known = [(column, reach) for column, reach in columns if reach is not None]
    places = np.array([column for column, _ in known], dtype=int)
    strengths = np.array([values for _, values in known], dtype=float).reshape(-1, 3)
    water = board.term(contents.water)
    all_known = len(known) == len(columns)

    def reach(state: State) -> Array:
        there = state.sums[..., places] >= 0.0005
        return np.asarray(there.astype(float) @ strengths)

    def decide(state: State) -> Mask | bool:
        reached = reach(state)
        return np.asarray((reached < _STRONG).any(axis=-1) & (reached.sum(axis=-1) > 0))

    def tell(state: State, sure: bool) -> Finding:
        weak = [g for g, r in zip(_GERMS, reach(state), strict=True) if r < _STRONG]
        lines = contents.lines_with(counted, state.percent)
        return finding(
            "PRES02",
            contents,
            lines,
            f"Weak against {' and '.join(weak)}: {', '.join(contents.line_names(lines))} alone.",
            "Each preservative has germs it reaches less; a partner fills the gap.",
            f"Add a partner that reaches {' and '.join(weak)}. {TRIAL}",
            germs=tuple(weak),
        )

    held = Test((Atom(water, WET),)) & test(decide) if all_known else never
    return Candidate(code="PRES02", severity="check", certain=held, possible=held, tell=tell)


def _partition(
    contents: Contents, carrying: Carrying, form: str, medium: str | None, board: Board
) -> list[Candidate]:
    """Where the oil is known to take most of the only preservative."""
    if "emulsion" not in form or medium is None:
        return []
    left = _left_in_water(contents, carrying, medium, board)
    if left is None:
        return []

    def decide(state: State) -> Mask | bool:
        before, after = left(state)
        return (before >= 1.0) & (after < ENOUGH)

    def tell(state: State, sure: bool) -> Finding:
        lines = contents.lines_with(carrying.full | carrying.acid, state.percent)
        before, after = (float(x) for x in left(state))
        return finding(
            "PRES03",
            contents,
            lines,
            f"The oil takes most of the preservative: about {after / before:.0%} is left to the "
            "water phase.",
            f"Oil over water coefficients for {medium}; what is not known counts as 1.",
            f"Favour a partner that stays in the water, or another oil. {TRIAL}",
            before=before,
            after=after,
        )

    held = Test((Atom(board.term(contents.water), WET),)) & test(decide)
    return [Candidate(code="PRES03", severity="check", certain=held, possible=held, tell=tell)]


def _left_in_water(
    contents: Contents, carrying: Carrying, medium: str, board: Board
) -> Callable[[State], tuple[Array, Array]] | None:
    """Doses before and after the oil took its part; None where no coefficient is known."""
    oils = [
        float(m is not None and m.phase == "oil" and "emulsifier" not in m.functions)
        for m in contents.materials
    ]
    oil, water = board.term(oils), board.term(contents.water)
    counted = carrying.per_dose * (carrying.full | carrying.acid)
    known = [
        (board.term(counted[:, j]), _oil_water(contents.names[j], medium))
        for j in np.flatnonzero(counted.any(axis=0))
    ]
    if all(k is None for _, k in known):
        return None

    def left(state: State) -> tuple[Array, Array]:
        phi = preservation.oil_to_water_ratio(
            np.minimum(state.sums[..., oil], 95.0),
            np.maximum(state.sums[..., water], 0.1),
            _OIL_DENSITY,
        )
        before, after = np.zeros(state.shape), np.zeros(state.shape)
        for column, k in known:
            dose = state.sums[..., column]
            before = before + dose
            after = after + np.asarray(preservation.in_water(dose, 1.0 if k is None else k, phi))
        return before, after

    return left


def oil_kind(contents: Contents, percent: Array) -> str | None:
    """The oil of the partition tables that the larger part of the oil phase resembles."""
    mineral = plant = 0.0
    for m, share in zip(contents.materials, percent, strict=True):
        if m is not None and fold(m.inci) in _MINERAL:
            mineral += float(share)
        elif m is not None and m.phase == "oil" and fold(m.inci).endswith("oil"):
            plant += float(share)
    if mineral == plant == 0.0:
        return None
    return "liquid paraffin" if mineral >= plant else "soya oil"


@cache
def _oil_water(inci: str, medium: str) -> float | None:
    try:
        return float(preservation.oil_water(inci, medium))
    except ValueError:
        return None
