"""What a paper is about: a formula, or a recorded trial with what was measured of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from labkit.bench import Bench, Trial
from labkit.formula import Brief, Formula, formula_of

__all__ = ["Measured", "Subject", "measured", "subject_of"]

_WORD_UNITS = {"word", "text", "L*a*b*"}
LAW = (
    "Local law, the suppliers' documents, a challenge test and a qualified safety assessor "
    "decide; this paper gathers numbers and names their sources."
)
"""The last line of every paper that speaks of people."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """A formula, the trial it was recorded as, and what it is made for."""

    formula: Formula
    trial: Trial | None
    brief: Brief
    stated: bool

    @property
    def label(self) -> str:
        """The trial's label, or nothing."""
        return self.trial.label if self.trial else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Readings of one quantity under one set of conditions."""

    quantity: str
    words: str
    how: str


def subject_of(about: Formula | Trial, brief: Brief | None = None) -> Subject:
    """A formula or a trial, with its brief: the one given, else the one recorded."""
    trial = about if isinstance(about, Trial) else None
    formula = formula_of(about, "Paper")
    recorded = trial.brief if trial is not None else None
    if brief is not None:
        return Subject(formula=formula, trial=trial, brief=brief, stated=True)
    if recorded:
        found = Brief.from_dict(dict(recorded))
        return Subject(formula=formula, trial=trial, brief=found, stated=True)
    return Subject(formula=formula, trial=trial, brief=Brief(product=formula.name), stated=False)


def measured(bench: Bench | None, trial: Trial | None) -> tuple[Measured, ...]:
    """What was measured of a trial: mean of the replicates, with how it was measured."""
    if bench is None or trial is None:
        return ()
    frame = bench.readings(trial=trial)
    found: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for row in frame.to_dict("records"):
        key = (str(row["quantity"]), _how(row))
        found.setdefault(key, []).append({str(k): v for k, v in row.items()})
    return tuple(
        Measured(quantity=quantity, words=_words(rows), how=how)
        for (quantity, how), rows in found.items()
    )


def _how(row: Mapping[Any, Any]) -> str:
    parts = []
    if _there(row["temperature_c"]):
        parts.append(f"{row['temperature_c']:g} °C")
    parts += [str(row[x]) for x in ("dilution", "instrument", "method") if _there(row[x])]
    if _there(row["spindle"]):
        parts.append(f"spindle {row['spindle']}")
    if _there(row["speed_rpm"]):
        parts.append(f"{row['speed_rpm']:g} rpm")
    if _there(row["at_h"]):
        parts.append(f"after {row['at_h']:g} h")
    return ", ".join(parts)


def _there(value: Any) -> bool:
    return value is not None and value == value and str(value) != ""


def _words(rows: Iterable[Mapping[str, Any]]) -> str:
    several = list(rows)
    values = [float(r["value"]) for r in several if _there(r["value"])]
    unit = str(several[-1]["unit"]) if _there(several[-1]["unit"]) else ""
    if len(values) < len(several) or not values or unit in _WORD_UNITS:
        return ", ".join(str(r["text"]) for r in several if _there(r["text"]))
    bounds = {str(r["bound"]) for r in several if _there(r["bound"])}
    mean = sum(values) / len(values)
    shown = f"{mean:.4g}" if unit and unit != "pH" else f"{mean:.2f}"
    if abs(mean) >= 10_000:
        shown = f"{float(f'{mean:.3g}'):.0f}"
    shown_unit = "" if unit == "pH" else unit.replace("*", "·")
    text = f"{''.join(sorted(bounds))}{shown} {shown_unit}".strip()
    return f"{text} (mean of {len(values)})" if len(values) > 1 else text
