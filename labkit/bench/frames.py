"""Trials and readings as DataFrames, with every amendment and withdrawal folded in."""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import orjson
from sqlalchemy import select

from labkit.bench import layout
from labkit.bench.fold import Folded, fold, void
from labkit.bench.index import measurement_rows
from labkit.bench.labels import called, labels
from labkit.bench.records import Record
from labkit.bench.store import Store

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["READING_COLUMNS", "TRIAL_COLUMNS", "Corrections", "readings", "trials", "wide"]

TRIAL_COLUMNS = (
    "label",
    "name",
    "parent",
    "note",
    "created",
    "lines",
    "batch",
    "author",
    "withdrawn",
    "id",
    "parents",
)
"""Columns of the table of trials."""
_MEASURED = (
    "quantity",
    "value",
    "low",
    "high",
    "bound",
    "unit",
    "text",
    "replicate",
    "conditions",
    "temperature_c",
    "dilution",
    "spindle",
    "speed_rpm",
    "torque_percent",
    "instrument",
    "method",
    "at_h",
    "created",
    "note",
)
READING_COLUMNS = ("label", *_MEASURED, "amended", "rivals", "withdrawn", "trial", "id")
"""Columns of the table of readings; values in the unit of the column ``unit``."""
_LATER = ("amendment", "withdrawal")


class Corrections:
    """The amendments and withdrawals of a bench, or those that touch some records."""

    def __init__(self, store: Store, names: Sequence[str] | None = None) -> None:
        self._store = store
        found = store.of_kind(*_LATER) if names is None else _touching(store, names)
        self.void = void(record for record in found if record.kind == "withdrawal")
        self.amendments: dict[str, list[Record]] = {}
        for record in found:
            if record.kind == "amendment":
                for name in record.about:
                    self.amendments.setdefault(name, []).append(record)

    def fold(self, record: Record) -> Folded:
        """A record as it reads today."""
        return fold(record, self.amendments.get(record.id, ()), self.void)

    def reason(self, name: str) -> str | None:
        """Why a record was withdrawn, if it was."""
        by = self.void.get(name)
        return None if by is None else str(by.body["reason"])

    def amended(self, names: Iterable[str]) -> dict[str, Folded]:
        """Those records that have amendments, folded."""
        wanted = [name for name in names if name in self.amendments]
        return {record.id: self.fold(record) for record in self._store.records(wanted)}


def _touching(store: Store, names: Sequence[str]) -> list[Record]:
    found: dict[str, Record] = {}
    asked = list(names)
    while asked:
        asked = [name for name in store.named_by(asked, _LATER) if name not in found]
        found |= {record.id: record for record in store.records(asked)}
    return list(found.values())


_LISTED = ("name", "parents", "note", "created", "lines", "batch", "author")


def _by_column(rows: Sequence[Any], names: Sequence[str]) -> dict[str, list[Any]]:
    columns = zip(*rows, strict=True) if rows else ((),) * len(names)
    return dict(zip(names, map(list, columns), strict=True))


def trials(store: Store, corrections: Corrections, withdrawn: bool = False) -> pd.DataFrame:
    """One row per trial, oldest first; see :data:`TRIAL_COLUMNS`."""
    import pandas as pd

    table = layout.trial_index
    columns = ("record", "origin", "label", *_LISTED)
    query = (
        select(*(table.c[name] for name in columns))
        .where(store.here(table))
        .order_by(table.c.created, table.c.record)
    )
    with store.reading() as connection:
        found = _by_column(connection.execute(query).all(), columns)
    names, notes = found.pop("record"), found["note"]
    known = called(store, names, found.pop("origin"), found["label"])
    parents = [tuple(text.split()) for text in found["parents"]]
    amended = corrections.amended(names)
    shown: dict[str, list[Any]] = found | {
        "id": names,
        "label": list(known.values()),
        "parents": parents,
        "parent": [
            ", ".join(sorted(known.get(name, name[:12]) for name in several))
            if len(several) != 1
            else known.get(several[0], several[0][:12])
            for several in parents
        ],
        "note": [
            str(amended[name].body.get("note", "")) if name in amended else note
            for name, note in zip(names, notes, strict=True)
        ]
        if amended
        else notes,
        "withdrawn": [corrections.reason(name) for name in names]
        if corrections.void
        else [None] * len(names),
    }
    frame = pd.DataFrame({name: shown[name] for name in TRIAL_COLUMNS})
    frame["created"] = pd.to_datetime(frame["created"], utc=True, format="ISO8601")
    return frame if withdrawn else _standing(frame)


def readings(
    store: Store,
    corrections: Corrections,
    quantity: str | None = None,
    subject: str | None = None,
    withdrawn: bool = False,
) -> pd.DataFrame:
    """One row per replicate, oldest first; see :data:`READING_COLUMNS`.

    Readings under different conditions differ in the column ``conditions``. A value
    with rival amendments shows the last of them, and all in the column ``rivals``.
    """
    import pandas as pd

    known = labels(store)
    found, folded = _measured(store, corrections, _MEASURED, quantity, subject)
    names, subjects = found.pop("record"), found.pop("subject")
    shown: dict[str, list[Any]] = found | {
        "id": names,
        "trial": subjects,
        "label": [known.get(name) for name in subjects],
        "amended": [name in folded for name in names],
        "rivals": [_rivals(folded[name]) if name in folded else None for name in names],
        "withdrawn": [
            corrections.reason(name) or corrections.reason(trial)
            for name, trial in zip(names, subjects, strict=True)
        ]
        if corrections.void
        else [None] * len(names),
    }
    frame = pd.DataFrame({name: shown[name] for name in READING_COLUMNS})
    frame["created"] = pd.to_datetime(frame["created"], utc=True, format="ISO8601")
    for name in _FLOATS:
        frame[name] = frame[name].astype(float)
    return frame if withdrawn else _standing(frame)


_FLOATS = ("value", "low", "high", "temperature_c", "speed_rpm", "torque_percent", "at_h")


def _measured(
    store: Store,
    corrections: Corrections,
    wanted: Sequence[str],
    quantity: str | None = None,
    subject: str | None = None,
) -> tuple[dict[str, list[Any]], dict[str, Folded]]:
    table = layout.measurement_index
    fields = list(dict.fromkeys(["record", "subject", "replicate", *wanted]))
    query = select(*(table.c[name] for name in fields)).where(store.here(table))
    if quantity is not None:
        query = query.where(table.c.quantity == quantity)
    if subject is not None:
        query = query.where(table.c.subject == subject)
    query = query.order_by(table.c.created, table.c.record, table.c.replicate)
    with store.reading() as connection:
        rows: list[Any] = list(connection.execute(query))
    folded: dict[str, Folded] = {}
    if corrections.amendments:
        folded = corrections.amended({row.record for row in rows})
        rows = _refold(rows, fields, folded) if folded else rows
    return _by_column(rows, fields), folded


def _standing(frame: pd.DataFrame) -> pd.DataFrame:
    return frame[frame["withdrawn"].isna()].reset_index(drop=True)


def _refold(rows: list[Any], fields: list[str], folded: Mapping[str, Folded]) -> list[Any]:
    fresh: dict[tuple[str, int], tuple[Any, ...]] = {}
    for name, one in folded.items():
        for row in measurement_rows(name, one.body):
            fresh[name, row["replicate"]] = tuple(row.get(field) for field in fields)
    return [fresh.get((row.record, row.replicate), tuple(row)) for row in rows]


def _rivals(folded: Folded) -> str | None:
    if not folded.rivals:
        return None
    return "; ".join(
        f"{path}: " + " or ".join(str(record.body["now"]) for record in several)
        for path, several in folded.rivals.items()
    )


def wide(store: Store, corrections: Corrections) -> pd.DataFrame:
    """One row per trial: shares in % w/w by material, then the mean reading of each quantity.

    A quantity measured under several conditions has one column for each.
    """
    import numpy as np
    import pandas as pd

    names: list[str] = []
    position: dict[str, int] = {}
    row, column, share = array("i"), array("i"), array("d")
    for name, formula in _formulas(store):
        for line in formula.get("lines", ()):
            if "material" in line:
                row.append(len(names))
                column.append(position.setdefault(line["material"], len(position)))
                share.append(float(line["percent"]))
        names.append(name)
    shares = np.zeros((len(names), len(position)))
    np.add.at(shares, (np.asarray(row, int), np.asarray(column, int)), np.asarray(share))
    frame = pd.DataFrame(shares.round(4), index=pd.Index(names, name="id"), columns=list(position))
    listed = trials(store, corrections)[["id", "label", "created"]].set_index("id")
    means = _mean_readings(store, corrections)
    joined = listed.join(frame).join(means).reset_index()
    return joined[["label", "created", *position, *means.columns, "id"]]


def _formulas(store: Store) -> Iterator[tuple[str, Mapping[str, Any]]]:
    table, last = layout.record, ""
    while True:
        query = select(table.c.hash, table.c.body).where(
            store.here(table), table.c.kind == "trial", table.c.hash > last
        )
        with store.reading() as connection:
            chunk = connection.execute(query.order_by(table.c.hash).limit(5_000)).all()
        if not chunk:
            return
        last = chunk[-1].hash
        private = {row.hash for row in chunk if b'"/formula' in row.body}
        known = {record.id: record.body for record in store.records(sorted(private))}
        for row in chunk:
            body = known.get(row.hash) or orjson.loads(row.body)
            yield row.hash, body.get("formula", {})


def _mean_readings(store: Store, corrections: Corrections) -> pd.DataFrame:
    import pandas as pd

    wanted = ("quantity", "unit", "conditions", "value", "bound")
    found, _ = _measured(store, corrections, wanted)
    frame = pd.DataFrame(found)
    gone = frame["record"].isin(list(corrections.void))
    known = frame[frame["value"].notna() & frame["bound"].isna() & ~gone].copy()
    if known.empty:
        return pd.DataFrame()
    how = known["conditions"].where(known["conditions"] != "", "?")
    titles = known["quantity"] + " [" + known["unit"] + "]"
    several = known.groupby(titles)["conditions"].nunique()
    split = titles.map(several) > 1
    known["title"] = titles.where(~split, titles + " " + how)
    known["value"] = known["value"].astype(float)
    return known.pivot_table(index="subject", columns="title", values="value", aggfunc="mean")
