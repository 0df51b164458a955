"""Does the history hold? Every record against its name, its parents and the index."""

from __future__ import annotations

import hashlib
import html
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Column, Connection, Row, Table, func, select

from labkit.bench import layout
from labkit.bench.commitments import Opening, fits
from labkit.bench.index import rows
from labkit.bench.records import Record, opened, read
from labkit.bench.store import Store
from labkit.errors import LabkitError

__all__ = [
    "KEPT_BACK",
    "Problem",
    "Verification",
    "check_record",
    "files_kept_back",
    "verify",
]

Progress = Callable[[int, int], None]
_CHUNK = 2_000
KEPT_BACK = "kept-back:"
"""How a file that was left behind when a history was shared is noted in ``meta``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that does not hold, and in which record."""

    record: str
    what: str
    label: str = ""

    def __str__(self) -> str:
        name = f"{self.label} ({self.record[:12]})" if self.label else self.record[:12]
        return f"{name}: {self.what}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification:
    """What holds and what does not.

    ``ok`` is true when nothing is wrong; ``problems`` names each record concerned.
    It says that the history is as it was written, not that a product is any good.
    """

    records: int
    files: int
    seals: int
    closed: int
    newer: int
    problems: tuple[Problem, ...]
    kept_back: int = 0

    @property
    def ok(self) -> bool:
        """Does everything hold?"""
        return not self.problems

    def __str__(self) -> str:
        sealed = f", {self.seals} seals" if self.seals else ""
        lines = [f"{self.records} records, {self.files} photos and files{sealed}"]
        if self.ok:
            lines.append("Every record is as it was recorded, and everything it names is here.")
        else:
            many = "1 thing does" if len(self.problems) == 1 else f"{len(self.problems)} things do"
            lines.append(f"{many} not hold:")
            lines += [f"  {problem}" for problem in self.problems[:50]]
            if len(self.problems) > 50:
                lines.append(f"  and {len(self.problems) - 50} more")
        if self.closed:
            lines.append(f"{self.closed} private fields stay closed: their openings are not here.")
        if self.kept_back:
            lines.append(f"{self.kept_back} photos or files were kept back by whoever shared them.")
        if self.newer:
            lines.append(f"{self.newer} records were written by a newer labkit: name checked only.")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        mark = "✓ holds" if self.ok else "✗ does not hold"
        return f"<b>{mark}</b><pre>{html.escape(str(self))}</pre>"


@dataclass(slots=True)
class _Findings:
    """What has been seen so far."""

    problems: list[Problem] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    named: dict[str, str] = field(default_factory=dict)
    files: dict[str, str] = field(default_factory=dict)
    seals: list[Record] = field(default_factory=list)
    closed: int = 0
    newer: int = 0
    kept_back: int = 0

    def add(self, record: str, what: str) -> None:
        self.problems.append(Problem(record=record, what=what))


def check_record(
    name: str, raw: bytes, openings: Sequence[Opening] = ()
) -> tuple[Record | None, tuple[Problem, ...]]:
    """One record against its name, the canonical form, its kind, and its openings.

    Returns
    -------
    (Record or None, tuple of Problem)
        The record with opened fields put back; None when its bytes do not hold.
    """
    try:
        record = read(raw, name)
    except LabkitError as error:
        return None, (
            Problem(record=name, what=f"{error.found}; {error.cause[0].lower()}{error.cause[1:]}"),
        )
    wrong = [one for one in openings if not fits(record.body, one)]
    problems = tuple(
        Problem(record=name, what=f"the private field {one.pointer} does not match its commitment")
        for one in wrong
    )
    return opened(record, [one for one in openings if one not in wrong]), problems


def verify(store: Store, progress: Progress | None = None) -> Verification:
    """Check everything in a bench.

    Parameters
    ----------
    store : Store
        The bench.
    progress : callable, optional
        Called with (records done, records in all) now and then.

    Returns
    -------
    Verification
    """
    found = _Findings()
    total, matched = store.count(), dict.fromkeys((t.name for t in _FOLLOWING), 0)
    for chunk in _chunks(store):
        _check_chunk(store, chunk, found, matched)
        if progress is not None:
            progress(len(found.names), total)
    _check_missing(store, found)
    _check_orphans(store, found, matched)
    files = _check_files(store, found)
    for seal in found.seals:
        _check_seal(store, seal, found)
    labels = _labels(store) if found.problems else {}
    return Verification(
        records=len(found.names),
        files=files,
        seals=len(found.seals),
        closed=found.closed,
        newer=found.newer,
        kept_back=found.kept_back,
        problems=tuple(
            Problem(record=p.record, what=p.what, label=labels.get(p.record, ""))
            for p in found.problems
        ),
    )


def _check_missing(store: Store, found: _Findings) -> None:
    table = layout.edge
    for name, child in found.named.items():
        if name in found.names:
            continue
        query = select(table.c.child).where(store.here(table), table.c.parent == name)
        with store.reading() as connection:
            others = connection.execute(query.distinct()).scalars().all()
        for one in sorted({child, *(other for other in others if other in found.names)}):
            found.add(one, f"it names the record {name[:12]}, which is missing ({name})")


def _chunks(store: Store) -> Iterator[Sequence[Row[Any]]]:
    table, last = layout.record, ""
    while True:
        query = (
            select(table)
            .where(store.here(table), table.c.hash > last)
            .order_by(table.c.hash)
            .limit(_CHUNK)
        )
        with store.reading() as connection:
            chunk = connection.execute(query).all()
        if not chunk:
            return
        yield chunk
        last = chunk[-1].hash


def _check_chunk(
    store: Store, chunk: Sequence[Row[Any]], found: _Findings, matched: dict[str, int]
) -> None:
    span = chunk[0].hash, chunk[-1].hash
    with store.reading() as connection:
        kept = {t.name: _kept(store, connection, t, span) for t in layout.DERIVED}
        openings = _openings(store, connection, span, found, matched)
    for row in chunk:
        found.names.add(row.hash)
        shown = openings.get(row.hash, ())
        matched["opening"] += len(shown)
        record, problems = check_record(row.hash, row.body, shown)
        found.problems.extend(problems)
        if record is None:
            for name, by_record in kept.items():
                matched[name] += len(by_record.get(row.hash, ()))
            continue
        derived_rows = rows(record)
        for edge in derived_rows["edge"]:
            found.named.setdefault(edge["parent"], record.id)
        _note(record, found)
        _check_columns(row, record, found)
        for name, derived in derived_rows.items():
            stored = kept[name].get(row.hash, [])
            matched[name] += len(stored)
            columns = _COLUMNS[name]
            expected = [tuple([one[c] for c in columns]) for one in derived]
            if stored != expected and sorted(stored, key=repr) != sorted(expected, key=repr):
                found.add(
                    row.hash, "the index differs from the record; bench.reindex() rebuilds it"
                )


def _note(record: Record, found: _Findings) -> None:
    if not record.known:
        found.newer += 1
        return
    hidden = record.body.get("private", {})
    if hidden:
        found.closed += sum(1 for pointer in hidden if _still_closed(record.body, pointer))
    for sha in _files_of(record):
        found.files.setdefault(sha, record.id)
    if record.kind == "seal":
        found.seals.append(record)


def _still_closed(body: Mapping[str, Any], pointer: str) -> bool:
    here: Any = body
    for step in pointer.strip("/").split("/"):
        if isinstance(here, list):
            here = here[int(step)] if step.isdecimal() and int(step) < len(here) else None
        else:
            here = here.get(step) if isinstance(here, dict) else None
    return here is None or here == {"hidden_line": True}


def _files_of(record: Record) -> Iterator[str]:
    if record.kind == "photo" and "photo" in record.body:
        yield record.body["photo"]
    for entry in record.body.get("files", ()):
        if isinstance(entry, dict) and isinstance(entry.get("sha256"), str):
            yield entry["sha256"]


def _check_columns(row: Row[Any], record: Record, found: _Findings) -> None:
    said = (
        record.kind,
        record.created,
        str(record.body.get("author", "")),
    )
    if (row.kind, row.created, row.author) != said:
        found.add(row.hash, "kind, time or author beside the record differ from what it says")


_FOLLOWING = (*layout.DERIVED, layout.opening)


def _key(table: Table) -> Column[str]:
    return table.c[{"edge": "child", "opening": "hash"}.get(table.name, "record")]


_COLUMNS = {
    table.name: tuple(c.name for c in table.columns if c.name != "workspace")
    for table in layout.DERIVED
}


def _kept(
    store: Store, connection: Connection, table: Table, span: tuple[str, str]
) -> dict[str, list[tuple[Any, ...]]]:
    key = _key(table)
    columns = [table.c[name] for name in _COLUMNS[table.name]]
    query = select(*columns).where(store.here(table), key.between(*span))
    if table is layout.measurement_index:
        query = query.order_by(table.c.record, table.c.replicate)
    at = _COLUMNS[table.name].index(key.name)
    found: dict[str, list[tuple[Any, ...]]] = {}
    for row in connection.execute(query):
        found.setdefault(row[at], []).append(tuple(row))
    return found


def _openings(
    store: Store,
    connection: Connection,
    span: tuple[str, str],
    found: _Findings,
    matched: dict[str, int],
) -> dict[str, list[Opening]]:
    table = layout.opening
    several: dict[str, list[Opening]] = {}
    for row in connection.execute(
        select(table).where(store.here(table), table.c.hash.between(*span))
    ):
        try:
            several.setdefault(row.hash, []).append(Opening.kept(row.pointer, row.salt, row.value))
        except LabkitError:
            matched["opening"] += 1
            found.add(row.hash, f"the private field {row.pointer} cannot be read")
    return several


def _check_orphans(store: Store, found: _Findings, matched: Mapping[str, int]) -> None:
    record = layout.record
    for table in _FOLLOWING:
        with store.reading() as connection:
            count = select(func.count()).select_from(table).where(store.here(table))
            if connection.execute(count).scalar_one() == matched[table.name]:
                continue
            key = _key(table)
            missing = select(key).where(store.here(table)).distinct()
            known = select(record.c.hash).where(store.here(record))
            orphans = connection.execute(missing.where(key.not_in(known))).scalars().all()
        for name in orphans:
            found.add(name, f"something is kept for it, but the record is missing ({name})")


def _check_files(store: Store, found: _Findings) -> int:
    table = layout.blob
    with store.reading() as connection:
        kept = connection.execute(select(table.c.sha256).where(store.here(table))).scalars().all()
    for sha in kept:
        with store.reading() as connection:
            query = select(table.c.bytes).where(store.here(table), table.c.sha256 == sha)
            content = connection.execute(query).scalar_one()
        if hashlib.sha256(content).hexdigest() != sha:
            found.add(found.files.get(sha, sha), f"the photo or file {sha[:12]} was changed")
    present, elsewhere = set(kept), files_kept_back(store)
    for sha, record in found.files.items():
        if sha in present:
            continue
        if sha in elsewhere:
            found.kept_back += 1
        else:
            found.add(record, f"the photo or file {sha[:12]} is missing")
    return len(kept)


def files_kept_back(store: Store) -> set[str]:
    """The files that whoever shared a history left behind, by their SHA-256."""
    start, table = f"{KEPT_BACK}{store.workspace}:", layout.meta
    with store.reading() as connection:
        keys = connection.execute(select(table.c.key).where(table.c.key.startswith(start)))
        return {str(key).removeprefix(start) for key in keys.scalars()}


def _check_seal(store: Store, seal: Record, found: _Findings) -> None:
    try:
        _, listed = store.file_bytes(seal.body["digest"])
    except LabkitError:
        found.add(seal.id, "the list that it seals is missing or was changed")
        return
    names = listed.decode("ascii", "replace").split()
    missing = [name for name in names if name not in found.names]
    if len(names) != seal.body["count"]:
        found.add(seal.id, f"it counts {seal.body['count']} records, its list {len(names)}")
    for name in missing:
        found.add(name, f"it was here when the history was sealed, and is missing now ({name})")


def _labels(store: Store) -> dict[str, str]:
    table = layout.trial_index
    with store.reading() as connection:
        found: Iterable[Any] = connection.execute(
            select(table.c.record, table.c.label).where(store.here(table))
        )
        return {row.record: f"Trial {row.label}" for row in found}
