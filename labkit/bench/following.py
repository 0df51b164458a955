"""What came in since the last look: a cheap question for a screen that follows a bench."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import ColumnElement, Integer, func, literal_column, select

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
    arrival = _arrival(store)
    with store.reading() as connection:
        if cursor is None:
            last = connection.execute(select(func.max(arrival)).where(store.here(record))).scalar()
            return News(records=(), cursor=last or 0, more=False)
        query = (
            select(record.c.hash, arrival.label("arrival"))
            .where(store.here(record), arrival > cursor)
            .order_by(arrival)
            .limit(limit + 1)
        )
        found = connection.execute(query).all()
    shown = found[:limit]
    return News(
        records=tuple(store.records([row.hash for row in shown])),
        cursor=shown[-1].arrival if shown else cursor,
        more=len(found) > limit,
    )


def _arrival(store: Store) -> ColumnElement[int]:
    """Writers of one bench take turns in both stores, so this number grows as they commit."""
    name = "record.arrival" if store.file is None else "record.rowid"
    return literal_column(name, Integer)
