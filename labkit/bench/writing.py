"""One transaction on a bench: records are added, never changed."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Table, delete, insert, select, text

from labkit.bench import layout
from labkit.bench.commitments import Opening, hide
from labkit.bench.index import rows
from labkit.bench.records import Record, edges, make, opened
from labkit.errors import RecordError

__all__ = ["MAX_FILE_BYTES", "Entropy", "Writer"]

Entropy = Callable[[int], bytes]
MAX_FILE_BYTES = 10_000_000
"""The largest photo or file kept with a trial, in bytes."""
_CONTENT = {"material", "formula"}


class Writer:
    """What may be done inside one transaction: add, never change."""

    def __init__(
        self,
        connection: Connection,
        workspace: str,
        author: str,
        *,
        now: Callable[[], str],
        entropy: Entropy,
    ) -> None:
        self.connection, self.workspace, self.author = connection, workspace, author
        self.now, self._entropy = now, entropy

    def add(
        self, kind: str, body: Mapping[str, Any], private: Iterable[str] = (), at: str | None = None
    ) -> Record:
        """Add one record with its header; private places become commitments."""
        shut, openings = hide(body, private, self._entropy)
        if kind not in _CONTENT:
            shut |= {
                "workspace": self.workspace,
                "author": self.author,
                "created": at or self.now(),
            }
        record = make(kind, shut)
        if kind in _CONTENT and self.has(record.id):
            return record
        self._must_have({name for _, name in edges(record.body)})
        self.take([record], {record.id: openings})
        return opened(record, openings)

    def _must_have(self, names: set[str]) -> None:
        table = layout.record
        query = select(table.c.hash).where(
            table.c.workspace == self.workspace, table.c.hash.in_(sorted(names))
        )
        for name in names - set(self.connection.execute(query).scalars()) if names else ():
            raise RecordError(
                where=f"Record {name[:12]}",
                found="it is not in this bench",
                allowed="A record of this bench",
                cause="It belongs to another bench, or was never merged in",
                do="Merge the history that holds it first; nothing was saved",
                record=name,
            )

    def has(self, name: str) -> bool:
        """Is a record here?"""
        table = layout.record
        query = select(table.c.hash).where(
            table.c.workspace == self.workspace, table.c.hash == name
        )
        return self.connection.execute(query).first() is not None

    def take(
        self, records: Sequence[Record], openings: Mapping[str, Sequence[Opening]] | None = None
    ) -> None:
        """Add records as they are, with whatever opens their private fields."""
        here = {"workspace": self.workspace}
        openings = openings or {}
        received = self.now() if len(records) > 1 else records[0].created
        self._insert(
            layout.record,
            [
                here
                | {
                    "hash": record.id,
                    "kind": record.kind,
                    "schema": str(record.body["schema"]),
                    "author": str(record.body.get("author", "")),
                    "created": record.created,
                    "received": received or self.now(),
                    "body": record.raw,
                }
                for record in records
            ],
        )
        self._insert(
            layout.opening,
            [
                here
                | {
                    "hash": name,
                    "pointer": one.pointer,
                    "salt": one.salt,
                    "value": one.value_text(),
                }
                for name, several in openings.items()
                for one in several
            ],
        )
        self.derive([opened(record, openings.get(record.id, ())) for record in records])

    def derive(self, records: Iterable[Record], present: Container[str] | None = None) -> None:
        """Add the derived rows of some records; edges only to what is present, if that is said."""
        gathered: dict[str, list[dict[str, Any]]] = {}
        for record in records:
            for name, some in rows(record).items():
                gathered.setdefault(name, []).extend(some)
        if present is not None:
            gathered["edge"] = [row for row in gathered.get("edge", []) if row["parent"] in present]
        for table in layout.DERIVED:
            found = gathered.get(table.name, [])
            self._insert(table, [{"workspace": self.workspace} | row for row in found])

    def forget_derived(self, names: Sequence[str] | None = None) -> None:
        """Empty the derived tables, or only what was derived from some records."""
        if self.connection.dialect.name == "postgresql":
            query = text("SELECT labkit_forget(:here, :names)")
            given = None if names is None else list(names)
            self.connection.execute(query, {"here": self.workspace, "names": given})
            return
        for table in layout.DERIVED:
            key = table.c.child if table is layout.edge else table.c.record
            rows_here = delete(table).where(table.c.workspace == self.workspace)
            self.connection.execute(rows_here if names is None else rows_here.where(key.in_(names)))

    def _insert(self, table: Table, found: list[dict[str, Any]]) -> None:
        if found:
            self.connection.execute(insert(table), found)

    def keep_file(
        self, content: bytes, media_type: str, largest: int | None = MAX_FILE_BYTES
    ) -> str:
        """Keep a file under the SHA-256 of its content."""
        if largest is not None and len(content) > largest:
            raise RecordError(
                where="File",
                found=f"{len(content) / 1e6:.1f} MB",
                allowed=f"At most {largest // 1_000_000} MB",
                cause="A photo at full size, or a file of another kind",
                do="Make it smaller; nothing was saved",
            )
        name = hashlib.sha256(content).hexdigest()
        table = layout.blob
        query = select(table.c.sha256).where(
            table.c.workspace == self.workspace, table.c.sha256 == name
        )
        if self.connection.execute(query).first() is None:
            row = {"sha256": name, "media_type": media_type, "size": len(content), "bytes": content}
            self._insert(table, [{"workspace": self.workspace} | row])
        return name
