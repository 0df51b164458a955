"""Trials and readings as DataFrames, with every amendment and withdrawal folded in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import orjson
from sqlalchemy import select

from labkit.bench import layout
from labkit.bench.fold import Folded, fold, void
from labkit.bench.index import measurement_rows
from labkit.bench.labels import labels
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


def trials(store: Store, corrections: Corrections, withdrawn: bool = False) -> pd.DataFrame:
    """One row per trial, oldest first; see :data:`TRIAL_COLUMNS`."""
    import pandas as pd

    table, called = layout.trial_index, labels(store)
    columns = ("record", "name", "parents", "note", "created", "lines", "batch", "author")
    query = (
        select(*(table.c[name] for name in columns))
        .where(store.here(table))
        .order_by(table.c.created, table.c.record)
    )
    with store.reading() as connection:
        found = connection.execute(query).all()
    frame = pd.DataFrame(found, columns=["id", *columns[1:]])
    frame["label"] = frame["id"].map(called)
    frame["parents"] = [tuple(text.split()) for text in frame["parents"]]
    frame["parent"] = [
        ", ".join(sorted(called.get(name, name[:12]) for name in several))
        for several in frame["parents"]
    ]
    frame["created"] = pd.to_datetime(frame["created"], utc=True, format="ISO8601")
    frame["withdrawn"] = frame["id"].map(corrections.reason) if corrections.void else None
    for name, folded in corrections.amended(frame["id"]).items():
        frame.loc[frame["id"] == name, "note"] = str(folded.body.get("note", ""))
    frame = frame[list(TRIAL_COLUMNS)]
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

    table, called = layout.measurement_index, labels(store)
    query = select(table).where(store.here(table))
    if quantity is not None:
        query = query.where(table.c.quantity == quantity)
    if subject is not None:
        query = query.where(table.c.subject == subject)
    with store.reading() as connection:
        rows: list[Any] = list(
            connection.execute(query.order_by(table.c.created, table.c.record, table.c.replicate))
        )
    fields = [column.name for column in table.columns]
    folded = corrections.amended({row.record for row in rows}) if corrections.amendments else {}
    if folded:
        rows = _refold(rows, fields, folded)
    frame = pd.DataFrame(rows, columns=fields).rename(columns={"record": "id", "subject": "trial"})
    frame["label"] = frame["trial"].map(called)
    frame["created"] = pd.to_datetime(frame["created"], utc=True, format="ISO8601")
    frame["amended"] = frame["id"].isin(list(folded))
    frame["rivals"] = frame["id"].map({name: _rivals(f) for name, f in folded.items()})
    frame["withdrawn"] = [
        corrections.reason(name) or corrections.reason(trial)
        for name, trial in zip(frame["id"], frame["trial"], strict=True)
    ]
    frame = frame[list(READING_COLUMNS)]
    return frame if withdrawn else _standing(frame)


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

    table = layout.record
    names: list[str] = []
    columns: dict[str, dict[int, float]] = {}
    last = ""
    while True:
        query = select(table.c.hash, table.c.body).where(
            store.here(table), table.c.kind == "trial", table.c.hash > last
        )
        with store.reading() as connection:
            chunk = connection.execute(query.order_by(table.c.hash).limit(5_000)).all()
        if not chunk:
            break
        last = chunk[-1].hash
        openings = store.openings([row.hash for row in chunk if b'"private":' in row.body])
        for row in chunk:
            if openings.get(row.hash):
                formula = store.get(row.hash).body.get("formula", {})
            else:
                formula = orjson.loads(row.body).get("formula", {})
            for line in formula.get("lines", ()):
                if "material" in line:
                    column = columns.setdefault(line["material"], {})
                    column[len(names)] = column.get(len(names), 0.0) + float(line["percent"])
            names.append(row.hash)
    shares = np.zeros((len(names), len(columns)))
    for at, column in enumerate(columns.values()):
        shares[list(column), at] = list(column.values())
    frame = pd.DataFrame(shares.round(4), index=pd.Index(names, name="id"), columns=list(columns))
    listed = trials(store, corrections)[["id", "label", "created"]].set_index("id")
    joined = listed.join(frame)
    means = _mean_readings(readings(store, corrections))
    return joined.join(means).reset_index()[["label", "created", *columns, *means.columns, "id"]]


def _mean_readings(frame: pd.DataFrame) -> pd.DataFrame:
    known = frame[frame["value"].notna() & frame["bound"].isna()]
    titles = known["quantity"] + " [" + known["unit"] + "]"
    several = known.groupby(titles)["conditions"].nunique()
    split = titles.map(several) > 1
    shown = titles.where(
        ~split, titles + " " + known["conditions"].where(known["conditions"] != "", "?")
    )
    return known.assign(title=shown).pivot_table(
        index="trial", columns="title", values="value", aggfunc="mean"
    )
