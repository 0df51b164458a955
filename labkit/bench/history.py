"""The history of a bench as it is looked at: trials, readings, family tree, comparisons."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sqlalchemy import select

from labkit.bench import frames, layout, lineage
from labkit.bench.canonical import plain
from labkit.bench.compare import TrialComparison, compare_trials
from labkit.bench.following import News, news
from labkit.bench.frames import Corrections
from labkit.bench.labels import find_trial, labels
from labkit.bench.lineage import FamilyTree
from labkit.bench.records import Record
from labkit.bench.scales import find_scale
from labkit.bench.store import Store
from labkit.bench.verify import Progress, Verification, verify
from labkit.bench.views import Reading, Trial
from labkit.errors import RecordError

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["History", "Ref"]

Ref = Trial | Reading | Record | str
"""A trial or record, by itself, its id, its label, or the start of its id."""


class History:
    """What can be read from a bench; :class:`~labkit.bench.Bench` adds to it."""

    def __init__(self, store: Store) -> None:
        self.store = store

    def trial(self, which: Ref | int) -> Trial:
        """A trial by its label, its number, its id, or the start of its id."""
        if isinstance(which, Trial):
            return which
        name = which.id if isinstance(which, Reading | Record) else str(which)
        record = self.store.get(name if len(name) == 64 else find_trial(self.store, name))
        if record.kind != "trial":
            raise RecordError(
                where=f"Record {record.id[:12]}",
                found=f"a {record.kind}",
                allowed="A trial",
                cause="The id of another record was given",
                do="Give the trial, its label or its id",
            )
        return self._trials([record.id])[0]

    def _name(self, which: Ref) -> str:
        if not isinstance(which, str):
            return which.id
        return which if len(which) == 64 else find_trial(self.store, which)

    def trials(self, withdrawn: bool = False) -> pd.DataFrame:
        """One row per trial, oldest first, with a column ``id``; withdrawn ones on request."""
        return frames.trials(self.store, Corrections(self.store), withdrawn)

    def readings(
        self, quantity: str | None = None, trial: Ref | None = None, withdrawn: bool = False
    ) -> pd.DataFrame:
        """One row per replicate, in the unit of its quantity, with its conditions."""
        scale = None if quantity is None else find_scale(quantity)
        return frames.readings(
            self.store,
            Corrections(self.store),
            scale.name if scale else quantity,
            None if trial is None else self._name(trial),
            withdrawn,
        )

    def wide(self) -> pd.DataFrame:
        """One row per trial: shares in % w/w by material, then the mean of each quantity."""
        return frames.wide(self.store, Corrections(self.store))

    def records(self, kind: str | None = None, about: Ref | None = None) -> list[Record]:
        """Records of a kind, or those that speak of one record, oldest first."""
        if about is not None:
            found = self.store.naming(self._name(about))
            return [record for record in found if kind in (None, record.kind)]
        return self.store.of_kind(*([kind] if kind else self._kinds()))

    def _kinds(self) -> list[str]:
        table = layout.record
        with self.store.reading() as connection:
            query = select(table.c.kind).where(self.store.here(table)).distinct()
            return [str(kind) for kind in connection.execute(query).scalars()]

    def reading(self, which: Ref) -> Reading:
        """A reading as it stands today, amendments folded in and rivals named."""
        record = self.store.get(self._name(which))
        return Reading(record=record, folded=Corrections(self.store, [record.id]).fold(record))

    def lineage(self, trial: Ref) -> list[Trial]:
        """The trials that one was built on, however far back, oldest first."""
        return self._trials(lineage.ancestors(self.store, self._name(trial)))

    def descendants(self, trial: Ref) -> list[Trial]:
        """The trials that were built on one, oldest first."""
        return self._trials(lineage.descendants(self.store, self._name(trial)))

    def heads(self) -> list[Trial]:
        """The ends of the branches: trials on which nothing was built yet."""
        return self._trials(self.tree().heads)

    def _trials(self, names: Sequence[str]) -> list[Trial]:
        called, corrections = labels(self.store, names), Corrections(self.store, names)
        found = sorted(self.store.records(names), key=lambda one: (one.created, one.id))
        return [
            Trial(record=one, label=called.get(one.id, ""), folded=corrections.fold(one))
            for one in found
            if one.kind == "trial"
        ]

    def tree(self) -> FamilyTree:
        """The family tree of all trials."""
        return lineage.family_tree(self.store, labels(self.store))

    def compare(self, before: Ref, after: Ref) -> TrialComparison:
        """Two trials: only the differences, and what pH and thickness did."""
        return compare_trials(self.trial(before), self.trial(after), self.readings())

    def search(self, text: str, n: int = 100) -> list[Record]:
        """The newest n records whose words, label, name or materials hold a text, oldest first."""
        table, record = layout.text_index, layout.record
        joined = (record.c.workspace == table.c.workspace) & (record.c.hash == table.c.record)
        query = select(table.c.record).join(record, joined)
        query = (
            query.order_by(record.c.created.desc(), record.c.hash)
            .limit(n)
            .where(
                self.store.here(table),
                table.c.words.contains(str(plain(text, "Search")).casefold(), autoescape=True),
            )
        )
        with self.store.reading() as connection:
            found = connection.execute(query).scalars().all()
        return sorted(self.store.records(found), key=lambda record: (record.created, record.id))

    def since(self, cursor: int | None = None, limit: int = 500) -> News:
        """What arrived after a cursor, oldest first; cheap enough to ask every second.

        Parameters
        ----------
        cursor : int, optional
            ``cursor`` of the last answer, 0 for everything; without one nothing is
            told, and the answer holds the cursor of now.
        limit : int
            At most that many records at once; ``more`` says whether others wait.

        Returns
        -------
        News
            ``records``, ``cursor``, ``more``.
        """
        return news(self.store, cursor, limit)

    def verify(self, progress: Progress | None = None) -> Verification:
        """Check every record against its name, what it names, and the index."""
        return verify(self.store, progress)

    def __repr__(self) -> str:
        return f"<Bench {self.store.place}: {self.store.count(layout.trial_index)} trials>"

    def _repr_html_(self) -> str:
        return str(self.trials().drop(columns=["id", "parents", "author"]).to_html(index=False))
