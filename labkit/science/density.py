"""Density: of a liquid, of water with glycerin, of a mixture; grams for a filled volume."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science import liquids
from labkit.science.bounds import Numbers, given, plain


def of(name: str, temperature_c: npt.ArrayLike = 25.0) -> Numbers:
    """Density of one liquid from the table of liquids.

    Parameters
    ----------
    name : str
        Any name `labkit.science.liquids.find` knows.
    temperature_c : float or array-like, shape S
        [°C]

    Returns
    -------
    float or ndarray, shape S
        [kg/m3]

    Raises
    ------
    ScienceError
        Unknown liquid, or outside its range.

    Notes
    -----
    Source and spread in `labkit.science.liquids.correlation`; natural oils ± 0.5 %.

    Examples
    --------
    >>> round(of("olive oil", 20.0))
    913
    """
    return liquids.value(name, "density", temperature_c)


def water_glycerin(glycerin_percent: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Numbers:
    """Density of water with glycerin.

    Parameters
    ----------
    glycerin_percent : float or array-like, shape S
        By weight, 0 to 100 [%].
    temperature_c : float or array-like, shape S
        15 to 40, usable to 80 with less certainty [°C].

    Returns
    -------
    float or ndarray, shape S
        [kg/m3]

    Raises
    ------
    ScienceError
        A share outside 0-100 %, a temperature outside 0-100 °C.

    Notes
    -----
    Volk & Kaehler, Exp. Fluids 59 (2018) 75, ideal volumes with a contraction term
    (constants from memory; mean 0.04 %, at most 0.07 % off Lange's Handbook at 20 °C; ideal
    volumes alone are up to 1.1 % low).

    Examples
    --------
    >>> round(water_glycerin(50.0, 20.0))
    1126
    """
    w = given(glycerin_percent, "Glycerin in water", "%", 0.0, 100.0) / 100.0
    t = given(temperature_c, "Temperature of water and glycerin", "°C", 0.0, 100.0)
    water = 1000.0 * (1.0 - np.abs((t - 3.98) / 615.0) ** 1.71)
    glycerin = 1273.3 - 0.6121 * t
    strength = 1.78e-6 * t**2 - 1.82e-4 * t + 1.41e-2
    swing = np.clip(np.sin(np.pi * w**1.31), 0.0, None)
    contraction = 1.0 + strength * swing**0.81
    volume = w / glycerin + (1.0 - w) / water
    return plain(contraction / volume)


def mixture(shares: npt.ArrayLike, densities: npt.ArrayLike) -> Numbers:
    """Density of a mixture whose volumes add.

    Parameters
    ----------
    shares : array-like, shape (..., n)
        By weight, in any one unit.
    densities : array-like, shape (n,) or (..., n)
        In any one unit, which is also that of the result.

    Returns
    -------
    float or ndarray, shape (...)

    Raises
    ------
    ScienceError
        Nothing in the mixture, or a density that is not positive.

    Notes
    -----
    1/rho = sum w_i/rho_i. Glycols and ethanol with water contract by up to 3 %; air whipped
    into a cream is not counted.

    Examples
    --------
    >>> round(mixture([20.0, 80.0], [920.0, 1000.0]), 1)
    982.9
    """
    x = given(shares, "Shares of the mixture", "", 0.0)
    rho = given(densities, "Densities", "", above=0.0)
    total = x.sum(axis=-1)
    if np.any(total <= 0.0):
        raise ScienceError(
            where="Density of a mixture",
            found="nothing in it",
            allowed="At least one share above zero",
            cause="All lines are at 0 %",
            do="Give the shares of the mixture",
        )
    return plain(total / (x / rho).sum(axis=-1))


def fill_mass(volume_ml: npt.ArrayLike, density_g_ml: npt.ArrayLike) -> Numbers:
    """Grams that fill a volume.

    Parameters
    ----------
    volume_ml : float or array-like, shape S
        [mL]
    density_g_ml : float or array-like, shape S
        Measured on the product, air included [g/mL].

    Returns
    -------
    float or ndarray, shape S
        [g]

    Raises
    ------
    ScienceError
        A volume or density that is not positive.

    Notes
    -----
    mass = volume x density.

    Examples
    --------
    >>> fill_mass(50.0, 0.98)
    49.0
    """
    volume = given(volume_ml, "Volume", "mL", above=0.0)
    return plain(volume * given(density_g_ml, "Density", "g/mL", 0.05, 25.0))
