"""Every stored forecast calculated again from its records, and what came out.

Whether a record is what was recorded (`labkit.share.verify`) and whether its numbers
come out again are two questions, answered apart; neither says that a product is any good.
"""

from __future__ import annotations

import math
import os
from collections.abc import Iterator, Mapping
from contextlib import ExitStack
from dataclasses import dataclass
from decimal import Decimal
from html import escape
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from labkit.bench import Bench, Trial
from labkit.bench.history import History
from labkit.errors import LabkitError
from labkit.estimates import Forecaster
from labkit.estimates.learned import learned_from
from labkit.materials import Materials
from labkit.share.opening import open_history
from labkit.share.rebuilding import AsOf, Rebuilt, rebuild

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Recalculated", "Recalculation", "recalculate"]

Verdict = Literal["reproduced", "differs", "not run"]
_RELATIVE = 1e-9
_MARK = {"reproduced": "✓", "differs": "✗", "not run": "○"}
_PARTS = ("value", "low", "high")


@dataclass(frozen=True, slots=True, kw_only=True)
class Recalculated:
    """One stored value: as it was stored, as it comes out now, and the verdict."""

    trial: str
    quantity: str
    verdict: Verdict
    stored: str
    found: str = ""
    why: str = ""

    def __str__(self) -> str:
        said = (
            f"{_MARK[self.verdict]} {self.verdict:<10} {self.trial} {self.quantity}: {self.stored}"
        )
        said += f" → {self.found}" if self.verdict == "differs" else ""
        return f"{said} ({self.why})" if self.why else said


@dataclass(frozen=True, slots=True, kw_only=True)
class Recalculation:
    """What came out. ``stored_with`` and ``run_with`` are versions of the software."""

    values: tuple[Recalculated, ...]
    stored_with: tuple[str, ...]
    run_with: str

    def count(self, verdict: Verdict) -> int:
        """How many values have this verdict."""
        return sum(1 for one in self.values if one.verdict == verdict)

    @property
    def ok(self) -> bool:
        """Whether nothing differs."""
        return not self.count("differs")

    @property
    def summary(self) -> str:
        """The first line."""
        differ = self.count("differs")
        return (
            f"{self.count('reproduced')} of {len(self.values)} reproduced, {differ} "
            f"{'differs' if differ == 1 else 'differ'}, {self.count('not run')} not run"
        )

    def __str__(self) -> str:
        lines = [self.summary]
        lines.append(
            f"stored with {'; '.join(self.stored_with) or 'unknown'}; run with {self.run_with}"
        )
        shown = [one for one in self.values if one.verdict != "reproduced"]
        lines += [f"  {one}" for one in shown[:60]]
        if len(shown) > 60:
            lines.append(f"  and {len(shown) - 60} more")
        lines.append(
            "This says whether numbers come out again, not whether records were changed "
            "(lk.share.verify says that), nor whether a product is any good."
        )
        return "\n".join(lines)

    def table(self) -> pd.DataFrame:
        """Columns trial, quantity, verdict, stored, found, why."""
        import pandas as pd

        columns = ["trial", "quantity", "verdict", "stored", "found", "why"]
        return pd.DataFrame(
            [[getattr(one, name) for name in columns] for one in self.values], columns=columns
        )

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return {
            "summary": self.summary,
            "reproduced": self.count("reproduced"),
            "differ": self.count("differs"),
            "not_run": self.count("not run"),
            "stored_with": list(self.stored_with),
            "run_with": self.run_with,
            "values": self.table().to_dict("records"),
        }

    def _repr_html_(self) -> str:
        mark = "✓" if self.ok else "✗"
        return f"<b>{mark} {escape(self.summary)}</b><pre>{escape(str(self))}</pre>"


def recalculate(what: History | str | os.PathLike[str]) -> Recalculation:
    """Calculate every stored forecast again.

    Parameters
    ----------
    what : bench, shared history or path
        A path may be a shared history (``.eln``), a folder of record files, or a bench file.

    Returns
    -------
    Recalculation
        For each value: *reproduced* (within half a unit of the last digit stored, or 1e-9
        relative), *differs* (both numbers), or *not run* (and why).

    Examples
    --------
    >>> from labkit.bench.demo import demo_bench
    >>> with demo_bench(product="Dune") as bench:
    ...     print(recalculate(bench).summary)
    0 of 0 reproduced, 0 differ, 0 not run
    """
    with ExitStack() as stack:
        history = what if isinstance(what, History) else stack.enter_context(_opened(what))
        return _Runner(history).run()


def _opened(path: str | os.PathLike[str]) -> Any:
    file = Path(path).expanduser()
    if file.suffix == ".db" or (file / "bench.db").is_file():
        return Bench.open(file, read_only=True)
    return open_history(file)


class _Runner:
    """One history, with what its trials have in common made ready once."""

    def __init__(self, history: History) -> None:
        self.history = history

    def run(self) -> Recalculation:
        values: list[Recalculated] = []
        versions: dict[str, None] = {}
        for record in self.history.store.of_kind("trial"):
            if not record.known or "forecast" not in record.body:
                continue
            trial = self.history.trial(record.id)
            software = record.body.get("software", {})
            versions[", ".join(f"{k} {v}" for k, v in software.items())] = None
            values += self._of_trial(trial)
        for record in self.history.store.of_kind("model"):
            values.append(
                Recalculated(
                    trial=str(record.body.get("name", "")),
                    quantity="model",
                    verdict="not run",
                    stored=record.id[:12],
                    why="a model is kept as it is, not fitted again",
                )
            )
        return Recalculation(
            values=tuple(values), stored_with=tuple(v for v in versions if v), run_with=_versions()
        )

    def _of_trial(self, trial: Trial) -> Iterator[Recalculated]:
        forecast = trial.forecast or {}
        stored = [one for one in forecast.get("estimates", ()) if isinstance(one, dict)]
        try:
            rebuilt = rebuild(self.history, trial)
            found, told = self._again(trial, rebuilt, forecast)
        except LabkitError as error:
            for one in stored:
                yield _not_run(trial, one, f"{error.where}: {error.found}")
            return
        for one in stored:
            yield _compared(trial, one, found, told, rebuilt)
        if "findings" in forecast:
            yield _findings(trial, forecast["findings"], found)

    def _again(
        self, trial: Trial, rebuilt: Rebuilt, forecast: Mapping[str, Any]
    ) -> tuple[dict[str, Any], str]:
        """What the forecast gives now, by quantity; and why learned values cannot be run."""
        learned, told = self._learned(trial, rebuilt, forecast)
        ph: Mapping[str, Any] = next(
            (e for e in forecast["estimates"] if e.get("quantity") == "pH"), {}
        )
        measured = float(ph["value"]) if ph.get("basis") == "measured" else None
        made = Forecaster(rebuilt.mats, rebuilt.brief, learned)(rebuilt.formula, measured)
        found: dict[str, Any] = {e.quantity: e.as_record() for e in made if e.known}
        found["findings"] = [(f.code, f.severity) for f in made.findings]
        return found, told

    def _learned(
        self, trial: Trial, rebuilt: Rebuilt, forecast: Mapping[str, Any]
    ) -> tuple[Any, str]:
        model = forecast.get("model")
        if not model:
            return None, ""
        if model.get("name") != "labkit.learning":
            return None, f"it was learned by {model.get('name', 'an unnamed model')}"
        data = list(model.get("data", ()))
        mats = dict(rebuilt.mats)
        for name in data:
            try:
                used = rebuild(self.history, name).mats
            except LabkitError as error:
                return None, f"a trial that it learned from: {error.found}"
            mats = dict(used) | mats
        known = Materials(mats.values()) if mats else None
        then = AsOf(self.history, trial.created)
        learned = learned_from(then, rebuilt.formula, known)  # type: ignore[arg-type]
        if learned is None or learned.record["data"] != data:
            return learned, "other trials are here than it learned from"
        return learned, ""


def _compared(
    trial: Trial, stored: Mapping[str, Any], found: Mapping[str, Any], told: str, rebuilt: Rebuilt
) -> Recalculated:
    quantity = str(stored.get("quantity", "?"))
    if "hidden_line" in stored:
        return _not_run(trial, stored, "it is private and was kept back")
    if "basis" not in stored:
        return _not_run(trial, stored, "written by hand, not calculated")
    if stored["basis"] == "learned" and told:
        return _not_run(trial, stored, told)
    if quantity == "cost" and not rebuilt.priced:
        return _not_run(trial, stored, "the prices are private and were kept back")
    again = found.get(quantity)
    if again is None:
        why = "labkit has no such estimate now"
        return _verdict(trial, stored, "differs", "unknown", why)
    same = stored.get("unit", "") == again.get("unit", "") and stored["basis"] == again["basis"]
    same = same and all(_alike(stored.get(part), again.get(part)) for part in _PARTS)
    if same:
        return _verdict(trial, stored, "reproduced", _words(again), "")
    return _verdict(trial, stored, "differs", _words(again), _difference(trial, stored, again))


def _alike(stored: Any, found: Any) -> bool:
    if stored is None or found is None:
        return stored is found
    was, now = Decimal(str(stored)), Decimal(str(found))
    exponent = was.as_tuple().exponent
    half = Decimal(5).scaleb((exponent if isinstance(exponent, int) else 0) - 1)
    return abs(was - now) <= half or math.isclose(float(was), float(now), rel_tol=_RELATIVE)


def _difference(trial: Trial, stored: Mapping[str, Any], again: Mapping[str, Any]) -> str:
    software = trial.record.body.get("software", {})
    versions = ", ".join(f"{k} {v}" for k, v in software.items())
    parts = [
        f"{part} by {Decimal(again[part]) - Decimal(stored[part]):+g}"
        for part in _PARTS
        if part in stored and part in again and not _alike(stored[part], again[part])
    ]
    moved = "; ".join(parts) or f"{stored['basis']} → {again['basis']}"
    return f"{moved}; stored with {versions or 'unknown'}"


def _findings(trial: Trial, stored: Any, found: Mapping[str, Any]) -> Recalculated:
    was = [(f.get("code", ""), f.get("severity", "")) for f in stored]
    now = found["findings"]
    words = [
        ", ".join(f"{code} ({severity})" for code, severity in x) or "none" for x in (was, now)
    ]
    same = sorted(was) == sorted(now)
    return Recalculated(
        trial=trial.label, quantity="findings", verdict="reproduced" if same else "differs",
        stored=words[0], found=words[1],
    )  # fmt: skip


def _not_run(trial: Trial, stored: Mapping[str, Any], why: str) -> Recalculated:
    return _verdict(trial, stored, "not run", "", why)


def _verdict(
    trial: Trial, stored: Mapping[str, Any], verdict: Verdict, found: str, why: str
) -> Recalculated:
    return Recalculated(
        trial=trial.label, quantity=str(stored.get("quantity", "a private value")), verdict=verdict,
        stored=_words(stored), found=found, why=why,
    )  # fmt: skip


def _words(one: Mapping[str, Any]) -> str:
    ends = f" ({one['low']} to {one['high']})" if "low" in one and "high" in one else ""
    return f"{one.get('value', '')}{ends} {one.get('unit', '')}".strip() or "closed"


def _versions() -> str:
    return ", ".join(f"{name} {metadata.version(name)}" for name in ("labkit", "numpy", "scipy"))
