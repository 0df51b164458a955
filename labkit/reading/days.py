"""Dates as people write them, judged together so that one tells the style of the others."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

__all__ = ["Style", "judge_style", "looks_like_day", "read_day"]

Style = str
"""``"day first"``, ``"month first"`` or ``""`` where nothing tells."""

_NUMERIC = re.compile(r"^(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})\.?$")
_ISO = re.compile(r"^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})$")
_NAMED = re.compile(
    r"^(?:[a-z]{2,9},? )?(\d{1,2})(?:\.|st|nd|rd|th)?[ -]+([^\W\d]{3,10})\.?,?[ -]+(\d{4}|\d{2})$"
)
_NAMED_FIRST = re.compile(r"^([^\W\d]{3,10})\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})$")
_MONTHS = (
    "jan gen ene", "feb fév fev", "mar mär mrz", "apr avr abr", "may mai mag", "jun jui giu juin",
    "jul lug juil", "aug aoû aou ago", "sep set", "oct okt ott", "nov", "dec dez déc dic",
)  # fmt: skip


def looks_like_day(text: str) -> bool:
    """Whether a text is a date in one of the usual styles."""
    word = text.strip().casefold()
    return any(p.match(word) for p in (_NUMERIC, _ISO, _NAMED, _NAMED_FIRST))


def judge_style(texts: Iterable[str]) -> Style:
    """Whether the day or the month stands first, from the dates that leave no doubt.

    A number above 12 decides; dates with points have the day first (the order of the
    countries that write points, common practice).

    Examples
    --------
    >>> judge_style(["03.02.2026", "17/02/26"]), judge_style(["03/04/2026"])
    ('day first', '')
    """
    votes = set()
    for text in texts:
        match = _NUMERIC.match(text.strip())
        if not match:
            continue
        first, mark, second = int(match[1]), match[2], int(match[3])
        if first > 12 >= second or mark == ".":
            votes.add("day first")
        elif second > 12 >= first:
            votes.add("month first")
    return votes.pop() if len(votes) == 1 else ""


def read_day(text: str, style: Style) -> date | None:
    """One date; None where it is none, or the order of day and month is not known.

    Examples
    --------
    >>> read_day("17/02/26", "day first")
    datetime.date(2026, 2, 17)
    """
    word = text.strip().casefold()
    if match := _ISO.match(word):
        return _day(int(match[1]), int(match[2]), int(match[3]))
    if match := _NAMED.match(word):
        return _day(_year(match[3]), _month(match[2]), int(match[1]))
    if match := _NAMED_FIRST.match(word):
        return _day(int(match[3]), _month(match[1]), int(match[2]))
    match = _NUMERIC.match(word)
    if match is None:
        return None
    first, second, year = int(match[1]), int(match[3]), _year(match[4])
    if match[2] == "." or first > 12 or first == second:
        return _day(year, second, first)
    if second > 12:
        return _day(year, first, second)
    if style == "day first":
        return _day(year, second, first)
    return _day(year, first, second) if style == "month first" else None


def _year(text: str) -> int:
    return int(text) + (2000 if len(text) == 2 else 0)


def _month(word: str) -> int:
    found = [
        i for i, names in enumerate(_MONTHS, 1) if any(word.startswith(x) for x in names.split())
    ]
    if "juil" in word or word.startswith("jul"):
        return 7
    return found[0] if found else 0


def _day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None
