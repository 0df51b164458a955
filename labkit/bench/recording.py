"""How a trial, a correction of a record, and a seal are written down."""

from __future__ import annotations

import copy
import os
from collections.abc import Iterable, Sequence
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, Protocol

from sqlalchemy import select

from labkit.bench import layout
from labkit.bench.canonical import plain
from labkit.bench.commitments import point
from labkit.bench.conditions import recondition
from labkit.bench.fold import Folded, amendment_heads
from labkit.bench.measuring import reread
from labkit.bench.records import Record, check_body, fields_of
from labkit.bench.snapshots import forecast_values, material_values, price_values, values_of
from labkit.bench.writing import MAX_FILE_BYTES, Writer
from labkit.errors import RecordError
from labkit.formula.model import Formula

__all__ = ["TrialDraft", "amendment_body", "read_file", "seal_body", "worded"]

_FIXED = {
    *("schema", "workspace", "author", "created", "parents", "about", "private", "uses"),
    *("formula", "forecast", "materials", "prices", "files", "software", "label", "batch"),
    *("photo", "media_type", "width", "height", "digest", "count", "model", "data", "seed"),
    *("quantity", "unit", "material", "path", "was", "now", "pointers", "code"),
}
_MEDIA = {".csv": "text/csv", ".txt": "text/plain", ".md": "text/markdown", ".tsv": "text/plain"}


class KnowsMaterials(Protocol):
    """Anything that can say which material a name means."""

    def resolve(self, text: str) -> Any:
        """The material, or None."""


class TrialDraft:
    """A trial made ready outside the transaction, so that nothing can fail inside it."""

    def __init__(
        self,
        formula: Formula,
        *,
        note: str,
        forecast: Any,
        brief: Any,
        mats: KnowsMaterials | None,
        recipe: str | os.PathLike[str] | bytes | None,
    ) -> None:
        if not isinstance(formula, Formula):
            raise RecordError(
                where="Trial",
                found=f"a {type(formula).__name__} in place of a formula",
                allowed="A Formula, whose total is exactly 100 %",
                cause="The recipe was not read into a formula yet",
                do="Use Formula.read or Formula.parse first; nothing was saved",
            )
        self.materials: list[tuple[int, dict[str, Any]]] = []
        self.file = None if recipe is None else read_file(recipe)
        self.body: dict[str, Any] = {"software": _software(forecast is not None)}
        prices = []
        if mats is not None:
            formula = formula.resolved(mats)
            for position, line in enumerate(formula.lines):
                material = mats.resolve(line.key or line.material)
                if material is None:
                    continue
                self.materials.append((position, material_values(material)))
                if price := price_values(material):
                    prices.append({"line": position} | price)
        self.body["formula"] = values_of(formula.as_dict(), f"Formula {formula.name}")
        if prices:
            self.body["prices"] = prices
        if note:
            self.body["note"] = worded(note, "Note")
        if (told := forecast_values(forecast)) is not None:
            self.body["forecast"] = told
        if brief is not None:
            said = brief.as_dict() if hasattr(brief, "as_dict") else brief
            self.body["brief"] = values_of(said, "Brief")
            if not isinstance(self.body["brief"], dict):
                self.body["brief"] = {"values": self.body["brief"]}

    def write(
        self,
        writer: Writer,
        label: str,
        parents: Sequence[str],
        batch: str | None,
        private: Iterable[str],
    ) -> Record:
        """Add the trial, the materials as used, and the recipe file."""
        used = [
            {"line": position, "material": writer.add("material", {"material": values}).id}
            for position, values in self.materials
        ]
        body = self.body | {"label": label, "parents": sorted(set(parents))}
        if used:
            body["materials"] = used
        if batch is not None:
            body["batch"] = batch
        if self.file is not None:
            name, media_type, content = self.file
            sha256 = writer.keep_file(content, media_type)
            body["files"] = [{"sha256": sha256, "name": name, "media_type": media_type}]
        return writer.add("trial", body, {"/prices", *self._costs(), *private})

    def _costs(self) -> list[str]:
        """Where the forecast tells what it costs: as private as the prices themselves."""
        estimates = self.body.get("forecast", {}).get("estimates", ())
        return [
            f"/forecast/estimates/{place}"
            for place, one in enumerate(estimates)
            if isinstance(one, dict) and one.get("quantity") == "cost"
        ]


@cache
def _software(calculated: bool) -> dict[str, str]:
    packages = ("labkit", "numpy", "scipy") if calculated else ("labkit",)
    found = {}
    for package in packages:
        try:
            found[package] = version(package)
        except PackageNotFoundError:
            continue
    return found


def read_file(recipe: str | os.PathLike[str] | bytes) -> tuple[str, str, bytes]:
    """Name, media type and content of a file to be kept with a trial.

    Raises
    ------
    RecordError
        There is no such file, or it is too large.
    """
    if isinstance(recipe, bytes):
        return "recipe", "application/octet-stream", recipe
    path = Path(recipe)
    try:
        size = path.stat().st_size
        content = path.read_bytes() if size <= MAX_FILE_BYTES else b""
    except OSError as error:
        raise RecordError(
            where=path.name,
            found="no such file, or it cannot be read",
            allowed="A file in a folder that exists",
            cause="The path was mistyped",
            do="Check the path; nothing was saved",
        ) from error
    if size > MAX_FILE_BYTES:
        raise RecordError(
            where=path.name,
            found=f"{size / 1e6:.1f} MB",
            allowed=f"At most {MAX_FILE_BYTES // 1_000_000} MB",
            cause="Pictures inside the sheet, or a file of another kind",
            do="Save the recipe alone; nothing was saved",
        )
    media_type = _MEDIA.get(path.suffix.lower(), "application/octet-stream")
    return plain(path.name, "File name"), media_type, content


def worded(text: str, what: str) -> str:
    """A text that must say something.

    Raises
    ------
    RecordError
        It is empty.
    """
    said = str(plain(str(text), what)).strip()
    if said:
        return said
    raise RecordError(
        where=what,
        found="nothing was written",
        allowed="A few words",
        cause="The field was left empty",
        do="Say it in a few words, so that it can be understood in a year",
    )


def amendment_body(folded: Folded, path: str, now: Any, reason: str) -> dict[str, Any]:
    """The body of an amendment: what it was, what it is now, why, and which others it knew of.

    Raises
    ------
    RecordError, MeasurementError, QuantityError
        A place that may not be amended or is not there, a value that does not fit,
        no reason.
    """
    record = folded.record
    where = f"Amendment of the {record.kind} {record.id[:12]}"
    _check_path(record, path, where)
    body_now = copy.deepcopy(dict(folded.body))
    holder, key = point(body_now, path, make=True)
    if holder is None or path.split("/")[1] not in fields_of(record.kind):
        raise RecordError(
            where=where,
            found=f"there is no '{path}'",
            allowed=", ".join(f"/{name}" for name in record.body if name not in _FIXED),
            cause="The place was mistyped",
            do="Choose one of these places",
        )
    present = isinstance(holder, list) or key in holder
    if record.kind == "measurement" and key in {"value", "word"} and present:
        now = reread(record.body["quantity"], holder, now)
    elif record.kind == "measurement" and path.startswith("/conditions/"):
        now = recondition(str(key), now)
    changed: Any = values_of(now, where)
    body = {"about": [record.id], "path": path, "now": changed, "reason": worded(reason, "Reason")}
    if present:
        body["was"] = holder[key]
    holder[key] = changed
    check_body(record.kind, body_now, record.id)
    heads = amendment_heads(folded.amendments).get(path, ())
    return body | {"parents": sorted(head.id for head in heads)}


def _check_path(record: Record, path: str, where: str) -> None:
    root = path.split("/")[1] if path.startswith("/") else ""
    if not root or (root in _FIXED and root not in _AMENDABLE.get(record.kind, ())):
        instead = {
            "formula": "Record a new trial with this one as its parent",
            "forecast": "Leave it: a forecast stands as it was made",
        }
        raise RecordError(
            where=where,
            found=f"the place '{path}'",
            allowed="A place such as /value, /note or /conditions/temperature_c",
            cause="What a trial was meant to be never changes"
            if root in instead
            else "This part of a record never changes",
            do=instead.get(root, "Withdraw the record and make a new one, or add a note"),
        )


_AMENDABLE = {"lot": {"material"}}


def seal_body(writer: Writer, note: str) -> dict[str, Any]:
    """The body of a seal: a digest over the sorted names of everything recorded so far."""
    table = layout.record
    query = select(table.c.hash).where(table.c.workspace == writer.workspace)
    names = sorted(writer.connection.execute(query).scalars())
    listed = "".join(f"{name}\n" for name in names).encode()
    digest = writer.keep_file(listed, "text/plain", largest=None)
    body: dict[str, Any] = {"count": len(names), "digest": digest}
    return body | ({"note": worded(note, "Note")} if note else {})
