"""Rebuilding the derived tables from the records, which are the truth."""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import select

from labkit.bench import layout
from labkit.bench.records import opened, read
from labkit.bench.store import Store
from labkit.errors import LabkitError

__all__ = ["reindex"]

_CHUNK = 2_000


def reindex(store: Store, progress: Callable[[int, int], None] | None = None) -> int:
    """Empty the derived tables and fill them again, in one transaction.

    A record whose bytes do not hold is passed over (``verify`` names it), and so is
    an edge to a record that is missing.

    Returns
    -------
    int
        How many records were read.
    """
    table, last, done = layout.record, "", 0
    with store.writing() as writer:
        here = select(table.c.hash).where(store.here(table))
        names = set(writer.connection.execute(here).scalars())
        writer.forget_derived()
        while True:
            query = select(table.c.hash, table.c.body).where(store.here(table), table.c.hash > last)
            chunk = writer.connection.execute(query.order_by(table.c.hash).limit(_CHUNK)).all()
            if not chunk:
                return done
            last, done = chunk[-1].hash, done + len(chunk)
            openings = store.openings_in(
                writer.connection, [row.hash for row in chunk if b'"private":' in row.body]
            )
            sound = []
            for row in chunk:
                try:
                    record = opened(read(row.body, row.hash), openings.get(row.hash, ()))
                except LabkitError:
                    continue
                sound.append(record)
            writer.derive(sound, present=names)
            if progress is not None:
                progress(done, len(names))
