"""What came in since the last look: a cheap question for a screen that follows a bench."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import ColumnElement, Integer, func, literal_column, select, true

from labkit.bench.layout import record
from labkit.bench.records import Record
from labkit.bench.store import Store

__all__ = ["News", "news"]


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """Records in the order in which they arrived, and from where to ask on.

    ``more`` says that others wait already.
    """

    records: tuple[Record, ...]
    cursor: int
    more: bool


def news(store: Store, cursor: int | None = None, limit: int = 500) -> News:
    """What arrived after a cursor; without one nothing, and the cursor of now."""
    arrival, here = _arrival(store)
    with store.reading() as connection:
        if cursor is None:
            newest = select(func.max(arrival)).select_from(record).where(here)
            last = connection.execute(newest).scalar()
            return News(records=(), cursor=last or 0, more=False)
        query = (
            select(record.c.hash, arrival.label("arrived"))
            .where(here, arrival > cursor)
            .order_by(arrival)
            .limit(limit + 1)
        )
        found = connection.execute(query).all()
    shown = found[:limit]
    return News(
        records=tuple(store.records([row.hash for row in shown])),
        cursor=shown[-1].arrived if shown else cursor,
        more=len(found) > limit,
    )


def _arrival(store: Store) -> tuple[ColumnElement[int], ColumnElement[bool]]:
    """A number that grows as records are committed (writers of one bench take turns).

    A file holds one bench, so there the number alone is asked for, which is faster.
    """
    if store.file is None:
        return literal_column("record.arrival", Integer), store.here(record)
    return literal_column("record.rowid", Integer), true()
