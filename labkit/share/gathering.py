"""What of a bench goes into a shared history, and what stays behind."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from importlib import metadata
from typing import Any

from sqlalchemy import select

from labkit.bench import layout
from labkit.bench.canonical import visible
from labkit.bench.commitments import Opening
from labkit.bench.history import History
from labkit.bench.labels import ALIAS
from labkit.bench.records import Record
from labkit.bench.verify import files_kept_back
from labkit.errors import ShareError
from labkit.share.package import FORMAT, MEDIA, Package, digest_of, files_named

__all__ = ["LEFT_OUT", "WORDS", "chosen_words", "gather"]

WORDS = {
    "supplier": ("/supplier",),
    "price": ("/price", "/prices", "/forecast"),
    "lot": ("/lot",),
    "recipe": ("/formula",),
    "other": ("/",),
    "person": (),
    "files": (),
    "photos": (),
}
"""What can be left out, and the places of a record that each word stands for."""
LEFT_OUT = ("supplier", "price", "lot", "recipe", "other", "person", "files")
"""What stays behind unless it is asked for: every private field, names of people, and the
recipe files as they came, which may hold any of it."""


def chosen_words(leave_out: str | Iterable[str]) -> tuple[str, ...]:
    """The words of ``leave_out``, checked.

    Raises
    ------
    ShareError
        A word that is none of them.

    Examples
    --------
    >>> chosen_words("price")
    ('price',)
    """
    words = (leave_out,) if isinstance(leave_out, str) else tuple(leave_out)
    for word in words:
        if word not in WORDS:
            raise ShareError(
                where="What to leave out",
                found=f"'{word}'",
                allowed=", ".join(WORDS),
                cause="Another word for it, or a slip of the pen",
                do="Use these words; nothing was written",
            )
    return words


def gather(
    bench: History,
    leave_out: str | Iterable[str] = LEFT_OUT,
    trials: Sequence[Any] | None = None,
    name: str = "history",
) -> Package:
    """Everything of a bench that is to be shared.

    Parameters
    ----------
    bench : Bench
        Where it lies.
    leave_out : iterable of str
        Words of :data:`WORDS`. A private field leaves its commitment behind, so that its
        absence shows.
    trials : sequence, optional
        Only these, with whatever they were built on and whatever was said about them.
    name : str
        What the history is called.

    Raises
    ------
    ShareError
        An unknown word, or nothing to share.
    """
    words = chosen_words(leave_out)
    name = visible(" ".join(name.split()))[:80] or "history"
    store = bench.store
    raws = _all(bench)
    if trials is not None:
        raws = _selection(bench, raws, [bench.trial(one).id for one in trials])
    if not raws:
        raise ShareError(
            where=store.place,
            found="there is nothing to share yet",
            allowed="At least one record",
            cause="The bench is empty, or no trial was chosen",
            do="Record a trial first; nothing was written",
        )
    records = store.records(list(raws))
    openings, counted = _openings(bench, raws, words)
    files, kept_back = _files(bench, records, words)
    persons, aliases = _names(bench, records)
    counted.update(kept_back)
    if "person" in words:
        counted["person"] = len(persons)
    about: dict[str, Any] = {
        "schema": FORMAT,
        "name": name,
        "workspace": store.workspace,
        "aliases": aliases,
        "left_out": {word: n for word, n in sorted(counted.items()) if n},
        "selection": trials is not None,
        "records": len(raws),
        "digest": digest_of(raws),
        "software": {"labkit": metadata.version("labkit")},
    }
    if "person" not in words:
        about["persons"] = persons
    return Package(name=name, records=raws, openings=openings, files=files, about=about)


def _all(bench: History) -> dict[str, bytes]:
    table = layout.record
    query = select(table.c.hash, table.c.body).where(bench.store.here(table))
    with bench.store.reading() as connection:
        return {row.hash: row.body for row in connection.execute(query.order_by(table.c.hash))}


def _selection(bench: History, raws: dict[str, bytes], chosen: list[str]) -> dict[str, bytes]:
    """The chosen trials, what they rest on, and what was said about any of it; no seals."""
    table = layout.edge
    with bench.store.reading() as connection:
        pairs = connection.execute(
            select(table.c.child, table.c.parent, table.c.role).where(bench.store.here(table))
        ).all()
    kinds = layout.record
    with bench.store.reading() as connection:
        query = select(kinds.c.hash, kinds.c.kind).where(bench.store.here(kinds))
        kind_of: dict[str, str] = {row.hash: row.kind for row in connection.execute(query)}
    below: dict[str, list[str]] = {}
    speaking: dict[str, list[str]] = {}
    for pair in pairs:
        below.setdefault(pair.child, []).append(pair.parent)
        if pair.role == "about" and kind_of[pair.child] not in {"trial", "seal"}:
            speaking.setdefault(pair.parent, []).append(pair.child)
    kept: set[str] = set()
    waiting = list(chosen)
    while waiting:
        name = waiting.pop()
        if name not in kept:
            kept.add(name)
            waiting += below.get(name, []) + speaking.get(name, [])
    return {name: raw for name, raw in raws.items() if name in kept}


def _openings(
    bench: History, raws: dict[str, bytes], words: tuple[str, ...]
) -> tuple[dict[str, tuple[Opening, ...]], Counter[str]]:
    private = sorted(name for name, raw in raws.items() if b'"private":' in raw)
    known = bench.store.openings(private)
    shown: dict[str, tuple[Opening, ...]] = {}
    counted: Counter[str] = Counter()
    for record in bench.store.records(private):
        kept = {o.pointer: o for o in known.get(record.id, ()) if _word_of(o.pointer) not in words}
        counted.update(
            _word_of(pointer) for pointer in record.body.get("private", ()) if pointer not in kept
        )
        if kept:
            shown[record.id] = tuple(kept[pointer] for pointer in sorted(kept))
    return shown, counted


def _word_of(pointer: str) -> str:
    for word, places in WORDS.items():
        for place in places:
            if pointer == place or pointer.startswith(place.rstrip("/") + "/"):
                return word
    return "other"


def _files(
    bench: History, records: list[Record], words: tuple[str, ...]
) -> tuple[dict[str, tuple[str, bytes]], Counter[str]]:
    found: dict[str, tuple[str, bytes]] = {}
    left: Counter[str] = Counter()
    elsewhere = files_kept_back(bench.store)
    known = set(MEDIA.values())
    for record in records:
        for sha, sort in files_named(record):
            if f"{sort}s" in words or (sha in elsewhere and not _has(bench, sha)):
                left[f"{sort}s"] += 1
            elif sha not in found:
                media_type, content = bench.store.file_bytes(sha)
                plain = media_type if media_type in known else MEDIA[""]
                found[sha] = (plain, content)
    return found, left


def _has(bench: History, sha: str) -> bool:
    table = layout.blob
    query = select(table.c.sha256).where(bench.store.here(table), table.c.sha256 == sha)
    with bench.store.reading() as connection:
        return connection.execute(query).first() is not None


def _names(bench: History, records: list[Record]) -> tuple[dict[str, str], dict[str, str]]:
    """Names of people who recorded something, and short names of the benches it came from."""
    authors = {str(r.body["author"]) for r in records if "author" in r.body}
    benches = {str(r.body["workspace"]) for r in records if "workspace" in r.body}
    person, meta = layout.person, layout.meta
    with bench.store.reading() as connection:
        people = connection.execute(select(person.c.id, person.c.display_name)).all()
        short = connection.execute(select(meta).where(meta.c.key.startswith(ALIAS))).all()
    persons = {p.id: p.display_name for p in people if p.id in authors and p.display_name}
    aliases = {row.key.removeprefix(ALIAS): row.value for row in short}
    return persons, {k: v for k, v in sorted(aliases.items()) if k in benches}
