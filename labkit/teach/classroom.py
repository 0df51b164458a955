"""The teacher's side: hand out a master, gather hand-ins, see the class, write back."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from labkit.bench import Bench, Trial
from labkit.errors import RecordError
from labkit.formula import Formula
from labkit.paperwork.page import Document
from labkit.reading.cells import plain_file_name
from labkit.share.exporting import export
from labkit.teach import feedback, hand_ins
from labkit.teach.blanks import blanks_of
from labkit.teach.class_table import class_spread, class_table, desks_of
from labkit.teach.comparing import Spread
from labkit.teach.hand_ins import Flag, Gathered, Source
from labkit.teach.projector import Projector
from labkit.teach.terms import Terms, terms_of, write_terms
from labkit.teach.variants import pseudonym

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Classroom"]


class Classroom:
    """A class on the teacher's bench.

    Open one with :meth:`Classroom.open`, set it up once with :meth:`set_up`.

    Examples
    --------
    >>> import tempfile
    >>> from labkit.teach.blanks import master
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,4", name="Gel")
    >>> with Classroom.open(tempfile.mkdtemp()) as room:
    ...     first = room.set_up(master(gel, {"Glycerin": (2, 8)}), title="Gels", measures=["pH"])
    ...     print(room.terms.title, room.terms.measures, len(room.desks()))
    Gels ('pH',) 0
    """

    def __init__(self, bench: Bench) -> None:
        self.bench = bench

    @classmethod
    def open(cls, where: str | os.PathLike[str], **how: Any) -> Classroom:
        """Open the bench of a class: a file, a folder, or the address of a server.

        Parameters
        ----------
        where, **how
            As for :meth:`labkit.Bench.open`.
        """
        return cls(Bench.open(where, **how))

    def set_up(
        self,
        master: Formula,
        *,
        title: str,
        measures: Sequence[str] = ("pH",),
        note: str = "",
        mats: Any = None,
    ) -> Trial:
        """Record the master that everybody starts from.

        Parameters
        ----------
        master : Formula
            With blanks; see :func:`labkit.teach.master`.
        title : str
            Of the class; everybody's own numbers come from it and from the desk.
        measures : sequence of str
            What each desk measures.
        note : str
            What the class asks.
        mats : Materials, optional
            Kept with the trial as used.

        Raises
        ------
        RecordError
            The formula has no blank: everybody would make the same, with nothing to decide.
        """
        if not blanks_of(master):
            raise RecordError(
                where=title,
                found="a master without a blank",
                allowed="At least one bounded line that learners decide",
                cause="A plain formula was given",
                do="Make one with lk.teach.master(formula, {'Xanthan gum': ('0.2 %', '0.8 %')})",
            )
        trial = self.bench.record(master, note=note or title, label="MASTER", mats=mats)
        write_terms(self.bench, trial, title, measures)
        return trial

    @property
    def terms(self) -> Terms:
        """Title, master, what to measure."""
        return terms_of(self.bench)

    def hand_out(self, path: str | os.PathLike[str]) -> Path:
        """Write the one file that every desk opens; nothing of any learner is in it.

        Parameters
        ----------
        path : path
            A file (``.eln``), or a folder that exists.
        """
        target = Path(path).expanduser()
        if target.is_dir():
            target = target / plain_file_name(self.terms.title, ".eln")
        return export(self.bench, target, trials=[self.terms.master], title=self.terms.title)

    def gather(self, what: Source | Iterable[Source]) -> Gathered:
        """Bring hand-ins in, in any order, as often as you like.

        Parameters
        ----------
        what : path, address, bench, or several of them
            The folder into which the files come, or the files; with a server, the
            addresses of the desks that you teach.

        Returns
        -------
        Gathered
            Counts, and what is odd: files left out, duplicates, clocks, units, locked lines,
            readings far from the class. Nothing is removed or changed for being odd.

        Raises
        ------
        ShareError
            No such folder, or no file in it.
        """
        now = datetime.fromisoformat(self.bench.store.now())
        return hand_ins.gather(self.bench, self.terms, what, now)

    def flags(self) -> tuple[Flag, ...]:
        """What is odd about what has come in so far."""
        now = datetime.fromisoformat(self.bench.store.now())
        return tuple(sorted(hand_ins.flags_of(self.bench, self.terms, now)))

    def desks(self) -> tuple[str, ...]:
        """The desks that handed in, by the words that stand for them."""
        return tuple(desks_of(self.bench, self.terms).values())

    def table(self, quantity: str | None = None) -> pd.DataFrame:
        """Readings of each desk, how far they lie from the class, and odd ones marked."""
        return class_table(self.bench, self.terms, quantity).drop(columns="id")

    def spread(self, quantity: str) -> Spread:
        """Spread between desks beside the spread of one desk's own readings."""
        return class_spread(self.bench, self.terms, quantity)

    def stuck(self) -> pd.DataFrame:
        """Who needs help: nothing made, something not measured, a question wrong twice."""
        return feedback.stuck(self.bench, self.terms)

    def comment(self, desk: str, text: str) -> None:
        """Write a note about a desk's latest trial; it goes back with :meth:`hand_back`.

        Raises
        ------
        RecordError
            No such desk, or a desk without a trial.
        """
        self.bench.note(self._trials(desk)[-1], text)

    def hand_back(self, desk: str, path: str | os.PathLike[str]) -> Path:
        """Write a desk's trials with your notes about them to one file for that desk."""
        target = Path(path).expanduser()
        if target.is_dir():
            target = target / plain_file_name(f"{desk} back", ".eln")
        return export(self.bench, target, trials=self._trials(desk), title=f"{desk} back")

    def feedback(self, desk: str) -> Document:
        """A page for one desk: its readings beside the class, what is odd, what to look at."""
        self._trials(desk)
        return feedback.page(self.bench, self.terms, desk, self.flags())

    def certificate(self, desk: str, paper: str | None = "A4") -> Document:
        """What a desk made and measured, to be signed by whoever was there; no marks."""
        return feedback.certificate(self.bench, self.terms, desk, self._trials(desk), paper)

    def projector(self, quantity: str | None = None) -> Projector:
        """The class on the wall: large, read only, without names."""
        return Projector(self.bench, quantity)

    def _trials(self, desk: str) -> list[Trial]:
        found = [
            trial
            for trial in map(self.bench.trial, self.bench.trials()["id"])
            if pseudonym(str(trial.record.body["workspace"])) == desk
        ]
        if not found:
            raise RecordError(
                where=f"Desk '{desk[:40]}'",
                found="no trial of a desk of that name",
                allowed=", ".join(self.desks()[:12]) or "a desk that handed in",
                cause="The word was mistyped, or the desk has not handed in a trial",
                do="Look at room.desks()",
            )
        return found

    def close(self) -> None:
        """Let go of the bench."""
        self.bench.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
