"""Thickness in words, and yes-or-no outcomes, learned from tables of trials."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from labkit.errors import MeasurementError
from labkit.learning import frames
from labkit.learning.features import FeatureMap
from labkit.learning.learner import formulas_table
from labkit.learning.ordinal import WORDS, OrdinalModel, fit_ordinal
from labkit.learning.passfail import PassFailModel, fit_passfail
from labkit.learning.posterior import Array
from labkit.materials import Materials

if TYPE_CHECKING:
    import pandas as pd

NEUTRAL_GUESS = 5.5
TRUE_WORDS = frozenset({"true", "yes", "1", "1.0", "split", "separated", "fail", "failed"})
FALSE_WORDS = frozenset({"false", "no", "0", "0.0", "one phase", "stable", "pass", "passed"})


@dataclass(frozen=True, slots=True, kw_only=True)
class WordLearner:
    """Chances of the five words of thickness; made by `fit_words`."""

    map: FeatureMap
    model: OrdinalModel
    names: tuple[str, ...]
    mats: Any

    def predict(self, formulas_or_frame: Any) -> pd.DataFrame:
        """Chance of each word for formulas or a table of % w/w; pH is used where given."""
        import pandas as pd

        given, percent = _asked(formulas_or_frame, self.names, self.mats)
        rows = self.map.rows(percent, np.zeros((len(percent), 3)), _ph(given))
        return pd.DataFrame(self.model.predict(rows), columns=list(WORDS), index=given.index)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutcomeLearner:
    """Chance of a yes-or-no outcome; made by `fit_outcome`."""

    model: PassFailModel
    names: tuple[str, ...]
    mats: Any

    def predict(self, formulas_or_frame: Any) -> pd.Series:
        """Chance of "yes" for formulas or a table of % w/w."""
        import pandas as pd

        given, percent = _asked(formulas_or_frame, self.names, self.mats)
        return pd.Series(self.model.predict(percent), index=given.index, name="chance")


def fit_words(
    frame: pd.DataFrame,
    column: str = "thickness",
    mats: Any = None,
    functions: Mapping[str, str] | None = None,
) -> WordLearner:
    """Learn thickness from words alone, with the priors of viscosity.

    Parameters
    ----------
    frame : DataFrame
        As for `fit`; ``column`` holds runs, pours, drops, mounds or peaks, or is empty.
    column : str
        Name of that column.
    mats, functions
        As for `fit`.

    Raises
    ------
    MeasurementError
        No word, or one outside the scale.
    """
    mats = Materials.starter() if mats is None else mats
    known = _told(frame, column)
    names, words = frames.material_columns(frame.drop(columns=[column]), mats, functions)
    percent = known[list(names)].to_numpy(dtype=float)
    frames.check_totals(percent, [f"Row {i}" for i in known.index])
    ph = _ph(known)
    form = FeatureMap.build(names, words, percent[0], float(ph[0]))
    rows = form.rows(percent, np.zeros((len(percent), 3)), ph)
    model = fit_ordinal(rows, known[column].astype(str).tolist(), form.prior())
    return WordLearner(map=form, model=model, names=names, mats=mats)


def fit_outcome(
    frame: pd.DataFrame,
    column: str,
    mats: Any = None,
    functions: Mapping[str, str] | None = None,
) -> OutcomeLearner:
    """Learn a yes-or-no outcome, such as "split", from a table of trials.

    Parameters
    ----------
    frame : DataFrame
        As for `fit`; ``column`` holds True or False, or yes and no, or is empty.
    column : str
        Name of that column.
    mats, functions
        As for `fit`; the charge of known materials joins the score.

    Raises
    ------
    MeasurementError
        No outcome, or one that is neither yes nor no.
    """
    mats = Materials.starter() if mats is None else mats
    known = _told(frame, column)
    names, _ = frames.material_columns(frame.drop(columns=[column]), mats, functions)
    percent = known[list(names)].to_numpy(dtype=float)
    frames.check_totals(percent, [f"Row {i}" for i in known.index])
    yes = [_yes(value, column) for value in known[column]]
    return OutcomeLearner(
        model=fit_passfail(percent, yes, charges_of(names, mats)), names=names, mats=mats
    )


def charges_of(names: Sequence[str], mats: Any) -> list[str | None]:
    """Charge class of each material, such as "cationic polymer"; None where it has none."""
    out: list[str | None] = []
    for name in names:
        material = mats.resolve(name) if mats is not None else None
        kind = None if material is None else material.charge_class
        if material is None or kind not in ("surfactant", "polymer") or material.charge is None:
            out.append(None)
        else:
            out.append(f"{material.charge} {kind}")
    return out


def _told(frame: pd.DataFrame, column: str) -> pd.DataFrame:
    known = frame[frame[column].notna()] if column in frame.columns else frame.iloc[:0]
    if known.empty:
        raise MeasurementError(
            where="Table of trials",
            found=f"nothing in the column '{column}'",
            allowed="A column with the outcome of at least one trial",
            cause="The column is called otherwise, or nothing was noted yet",
            do="Name the column, or note what happened",
        )
    return known


def _yes(value: Any, column: str) -> bool:
    word = str(value).strip().lower()
    if word not in TRUE_WORDS | FALSE_WORDS:
        raise MeasurementError(
            where=f"Column '{column}'",
            found=f"'{value}'",
            allowed="yes or no, true or false, split or one phase",
            cause="Another word, or a number",
            do="Write yes or no",
        )
    return word in TRUE_WORDS


def _ph(frame: pd.DataFrame) -> Array:
    if "pH" not in frame.columns:
        return np.full(len(frame), NEUTRAL_GUESS)
    ph = frame["pH"].to_numpy(dtype=float)
    return np.asarray(np.where(np.isfinite(ph), ph, NEUTRAL_GUESS))


def _asked(given: Any, names: Sequence[str], mats: Any) -> tuple[pd.DataFrame, Array]:
    if not hasattr(given, "columns"):
        given = formulas_table(given if isinstance(given, list | tuple) else [given], names, mats)
    return given, frames.read_percent(given, names)
