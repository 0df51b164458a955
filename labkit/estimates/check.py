"""Check on paper: everything the rules find in a formula, in order, each fact once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache, cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit import tables
from labkit.estimates.allergens import fragrance_candidates
from labkit.estimates.carrying import Carrying
from labkit.estimates.contents import Contents, look_into
from labkit.estimates.exclusions import exclusion_candidates
from labkit.estimates.finding import LEVELS, Finding, Findings
from labkit.estimates.form import form_of
from labkit.estimates.limits import limit_candidates
from labkit.estimates.making import Making, making_of
from labkit.estimates.practice import practice_candidates
from labkit.estimates.preservation_check import oil_kind, preservation_candidates
from labkit.estimates.rules import rule_candidates
from labkit.estimates.state import Board, Judge, PhLike
from labkit.estimates.unknowns import unknown_candidates
from labkit.estimates.weighing import weighing_candidates
from labkit.estimates.windows import window_candidates
from labkit.formula import Formula, Phase, formula_of
from labkit.formula.brief import Brief
from labkit.materials import Materials

__all__ = ["Checker", "check", "told_once"]

CHUNK = 2048
"""Formulas decided at a time, so that a million need little memory."""


def check(
    formula: Formula,
    mats: Materials | None,
    brief: Brief | None = None,
    ph: PhLike = None,
    bench: Any = None,
    *,
    day: date | None = None,
) -> Findings:
    """What could go wrong with a formula, before the beaker.

    Parameters
    ----------
    formula : Formula
    mats : Materials
        Lines it does not know are named as not checked.
    brief : Brief, optional
        Product type, market, windows; without it a product that leaves these open.
    ph : float or (value, low, high), optional
        Measured, or a forecast with its interval; where the interval crosses a threshold a
        stop is told as a check.
    bench : Bench, optional
        Where no pH is given, the last one it measured on this very formula is taken.
    day : date, optional
        On which the law is read: the brief's day, else today.

    Returns
    -------
    Findings
        Stops first; each fact once.

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> gel = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Carbomer,0.4
    ... A,Phenoxyethanol blend 90/10,1''')
    >>> check(gel, Materials.starter(), Brief(product="gel", leave_on=True), ph=4.0).stops.codes
    ('INC09',)
    """
    formula = formula_of(formula, "Check")
    if ph is None and bench is not None:
        ph = _measured(bench, formula, Materials() if mats is None else mats)
    return Checker(formula, mats, brief, day=day).findings(ph=ph)


def _measured(bench: Any, formula: Formula, mats: Materials) -> float | None:
    """The last pH that a bench measured on a trial of this formula."""
    wanted = formula.resolved(mats).fingerprint
    readings = bench.readings("pH")
    for trial in dict.fromkeys(readings["trial"][::-1]):
        if bench.trial(trial).formula.resolved(mats).fingerprint == wanted:
            return float(readings.loc[readings["trial"] == trial, "value"].iloc[-1])
    return None


@dataclass(frozen=True)
class _Alike:
    """Formulas that differ in their percentages only."""

    lines: tuple[tuple[object, ...], ...]
    phases: tuple[Phase, ...]
    qs: int | None
    formula: Formula = field(compare=False)

    @classmethod
    def of(cls, formula: Formula) -> _Alike:
        lines = tuple((x.phase, x.material, x.key, x.locked, x.low, x.high) for x in formula.lines)
        return cls(lines, formula.phases, formula.qs, formula)


@lru_cache(maxsize=64)
def _contents(alike: _Alike, mats: Materials) -> Contents:
    materials = [mats.resolve(line.key or line.material) for line in alike.formula.lines]
    return look_into(alike.formula, materials, mats)


@dataclass(frozen=True, kw_only=True)
class _Setting:
    """What the percentages decide before a rule is asked."""

    form: str
    making: Making
    oil: str | None


@lru_cache(maxsize=64)
def _ready(
    alike: _Alike, mats: Materials, brief: Brief, day: date, setting: _Setting
) -> tuple[Board, Judge]:
    contents, form = _contents(alike, mats), setting.form
    board = Board(contents.n_lines)
    carrying = Carrying(contents, board)
    candidates = [
        *rule_candidates(contents, brief, form, board, carrying),
        *limit_candidates(contents, brief, board, day),
        *preservation_candidates(contents, carrying, form, setting.oil, board),
        *fragrance_candidates(contents, brief, board, day),
        *window_candidates(contents, brief, form, setting.making, board),
        *practice_candidates(contents, brief, form, setting.making, board),
        *weighing_candidates(contents, brief),
        *exclusion_candidates(contents, brief, board),
        *unknown_candidates(contents, brief, form, board, carrying),
    ]
    return board, Judge(candidates)


class Checker:
    """A formula's lines made ready to be checked at any percentages.

    Lines that were made ready before are not read again: a second formula with the same
    lines, bounds, brief and day costs only the arithmetic.

    Parameters
    ----------
    formula, mats, brief, day
        As in :func:`check`.
    """

    def __init__(
        self,
        formula: Formula,
        mats: Materials | None = None,
        brief: Brief | None = None,
        *,
        day: date | None = None,
    ) -> None:
        self.formula = formula
        self.brief = brief or Brief(product=formula.name)
        self.day = day or self.brief.as_of or date.today()
        known = Materials() if mats is None else mats
        alike = _Alike.of(formula)
        self.contents = _contents(alike, known)
        form = form_of(self.contents, self.brief, self.percent)
        self.setting = _Setting(
            form=form,
            making=making_of(self.contents, form, self.percent),
            oil=oil_kind(self.contents, self.percent),
        )
        self._board, self._judge = _ready(alike, known, self.brief, self.day, self.setting)

    @property
    def form(self) -> str:
        """What the formula is made as, as far as the brief or the materials tell."""
        return self.setting.form

    @cached_property
    def percent(self) -> NDArray[np.float64]:
        """The formula's own percentages."""
        return np.array([float(line.percent) for line in self.formula.lines])

    @property
    def codes(self) -> tuple[str, ...]:
        """Code of each candidate, along the last axis of :meth:`levels`."""
        return tuple(c.code for c in self._judge.candidates)

    def levels(self, percent: ArrayLike | None = None, ph: PhLike = None) -> NDArray[np.int8]:
        """Which candidates hold at these percentages, before facts are told once.

        Parameters
        ----------
        percent : array-like, shape S + (n_lines,)
            % w/w of the batch; the formula's own without any.
        ph : float, array of shape S, or (value, low, high)

        Returns
        -------
        ndarray of int8, shape S + (n_candidates,)
            0 nothing, 1 fyi, 2 check, 3 stop.
        """
        x = self.percent if percent is None else np.asarray(percent, dtype=float)
        rows = x.reshape(-1, x.shape[-1])
        if len(rows) <= CHUNK:
            return self._judge.levels(self._board.state(x, ph))
        ends = ph if isinstance(ph, tuple) else (ph, ph, ph)
        flat = [np.broadcast_to(np.nan if e is None else e, x.shape[:-1]).reshape(-1) for e in ends]
        parts = [
            self._judge.levels(
                self._board.state(rows[k : k + CHUNK], tuple(e[k : k + CHUNK] for e in flat))
            )
            for k in range(0, len(rows), CHUNK)
        ]
        return np.concatenate(parts).reshape(*x.shape[:-1], -1)

    def findings(self, percent: ArrayLike | None = None, ph: PhLike = None) -> Findings:
        """The findings in words, for one set of percentages; each fact once."""
        return Findings(told_once(self.told(percent, ph)))

    def told(self, percent: ArrayLike | None = None, ph: PhLike = None) -> list[Finding]:
        """Everything that holds, before facts that are told twice give way."""
        state = self._board.state(self.percent if percent is None else percent, ph)
        levels = self._judge.levels(state)
        return [
            c.tell(state, bool(c.certain(state)))
            for c, level in zip(self._judge.candidates, levels, strict=True)
            if level > 0
        ]


@cache
def _yields() -> Mapping[str, frozenset[str]]:
    found: dict[str, frozenset[str]] = {}
    for row in tables.rows("finding_order"):
        code, other = row["code"] or "", row["yields_to"] or ""
        found[code] = found.get(code, frozenset()) | {other}
    return found


def told_once(told: list[Finding]) -> list[Finding]:
    """Each fact once: what says less about the same lines gives way."""
    kept = _one_limit_each(told)
    return [f for f in kept if not any(_says_more(g, f) for g in kept if g is not f)]


def _says_more(other: Finding, finding: Finding) -> bool:
    named = other.code in _yields().get(finding.code, frozenset())
    by_law = finding.code in ("USE01", "USE02") and "substance" in other.facts
    return (
        (named or by_law)
        and LEVELS[other.severity] >= LEVELS[finding.severity]
        and bool(set(other.lines) & set(finding.lines))
    )


def _one_limit_each(told: list[Finding]) -> list[Finding]:
    """Of several limits on one substance the strictest that is broken."""
    best: dict[tuple[str, tuple[int, ...]], Finding] = {}
    for finding in told:
        if "substance" in finding.facts:
            key = (str(finding.facts["substance"]), finding.lines)
            known = best.get(key)
            if known is None or _rank(finding) < _rank(known):
                best[key] = finding
    chosen = {id(f) for f in best.values()}
    return [f for f in told if "substance" not in f.facts or id(f) in chosen]


def _rank(finding: Finding) -> tuple[int, float, str]:
    return -LEVELS[finding.severity], float(finding.facts["limit"]), finding.code
