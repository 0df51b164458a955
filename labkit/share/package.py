"""A history on its way: records, what opens them, and files, before anyone believes them."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import orjson

from labkit.bench.canonical import MAX_BYTES, visible
from labkit.bench.commitments import Opening
from labkit.bench.records import Record, edges
from labkit.bench.verify import Problem, check_record
from labkit.errors import LabkitError, ShareError
from labkit.share.zips import read_zip

__all__ = [
    "FORMAT",
    "Checked",
    "Package",
    "check_package",
    "digest_of",
    "files_named",
    "kept_back",
    "openings_text",
    "photo_type",
    "read_history",
]

FORMAT = "labkit/history/1"
"""What ``history.json`` calls itself."""
_RECORD = re.compile(r"records/(?:[0-9a-f]{2}/)?([0-9a-f]{64})\.json")
_FILE = re.compile(r"(?:photos|files)/(?:[0-9a-f]{2}/)?([0-9a-f]{64})(\.[a-z0-9]{1,8})?")
_SUM = re.compile(r"([0-9a-f]{64})  ([^\n]+)")
_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_TEXTS = ("history.json", "openings.json", "SHA256SUMS", "readings.csv", "report.html")
_LARGEST = 50_000_000
MEDIA = {
    ".jpg": "image/jpeg",
    ".png": "image/png",
    ".webp": "image/webp",
    ".txt": "text/plain",
    ".csv": "text/csv",
    ".md": "text/markdown",
    "": "application/octet-stream",
}
"""Endings of the files in a shared history, and what they are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """A history as it was handed over; nothing in it has been checked yet.

    ``records`` are bytes by the name they claim, ``files`` type and bytes by the SHA-256
    they claim, ``about`` what ``history.json`` says, ``texts`` the readable copies,
    ``listed`` and ``sums`` the SHA-256 of each file as listed and as it is.
    """

    name: str
    records: Mapping[str, bytes]
    openings: Mapping[str, tuple[Opening, ...]] = field(default_factory=dict)
    files: Mapping[str, tuple[str, bytes]] = field(default_factory=dict)
    about: Mapping[str, Any] = field(default_factory=dict)
    texts: Mapping[str, bytes] = field(default_factory=dict)
    listed: Mapping[str, str] = field(default_factory=dict)
    sums: Mapping[str, str] = field(default_factory=dict)

    @property
    def aliases(self) -> dict[str, str]:
        """Short names of the benches that its trials come from."""
        return _texts_of(self.about.get("aliases"), _UUID)

    @property
    def persons(self) -> dict[str, str]:
        """Names of people, where they were shared."""
        return _texts_of(self.about.get("persons"), _UUID)

    @property
    def left_out(self) -> dict[str, int]:
        """What was kept back, and how often."""
        told = self.about.get("left_out")
        if not isinstance(told, dict):
            return {}
        return {str(k): v for k, v in told.items() if type(v) is int and v > 0}

    @property
    def partial(self) -> bool:
        """Whether only some of the trials were shared."""
        return self.about.get("selection") is True


def _texts_of(told: Any, key: re.Pattern[str]) -> dict[str, str]:
    if not isinstance(told, dict):
        return {}
    pairs = {k: " ".join(v.split())[:60] for k, v in told.items() if isinstance(v, str)}
    return {k: v for k, v in pairs.items() if key.fullmatch(k) and v}


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A package after every record was checked.

    ``records`` hold and have all they name; ``held`` lack something, each with the names
    of the missing records; ``problems`` are records and openings that do not hold.
    """

    records: Mapping[str, Record]
    held: Mapping[str, tuple[str, ...]]
    problems: tuple[Problem, ...]
    workspace: str

    @property
    def missing(self) -> tuple[str, ...]:
        """The names of the records that are named and not here."""
        return tuple(sorted({name for names in self.held.values() for name in names}))


def check_package(package: Package, here: Container[str] = ()) -> Checked:
    """Check each record against its name, and find those that lack what they name.

    Parameters
    ----------
    package : Package
        What was handed over.
    here : container of str
        Names of records that are known already and count as present.
    """
    records: dict[str, Record] = {}
    problems: list[Problem] = []
    for name, raw in package.records.items():
        record, wrong = check_record(name, raw, package.openings.get(name, ()))
        problems += wrong
        if record is not None:
            records[name] = record
    for name in package.openings.keys() - package.records.keys():
        if name not in here:
            problems.append(
                Problem(
                    record=name, what=f"a private field is opened, its record is missing ({name})"
                )
            )
    held = _held(records, here)
    sound = {name: record for name, record in records.items() if name not in held}
    return Checked(
        records=sound,
        held={name: tuple(sorted(lacks)) for name, lacks in held.items()},
        problems=tuple(problems),
        workspace=_origin(package, records),
    )


def _held(records: Mapping[str, Record], here: Container[str]) -> dict[str, set[str]]:
    named_by: dict[str, list[str]] = {}
    held: dict[str, set[str]] = {}
    for name, record in records.items():
        for _, other in edges(record.body):
            if other in records:
                named_by.setdefault(other, []).append(name)
            elif other not in here:
                held.setdefault(name, set()).add(other)
    waiting = list(held)
    while waiting:
        name = waiting.pop()
        for child in named_by.get(name, ()):
            lacks = held.setdefault(child, set())
            if not held[name] <= lacks:
                lacks |= held[name]
                waiting.append(child)
    return held


def _origin(package: Package, records: Mapping[str, Record]) -> str:
    told = package.about.get("workspace")
    if isinstance(told, str) and _UUID.fullmatch(told):
        return told
    own = (str(r.body["workspace"]) for r in records.values() if "workspace" in r.body)
    counted = Counter(sorted(own)).most_common(1)
    return counted[0][0] if counted else "00000000-0000-4000-8000-000000000000"


def read_history(path: Path) -> Package:
    """Read a shared history or a folder of record files, believing nothing.

    Raises
    ------
    ShareError
        Neither of the two, or made to do harm.
    """
    if path.is_dir():
        return _from_folder(path)
    entries = read_zip(path, _room)
    return _package(entries.root, entries.content, entries.sums, path.name)


def _room(name: str) -> int:
    """The most bytes that a file of a history may have, 0 for what is none."""
    if _RECORD.fullmatch(name):
        return MAX_BYTES
    return _LARGEST if name in _TEXTS or _FILE.fullmatch(name) else 0


def _from_folder(folder: Path) -> Package:
    content: dict[str, bytes] = {}
    for part in ("records", "photos", "files"):
        for file in sorted((folder / part).glob("[0-9a-f][0-9a-f]/*")):
            name = file.relative_to(folder).as_posix()
            if _room(name) and file.is_file() and not file.is_symlink():
                content[name] = _bytes_of(file, _room(name))
    for name in ("history.json", "openings.json"):
        if (folder / name).is_file() and not (folder / name).is_symlink():
            content[name] = _bytes_of(folder / name, _LARGEST)
    if not content:
        raise _nothing(folder.name)
    return _package(folder.name, content, {}, folder.name)


def _bytes_of(file: Path, room: int) -> bytes:
    """The bytes of a file in a folder that others may write to."""
    with file.open("rb") as stream:
        content = stream.read(room + 1)
    if len(content) > room:
        raise ShareError(
            where=file.name,
            found=f"more than {room / 1e6:g} MB",
            allowed="A file as labkit writes it",
            cause="Another program put it there",
            do="Take it out of the folder; nothing was taken from it",
        )
    return content


def _package(
    root: str, content: Mapping[str, bytes], sums: Mapping[str, str], where: str
) -> Package:
    records = {m[1]: raw for name, raw in content.items() if (m := _RECORD.fullmatch(name))}
    if not records:
        raise _nothing(where)
    files = {
        m[1]: (MEDIA.get(m[2] or "", MEDIA[""]), raw)
        for name, raw in content.items()
        if (m := _FILE.fullmatch(name))
    }
    about = _json(content.get("history.json", b"{}"), "history.json", where)
    listed = {
        m[2]: m[1]
        for line in content.get("SHA256SUMS", b"").decode("utf-8", "replace").splitlines()
        if (m := _SUM.fullmatch(line))
    }
    told = about.get("name")
    called = told if isinstance(told, str) and told.strip() else root
    return Package(
        name=visible(" ".join(called.split()))[:80],
        records=records,
        openings=_openings(content.get("openings.json", b"{}"), where),
        files=files,
        about=about,
        texts={name: content[name] for name in ("readings.csv", "report.html") if name in content},
        listed=listed,
        sums=sums,
    )


def _json(raw: bytes, name: str, where: str) -> dict[str, Any]:
    try:
        read = orjson.loads(raw)
    except orjson.JSONDecodeError as error:
        raise _unreadable(name, where) from error
    if not isinstance(read, dict):
        raise _unreadable(name, where)
    return read


def _openings(raw: bytes, where: str) -> dict[str, tuple[Opening, ...]]:
    found: dict[str, tuple[Opening, ...]] = {}
    for name, several in _json(raw, "openings.json", where).items():
        try:
            found[name] = tuple(
                Opening(pointer=str(o["pointer"]), salt=str(o["salt"]), value=o["value"])
                for o in several
            )
        except (TypeError, KeyError) as error:
            raise _unreadable("openings.json", where) from error
    return found


def openings_text(openings: Mapping[str, Iterable[Opening]]) -> bytes:
    """The openings as they are written beside the records."""
    told = {
        name: [{"pointer": o.pointer, "salt": o.salt, "value": o.value} for o in several]
        for name, several in openings.items()
    }
    return orjson.dumps(told, option=orjson.OPT_SORT_KEYS | orjson.OPT_INDENT_2) + b"\n"


def digest_of(names: Iterable[str]) -> str:
    """SHA-256 over the sorted names of a history, one a line: one word for all of it."""
    return hashlib.sha256("".join(f"{name}\n" for name in sorted(names)).encode()).hexdigest()


def files_named(record: Record) -> list[tuple[str, str]]:
    """The files that a record names by the SHA-256 of their content, each with what it is."""
    if not record.known:
        return []
    body, found = record.body, []
    if record.kind == "photo":
        found.append((str(body["photo"]), "photo"))
    if record.kind == "seal":
        found.append((str(body["digest"]), "list"))
    for entry in body.get("files", ()):
        if isinstance(entry, dict) and re.fullmatch(r"[0-9a-f]{64}", str(entry.get("sha256"))):
            found.append((str(entry["sha256"]), "file"))
    return found


def photo_type(content: bytes) -> str | None:
    """What kind of photo the bytes are, by their beginning, whatever the name says.

    Examples
    --------
    >>> photo_type(b"<svg onload='x'>"), photo_type(b"\\xff\\xd8\\xff\\xe0")
    (None, 'image/jpeg')
    """
    if content.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    return "image/webp" if content[:4] == b"RIFF" and content[8:12] == b"WEBP" else None


def kept_back(left_out: Mapping[str, int]) -> str:
    """What was kept back, in words.

    Examples
    --------
    >>> kept_back({"price": 12, "person": 1})
    '12 private prices, 1 name of a person'
    """
    return ", ".join(
        f"{n} {_KEPT.get(word, (f'private field ({word})',) * 2)[n > 1]}"
        for word, n in left_out.items()
    )


_KEPT = {
    "supplier": ("supplier", "suppliers"),
    "price": ("private price", "private prices"),
    "lot": ("lot number", "lot numbers"),
    "recipe": ("recipe line", "recipe lines"),
    "other": ("private field", "private fields"),
    "person": ("name of a person", "names of people"),
    "files": ("recipe file as it came", "recipe files as they came"),
    "photos": ("photo", "photos"),
}


def _nothing(where: str) -> ShareError:
    return ShareError(
        where=where,
        found="there is no record in it",
        allowed="A history that labkit exported, or a folder of its record files",
        cause="It is of another kind",
        do="Choose another file; nothing in this one was run",
    )


def _unreadable(name: str, where: str) -> LabkitError:
    return ShareError(
        where=where,
        found=f"{name} cannot be read",
        allowed="The file as labkit wrote it",
        cause="It was changed by hand, or damaged",
        do="Get the history again; nothing was taken from it",
    )
