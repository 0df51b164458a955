"""Percentages and pH, for one formula or many, and the tests that are decided on them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.estimates.finding import LEVELS, Finding, Severity

__all__ = [
    "PH_HIGH",
    "PH_LOW",
    "PH_VALUE",
    "Atom",
    "Board",
    "Candidate",
    "Judge",
    "Other",
    "PhLike",
    "State",
    "Test",
    "always",
    "never",
    "test",
]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
PhLike = float | Array | tuple[Any, ...] | None
"""A measured pH, or a forecast as (value, low, high), each a number or an array."""

PH_VALUE, PH_LOW, PH_HIGH = 0, 1, 2
"""Columns of the pH and of the ends of its interval; NaN where unknown."""
_FIRST = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """What a test may look at; every array has the leading shape of the percentages.

    ``sums`` holds the pH and the weighted sums that were put on the board.
    """

    percent: Array
    sums: Array

    @property
    def shape(self) -> tuple[int, ...]:
        """The leading shape."""
        return self.percent.shape[:-1]

    @property
    def ph(self) -> Array:
        """Reading or middle of the forecast."""
        return np.asarray(self.sums[..., PH_VALUE])

    @property
    def ph_low(self) -> Array:
        """Lower end of its interval."""
        return np.asarray(self.sums[..., PH_LOW])

    @property
    def ph_high(self) -> Array:
        """Upper end of its interval."""
        return np.asarray(self.sums[..., PH_HIGH])

    @property
    def measured(self) -> bool:
        """Whether the pH is one reading, not an interval."""
        return bool(np.all(self.ph_low == self.ph_high))


@dataclass(frozen=True, slots=True)
class Atom:
    """A column of the board above a figure, or below it where ``sign`` is -1.

    Never holds for NaN.
    """

    column: int
    figure: float
    sign: int = 1


Other = Callable[[State], Mask | bool]


@dataclass(frozen=True, slots=True)
class Test:
    """Atoms and other questions that must all hold."""

    __test__ = False

    atoms: tuple[Atom, ...] = ()
    others: tuple[Other, ...] = ()

    def __and__(self, other: Test) -> Test:
        return Test((*self.atoms, *other.atoms), (*self.others, *other.others))

    def __call__(self, state: State) -> Mask:
        """Where it holds, in the leading shape."""
        held = np.ones(state.shape, dtype=bool)
        for a in self.atoms:
            column = state.sums[..., a.column]
            held = held & (column > a.figure if a.sign > 0 else column < a.figure)
        for question in self.others:
            held = held & question(state)
        return held


def test(question: Other) -> Test:
    """A test that is not a comparison of one column."""
    return Test((), (question,))


test.__test__ = False  # type: ignore[attr-defined]

always = Test()
"""Holds whatever the percentages are."""


def _no(state: State) -> bool:
    return False


never = Test((), (_no,))
"""Holds for no percentages."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A finding that may come up: when it holds, when it may hold, and its words.

    ``certain`` decides the severity as written; where only ``possible`` holds (a forecast
    pH at the edge, the top of a supplier's range, a product type left open) a stop is
    told as a check.
    """

    code: str
    severity: Severity
    certain: Test
    possible: Test
    tell: Callable[[State, bool], Finding]


class Board:
    """Weighted sums over the lines that tests ask for, so that one product gives all."""

    def __init__(self, n_lines: int) -> None:
        self._n_lines = n_lines
        self._columns: list[Array] = []
        self._known: dict[bytes, int] = {}
        self._table: Array | None = None

    def term(self, weights: ArrayLike) -> int:
        """Where the sum of percentages times these weights will stand."""
        column = np.asarray(weights, dtype=float)
        key = column.tobytes()
        if key not in self._known:
            self._known[key] = len(self._columns) + _FIRST
            self._columns.append(column)
            self._table = None
        return self._known[key]

    def line(self, i: int) -> int:
        """Where the percentage of one line will stand."""
        return self.term(np.eye(self._n_lines)[i])

    def state(self, percent: ArrayLike, ph: PhLike) -> State:
        """All sums for these percentages, with the pH."""
        x = np.asarray(percent, dtype=float)
        if self._table is None:
            self._table = np.stack(self._columns or [np.zeros(self._n_lines)], axis=1)
        value, low, high = ph if isinstance(ph, tuple) else (ph, ph, ph)
        sums = np.empty((*x.shape[:-1], _FIRST + self._table.shape[1]))
        for place, end in ((PH_VALUE, value), (PH_LOW, low), (PH_HIGH, high)):
            sums[..., place] = np.nan if end is None else end
        np.matmul(x, self._table, out=sums[..., _FIRST:])
        return State(percent=x, sums=sums)


class Judge:
    """All candidates decided together: the comparisons in one go, the rest where they matter.

    Parameters
    ----------
    candidates : sequence of Candidate
    """

    def __init__(self, candidates: Sequence[Candidate]) -> None:
        self.candidates = tuple(candidates)
        self._tests = [c.certain for c in candidates] + [c.possible for c in candidates]
        atoms = [(k, a) for k, t in enumerate(self._tests) for a in t.atoms]
        self._columns = np.array([a.column for _, a in atoms], dtype=int)
        self._signs = np.array([a.sign for _, a in atoms], dtype=float)
        self._figures = np.array([a.figure * a.sign for _, a in atoms])
        owners = np.array([k for k, _ in atoms], dtype=int)
        self._owners, self._starts = np.unique(owners, return_index=True)
        self._asking = [k for k, t in enumerate(self._tests) if t.others]
        self._full = np.array([LEVELS[c.severity] for c in candidates], dtype=np.int8)

    def levels(self, state: State) -> NDArray[np.int8]:
        """Shape S + (n_candidates,): 0 nothing, 1 fyi, 2 check, 3 stop."""
        n = len(self.candidates)
        held = np.ones((*state.shape, 2 * n), dtype=bool)
        if len(self._columns):
            true = state.sums[..., self._columns] * self._signs > self._figures
            held[..., self._owners] = np.logical_and.reduceat(true, self._starts, axis=-1)
        for k in self._asking:
            test = self._tests[k]
            if k >= n and test is self._tests[k - n]:
                held[..., k] = held[..., k - n]
            elif held[..., k].any():
                for question in test.others:
                    held[..., k] &= question(state)
        capped = np.minimum(self._full, 2)
        return np.where(held[..., :n], self._full, np.where(held[..., n:], capped, 0)).astype(
            np.int8
        )
