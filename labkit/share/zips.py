"""One zip with one folder in it: written whole or not at all, read with every entry counted.

Nothing is unpacked to disk. Sizes are counted while reading; what a header claims
is not believed.
"""

from __future__ import annotations

import hashlib
import os
import stat
import struct
import tempfile
import unicodedata
import zipfile
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO

from labkit.bench.canonical import visible
from labkit.errors import ShareError

__all__ = ["MAX_BYTES", "MAX_ENTRIES", "MAX_RATIO", "Entries", "read_zip", "write_zip"]

MAX_ENTRIES = 50_000
"""The most entries that a shared history may have."""
MAX_BYTES = 200_000_000
"""The most bytes that it may unpack to, counted while reading."""
MAX_RATIO = 100
"""The most bytes that one packed byte may become, once there is more than a megabyte."""
_DIRECTORY_BYTES = 20_000_000
_PIECE = 1 << 16
_FREE = 1_000_000
_DAY = (1980, 1, 1, 0, 0, 0)


@dataclass(slots=True)
class Entries:
    """What was read: the one folder, the wanted files in it, and the SHA-256 of every file."""

    root: str
    content: dict[str, bytes] = field(default_factory=dict)
    sums: dict[str, str] = field(default_factory=dict)


def read_zip(path: Path, wanted: Callable[[str], int]) -> Entries:
    """Read the files of a zip that has one folder, keeping those that are wanted.

    Parameters
    ----------
    path : Path
        The zip.
    wanted : callable
        Told a name below the folder; the most bytes to keep of it, 0 to count them only.

    Raises
    ------
    ShareError
        No zip; damaged or cut short; too large, too many or too densely packed; an entry
        that is locked, a link, doubled, or points outside the folder.
    """
    try:
        with path.open("rb") as file:
            _look_at_the_end(file, path.name)
            with zipfile.ZipFile(file) as opened:
                listed = opened.infolist()
                _check_count(len(listed), path.name)
                files = _checked(listed, path.name)
                return _read(opened, files, wanted, path)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, struct.error) as error:
        raise _damaged(path.name, str(error)) from error
    except RuntimeError as error:
        raise _refused(
            path.name,
            "it is locked with a password",
            "A zip that opens without one",
            "A zip program locked it",
            "Ask for the file as labkit wrote it",
        ) from error
    except OSError as error:
        raise _refused(
            path.name,
            error.strerror or "it cannot be read",
            "A file that exists and may be read",
            "The path was mistyped",
            "Check the path",
        ) from error


def _look_at_the_end(file: BinaryIO, name: str) -> None:
    """The size of the directory, before anything is made of it."""
    file.seek(0, os.SEEK_END)
    size = file.tell()
    file.seek(max(0, size - 66_000))
    tail = file.read()
    at = tail.rfind(b"PK\x05\x06")
    if at < 0 or len(tail) < at + 22:
        file.seek(0)
        raise _no_zip(name) if file.read(4) != b"PK\x03\x04" else _damaged(name, "no directory")
    count, directory = struct.unpack("<H", tail[at + 10 : at + 12])[0], tail[at + 12 : at + 16]
    length = struct.unpack("<I", directory)[0]
    if length == 0xFFFFFFFF or count == 0xFFFF:
        big = tail.rfind(b"PK\x06\x06")
        if big < 0 or len(tail) < big + 48:
            raise _damaged(name, "no directory")
        count, length = struct.unpack("<QQ", tail[big + 32 : big + 48])
    _check_count(count, name)
    if length > _DIRECTORY_BYTES:
        raise _too_much(name, f"a directory of {length / 1e6:.0f} MB")


def _check_count(count: int, name: str) -> None:
    if count > MAX_ENTRIES:
        raise _too_much(name, f"{count} entries")


def _checked(listed: Iterable[zipfile.ZipInfo], name: str) -> list[tuple[str, zipfile.ZipInfo]]:
    found: list[tuple[str, zipfile.ZipInfo]] = []
    seen: set[str] = set()
    roots: set[str] = set()
    for entry in listed:
        written = entry.orig_filename
        parts = written.split("/")
        if entry.is_dir():
            parts = parts[:-1]
        if fault := _fault(entry, written, parts):
            raise _entry(name, written, fault)
        folded = unicodedata.normalize("NFC", written).casefold()
        if folded in seen:
            raise _entry(name, written, "the same name twice, or only its case differs")
        seen.add(folded)
        roots.add(parts[0])
        if not entry.is_dir():
            if len(parts) < 2:
                raise _entry(name, written, "a file beside the one folder")
            found.append(("/".join(parts[1:]), entry))
    if len(roots) != 1:
        raise _refused(
            name,
            f"{len(roots)} folders at the top",
            "One folder, with the history in it",
            "It was packed by another program, or is something else",
            "Ask for the file as labkit wrote it",
        )
    return found


def _fault(entry: zipfile.ZipInfo, written: str, parts: list[str]) -> str | None:
    if entry.flag_bits & 0x1:
        return "locked with a password"
    if written.startswith("/") or "\\" in written or ":" in parts[0] or ".." in parts:
        return "a place outside the folder"
    if "" in parts or "." in parts or any(ord(sign) < 32 or sign == "\x7f" for sign in written):
        return "no plain file name"
    if stat.S_ISLNK(entry.external_attr >> 16):
        return "a link to another place"
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        return "a way of packing that a history does not use"
    return None


def _read(
    opened: zipfile.ZipFile,
    files: list[tuple[str, zipfile.ZipInfo]],
    wanted: Callable[[str], int],
    path: Path,
) -> Entries:
    first = files[0][1].orig_filename if files else "/"
    found, total = Entries(first.split("/")[0]), 0
    for name, entry in files:
        digest, kept, size = hashlib.sha256(), [], 0
        room = wanted(name)
        with opened.open(entry) as stream:
            while piece := stream.read(_PIECE):
                size, total = size + len(piece), total + len(piece)
                if size > _FREE and size > MAX_RATIO * max(entry.compress_size, 1):
                    raise _too_much(path.name, f"{name}, which swells over {MAX_RATIO} times")
                if total > MAX_BYTES:
                    raise _too_much(path.name, f"more than {MAX_BYTES // 1_000_000} MB")
                digest.update(piece)
                if room and size > room:
                    raise _too_much(path.name, f"{name}, of more than {room / 1e6:g} MB")
                if room:
                    kept.append(piece)
        found.sums[name] = digest.hexdigest()
        if room:
            found.content[name] = b"".join(kept)
    return found


def write_zip(path: Path, root: str, files: Iterable[tuple[str, bytes]]) -> Path:
    """Write a zip with one folder, whole or not at all; the same files give the same bytes.

    Raises
    ------
    ShareError
        The place cannot be written to.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=".labkit-", suffix=".part", dir=path.parent)
        part = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as packed:
                    for relative, content in files:
                        packed.writestr(_entry_for(f"{root}/{relative}"), content)
                file.flush()
                os.fsync(file.fileno())
            part.chmod(0o644)
            part.replace(path)
        finally:
            part.unlink(missing_ok=True)
    except OSError as error:
        raise _refused(
            path.name,
            error.strerror or "it cannot be written",
            "A folder that exists, with room in it",
            "The folder is missing, write-protected or full",
            "Choose another place; a file that was there is as it was",
        ) from error
    return path


def _entry_for(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, _DAY)
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.create_system = 3
    entry.external_attr = 0o644 << 16
    return entry


def _no_zip(name: str) -> ShareError:
    return _refused(
        name,
        "this is no shared history",
        "A file that labkit exported (.eln)",
        "It is of another kind, whatever its name says",
        "Choose another file; nothing in this one was run",
    )


def _damaged(name: str, detail: str) -> ShareError:
    return ShareError(
        where=name,
        found="the file is damaged or cut short",
        allowed="The whole file as it was exported",
        cause="The download or copy was not finished",
        do="Get it again; nothing was taken from it",
        detail=detail,
    )


def _too_much(name: str, found: str) -> ShareError:
    return _refused(
        name,
        found,
        f"At most {MAX_ENTRIES} files, {MAX_BYTES // 1_000_000} MB, and a packing of at most "
        f"1 to {MAX_RATIO}",
        "It was made to fill the memory, or is something else",
        "Do not open it",
    )


def _entry(name: str, written: str, fault: str) -> ShareError:
    return ShareError(
        where=name,
        found=f"the entry '{visible(written)[:80]}': {fault}",
        allowed="Plain files inside one folder",
        cause="It was made to do harm, or packed by another program",
        do="Do not use it; nothing was taken from it",
        entry=written,
    )


def _refused(name: str, found: str, allowed: str, cause: str, do: str) -> ShareError:
    return ShareError(where=name, found=found, allowed=allowed, cause=cause, do=do)
