"""Ageing read from data: Arrhenius fits with intervals, the time to a limit.

A planning aid. No result here is a shelf life: storage in real time decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import given
from labkit.science.fitting import Fit, fit_curve, t_quantile
from labkit.science.kinetics import Order, celsius, order_named, time_to_loss
from labkit.science.liquids import GAS_CONSTANT, KELVIN

USUAL_EA = (40.0, 130.0)  # kJ/mol, common practice
NOT_SHELF_LIFE = "A planning aid, not a shelf life: storage in real time decides."


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrhenius:
    """An Arrhenius relation with its uncertainty.

    Attributes
    ----------
    energy_kj_mol, energy_se : float
        Activation energy and its standard error [kJ/mol].
    ln_rate_reference : float
        ln k at ``reference_c``.
    reference_c : float
        Inside the data [°C].
    ln_prefactor : float
        ln A of k = A exp(-Ea/RT).
    order : str or None
        Of the reaction; None when fitted to rate constants.
    fit : Fit
        The least-squares fit behind it.
    notes : tuple of str
        What to keep in mind.
    """

    energy_kj_mol: float
    energy_se: float
    ln_rate_reference: float
    reference_c: float
    ln_prefactor: float
    order: Order | None
    fit: Fit
    notes: tuple[str, ...]

    def rate(self, temperature_c: float, level: float = 0.95) -> tuple[float, float, float]:
        """Rate constant at a temperature: value, low and high of the mean."""
        gap = (
            1.0 / (float(celsius(temperature_c)) + KELVIN) - 1.0 / (self.reference_c + KELVIN)
        ) / GAS_CONSTANT
        centre = self.ln_rate_reference - 1e3 * self.energy_kj_mol * gap
        slope = np.zeros(len(self.fit.names))
        slope[self.fit.names.index("ln_k")], slope[self.fit.names.index("Ea")] = 1.0, -1e3 * gap
        spread = float(np.sqrt(slope @ self.fit.covariance @ slope))
        reach = t_quantile(0.5 + level / 2.0, self.fit.degrees) * spread
        return tuple(float(np.exp(centre + d)) for d in (0.0, -reach, reach))  # type: ignore[return-value]

    def time_to_loss(
        self, loss: float, temperature_c: float, level: float = 0.95
    ) -> tuple[float, float, float]:
        """Time to a loss at a temperature: value, low and high (interval on ln time)."""
        centre, low, high = self.rate(temperature_c, level)
        order: Order = self.order or "first"
        return tuple(float(time_to_loss(k, loss, order)) for k in (centre, high, low))  # type: ignore[return-value]


def arrhenius_line(temperatures_c: npt.ArrayLike, rates: npt.ArrayLike) -> Arrhenius:
    """Straight line through ln k against 1/T.

    Parameters
    ----------
    temperatures_c : array-like, shape (n,)
        Three or more, at least two of them different [°C].
    rates : array-like, shape (n,)
        Rate constants in one unit.

    Returns
    -------
    Arrhenius

    Raises
    ------
    ScienceError
        Too few temperatures, or a rate that is not positive.

    Notes
    -----
    Use `arrhenius_fit` on the readings themselves where they are at hand: the line through
    three fitted rates has an interval many times as wide.

    Examples
    --------
    >>> line = arrhenius_line([25, 35, 45, 55], [0.0025, 0.013, 0.063, 0.244])
    >>> round(line.energy_kj_mol, 1)
    124.7
    """
    t, k = given(temperatures_c, "Temperature", "°C", -80.0, 300.0), given(rates, "Rate", above=0.0)
    _several(t)
    reference = _reference(t)
    x = (1.0 / (t + KELVIN) - 1.0 / (reference + KELVIN)) / GAS_CONSTANT * 1e3
    fit = fit_curve(
        lambda x, ln_k, ea: ln_k - ea * x, x, np.log(k), (float(np.log(k).mean()), 80.0), _LINE
    )
    return _arrhenius(fit, reference, None)


def arrhenius_fit(
    times: npt.ArrayLike,
    temperatures_c: npt.ArrayLike,
    values: npt.ArrayLike,
    order: Order = "first",
) -> Arrhenius:
    """One fit to all readings at all temperatures.

    Parameters
    ----------
    times : array-like, shape (n,)
        Since the start, in one unit.
    temperatures_c : array-like, shape (n,)
        Of storage, two or more different [°C].
    values : array-like, shape (n,)
        What was found [any unit].
    order : {"zero", "first"}
        Of the loss.

    Returns
    -------
    Arrhenius
        Its ``time_to_loss`` has the interval on ln time (delta rule, n - 3 degrees).

    Raises
    ------
    ScienceError
        One temperature only, fewer than four readings, or no loss to be seen.

    Notes
    -----
    Parameters c0, ln k at a temperature inside the data, Ea. In simulation (40/45/50 °C, six
    times, 3 %) the interval covers 95 % and is ten times as narrow as that of two steps.

    Examples
    --------
    >>> days, c = np.tile([0.0, 30, 60, 90], 3), np.repeat([40.0, 45.0, 50.0], 4)
    >>> k = 0.002 * np.exp(-80e3 / 8.314462618 * (1 / (c + 273.15) - 1 / 318.15))
    >>> noise = 1.0 + 0.002 * np.tile([1, -1, -1, 1], 3)
    >>> round(arrhenius_fit(days, c, 100 * np.exp(-k * days) * noise).energy_kj_mol)
    80
    """
    t = given(times, "Time", "", 0.0)
    degrees = given(temperatures_c, "Temperature", "°C", -80.0, 300.0)
    found = given(values, "Value found", "", above=0.0 if order == "first" else None)
    _several(degrees)
    reference = _reference(degrees)
    gap = (1.0 / (degrees + KELVIN) - 1.0 / (reference + KELVIN)) / GAS_CONSTANT * 1e3
    zero = order_named(order) == "zero"
    seen = found if zero else np.log(found)

    def curve(index: npt.NDArray[np.float64], c0: float, ln_k: float, ea: float) -> object:
        where = np.real(index).astype(int)
        return c0 - np.exp(ln_k - ea * gap[where]) * t[where]

    slope = -np.polyfit(t, seen, 1)[0] if np.ptp(t) > 0.0 else 0.0
    if slope <= 0.0:
        raise ScienceError(
            where="Arrhenius fit",
            found="no loss over time",
            allowed="Readings that fall with time",
            cause="The readings scatter more than they fall, or the times are missing",
            do="Go on storing, or measure more often at the highest temperature",
        )
    start = (float(seen.max()), float(np.log(slope)), 80.0)
    fit = fit_curve(curve, np.arange(t.size, dtype=float), seen, start, _STEP)
    return _arrhenius(fit, reference, order)


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeToLimit:
    """When a straight trend meets a limit.

    Attributes
    ----------
    intercept, slope, residual_sd : float
        Of the line.
    point : float
        Time at which the line meets the limit.
    bound : float
        Time at which its one-sided 95 % bound meets the limit.
    notes : tuple of str
        What to keep in mind.
    """

    intercept: float
    slope: float
    residual_sd: float
    point: float
    bound: float
    notes: tuple[str, ...]


def time_to_limit(
    times: npt.ArrayLike, values: npt.ArrayLike, limit: float, level: float = 0.95
) -> TimeToLimit:
    """When a straight trend and its one-sided bound meet a limit.

    Parameters
    ----------
    times, values : array-like, shape (n,)
        Three or more readings.
    limit : float
        In the unit of the values.
    level : float
        Of the one-sided bound of the mean line [-].

    Returns
    -------
    TimeToLimit

    Raises
    ------
    ScienceError
        Fewer than three readings, a trend away from the limit, or scatter that reaches it.

    Notes
    -----
    Least squares; the bound of the mean line as in ICH Q1E. Compare it with the longest
    time measured: far beyond it the line is a guess.

    Examples
    --------
    >>> t = time_to_limit([0, 3, 6, 9, 12, 18], [100.2, 99.3, 98.9, 97.8, 97.1, 95.6], 90.0)
    >>> round(t.point, 2), round(t.bound, 2)
    (39.87, 37.39)
    """
    t, y = given(times, "Time"), given(values, "Value found")
    fit = fit_curve(lambda x, a, b: a + b * x, t, y, (float(y.mean()), 0.0), ("a", "b"))
    a, b = map(float, fit.values)
    gap = float(given(limit, "Limit")) - a
    if b == 0.0 or gap / b <= 0.0:
        raise ScienceError(
            where="Time to a limit",
            found=f"a trend of {b:g} per unit of time, starting at {a:g}",
            allowed=f"A trend towards the limit of {limit:g}",
            cause="The readings do not move towards the limit, or it is passed already",
            do="Check limit and readings, or go on storing",
        )
    bound = _bound_time(fit, float(limit), t_quantile(level, fit.degrees))
    notes: tuple[str, ...] = (NOT_SHELF_LIFE,)
    if bound > 2.0 * float(t.max()):
        notes += (f"The bound lies beyond twice the longest time measured ({t.max():g}).",)
    return TimeToLimit(
        intercept=a, slope=b, residual_sd=fit.residual_sd, point=gap / b, bound=bound, notes=notes
    )


def _bound_time(fit: Fit, limit: float, quantile: float) -> float:
    """First time at which (a + b t - limit)^2 = q^2 var(a + b t)."""
    (a, b), v, q2 = fit.values, fit.covariance, quantile**2
    start = (a - limit) ** 2 - q2 * v[0, 0]
    if start <= 0.0:
        raise ScienceError(
            where="Time to a limit",
            found="scatter that reaches the limit at the start already",
            allowed="Readings that begin clear of the limit",
            cause="Too few readings, too much scatter, or a start at the limit",
            do="Measure more often, or set another limit",
        )
    roots = np.roots([b * b - q2 * v[1, 1], 2.0 * (b * (a - limit) - q2 * v[0, 1]), start])
    return min(float(root.real) for root in roots if root.real > 0.0)


_LINE = ("ln_k", "Ea")
_STEP = ("c0", "ln_k", "Ea")


def _arrhenius(fit: Fit, reference: float, order: Order | None) -> Arrhenius:
    at = {name: index for index, name in enumerate(fit.names)}
    energy, error = float(fit.values[at["Ea"]]), float(fit.standard_errors[at["Ea"]])
    ln_k = float(fit.values[at["ln_k"]])
    notes: tuple[str, ...] = (NOT_SHELF_LIFE,)
    if not USUAL_EA[0] <= energy <= USUAL_EA[1]:
        notes += (
            f"An activation energy of {energy:.0f} kJ/mol lies outside the usual "
            f"{USUAL_EA[0]:.0f} to {USUAL_EA[1]:.0f}: more than one reaction may be at work.",
        )
    return Arrhenius(
        energy_kj_mol=energy,
        energy_se=error,
        ln_rate_reference=ln_k,
        reference_c=reference,
        ln_prefactor=ln_k + 1e3 * energy / (GAS_CONSTANT * (reference + KELVIN)),
        order=order,
        fit=fit,
        notes=notes,
    )


def check_extrapolation(
    temperatures_c: Sequence[float], target_c: float, barriers_c: Sequence[float] = ()
) -> None:
    """Refuse to carry a rate across a melting, phase-inversion or gel point.

    Parameters
    ----------
    temperatures_c : sequence of float
        At which was measured [°C].
    target_c : float
        At which the rate is wanted [°C].
    barriers_c : sequence of float
        Melting points of waxes, phase inversion, gel points of this product [°C].

    Returns
    -------
    None
        When nothing lies between.

    Raises
    ------
    ScienceError
        A barrier lies between the target and any temperature measured.

    Notes
    -----
    Above such a point the product is another material.

    Examples
    --------
    >>> check_extrapolation([40, 45], 25, [62])
    """
    for barrier in barriers_c:
        if min(target_c, *temperatures_c) < barrier <= max(target_c, *temperatures_c):
            raise ScienceError(
                where="Extrapolation",
                found=f"a change of the product at {barrier:g} °C between data and target",
                allowed="Data and target on the same side of it",
                cause="Above a melting, inversion or gel point the product is another material",
                do="Leave out the temperatures beyond it, or measure nearer to the target",
            )


def _several(temperatures: npt.NDArray[np.float64]) -> None:
    if np.unique(temperatures).size < 2:
        raise ScienceError(
            where="Arrhenius",
            found="one temperature only",
            allowed="Two or more temperatures, better three",
            cause="Readings of one oven were given",
            do="Store at another temperature too, or use q10_factor as a named assumption",
        )


def _reference(temperatures: npt.NDArray[np.float64]) -> float:
    return float(1.0 / np.mean(1.0 / (temperatures + KELVIN)) - KELVIN)
