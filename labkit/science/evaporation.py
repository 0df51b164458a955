"""What leaves the skin: vapour pressure, evaporation rate, drying of a film.

Physics good to a factor of two: draught, skin temperature and the film's own skin decide
the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science import liquids, water
from labkit.science.bounds import Numbers, given, plain
from labkit.science.liquids import GAS_CONSTANT, KELVIN

SKIN_C = 32.0  # skin surface temperature, common practice
PHYSICAL_FACTOR = 2.0  # Ann. Occup. Hyg. 57 (2013) 853, abstract: relations against 54 observations
MG_CM2_H = 3.6e5  # from kg/m2/s


def vapour_pressure(name: str, temperature_c: npt.ArrayLike = SKIN_C) -> Numbers:
    """Vapour pressure of a liquid.

    Parameters
    ----------
    name : str
        ``"water"`` or a liquid in the table.
    temperature_c : float or array-like, shape S
        [°C]

    Returns
    -------
    float or ndarray, shape S
        [Pa]

    Raises
    ------
    ScienceError
        Unknown, or outside its range.

    Notes
    -----
    ``datasets/liquids.csv`` with the source of each; sources disagree for some (D5 at 25 °C:
    20, 33 and 40 Pa), see `vapour_pressure_band`.

    Examples
    --------
    >>> round(vapour_pressure("water", 32.0))
    4760
    """
    if _is_water(name):
        return water.vapour_pressure(temperature_c)
    return liquids.value(name, "vapour_pressure", temperature_c)


def vapour_pressure_band(name: str, temperature_c: float = SKIN_C) -> tuple[float, float]:
    """Range within which published vapour pressures of a liquid lie.

    Parameters
    ----------
    name : str
        As in `vapour_pressure`.
    temperature_c : float
        [°C]

    Returns
    -------
    (low, high) : tuple of float
        [Pa]

    Raises
    ------
    ScienceError
        Unknown, or outside its range.

    Notes
    -----
    Value divided and multiplied by the spread in ``datasets/liquids.csv``.

    Examples
    --------
    >>> [round(x) for x in vapour_pressure_band("D5", 25.0)]
    [8, 44]
    """
    value = float(vapour_pressure(name, temperature_c))
    factor = 1.005 if _is_water(name) else liquids.spread(name, "vapour_pressure") or 1.0
    return value / factor, value * factor


def heat_of_vaporisation(name: str, temperature_c: npt.ArrayLike = SKIN_C) -> Numbers:
    """Heat taken from the skin when a liquid evaporates.

    Parameters
    ----------
    name : str
        As in `vapour_pressure`.
    temperature_c : float or array-like, shape S
        [°C]

    Returns
    -------
    float or ndarray, shape S
        [kJ/kg]

    Raises
    ------
    ScienceError
        Unknown, or outside its range.

    Notes
    -----
    ``datasets/liquids.csv``; water by IAPWS-95.

    Examples
    --------
    >>> round(heat_of_vaporisation("water", 32.0))
    2425
    """
    if _is_water(name):
        return water.heat_of_vaporisation(temperature_c)
    return liquids.value(name, "heat_of_vaporisation", temperature_c)


def molar_mass(name: str) -> float:
    """Molar mass of a liquid.

    Parameters
    ----------
    name : str
        As in `vapour_pressure`.

    Returns
    -------
    float
        [g/mol]

    Raises
    ------
    ScienceError
        Unknown.

    Notes
    -----
    ``datasets/liquids.csv``.

    Examples
    --------
    >>> molar_mass("D5")
    370.77
    """
    return water.MOLAR_MASS if _is_water(name) else float(liquids.value(name, "molar_mass"))


def rate(
    pressure_pa: npt.ArrayLike,
    molar_mass_g_mol: npt.ArrayLike,
    temperature_c: npt.ArrayLike = SKIN_C,
    air_m_s: npt.ArrayLike = 0.1,
) -> Numbers:
    """Evaporation of a neat liquid into air that holds none of it.

    Parameters
    ----------
    pressure_pa : float or array-like, shape S
        Vapour pressure [Pa].
    molar_mass_g_mol : float or array-like, shape S
        [g/mol]
    temperature_c : float or array-like, shape S
        Of the film [°C].
    air_m_s : float or array-like, shape S
        Speed of the air, 0.1 in a still room [m/s].

    Returns
    -------
    float or ndarray, shape S
        [mg/cm2/h]; true within a factor of two.

    Raises
    ------
    ScienceError
        A number that cannot be.

    Notes
    -----
    k = 0.0025 u^0.78 (18/M)^(1/3) m/s, flux = k P M/(R T): the pool form used by the US EPA
    (Peress 2003), constants from memory; it was among the two that fitted evaporation from
    skin in vitro best (Ann. Occup. Hyg. 57 (2013) 853).

    Examples
    --------
    >>> round(rate(4759.6, 18.015), 2)
    5.05
    """
    p = given(pressure_pa, "Vapour pressure", "Pa", 0.0)
    m = given(molar_mass_g_mol, "Molar mass", "g/mol", above=0.0)
    t = given(temperature_c, "Temperature of the film", "°C", -20.0, 120.0) + KELVIN
    u = given(air_m_s, "Speed of the air", "m/s", above=0.0, high=30.0)
    k = 0.0025 * u**0.78 * (18.0 / m) ** (1.0 / 3.0)
    return plain(k * p * m * 1e-3 / (GAS_CONSTANT * t) * MG_CM2_H)


@dataclass(frozen=True, slots=True, kw_only=True)
class DryDown:
    """Composition of a drying film.

    Attributes
    ----------
    names : tuple of str
        The components.
    minutes : ndarray, shape (n_times,)
        Time after application [min].
    film : ndarray, shape (n_times, n)
        Amount of each left [mg/cm2], at the central rate.
    slow, fast : ndarray, shape (n_times, n)
        The same at half and at twice the rate.
    """

    names: tuple[str, ...]
    minutes: npt.NDArray[np.float64]
    film: npt.NDArray[np.float64]
    slow: npt.NDArray[np.float64]
    fast: npt.NDArray[np.float64]


def dry_down(
    names: Sequence[str],
    percent: npt.ArrayLike,
    dose_mg_cm2: float,
    minutes: npt.ArrayLike,
    *,
    molar_masses: Sequence[float | None] | None = None,
    temperature_c: float = SKIN_C,
    air_m_s: float = 0.1,
    relative_humidity: float = 0.45,
) -> DryDown:
    """What is left of a product's film on the skin, against time.

    Parameters
    ----------
    names : sequence of str
        Components; those without a vapour pressure in the table stay.
    percent : array-like, shape (n,)
        By weight of what is applied [%].
    dose_mg_cm2 : float
        Applied; see `labkit.science.exposure.application_dose`: 0.2 on the body, 1.3 on hands.
    minutes : array-like, shape (n_times,)
        Times wanted, from 0 upwards [min].
    molar_masses : sequence of float or None, optional
        For the components that stay; None counts as 300 [g/mol].
    temperature_c : float
        Of the film [°C].
    air_m_s : float
        Speed of the air [m/s].
    relative_humidity : float
        Of the room, 0 to 1; it slows water only [-].

    Returns
    -------
    DryDown
        With the band of half and twice the rate.

    Raises
    ------
    ScienceError
        Amounts, dose or times that cannot be.

    Notes
    -----
    Every volatile leaves at `rate` times its mole fraction in the film (Raoult); for water
    less the humidity of the room, so that a humectant keeps some. No diffusion limit, no
    crystals, oil and water share one film: an orientation within a factor of two in time.

    Examples
    --------
    >>> film = dry_down(["water", "glycerin"], [95.0, 5.0], 1.0, [0.0, 60.0])
    >>> bool(film.film[1, 0] < 0.1 and film.film[1, 1] > 0.049)
    True
    """
    start = given(percent, "Composition of the film", "%", 0.0, 100.0)
    if start.shape != (len(names),) or start.sum() <= 0.0:
        raise ScienceError(
            where="Dry-down",
            found=f"{start.size} amounts for {len(names)} components",
            allowed="One amount for each component, not all zero",
            cause="A line was left out",
            do="Give names and amounts of the same lines",
        )
    dose = float(given(dose_mg_cm2, "Dose", "mg/cm2", above=0.0, high=100.0))
    times = given(minutes, "Time", "min", 0.0, 1e6)
    masses, rates = _volatility(names, molar_masses, temperature_c, air_m_s)
    humid = float(given(relative_humidity, "Relative humidity", "", 0.0, 1.0))
    floor = np.array([humid if _is_water(name) else 0.0 for name in names])
    first = dose * start / start.sum()
    runs = [
        _dry(first, masses, rates * factor, floor, times / 60.0)
        for factor in (1.0, 1.0 / PHYSICAL_FACTOR, PHYSICAL_FACTOR)
    ]
    return DryDown(names=tuple(names), minutes=times, film=runs[0], slow=runs[1], fast=runs[2])


def _volatility(
    names: Sequence[str],
    molar_masses: Sequence[float | None] | None,
    temperature_c: float,
    air_m_s: float,
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    masses, rates = [], []
    told = molar_masses if molar_masses is not None else [None] * len(names)
    for name, mass in zip(names, told, strict=True):
        try:
            pressure, known = float(vapour_pressure(name, temperature_c)), molar_mass(name)
        except ScienceError:
            pressure, known = 0.0, mass or 300.0
        masses.append(mass or known)
        rates.append(float(rate(pressure, masses[-1], temperature_c, air_m_s)))
    return np.array(masses), np.array(rates)


def _dry(
    first: npt.NDArray[np.float64],
    masses: npt.NDArray[np.float64],
    rates: npt.NDArray[np.float64],
    floor: npt.NDArray[np.float64],
    hours: npt.NDArray[np.float64],
) -> npt.NDArray[np.float64]:
    """Amounts at each time, in steps that change the film's moles by at most 1 %."""
    film, now, found = first.copy(), 0.0, np.empty((hours.size, first.size))
    gone = 1e-9 * first.sum()
    for index in np.argsort(hours):
        while now < hours[index]:
            total = float((film / masses).sum())
            if film.sum() <= gone:
                film, now = np.zeros_like(film), float(hours[index])
                break
            speed = rates / (masses * total)
            settled = np.where(speed > 0.0, floor * masses * total, 0.0)
            change = float((speed * np.abs(film - settled) / masses).sum())
            left = float(hours[index]) - now
            span = min(left, 0.01 * total / change) if change > 0.0 else left
            film = settled + (film - settled) * np.exp(-speed * span)
            now = float(hours[index]) if span == left else now + span
        found[index] = film
    return found


def _is_water(name: str) -> bool:
    return name.strip().casefold() in {"water", "aqua"}
