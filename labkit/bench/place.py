"""Where the bench file lies, and what kind of place that is."""

from __future__ import annotations

import os
from pathlib import Path

from labkit.errors import StoreError

__all__ = ["BenchPlaceWarning", "bench_file", "is_address", "risky_place"]

_NETWORK = {"nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "fuse.sshfs", "afs", "ceph", "davfs"}
_SYNCED = ("dropbox", "onedrive", "google drive", "googledrive", "icloud", "nextcloud", "owncloud")
_SYNC_MARKS = (".stfolder", ".dropbox", ".owncloudsync.log", ".sync")
_MOUNTS = Path("/proc/self/mounts")


class BenchPlaceWarning(UserWarning):
    """The bench file lies where a live database can be torn: a network or synced folder."""


def is_address(where: object) -> bool:
    """Is this the address of a server, and not a file?

    Examples
    --------
    >>> is_address("postgresql+psycopg://studio/bench"), is_address("my-bench.db")
    (True, False)
    """
    return isinstance(where, str) and "://" in where


def bench_file(where: str | os.PathLike[str]) -> Path:
    """The file that a path stands for: itself, or ``bench.db`` inside a folder.

    Raises
    ------
    StoreError
        The folder is closed to this person.

    Examples
    --------
    >>> bench_file("my-bench.db").name
    'my-bench.db'
    """
    path = Path(where).expanduser()
    text = os.fspath(where)
    try:
        folder = path.is_dir()
    except OSError as trouble:
        raise StoreError(
            where=f"Bench {path.name or path}",
            found="the folder cannot be looked into",
            allowed="A folder that this person may open",
            cause=f"{trouble.strerror or trouble}",
            do="Ask the owner for access, or name a folder of your own",
        ) from trouble
    if folder or text.endswith(("/", os.sep)):
        path = path / "bench.db"
    return path.absolute()


def risky_place(file: Path, mounts: Path = _MOUNTS) -> str | None:
    """What is risky about the folder, in words; None for an ordinary folder.

    Examples
    --------
    >>> risky_place(Path("/home/studio/Dropbox/bench.db"), Path("/dev/null"))
    'a folder that a program copies to other computers'
    """
    for folder in file.parents:
        if folder.name.lower().startswith(_SYNCED) or any(
            (folder / mark).exists() for mark in _SYNC_MARKS
        ):
            return "a folder that a program copies to other computers"
    if _file_system(file, mounts) in _NETWORK:
        return "a network drive"
    return None


def _file_system(file: Path, mounts: Path) -> str | None:
    try:
        table = mounts.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return None
    best: tuple[int, str | None] = (-1, None)
    for line in table:
        parts = line.split()
        if len(parts) < 3:
            continue
        point = Path(parts[1].replace("\\040", " "))
        if (file == point or point in file.parents) and len(point.parts) >= best[0]:
            best = (len(point.parts), parts[2])
    return best[1]
