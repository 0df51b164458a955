"""Pictures and papers written to a file: whole, or not at all."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from labkit.errors import ShareError

__all__ = ["save_text"]


def save_text(text: str, path: str | Path) -> Path:
    """Write a text file under another name first, then in place of an older one.

    Parameters
    ----------
    text : str
        Written as UTF-8, its line ends as they are.
    path : str or path
        A file in a folder that exists.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    ShareError
        The place cannot be written to; an older file of that name is unchanged.
    """
    target = Path(path).expanduser()
    fresh = target.with_name(f".{target.name}.{os.getpid()}.new")
    try:
        fresh.write_text(text, encoding="utf-8", newline="")
        fresh.replace(target)
    except OSError as error:
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise ShareError(
            where=target.name,
            found=f"it could not be written ({error.strerror or error})",
            allowed="A file in a folder that exists, with room on the disk",
            cause="The folder is missing, write-protected or full",
            do="Choose another place; an older file of that name is unchanged",
        ) from error
    return target
