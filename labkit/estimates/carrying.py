"""Which preservatives carry the product at its pH, in doses of their usual minimum."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from labkit.estimates.contents import Contents
from labkit.estimates.state import Atom, Board, State, Test, test
from labkit.evaluate.preservatives import Preservative, preservative

__all__ = ["ENOUGH", "Carrying"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
ENOUGH = 0.5
"""Half a usual minimum dose counts as carrying the product; common practice."""

_FULL = frozenset({("group", "preservative")})
_ACID = frozenset({("group", "acid-preservative")})
_ALCOHOL = (frozenset({("inci", "alcohol denat.")}), frozenset({("inci", "alcohol")}))
_DEFAULT_TOP_PH = 6.0
_ALCOHOL_PERCENT = 30.0
"""So much ethanol counts as one dose: from 15 % it carries a product (common practice)."""


class Carrying:
    """Doses of the preservatives in a formula.

    One dose is the lowest usual level of the substance, or of the raw material where only
    that is known. Acid preservatives count only inside their pH window.

    Parameters
    ----------
    contents : Contents
    board : Board
        Where the sums are kept.
    """

    def __init__(self, contents: Contents, board: Board) -> None:
        self._contents, self._board = contents, board
        self.full = contents.mask([_FULL])
        self.acid = contents.mask([_ACID]) & ~self.full
        self.known: list[Preservative | None] = [preservative(x) for x in contents.names]
        self.per_dose = self._doses()

    def _doses(self) -> Array:
        """Doses per % of a line, for each substance in it."""
        contents = self._contents
        doses = np.zeros(contents.share.shape)
        for i, material in enumerate(contents.materials):
            sold_for_it = material is not None and "preservative" in material.functions
            for j in np.flatnonzero(self.full[i] | self.acid[i]):
                known = self.known[j]
                if known is not None and known.minimum_percent > 0:
                    doses[i, j] = contents.share[i, j] / known.minimum_percent
                elif sold_for_it and material is not None and material.use_low:
                    doses[i, j] = 1.0 / material.use_low
        return doses

    def top_ph(self, column: int) -> float:
        """Where the pH window of an acid preservative ends."""
        known = self.known[column]
        return _DEFAULT_TOP_PH if known is None else known.window_top_ph

    def decide(self, carried: bool, besides: Mask) -> tuple[Test, Test]:
        """Whether another preservative than ``besides`` carries the product."""
        doses_of_full = (self.per_dose * (self.full & ~besides)).sum(axis=1)
        ethanol = (self._contents.share * self._contents.mask(_ALCOHOL)).sum(axis=1)
        full = self._board.term(doses_of_full + ethanol / _ALCOHOL_PERCENT)
        acids = [
            (
                self.top_ph(int(j)),
                self._board.term(self.per_dose[:, j] * (self.acid & ~besides)[:, j]),
            )
            for j in np.flatnonzero((self.acid & ~besides).any(axis=0))
        ]

        def doses(state: State, ph: Array, benefit_of_doubt: bool) -> Array:
            total = np.array(state.sums[..., full])
            for top, column in acids:
                works = ~(ph > top) if benefit_of_doubt else ph <= top
                total = total + np.where(works, state.sums[..., column], 0.0)
            return total

        def yes(state: State) -> Mask | bool:
            return doses(state, state.ph_high, False) >= ENOUGH

        def maybe(state: State) -> Mask | bool:
            return doses(state, state.ph_low, False) >= ENOUGH

        def no(state: State) -> Mask | bool:
            return doses(state, state.ph_low, True) < ENOUGH

        def maybe_not(state: State) -> Mask | bool:
            return doses(state, state.ph_high, True) < ENOUGH

        return (test(yes), test(maybe)) if carried else (test(no), test(maybe_not))

    def above_window(self, mask: Mask, least: float) -> tuple[Test, Test]:
        """Whether so much of an acid preservative stands above its own pH window."""
        share = self._contents.share * mask
        acids = [
            (self.top_ph(int(j)), self._board.term(share[:, j]))
            for j in np.flatnonzero(mask.any(axis=0))
        ]

        def amount(state: State, ph: Array) -> Array:
            total = np.zeros(state.shape)
            for top, column in acids:
                total = total + np.where(ph > top, state.sums[..., column], 0.0)
            return total

        def certain(state: State) -> Mask | bool:
            return amount(state, state.ph_low) > max(least - 1e-9, 1e-9)

        def possible(state: State) -> Mask | bool:
            return amount(state, state.ph_high) > max(least - 1e-9, 1e-9)

        enough = Test((Atom(self._board.term(share.sum(axis=1)), max(least - 1e-9, 1e-9)),))
        return enough & test(certain), enough & test(possible)
