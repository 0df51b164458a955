"""The record of forecasts against results: those stored on the bench, and those of hindsight."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from labkit.errors import MeasurementError, QuantityError
from labkit.learning.bench_table import LOGGED
from labkit.learning.calibrate import Forecast, pit, surprise
from labkit.learning.frames import TrialData
from labkit.learning.learner import fit_data, read_trials
from labkit.quantities import parse

UNITS = {"viscosity": "mPa*s", "drain time": "s", "spread": "mm", "pH": ""}
BAND = np.array([0.1, 0.5, 0.9])
START = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """A forecast stored on a trial, with the result that came later."""

    trial: str
    quantity: str
    forecast: Forecast


def stored_forecasts(bench: Any) -> list[Stored]:
    """Forecasts stored with trials that were measured afterwards, ready for `calibrate`.

    Parameters
    ----------
    bench : Bench
        Its trials carry the forecast that was made before any result.

    Returns
    -------
    list of Stored
        Log10 of mPa·s, s and mm; pH as it is. Forecasts without a band, or without a reading,
        are left out.
    """
    readings = bench.readings()
    usable = readings[readings["value"].notna()]
    out = []
    for trial_id in bench.trials()["id"]:
        trial = bench.trial(str(trial_id))
        for told in (trial.forecast or {}).get("estimates", ()):
            own = usable[
                (usable["trial"] == trial_id) & (usable["quantity"] == told.get("quantity"))
            ]["value"].astype(float)
            found = _stored(trial.id, told, own.to_numpy())
            if found is not None:
                out.append(found)
    return out


def _stored(trial: str, told: Mapping[str, Any], values: Any) -> Stored | None:
    quantity = str(told.get("quantity"))
    if quantity not in UNITS or told.get("low") is None or told.get("high") is None:
        return None
    if not values.size:
        return None
    low, high = (_in_unit(told[k], str(told.get("unit") or ""), quantity) for k in ("low", "high"))
    if quantity in LOGGED:
        if low <= 0:
            return None
        low, high, value = np.log10(low), np.log10(high), np.log10(values).mean()
    else:
        value = values.mean()
    level = float(told.get("level") or 0.8)
    forecast = Forecast(low=float(low), high=float(high), level=level, value=float(value))
    return Stored(trial=trial, quantity=quantity, forecast=forecast)


def _in_unit(value: Any, unit: str, quantity: str) -> float:
    target = UNITS[quantity]
    if not target or not unit:
        return float(value)
    try:
        return float(parse(f"{value} {unit}").to(target))
    except QuantityError:
        return float(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tracked:
    """One trial forecast from those before it; log10 except for pH.

    ``surprise`` is (measured - predicted) / predictive sd; ``place`` where the result fell in
    the forecast, 0 to 1.
    """

    trial: Any
    value: float
    median: float
    low80: float
    high80: float
    surprise: float
    place: float

    @property
    def forecast(self) -> Forecast:
        """As `calibrate` takes it."""
        return Forecast(
            low=self.low80, high=self.high80, level=0.8, value=self.value, median=self.median
        )


def track(
    bench_or_frame: Any,
    quantity: str = "viscosity_mPas",
    mats: Any = None,
    functions: Mapping[str, str] | None = None,
    start: int = START,
) -> list[Tracked]:
    """Forecast every trial from those before it: a chart of surprise across iterations.

    Parameters
    ----------
    bench_or_frame : Bench or DataFrame
        As for `fit`.
    quantity : {"viscosity_mPas", "drain_s", "spread_mm", "pH"}
    mats, functions
        As for `fit`.
    start : int
        Trials before the first forecast.

    Returns
    -------
    list of Tracked

    Raises
    ------
    MeasurementError
        The quantity was never measured.
    """
    data, mats = read_trials(bench_or_frame, mats, functions)
    values = data.ph if quantity == "pH" else data.log_values.get(quantity)
    if values is None or not np.isfinite(values).any():
        raise MeasurementError(
            where="Surprise across trials",
            found=f"no {quantity} measured",
            allowed=", ".join([*data.log_values, "pH"]),
            cause="The quantity was not measured on these trials",
            do="Choose a quantity that was measured",
        )
    out = []
    for n in range(start, len(data.trials)):
        if not np.isfinite(values[n]) or not np.isfinite(values[:n]).any():
            continue
        learner = fit_data(first_trials(data, n), mats, functions, None)
        answers, acidity = learner.mixtures(data.percent[[n]], data.process[[n]])
        mixture = acidity if quantity == "pH" else answers.get(quantity)
        if mixture is None:
            continue
        low, median, high = mixture.quantile(BAND)[0]
        out.append(
            Tracked(
                trial=data.trials[n],
                value=float(values[n]),
                median=float(median),
                low80=float(low),
                high80=float(high),
                surprise=float(surprise(mixture, values[[n]])[0]),
                place=float(pit(mixture, values[[n]])[0]),
            )
        )
    return out


def first_trials(data: TrialData, n: int) -> TrialData:
    """The first ``n`` trials of a series."""
    return replace(
        data,
        trials=data.trials[:n],
        labels=data.labels[:n],
        percent=data.percent[:n],
        process=data.process[:n],
        readings=data.readings[:n],
        base=data.base[:n],
        parent=data.parent[:n],
        log_values={k: v[:n] for k, v in data.log_values.items()},
        ph=data.ph[:n],
    )
