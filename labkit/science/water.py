"""Water: density, viscosity, vapour pressure, specific heat, heat of vaporisation."""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from labkit.science.bounds import Numbers, given, plain
from labkit.science.liquids import KELVIN
from labkit.tables import rows

MOLAR_MASS = 18.015268  # g/mol, IAPWS-95
MOL_PER_KG = 1000.0 / MOLAR_MASS


def density(temperature_c: npt.ArrayLike) -> Numbers:
    """Density of water at 1 atm.

    Parameters
    ----------
    temperature_c : float or array-like, shape S
        0 to 100 [°C].

    Returns
    -------
    float or ndarray, shape S
        [kg/m3]

    Raises
    ------
    ScienceError
        A temperature outside 0-100 °C.

    Notes
    -----
    Kell, J. Chem. Eng. Data 20 (1975) 97 (constants from memory; within 0.001 % of
    IAPWS-95 below 100 °C).

    Examples
    --------
    >>> round(density(20.0), 1)
    998.2
    """
    t = given(temperature_c, "Temperature of water", "°C", 0.0, 100.0)
    series = np.polynomial.polynomial.polyval(
        t, (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
    )
    return plain(series / (1.0 + 16.879850e-3 * t))


def viscosity(temperature_c: npt.ArrayLike) -> Numbers:
    """Dynamic viscosity of water at 1 atm.

    Parameters
    ----------
    temperature_c : float or array-like, shape S
        0 to 100 [°C].

    Returns
    -------
    float or ndarray, shape S
        [mPa*s]

    Raises
    ------
    ScienceError
        A temperature outside 0-100 °C.

    Notes
    -----
    mu = sum a_i (T/300 K)^b_i, IAPWS SR6-08 (2008), properties of liquid water at
    0.1 MPa (constants from memory; 1 % stated by the source).

    Examples
    --------
    >>> round(viscosity(25.0), 3)
    0.89
    """
    t = given(temperature_c, "Temperature of water", "°C", 0.0, 100.0)
    ratio = (t + KELVIN) / 300.0
    terms = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
    return plain(sum(a * ratio**b for a, b in terms) * 1e-3)


def vapour_pressure(temperature_c: npt.ArrayLike) -> Numbers:
    """Vapour pressure of water.

    Parameters
    ----------
    temperature_c : float or array-like, shape S
        0.01 to 150 [°C].

    Returns
    -------
    float or ndarray, shape S
        [Pa]

    Raises
    ------
    ScienceError
        A temperature outside the range.

    Notes
    -----
    Wagner & Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387, equation 2.5, from memory.

    Examples
    --------
    >>> round(vapour_pressure(25.0))
    3170
    """
    t = given(temperature_c, "Temperature of water", "°C", 0.0, 150.0)
    T = t + KELVIN
    tau = 1.0 - T / 647.096
    a = (-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502)
    series = sum(n * tau**p for n, p in zip(a, (1.0, 1.5, 3.0, 3.5, 4.0, 7.5), strict=True))
    return plain(22.064e6 * np.exp(647.096 / T * series))


def specific_heat(temperature_c: npt.ArrayLike) -> Numbers:
    """Specific heat of water at 1 atm.

    Parameters
    ----------
    temperature_c : float or array-like, shape S
        0 to 100 [°C].

    Returns
    -------
    float or ndarray, shape S
        [kJ/kg/K]

    Raises
    ------
    ScienceError
        A temperature outside 0-100 °C.

    Notes
    -----
    Cubic spline through ``datasets/water_properties.csv`` (IAPWS-95 every 10 °C).

    Examples
    --------
    >>> round(specific_heat(25.0), 3)
    4.181
    """
    return _tabulated("specific_heat", temperature_c)


def heat_of_vaporisation(temperature_c: npt.ArrayLike) -> Numbers:
    """Heat needed to evaporate water.

    Parameters
    ----------
    temperature_c : float or array-like, shape S
        0 to 100 [°C].

    Returns
    -------
    float or ndarray, shape S
        [kJ/kg]

    Raises
    ------
    ScienceError
        A temperature outside 0-100 °C.

    Notes
    -----
    Cubic spline through ``datasets/water_properties.csv`` (IAPWS-95 every 10 °C).

    Examples
    --------
    >>> round(heat_of_vaporisation(75.0))
    2321
    """
    return _tabulated("heat_of_vaporisation", temperature_c)


def _tabulated(quantity: str, temperature_c: npt.ArrayLike) -> Numbers:
    from scipy.interpolate import CubicSpline

    t = given(temperature_c, "Temperature of water", "°C", 0.0, 100.0)
    return plain(CubicSpline(*_points(quantity))(t))


@cache
def _points(quantity: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    found = sorted(
        (float(row["temperature_c"] or "nan"), float(row["value"] or "nan"))
        for row in rows("water_properties")
        if row["property"] == quantity
    )
    return tuple(t for t, _ in found), tuple(v for _, v in found)
