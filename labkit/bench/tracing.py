"""From a lot to the jars it went into, and from a jar to its lots, along the records."""

from __future__ import annotations

from labkit.bench.store import Store
from labkit.bench.views import Trial

__all__ = ["records_into", "trials_from"]


def trials_from(store: Store, lot: str) -> list[str]:
    """Names of the trials that a lot went into, through premixes and shared bases too."""
    found: dict[str, None] = {}
    seen, asked = {lot}, [lot]
    while asked:
        record = store.get(asked.pop())
        if record.kind == "trial":
            found[record.id] = None
            continue
        onward = [r.id for r in store.naming(record.id, "uses")]
        onward += record.about if record.kind == "batch" else ()
        fresh = [name for name in onward if name not in seen]
        seen |= set(fresh)
        asked += fresh
    return list(found)


def records_into(store: Store, trial: Trial) -> set[str]:
    """Names of everything that went into a trial: its batches, what they used, and so on."""
    asked = [r.id for r in store.naming(trial.id) if r.kind == "batch"]
    asked += [trial.batch] if trial.batch else []
    seen: set[str] = set()
    while asked:
        name = asked.pop()
        if name in seen:
            continue
        seen.add(name)
        record = store.get(name)
        asked += list(record.body.get("uses", ()))
        if record.kind == "batch":
            asked += [r.id for r in store.naming(name) if r.kind == "batch"]
    return seen
