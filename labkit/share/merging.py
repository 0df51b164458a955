"""Two histories become one: the union of their records, whatever the order.

Nothing is decided and nothing is lost: two people who worked apart end up as two
branches. Records that rest on something missing are kept apart, unseen, until it comes.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import orjson
from sqlalchemy import insert, select

from labkit.bench import Bench, layout
from labkit.bench.canonical import visible
from labkit.bench.commitments import Opening, fits
from labkit.bench.labels import ALIAS
from labkit.bench.records import opened, read
from labkit.bench.verify import KEPT_BACK, Problem
from labkit.bench.writing import Writer
from labkit.errors import ShareError
from labkit.share.gathering import gather
from labkit.share.opening import SharedHistory
from labkit.share.package import (
    Checked,
    Package,
    check_package,
    files_named,
    openings_text,
    photo_type,
    read_history,
)

__all__ = ["Merged", "merge"]

HELD = "application/vnd.labkit.held+json"
"""How records that lack something are kept until it comes."""
_CHUNK = 4_000
_FILES = re.compile(rb'"(photo|files|digest)":')


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """What a merge brought: counts, the ends of the branches, and what is waited for."""

    new: int
    known: int
    heads: tuple[str, ...]
    held: int
    missing: tuple[str, ...]
    alias: str

    def __str__(self) -> str:
        heads = f"{len(self.heads)} {'head' if len(self.heads) == 1 else 'heads'}"
        shown = ", ".join(self.heads[:8]) + (" …" if len(self.heads) > 8 else "")
        lines = [f"{self.new} new, {self.known} already here, {heads}: {shown}"]
        if self.alias:
            lines.append(f"Trials of the other bench carry @{self.alias} behind their label.")
        if self.held:
            lines.append(
                f"{self.held} records are held back: they rest on records that are missing. "
                f"Merge a history that has {', '.join(self.missing[:5])}"
                + (f" and {len(self.missing) - 5} more." if len(self.missing) > 5 else ".")
            )
        return "\n".join(lines)

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return {
            "new": self.new,
            "known": self.known,
            "heads": list(self.heads),
            "held": self.held,
            "missing": list(self.missing),
            "alias": self.alias,
        }


def merge(
    bench: Bench,
    what: str | os.PathLike[str] | SharedHistory | Bench | Package,
    alias: str | None = None,
) -> Merged:
    """Bring a history into a bench.

    Parameters
    ----------
    bench : Bench
        Where to.
    what : path, shared history, bench or package
        A file that labkit exported, a folder of record files, another bench, or what was
        read from several files and is not believed yet.
    alias : str, optional
        What the other bench is called here; its labels carry it. The name of the file
        otherwise; an alias that a bench has once, it keeps.

    Returns
    -------
    Merged

    Raises
    ------
    ShareError
        A record or file was changed after it was recorded; nothing is added.
    """
    package = _package(what)
    waiting = _waiting(bench)
    here = _names(bench)
    joined = _joined(package, waiting, here)
    checked = check_package(joined, here)
    _refuse(package, checked, joined)
    called = _alias(bench, checked.workspace, alias or package.name)
    fresh = [record for name, record in checked.records.items() if name not in here]
    with bench.store.writing() as writer:
        if called is not None:
            _call(writer, {checked.workspace: called})
        _call(writer, package.aliases)
        for start in range(0, len(fresh), _CHUNK):
            part = fresh[start : start + _CHUNK]
            writer.take(part, {r.id: joined.openings.get(r.id, ()) for r in part})
        _open_more(bench, writer, joined, here)
        _keep_files(writer, package, checked, here)
        _note_kept_back(writer, package, checked)
        if checked.held:
            writer.keep_file(_kept(joined, checked), HELD, largest=None)
    own = checked.workspace == bench.store.workspace
    return Merged(
        new=len(fresh),
        known=sum(1 for name in package.records if name in here),
        heads=tuple(trial.label for trial in bench.heads()),
        held=len(checked.held),
        missing=checked.missing,
        alias="" if own else _aliases(bench).get(checked.workspace, ""),
    )


def _package(what: str | os.PathLike[str] | SharedHistory | Bench | Package) -> Package:
    if isinstance(what, Package):
        return what
    if isinstance(what, SharedHistory):
        return what.package
    if isinstance(what, Bench):
        place = what.store.file
        return gather(what, (), name="bench" if place is None else place.stem)
    path = Path(what).expanduser()
    package = read_history(path)
    return replace(package, name=path.stem or package.name)


def _names(bench: Bench) -> set[str]:
    table = layout.record
    with bench.store.reading() as connection:
        query = select(table.c.hash).where(bench.store.here(table))
        return set(connection.execute(query).scalars())


def _waiting(bench: Bench) -> list[Package]:
    """The records held back by earlier merges."""
    table = layout.blob
    query = select(table.c.bytes).where(bench.store.here(table), table.c.media_type == HELD)
    with bench.store.reading() as connection:
        found = connection.execute(query).scalars().all()
    packages = []
    for content in found:
        told = orjson.loads(content)
        openings = {
            name: tuple(Opening(**one) for one in several)
            for name, several in told["openings"].items()
        }
        records = {name: text.encode() for name, text in told["records"].items()}
        packages.append(Package(name="held", records=records, openings=openings))
    return packages


def _joined(package: Package, waiting: list[Package], here: set[str]) -> Package:
    """What is new in the package, and what waited for it."""
    records: dict[str, bytes] = {}
    openings: dict[str, tuple[Opening, ...]] = {}
    for one in (*waiting, package):
        records |= {name: raw for name, raw in one.records.items() if name not in here}
        for name, several in one.openings.items():
            had = {o.pointer for o in openings.get(name, ())}
            openings[name] = (
                *openings.get(name, ()),
                *(o for o in several if o.pointer not in had),
            )
    return replace(package, records=records, openings=openings)


def _refuse(package: Package, checked: Checked, joined: Package) -> None:
    problems = list(checked.problems)
    for name, raw in package.records.items():
        if name not in joined.records and hashlib.sha256(raw).hexdigest() != name:
            problems.append(Problem(record=name, what="its content differs from its name"))
    for sha, (_, content) in package.files.items():
        if hashlib.sha256(content).hexdigest() != sha:
            problems.append(Problem(record=sha, what="the photo or file of this name was changed"))
    for record in checked.records.values():
        for sha, sort in files_named(record):
            kept = package.files.get(sha)
            if sort == "photo" and kept is not None and photo_type(kept[1]) is None:
                problems.append(Problem(record=record.id, what="its photo is no photo"))
    if problems:
        more = len(problems) - 1
        raise ShareError(
            where=package.name,
            found=f"{problems[0]}" + (f" (and {more} more)" if more else ""),
            allowed="Every record and file as it was recorded",
            cause="Something was changed after it was recorded, or the copy is damaged",
            do="Get the history again; nothing was added",
            problems=tuple(map(str, problems)),
        )


def _aliases(bench: Bench) -> dict[str, str]:
    table = layout.meta
    with bench.store.reading() as connection:
        found = connection.execute(select(table).where(table.c.key.startswith(ALIAS))).all()
    return {row.key.removeprefix(ALIAS): row.value for row in found}


def _alias(bench: Bench, workspace: str, wanted: str) -> str | None:
    """A short name that is still free; None when the bench is this one or has one already."""
    taken = _aliases(bench)
    if workspace == bench.store.workspace or workspace in taken:
        return None
    word = "-".join(visible(wanted).replace("@", " ").split())[:40] or "other"
    called, number = word, 2
    while called in taken.values():
        called, number = f"{word}-{number}", number + 1
    return called


def _call(writer: Writer, aliases: Mapping[str, str]) -> None:
    table = layout.meta
    known = select(table.c.key).where(table.c.key.startswith(ALIAS))
    there = set(writer.connection.execute(known).scalars())
    rows = [
        {"key": f"{ALIAS}{workspace}", "value": called}
        for workspace, called in sorted(aliases.items())
        if workspace != writer.workspace and f"{ALIAS}{workspace}" not in there
    ]
    if rows:
        writer.connection.execute(insert(table), rows)


def _open_more(bench: Bench, writer: Writer, joined: Package, here: set[str]) -> None:
    """Openings of records that were here closed; their rows in the index are made anew."""
    names = [name for name in joined.openings if name in here]
    known = bench.store.openings_in(writer.connection, names)
    table = layout.opening
    for record in bench.store.records(names):
        had = known.get(record.id, ())
        fresh = [o for o in joined.openings[record.id] if o.pointer not in {x.pointer for x in had}]
        for one in fresh:
            if not fits(read(record.raw).body, one):
                raise _misfit(joined.name, record.id, one.pointer)
        if not fresh:
            continue
        rows = [
            {
                "workspace": writer.workspace,
                "hash": record.id,
                "pointer": one.pointer,
                "salt": one.salt,
                "value": one.value_text(),
            }
            for one in fresh
        ]
        writer.connection.execute(insert(table), rows)
        _derive_again(writer, record.id, opened(read(record.raw), (*had, *fresh)))


def _derive_again(writer: Writer, name: str, record: Any) -> None:
    writer.forget_derived([name])
    writer.derive([record])


def _keep_files(writer: Writer, package: Package, checked: Checked, here: set[str]) -> None:
    """Photos and files that a record names, also those that were left out the last time."""
    named = {sha for record in checked.records.values() for sha, _ in files_named(record)}
    for name, raw in package.records.items():
        if package.files and (name in here or name in checked.held) and _FILES.search(raw):
            named |= {sha for sha, _ in files_named(read(raw))}
    for sha, (media_type, content) in package.files.items():
        if sha in named:
            writer.keep_file(content, media_type, largest=None)


def _note_kept_back(writer: Writer, package: Package, checked: Checked) -> None:
    """Files that were left behind knowingly are not missed later."""
    start, table = f"{KEPT_BACK}{writer.workspace}:", layout.meta
    known = writer.connection.execute(select(table.c.key).where(table.c.key.startswith(start)))
    there = set(known.scalars())
    left = {
        f"{start}{sha}"
        for record in checked.records.values()
        for sha, sort in files_named(record)
        if sha not in package.files and f"{sort}s" in package.left_out
    }
    if left - there:
        rows = [{"key": key, "value": package.name} for key in sorted(left - there)]
        writer.connection.execute(insert(table), rows)


def _kept(joined: Package, checked: Checked) -> bytes:
    """The held records with what opens them, as one file that is the same for the same records."""
    told = {
        "records": {name: joined.records[name].decode() for name in checked.held},
        "openings": orjson.loads(
            openings_text({n: joined.openings[n] for n in checked.held if n in joined.openings})
        ),
    }
    return orjson.dumps(told, option=orjson.OPT_SORT_KEYS)


def _misfit(where: str, name: str, pointer: str) -> ShareError:
    return ShareError(
        where=where,
        found=f"{name[:12]}: the private field {pointer} does not match its commitment",
        allowed="The value and salt that were committed when it was recorded",
        cause="The value or its salt was changed afterwards",
        do="Get the history again; nothing was added",
        record=name,
    )
