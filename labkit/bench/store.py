"""The store of a bench: records go in, and come out as they went in."""

from __future__ import annotations

import contextlib
import hashlib
import os
import uuid
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Table, func, insert, inspect, select

from labkit.bench import layout
from labkit.bench.commitments import Opening
from labkit.bench.connecting import BUSY_S, bench_of, file_engine, server_engine, told
from labkit.bench.place import BenchPlaceWarning, bench_file, is_address, risky_place
from labkit.bench.records import Record, opened, read
from labkit.bench.rowrules import guards
from labkit.bench.seats import taken_seat, wait_for_turn
from labkit.bench.writing import Entropy, Writer
from labkit.errors import RecordError, StoreError

__all__ = ["Clock", "Store"]

Clock = Callable[[], datetime]


class Store:
    """One bench in one SQLite file or on a server.

    Parameters
    ----------
    where : path or str
        A file, a folder, or ``postgresql+psycopg://…``; ``?bench=name`` behind an address
        opens another bench than one's own, where a server has several.
    read_only : bool
        Open a file without ever writing to it.
    person : str, optional
        Who records; a new name gets a random id, and records carry only the id.
    clock, entropy : callable
        Where time and random bytes come from.
    busy_s : float
        How long to wait for another writer [s].
    """

    def __init__(
        self,
        where: str | os.PathLike[str],
        *,
        read_only: bool = False,
        person: str | None = None,
        clock: Clock | None = None,
        entropy: Entropy = os.urandom,
        busy_s: float = BUSY_S,
    ) -> None:
        self.file = None if is_address(where) else bench_file(where)
        self._server = bench_of(str(where)) if self.file is None else None
        self.place = str(self.file or self._server)
        self._read_only, self._busy_s = read_only, busy_s
        self._clock = clock or (lambda: datetime.now(UTC))
        self.entropy = entropy
        self._last = datetime.min.replace(tzinfo=UTC)
        if self.file is not None:
            self._look_at(self.file)
        self._engine, self._process = self._connect(), os.getpid()
        try:
            with told(self.place):
                self._prepare(person)
        except StoreError:
            self._engine.dispose()
            raise
        self._identity = self._file_identity()

    def _look_at(self, file: Path) -> None:
        if not file.parent.is_dir() or (self._read_only and not file.exists()):
            raise StoreError(
                where=str(file),
                found="there is no such folder" if not file.parent.is_dir() else "no such file",
                allowed="A file in a folder that exists",
                cause="The path was mistyped, or the disk is not connected",
                do="Make the folder first, or correct the path",
            )
        if risk := risky_place(file):
            warnings.warn(
                f"{file} lies in {risk}. A live bench file can be torn there. "
                "Keep it in a folder of this computer and share copies made with bench.backup.",
                BenchPlaceWarning,
                stacklevel=4,
            )

    def _connect(self) -> Engine:
        if self.file is not None:
            return file_engine(self.file, read_only=self._read_only, busy_s=self._busy_s)
        assert self._server is not None
        url, bench = self._server.url, self._server.bench
        return server_engine(url, bench=bench, read_only=self._read_only, busy_s=self._busy_s)

    @property
    def engine(self) -> Engine:
        """The engine of this process; a connection never crosses a fork."""
        if os.getpid() != self._process:
            self._engine.dispose(close=False)
            self._engine, self._process = self._connect(), os.getpid()
        return self._engine

    def _file_identity(self) -> tuple[int, int] | None:
        if self.file is None:
            return None
        try:
            found = self.file.stat()
        except OSError:
            return None
        return found.st_dev, found.st_ino

    def _prepare(self, person: str | None) -> None:
        with self._engine.connect() as connection, connection.begin():
            known = self._known_format(connection)
        if known is None:
            if self._read_only:
                raise _not_a_bench(self.place)
            with self._begin_writing() as connection:
                if self._known_format(connection) is None:
                    self._create(connection)
        with self._engine.connect() as connection, connection.begin():
            seat = None if self._server is None else taken_seat(connection, self._server)
            settings: dict[str, str] = {
                row.key: row.value for row in connection.execute(select(layout.meta))
            }
        if seat is not None:
            self.workspace, self.author = seat
            self._own_name(person)
            return
        self.workspace, self.author = settings["workspace"], settings["author"]
        if person is not None:
            self.author = self._person(person)

    def _own_name(self, person: str | None) -> None:
        """On a server for several people the login says who records."""
        query = select(layout.person.c.display_name).where(layout.person.c.id == self.author)
        with self.reading() as connection:
            known = connection.execute(query).scalar_one()
        if person is not None and person != known:
            raise StoreError(
                where=self.place,
                found=f"person='{person[:40]}'",
                allowed="No person=: each records under a login of their own here",
                cause="In a bench file the notebook says who records, on a server the login does",
                do="Leave person= away, or open the bench with the login of that person",
            )

    def _known_format(self, connection: Connection) -> int | None:
        if self.file is not None:
            mark = connection.exec_driver_sql("PRAGMA application_id").scalar_one()
            tables = connection.exec_driver_sql("SELECT count(*) FROM sqlite_master").scalar_one()
            if mark != layout.APPLICATION_ID and (tables or mark):
                raise _not_a_bench(self.place)
            if not tables:
                return None
        elif not inspect(connection).has_table("meta"):
            return None
        query = select(layout.meta.c.value).where(layout.meta.c.key == "format")
        found = int(connection.execute(query).scalar_one())
        if found > layout.FORMAT:
            raise StoreError(
                where=self.place,
                found=f"a bench of format {found}",
                allowed=f"Format {layout.FORMAT} or older",
                cause="It was made by a newer labkit",
                do="Update labkit; the file was left as it is",
            )
        return found

    def _create(self, connection: Connection) -> None:
        layout.metadata.create_all(connection)
        if self.file is not None:
            connection.exec_driver_sql(f"PRAGMA application_id={layout.APPLICATION_ID}")
        for guard in guards() if self.file is None else layout.sqlite_guards():
            connection.execution_options(no_parameters=True).exec_driver_sql(guard)
        workspace, author = self._new_uuid(), self._new_uuid()
        connection.execute(insert(layout.person), [{"id": author, "display_name": None}])
        settings = {"format": str(layout.FORMAT), "workspace": workspace, "author": author}
        connection.execute(
            insert(layout.meta), [{"key": k, "value": v} for k, v in settings.items()]
        )

    def _new_uuid(self) -> str:
        return str(uuid.UUID(bytes=self.entropy(16), version=4))

    def _person(self, name: str) -> str:
        query = select(layout.person.c.id).where(layout.person.c.display_name == name)
        with self.reading() as connection:
            found = connection.execute(query).scalars().first()
        if found is not None:
            return str(found)
        person = self._new_uuid()
        with self._begin_writing() as connection:
            connection.execute(insert(layout.person), [{"id": person, "display_name": name}])
        return person

    def now(self) -> str:
        """The time in UTC, never twice the same in one notebook."""
        moment = max(self._clock().astimezone(UTC), self._last + timedelta(microseconds=1))
        self._last = moment
        return moment.strftime("%Y-%m-%dT%H:%M:%S.%fZ")

    @contextlib.contextmanager
    def _begin_writing(self) -> Iterator[Connection]:
        with self.engine.connect() as connection:
            connection = connection.execution_options(labkit_writing=True)
            with connection.begin():
                if self.file is None:
                    wait_for_turn(connection, getattr(self, "workspace", ""))
                yield connection

    @contextlib.contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection for one short read."""
        with told(self.place), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[Writer]:
        """One transaction: all of it is on disk when the block ends, or none of it."""
        if self.file is not None and self._file_identity() != self._identity:
            raise StoreError(
                where=self.place,
                found="the file was moved, renamed or deleted while this bench was open",
                allowed="The file that was opened",
                cause="It was tidied away or replaced by a copy",
                do="Put it back or open it at its new place; nothing was saved",
            )
        with told(self.place), self._begin_writing() as connection:
            yield Writer(
                connection, self.workspace, self.author, now=self.now, entropy=self.entropy
            )

    def close(self) -> None:
        """Let go of the file or server."""
        self._engine.dispose(close=os.getpid() == self._process)

    def backup(self, target: Path) -> Path:
        """Write a whole copy to a new file, while the bench stays in use (VACUUM INTO)."""
        if self.file is None or target.exists() or not target.parent.is_dir():
            raise StoreError(
                where=str(target),
                found="a copy cannot be written there" if self.file else "this bench is a server",
                allowed="A new file name in a folder that exists, for a bench kept in a file",
                cause="A file of this name is there already, or the folder is missing",
                do="Choose another name" if self.file else "Ask who runs the server for a backup",
            )
        with told(str(target)), self.engine.connect() as connection:
            raw = connection.connection.driver_connection
            assert raw is not None
            raw.execute("VACUUM INTO ?", (str(target),))
        return target

    # reading -----------------------------------------------------------------

    def here(self, table: Table) -> Any:
        """The condition that a row belongs to this bench."""
        return table.c.workspace == self.workspace

    def get(self, name: str) -> Record:
        """One record by its full name, checked against it."""
        found = self.records([name])
        if not found:
            raise RecordError(
                where=f"Record {name[:12]}",
                found="it is not in this bench",
                allowed="A record of this bench",
                cause="It belongs to another bench, or was never merged in",
                do="Look at bench.trials(), or merge the history that holds it",
                record=name,
            )
        return found[0]

    def records(self, names: Sequence[str]) -> list[Record]:
        """Records by name, in the order asked for; names that are not here are left out."""
        table = layout.record
        query = select(table.c.hash, table.c.body).where(self.here(table))
        found: dict[str, bytes] = {}
        with self.reading() as connection:
            for start in range(0, len(names), 500):
                part = query.where(table.c.hash.in_(names[start : start + 500]))
                found |= {row.hash: row.body for row in connection.execute(part)}
            openings = self.openings_in(connection, [n for n in found if b'"private":' in found[n]])
        return [
            opened(read(found[name], name, again=True), openings.get(name, ()))
            for name in names
            if name in found
        ]

    def of_kind(self, *kinds: str) -> list[Record]:
        """Every record of some kinds, oldest first."""
        table = layout.record
        query = select(table.c.hash).where(self.here(table), table.c.kind.in_(kinds))
        with self.reading() as connection:
            names = (
                connection.execute(query.order_by(table.c.created, table.c.hash)).scalars().all()
            )
        return self.records(names)

    def naming(self, name: str, role: str = "about") -> list[Record]:
        """The records that name this one, oldest first."""
        edge = layout.edge
        query = select(edge.c.child).where(
            self.here(edge), edge.c.parent == name, edge.c.role == role
        )
        with self.reading() as connection:
            names = connection.execute(query).scalars().all()
        return sorted(self.records(names), key=lambda record: (record.created, record.id))

    def named_by(self, names: Sequence[str], kinds: Sequence[str]) -> list[str]:
        """Names of the records of some kinds that speak of any of these."""
        edge, record = layout.edge, layout.record
        joined = (record.c.workspace == edge.c.workspace) & (record.c.hash == edge.c.child)
        query = select(record.c.hash).join(edge, joined).where(self.here(edge))
        query = query.where(edge.c.role == "about", record.c.kind.in_(kinds))
        found: dict[str, None] = {}
        with self.reading() as connection:
            for start in range(0, len(names), 500):
                part = query.where(edge.c.parent.in_(names[start : start + 500]))
                found |= dict.fromkeys(connection.execute(part).scalars())
        return list(found)

    def openings(self, names: Iterable[str]) -> dict[str, tuple[Opening, ...]]:
        """What opens the private fields of some records."""
        with self.reading() as connection:
            return self.openings_in(connection, list(names))

    def openings_in(
        self, connection: Connection, names: Sequence[str]
    ) -> dict[str, tuple[Opening, ...]]:
        """The same inside a transaction that is open already."""
        table = layout.opening
        found: dict[str, tuple[Opening, ...]] = {}
        for start in range(0, len(names), 500):
            query = select(table).where(
                self.here(table), table.c.hash.in_(names[start : start + 500])
            )
            for row in connection.execute(query):
                one = Opening.kept(row.pointer, row.salt, row.value)
                found[row.hash] = (*found.get(row.hash, ()), one)
        return found

    def file_bytes(self, sha256: str) -> tuple[str, bytes]:
        """A kept file by the name of its content: its media type and its bytes."""
        table = layout.blob
        query = select(table.c.media_type, table.c.bytes).where(
            self.here(table), table.c.sha256 == sha256
        )
        with self.reading() as connection:
            row = connection.execute(query).one_or_none()
        if row is None or hashlib.sha256(row.bytes).hexdigest() != sha256:
            raise RecordError(
                where=f"File {sha256[:12]}",
                found="it is not in this bench" if row is None else "its content was changed",
                allowed="A photo or file kept with a trial, by the name of its content",
                cause="It was left out when the history was shared, or the disk is damaged",
                do="Take it from a backup or from someone who has it",
            )
        return row.media_type, row.bytes

    def count(self, table: Table = layout.record) -> int:
        """How many rows a table holds for this bench."""
        with self.reading() as connection:
            query = select(func.count()).select_from(table).where(self.here(table))
            return connection.execute(query).scalar_one()


def _not_a_bench(place: str) -> StoreError:
    return StoreError(
        where=place,
        found="this is no bench file",
        allowed="A file made by Bench.open, or a name that is still free",
        cause="It belongs to another program",
        do="Choose another name; this file was left as it is",
    )
