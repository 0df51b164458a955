"""Check on paper: everything the rules find in a formula, in order, each fact once."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit import tables
from labkit.estimates.allergens import fragrance_candidates
from labkit.estimates.carrying import Carrying
from labkit.estimates.contents import look_into
from labkit.estimates.exclusions import exclusion_candidates
from labkit.estimates.finding import LEVELS, Finding, Findings
from labkit.estimates.form import form_of
from labkit.estimates.limits import limit_candidates
from labkit.estimates.making import making_of
from labkit.estimates.practice import practice_candidates
from labkit.estimates.preservation_check import preservation_candidates
from labkit.estimates.rules import rule_candidates
from labkit.estimates.state import Board, Candidate, PhLike
from labkit.estimates.unknowns import unknown_candidates
from labkit.estimates.weighing import weighing_candidates
from labkit.estimates.windows import window_candidates
from labkit.formula import Formula
from labkit.formula.brief import Brief

if TYPE_CHECKING:
    from labkit.materials import Materials

__all__ = ["Checker", "check"]


def check(
    formula: Formula,
    mats: Materials,
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
        Not needed here; kept so that forecast and check are called alike.
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
    return Checker(formula, mats, brief, day=day).findings(ph=ph)


class Checker:
    """A formula's lines made ready to be checked at any percentages.

    Parameters
    ----------
    formula, mats, brief, day
        As in :func:`check`.
    """

    def __init__(
        self,
        formula: Formula,
        mats: Materials,
        brief: Brief | None = None,
        *,
        day: date | None = None,
    ) -> None:
        self.formula = formula
        self.brief = brief or Brief(product=formula.name)
        self.day = day or self.brief.as_of or date.today()
        materials = [mats.resolve(line.key or line.material) for line in formula.lines]
        self.contents = look_into(formula, materials, mats)
        self.form = form_of(self.contents, self.brief)
        self.making = making_of(self.contents, self.form)
        self._board = Board(len(formula.lines))
        self._carrying = Carrying(self.contents, self._board)
        self.candidates = tuple(self._gather())

    def _gather(self) -> list[Candidate]:
        contents, brief, board = self.contents, self.brief, self._board
        return [
            *rule_candidates(contents, brief, self.form, board, self._carrying),
            *limit_candidates(contents, brief, board, self.day),
            *preservation_candidates(contents, self._carrying, self.form, board),
            *fragrance_candidates(contents, brief, board, self.day),
            *window_candidates(contents, brief, self.form, self.making, board),
            *practice_candidates(contents, brief, self.form, self.making, board),
            *weighing_candidates(contents, brief),
            *exclusion_candidates(contents, brief),
            *unknown_candidates(contents, brief, self.form, board, self._carrying),
        ]

    @cached_property
    def percent(self) -> NDArray[np.float64]:
        """The formula's own percentages."""
        return np.array([float(line.percent) for line in self.formula.lines])

    @property
    def codes(self) -> tuple[str, ...]:
        """Code of each candidate, along the last axis of :meth:`levels`."""
        return tuple(c.code for c in self.candidates)

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
        state = self._board.state(self.percent if percent is None else percent, ph)
        levels = [c.level(state) for c in self.candidates]
        return np.stack(levels, axis=-1) if levels else np.zeros((*state.shape, 0), dtype=np.int8)

    def findings(self, percent: ArrayLike | None = None, ph: PhLike = None) -> Findings:
        """The findings in words, for one set of percentages."""
        state = self._board.state(self.percent if percent is None else percent, ph)
        told = [
            c.tell(state, bool(np.all(c.certain(state))))
            for c in self.candidates
            if c.level(state) > 0
        ]
        return Findings(_once(told))


@cache
def _yields() -> Mapping[str, frozenset[str]]:
    found: dict[str, frozenset[str]] = {}
    for row in tables.rows("finding_order"):
        code, other = row["code"] or "", row["yields_to"] or ""
        found[code] = found.get(code, frozenset()) | {other}
    return found


def _once(told: list[Finding]) -> list[Finding]:
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
