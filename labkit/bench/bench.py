"""The bench: what was recorded, measured and noted, and how it is looked at."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from labkit.bench.batches import Batch, start_batch
from labkit.bench.canonical import plain
from labkit.bench.doubts import doubts
from labkit.bench.fold import fold
from labkit.bench.frames import Corrections
from labkit.bench.history import History, Ref
from labkit.bench.labels import check_label, free_label, next_number
from labkit.bench.measuring import measurement
from labkit.bench.microscope import measure_droplets
from labkit.bench.photo_folder import FoundPhoto, take_photos
from labkit.bench.photos import clean_photo
from labkit.bench.recording import (
    KnowsMaterials,
    TrialDraft,
    amendment_body,
    seal_body,
    worded,
)
from labkit.bench.records import Record
from labkit.bench.reindexing import reindex
from labkit.bench.snapshots import values_of
from labkit.bench.stock import Stock
from labkit.bench.store import Clock, Store
from labkit.bench.views import Reading, Trial
from labkit.bench.writing import Entropy
from labkit.errors import RecordError
from labkit.formula.model import Formula

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Bench"]

_PRIVATE = {"lot": ("/supplier", "/price", "/lot"), "batch": ()}
_VERDICTS = ("keep", "change", "stop")


class Bench(History):
    """The history of a bench: records are added, never changed or removed.

    Open one with :meth:`Bench.open`; two notebooks may hold the same file open.

    Examples
    --------
    >>> import tempfile
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5")
    >>> with tempfile.TemporaryDirectory() as folder, Bench.open(folder) as bench:
    ...     first = bench.record(gel, note="first gel")
    ...     reading = bench.measure(first, "pH", 5.31, temperature="25 °C")
    ...     second = bench.record(gel.move("glycerin", "6 %"), parent=first)
    ...     print(second.label, [t.label for t in bench.lineage(second)], bench.verify().ok)
    T2 ['T1'] True
    """

    def __init__(self, store: Store) -> None:
        super().__init__(store)
        self._next_number: int | None = None

    @classmethod
    def open(
        cls,
        where: str | os.PathLike[str],
        *,
        person: str | None = None,
        read_only: bool = False,
        clock: Clock | None = None,
        entropy: Entropy = os.urandom,
    ) -> Bench:
        """Open a bench, or start a new one.

        Parameters
        ----------
        where : path or str
            A file; a folder, for ``bench.db`` inside it; or the address of a server,
            ``postgresql+psycopg://…``.
        person : str, optional
            Who records. The name stays in this bench; records carry a random id.
        read_only : bool
            Look only.
        clock, entropy : callable
            Where the time and random bytes come from, for a history that can be made again.

        Raises
        ------
        StoreError
            No such folder, no bench file, a newer format, a full or locked disk.
        """
        return cls(Store(where, person=person, read_only=read_only, clock=clock, entropy=entropy))

    def close(self) -> None:
        """Let go of the file."""
        self.store.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    # recording ---------------------------------------------------------------

    def record(
        self,
        formula: Formula,
        parent: Ref | Sequence[Ref] | None = None,
        note: str = "",
        forecast: Any = None,
        label: str | None = None,
        brief: Any = None,
        mats: KnowsMaterials | None = None,
        batch: Ref | None = None,
        private: Iterable[str] = (),
        recipe: str | os.PathLike[str] | bytes | None = None,
    ) -> Trial:
        """Record a trial; it is on disk when this returns.

        Parameters
        ----------
        formula : Formula
            What is to be made, in % w/w of the finished batch.
        parent : trial or list of trials, optional
            What it was built on.
        note : str
            Why, and what is hoped for.
        forecast : optional
            What ``lk.forecast`` gave, or a dict such as ``{"pH": (4.9, 5.7)}``.
        label : str, optional
            What to call it, unique in this bench; otherwise T1, T2, …
        brief : Brief or mapping, optional
            What it is made for.
        mats : Materials, optional
            The materials as used are kept with the trial; prices only privately.
        batch : record, optional
            The batch whose base it shares.
        private : iterable of str
            Places such as ``/formula/lines/3`` that a shared copy may keep closed.
        recipe : path or bytes, optional
            The recipe file it came from, kept as it is.

        Returns
        -------
        Trial
        """
        wanted = None if label is None else check_label(label)
        draft = TrialDraft(
            formula, note=note, forecast=forecast, brief=brief, mats=mats, recipe=recipe
        )
        parents = [self.trial(one).id for one in _several(parent)]
        made_of = None if batch is None else self._name(batch)
        if wanted is None and self._next_number is None:
            self._next_number = next_number(self.store)
        with self.store.writing() as writer:
            called = free_label(writer, wanted, self._next_number or 1)
            record = draft.write(writer, called, parents, made_of, private)
        if wanted is None:
            self._next_number = int(called[1:]) + 1
        return Trial(record=record, label=called, folded=fold(record))

    def measure(
        self, about: Ref, quantity: str, value: Any, *, note: str = "", **conditions: Any
    ) -> Reading:
        """Record a reading, or replicates of it, with its unit and conditions.

        Parameters
        ----------
        about : trial, batch, lot or sample
            What was measured.
        quantity : str
            pH, pH strip, viscosity, drain time, spread, thickness, density, droplet size,
            appearance …, or a name of your own with a unit.
        value : str, number or list
            With its unit, as in ``"18.2 Pa*s"`` or ``"20k cP"``; digits are kept as read.
        note : str
            What else was seen.
        **conditions
            ``temperature``, ``dilution``, ``spindle``, ``speed``, ``torque``, ``instrument``,
            ``method``, ``cup``, ``weight``, ``duration``, ``scale``, ``calibration``,
            ``step`` (of a strip), ``at`` (time since making).

        Returns
        -------
        Reading

        Raises
        ------
        MeasurementError, QuantityError
            No unit, a value no instrument shows, an unknown condition; nothing is saved.
        """
        body = measurement(quantity, value, note, **conditions)
        record = self.add("measurement", body, about=about)
        return Reading(record=record, folded=fold(record))

    def note(self, about: Ref, text: str, tags: Sequence[str] = ()) -> Record:
        """Add a note about a trial, a reading, or any other record."""
        body: dict[str, Any] = {"text": worded(text, "Note")}
        if tags:
            body["tags"] = [worded(tag, "Tag") for tag in tags]
        return self.add("note", body, about=about)

    def amend(self, about: Ref, path: str, now: Any, *, reason: str) -> Record:
        """Correct one place of a record by a new one; the first text stays readable.

        Parameters
        ----------
        about : record
            A reading, note, batch …
        path : str
            The place, such as ``/value``, ``/replicates/1/value``, ``/note``.
        now : any
            The new value, in the unit of the old one.
        reason : str
            Why; must not be empty.
        """
        target = self.store.get(self._name(about))
        folded = Corrections(self.store, [target.id]).fold(target)
        return self.add("amendment", amendment_body(folded, path, now, reason))

    def withdraw(self, about: Ref, *, reason: str) -> Record:
        """Make a record void, with a reason; it stays readable and no longer counts."""
        return self.add("withdrawal", {"reason": worded(reason, "Reason")}, about=about)

    def photo(self, about: Ref, photo: str | os.PathLike[str] | bytes, caption: str = "") -> Record:
        """Keep a JPEG, PNG or WebP photo (at most 10 MB), without what the camera wrote into it."""
        subject, clean = self._name(about), clean_photo(photo)
        with self.store.writing() as writer:
            sha256 = writer.keep_file(clean.content, clean.media_type)
            body = {
                "about": [subject],
                "parents": [],
                "photo": sha256,
                "media_type": clean.media_type,
                "width": clean.width,
                "height": clean.height,
            }
            if caption:
                body["caption"] = worded(caption, "Caption")
            return writer.add("photo", body)

    def take_photos(self, folder: str | os.PathLike[str], **how: Any) -> list[FoundPhoto]:
        """Take the new photos of a folder in; each finds its trial by code or by time."""
        return take_photos(self, folder, **how)

    def measure_droplets(
        self, about: Ref, photo: str | os.PathLike[str] | bytes, **scale: Any
    ) -> Reading:
        """Keep a photo through the microscope, and its median droplet size as a reading.

        ``bar="50 µm"`` names the bar in the photo, or ``um_per_pixel`` the scale.
        """
        return measure_droplets(self, about, photo, **scale)

    def doubts(self, about: Ref | None = None) -> pd.DataFrame:
        """Readings to look at twice, each with the reason; none is ever removed for it.

        A replicate that stands apart, a torque out of range, a pH electrode or its buffers.
        """
        return doubts(self, about)

    def sample(self, name: str, sort: str = "bought", note: str = "", **details: Any) -> Record:
        """Record a thing without a formula: a bought jar, a raw lot, the tap water."""
        body = {"name": worded(name, "Name"), "sort": worded(sort, "Sort")}
        return self.add(
            "sample",
            body
            | ({"note": worded(note, "Note")} if note else {})
            | ({"details": values_of(details)} if details else {}),
        )

    def decide(self, about: Ref, verdict: str, *, reason: str, next: str = "") -> Record:
        """Record what was decided about a trial: keep, change or stop."""
        if verdict not in _VERDICTS:
            raise RecordError(
                where="Decision",
                found=f"'{verdict}'",
                allowed=", ".join(_VERDICTS),
                cause="Another word for the verdict",
                do="Choose one of these, and put the rest into reason=",
            )
        body = {"verdict": verdict, "reason": worded(reason, "Reason")}
        return self.add("decision", body | ({"next": next} if next else {}), about=about)

    def accept(self, finding: Any, reason: str, about: Ref | None = None) -> Record:
        """Answer a finding: it was seen and accepted, for a reason."""
        code = finding if isinstance(finding, str) else finding.code
        body: dict[str, Any] = {"code": worded(code, "Finding"), "reason": worded(reason, "Reason")}
        if not isinstance(finding, str):
            said = finding.as_record() if hasattr(finding, "as_record") else finding
            body["finding"] = values_of(said, "Finding")
        return self.add("acceptance", body, about=about)

    def seal(self, note: str = "") -> Record:
        """Seal everything recorded so far; its digest, kept elsewhere, shows what is missing."""
        with self.store.writing() as writer:
            return writer.add("seal", seal_body(writer, note) | {"parents": []})

    def add(
        self,
        kind: str,
        body: Mapping[str, Any],
        *,
        about: Ref | Sequence[Ref] | None = None,
        private: Iterable[str] | None = None,
    ) -> Record:
        """Add a record of any kind; supplier, price and lot number are private unless said.

        Parameters
        ----------
        kind : str
            One of :data:`~labkit.bench.records.KINDS`.
        body : mapping
            Its fields.
        about : record or list of records, optional
            What it speaks of.
        private : iterable of str, optional
            Places that a shared copy may keep closed.
        """
        full = dict(plain(dict(body), kind.capitalize()))
        if about is not None:
            full["about"] = sorted({self._name(one) for one in _several(about)})
        if kind not in {"material", "formula"}:
            full.setdefault("parents", [])
        shut = _PRIVATE.get(kind, ()) if private is None else private
        with self.store.writing() as writer:
            return writer.add(kind, full, shut)

    # making ------------------------------------------------------------------

    def start_batch(
        self,
        about: Formula | Trial,
        mass: Any,
        *,
        balance: Any = "0.01 g",
        vessel: Any = None,
        note: str = "",
    ) -> Batch:
        """Begin a batch of a trial, or of a base that several trials will share.

        Parameters
        ----------
        about : Formula or Trial
        mass : str
            Such as ``"250 g"``; a whole number of balance steps.
        balance, vessel : str
            What the balance reads to, and the empty vessel.

        Returns
        -------
        Batch
            ``.weigh``, ``.log``, ``.finish`` and ``.undo`` write at once; ``.made()`` is the
            formula of what was weighed; ``.split`` parts a base into beakers.
        """
        return start_batch(self, about, mass, balance=balance, vessel=vessel, note=note)

    def batches(self, about: Ref | None = None) -> list[Batch]:
        """Batches that were begun, oldest first; those of one trial on request."""
        found = self.records("batch", about=about)
        return [Batch(self, record) for record in found if "formula" in record.body]

    def stock(self, mats: KnowsMaterials | None = None) -> Stock:
        """The shelf: lots, expiry, what is left, shopping lists, tracing."""
        return Stock(self, mats)

    # keeping -----------------------------------------------------------------

    def reindex(self, progress: Callable[[int, int], None] | None = None) -> int:
        """Rebuild the derived tables from the records; how many records were read."""
        return reindex(self.store, progress)

    def backup(self, target: str | os.PathLike[str]) -> Path:
        """Write a whole copy to a new file while the bench stays in use."""
        return self.store.backup(Path(target).expanduser().absolute())


def _several(given: Ref | Sequence[Ref] | None) -> list[Ref]:
    if given is None:
        return []
    return [given] if isinstance(given, Trial | Reading | Record | str) else list(given)
