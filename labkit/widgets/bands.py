"""Where along a range each finding begins and ends."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.estimates import Finding, Forecaster
from labkit.estimates.check import Checker
from labkit.formula import Formula
from labkit.formula.moves import Give
from labkit.widgets.ranges import Along, rows_at

__all__ = ["finding_bands"]

MOST_BANDS = 4
"""Bands that one rule can carry and still be read; the gravest are kept."""
_LEVEL = {1: "fyi", 2: "check", 3: "stop"}
FINER = 17
"""Positions between two neighbours, to say where a finding begins."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Walker:
    """One line of a formula that can be put anywhere, with the checks made ready."""

    formula: Formula
    line: int
    give: Give
    forecaster: Forecaster
    checker: Checker

    def acidity(self, rows: NDArray[np.float64]) -> tuple[Any, Any, Any]:
        arrays = self.forecaster.along(self.formula, rows)
        return arrays["ph"], arrays["ph_low"], arrays["ph_high"]

    def levels(self, positions: NDArray[np.int64]) -> NDArray[np.int8]:
        rows = rows_at(self.formula, self.line, self.give, positions) / 10_000
        return self.checker.levels(rows, self.acidity(rows))

    def told(self, position: int, code: str) -> Finding | None:
        """The finding in words there, if no other one tells it already."""
        rows = rows_at(self.formula, self.line, self.give, np.array([position])) / 10_000
        ph = tuple(float(x[0]) for x in self.acidity(rows))
        found = self.checker.findings(rows[0], (ph[0], ph[1], ph[2]))
        return next((f for f in found if f.code == code), None)

    def edge(self, left: int, right: int, k: int) -> tuple[int, int]:
        """Last position of the old level and first of the new one between two neighbours."""
        between = np.unique(np.linspace(left, right, FINER).astype(np.int64))
        levels = self.levels(between)[:, k]
        first = int(np.argmax(levels != levels[0]))
        return int(between[first - 1]), int(between[first])


def finding_bands(
    formula: Formula,
    line: int,
    give: Give,
    walk: Along,
    forecaster: Forecaster,
    arrays: Mapping[str, Any],
    window: tuple[int, int] | None = None,
) -> list[dict[str, Any]]:
    """Findings that hold on a part of the range, gravest first, then nearest.

    Parameters
    ----------
    formula, line, give
        Where the range begins, which line walks, which lines give way.
    walk : Along
        Positions, shape (points,), and all lines there, shape (points, n).
    forecaster : Forecaster
        With materials and brief.
    arrays : mapping
        ``ph``, ``ph_low``, ``ph_high`` along the range.
    window : (int, int), optional
        The part on the slider; what begins beyond it is left out.

    Returns
    -------
    list of dict
        ``code``, ``severity``, ``what``, ``from`` and ``to`` [grid units].
    """
    if len(walk.positions) < 2 or forecaster.mats is None:
        return []
    checker = Checker(formula, forecaster.mats, forecaster.brief)
    walker = _Walker(formula=formula, line=line, give=give, forecaster=forecaster, checker=checker)
    ph = arrays["ph"], arrays["ph_low"], arrays["ph_high"]
    levels = checker.levels(walk.rows / 10_000, ph)
    runs = [(k, *run) for k in range(levels.shape[-1]) for run in _runs(levels[:, k])]
    seen = [run for run in runs if window is None or walk.positions[run[1]] <= window[1]]
    here = int(formula.lines[line].percent * 10_000)
    seen.sort(key=lambda run: (-run[3], _distance(walk, run[1], run[2], here)))
    bands = (_band(walker, walk, *run) for run in seen[:MOST_BANDS])
    return [band for band in bands if band is not None]


def _runs(levels: NDArray[np.int8]) -> Iterator[tuple[int, int, int]]:
    """First and last index of each stretch of one level above nothing."""
    edges = np.flatnonzero(np.diff(levels)) + 1
    starts = [0, *edges.tolist()]
    ends = [*edges.tolist(), len(levels)]
    for start, end in zip(starts, ends, strict=True):
        whole = start == 0 and end == len(levels)
        if levels[start] > 0 and not whole:
            yield start, end - 1, int(levels[start])


def _band(
    walker: _Walker, walk: Along, k: int, first: int, last: int, level: int
) -> dict[str, Any] | None:
    at = walk.positions
    begin, end = int(at[first]), int(at[last])
    if first > 0:
        begin = walker.edge(int(at[first - 1]), begin, k)[1]
    if last < len(at) - 1:
        end = walker.edge(end, int(at[last + 1]), k)[0]
    told = walker.told(begin if first > 0 else end, walker.checker.codes[k])
    if told is None:
        return None
    severity = _LEVEL[level]
    return {"code": told.code, "severity": severity, "what": told.what, "from": begin, "to": end}


def _distance(walk: Along, first: int, last: int, here: int) -> int:
    return min(abs(int(walk.positions[first]) - here), abs(int(walk.positions[last]) - here))
