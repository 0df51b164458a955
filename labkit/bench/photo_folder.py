"""A folder into which a telephone or camera drops photos: each finds its trial."""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from labkit.bench.photos import clean_photo
from labkit.bench.records import Record
from labkit.errors import LabkitError, RecordError

if TYPE_CHECKING:
    from labkit.bench.bench import Bench

__all__ = ["FoundPhoto", "take_photos"]

ENDINGS = {".jpg", ".jpeg", ".png", ".webp"}
WITHIN = timedelta(hours=6)
"""A photo without a code belongs to what was last written down up to six hours before it."""
_TAKEN = 36867  # EXIF DateTimeOriginal
_EXIF = 0x8769


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundPhoto:
    """A file of the folder: the trial it belongs to and how that is known, or why not."""

    name: str
    label: str | None
    how: str
    record: Record | None


def take_photos(
    bench: Bench,
    folder: str | os.PathLike[str],
    *,
    within: timedelta = WITHIN,
    zone: Any = None,
) -> list[FoundPhoto]:
    """Take the new photos of a folder into the history, by code or by time.

    Parameters
    ----------
    folder : path
        Files stay where they are; one that was taken before is passed over.
    within : timedelta
        Longest time between the last record and the photo, for files without a code.
    zone : tzinfo, optional
        Of the camera's clock; this computer's if left out.

    Returns
    -------
    list of FoundPhoto
        One for each new photo, by name. A code is a trial's label, or the six signs that
        stand on its sticker, as a word of the file's name. A photo that fits no trial is
        returned with the reason and kept out.

    Raises
    ------
    RecordError
        No such folder.
    """
    place = Path(folder)
    if not place.is_dir():
        raise RecordError(
            where="Folder of photos",
            found=f"no folder '{place.name}'",
            allowed="A folder that exists",
            cause="The path was mistyped, or the telephone is not connected",
            do="Check the path",
        )
    known = {str(r.body["photo"]) for r in bench.records("photo")}
    moments = _moments(bench)
    called = {str(label): str(name) for label, name in _labels(bench)}
    told = []
    for path in sorted(p for p in place.iterdir() if p.suffix.lower() in ENDINGS):
        found = _take(bench, path, known, called, moments, within, zone)
        if found is not None:
            told.append(found)
    return told


def _labels(bench: Bench) -> Iterable[tuple[str, str]]:
    frame = bench.trials()
    return zip(frame["label"].tolist(), frame["id"].tolist(), strict=True)


def _take(
    bench: Bench,
    path: Path,
    known: set[str],
    called: dict[str, str],
    moments: list[tuple[datetime, str]],
    within: timedelta,
    zone: Any,
) -> FoundPhoto | None:
    try:
        clean = clean_photo(path)
    except LabkitError as error:
        return FoundPhoto(name=path.name, label=None, how=str(error), record=None)
    digest = hashlib.sha256(clean.content).hexdigest()
    if digest in known:
        return None
    trial, how = _by_code(path.stem, called)
    if trial is None:
        trial, how = _by_time(_taken(path, zone), moments, within)
    if trial is None:
        return FoundPhoto(name=path.name, label=None, how=how, record=None)
    record = bench.photo(trial, path, f"{path.name}, {how}")
    known.add(digest)
    label = next((label for label, name in called.items() if name == trial), "")
    return FoundPhoto(name=path.name, label=label, how=how, record=record)


def _by_code(stem: str, called: dict[str, str]) -> tuple[str | None, str]:
    text = stem.casefold()
    for label in sorted(called, key=len, reverse=True):
        if re.search(rf"(?<![a-z0-9]){re.escape(label.casefold())}(?![a-z0-9])", text):
            return called[label], f"by its code {label}"
    for word in re.findall(r"(?<![a-z0-9])[0-9a-f]{6,}(?![a-z0-9])", text):
        hits = [name for name in called.values() if name.startswith(word)]
        if len(hits) == 1:
            return hits[0], f"by its code {word}"
    return None, "no code in its name"


def _by_time(
    taken: datetime, moments: list[tuple[datetime, str]], within: timedelta
) -> tuple[str | None, str]:
    before = [(when, name) for when, name in moments if when <= taken]
    if before and taken - before[-1][0] <= within:
        return before[-1][1], "by the time it was taken"
    return None, "no code in its name, and nothing was written down shortly before it was taken"


def _moments(bench: Bench) -> list[tuple[datetime, str]]:
    """When something was written down about a trial, oldest first."""
    frame = bench.trials()
    told = [(when.to_pydatetime(), str(name)) for when, name in _times(frame)]
    trials = {name for _, name in told}
    owner = {r.id: r.about[0] for r in bench.records("batch") if r.about}
    for record in bench.records("batch"):
        name = owner.get(owner.get(record.id, ""), owner.get(record.id, ""))
        if name in trials:
            told.append((datetime.fromisoformat(record.created), name))
    return sorted(told)


def _times(frame: Any) -> Iterable[tuple[Any, Any]]:
    return zip(frame["created"].tolist(), frame["id"].tolist(), strict=True)


def _taken(path: Path, zone: Any) -> datetime:
    """When the camera took it; when the file was written, where the camera does not say."""
    from PIL import Image

    with Image.open(path) as image:
        said = image.getexif().get_ifd(_EXIF).get(_TAKEN)
    try:
        local = datetime.strptime(str(said), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return datetime.fromtimestamp(path.stat().st_mtime, UTC)
    return local.replace(tzinfo=zone).astimezone(UTC) if zone else local.astimezone(UTC)
