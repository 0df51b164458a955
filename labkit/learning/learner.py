"""Fit once from the trials, then predict thickness and pH of any formula, with bands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from labkit.errors import MeasurementError
from labkit.learning import frames
from labkit.learning.bench_table import bench_frame, column_of
from labkit.learning.chemistry import POLYACID, POLYACID_EQUIVALENTS, ChargeTable
from labkit.learning.features import FeatureMap
from labkit.learning.ph import EmpiricalPh, EnginePh, fit_empirical, fit_engine
from labkit.learning.posterior import Array, Mixture
from labkit.learning.viscosity import RESPONSES, ResponseModel, fit_response
from labkit.learning.words import word_of
from labkit.materials import Materials

if TYPE_CHECKING:
    import pandas as pd

DEFAULT_PH, DEFAULT_PH_SD = 5.5, 1.0


class Prediction(dict[str, "pd.DataFrame"]):
    """Bands a quantity; ``outside`` says, a row, what was never tried that far."""

    outside: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Learner:
    """What the trials taught so far; made by `fit`.

    Attributes
    ----------
    data : TrialData
        The trials as arrays.
    map : FeatureMap
        How a composition becomes features.
    models : mapping of str to ResponseModel
        ``viscosity_mPas``, and ``drain_s`` and ``spread_mm`` where measured.
    titles : tuple of str
        The materials as shown to people.
    ph_model : EnginePh, EmpiricalPh or None
        None when no pH was measured and no chemistry is known.
    """

    data: frames.TrialData
    map: FeatureMap
    models: Mapping[str, ResponseModel]
    ph_model: EnginePh | EmpiricalPh | None
    tried: Array
    titles: tuple[str, ...]
    source: tuple[Any, Any, Any]

    def __repr__(self) -> str:
        known = [*self.models, *(["pH"] if self.ph_model is not None else [])]
        trials, materials = len(self.data.trials), len(self.data.names)
        return f"<Learner: {trials} trials, {materials} materials; {', '.join(known)}>"

    def predict(self, formulas_or_frame: Any, levels: Sequence[float] = (0.8, 0.95)) -> Prediction:
        """Bands for new measured batches.

        Parameters
        ----------
        formulas_or_frame : DataFrame, Formula or sequence of Formula
            Compositions in % w/w; process columns as in `fit` are used where given,
            otherwise the usual process of this bench is assumed.
        levels : sequence of float
            Chance that the band holds a new measured value, each between 0 and 1.

        Returns
        -------
        Prediction
            Quantity to DataFrame with ``median`` and ``low80``, ``high80``, ... columns;
            ``.outside`` names what lies beyond the trials so far.

        Raises
        ------
        FormulaError
            A total that is not 100 %.

        Notes
        -----
        The bands hold the noise of one batch and its readings. They are for a new
        measured batch, not for the mean.
        """
        learner, percent, process, index = self._read(formulas_or_frame)
        return learner._predict(percent, process, index, tuple(levels))

    def mixtures(
        self, percent: Array, process: Array | None = None
    ) -> tuple[dict[str, Mixture], Mixture | None]:
        """Predictive mixtures of log10 answers, and of pH, for ``percent`` (m, n)."""
        if process is None:
            process = np.broadcast_to(self.usual_process, (percent.shape[0], 3))
        acidity = None if self.ph_model is None else self.ph_model.predict(percent)
        return self.answers(percent, process, acidity), acidity

    def answers(
        self, percent: Array, process: Array, acidity: Mixture | None
    ) -> dict[str, Mixture]:
        """Mixtures of log10 answers when the pH mixture is known already."""
        ph, ph_sd = self._ph_moments(acidity, percent.shape[0])
        return {
            name: model.predict(percent, process, ph, ph_sd) for name, model in self.models.items()
        }

    @property
    def usual_process(self) -> Array:
        """Middle of the recorded process, as features (3,)."""
        return np.asarray(np.median(self.data.process, axis=0))

    def outside(
        self, percent: Array, acidity: Mixture | None = None
    ) -> tuple[tuple[str, ...], ...]:
        """What of each composition lies outside the tried range by more than counts."""
        if acidity is None and self.ph_model is not None:
            acidity = self.ph_model.predict(percent)
        ph, _ = self._ph_moments(acidity, percent.shape[0])
        rows = self.map.rows(percent, np.zeros((percent.shape[0], 3)), ph)
        return tuple(tuple(words) for words in self.map.outside(self.tried, rows))

    def _predict(
        self, percent: Array, process: Array, index: Any, levels: tuple[float, ...]
    ) -> Prediction:
        mixtures, acidity = self.mixtures(percent, process)
        points = quantile_points(levels)
        out = Prediction()
        for name, mixture in mixtures.items():
            out[name] = _bands(10.0 ** mixture.quantile(points), levels, index)
        if acidity is not None:
            out["pH"] = _bands(acidity.quantile(points), levels, index)
        out.outside = self.outside(percent, acidity)
        return out

    def _ph_moments(self, acidity: Mixture | None, count: int) -> tuple[Array, Array]:
        if acidity is None:
            return np.full(count, DEFAULT_PH), np.full(count, DEFAULT_PH_SD)
        mean = (acidity.weight * acidity.mean).sum(axis=-1)
        square = (acidity.weight * (acidity.sd**2 + acidity.mean**2)).sum(axis=-1)
        return mean, np.sqrt(np.maximum(square - mean**2, 1e-6))

    def _read(self, given: Any) -> tuple[Learner, Array, Array, Any]:
        """Arrays of what is asked; a learner that knows its new materials too."""
        if not hasattr(given, "columns"):
            several = given if isinstance(given, (list, tuple)) else [given]
            given = formulas_table(several, self.data.names, self.source[0])
        learner = self._knowing(given)
        percent = frames.read_percent(given, learner.data.names)
        process, _ = frames.read_process(given, learner.data.shear)
        usual = learner.usual_process
        columns = ("measure_temp_C", "age_days", "homog_rpm")
        for k, name in enumerate(columns):
            if name not in given.columns:
                process[:, k] = usual[k]
        return learner, percent, process, given.index

    def _knowing(self, given: pd.DataFrame) -> Learner:
        """Refit with materials that were never in a trial, so that their prior counts."""
        mats, functions, base = self.source
        known = set(self.data.names) | frames.KNOWN
        new = [c for c in map(str, given.columns) if c not in known and not c.startswith("true_")]
        if not new:
            return self
        if functions is not None:
            return self
        fresh = frames.function_words(new, mats)
        words = dict(zip(self.data.names, self.data.words, strict=True)) | fresh
        width = np.zeros((self.data.percent.shape[0], len(new)))
        data = replace(
            self.data,
            names=tuple(words),
            words=tuple(words.values()),
            percent=np.concatenate([self.data.percent, width], axis=1),
        )
        return fit_data(data, mats, functions, base)


def quantile_points(levels: Sequence[float]) -> Array:
    """Cumulative probabilities of the median and of each band's ends."""
    for level in levels:
        if not 0.0 < level < 1.0:
            raise MeasurementError(
                where="Bands",
                found=f"level {level:g}",
                allowed="A level is a chance between 0 and 1, such as 0.8",
                cause="Percent in place of a share",
                do="Write 0.8 for an 80 % band",
            )
    ends = [p for level in levels for p in ((1 - level) / 2, (1 + level) / 2)]
    return np.array([0.5, *ends])


def _bands(values: Array, levels: Sequence[float], index: Any) -> pd.DataFrame:
    import pandas as pd

    names = ["median"]
    for level in levels:
        tag = f"{100 * level:g}"
        names += [f"low{tag}", f"high{tag}"]
    return pd.DataFrame(values, columns=names, index=index)


def formulas_table(formulas: Sequence[Any], known: Sequence[str], mats: Any) -> pd.DataFrame:
    """Formulas as a wide table of % w/w, one row each, under the names the trials use."""
    import pandas as pd

    called = {column_of(name, mats): name for name in known}
    rows = []
    for formula in formulas:
        row: dict[str, float] = {}
        for line in formula.lines:
            name = line.material
            if name not in known:
                name = called.get(column_of(line.key or name, mats), name)
            row[name] = row.get(name, 0.0) + float(line.percent)
        rows.append(row)
    return pd.DataFrame(rows).fillna(0.0)


def titles_of(names: Sequence[str], mats: Any) -> tuple[str, ...]:
    """Names to show: the common name where a material is known here by its key."""
    out = []
    for name in names:
        material = mats.resolve(name) if mats is not None else None
        out.append(material.name if material is not None and material.key == name else name)
    return tuple(out)


def charge_table(names: Sequence[str], words: Sequence[str], mats: Any) -> ChargeTable | None:
    """Chemistry of these materials; None when an acid or a base among them is unknown."""
    contents: list[list[tuple[str, float]]] = []
    for name, word in zip(names, words, strict=True):
        material = mats.resolve(name) if mats is not None else None
        parts = list(material.acid_base or ()) if material is not None else []
        if word == "unknown" and material is not None:
            word = word_of(material)
        if word == "polyacid":
            parts = [(POLYACID, POLYACID_EQUIVALENTS)]
        if word in ("acid", "base") and not parts:
            return None
        contents.append([(component, float(amount)) for component, amount in parts])
    water = np.array([1.0 if word == "water" else 0.0 for word in words])
    return ChargeTable.build(contents, water)


def fit_data(
    data: frames.TrialData, mats: Any, functions: Any, table: ChargeTable | None
) -> Learner:
    """Fit arrays of trials."""
    if table is None or len(table.water) != len(data.names):
        table = charge_table(data.names, data.words, mats)
    measured = np.isfinite(data.ph)
    ph_model: EnginePh | EmpiricalPh | None = None
    if table is not None:
        ph_model = fit_engine(table, data.percent[measured], data.ph[measured])
    elif measured.any():
        ph_model = fit_empirical(
            data.words, data.percent[measured], data.ph[measured], data.percent[0]
        )
    ph = _trial_ph(data, ph_model)
    titles = titles_of(data.names, mats)
    feature_map = FeatureMap.build(titles, data.words, data.percent[0], float(ph[0]))
    rows = feature_map.rows(data.percent, data.process, ph)
    models = {}
    for response in RESPONSES:
        y = data.log_values.get(response.column)
        if y is None or not np.isfinite(y).any():
            continue
        use = np.isfinite(y)
        models[response.column] = fit_response(
            response, feature_map, rows[use], y[use], data.readings[use], data.base[use]
        )
    if not models and ph_model is None:
        raise MeasurementError(
            where="Trials",
            found="no viscosity, drain time, spread or pH measured yet",
            allowed="At least one measured trial",
            cause="The readings are still to be recorded",
            do="Measure a trial, then fit again",
        )
    return Learner(
        data=data,
        map=feature_map,
        models=models,
        ph_model=ph_model,
        tried=rows,
        titles=titles,
        source=(mats, functions, table),
    )


def _trial_ph(data: frames.TrialData, model: EnginePh | EmpiricalPh | None) -> Array:
    """Measured pH of each trial, else the expected one."""
    known = np.isfinite(data.ph)
    if known.all():
        return data.ph
    expected = np.full(data.ph.size, DEFAULT_PH)
    if model is not None:
        mixture = model.predict(data.percent)
        expected = (mixture.weight * mixture.mean).sum(axis=-1)
    return np.where(known, data.ph, expected)


def fit(
    bench_or_frame: Any, mats: Any = None, functions: Mapping[str, str] | None = None
) -> Learner:
    """Learn thickness and pH from trials.

    Parameters
    ----------
    bench_or_frame : Bench or DataFrame
        A bench, or a table with a row a trial (or a reading): columns ``trial``, ``parent``,
        ``repeat_of``, process columns where recorded, one column a material [% w/w, sum 100],
        ``n_readings``, ``viscosity_mPas``, ``pH``.
    mats : Materials, optional
        Your materials; the starter set when left out.
    functions : mapping, optional
        Column name to function word; then exactly these columns are materials. Unknown words
        mean the widest prior.

    Returns
    -------
    Learner

    Raises
    ------
    MaterialError, FormulaError, MeasurementError
        Columns that are no materials, totals that are not 100 %, impossible readings.

    Notes
    -----
    Bayesian linear model on log10 viscosity with weak priors by function; pH by charge balance
    with two learned numbers. See ``labkit.learning.posterior`` and ``labkit.learning.ph``.
    """
    data, mats = read_trials(bench_or_frame, mats, functions)
    return fit_data(data, mats, functions, None)


def read_trials(
    bench_or_frame: Any, mats: Any, functions: Mapping[str, str] | None
) -> tuple[frames.TrialData, Any]:
    """Trials of a bench or a table as arrays, and the materials that name them."""
    mats = Materials.starter() if mats is None else mats
    frame = bench_or_frame
    if not hasattr(frame, "columns"):
        frame = bench_frame(frame, mats)
        materials = [name for name in map(str, frame.columns) if name not in frames.KNOWN]
        functions = functions or frames.function_words(materials, mats)
    return frames.read_frame(frame, mats, functions), mats
