"""What a trial is called: labels, unique in one bench, and how a trial is found by them."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from typing import Any

from sqlalchemy import select

from labkit.bench.canonical import plain
from labkit.bench.layout import meta, trial_index
from labkit.bench.store import Store
from labkit.bench.writing import Writer
from labkit.errors import RecordError

__all__ = ["called", "check_label", "find_trial", "free_label", "labels", "next_number"]

_HEX = re.compile(r"[0-9a-f]{4,64}")
_LONGEST = 60
ALIAS = "alias:"
"""How the short name of another bench is kept in ``meta``."""


def labels(store: Store, names: Sequence[str] | None = None) -> dict[str, str]:
    """The id of every trial (or of some) → what it is called here.

    A trial that came from another bench carries that bench's alias behind an @.
    """
    table = trial_index
    query = select(table.c.record, table.c.origin, table.c.label).where(store.here(table))
    if names is not None and len(names) <= 500:
        query = query.where(table.c.record.in_(names))
    with store.reading() as connection:
        found = connection.execute(query).all()
    return called(store, *zip(*found, strict=True)) if found else {}


def called(
    store: Store, names: Sequence[str], origins: Sequence[str], own: Sequence[str]
) -> dict[str, str]:
    """What trials are called here: their own label, with the alias of a foreign bench."""
    if set(origins) <= {store.workspace}:
        return dict(zip(names, own, strict=True))
    with store.reading() as connection:
        aliases = {
            row.key.removeprefix(ALIAS): row.value
            for row in connection.execute(select(meta).where(meta.c.key.startswith(ALIAS)))
        }
    return {
        name: label if origin == store.workspace else f"{label}@{aliases.get(origin, origin[:4])}"
        for name, origin, label in zip(names, origins, own, strict=True)
    }


def check_label(label: str) -> str:
    """A label as it will be kept.

    Raises
    ------
    RecordError
        Empty, too long, or with an @, which names another bench.

    Examples
    --------
    >>> check_label("  HC-07b ")
    'HC-07b'
    """
    shown = " ".join(str(plain(label, "Label")).split())
    if not shown or len(shown) > _LONGEST or "@" in shown or not shown.isprintable():
        raise RecordError(
            where="Label",
            found=f"'{shown[:70]}'",
            allowed=f"1 to {_LONGEST} signs without @, such as HC-07b",
            cause="A note was written into the label, or it was left empty",
            do="Shorten it, and put the rest into note=",
        )
    return shown


def next_number(store: Store) -> int:
    """One more than the highest automatic label (T1, T2 …) of this bench."""
    table = trial_index
    query = select(table.c.label).where(
        store.here(table), table.c.label.like("T%"), table.c.origin == store.workspace
    )
    with store.reading() as connection:
        found = connection.execute(query).scalars()
        numbers = [int(label[1:]) for label in found if re.fullmatch(r"T\d{1,9}", label)]
    return max(numbers, default=0) + 1


def free_label(writer: Writer, wanted: str | None, start: int) -> str:
    """The label asked for if it is free, else the next free automatic one.

    Raises
    ------
    RecordError
        The label asked for is taken.
    """
    if wanted is not None:
        if _taken(writer, wanted):
            raise RecordError(
                where=f"Label {wanted}",
                found="another trial is called that already",
                allowed="A label that is still free in this bench",
                cause="The trial was recorded before, or the number was used twice",
                do="Choose another label; nothing was saved",
                label=wanted,
            )
        return wanted
    while _taken(writer, f"T{start}"):
        start += 1
    return f"T{start}"


def _taken(writer: Writer, label: str) -> bool:
    table = trial_index
    query = select(table.c.record).where(
        table.c.workspace == writer.workspace,
        table.c.label == label,
        table.c.origin == writer.workspace,
    )
    return writer.connection.execute(query).first() is not None


def find_trial(store: Store, text: str) -> str:
    """The id of the trial that a label or the start of an id means.

    Raises
    ------
    RecordError
        None is called that, or several begin so; the nearest are named.
    """
    asked = text.strip()
    table = trial_index
    query = select(table.c.record).where(store.here(table), table.c.label == asked)
    own = query.where(table.c.origin == store.workspace)
    with store.reading() as connection:
        found = connection.execute(own).scalars().all()
        if not found:
            found = connection.execute(query).scalars().all()
        if not found and _HEX.fullmatch(asked):
            start = select(table.c.record).where(
                store.here(table), table.c.record.startswith(asked, autoescape=True)
            )
            found = connection.execute(start.limit(6)).scalars().all()
    if not found:
        called = labels(store)
        folded = asked.casefold()
        spellings = {folded, f"t{folded}"} if asked.isdecimal() else {folded}
        found = [name for name, label in called.items() if label.casefold() in spellings]
    if len(found) == 1:
        return str(found[0])
    raise _not_found(store, asked, list(found))


def _not_found(store: Store, asked: str, found: list[Any]) -> RecordError:
    called = labels(store)
    if found:
        near = [f"{called.get(name, '?')} ({name[:12]})" for name in found]
    else:
        near = difflib.get_close_matches(asked, called.values(), n=3, cutoff=0.5)
    return RecordError(
        where=f"Trial '{asked[:40]}'",
        found="several trials answer to that" if found else "no trial of this bench is called that",
        allowed="A label such as HC-07b, or at least four signs of an id",
        cause="The label was mistyped, or the trial lies in another bench",
        do=f"Did you mean {' or '.join(near)}?" if near else "Look at bench.trials()",
    )
