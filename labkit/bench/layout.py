"""The tables of a bench, the same on SQLite and PostgreSQL.

``record``, ``opening`` and ``blob`` are the truth: rows are added, never changed.
``edge`` and the ``*_index`` tables are derived from the bodies and can be rebuilt
at any time. ``workspace`` is the bench that holds a row; several benches share
one server.
"""

from __future__ import annotations

from sqlalchemy import (
    Column,
    Float,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
)

__all__ = [
    "APPLICATION_ID",
    "DERIVED",
    "FORMAT",
    "blob",
    "edge",
    "measurement_index",
    "meta",
    "metadata",
    "opening",
    "person",
    "record",
    "sqlite_guards",
    "text_index",
    "trial_index",
]

FORMAT = 1
"""The number of this layout; a file with a higher one was made by a newer labkit."""
APPLICATION_ID = 0x6C61626B
"""Marks an SQLite file as a bench (the letters 'labk')."""

metadata = MetaData()
_HASH = String(64)
_UUID = String(36)


def _keyed(*more: str) -> list[Column[str]]:
    return [Column(name, _HASH, primary_key=True) for name in more]


def _workspace() -> Column[str]:
    return Column("workspace", _UUID, primary_key=True)


meta = Table(
    "meta",
    metadata,
    Column("key", String(120), primary_key=True),
    Column("value", Text, nullable=False),
)
person = Table(
    "person",
    metadata,
    Column("id", _UUID, primary_key=True),
    Column("display_name", Text),
    Column("public_key", Text),
)
record = Table(
    "record",
    metadata,
    _workspace(),
    *_keyed("hash"),
    Column("kind", String(40), nullable=False),
    Column("schema", String(60), nullable=False),
    Column("author", Text, nullable=False),
    Column("created", String(40), nullable=False),
    Column("received", String(40), nullable=False),
    Column("body", LargeBinary, nullable=False),
    Index("record_kind", "workspace", "kind"),
)
edge = Table(
    "edge",
    metadata,
    _workspace(),
    *_keyed("child", "parent"),
    Column("role", String(8), primary_key=True),
    ForeignKeyConstraint(
        ["workspace", "child"],
        ["record.workspace", "record.hash"],
        deferrable=True,
        initially="DEFERRED",
    ),
    ForeignKeyConstraint(
        ["workspace", "parent"],
        ["record.workspace", "record.hash"],
        deferrable=True,
        initially="DEFERRED",
    ),
    Index("edge_parent", "workspace", "parent", "role"),
    sqlite_with_rowid=False,
)
opening = Table(
    "opening",
    metadata,
    _workspace(),
    *_keyed("hash"),
    Column("pointer", String(200), primary_key=True),
    Column("salt", String(64), nullable=False),
    Column("value", Text, nullable=False),
    sqlite_with_rowid=False,
)
blob = Table(
    "blob",
    metadata,
    _workspace(),
    *_keyed("sha256"),
    Column("media_type", String(100), nullable=False),
    Column("size", Integer, nullable=False),
    Column("bytes", LargeBinary, nullable=False),
)
trial_index = Table(
    "trial_index",
    metadata,
    _workspace(),
    *_keyed("record"),
    Column("origin", _UUID, nullable=False),
    Column("label", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("created", String(40), nullable=False),
    Column("author", Text, nullable=False),
    Column("parents", Text, nullable=False),
    Column("lines", Integer, nullable=False),
    Column("batch", String(64)),
    Index("trial_label", "workspace", "label", "origin"),
    sqlite_with_rowid=False,
)
measurement_index = Table(
    "measurement_index",
    metadata,
    _workspace(),
    *_keyed("record"),
    Column("replicate", Integer, primary_key=True),
    Column("subject", String(64), nullable=False),
    Column("quantity", Text, nullable=False),
    Column("value", Float),
    Column("low", Float),
    Column("high", Float),
    Column("bound", String(2)),
    Column("unit", Text, nullable=False),
    Column("text", Text, nullable=False),
    Column("temperature_c", Float),
    Column("dilution", Text),
    Column("spindle", Text),
    Column("speed_rpm", Float),
    Column("torque_percent", Float),
    Column("instrument", Text),
    Column("method", Text),
    Column("at_h", Float),
    Column("conditions", Text, nullable=False),
    Column("created", String(40), nullable=False),
    Column("note", Text, nullable=False),
    Index("measurement_subject", "workspace", "subject", "created", "record", "replicate"),
    sqlite_with_rowid=False,
)
text_index = Table(
    "text_index",
    metadata,
    _workspace(),
    *_keyed("record"),
    Column("subject", String(64), nullable=False),
    Column("words", Text, nullable=False),
    sqlite_with_rowid=False,
)
DERIVED = (edge, trial_index, measurement_index, text_index)
"""The tables that ``reindex`` empties and fills again."""


def sqlite_guards() -> list[str]:
    """Triggers by which the file itself refuses to change or drop what was recorded."""
    return [
        f"CREATE TRIGGER IF NOT EXISTS {table.name}_keeps_{verb.lower()} "
        f"BEFORE {verb} ON {table.name} "
        f"BEGIN SELECT RAISE(ABORT, 'a {table.name} is never changed'); END"
        for table in (record, opening, blob)
        for verb in ("UPDATE", "DELETE")
    ]
