"""Reading a laboratory's challenge test: log reductions and the criterion they meet.

The numbers are read, nothing more: the laboratory and a safety assessor decide.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import log10

from labkit.errors import ScienceError
from labkit.science.bounds import given
from labkit.tables import Row, rows

GROUPS: Mapping[str, str] = {
    "p. aeruginosa": "bacteria",
    "s. aureus": "bacteria",
    "e. coli": "bacteria",
    "b. cepacia": "bacteria",
    "c. albicans": "yeast",
    "a. brasiliensis": "mould",
}
"""Test organisms of ISO 11930 and what they are."""

OVERALL: Mapping[str, str] = {
    "A": "meets the criteria",
    "B": "needs documented extra protection",
    "meets": "meets the criteria",
    "fails": "does not meet the criteria",
}
_RANK = ("A", "meets", "B", "incomplete", "fails")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reduction:
    """A log reduction.

    Attributes
    ----------
    day : int
    value : float
        log10 of the count at day 0 over the count now.
    at_least : bool
        True when the count was below the limit of detection: a lower bound, never exact.
    """

    day: int
    value: float
    at_least: bool

    def __str__(self) -> str:
        return f">{self.value:.2f}" if self.at_least else f"{self.value:.2f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rule:
    day: int
    least: float | None
    not_above_day: int | None
    allowance: float


def log_reductions(counts: Mapping[int | str, float | str]) -> dict[int, Reduction]:
    """Log reductions from counts.

    Parameters
    ----------
    counts : mapping of day to count
        CFU per g or mL; ``"<10"`` below the limit of detection. Day 0 is needed.

    Returns
    -------
    dict of int to Reduction
        For every day after day 0.

    Raises
    ------
    ScienceError
        No usable count at day 0, or a count that cannot be.

    Notes
    -----
    log10(N0/N). "<10" gives a lower bound.

    Examples
    --------
    >>> [str(r) for r in log_reductions({0: 1e6, 7: 200.0, 14: "<10"}).values()]
    ['3.70', '>5.00']
    """
    read = {int(day): _count(text, int(day)) for day, text in counts.items()}
    if 0 not in read or read[0][1]:
        raise ScienceError(
            where="Challenge test",
            found="no count at day 0",
            allowed="The count right after inoculation, as a number",
            cause="The first column was left out, or the inoculum was not counted",
            do="Take the inoculum count from the laboratory's report",
        )
    start = read[0][0]
    return {
        day: Reduction(day=day, value=log10(start / value), at_least=below)
        for day, (value, below) in sorted(read.items())
        if day > 0
    }


def verdict(standard: str, organism: str, reductions: Mapping[int, Reduction]) -> str:
    """Which criterion of a standard one organism's reductions meet.

    Parameters
    ----------
    standard : str
        ``"ISO 11930"``, ``"Ph. Eur. 5.1.3 topical"``, ``"USP <51> category 2"``.
    organism : str
        ``"bacteria"``, ``"yeast"``, ``"mould"``, or a test organism such as ``"E. coli"``.
    reductions : mapping of int to Reduction
        From `log_reductions`.

    Returns
    -------
    str
        ``"A"``, ``"B"``, ``"meets"`` (a standard with one criterion), ``"fails"``, or
        ``"incomplete: …"`` with the days that are missing.

    Raises
    ------
    ScienceError
        A standard or organism without criteria.

    Notes
    -----
    ``datasets/challenge_criteria.csv``. A rise of up to 0.5 log counts as no increase where
    the standard says so.

    Examples
    --------
    >>> verdict("ISO 11930", "bacteria", log_reductions({0: 1e6, 7: 200, 14: 90, 28: 100}))
    'A'
    """
    criteria = _criteria(standard, GROUPS.get(organism.casefold(), organism.casefold()))
    missing: list[int] = []
    for name, rules in criteria.items():
        states = [_state(rule, reductions) for rule in rules]
        if all(state == "met" for state in states):
            return name if name in {"A", "B"} else "meets"
        if "failed" not in states and not missing:
            missing = [r.day for r, state in zip(rules, states, strict=True) if state == "open"]
    if not missing:
        return "fails"
    days = " and ".join(str(day) for day in missing)
    return f"incomplete: {'days' if len(missing) > 1 else 'day'} {days} missing"


def overall(verdicts: Mapping[str, str]) -> tuple[str, str]:
    """The worst organism decides.

    Parameters
    ----------
    verdicts : mapping of str to str
        Organism to `verdict`.

    Returns
    -------
    (verdict, words) : tuple of str
        ``("B", "needs documented extra protection")``

    Raises
    ------
    ScienceError
        No organism.

    Notes
    -----
    ISO 11930: all A; all at least B (packaging and risk analysis to be documented); else not.

    Examples
    --------
    >>> overall({"E. coli": "A", "A. brasiliensis": "B"})
    ('B', 'needs documented extra protection')
    """
    if not verdicts:
        raise ScienceError(
            where="Challenge test",
            found="no organism",
            allowed="The verdict of each test organism",
            cause="The table is empty",
            do="Enter the laboratory's counts first",
        )
    worst = max(verdicts.values(), key=lambda text: _RANK.index(text.split(":")[0]))
    head = worst.split(":")[0]
    return head, OVERALL.get(head, worst.partition(": ")[2])


def _count(text: float | str, day: int) -> tuple[float, bool]:
    told = str(text).strip()
    below = told.startswith("<")
    try:
        number = float(told.lstrip("< "))
    except ValueError:
        number = float("nan")
    return float(given(number, f"Count at day {day}", "CFU/g", above=0.0)), below


def _state(rule: _Rule, reductions: Mapping[int, Reduction]) -> str:
    """met, failed, or open where the count is missing or only a bound too low to tell."""
    now = reductions.get(rule.day)
    if now is None:
        return "open"
    if rule.least and now.value < rule.least - 1e-9:
        return "open" if now.at_least else "failed"
    if rule.not_above_day is None:
        return "met"
    before = reductions.get(rule.not_above_day)
    if rule.not_above_day > 0 and before is None:
        return "open"
    rise = (before.value if before is not None else 0.0) - now.value
    if rise <= rule.allowance + 1e-9:
        return "met"
    return "open" if now.at_least else "failed"


@cache
def _criteria(standard: str, group: str) -> Mapping[str, tuple[_Rule, ...]]:
    found: dict[str, list[_Rule]] = {}
    for row in rows("challenge_criteria"):
        name, criterion, day = row["standard"] or "", row["criterion"] or "", row["day"]
        named = standard in {name, f"{name} {criterion}"}
        if named and day is not None and _holds(row["organism_group"] or "", group):
            found.setdefault(criterion, []).extend(_rules(row, int(day)))
    if not found:
        raise ScienceError(
            where="Challenge test",
            found=f"no criteria of {standard!r} for {group!r}",
            allowed="ISO 11930, Ph. Eur. 5.1.3 topical, USP <51> category 2, by group",
            cause="Another standard or organism, or another spelling",
            do="Use the laboratory's own verdict",
        )
    return {name: tuple(rules) for name, rules in sorted(found.items())}


def _rules(row: Row, day: int) -> list[_Rule]:
    """One rule for each earlier day that the count may not exceed, or one without."""
    least, requirement = row["min_log_reduction"], row["requirement"] or ""
    since = re.findall(r"day (\d+)", row["no_increase_from"] or "")
    since += re.findall(r"no increase from day (\d+)", requirement)
    earlier: list[int | None] = [int(text) for text in sorted(set(since))]
    return [
        _Rule(
            day=day,
            least=float(least) if least is not None else None,
            not_above_day=before,
            allowance=float(row["no_increase_log"] or 0.0),
        )
        for before in earlier or [None]
    ]


def _holds(organisms: str, group: str) -> bool:
    words = re.split(r"\W+", organisms.casefold())
    return group in words or ("fungi" in words and group in {"yeast", "mould"})
