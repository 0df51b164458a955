"""The family tree: which trial was built on which."""

from __future__ import annotations

import html
from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import select

from labkit.bench.layout import edge, trial_index
from labkit.bench.store import Store

__all__ = ["FamilyTree", "ancestors", "descendants", "family_tree"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FamilyTree:
    """Every trial with the trials it was built on.

    ``parents`` maps the id of a trial to the ids of its parents, in the order in
    which the trials were made; ``labels`` gives what they are called.
    """

    parents: Mapping[str, tuple[str, ...]]
    labels: Mapping[str, str]
    names: Mapping[str, str]

    @property
    def children(self) -> dict[str, tuple[str, ...]]:
        """The id of a trial → the trials built on it."""
        found: dict[str, list[str]] = {name: [] for name in self.parents}
        for child, parents in self.parents.items():
            for parent in parents:
                if parent in found:
                    found[parent].append(child)
        return {name: tuple(several) for name, several in found.items()}

    @property
    def roots(self) -> tuple[str, ...]:
        """Trials that were built on none."""
        return tuple(
            n for n, parents in self.parents.items() if not set(parents) & set(self.labels)
        )

    @property
    def heads(self) -> tuple[str, ...]:
        """Trials on which nothing was built yet: the ends of the branches."""
        return tuple(name for name, several in self.children.items() if not several)

    def __str__(self) -> str:
        children = self.children
        lines: list[str] = []
        drawn: set[str] = set()
        waiting = [(root, 0) for root in reversed(self.roots)]
        while waiting:
            name, depth = waiting.pop()
            more = " (above)" if name in drawn and children[name] else ""
            lines.append(f"{'   ' * (depth - 1)}{'└─ ' if depth else ''}{self.labels[name]}{more}")
            if name not in drawn:
                waiting += [(child, depth + 1) for child in reversed(children[name])]
            drawn.add(name)
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        return f"<pre style='line-height:1.3'>{html.escape(str(self))}</pre>"


def _walk(store: Store, name: str, up: bool) -> list[str]:
    near, far = (edge.c.child, edge.c.parent) if up else (edge.c.parent, edge.c.child)
    here = (edge.c.workspace == store.workspace) & (edge.c.role == "parent")
    step = select(far.label("name")).where(here, near == name).cte("step", recursive=True)
    step = step.union(select(far).where(here, near == step.c.name))
    with store.reading() as connection:
        return list(connection.execute(select(step.c.name)).scalars().all())


def ancestors(store: Store, name: str) -> list[str]:
    """The trials that one was built on, however far back, nearest first."""
    return _walk(store, name, up=True)


def descendants(store: Store, name: str) -> list[str]:
    """The trials built on one, however far down, nearest first."""
    return _walk(store, name, up=False)


def family_tree(store: Store, labels: Mapping[str, str]) -> FamilyTree:
    """The whole tree of a bench; ``labels`` says how each trial is called."""
    table = trial_index
    query = (
        select(table.c.record, table.c.parents, table.c.name)
        .where(store.here(table))
        .order_by(table.c.created, table.c.record)
    )
    with store.reading() as connection:
        found = connection.execute(query).all()
    return FamilyTree(
        parents={row.record: tuple(row.parents.split()) for row in found},
        labels={row.record: labels.get(row.record, row.record[:12]) for row in found},
        names={row.record: row.name for row in found},
    )
