"""Rows of the derived tables, each a pure function of one record.

Because a row depends on its own record alone (amendments and withdrawals are
folded when reading), the index never has to be changed, only added to, and the
order in which records arrive does not matter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from labkit.bench.conditions import conditions_text
from labkit.bench.measuring import base_values, number_of
from labkit.bench.records import Record, edges

__all__ = ["measurement_rows", "rows"]

Row = dict[str, Any]
_CONDITIONS = ("temperature_c", "speed_rpm", "torque_percent")
_WORDS = ("dilution", "spindle", "instrument", "method")
_NAMES = ("label", "name")
_TEXTS = ("text", "note", "caption", "reason", "next")


def rows(record: Record) -> dict[str, list[Row]]:
    """What the derived tables hold for one record, by table name.

    Examples
    --------
    >>> from labkit.bench.records import make
    >>> sorted(rows(make("material", {"material": {"name": "glycerin"}})))
    ['edge', 'measurement_index', 'text_index', 'trial_index']
    """
    special = _BY_KIND.get(record.kind) if record.known else None
    found: dict[str, list[Row]] = {
        "edge": [
            {"child": record.id, "parent": parent, "role": role}
            for role, parent in edges(record.body)
        ],
        "trial_index": [],
        "measurement_index": [],
        "text_index": list(_text_rows(record)) if record.known else [],
    }
    if special is not None:
        special(record, found)
    return found


def _trial(record: Record, found: dict[str, list[Row]]) -> None:
    body = record.body
    formula = body.get("formula", {})
    lines = [line for line in formula.get("lines", ()) if isinstance(line, dict)]
    found["trial_index"].append(
        {
            "record": record.id,
            "origin": body["workspace"],
            "label": body.get("label", ""),
            "name": str(formula.get("name", "")),
            "note": body.get("note", ""),
            "created": record.created,
            "author": body["author"],
            "parents": " ".join(body.get("parents", ())),
            "lines": len(lines),
            "batch": body.get("batch"),
        }
    )


def _measurement(record: Record, found: dict[str, list[Row]]) -> None:
    found["measurement_index"].extend(measurement_rows(record.id, record.body))


def measurement_rows(name: str, body: Mapping[str, Any]) -> Iterator[Row]:
    """One row per replicate of a measurement, values in the unit its quantity is kept in."""
    conditions = body.get("conditions", {})
    about = body.get("about", ())
    shared = {
        "record": name,
        "subject": about[0] if about else "",
        "quantity": body["quantity"],
        "at_h": number_of(body.get("at_h")),
        "created": str(body.get("created", "")),
        "note": body.get("note", ""),
        "conditions": conditions_text(conditions),
    }
    shared |= {key: number_of(conditions.get(key)) for key in _CONDITIONS}
    shared |= {key: _word(conditions.get(key)) for key in _WORDS}
    for replicate, reading in enumerate(body.get("replicates", [body])):
        if isinstance(reading, Mapping):
            yield {**shared, "replicate": replicate, **base_values(body["quantity"], reading)}


def _word(value: Any) -> str | None:
    return value if isinstance(value, str) else None


def _text_rows(record: Record) -> Iterator[Row]:
    body = record.body
    names = [str(body[field]) for field in _NAMES if field in body]
    formula = body.get("formula")
    if isinstance(formula, dict):
        names.append(str(formula.get("name", "")))
        names += [
            str(line.get("material", ""))
            for line in formula.get("lines", ())
            if isinstance(line, dict)
        ]
    said = [str(body[field]) for field in _TEXTS if field in body]
    said += [str(tag) for tag in body.get("tags", ())]
    words = "\n".join(names + said)
    if words.strip():
        about = record.about
        yield {
            "record": record.id,
            "subject": about[0] if about else record.id,
            "words": words.casefold(),
        }


_BY_KIND: dict[str, Callable[[Record, dict[str, list[Row]]], None]] = {
    "trial": _trial,
    "measurement": _measurement,
}
