"""Trials as a table, read into the arrays the learner works on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from labkit.errors import FormulaError, MaterialError, MeasurementError
from labkit.formula.names import is_water
from labkit.learning.features import REFERENCE_C
from labkit.learning.posterior import Array
from labkit.learning.viscosity import RESPONSES
from labkit.learning.words import meaning, word_of

if TYPE_CHECKING:
    import pandas as pd

Whole = NDArray[np.int64]

TOTAL_TOLERANCE = 0.1  # % w/w, for tables written with rounded numbers
LEAST_AGE_D = 1 / 24
LEAST_SHEAR = 1.0
TYPICAL_SHEAR = 15_000.0  # minutes x rpm, common practice
KNOWN = frozenset(
    {"trial", "id", "label", "parent", "repeat_of", "note", "reading", "base", "batch"}
    | {"measure_temp_C", "age_days", "homog_min", "homog_rpm", "n_readings", "pH", "when"}
    | {response.column for response in RESPONSES}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialData:
    """Trials in the order made; what was not measured is nan."""

    names: tuple[str, ...]
    words: tuple[str, ...]
    trials: tuple[Any, ...]
    labels: tuple[str, ...]  # as the bench calls its trials
    percent: Array  # (n, materials)
    process: Array  # (n, 3)
    readings: Array  # (n,)
    base: Whole  # (n,) number of the shared base, -1 for its own
    parent: Whole  # (n,) position of the parent, -1 without one
    log_values: Mapping[str, Array]  # answer column -> log10
    ph: Array  # (n,)
    shear: float  # minutes x rpm of the first trial that recorded them


def function_words(names: Iterable[str], mats: Any) -> dict[str, str]:
    """The learner's word for each material; ``unknown``, the widest prior, where there is none.

    Examples
    --------
    >>> function_words(["Aqua", "a gum without papers"], None)
    {'Aqua': 'water', 'a gum without papers': 'unknown'}
    """
    words = {}
    for name in names:
        material = mats.resolve(name) if mats is not None else None
        if material is not None:
            words[name] = word_of(material)
        else:
            words[name] = "water" if is_water(name) else "unknown"
    return words


def material_columns(
    frame: pd.DataFrame, mats: Any, functions: Mapping[str, str] | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Columns that are materials, with the learner's word for each."""
    if functions is not None:
        missing = [name for name in functions if name not in frame.columns]
        if missing:
            raise MaterialError(
                where="Table of trials",
                found=f"no column for {', '.join(missing)}",
                allowed="Each material named in functions has a column of % w/w",
                cause="A name is spelt differently in the table",
                do="Give functions the column names of the table",
            )
        names = tuple(functions)
        return names, tuple(meaning(functions[name], name) for name in names)
    found: list[str] = []
    words: list[str] = []
    for column in map(str, frame.columns):
        if column in KNOWN or column.startswith("true_"):
            continue
        material = mats.resolve(column) if mats is not None else None
        if material is not None or is_water(column):
            found.append(column)
            words.append("water" if material is None else word_of(material))
    if not found:
        raise MaterialError(
            where="Table of trials",
            found="no column that is a known material",
            allowed="One column a material, named as in the materials list or by INCI",
            cause="The columns carry codes or own names",
            do="Add the materials to the list, or give functions={column: function word}",
        )
    return tuple(found), tuple(words)


def read_frame(
    frame: pd.DataFrame, mats: Any = None, functions: Mapping[str, str] | None = None
) -> TrialData:
    """Read a table of trials; rows of one trial are readings of it.

    Raises
    ------
    MaterialError, FormulaError, MeasurementError
        Unknown columns, totals that are not 100 %, impossible readings.
    """
    names, words = material_columns(frame, mats, functions)
    trials = _column(frame, "trial", np.arange(1, len(frame) + 1))
    percent = frame[list(names)].to_numpy(dtype=float)
    check_totals(percent, [f"Trial {t}" for t in trials])
    first, member = _grouped(trials)
    count = np.bincount(member, minlength=first.size).astype(float)
    readings = _numbers(frame, "n_readings")
    readings = count if readings is None else np.maximum(_sums(readings, member), count)
    values = {
        r.column: _log_mean(frame, r.column, r.name, trials, member)
        for r in RESPONSES
        if r.column in frame
    }
    process, shear = read_process(frame)
    return TrialData(
        names=names,
        words=words,
        trials=tuple(trials[first]),
        labels=tuple(map(str, _column(frame, "label", trials)[first])),
        percent=percent[first],
        process=process[first],
        readings=readings,
        base=_codes(frame, "base")[first],
        parent=_parents(frame, trials[first], first),
        log_values=values,
        ph=_ph(frame, trials, member),
        shear=shear,
    )


def read_percent(frame: pd.DataFrame, names: Sequence[str]) -> Array:
    """Percentages of a table to predict, in the learner's order; totals checked."""
    percent = np.zeros((len(frame), len(names)))
    at = [j for j, name in enumerate(names) if name in frame.columns]
    percent[:, at] = frame[[names[j] for j in at]].to_numpy(dtype=float)
    check_totals(percent, [f"Formula {i}" for i in frame.index])
    return percent


def read_process(frame: pd.DataFrame, shear: float | None = None) -> tuple[Array, float]:
    """Process columns as features ``(n, 3)``, zero where not recorded; the shear reference."""
    out = np.zeros((len(frame), 3))
    temperature = _numbers(frame, "measure_temp_C")
    if temperature is not None:
        out[:, 0] = temperature - REFERENCE_C
    age = _numbers(frame, "age_days")
    if age is not None:
        out[:, 1] = np.log10(np.maximum(age, LEAST_AGE_D))
    minutes, rpm = _numbers(frame, "homog_min"), _numbers(frame, "homog_rpm")
    if minutes is not None and rpm is not None:
        product = np.maximum(minutes * rpm, LEAST_SHEAR)
        if shear is None:
            known = product[np.isfinite(product)]
            shear = float(known[0]) if known.size else TYPICAL_SHEAR
        out[:, 2] = np.log(product / shear)
    return np.where(np.isfinite(out), out, 0.0), shear or TYPICAL_SHEAR


def check_totals(percent: Array, labels: Sequence[str]) -> None:
    """Refuse rows with gaps, negative shares or a total that is not 100 %."""
    total = percent.sum(axis=1)
    bad = ~(np.abs(total - 100.0) <= TOTAL_TOLERANCE) | (percent < 0).any(axis=1)
    if not bad.any():
        return
    i = int(np.flatnonzero(bad)[0])
    found = f"percentages add up to {total[i]:.2f} %"
    if np.isnan(total[i]):
        found = "a material without a percentage"
    elif (percent[i] < 0).any():
        found = "a negative percentage"
    raise FormulaError(
        where=labels[i],
        found=found,
        allowed="Every material has its % w/w (0 if absent), together 100 %",
        cause="A column is not counted as a material, or an empty cell",
        do="Complete the row, or name every material column in functions",
    )


def _column(frame: pd.DataFrame, name: str, default: Any) -> Any:
    return frame[name].to_numpy() if name in frame.columns else default


def _numbers(frame: pd.DataFrame, name: str) -> Array | None:
    return frame[name].to_numpy(dtype=float) if name in frame.columns else None


def _grouped(trials: Any) -> tuple[Any, Any]:
    """First row of each trial, in order made, and the trial number of every row."""
    seen: dict[Any, int] = {}
    first: list[int] = []
    member = np.empty(len(trials), dtype=int)
    for i, trial in enumerate(trials.tolist()):
        at = seen.get(trial)
        if at is None:
            at = seen[trial] = len(first)
            first.append(i)
        member[i] = at
    return np.array(first, dtype=int), member


def _sums(values: Array, member: Whole) -> Array:
    return np.asarray(np.bincount(member, np.nan_to_num(values, nan=1.0)), float)


def _log_mean(frame: pd.DataFrame, column: str, name: str, trials: Any, member: Whole) -> Array:
    values = frame[column].to_numpy(dtype=float)
    known = ~np.isnan(values)
    wrong = known & ~((values > 0) & np.isfinite(values))
    if wrong.any():
        i = int(np.flatnonzero(wrong)[0])
        raise MeasurementError(
            where=f"Trial {trials[i]}",
            found=f"{name} {values[i]:g}",
            allowed=f"A {name} is a number above 0",
            cause="A gap was written as 0 or -1",
            do="Leave the cell empty if it was not measured",
        )
    logs = np.log10(np.where(known, values, 1.0))
    return _means(logs, known, member)


def _means(values: Array, known: Any, member: Whole) -> Array:
    count = np.bincount(member, known.astype(float))
    total = np.bincount(member, np.where(known, values, 0.0))
    return np.where(count > 0, total / np.maximum(count, 1.0), np.nan)


def _ph(frame: pd.DataFrame, trials: Any, member: Whole) -> Array:
    values = _numbers(frame, "pH")
    if values is None:
        return np.full(int(member.max()) + 1, np.nan)
    known = ~np.isnan(values)
    wrong = known & ~((values >= 0) & (values <= 14))
    if wrong.any():
        i = int(np.flatnonzero(wrong)[0])
        raise MeasurementError(
            where=f"Trial {trials[i]}",
            found=f"pH {values[i]:g}",
            allowed="A pH lies between 0 and 14",
            cause="A decimal point may be missing",
            do="Correct the reading, or leave the cell empty if it was not measured",
        )
    return _means(np.where(known, values, 0.0), known, member)


def _codes(frame: pd.DataFrame, name: str) -> Whole:
    """Numbers for the shared bases, -1 where blank."""
    if name not in frame.columns:
        return np.full(len(frame), -1)
    codes: dict[Any, int] = {}
    pairs = zip(frame[name], frame[name].isna().tolist(), strict=True)
    return np.array([-1 if blank else codes.setdefault(v, len(codes)) for v, blank in pairs])


def _parents(frame: pd.DataFrame, trials: Any, first: Whole) -> Whole:
    if "parent" not in frame.columns:
        return np.arange(-1, len(first) - 1)
    at = {trial: i for i, trial in enumerate(trials.tolist())}
    given = frame["parent"].to_numpy()[first].tolist()
    return np.array([at.get(p, -1) for p in given])
