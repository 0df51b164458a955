"""What a class is told with its master formula, kept as a note about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from labkit.bench import Bench, Trial
from labkit.bench.history import History
from labkit.bench.records import Record
from labkit.errors import RecordError

__all__ = ["CLASS", "DESK", "Terms", "terms_of"]

CLASS = "class"
"""Tag of the note that makes a trial the master of a class."""
DESK = "desk"
"""Sort of the sample record that stands for a learner's desk."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """The title of a class, the trial it starts from, and what everybody measures.

    ``created`` is when the class was set up (UTC), the earliest a clock may show after it.
    """

    title: str
    master: Trial
    measures: tuple[str, ...]
    created: str

    @property
    def course(self) -> str:
        """The word that goes into every learner's own numbers."""
        return self.title


def write_terms(bench: Bench, master: Trial, title: str, measures: Sequence[str]) -> Record:
    """Keep the terms of a class with its master."""
    tags = [CLASS, *(f"measure {quantity}" for quantity in measures)]
    return bench.note(master, title, tags=tags)


def terms_of(bench: History) -> Terms:
    """The terms of the class that a bench belongs to, the newest where there are several.

    Raises
    ------
    RecordError
        The bench belongs to no class.
    """
    notes = [r for r in bench.records("note") if CLASS in r.body.get("tags", ())]
    if not notes:
        raise RecordError(
            where="Class",
            found="no class on this bench",
            allowed="A bench on which a class was set up, or that took a hand-out",
            cause="The hand-out was not opened yet, or this is another bench",
            do="Set one up with room.set_up(...), or open the desk with handout=",
        )
    note = max(notes, key=lambda r: (r.created, r.id))
    measures = [
        str(tag).removeprefix("measure ") for tag in note.body["tags"] if tag.startswith("measure ")
    ]
    return Terms(
        title=str(note.body["text"]),
        master=bench.trial(note.about[0]),
        measures=tuple(measures),
        created=note.created,
    )
