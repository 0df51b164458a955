"""A learner's desk: the class's master formula to fork, questions, one file to hand in.

Everything is written to the desk's bench at once: a kernel that dies loses nothing.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from labkit.bench import Bench, Trial
from labkit.bench.place import is_address
from labkit.bench.records import Record
from labkit.bench.views import Reading
from labkit.reading.cells import plain_file_name
from labkit.share.exporting import export
from labkit.share.gathering import gather
from labkit.share.merging import Merged, merge
from labkit.share.package import Package
from labkit.teach.blanks import blanks_of, fill
from labkit.teach.lessons import Lesson, lesson
from labkit.teach.terms import DESK, Terms, terms_of
from labkit.teach.variants import pseudonym

__all__ = ["Desk"]


class Desk:
    """Where one learner, or one group at a bench, works; offline, without a login.

    Open one with :meth:`Desk.open`. ``name`` is a word from the shore that stands for the
    desk in the class; whose it is, only the learner knows.

    Examples
    --------
    >>> with Desk.open(learner="example") as desk:
    ...     verdict = desk.lesson(1).check("grams", "0.001 g")
    ...     print(verdict.right, len(desk.answers()))
    False 1
    """

    def __init__(self, bench: Bench, learner: str | None = None) -> None:
        self.bench = bench
        kept = self._kept()
        self.learner = learner or (kept.body["name"] if kept else pseudonym(bench.store.workspace))
        if kept is None or kept.body["name"] != self.learner:
            kept = bench.sample(self.learner, sort=DESK)
        self._record = kept
        self._lessons: dict[int, Lesson] = {}

    @classmethod
    def open(
        cls,
        where: str | os.PathLike[str] | None = None,
        *,
        handout: str | os.PathLike[str] | None = None,
        learner: str | None = None,
        **how: Any,
    ) -> Desk:
        """Open a desk, or set up a new one.

        Parameters
        ----------
        where : path or address, optional
            A folder, made if it is not there, or one's own bench on a server; without one
            the desk is for looking around and is forgotten.
        handout : path or address, optional
            The file that the teacher handed out, or the class's bench on a server; taking
            it twice does no harm.
        learner : str, optional
            A name of one's own choice; without one the desk has a word from the shore.
        **how
            ``clock`` and ``entropy`` of :meth:`labkit.Bench.open`.

        Raises
        ------
        ShareError
            The hand-out is damaged or no hand-out; nothing is taken from it.
        """
        bench = Bench.open(_place(where), **how)
        if handout is not None:
            merge(bench, _handout(handout), alias=CLASS_ALIAS)
        return cls(bench, learner)

    def _kept(self) -> Record | None:
        own = [
            record
            for record in self.bench.records("sample")
            if record.body.get("sort") == DESK
            and record.body["workspace"] == self.bench.store.workspace
        ]
        return own[-1] if own else None

    @property
    def name(self) -> str:
        """What the class calls this desk."""
        return pseudonym(self.bench.store.workspace)

    @property
    def terms(self) -> Terms:
        """What the class is told: title, master, what to measure."""
        return terms_of(self.bench)

    @property
    def master(self) -> Trial:
        """The trial that everybody starts from."""
        return self.terms.master

    def blanks(self) -> dict[str, tuple[str, str, str]]:
        """What there is to decide: material to lowest share, default, highest share [%]."""
        return {
            name: (f"{low:g}", f"{default:g}", f"{high:g}")
            for name, (low, default, high) in blanks_of(self.master.formula).items()
        }

    def fork(
        self, choices: Mapping[str, Any] | None = None, *, note: str = "", label: str | None = None
    ) -> Trial:
        """A trial of one's own from the master, with blanks filled in; recorded at once.

        Parameters
        ----------
        choices : mapping of str to str, optional
            Material to share, such as ``{"Xanthan gum": "0.4 %"}``; the others keep their
            default.
        note : str
            Why, and what is expected.
        label : str, optional
            What to call it here.

        Raises
        ------
        MoveError
            A locked line, or a share outside its bounds; the range is named.
        """
        made = fill(self.master.formula, choices or {})
        return self.bench.record(made, parent=self.master, note=note, label=label)

    def measure(self, about: Trial | str, quantity: str, value: Any, **conditions: Any) -> Reading:
        """Record a reading; see :meth:`labkit.Bench.measure`."""
        return self.bench.measure(about, quantity, value, **conditions)

    def lesson(self, number: int) -> Lesson:
        """A lesson with this learner's numbers; predictions and answers are kept here."""
        if number not in self._lessons:
            course = "labkit" if not self._in_a_class() else self.terms.course
            self._lessons[number] = lesson(
                number, learner=self.learner, course=course, keep=self._keep
            )
        one = self._lessons[number]
        for record in self.answers():
            tags = record.body.get("tags", [])
            if tags[:2] == ["prediction", f"lesson {number}"]:
                one.recall(str(record.body["text"]))
        return one

    def _in_a_class(self) -> bool:
        return any("class" in r.body.get("tags", ()) for r in self.bench.records("note"))

    def _keep(self, text: str, tags: tuple[str, ...]) -> None:
        self.bench.note(self._record.id, text, tags=tags)

    def answers(self) -> list[Record]:
        """Predictions and answers so far, oldest first."""
        return self.bench.records("note", about=self._record.id)

    def hand_in(self, path: str | os.PathLike[str]) -> Path:
        """Write everything on this desk to one file for the teacher.

        Parameters
        ----------
        path : path
            A file (``.eln``), or a folder that exists: the desk's name is then the file's.

        Notes
        -----
        Names of people, suppliers, prices and photos' places stay here; the file carries
        records with random ids.
        """
        target = Path(path).expanduser()
        if target.is_dir():
            target = target / plain_file_name(self.name, ".eln")
        return export(self.bench, target, title=self.name)

    def take_back(self, path: str | os.PathLike[str]) -> Merged:
        """Take in what the teacher wrote about this desk's trials."""
        return merge(self.bench, path, alias=CLASS_ALIAS)

    def close(self) -> None:
        """Let go of the file."""
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

    def __repr__(self) -> str:
        return f"<Desk {self.name}: {len(self.bench.trials())} trials>"


def _place(where: str | os.PathLike[str] | None) -> str | Path:
    if where is not None and is_address(where):
        return str(where)
    folder = Path(tempfile.mkdtemp(prefix="desk-") if where is None else where).expanduser()
    folder.mkdir(parents=True, exist_ok=True)
    return folder / "bench.db"


def _handout(handout: str | os.PathLike[str]) -> Path | Package:
    """The file, or the master alone from the class's bench on a server."""
    if not is_address(handout):
        return Path(handout)
    with Bench.open(handout) as room:
        return gather(room, trials=[terms_of(room).master], name=CLASS_ALIAS)


CLASS_ALIAS = "class"
"""What the teacher's bench is called on a desk."""
