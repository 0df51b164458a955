"""How a reference row is read and how near a result must come to it.

A row is a ``dict[str, str]``; the runner adds ``_id`` (the row's own id, or its
case and item, or its line number), ``_line`` and ``_table``. Helpers for adapters:

    number(text)              a printed number, or None
    groups(rows, "case")      rows that belong together, in file order
    near(row, got)            Result: ``got`` against ``row["value"]``
    near(row, got, expected=row["expected"])
    match(row, got, expected) Result: JSON expectation (numbers, words, lists, objects)
    refused(row, call)        Result: the call must raise a LabkitError
    data(row)                 Result "input": the row only feeds another row's check
    fact(row)                 Result "fact": a fact, checked by its loader's tests
    not_covered(row, reason)  Result: no call of labkit answers this row

Tolerance of a number, first that is present: ``tol_abs`` and ``tol_rel`` (the wider
holds if both), the text of ``tolerance`` ("0.5 %", "1e-4 relative", "0.05",
"factor 2", "exact"), else 1e-6 relative for a computed value and half the last
printed digit for any other.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from labkit.errors import LabkitError

Row = Mapping[str, str]

PASSED, FAILED, NOT_COVERED, INPUT, FACT = "passed", "failed", "not covered", "input", "fact"
COMPUTED_REL = 1e-6
FLOOR_ABS = 1e-12

_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """The verdict on one row."""

    row_id: str
    status: str
    expected: str = ""
    got: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Band:
    """How far from the expected value is near enough."""

    absolute: float = 0.0
    relative: float = 0.0
    factor: float = 1.0

    def holds(self, got: float, expected: float) -> bool:
        """Whether ``got`` lies in the band around ``expected``."""
        if math.isnan(got) or math.isnan(expected):
            return False
        if got == expected:
            return True
        if self.factor > 1.0 and expected > 0.0 and got > 0.0:
            return 1.0 / self.factor <= got / expected <= self.factor
        room = max(self.absolute, self.relative * abs(expected))
        return abs(got - expected) <= room * (1.0 + 1e-9) + FLOOR_ABS

    def __str__(self) -> str:
        if self.factor > 1.0:
            return f"factor {self.factor:g}"
        parts = [f"{self.absolute:g}"] if self.absolute else []
        return " or ".join(parts + ([f"{self.relative:g} relative"] if self.relative else []))


def number(text: str | None) -> float | None:
    """The first number printed in a text, or None when there is none."""
    found = _NUMBER.search((text or "").replace("−", "-"))
    return float(found.group()) if found else None


def exact_number(text: str | None) -> float | None:
    """The number, when the text is a number and nothing else."""
    found = _NUMBER.fullmatch((text or "").strip().replace("−", "-"))
    return float(found.group()) if found else None


def half_last_digit(text: str) -> float:
    """Half the last printed digit of a number, 0.005 for "1.25"."""
    mantissa, _, exponent = text.strip().lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return float(0.5 * 10.0 ** (int(exponent or 0) - decimals))


def band(row: Row, text: str) -> Band:
    """The tolerance of one printed number in this row."""
    tol_abs, tol_rel = exact_number(row.get("tol_abs")), exact_number(row.get("tol_rel"))
    words = (row.get("tolerance") or "").strip()
    if "factor" in words and "worked" not in words:
        return Band(factor=number(words.split("factor", 1)[1]) or 2.0)
    if tol_abs is not None or tol_rel is not None:
        return Band(tol_abs or 0.0, tol_rel or 0.0)
    stated = _from_words(words)
    if stated is not None:
        return stated
    if (row.get("source_kind") or "").strip() == "computed":
        return Band(0.0, COMPUTED_REL)
    return Band(half_last_digit(text))


def _from_words(words: str) -> Band | None:
    if not words or words in {"n/s", "guide", "qualitative", "must refuse", "printed digits"}:
        return None
    if words.startswith("exact"):
        return Band()
    value = number(words)
    if value is None:
        return None
    value = abs(value)  # "+-0.02"
    if "%" in words:
        return Band(0.0, value / 100.0)
    return Band(0.0, value) if "relative" in words else Band(value)


def groups(rows: Iterable[Row], *keys: str) -> Iterator[tuple[tuple[str, ...], list[Row]]]:
    """Rows that share the given columns, in the order of first appearance."""
    found: dict[tuple[str, ...], list[Row]] = {}
    for row in rows:
        found.setdefault(tuple(row.get(key) or "" for key in keys), []).append(row)
    yield from found.items()


def near(row: Row, got: float, expected: str | None = None) -> Result:
    """Compare one number with the row's value by the row's tolerance."""
    text = (row["value"] if expected is None else expected).strip()
    target = exact_number(text)
    if target is None:
        return not_covered(row, f"the expected value is not one number: {text!r}")
    limit = band(row, text)
    return verdict(row, limit.holds(float(got), target), text, f"{float(got):.10g}", f"± {limit}")


def match(row: Row, got: Any, expected: Any = None) -> Result:
    """Compare a JSON expectation, leaf by leaf; every expected leaf must be met."""
    if expected is None:
        expected = json.loads(row.get("expected_json") or row["expected"], parse_float=_Printed)
    elif isinstance(expected, str):
        expected = _loads(expected)
    misses = list(_misses(row, got, expected, ""))
    return verdict(
        row, not misses, json.dumps(expected, default=str), str(got), "; ".join(misses[:4])
    )


class _Printed(float):
    """A float that remembers its printed digits."""

    text: str

    def __new__(cls, text: str) -> _Printed:
        made = super().__new__(cls, text)
        made.text = text
        return made


def _loads(text: str) -> Any:
    try:
        return json.loads(text, parse_float=_Printed)
    except json.JSONDecodeError:
        return text


def _misses(row: Row, got: Any, expected: Any, where: str) -> Iterator[str]:
    here = where or "value"
    if isinstance(expected, Mapping):
        for key, part in expected.items():
            if not isinstance(got, Mapping) or key not in got:
                yield f"{here}: no {key!r}"
            else:
                yield from _misses(row, got[key], part, f"{where}.{key}".lstrip("."))
    elif isinstance(expected, list):
        if not isinstance(got, list | tuple) or len(got) != len(expected):
            yield f"{here}: {got!r} is not {expected!r}"
            return
        for index, (one, part) in enumerate(zip(got, expected, strict=True)):
            yield from _misses(row, one, part, f"{here}[{index}]")
    elif isinstance(expected, bool) or expected is None or isinstance(expected, str):
        if got != expected:
            yield f"{here}: {got!r} is not {expected!r}"
    else:
        text = getattr(expected, "text", repr(expected))
        limit = band(row, text)
        if got is None or isinstance(got, str) or not limit.holds(float(got), float(expected)):
            yield f"{here}: {got!r} is not {text} ± {limit}"


def refused(row: Row, call: Callable[[], Any], words: str = "") -> Result:
    """The call must be refused in words; ``words`` are looked for in the message."""
    try:
        got = call()
    except LabkitError as refusal:
        said = str(refusal)
        return verdict(row, words.lower() in said.lower(), f"a refusal {words}".strip(), said)
    return verdict(row, False, "a refusal", repr(got))


def verdict(row: Row, good: bool, expected: str, got: str, reason: str = "") -> Result:
    """Passed or failed, with both sides shown."""
    return Result(
        row_id=row["_id"],
        status=PASSED if good else FAILED,
        expected=expected,
        got=got,
        reason=reason,
    )


def data(row: Row) -> Result:
    """The row is an input of another row's check."""
    return Result(row_id=row["_id"], status=INPUT)


def fact(row: Row) -> Result:
    """The row is a fact that labkit ships; its loader's tests check it."""
    return Result(row_id=row["_id"], status=FACT)


def not_covered(row: Row, reason: str) -> Result:
    """No call of labkit answers this row."""
    return Result(row_id=row["_id"], status=NOT_COVERED, reason=reason)
