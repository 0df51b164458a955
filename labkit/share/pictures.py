"""Photos in the report: small, inside the file, and not too many bytes in all."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable

from labkit.bench import Record
from labkit.bench.history import History
from labkit.bench.photos import clean_photo
from labkit.errors import LabkitError
from labkit.paperwork.as_html import text

__all__ = ["Pictures"]

SIDE = 560
"""Longer side of a photo in the report, in pixels."""
BUDGET = 1_200_000
"""Bytes that all photos of one report may take; the others are named."""


class Pictures:
    """The photos of one history, counted against one budget."""

    def __init__(self, history: History) -> None:
        self._history, self._left = history, BUDGET

    def html(self, photos: Iterable[Record]) -> str:
        """Photos with their captions; one that cannot be shown is told in words."""
        shown = "".join(map(self._figure, photos))
        return f'<div class="lk-photos">{shown}</div>' if shown else ""

    def _figure(self, record: Record) -> str:
        sha, caption = str(record.body["photo"]), str(record.body.get("caption", ""))
        words = f"<figcaption>{text(caption)}</figcaption>" if caption else ""
        try:
            small = _small(self._history.store.file_bytes(sha)[1])
        except LabkitError:
            return (
                f"<figure><p class='lk-muted'>A photo that is not shown here.</p>{words}</figure>"
            )
        if len(small) > self._left:
            return (
                f"<figure><p class='lk-muted'>Photo {sha[:12]} is in the file.</p>{words}</figure>"
            )
        self._left -= len(small)
        said = base64.b64encode(small).decode()
        alt = text(caption or "photo")
        return f'<figure><img src="data:image/jpeg;base64,{said}" alt="{alt}">{words}</figure>'


def _small(content: bytes) -> bytes:
    from PIL import Image

    photo = clean_photo(content)
    with Image.open(io.BytesIO(photo.content)) as image:
        small = image.convert("RGB")
        small.thumbnail((SIDE, SIDE))
        out = io.BytesIO()
        small.save(out, "JPEG", quality=78)
    return out.getvalue()
