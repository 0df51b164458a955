"""The one spelling that a record has: RFC 8785 on a narrow subset of JSON.

Keys are ``[a-z][a-z0-9_]*`` (JSON pointers inside ``private``), values are texts,
whole numbers, true/false, lists and objects. No fractions and no null: a decimal
is a text with the digits as read from the instrument, a missing value has no key.
On this subset sorted-key JSON without blanks is exactly RFC 8785 (property-tested
against its reference implementation), and the name of a record is the SHA-256 of
these bytes.
"""

from __future__ import annotations

import hashlib
import math
import numbers
import re
import unicodedata
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any

import orjson

from labkit.errors import RecordError

__all__ = [
    "DECIMAL",
    "MAX_BYTES",
    "MAX_DEPTH",
    "canonical",
    "decimal_text",
    "parse",
    "plain",
    "record_id",
    "visible",
]

MAX_BYTES = 1_000_000
"""The longest record, in bytes."""
MAX_DEPTH = 32
"""How deep lists and objects may lie in each other."""
DECIMAL = re.compile(r"-?(0|[1-9]\d*)(\.\d+)?")
"""How a decimal number is written in a record."""

_KEY = re.compile(r"[a-z][a-z0-9_]*")
_POINTER = re.compile(r"(/[a-z0-9_]+)+")
_LARGEST = 2**53 - 1
_TURNING = re.compile("[\u202a-\u202e\u2066-\u2069]")


def canonical(body: Mapping[str, Any]) -> bytes:
    """The bytes of a record.

    Parameters
    ----------
    body : mapping
        Plain JSON values of the narrow subset (see :func:`plain`).

    Returns
    -------
    bytes
        UTF-8, keys sorted, no blanks.

    Raises
    ------
    RecordError
        A fraction, a null, a key or a text that has no canonical form, or too much of it.

    Notes
    -----
    RFC 8785 (JSON Canonicalization Scheme), restricted as the module says.

    Examples
    --------
    >>> canonical({"unit": "pH", "value": "4.60"})
    b'{"unit":"pH","value":"4.60"}'
    """
    _check(body, "", 1)
    raw = orjson.dumps(body, option=orjson.OPT_SORT_KEYS)
    if len(raw) > MAX_BYTES:
        raise _refused(
            f"{len(raw)} bytes", f"At most {MAX_BYTES} bytes", "A long text or a file was put in"
        )
    return raw


def record_id(raw: bytes) -> str:
    """The name of a record: the SHA-256 of its bytes, 64 lower-case hex digits.

    Examples
    --------
    >>> record_id(b'{"a":1}')[:12]
    '015abd7f5cc5'
    """
    return hashlib.sha256(raw).hexdigest()


def parse(raw: bytes) -> dict[str, Any]:
    """Read the bytes of a record, refusing whatever is not canonical.

    Raises
    ------
    RecordError
        Not JSON, not canonical (doubled keys, blanks, another order), too long or too deep.

    Examples
    --------
    >>> parse(b'{"a":1}')
    {'a': 1}
    """
    if len(raw) > MAX_BYTES:
        raise _refused(
            f"{len(raw)} bytes", f"At most {MAX_BYTES} bytes", "This is another kind of file"
        )
    try:
        body = orjson.loads(raw)
    except orjson.JSONDecodeError as error:
        raise _refused(
            "not a record that can be read", "JSON text", "The file is damaged or of another kind"
        ) from error
    if not isinstance(body, dict):
        raise _refused("a list or a single value", "One object", "The file is of another kind")
    _check(body, "", 1)
    if orjson.dumps(body, option=orjson.OPT_SORT_KEYS) != raw:
        raise _refused(
            "not written in the canonical way",
            "Sorted keys, each once, no blanks",
            "Doubled keys, or another program wrote it anew",
        )
    return body


def plain(value: Any, where: str = "Record", depth: int = 1) -> Any:
    """Bring ordinary Python values into the subset: decimals as text, texts in NFC.

    Keys whose value is None are left out; a float is written with its shortest digits.

    Raises
    ------
    RecordError
        NaN, infinity, NUL, half a surrogate pair, hidden direction marks, or a type
        that has no place in a record.

    Examples
    --------
    >>> plain({"value": Decimal("4.60"), "note": None, "t": 25.0})
    {'value': '4.60', 't': '25.0'}
    """
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, str):
        return _clean_text(value, where)
    if isinstance(value, numbers.Integral):
        return int(value)
    if isinstance(value, Decimal | float):
        return decimal_text(value, where)
    if isinstance(value, datetime | date):
        return value.isoformat()
    _check_depth(depth, where)
    if isinstance(value, Mapping):
        return {
            _clean_text(str(key), where): plain(item, where, depth + 1)
            for key, item in value.items()
            if item is not None
        }
    if isinstance(value, list | tuple):
        return [plain(item, where, depth + 1) for item in value]
    if hasattr(value, "tolist"):
        return plain(value.tolist(), where, depth)
    raise _refused(
        f"a value of the type {type(value).__name__}",
        "Texts, numbers, yes/no, lists and tables of these",
        "An object was given where its values belong",
        where,
    )


def decimal_text(value: Decimal | float, where: str = "Record") -> str:
    """The digits of a number, without an exponent.

    Raises
    ------
    RecordError
        Not a finite number of ordinary size.

    Examples
    --------
    >>> decimal_text(Decimal("4.60")), decimal_text(1e-7)
    ('4.60', '0.0000001')
    """
    number = value if isinstance(value, Decimal) else Decimal(repr(float(value)))
    if not number.is_finite() or (number and abs(number.adjusted()) > 40):
        raise _refused(
            f"{str(value)[:30]} is no number that a bench can have",
            "A finite number of at most forty digits",
            "A division by zero, or an exponent typed by mistake",
            where,
        )
    if not math.isfinite(float(number)) or len(number.as_tuple().digits) > 60:
        raise _refused(
            "a number of more than sixty digits",
            "A number as read from an instrument",
            "Digits of a calculation were pasted",
            where,
        )
    return format(number if number else abs(number), "f")


def visible(text: str) -> str:
    """The text with invisible direction and control marks spelled out.

    Examples
    --------
    >>> visible("Aqua" + chr(0x202E) + "%5")
    'Aqua⟨U+202E⟩%5'
    """
    return "".join(
        f"⟨U+{ord(sign):04X}⟩"
        if unicodedata.category(sign) in {"Cf", "Cc"} and sign not in "\n\t\u200d\u200c"
        else sign
        for sign in text
    )


def _clean_text(text: str, where: str) -> str:
    if text.isascii():
        if "\0" in text:
            raise _bad_text("a NUL sign", where)
        return text
    text = unicodedata.normalize("NFC", text)
    if _TURNING.search(text):
        raise _refused(
            f"hidden direction marks in '{visible(text)[:60]}'",
            "Visible letters and signs",
            "The text was copied from a page that reorders letters",
            where,
            "Type the text anew",
        )
    if fault := _text_fault(text):
        raise _bad_text(fault, where)
    return text


def _text_fault(text: str) -> str | None:
    if text.isascii():
        return "a NUL sign" if "\0" in text else None
    if "\0" in text:
        return "a NUL sign"
    if any("\ud800" <= sign <= "\udfff" for sign in text):
        return "half of a surrogate pair"
    if not unicodedata.is_normalized("NFC", text):
        return "accents written apart from their letters (not NFC)"
    return None


def _check(value: Any, pointer: str, depth: int) -> None:
    kind = type(value)
    if kind is dict:
        _check_depth(depth, pointer)
        fits = _is_pointer if pointer == "/private" else _is_key
        for key, item in value.items():
            if type(key) is not str or not fits(key):
                raise _refused(
                    f"the key '{visible(str(key))[:40]}'",
                    "Small letters, digits and underlines",
                    "The record was made by hand",
                    pointer or "Record",
                )
            if type(item) is not str or not item.isascii() or "\0" in item:
                _check(item, f"{pointer}/{key}", depth + 1)
    elif kind is list:
        _check_depth(depth, pointer)
        for item in value:
            if type(item) is not str or not item.isascii() or "\0" in item:
                _check(item, pointer, depth + 1)
    elif kind is str:
        if fault := _text_fault(value):
            raise _bad_text(fault, pointer or "Record")
    else:
        _check_single(value, pointer)


@lru_cache(maxsize=4096)
def _is_key(key: str) -> bool:
    return _KEY.fullmatch(key) is not None


def _is_pointer(key: str) -> bool:
    return _POINTER.fullmatch(key) is not None


def _check_single(value: Any, pointer: str) -> None:
    kind = type(value)
    if kind is int:
        if abs(value) > _LARGEST:
            raise _refused(
                f"the whole number {str(value)[:24]}",
                "Whole numbers up to 2^53 - 1",
                "A number that belongs in a text",
                pointer or "Record",
            )
    elif kind is not bool:
        raise _refused(
            "an empty value" if value is None else f"a value of the type {kind.__name__}",
            "Texts, whole numbers, true or false, lists and objects",
            "Fractions are written as texts, missing values are left out",
            pointer or "Record",
        )


def _check_depth(depth: int, pointer: str) -> None:
    if depth > MAX_DEPTH:
        raise _refused(
            f"more than {MAX_DEPTH} levels inside each other",
            f"At most {MAX_DEPTH} levels",
            "The file was made to do harm, or is of another kind",
            pointer[:40] or "Record",
        )


def _bad_text(fault: str, where: str) -> RecordError:
    return _refused(
        f"a text with {fault}",
        "Text that every store and every computer can keep",
        "Copied from a damaged file or another program",
        where,
        "Type the text anew",
    )


def _refused(
    found: str,
    allowed: str,
    cause: str,
    where: str = "Record",
    do: str = "Nothing was saved; correct it and try again",
) -> RecordError:
    return RecordError(where=where, found=found, allowed=allowed, cause=cause, do=do)
