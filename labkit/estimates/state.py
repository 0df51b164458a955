"""Percentages and pH, for one formula or many, and the checks that are decided on them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.estimates.finding import LEVELS, Finding, Severity

__all__ = ["Board", "Candidate", "PhLike", "State", "always", "never"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
PhLike = float | tuple[Any, Any, Any] | None
"""A measured pH, or a forecast as (value, low, high), each a number or an array."""


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """What a decision may look at; every array has the leading shape of the percentages.

    ``sums`` holds the weighted sums that were put on the board; pH is NaN where unknown.
    """

    percent: Array
    sums: Array
    ph: Array
    ph_low: Array
    ph_high: Array

    @property
    def shape(self) -> tuple[int, ...]:
        """The leading shape."""
        return self.percent.shape[:-1]

    @property
    def measured(self) -> bool:
        """Whether the pH is one reading, not an interval."""
        return bool(np.all((self.ph_low == self.ph_high) & ~np.isnan(self.ph)))


Decision = Callable[[State], Mask | bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A finding that may come up: when it holds, when it may hold, and its words.

    ``certain`` decides the severity as written; where only ``possible`` holds (a forecast
    pH at the edge, the top of a supplier's range, a product type left open) a stop is
    told as a check.
    """

    code: str
    severity: Severity
    certain: Decision
    possible: Decision
    tell: Callable[[State, bool], Finding]

    def level(self, state: State) -> NDArray[np.int8]:
        """0 nothing, 1 fyi, 2 check, 3 stop."""
        full = LEVELS[self.severity]
        sure = np.broadcast_to(np.asarray(self.certain(state), dtype=bool), state.shape)
        if self.possible is self.certain:
            return np.where(sure, full, 0).astype(np.int8)
        may = np.broadcast_to(np.asarray(self.possible(state), dtype=bool), state.shape)
        return np.where(sure, full, np.where(may, min(full, 2), 0)).astype(np.int8)


def always(state: State) -> Mask | bool:
    """Holds whatever the percentages are."""
    return True


def never(state: State) -> Mask | bool:
    """Holds for no percentages."""
    return False


class Board:
    """Weighted sums over the lines that decisions ask for, so that one product gives all."""

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
            self._known[key] = len(self._columns)
            self._columns.append(column)
            self._table = None
        return self._known[key]

    def state(self, percent: ArrayLike, ph: PhLike) -> State:
        """All sums for these percentages, with the pH."""
        x = np.asarray(percent, dtype=float)
        if self._table is None:
            columns = self._columns or [np.zeros(self._n_lines)]
            self._table = np.stack(columns, axis=1)
        value, low, high = ph if isinstance(ph, tuple) else (ph, ph, ph)
        shape = x.shape[:-1]
        ends = [
            np.broadcast_to(np.asarray(np.nan if v is None else v, dtype=float), shape)
            for v in (value, low, high)
        ]
        return State(percent=x, sums=x @ self._table, ph=ends[0], ph_low=ends[1], ph_high=ends[2])
