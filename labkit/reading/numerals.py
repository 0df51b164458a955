"""Digits in sheets: which sign is the decimal sign, and what is grouping."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

__all__ = ["NUMERAL", "DecimalSign", "Reading", "judge_decimal", "read_numeral"]

NUMERAL = r"(?:\d{1,3}(?:[ \u00a0\u202f'’]\d{3})+(?:[.,]\d+)?|\d[\d.,]*|[.,]\d+)"
"""A run of digits with decimal and grouping signs, as a pattern."""

DecimalSign = str
"""``","``, ``"."``, ``"mixed"``, or ``""`` where nothing in the sheet tells."""

_GROUP = re.compile("[ \u00a0\u202f'’]")


@dataclass(frozen=True, slots=True)
class Reading:
    """A numeral as read; ``sign`` is its decimal sign, None for whole numbers."""

    value: Decimal
    sign: str | None = None
    grouped: bool = False
    doubtful: bool = False


def judge_decimal(numerals: Iterable[str]) -> DecimalSign:
    """The decimal sign of a sheet, from the numerals that leave no doubt.

    Examples
    --------
    >>> judge_decimal(["4,00", "0,25"]), judge_decimal(["1.234,5"]), judge_decimal(["1,250"])
    (',', ',', '')
    """
    votes = Counter(sign for x in numerals if (sign := _certain(x)))
    if votes["."] and votes[","]:
        return "mixed"
    return "." if votes["."] else "," if votes[","] else ""


def _certain(numeral: str) -> str | None:
    """The decimal sign of one numeral, where it can be nothing else."""
    bare = _GROUP.sub("", numeral)
    marks: list[str] = re.findall(r"[.,]", bare)
    if len(set(marks)) == 2:
        return marks[-1] if marks.count(marks[-1]) == 1 else None
    if len(marks) > 1:
        return {",": ".", ".": ","}[marks[0]] if _thirds(bare, marks[0]) else None
    if not marks or bare.endswith(marks[0]):
        return None
    whole, part = bare.split(marks[0])
    if len(part) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0"):
        return marks[0] if _GROUP.search(numeral) else None
    return marks[0]


def _thirds(text: str, mark: str) -> bool:
    return bool(re.fullmatch(rf"[1-9]\d{{0,2}}(\{mark}\d{{3}})+", text))


def read_numeral(numeral: str, sign: DecimalSign) -> Reading | None:
    """Read one numeral; None where its signs contradict each other.

    ``doubtful`` is set when a sign before three digits can be either decimal or
    grouping and nothing in the sheet tells.

    Examples
    --------
    >>> read_numeral("1,250", ".").value, read_numeral("1,250", ",").value
    (Decimal('1250'), Decimal('1.250'))
    """
    spaced = bool(_GROUP.search(numeral))
    bare = _GROUP.sub("", numeral)
    if not re.fullmatch(r"[0-9.,]{1,30}", bare) or not re.search(r"\d", bare):
        return None
    marks = re.findall(r"[.,]", bare)
    if not marks:
        return Reading(Decimal(bare), None, spaced)
    if len(set(marks)) == 2:
        return _both(bare, marks)
    mark = marks[0]
    if len(marks) > 1:
        grouped = _thirds(bare, mark)
        return Reading(Decimal(bare.replace(mark, "")), None, True) if grouped else None
    whole, part = bare.split(mark)
    if not part:
        return None
    if _certain(numeral) == mark:
        return Reading(Decimal(f"{whole or '0'}.{part}"), mark, spaced)
    if sign in {",", "."} and sign != mark:
        return Reading(Decimal(whole + part), None, True)
    return Reading(Decimal(f"{whole}.{part}"), mark, spaced, doubtful=sign not in {",", "."})


def _both(bare: str, marks: list[str]) -> Reading | None:
    last = marks[-1]
    if marks.count(last) > 1:
        return None
    whole, part = bare.split(last)
    other = "." if last == "," else ","
    if not _thirds(whole, other) or not part:
        return None
    return Reading(Decimal(f"{whole.replace(other, '')}.{part}"), last, True)
