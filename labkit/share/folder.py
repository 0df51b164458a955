"""A history as a folder of record files: for synced folders and for git.

Each record is a file named by the SHA-256 of its content, so that two computers can
never write different things to one name. It is written under another name first and
then renamed; whatever else lies in the folder is left alone and never read.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import orjson

from labkit.bench.history import History
from labkit.errors import ShareError
from labkit.share.gathering import LEFT_OUT, gather
from labkit.share.package import MEDIA, openings_text

__all__ = ["FolderWritten", "git_ready", "write_folder"]

_ENDINGS = {kind: ending for ending, kind in MEDIA.items() if ending}
ATTRIBUTES = """# labkit: records are added, never changed, so two branches never conflict.
records/** -text
photos/** binary
files/** binary
*.ipynb filter=nbstripout diff=ipynb
"""
IGNORED = """# labkit: the bench file stays on this computer; its records go to records/.
*.db
*.db-journal
*.part
.ipynb_checkpoints/
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderWritten:
    """What was written: how many files are new, how many were there already."""

    folder: Path
    new: int
    known: int

    def __str__(self) -> str:
        return f"{self.folder}: {self.new} files written, {self.known} already there"


def write_folder(
    bench: History,
    folder: str | os.PathLike[str],
    leave_out: str | Iterable[str] = LEFT_OUT,
    trials: Sequence[Any] | None = None,
) -> FolderWritten:
    """Write the records of a bench as files, adding to what the folder has.

    `labkit.share.merge` reads such a folder back into a bench, from any number of
    computers in any order.

    Parameters
    ----------
    bench : Bench
        What is written.
    folder : path
        Made if it is not there.
    leave_out, trials
        As for `labkit.share.export`.

    Raises
    ------
    ShareError
        The folder cannot be written to.
    """
    target = Path(folder).expanduser()
    package = gather(bench, leave_out, trials, target.name or "history")
    files = {f"records/{name[:2]}/{name}.json": raw for name, raw in package.records.items()}
    for sha, (kind, raw) in package.files.items():
        place = "photos" if kind.startswith("image/") else "files"
        files[f"{place}/{sha[:2]}/{sha}{_ENDINGS.get(kind, '')}"] = raw
    about = {k: v for k, v in package.about.items() if k not in {"records", "digest"}}
    new = known = 0
    with _told(target):
        target.mkdir(parents=True, exist_ok=True)
        for name, raw in sorted(files.items()):
            if (target / name).exists():
                known += 1
            else:
                _place(target / name, raw)
                new += 1
        _place(target / "history.json", orjson.dumps(about, option=orjson.OPT_INDENT_2) + b"\n")
        if package.openings:
            _place(target / "openings.json", openings_text(package.openings))
    return FolderWritten(folder=target, new=new, known=known)


def git_ready(folder: str | os.PathLike[str]) -> list[Path]:
    """Write ``.gitattributes`` and ``.gitignore`` for a bench folder; files there stay as they are.

    Returns
    -------
    list of Path
        The files that were written.
    """
    target, written = Path(folder).expanduser(), []
    with _told(target):
        target.mkdir(parents=True, exist_ok=True)
        for name, content in ((".gitattributes", ATTRIBUTES), (".gitignore", IGNORED)):
            if not (target / name).exists():
                _place(target / name, content.encode())
                written.append(target / name)
    return written


def _place(path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=".labkit-", suffix=".part", dir=path.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        part.chmod(0o644)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


@contextlib.contextmanager
def _told(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise ShareError(
            where=folder.name,
            found=error.strerror or "it cannot be written to",
            allowed="A folder that can be written to, with room in it",
            cause="It is write-protected, full, or a file of this name is in the way",
            do="Choose another place; files that were written are whole",
        ) from error
