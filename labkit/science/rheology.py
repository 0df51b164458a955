"""Flow-curve fits with intervals, and a refusal of what the readings cannot carry."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given
from labkit.science.fitting import Fit, fit_curve, t_quantile
from labkit.science.flow_models import (
    PARAMETERS,
    PLATEAU_MODELS,
    equation,
    named,
    stress,
    viscosity,
)

__all__ = ["FlowFit", "fit", "stress", "viscosity"]

OPEN_FACTOR = 5.0
"""A parameter whose 95 % interval spans more than this factor each way is left open."""

FAINT = 0.7
"""Standard error of the logarithm above which a yield stress or high-shear level is faint."""

PLATEAU_FACTOR = 3.0
"""The zero-shear viscosity must be known better than this factor each way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowFit:
    """A fitted flow curve.

    Attributes
    ----------
    model : str
    parameters : mapping of str to float
        Estimates (units in `labkit.science.flow_models`).
    low, high : mapping of str to float
        95 % intervals.
    undetermined : tuple of str
        Parameters that these readings leave open.
    scatter_percent : float
        Scatter of the readings about the curve [%].
    rate_range : tuple of float
        Lowest and highest shear rate [1/s].
    notes : tuple of str
        What to keep in mind, in words.
    """

    model: str
    parameters: Mapping[str, float]
    low: Mapping[str, float]
    high: Mapping[str, float]
    undetermined: tuple[str, ...]
    scatter_percent: float
    rate_range: tuple[float, float]
    notes: tuple[str, ...]

    def viscosity(self, shear_rate: npt.ArrayLike) -> Numbers:
        """Viscosity of the fitted curve [Pa*s] at shear rates [1/s]."""
        return viscosity(self.model, self.parameters, shear_rate)


def fit(
    model: str,
    shear_rate: npt.ArrayLike,
    *,
    stress_pa: npt.ArrayLike | None = None,
    viscosity_pa_s: npt.ArrayLike | None = None,
) -> FlowFit:
    """Fit a flow model to readings.

    Parameters
    ----------
    model : str
        Name of a flow model, see `labkit.science.flow_models.PARAMETERS`.
    shear_rate : array-like, shape (n,)
        [1/s]
    stress_pa, viscosity_pa_s : array-like, shape (n,)
        Give one of them [Pa] or [Pa*s].

    Returns
    -------
    FlowFit

    Raises
    ------
    ScienceError
        Too few readings, readings that are not positive, or, for Cross and Carreau, a curve
        without a plateau at low shear.

    Notes
    -----
    Least squares on the logarithm of the viscosity (a viscometer's error is a percentage)
    with the logarithms of the parameters, so that none turns negative. Intervals: Student's t
    on the logarithm. Starting values come from the readings alone.

    Examples
    --------
    >>> g = np.array([1.0, 3.0, 10.0, 30.0, 100.0])
    >>> found = fit("power law", g, viscosity_pa_s=2.3 * g**-0.77)
    >>> round(found.parameters["K"], 3), round(found.parameters["n"], 3)
    (2.3, 0.23)
    """
    name = named(model)
    rate, eta = _readings(shear_rate, stress_pa, viscosity_pa_s)
    keys = PARAMETERS[name]
    if rate.size <= len(keys) + 1 or np.unique(rate).size <= len(keys):
        raise ScienceError(
            where=f"{name} fit",
            found=f"{rate.size} readings for {len(keys)} parameters",
            allowed=f"At least {len(keys) + 2} readings at {len(keys) + 1} different shear rates",
            cause="A short run of the viscometer",
            do="Read more speeds, or fit the power law",
        )
    found = _search(name, rate, np.log(eta))
    if name in PLATEAU_MODELS:
        _insist_on_plateau(name, found, rate, np.log(eta))
    return _told(name, found, rate)


def _readings(
    shear_rate: npt.ArrayLike, stress_pa: npt.ArrayLike | None, viscosity_pa_s: npt.ArrayLike | None
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    rate = given(shear_rate, "Shear rate", "1/s", above=0.0)
    if (stress_pa is None) == (viscosity_pa_s is None):
        raise ScienceError(
            where="Flow curve",
            found="both stress and viscosity" if stress_pa is not None else "no readings",
            allowed="Either the stress or the viscosity at each shear rate",
            cause="A column was named twice or not at all",
            do="Give one of the two",
        )
    if stress_pa is not None:
        eta = given(stress_pa, "Shear stress", "Pa", above=0.0)
    else:
        eta = given(viscosity_pa_s if viscosity_pa_s is not None else (), "Viscosity", above=0.0)
    if eta.shape != rate.shape or rate.ndim != 1:
        raise ScienceError(
            where="Flow curve",
            found=f"{rate.size} shear rates and {eta.size} readings",
            allowed="One reading for each shear rate",
            cause="A cell of the table is empty",
            do="Fill the gap or leave the row out",
        )
    return rate, np.asarray(eta / rate if stress_pa is not None else eta, dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    values: dict[str, float]
    low: dict[str, float]
    high: dict[str, float]
    residual_sd: float


def _search(name: str, rate: npt.NDArray[np.float64], log_eta: npt.NDArray[np.float64]) -> _Found:
    """The best fit over all starts; a level that the readings hardly show is profiled."""
    keys = PARAMETERS[name]
    full = _least(name, keys, rate, log_eta, {})
    faint = next((key for key in ("etainf", "tau0") if key in keys), None)
    if full is not None and (faint is None or full.standard_errors[keys.index(faint)] < FAINT):
        return _intervals(keys, full, {})
    none = _least(name, _without(keys, faint), rate, log_eta, {faint: 0.0}) if faint else None
    if none is None and name in PLATEAU_MODELS:
        raise _no_plateau(name, rate)
    if faint is None or none is None:
        raise ScienceError(
            where=f"{name} fit",
            found="no curve of this kind through the readings",
            allowed="Readings that follow the model",
            cause="The product flows otherwise, or a reading is wrong by a factor",
            do="Plot the readings, check the odd one, or take another model",
        )
    return _profiled(name, faint, none, rate, log_eta)


def _profiled(
    name: str,
    faint: str,
    none: Fit,
    rate: npt.NDArray[np.float64],
    log_eta: npt.NDArray[np.float64],
) -> _Found:
    """Fit without the faint level; intervals stretched to the highest level still likely."""
    kept = _without(PARAMETERS[name], faint)
    eta = np.exp(log_eta)
    ceiling = float(eta.min() if faint == "etainf" else (eta * rate).min())
    allowed = none.residual_ss * (1.0 + t_quantile(0.995, none.degrees) ** 2 / none.degrees)
    best, top, low, high = none, none, 0.0, 1.0
    for _ in range(12):
        middle = 0.5 * (low + high)
        trial = _least(name, kept, rate, log_eta, {faint: middle * ceiling}, near=top)
        if trial is not None and trial.residual_ss <= allowed:
            low, top = middle, trial
            best = trial if trial.residual_ss < best.residual_ss else best
        else:
            high = middle
    ends = [_intervals(kept, end, {}) for end in (none, best, top)]
    centre = _intervals(kept, best, {faint: 0.0})
    return _Found(
        values=centre.values,
        low={key: min(end.low[key] for end in ends) for key in kept} | {faint: 0.0},
        high={key: max(end.high[key] for end in ends) for key in kept} | {faint: low * ceiling},
        residual_sd=best.residual_sd,
    )


def _without(keys: tuple[str, ...], key: str | None) -> tuple[str, ...]:
    return tuple(name for name in keys if name != key)


def _intervals(keys: tuple[str, ...], found: Fit, fixed: dict[str, float]) -> _Found:
    value, low, high = (
        dict(zip(keys, map(float, np.exp(np.clip(v, -80.0, 80.0))), strict=True))
        for v in (found.values, found.low, found.high)
    )
    return _Found(
        values=value | fixed, low=low | fixed, high=high | fixed, residual_sd=found.residual_sd
    )


def _least(
    name: str,
    kept: tuple[str, ...],
    rate: npt.NDArray[np.float64],
    log_eta: npt.NDArray[np.float64],
    fixed: Mapping[str, float],
    near: Fit | None = None,
) -> Fit | None:
    def curve(x: npt.NDArray[Any], *logs: Any) -> npt.NDArray[Any]:
        known = {key: np.exp(log) for key, log in zip(kept, logs, strict=True)} | dict(fixed)
        return np.asarray(np.log(equation(name, x, [known[key] for key in PARAMETERS[name]])))

    if near is None:
        starts = [
            [float(np.log(start[key])) for key in kept]
            for start in _starts(name, rate, np.exp(log_eta))
        ]
    else:
        starts = [list(map(float, near.values))]
    try:
        with np.errstate(all="ignore"):
            found = fit_curve(curve, rate, log_eta, starts, kept)
    except ScienceError:
        return None
    sound = np.all(np.isfinite(found.values)) and np.all(np.isfinite(found.standard_errors))
    return found if sound else None


def _starts(
    name: str, rate: npt.NDArray[np.float64], eta: npt.NDArray[np.float64]
) -> Iterator[dict[str, float]]:
    """Starting values from the readings: slope, lowest stress, plateau and bend."""
    slope, level = np.polyfit(np.log(rate), np.log(eta), 1)
    index = float(np.clip(slope + 1.0, 0.05, 1.5))
    if name == "power law":
        yield {"K": float(np.exp(level)), "n": index}
        return
    tau = eta * rate
    if name == "Casson":
        root, rise = np.polyfit(np.sqrt(rate), np.sqrt(tau), 1)[::-1]
        floor = 1e-3 * float(np.sqrt(tau.min()))
        yield {"tau0": max(float(root), floor) ** 2, "eta_p": max(float(rise), 1e-6) ** 2}
        return
    if name == "Herschel-Bulkley":
        for share in (0.95, 0.8, 0.5, 0.2, 0.02):
            rest = tau - share * tau.min()
            n, k = np.polyfit(np.log(rate), np.log(rest), 1)
            yield {
                "tau0": share * float(tau.min()),
                "K": float(np.exp(k)),
                "n": float(np.clip(n, 0.05, 1.5)),
            }
        return
    for bend in np.exp(np.linspace(np.log(rate.min()), np.log(rate.max()), 5)):
        for thinning in (0.3, 0.6):
            yield {
                "eta0": 1.1 * float(eta.max()),
                "etainf": 0.3 * float(eta.min()),
                "lambda": 1.0 / float(bend),
                "m": 1.0 - thinning,
                "n": thinning,
                "a": 2.0,
            }


def _told(name: str, found: _Found, rate: npt.NDArray[np.float64]) -> FlowFit:
    spans = {key: _span(found, key) for key in PARAMETERS[name]}
    open_keys = tuple(key for key, span in spans.items() if span > OPEN_FACTOR)
    return FlowFit(
        model=name,
        parameters=found.values,
        low=found.low,
        high=found.high,
        undetermined=open_keys,
        scatter_percent=100.0 * float(np.expm1(found.residual_sd)),
        rate_range=(float(rate.min()), float(rate.max())),
        notes=_notes(open_keys, found, rate),
    )


def _span(found: _Found, key: str) -> float:
    value = found.values[key]
    if value <= 0.0 or found.low[key] <= 0.0:
        return float("inf")
    return max(found.high[key] / value, value / found.low[key])


def _insist_on_plateau(
    name: str, found: _Found, rate: npt.NDArray[np.float64], log_eta: npt.NDArray[np.float64]
) -> None:
    """Refuse when a zero-shear viscosity several times as high fits the readings as well."""
    keys = _without(PARAMETERS[name], "eta0")
    fixed = {"eta0": PLATEAU_FACTOR * found.values["eta0"]}
    if found.values.get("etainf") == 0.0:
        keys, fixed = _without(keys, "etainf"), fixed | {"etainf": 0.0}
    higher = _least(name, keys, rate, log_eta, fixed)
    degrees = rate.size - len(PARAMETERS[name])
    misfit = found.residual_sd**2 * degrees
    allowed = misfit * (1.0 + t_quantile(0.9995, degrees) ** 2 / degrees)
    if _span(found, "eta0") > PLATEAU_FACTOR or (
        higher is not None and higher.residual_ss <= allowed
    ):
        raise _no_plateau(name, rate)


def _no_plateau(name: str, rate: npt.NDArray[np.float64]) -> ScienceError:
    return ScienceError(
        where=f"{name} fit",
        found=f"no plateau at low shear: down to {rate.min():g} 1/s the viscosity still rises",
        allowed=f"Readings that level off: eta0 known within a factor {PLATEAU_FACTOR:g}",
        cause="The viscometer does not reach low enough, or the product has a yield stress",
        do="Read lower speeds, or fit Herschel-Bulkley or the power law over this range",
    )


def _notes(
    open_keys: tuple[str, ...], found: _Found, rate: npt.NDArray[np.float64]
) -> tuple[str, ...]:
    words = {
        "etainf": "the readings do not reach the level at high shear",
        "tau0": "the readings do not show a yield stress",
    }
    notes = [
        f"{key} cannot be told from these readings: "
        + words.get(key, "its interval spans more than a factor of five")
        + f"; at most about {found.high[key]:.2g} fits them."
        for key in open_keys
    ]
    notes.append(f"Holds from {rate.min():g} to {rate.max():g} 1/s; beyond is a guess.")
    return tuple(notes)
