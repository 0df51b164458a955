"""What the checks say along a range: where each finding begins, and how many hold where."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.estimates import Findings, Forecaster
from labkit.estimates.check import Checker
from labkit.formula import Formula
from labkit.formula.moves import Give
from labkit.widgets.ranges import Along, Units, rows_at

__all__ = ["Found", "findings_along"]

MOST_BANDS = 4
"""Bands that one rule can carry and still be read; the gravest are kept."""
_LEVEL = {1: "fyi", 2: "check", 3: "stop"}
FINER = 17
"""Positions over a gap in which something changes, in each of two rounds."""
ACIDITY = ("ph", "ph_low", "ph_high")

Levels = NDArray[np.int8]
Percent = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """Findings along a range.

    ``bands`` are those that hold on a part of it, gravest first, then nearest: ``code``,
    ``severity``, ``what``, ``from`` and ``to`` [grid units]. ``stretches`` are where
    every finding stays as it is: first position [grid units] and the findings there.
    """

    bands: tuple[dict[str, Any], ...] = ()
    stretches: tuple[tuple[int, Findings], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Walked:
    """Positions, shape (n,), all lines there, shape (n, n_lines), pH with ends, shape (3, n)."""

    positions: Units
    rows: Percent
    ph: Percent
    levels: Levels

    def with_more(self, other: _Walked) -> _Walked:
        """Both, in the order of their positions."""
        order = np.argsort(np.concatenate([self.positions, other.positions]))
        return _Walked(
            positions=np.concatenate([self.positions, other.positions])[order],
            rows=np.concatenate([self.rows, other.rows])[order],
            ph=np.concatenate([self.ph, other.ph], axis=1)[:, order],
            levels=np.concatenate([self.levels, other.levels])[order],
        )

    @property
    def starts(self) -> NDArray[np.intp]:
        """Where a stretch begins in which every finding stays as it is."""
        return np.flatnonzero(np.r_[True, self._changes])

    @property
    def between(self) -> Units:
        """Positions inside every gap over which something changes."""
        gaps = np.flatnonzero(self._changes & (np.diff(self.positions) > 1))
        ends = self.positions[gaps], self.positions[gaps + 1]
        finer = np.linspace(*ends, FINER)[1:-1].astype(np.int64)
        return np.setdiff1d(finer, self.positions)

    @property
    def _changes(self) -> NDArray[np.bool_]:
        return np.asarray((self.levels[1:] != self.levels[:-1]).any(axis=-1))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Walker:
    """One line of a formula that can be put anywhere, with the checks made ready."""

    formula: Formula
    line: int
    give: Give
    forecaster: Forecaster
    checker: Checker

    def judged(self, positions: Units, rows: Percent, ph: Percent) -> _Walked:
        levels = self.checker.levels(rows, (ph[0], ph[1], ph[2]))
        return _Walked(positions=positions, rows=rows, ph=ph, levels=levels)

    def closer(self, walked: _Walked, *, solve: bool) -> _Walked:
        """More positions wherever two neighbours differ, so that an edge is known closely.

        The pH there is solved for, or taken straight between two positions that are near.
        """
        new = walked.between
        if not new.size:
            return walked
        rows = rows_at(self.formula, self.line, self.give, new) / 10_000
        if solve:
            arrays = self.forecaster.along(self.formula, rows)
            ph = np.array([arrays[name] for name in ACIDITY])
        else:
            ph = np.array([np.interp(new, walked.positions, end) for end in walked.ph])
        return walked.with_more(self.judged(new, rows, ph))

    def told(self, walked: _Walked) -> list[Findings]:
        """The findings in words at the start of each stretch."""
        return [
            self.checker.findings(walked.rows[i], tuple(float(end) for end in walked.ph[:, i]))
            for i in walked.starts
        ]


def findings_along(
    formula: Formula,
    line: int,
    give: Give,
    walk: Along,
    forecaster: Forecaster,
    arrays: Mapping[str, Any],
    window: tuple[int, int] | None = None,
) -> Found:
    """Where findings begin and end while one line walks through its range.

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
        The part on the slider; what begins beyond it gets no band.

    Returns
    -------
    Found
    """
    if forecaster.mats is None:
        return Found()
    checker = Checker(formula, forecaster.mats, forecaster.brief)
    walker = _Walker(formula=formula, line=line, give=give, forecaster=forecaster, checker=checker)
    ph = np.array([arrays[name] for name in ACIDITY])
    walked = walker.judged(walk.positions, walk.rows / 10_000, ph)
    for solve in (True, False):
        walked = walker.closer(walked, solve=solve)
    told = walker.told(walked)
    here = int(formula.lines[line].percent * 10_000)
    bands = _bands(checker.codes, walked, walk.positions, told, here, window)
    stretches = zip(walked.positions[walked.starts].tolist(), told, strict=True)
    return Found(bands=tuple(bands), stretches=tuple(stretches))


def _bands(
    codes: tuple[str, ...],
    walked: _Walked,
    coarse: Units,
    told: list[Findings],
    here: int,
    window: tuple[int, int] | None,
) -> Iterator[dict[str, Any]]:
    """Findings that hold on a part of the range that the eye can see, each one once."""
    at, levels, starts = walked.positions, walked.levels, walked.starts
    runs = [
        (int(at[first]), int(at[last]), level, first, k)
        for k in np.flatnonzero((levels != levels[0]).any(axis=0)).tolist()
        for first, last, level in _runs(levels[:, k])
        if ((coarse >= at[first]) & (coarse <= at[last])).any()
    ]
    seen = [run for run in runs if window is None or run[0] <= window[1]]
    seen.sort(key=lambda run: (-run[2], min(abs(run[0] - here), abs(run[1] - here))))
    shown: set[tuple[str, int, int]] = set()
    for begin, end, level, first, k in seen:
        stretch = told[int(np.searchsorted(starts, first, side="right")) - 1]
        finding = next((f for f in stretch if f.code == codes[k]), None)
        if finding is None or (finding.what, begin, end) in shown:
            continue
        shown.add((finding.what, begin, end))
        yield {"code": finding.code, "severity": _LEVEL[level], "what": finding.what,
               "from": begin, "to": end}  # fmt: skip
        if len(shown) == MOST_BANDS:
            return


def _runs(levels: Levels) -> Iterator[tuple[int, int, int]]:
    """First and last index of each stretch of one level above nothing."""
    edges = np.flatnonzero(np.diff(levels)) + 1
    starts = [0, *edges.tolist()]
    ends = [*edges.tolist(), len(levels)]
    for start, end in zip(starts, ends, strict=True):
        if levels[start] > 0:
            yield start, end - 1, int(levels[start])
