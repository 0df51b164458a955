"""The kinds of records a history is made of, and what each must hold.

A record is read from its bytes and never written again. Each kind has a schema
``labkit/<kind>/<version>`` with a closed list of fields; a record of an older
version is raised by a pure function when it is read, one of a newer version (or
of an unknown kind) is kept as bytes and shown as such.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import orjson

from labkit.bench.canonical import DECIMAL, canonical, parse, record_id, visible
from labkit.bench.commitments import Opening, reveal
from labkit.errors import RecordError

__all__ = ["KINDS", "Record", "check_body", "edges", "fields_of", "make", "opened", "read"]

_EVENT = "schema=text! workspace=text! author=text! created=instant! parents=hashes private=private"
_CONTENT = "schema=text! private=private"

KINDS: dict[str, str] = {
    "material": f"{_CONTENT} material=object!",
    "formula": f"{_CONTENT} formula=object! note=text",
    "trial": f"{_EVENT} label=text! formula=object! note=text forecast=object brief=object "
    "batch=hash materials=list prices=any files=list software=object",
    "batch": f"{_EVENT} about=hashes label=text formula=object mass_g=decimal weighings=list "
    "process=list conditions=object uses=hashes note=text",
    "lot": f"{_EVENT} name=text! material=hash supplier=text lot=text received=text expiry=text "
    "opened=text mass_g=decimal price=any note=text uses=hashes",
    "measurement": f"{_EVENT} about=hashes! quantity=text! value=decimal word=text unit=text "
    "text=text bound=text low=decimal high=decimal replicates=list conditions=object at_h=decimal "
    "details=object files=list note=text",
    "correction": f"{_EVENT} about=hashes! reason=text! additions=list before=object after=object "
    "formula=object uses=hashes note=text",
    "note": f"{_EVENT} about=hashes! text=text! tags=list",
    "photo": f"{_EVENT} about=hashes! photo=hash! media_type=text! width=count! height=count! "
    "caption=text details=object",
    "stability": f"{_EVENT} about=hashes! event=text! condition=text pull=text plan=object "
    "observations=object note=text",
    "challenge": f"{_EVENT} about=hashes! counts=list! method=text criteria=text results=object "
    "note=text",
    "acceptance": f"{_EVENT} about=hashes code=text! reason=text! finding=object",
    "decision": f"{_EVENT} about=hashes! verdict=text! reason=text! next=text",
    "sample": f"{_EVENT} name=text! sort=text! uses=hashes details=object note=text",
    "model": f"{_EVENT} name=text! model=object! data=hashes seed=count software=object note=text",
    "amendment": f"{_EVENT} about=hashes! path=text! was=any now=any! reason=text!",
    "withdrawal": f"{_EVENT} about=hashes! reason=text!",
    "seal": f"{_EVENT} count=count! digest=hash! note=text",
    "redaction": f"{_EVENT} about=hashes! pointers=list! reason=text!",
}
"""Every kind of record: its fields, ``!`` where one must be there."""

_VERSION = 1
_SCHEMA = re.compile(r"labkit/([a-z]+)/([1-9]\d{0,3})")
_HASH = re.compile(r"[0-9a-f]{64}")
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?Z")
_RAISE: dict[str, Callable[[dict[str, Any]], dict[str, Any]]] = {}
"""Old schema → a pure function that returns the body in the next version."""

_WORDS: dict[str, tuple[Callable[[Any], bool], str]] = {
    "text": (lambda v: isinstance(v, str), "a text"),
    "decimal": (
        lambda v: isinstance(v, str) and DECIMAL.fullmatch(v) is not None,
        "a decimal number written as text",
    ),
    "count": (lambda v: type(v) is int and v >= 0, "a whole number"),
    "hash": (
        lambda v: isinstance(v, str) and _HASH.fullmatch(v) is not None,
        "the 64-digit name of a record or file, never a path",
    ),
    "hashes": (
        lambda v: (
            isinstance(v, list)
            and all(isinstance(h, str) and _HASH.fullmatch(h) for h in v)
            and v == sorted(set(v))
        ),
        "a sorted list of record names, each once",
    ),
    "instant": (
        lambda v: isinstance(v, str) and _INSTANT.fullmatch(v) is not None,
        "a UTC time such as 2026-11-24T09:00:00Z",
    ),
    "object": (lambda v: isinstance(v, dict), "a table of values"),
    "list": (lambda v: isinstance(v, list), "a list"),
    "private": (
        lambda v: (
            isinstance(v, dict)
            and all(isinstance(h, str) and _HASH.fullmatch(h) for h in v.values())
        ),
        "commitments by place",
    ),
    "any": (lambda _: True, "a value"),
}


@dataclass(frozen=True, slots=True)
class Record:
    """One record of the history: its name, its kind, and what it says.

    ``body`` is what is read (raised to the present version, private values put
    back where they are known); ``raw`` the bytes that the name stands for.
    """

    id: str
    kind: str
    known: bool
    body: Mapping[str, Any] = field(compare=False)
    raw: bytes

    @property
    def created(self) -> str:
        """When it was made (UTC), or an empty text for a record without a time."""
        return str(self.body.get("created", ""))

    @property
    def about(self) -> tuple[str, ...]:
        """The records that this one speaks of."""
        named = self.body.get("about", ())
        return tuple(named) if isinstance(named, list) else ()

    def __repr__(self) -> str:
        return f"<{self.kind} {self.id[:12]}: {self.summary()}>"

    def summary(self) -> str:
        """One line of what it says."""
        if not self.known:
            return f"written by a newer labkit ({visible(str(self.body.get('schema', '?')))[:60]})"
        for name in ("text", "caption", "reason", "name", "label", "quantity", "digest", "note"):
            if isinstance(said := self.body.get(name), str) and said:
                return visible(said)[:80]
        return ""

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><th style='text-align:left'>{html.escape(key)}</th>"
            f"<td style='text-align:left'>{html.escape(visible(_shown(value)))}</td></tr>"
            for key, value in self.body.items()
            if key not in {"schema", "workspace", "author", "parents", "private", "about"}
        )
        return (
            f"<details><summary><b>{html.escape(self.kind)}</b> "
            f"{html.escape(self.summary())}</summary><table>{rows}"
            f"<tr><th style='text-align:left'>id</th><td>{self.id}</td></tr></table></details>"
        )


def _shown(value: Any) -> str:
    text = value if isinstance(value, str) else orjson.dumps(value).decode()
    return text if len(text) <= 400 else text[:400] + " …"


def make(kind: str, body: Mapping[str, Any]) -> Record:
    """Make a record from a plain body: schema added, checked, canonical, named.

    Raises
    ------
    RecordError
        An unknown kind, a field that is missing, unknown or of the wrong sort.

    Examples
    --------
    >>> make("material", {"material": {"name": "glycerin"}}).id[:12]
    '0964b5cd6e44'
    """
    if kind not in KINDS:
        raise RecordError(
            where="Record",
            found=f"the kind '{visible(kind)[:40]}'",
            allowed=", ".join(KINDS),
            cause="A kind that this labkit does not keep",
            do="Choose one of these kinds",
        )
    full = {"schema": f"labkit/{kind}/{_VERSION}"} | dict(body)
    raw = canonical(full)
    check_body(kind, full)
    return Record(record_id(raw), kind, True, full, raw)


def read(raw: bytes, name: str | None = None, *, again: bool = False) -> Record:
    """Read a record from its bytes; a newer one than this labkit knows is kept as it is.

    ``again`` spares the walk through bytes that were checked when they came in and
    still have their name.

    Raises
    ------
    RecordError
        The bytes differ from the name, are not canonical, or lack what their kind must have.
    """
    found = record_id(raw)
    if name is not None and found != name:
        raise RecordError(
            where=f"Record {name[:12]}",
            found="its content differs from its name",
            allowed="Content as it was when it was recorded",
            cause="It was changed afterwards, or the disk or copy is damaged",
            do="Take this record from a backup or from someone who has the same history",
            record=name,
        )
    body = orjson.loads(raw) if again and name is not None else parse(raw)
    schema = body.get("schema")
    match = _SCHEMA.fullmatch(schema) if isinstance(schema, str) else None
    if match is None:
        raise RecordError(
            where=f"Record {found[:12]}",
            found="no schema such as labkit/trial/1",
            allowed="A record of a labkit history",
            cause="The file is of another kind",
            do="Leave it out",
            record=found,
        )
    kind = match.group(1)
    while schema in _RAISE:
        body = _RAISE[schema](body)
        schema = body["schema"]
    known = kind in KINDS and schema == f"labkit/{kind}/{_VERSION}"
    if known and not again:
        check_body(kind, body, found)
    return Record(found, kind, known, body, raw)


def opened(record: Record, openings: Iterable[Opening]) -> Record:
    """The record with its private values put back where they are known."""
    openings = tuple(openings)
    if not openings:
        return record
    return Record(record.id, record.kind, record.known, reveal(record.body, openings), record.raw)


@cache
def fields_of(kind: str) -> dict[str, tuple[str, bool]]:
    """The fields of a kind: the sort of each, and whether it must be there."""
    pairs = (word.split("=") for word in KINDS[kind].split())
    return {name: (sort.rstrip("!"), sort.endswith("!")) for name, sort in pairs}


def check_body(kind: str, body: Mapping[str, Any], name: str = "") -> None:
    """Hold a body against the fields of its kind.

    Raises
    ------
    RecordError
        The first field that is missing, unknown or of the wrong sort.
    """
    fields = fields_of(kind)
    for place in body:
        if place not in fields:
            raise _bad_field(kind, name, place, "is not a field of this kind", ", ".join(fields))
    hidden = body.get("private", {})
    for place, (sort, needed) in fields.items():
        if place not in body:
            if needed and f"/{place}" not in hidden:
                raise _bad_field(kind, name, place, "is missing", _WORDS[sort][1])
            continue
        fits, words = _WORDS[sort]
        if not fits(body[place]):
            raise _bad_field(kind, name, place, f"is {_shown(body[place])[:60]}", words)


def _bad_field(kind: str, name: str, field: str, found: str, allowed: str) -> RecordError:
    return RecordError(
        where=f"{kind.capitalize()} record {name[:12]}".strip(),
        found=f"'{visible(field)[:40]}' {found}",
        allowed=allowed[0].upper() + allowed[1:],
        cause="The record was made by hand or by another program",
        do="Nothing was saved; correct the field and try again",
        record=name,
        field=field,
    )


def edges(body: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """The records that a body names, each with its role: parent, about or uses."""
    named = dict.fromkeys(
        (role, name)
        for field, role in _ROLES.items()
        if field in body
        for name in _names_in(body[field])
    )
    for role, name in named:
        if _HASH.fullmatch(name):
            yield role, name


_ROLES = {
    "parents": "parent",
    "about": "about",
    "uses": "uses",
    "batch": "uses",
    "material": "uses",
    "materials": "uses",
    "data": "uses",
}


def _names_in(value: Any) -> list[str]:
    if isinstance(value, str):
        return [value]
    if not isinstance(value, list):
        return []
    named = (one.get("material") if isinstance(one, dict) else one for one in value)
    return [name for name in named if isinstance(name, str)]
