"""How a bench file or server is reached, and what its faults mean in words.

Rollback journal (DELETE), synchronous=EXTRA and BEGIN IMMEDIATE: the journal
mode that survives two notebooks on one file with the SQLite copies in the
field, at about a millisecond per trial.
"""

from __future__ import annotations

import contextlib
import math
import sqlite3
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import DBAPIError, DisconnectionError, SQLAlchemyError
from sqlalchemy.pool import ConnectionPoolEntry, NullPool, QueuePool

from labkit.errors import StoreError

__all__ = [
    "BUSY_S",
    "ServedBench",
    "bench_of",
    "file_engine",
    "server_address",
    "server_engine",
    "told",
]

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
_SERVER_WORDS = {
    "42501": (
        "the database did not allow it",
        "Records in your own name in a bench you may write in, notes where you teach",
        "It was written in another name, for somebody else's bench, or would change what is there",
        "Nothing was saved; open your own bench, or add a note",
    ),
    "23": _WORDS["SQLITE_CONSTRAINT"],
    "25006": (
        "this bench was opened to look only",
        "A bench opened without read_only",
        "It was opened with read_only=True, or the server is a copy",
        "Open it again to record; nothing was saved",
    ),
    "28": (
        "the server does not know this login, or not with this password",
        "The login and password given by whoever runs the server",
        "A mistyped password, or an old one",
        "Check both, or ask for a new password",
    ),
    "3D": (
        "the server has no such database",
        "A database made ready with labkit server init",
        "The name at the end of the address was mistyped",
        "Check the address",
    ),
    "42P01": (
        "this database holds no bench",
        "A database made ready with labkit server init",
        "The name at the end of the address was mistyped",
        "Check the address",
    ),
    "53100": _WORDS["SQLITE_FULL"],
    "53300": (
        "the server has no place left for another connection",
        "Fewer open notebooks, or a higher max_connections on the server",
        "Many notebooks are open at once",
        "Close notebooks that are not used; nothing was saved",
    ),
    "55P03": (
        "another notebook writes to this bench and did not let go in time",
        "One writer at a time in one bench, each for a moment",
        "A long merge, or a notebook that hangs",
        "Wait, then record it again; nothing was saved",
    ),
    "lost": (
        "the server does not answer, or does not let this login in",
        "A server that runs and can be reached, and the login and password given by who runs it",
        "The server or the network is off, or address, login or password are mistyped",
        "Check the address and the network, then do it again; what was told as recorded is kept",
    ),
}
"""By the start of the SQLSTATE, as the PostgreSQL manual lists them (appendix A)."""
_LOST = ("08", "57P")
_REST_S = 2.0
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
        found, allowed, cause, do = _words_for(origin)
        raise StoreError(
            where=where, found=found, allowed=allowed, cause=cause, do=do, detail=str(origin)
        ) from error


def _words_for(origin: BaseException | None) -> tuple[str, str, str, str]:
    if origin is not None and hasattr(origin, "sqlstate"):
        state: str = origin.sqlstate or ("lost" if isinstance(origin, _connection_error()) else "")
        words, state = _SERVER_WORDS, "lost" if state.startswith(_LOST) else state
    else:
        words, state = _WORDS, getattr(origin, "sqlite_errorname", "")
    return next((said for start, said in words.items() if state.startswith(start)), _OTHER)


def _connection_error() -> type[BaseException]:
    import psycopg

    return psycopg.OperationalError


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


def server_address(address: str) -> URL:
    """The address of a database; a bare name is one on this computer.

    Raises
    ------
    StoreError
        It is no address, or of a database of another kind.

    Examples
    --------
    >>> server_address("studio").render_as_string()
    'postgresql+psycopg:///studio'
    >>> server_address("postgres://lena@bench.example/studio").drivername
    'postgresql+psycopg'
    """
    try:
        url = make_url(address if "://" in address else f"postgresql+psycopg:///{address}")
    except (SQLAlchemyError, ValueError) as error:
        raise _no_address(address) from error
    if url.drivername not in {"postgres", "postgresql", "postgresql+psycopg"} or not url.database:
        raise _no_address(address)
    return url.set(drivername="postgresql+psycopg")


@dataclass(frozen=True, slots=True)
class ServedBench:
    """A bench on a server: the address of the database, and which bench in it."""

    url: URL
    bench: str

    def __str__(self) -> str:
        host = self.url.host or "this computer"
        at = f"bench {self.bench} at " if self.bench else ""
        return f"{at}{self.url.database} on {host}"


def bench_of(address: str) -> ServedBench:
    """The database and the bench that an address means.

    Examples
    --------
    >>> print(bench_of("postgresql+psycopg://anna@studio.example/lab?bench=lena"))
    bench lena at lab on studio.example
    """
    url = server_address(address)
    bench = url.query.get("bench", "")
    return ServedBench(url.difference_update_query(["bench"]), str(bench))


def _no_address(address: str) -> StoreError:
    return StoreError(
        where=address.rsplit("@", 1)[-1],
        found="this is no address of a bench on a server",
        allowed="postgresql+psycopg://login@host/database",
        cause="A part was left out, or it is a database of another kind",
        do="Copy the address that whoever runs the server gave out",
    )


def server_engine(
    url: URL,
    *,
    bench: str | None = None,
    read_only: bool = False,
    alone: bool = False,
    busy_s: float = BUSY_S,
) -> Engine:
    """An engine on a PostgreSQL server, for a studio or a class.

    ``bench`` is the one to sit at on each connection ("" for the login's own), on a
    server prepared for several people; ``alone`` keeps no connection open.
    """
    settings = {"timezone": "UTC", "lock_timeout": f"{round(busy_s * 1000)}ms"}
    if read_only:
        settings["default_transaction_read_only"] = "on"
    pool = NullPool if alone else QueuePool
    try:
        engine = create_engine(url, hide_parameters=True, poolclass=pool)
    except ImportError as error:
        raise StoreError(
            where=url.host or "Server",
            found="the part of labkit that speaks to servers is not installed",
            allowed="labkit with its server part",
            cause="labkit was installed for one person",
            do="pip install 'labkit[server]'",
        ) from error

    def sit(connection: Any, _: ConnectionPoolEntry) -> None:
        with connection.cursor() as cursor:
            for name, value in settings.items():
                cursor.execute("SELECT set_config(%s, %s, false)", [name, value])
            if bench is not None:
                cursor.execute("SELECT to_regprocedure('public.labkit_sit(text)') IS NOT NULL")
                if cursor.fetchone()[0]:
                    cursor.execute("SELECT labkit_sit(%s)", [bench])
        connection.commit()

    event.listen(engine, "connect", sit)
    event.listen(engine, "checkin", _rest)
    event.listen(engine, "checkout", _wake)
    return engine


def _rest(_: Any, entry: ConnectionPoolEntry) -> None:
    entry.info["rests_since"] = time.monotonic()


def _wake(connection: Any, entry: ConnectionPoolEntry, _: Any) -> None:
    """After a rest, see whether the server is still there; else the pool connects anew."""
    if time.monotonic() - entry.info.get("rests_since", math.inf) < _REST_S:
        return
    try:
        connection.execute("SELECT 1")
        connection.rollback()
    except _connection_error() as error:
        raise DisconnectionError from error
