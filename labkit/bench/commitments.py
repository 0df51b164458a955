"""Private values: a salted commitment stays in the record, the opening travels or stays behind.

The record carries SHA-256 over ``["labkit-private-1", place, salt, value]`` in
place of the value. Without the 128-bit salt a price could be found by trying all
prices; with it the value shows only when its opening is handed over, and an
opening that was altered does not fit.
"""

from __future__ import annotations

import copy
import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, cast

import orjson

from labkit.bench.canonical import canonical
from labkit.errors import RecordError

__all__ = ["Opening", "commitment", "fits", "hide", "point", "reveal"]

_TAG = "labkit-private-1"
_HIDDEN = "hidden_line"


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """What shows a private value: where it stands, its salt, and the value."""

    pointer: str
    salt: str
    value: Any

    @classmethod
    def kept(cls, pointer: str, salt: str, text: str) -> Opening:
        """The opening as the store keeps it; text that cannot be read is refused."""
        try:
            return cls(pointer=pointer, salt=salt, value=orjson.loads(text))
        except orjson.JSONDecodeError as error:
            raise RecordError(
                where=f"Private field {pointer}",
                found="a value that cannot be read",
                allowed="The value as it was recorded",
                cause="The disk or copy is damaged",
                do="Take it from a backup",
                pointer=pointer,
            ) from error

    def value_text(self) -> str:
        """The value as canonical JSON, as the store keeps it."""
        return canonical({"v": self.value})[5:-1].decode()


def commitment(opening: Opening) -> str:
    """The commitment of a private value, 64 hex digits.

    Examples
    --------
    >>> commitment(Opening(pointer="/lot", salt="00" * 16, value="L-7"))[:12]
    '07b4623dc682'
    """
    said = canonical({"v": [_TAG, opening.pointer, opening.salt, opening.value]})[5:-1]
    return hashlib.sha256(said).hexdigest()


def hide(
    body: Mapping[str, Any], pointers: Iterable[str], entropy: Callable[[int], bytes]
) -> tuple[dict[str, Any], tuple[Opening, ...]]:
    """Replace the values at the given places by commitments.

    Parameters
    ----------
    body : mapping
        A plain body.
    pointers : iterable of str
        JSON pointers such as ``/note`` or ``/formula/lines/3``; a place that the
        body does not have is left alone.
    entropy : callable
        Gives n random bytes.

    Returns
    -------
    (dict, tuple of Opening)
        The body without the values, and what opens them.
    """
    shut: dict[str, Any] = copy.deepcopy(dict(body))
    openings = []
    for pointer in sorted(set(pointers)):
        holder, key = point(shut, pointer)
        if holder is None:
            continue
        opening = Opening(pointer=pointer, salt=entropy(16).hex(), value=holder[key])
        openings.append(opening)
        if isinstance(holder, list):
            holder[key] = {_HIDDEN: True}
        else:
            del holder[key]
    if openings:
        shut["private"] = {o.pointer: commitment(o) for o in openings} | shut.get("private", {})
    return shut, tuple(openings)


def reveal(body: Mapping[str, Any], openings: Iterable[Opening]) -> dict[str, Any]:
    """Put opened values back where they stood; a forged opening is refused.

    Raises
    ------
    RecordError
        An opening that does not fit its commitment.
    """
    openings = sorted(openings, key=lambda opening: opening.pointer)
    if not openings:
        return dict(body)
    full: dict[str, Any] = orjson.loads(orjson.dumps(body))
    for opening in openings:
        if not fits(body, opening):
            raise RecordError(
                where=f"Private field {opening.pointer}",
                found="the value shown does not match its commitment",
                allowed="The value and salt that were committed when it was recorded",
                cause="It was changed afterwards, or belongs to another record",
                do="Ask for the history again, or leave this field closed",
                pointer=opening.pointer,
            )
        holder, key = point(full, opening.pointer, make=True)
        if holder is not None:
            holder[key] = opening.value
    return full


def fits(body: Mapping[str, Any], opening: Opening) -> bool:
    """Does an opening belong to this record, unchanged?"""
    promised = body.get("private", {}).get(opening.pointer)
    try:
        return promised is not None and promised == commitment(opening)
    except RecordError:
        return False


def point(body: Any, pointer: str, make: bool = False) -> tuple[Any, Any]:
    """The list or object that holds a place, and the key in it; (None, None) if it is not there.

    ``make`` allows a place that is new, and makes the tables on the way to it.
    """
    steps = pointer.strip("/").split("/")
    holder = body
    for at, step in enumerate(steps):
        last = at == len(steps) - 1
        key: Any = step
        if isinstance(holder, list):
            if not step.isdecimal() or int(step) >= len(holder):
                return None, None
            key = int(step)
        elif not isinstance(holder, Mapping) or (step not in holder and not make):
            return None, None
        elif step not in holder and not last:
            cast("dict[str, Any]", holder)[step] = {}
        if last:
            return holder, key
        holder = holder[key]
    return None, None
