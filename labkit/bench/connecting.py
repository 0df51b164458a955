"""How a bench file or server is reached, and what its faults mean in words.

Rollback journal (DELETE), synchronous=EXTRA and BEGIN IMMEDIATE: the journal
mode that survives two notebooks on one file with the SQLite copies in the
field, at about a millisecond per trial.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import DBAPIError, SQLAlchemyError
from sqlalchemy.pool import ConnectionPoolEntry, QueuePool

from labkit.errors import StoreError

__all__ = ["BUSY_S", "file_engine", "server_engine", "told"]

BUSY_S = 30.0
"""How long one notebook waits for another that is writing [s]."""

_WORDS = {
    "SQLITE_FULL": (
        "the disk is full",
        "Some free space beside the bench file",
        "Other files took the space",
        "Make room and record it again; nothing that was recorded is lost",
    ),
    "SQLITE_READONLY": (
        "the file or its folder can only be read",
        "A folder in which files may be written",
        "A write-protected disk, a folder of someone else, or the file was opened to read only",
        "Copy the file to a folder of your own and open it there",
    ),
    "SQLITE_BUSY": (
        "another program holds the file and did not let go in time",
        "One writer at a time, each for a moment",
        "A backup or sync program, or another notebook in the middle of a long write",
        "Close the other program or wait, then record it again; nothing was saved",
    ),
    "SQLITE_CANTOPEN": (
        "the file cannot be opened",
        "A file in a folder that exists and may be read",
        "The folder is missing, or belongs to someone else",
        "Check the path, or choose another folder",
    ),
    "SQLITE_NOTADB": (
        "this is no bench file",
        "A file made by Bench.open",
        "It is a file of another kind, or was renamed",
        "Open another file; this one was left as it is",
    ),
    "SQLITE_CORRUPT": (
        "the file is damaged",
        "A bench file copied with bench.backup",
        "It was copied while in use, or the disk is failing",
        "Keep the file, open the newest backup, and merge what can still be read",
    ),
    "SQLITE_IOERR": (
        "the disk did not read or write",
        "A disk that is connected and sound",
        "A stick was pulled out, a network drive went away, or a size limit was reached",
        "Reconnect it and try again; nothing was saved",
    ),
    "SQLITE_CONSTRAINT": (
        "a row that may not be changed or must be there",
        "Records are added, never changed or removed",
        "Another program tried to change the history",
        "Add a note, an amendment or a withdrawal",
    ),
}
_OTHER = (
    "the store refused",
    "A bench file or server that answers",
    "The connection, the account or its rights",
    "Nothing was saved; check the connection and try again",
)


@contextlib.contextmanager
def told(where: str) -> Iterator[None]:
    """Tell a fault of the store in words."""
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error) as error:
        origin = error.orig if isinstance(error, DBAPIError) else error
        name = getattr(origin, "sqlite_errorname", "")
        found, allowed, cause, do = next(
            (words for start, words in _WORDS.items() if name.startswith(start)), _OTHER
        )
        raise StoreError(
            where=where, found=found, allowed=allowed, cause=cause, do=do, detail=str(origin)
        ) from error


def file_engine(file: Path, *, read_only: bool, busy_s: float = BUSY_S) -> Engine:
    """An engine on one SQLite file, with the driver's own transactions switched off."""
    mode = "ro" if read_only else "rwc"
    address = f"{file.as_uri()}?mode={mode}"

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(
            address, uri=True, timeout=busy_s, isolation_level=None, check_same_thread=False
        )
        if not read_only:
            connection.execute("PRAGMA journal_mode=DELETE")
        connection.execute("PRAGMA synchronous=EXTRA")
        connection.execute("PRAGMA foreign_keys=ON")
        connection.execute("PRAGMA cache_size=-32768")
        return connection

    engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool)
    event.listen(engine, "begin", _begin)
    return engine


def _begin(connection: Connection) -> None:
    writing = connection.get_execution_options().get("labkit_writing", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def server_engine(address: str) -> Engine:
    """An engine on a PostgreSQL server, for a studio or a class."""
    engine = create_engine(address)

    def utc(connection: Any, _: ConnectionPoolEntry) -> None:
        with connection.cursor() as cursor:
            cursor.execute("SET TIME ZONE 'UTC'")
        connection.commit()

    event.listen(engine, "connect", utc)
    return engine
