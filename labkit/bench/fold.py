"""What a record says today: its own words with every later correction folded in.

Amendments are folded in topological order (each names those it knew of), then by
time and name, so that everybody who holds the same records reads the same. Two
amendments of one place that did not know of each other are rivals: both are
shown, until a third names both.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from labkit.bench.commitments import point
from labkit.bench.records import Record

__all__ = ["Folded", "amendment_heads", "fold", "folding_order", "void"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Folded:
    """A record as it reads today.

    ``body`` has the amendments folded in; ``rivals`` gives, for each disputed
    place, every amendment that claims it; ``amendments`` are those that count, in
    the order of folding; ``withdrawal`` is the record that made it void, if any.
    """

    record: Record
    body: Mapping[str, Any]
    rivals: Mapping[str, tuple[Record, ...]]
    amendments: tuple[Record, ...]
    withdrawal: Record | None

    @property
    def original(self) -> Mapping[str, Any]:
        """What was recorded first."""
        return self.record.body


def void(withdrawals: Iterable[Record]) -> dict[str, Record]:
    """Which records are void, and by which withdrawal; a withdrawal can be withdrawn too.

    Examples
    --------
    >>> void([])
    {}
    """
    against: dict[str, list[Record]] = {}
    for record in sorted(withdrawals, key=_age):
        for name in record.about:
            against.setdefault(name, []).append(record)
    counts: dict[str, bool] = {}

    def stands(withdrawal: Record) -> bool:
        if withdrawal.id not in counts:
            counts[withdrawal.id] = not any(map(stands, against.get(withdrawal.id, ())))
        return counts[withdrawal.id]

    found = {}
    for name, several in against.items():
        standing = [one for one in several if stands(one)]
        if standing:
            found[name] = standing[0]
    return found


def folding_order(amendments: Iterable[Record]) -> list[Record]:
    """Amendments so that each comes after those it names, then by time and name."""
    waiting = {record.id: record for record in amendments}
    after = {
        name: {parent for parent in record.body.get("parents", ()) if parent in waiting}
        for name, record in waiting.items()
    }
    ordered: list[Record] = []
    while after:
        ready = sorted((waiting[n] for n, parents in after.items() if not parents), key=_age)
        ordered.extend(ready)
        done = {record.id for record in ready}
        after = {n: parents - done for n, parents in after.items() if n not in done}
    return ordered


def amendment_heads(amendments: Iterable[Record]) -> dict[str, tuple[Record, ...]]:
    """For each place, the amendments of it that no other amendment of it follows."""
    ordered = folding_order(amendments)
    behind: dict[str, set[str]] = {}
    for record in ordered:
        parents = [p for p in record.body.get("parents", ()) if p in behind]
        behind[record.id] = set(parents).union(*(behind[p] for p in parents))
    heads: dict[str, tuple[Record, ...]] = {}
    for path in dict.fromkeys(record.body["path"] for record in ordered):
        same = [record for record in ordered if record.body["path"] == path]
        passed: set[str] = set().union(*(behind[record.id] for record in same))
        heads[path] = tuple(record for record in same if record.id not in passed)
    return heads


def fold(
    record: Record, amendments: Sequence[Record] = (), withdrawn: Mapping[str, Record] | None = None
) -> Folded:
    """A record as it reads today.

    Parameters
    ----------
    record : Record
        The record itself.
    amendments : sequence of Record
        Every amendment about it, in any order.
    withdrawn : mapping
        What is void, from :func:`void`.

    Returns
    -------
    Folded
    """
    withdrawn = withdrawn or {}
    standing = [one for one in amendments if one.id not in withdrawn and record.id in one.about]
    ordered = folding_order(standing)
    body: dict[str, Any] = copy.deepcopy(dict(record.body)) if ordered else dict(record.body)
    for amendment in ordered:
        holder, key = point(body, amendment.body["path"], make=True)
        if holder is not None:
            holder[key] = copy.deepcopy(amendment.body["now"])
    heads = amendment_heads(ordered) if len(ordered) > 1 else {}
    rivals = {path: several for path, several in heads.items() if len(several) > 1}
    return Folded(
        record=record,
        body=MappingProxyType(body),
        rivals=MappingProxyType(rivals),
        amendments=tuple(ordered),
        withdrawal=withdrawn.get(record.id),
    )


def _age(record: Record) -> tuple[str, str]:
    return record.created, record.id
