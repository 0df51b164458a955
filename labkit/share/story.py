"""What a report tells of each trial: why, what changed, what was expected, what happened."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from labkit.bench import Reading, Record, Trial
from labkit.bench.history import History
from labkit.errors import LabkitError
from labkit.estimates.estimate import digits

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Chapter", "Outcome", "Product", "amount", "day", "products"]

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One quantity as it was read: mean, replicates, how, and what was expected."""

    quantity: str
    found: str
    detail: str
    before: str
    expected: str
    inside: bool | None
    amended: tuple[str, ...]
    withdrawn: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Chapter:
    """One trial of the story."""

    trial: Trial
    built_on: tuple[str, ...]
    changes: tuple[str, ...]
    outcomes: tuple[Outcome, ...]
    said: tuple[Record, ...]
    photos: tuple[Record, ...]
    decisions: tuple[Record, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """The trials of one product, oldest first; ``told`` are those told in full."""

    name: str
    trials: tuple[Trial, ...]
    told: tuple[Chapter, ...]

    @property
    def last(self) -> Chapter:
        """The trial that was kept, or else the newest that was not withdrawn."""
        standing = [c for c in self.told if c.trial.withdrawn is None] or list(self.told)
        kept = [c for c in standing if any(d.body["verdict"] == "keep" for d in c.decisions)]
        return (kept or standing)[-1]


def products(history: History, at_most: int) -> list[Product]:
    """The story by product; of each, the newest ``at_most`` trials are told in full."""
    listed = history.trials(withdrawn=True)
    frame = history.readings(withdrawn=True)
    called = dict(zip(listed["id"], listed["label"], strict=True))
    by_name: dict[str, list[str]] = {}
    for name, title in zip(listed["id"], listed["name"], strict=True):
        by_name.setdefault(str(title) or "Without a name", []).append(str(name))
    share = max(1, at_most // max(len(by_name), 1))
    teller = _Teller(history, frame, called)
    found = []
    for title, names in by_name.items():
        trials = tuple(history.trial(name) for name in names[-2 * share :])
        told = tuple(teller.chapter(trial) for trial in trials[-share:])
        found.append(Product(name=title, trials=trials, told=told))
    return found


class _Teller:
    """Chapters of one history."""

    def __init__(self, history: History, frame: pd.DataFrame, called: Mapping[str, str]) -> None:
        self.history, self.called = history, called
        self.by_trial = {str(name): group for name, group in frame.groupby("trial", sort=False)}

    def chapter(self, trial: Trial) -> Chapter:
        """Everything about one trial."""
        about = self.history.records(about=trial)
        parents = [p for p in trial.parents if p in self.called]
        return Chapter(
            trial=trial,
            built_on=tuple(self.called[p] for p in parents),
            changes=tuple(self._changes(trial, parents)),
            outcomes=tuple(self._outcomes(trial, parents)),
            said=tuple(r for r in about if r.kind in {"note", "correction"}),
            photos=tuple(r for r in about if r.kind == "photo"),
            decisions=tuple(r for r in about if r.kind == "decision"),
        )

    def _changes(self, trial: Trial, parents: Sequence[str]) -> Iterator[str]:
        for parent in parents:
            head = f"against {self.called[parent]}: " if len(parents) > 1 else ""
            try:
                compared = self.history.trial(parent).formula.compare(trial.formula)
            except LabkitError:
                yield f"{head}the recipe was not shared"
                continue
            if not len(compared):
                yield f"{head}the same recipe again"
            rest = trial.formula.qs_line
            moved = sorted(
                compared, key=lambda one: rest is not None and one.material == rest.material
            )
            yield from (f"{head}{one}" for one in moved)

    def _outcomes(self, trial: Trial, parents: Sequence[str]) -> Iterator[Outcome]:
        mine = self.by_trial.get(trial.id)
        if mine is None:
            return
        before = {p: self.by_trial[p] for p in parents if p in self.by_trial}
        for name, group in mine.groupby("id", sort=False):
            first = group.iloc[0]
            changed = bool(first["amended"]) or first["withdrawn"] is not None
            yield Outcome(
                quantity=str(first["quantity"]),
                found=_found(group),
                detail=_detail(group),
                before=self._before(group, before),
                expected=_expected(trial, str(first["quantity"])),
                inside=_inside(trial, group),
                amended=tuple(self._amended(str(name))) if changed else (),
                withdrawn=first["withdrawn"] if isinstance(first["withdrawn"], str) else None,
            )

    def _before(self, group: pd.DataFrame, before: Mapping[str, pd.DataFrame]) -> str:
        first = group.iloc[0]
        for parent, frame in before.items():
            same = frame[
                (frame["quantity"] == first["quantity"])
                & (frame["conditions"] == first["conditions"])
                & (frame["unit"] == first["unit"])
                & frame["withdrawn"].isna()
            ]
            if len(same):
                return f"{self.called[parent]}: {_found(same)}"
        return ""

    def _amended(self, name: str) -> Iterator[str]:
        reading: Reading = self.history.reading(name)
        for one in reading.folded.amendments:
            was = f"{one.body['was']} → " if "was" in one.body else ""
            yield f"corrected {one.body['path']}: {was}{one.body['now']} ({one.body['reason']})"
        for path, several in reading.rivals.items():
            rival = " or ".join(str(r.body["now"]) for r in several)
            yield f"two corrections do not know of each other, {path}: {rival}"


def _found(group: pd.DataFrame) -> str:
    unit = str(group["unit"].iloc[0])
    if unit in {"word", "text", "L*a*b*"}:
        return ", ".join(dict.fromkeys(str(t) for t in group["text"]))
    values = [float(v) for v in group["value"] if v is not None and not math.isnan(v)]
    if not values:
        return ", ".join(str(t) for t in group["text"])
    log = str(group["quantity"].iloc[0]) == "viscosity" and min(values) > 0
    mean = math.exp(sum(map(math.log, values)) / len(values)) if log else sum(values) / len(values)
    bound = group["bound"].iloc[0]
    return f"{bound if isinstance(bound, str) else ''}{amount(mean, unit)}"


def amount(value: float, unit: str) -> str:
    """A number with its unit as a person writes it.

    Examples
    --------
    >>> amount(18234.0, "mPa*s"), amount(5.2, "pH")
    ('18.2 Pa·s', '5.20')
    """
    if unit == "pH":
        return f"{value:.2f}"
    if unit == "mPa*s" and abs(value) >= 1000:
        return f"{digits(value / 1000, value / 100_000)} Pa·s"
    return f"{value:.4g} {unit.replace('*', '·')}".strip()


def _detail(group: pd.DataFrame) -> str:
    first = group.iloc[0]
    parts = []
    if len(group) > 1:
        parts.append(f"{len(group)} readings: {', '.join(str(t) for t in group['text'])}")
    parts.append(str(first["conditions"]))
    if isinstance(first["at_h"], float) and not math.isnan(first["at_h"]):
        parts.append(f"{first['at_h']:g} h after making")
    if first["note"]:
        parts.append(str(first["note"]))
    return "; ".join(part for part in parts if part)


def _estimate(trial: Trial, quantity: str) -> Mapping[str, Any]:
    for one in (trial.forecast or {}).get("estimates", ()):
        if isinstance(one, dict) and str(one.get("quantity", "")) == quantity:
            return one
    return {}


def _expected(trial: Trial, quantity: str) -> str:
    one = _estimate(trial, quantity)
    try:
        ends = [float(one[name]) for name in ("low", "high")]
    except (KeyError, ValueError):
        return ""
    unit = str(one.get("unit", "")) or ("pH" if quantity == "pH" else "")
    low, high = (amount(end, unit) for end in ends)
    return f"{low.removesuffix(' Pa·s') if high.endswith(' Pa·s') else low} to {high}"


def _inside(trial: Trial, group: pd.DataFrame) -> bool | None:
    one = _estimate(trial, str(group["quantity"].iloc[0]))
    values = [float(v) for v in group["value"] if v is not None and not math.isnan(v)]
    unit = str(one.get("unit", "")) or str(group["unit"].iloc[0])
    if not values or "low" not in one or "high" not in one or unit != str(group["unit"].iloc[0]):
        return None
    mean = sum(values) / len(values)
    return float(one["low"]) <= mean <= float(one["high"])


def day(created: str) -> str:
    """A day as it is written in a sentence.

    Examples
    --------
    >>> day("2026-03-09T10:00:00Z")
    '9 March 2026'
    """
    year, month, date = created[:4], created[5:7], created[8:10]
    return f"{int(date)} {MONTHS[int(month) - 1]} {year}" if len(created) >= 10 else ""
