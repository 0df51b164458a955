"""Photos: known by their content, without what the camera wrote into them."""

from __future__ import annotations

import io
import os
import warnings
from dataclasses import dataclass
from pathlib import Path

from labkit.errors import RecordError

__all__ = ["MAX_PHOTO_BYTES", "MAX_PIXELS", "Photo", "clean_photo"]

MAX_PHOTO_BYTES = 10_000_000
"""The largest photo file taken in, in bytes."""
MAX_PIXELS = 60_000_000
"""The largest photo, in pixels; told from its header before anything is unpacked."""
_KINDS = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A photo as it is kept: pixels only."""

    content: bytes
    media_type: str
    width: int
    height: int


def clean_photo(photo: str | os.PathLike[str] | bytes) -> Photo:
    """Read a JPEG, PNG or WebP photo and write its pixels anew, upright, without EXIF.

    Raises
    ------
    RecordError
        Not such a photo (whatever its name says), too large, or damaged.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    where = "Photo" if isinstance(photo, bytes) else Path(photo).name
    raw = _bytes_of(photo, where)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image = Image.open(io.BytesIO(raw), formats=tuple(_KINDS))
        kind = str(image.format)
        if image.width * image.height > MAX_PIXELS:
            raise _too_many(where, f"{image.width} x {image.height}")
        upright = ImageOps.exif_transpose(image)
        mode = "RGB" if kind == "JPEG" or upright.mode not in {"RGBA", "LA", "P"} else "RGBA"
        pixels = upright.convert("L" if upright.mode == "L" else mode)
        bare = Image.frombytes(pixels.mode, pixels.size, pixels.tobytes())
        out = io.BytesIO()
        bare.save(out, kind, **({} if kind == "PNG" else {"quality": 90}))
    except Image.DecompressionBombError as error:
        raise _too_many(where, "far too many") from error
    except UnidentifiedImageError as error:
        raise _not_a_photo(where, raw) from error
    except (OSError, SyntaxError, ValueError) as error:
        if isinstance(error, RecordError):
            raise
        raise _refused(
            where, "a damaged picture", "A whole photo", "The copy was cut short", "Copy it again"
        ) from error
    return Photo(
        content=out.getvalue(), media_type=_KINDS[kind], width=bare.width, height=bare.height
    )


def _bytes_of(photo: str | os.PathLike[str] | bytes, where: str) -> bytes:
    try:
        size = len(photo) if isinstance(photo, bytes) else Path(photo).stat().st_size
        if size > MAX_PHOTO_BYTES:
            raise _refused(
                where,
                f"{size / 1e6:.1f} MB",
                f"At most {MAX_PHOTO_BYTES // 1_000_000} MB",
                "A photo at full size",
                "Save it smaller",
            )
        return photo if isinstance(photo, bytes) else Path(photo).read_bytes()
    except OSError as error:
        raise _refused(
            where,
            "no such photo, or it cannot be read",
            "A JPEG, PNG or WebP file",
            "The path was mistyped",
            "Check the path",
        ) from error


def _too_many(where: str, pixels: str) -> RecordError:
    return _refused(
        where,
        f"{pixels} pixels",
        f"At most {MAX_PIXELS // 1_000_000} million pixels",
        "A picture made to fill the memory, or a very large scan",
        "Make it smaller",
    )


def _not_a_photo(where: str, raw: bytes) -> RecordError:
    start = raw[:200].lstrip().lower()
    what = "a drawing (SVG), which can carry a program" if b"<svg" in start else "no photo inside"
    return _refused(
        where,
        what,
        "A JPEG, PNG or WebP photo, whatever its name",
        "The file is of another kind than its name says",
        "Take a photo, or save the picture as PNG",
    )


def _refused(where: str, found: str, allowed: str, cause: str, do: str) -> RecordError:
    return RecordError(
        where=where, found=found, allowed=allowed, cause=cause, do=f"{do}; nothing was saved"
    )
