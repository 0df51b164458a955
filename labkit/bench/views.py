"""Trials and readings as they are looked at: frozen, never written back."""

from __future__ import annotations

import html
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Any

from labkit.bench.canonical import visible
from labkit.bench.fold import Folded
from labkit.bench.records import Record
from labkit.errors import RecordError
from labkit.formula.model import Formula

__all__ = ["Reading", "Trial"]

_NOTHING: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True, kw_only=True)
class Trial:
    """One recorded trial: what was meant to be made, and why.

    ``id`` is the name of the record (64 hex digits), ``label`` what the trial is
    called at this bench. A trial never changes; later words about it are records
    of their own.
    """

    record: Record
    label: str
    folded: Folded = field(repr=False)

    @property
    def id(self) -> str:
        """The name of the record: 64 hex digits."""
        return self.record.id

    @cached_property
    def formula(self) -> Formula:
        """The formula as it was recorded."""
        written = self.record.body.get("formula", {})
        lines = written.get("lines", ())
        if not lines or any("hidden_line" in line for line in lines):
            raise RecordError(
                where=f"Trial {self.label}",
                found="lines of the recipe are private and closed",
                allowed="A history shared with its recipe",
                cause="Whoever shared it kept the recipe back",
                do="Ask for the opened history; readings and notes can be read as they are",
            )
        return Formula.from_dict(dict(written))

    @property
    def name(self) -> str:
        """The name of the formula."""
        return str(self.record.body.get("formula", {}).get("name", ""))

    @property
    def note(self) -> str:
        """The note recorded with the trial, amendments folded in."""
        return str(self.folded.body.get("note", ""))

    @property
    def created(self) -> str:
        """When it was recorded, in UTC."""
        return self.record.created

    @property
    def author(self) -> str:
        """The random id of the person who recorded it."""
        return str(self.record.body.get("author", ""))

    @property
    def parents(self) -> tuple[str, ...]:
        """The ids of the trials it was built on."""
        return tuple(self.record.body.get("parents", ()))

    @property
    def forecast(self) -> Mapping[str, Any] | None:
        """The forecast stored before any result, as plain values."""
        return self.record.body.get("forecast")

    @property
    def brief(self) -> Mapping[str, Any] | None:
        """The brief it was made for, as plain values."""
        return self.record.body.get("brief")

    @property
    def materials(self) -> dict[int, str]:
        """Position of a line → the record of the material as used."""
        return {int(e["line"]): e["material"] for e in self.record.body.get("materials", ())}

    @property
    def prices(self) -> list[Mapping[str, Any]] | None:
        """Prices as they were on that day, where they are open."""
        return self.record.body.get("prices")

    @property
    def batch(self) -> str | None:
        """The batch it was made from, where several trials share a base."""
        return self.record.body.get("batch")

    @property
    def files(self) -> tuple[Mapping[str, Any], ...]:
        """Files kept with it, by the SHA-256 of their content."""
        return tuple(self.record.body.get("files", ()))

    @property
    def withdrawn(self) -> str | None:
        """Why it was withdrawn, if it was."""
        by = self.folded.withdrawal
        return None if by is None else str(by.body["reason"])

    def __str__(self) -> str:
        note = f": {visible(self.note)}" if self.note else ""
        return f"Trial {self.label}, {visible(self.name)}{note}"

    def __repr__(self) -> str:
        return f"<Trial {self.label}: {visible(self.name)} {self.id[:12]}>"

    def _repr_html_(self) -> str:
        lines = "".join(
            f"<tr><td style='text-align:left'>{_cell(line.get('phase', ''))}</td>"
            f"<td style='text-align:left'>{_cell(line.get('material', 'private'))}</td>"
            f"<td style='text-align:right'>{_cell(line.get('percent', ''))}</td></tr>"
            for line in self.record.body.get("formula", {}).get("lines", ())
        )
        gone = f"<p><b>withdrawn:</b> {_cell(self.withdrawn)}</p>" if self.withdrawn else ""
        return (
            f"<div><h4>Trial {_cell(self.label)} · {_cell(self.name)}</h4>{gone}"
            f"<p>{_cell(self.note)}</p><table><tr><th>phase</th><th>material</th><th>% w/w</th>"
            f"</tr>{lines}</table><details><summary>details</summary>recorded {self.created}"
            f"<br>id {self.id}</details></div>"
        )


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One measurement as recorded: replicates, unit and conditions."""

    record: Record
    folded: Folded = field(repr=False)

    @property
    def id(self) -> str:
        """The name of the record: 64 hex digits."""
        return self.record.id

    @property
    def quantity(self) -> str:
        """What was measured."""
        return str(self.record.body["quantity"])

    @property
    def about(self) -> str:
        """The trial, batch, lot or sample that was measured."""
        return self.record.about[0]

    @property
    def texts(self) -> tuple[str, ...]:
        """The readings as they were typed, amendments folded in."""
        body = self.folded.body
        return tuple(_reading_text(one) for one in body.get("replicates", [body]))

    @property
    def conditions(self) -> Mapping[str, str]:
        """How it was measured."""
        found: Mapping[str, str] = self.folded.body.get("conditions", _NOTHING)
        return found

    @property
    def rivals(self) -> Mapping[str, tuple[Record, ...]]:
        """Amendments that do not know of each other, by the place they claim."""
        return self.folded.rivals

    @property
    def withdrawn(self) -> str | None:
        """Why it was withdrawn, if it was."""
        by = self.folded.withdrawal
        return None if by is None else str(by.body["reason"])

    def __repr__(self) -> str:
        return f"<Reading {visible(self.quantity)} {', '.join(map(visible, self.texts))}>"

    def _repr_html_(self) -> str:
        how = ", ".join(f"{k.split('_')[0]} {v}" for k, v in self.conditions.items())
        disputed = "".join(
            f"<br>disputed {_cell(path)}: {_cell(' or '.join(str(r.body['now']) for r in several))}"
            for path, several in self.rivals.items()
        )
        said = f"<b>{_cell(self.quantity)}</b> {_cell(', '.join(self.texts))}"
        return f"{said} <i>{_cell(how)}</i>{disputed}"


def _reading_text(one: Mapping[str, Any]) -> str:
    if "word" in one:
        return str(one["word"])
    bound = one.get("bound", "")
    unit = str(one.get("unit", ""))
    interval = f" ({one['low']} to {one['high']})" if "low" in one else ""
    return f"{bound}{one.get('value', 'private')} {unit}{interval}".strip()


def _cell(text: object) -> str:
    return html.escape(visible(str(text)))
