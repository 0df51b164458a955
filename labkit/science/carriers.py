"""Viscosity, density and specific heat of the carrier: water with glycerin, glycol, ethanol, sugar.

Measured or reference grids are interpolated; no mixing rule is trusted across water and
ethanol, whose viscosity has a maximum near 45 %.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science import density, liquids, water
from labkit.science.bounds import Numbers, given, plain
from labkit.tables import rows

REFERENCE_C = 20.0
SINGLE_TEMPERATURE_REACH = 0.5  # a grid of one temperature serves ± 0.5 K


def viscosity(component: str, percent: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Numbers:
    """Viscosity of water with one carrier.

    Parameters
    ----------
    component : str
        ``"glycerin"``, ``"propylene glycol"``, ``"ethanol"`` or ``"sucrose"`` (synonyms too).
    percent : float or array-like, shape S
        Carrier by weight, 0 to 100 (sucrose 0 to 70) [%].
    temperature_c : float or array-like, shape S
        Glycerin 0-100, sucrose 15-80, the others 10-40 [°C].

    Returns
    -------
    float or ndarray, shape S
        [mPa*s]

    Raises
    ------
    ScienceError
        Another carrier, or outside these ranges.

    Notes
    -----
    Glycerin: `water_glycerin`. Sucrose: `water_sucrose`. Propylene glycol and ethanol:
    cubic splines of ln viscosity over ``datasets/carrier_grid.csv`` with the
    pure liquid at 100 %; where other temperatures have fewer points than 20 °C, the ratio to
    20 °C is interpolated. About 3 % on the grid, 6-10 % between 60 and 100 % glycol.

    Examples
    --------
    >>> round(viscosity("ethanol", 45.0, 20.0), 1)
    2.9
    """
    name = _component(component)
    if name == "Glycerin":
        return water_glycerin(percent, temperature_c)
    if name == "Sucrose":
        return water_sucrose(percent, temperature_c)
    return plain(np.exp(_on_grid(name, "viscosity", percent, temperature_c)))


def mixture_density(
    component: str, percent: npt.ArrayLike, temperature_c: npt.ArrayLike
) -> Numbers:
    """Density of water with one carrier.

    Parameters
    ----------
    component, percent, temperature_c
        As in `viscosity`; sucrose at 20 °C only.

    Returns
    -------
    float or ndarray, shape S
        [kg/m3]

    Raises
    ------
    ScienceError
        Another carrier, or outside the ranges.

    Notes
    -----
    Glycerin: `labkit.science.density.water_glycerin`; the others from
    ``datasets/carrier_grid.csv`` as in `viscosity`. About 0.1-0.4 %.

    Examples
    --------
    >>> round(mixture_density("ethanol", 50.0, 20.0))
    914
    """
    name = _component(component)
    if name == "Glycerin":
        return density.water_glycerin(percent, temperature_c)
    return plain(_on_grid(name, "density", percent, temperature_c))


def specific_heat(component: str, percent: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Numbers:
    """Specific heat of water with one carrier.

    Parameters
    ----------
    component, percent, temperature_c
        As in `viscosity`, not for sucrose.

    Returns
    -------
    float or ndarray, shape S
        [kJ/kg/K]

    Raises
    ------
    ScienceError
        Another carrier, or outside the ranges.

    Notes
    -----
    Propylene glycol and ethanol from ``datasets/carrier_grid.csv`` (up to 7 % above the mean
    by weight); glycerin mixes ideally within 1 %.

    Examples
    --------
    >>> round(specific_heat("propylene glycol", 20.0, 25.0), 2)
    3.99
    """
    name = _component(component)
    if name == "Glycerin":
        w = given(percent, "Glycerin in water", "%", 0.0, 100.0) / 100.0
        pure = np.asarray(liquids.value(name, "specific_heat", temperature_c))
        return plain(w * pure + (1.0 - w) * np.asarray(water.specific_heat(temperature_c)))
    return plain(_on_grid(name, "specific_heat", percent, temperature_c))


def water_glycerin(glycerin_percent: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Numbers:
    """Viscosity of water with glycerin.

    Parameters
    ----------
    glycerin_percent : float or array-like, shape S
        By weight, 0 to 100 [%].
    temperature_c : float or array-like, shape S
        0 to 100 [°C].

    Returns
    -------
    float or ndarray, shape S
        [mPa*s]

    Raises
    ------
    ScienceError
        Outside these ranges.

    Notes
    -----
    Cheng, Ind. Eng. Chem. Res. 47 (2008) 3285 (constants from memory): mean 1.5 %, at most
    3.5 % off the handbook table at 0-40 °C. 1 % of water in "pure" glycerin lowers its
    viscosity by a fifth.

    Examples
    --------
    >>> round(water_glycerin(50.0, 20.0), 1)
    6.0
    """
    c = given(glycerin_percent, "Glycerin in water", "%", 0.0, 100.0) / 100.0
    t = given(temperature_c, "Temperature of water and glycerin", "°C", 0.0, 100.0)
    thin = 1.790 * np.exp((-1230.0 - t) * t / (36100.0 + 360.0 * t))
    thick = 12100.0 * np.exp((-1233.0 + t) * t / (9900.0 + 70.0 * t))
    a = 0.705 - 0.0017 * t
    b = (4.9 + 0.036 * t) * a**2.5
    alpha = 1.0 - c + a * b * c * (1.0 - c) / (a * c + b * (1.0 - c))
    return plain(thin**alpha * thick ** (1.0 - alpha))


def water_sucrose(sucrose_percent: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Numbers:
    """Viscosity of a sugar syrup.

    Parameters
    ----------
    sucrose_percent : float or array-like, shape S
        By weight, 0 to 75 [%].
    temperature_c : float or array-like, shape S
        15 to 80 [°C].

    Returns
    -------
    float or ndarray, shape S
        [mPa*s]

    Raises
    ------
    ScienceError
        Outside these ranges.

    Notes
    -----
    Genotelle's equation (1978), used in sugar analysis, from memory:
    lg eta = 22.46 N - 0.114 + (30 - t)/(91 + t) (1.1 + 43.1 N^1.25), N = w/(1900 - 18 w).
    Within 4 % of the sugar-analysis table.

    Examples
    --------
    >>> round(water_sucrose(20.0, 20.0), 2)
    1.97
    """
    w = given(sucrose_percent, "Sucrose in water", "%", 0.0, 75.0)
    t = given(temperature_c, "Temperature of the syrup", "°C", 15.0, 80.0)
    n = w / (1900.0 - 18.0 * w)
    lg = 22.46 * n - 0.114 + (30.0 - t) / (91.0 + t) * (1.1 + 43.1 * n**1.25)
    return plain(10.0**lg)


def oil_blend(shares: npt.ArrayLike, kinematic_mm2_s: npt.ArrayLike) -> Numbers:
    """Viscosity of a blend of oils.

    Parameters
    ----------
    shares : array-like, shape (..., n)
        By weight, in any one unit.
    kinematic_mm2_s : array-like, shape (n,)
        Kinematic viscosity of each oil at one temperature [mm2/s].

    Returns
    -------
    float or ndarray, shape (...)
        [mm2/s]

    Raises
    ------
    ScienceError
        Nothing in the blend, or a viscosity of 0.2 mm2/s or less.

    Notes
    -----
    Viscosity blending number VBN = 14.534 ln ln(v + 0.8) + 10.975, averaged by weight
    (Refutas; the equation as on an open page of coatings science). Miscible oils, 10 %.

    Examples
    --------
    >>> round(oil_blend([1.0, 1.0], [5.0, 500.0]), 1)
    26.5
    """
    x = given(shares, "Shares of the oils", "", 0.0)
    v = given(kinematic_mm2_s, "Kinematic viscosity", "mm2/s", above=0.2)
    total = x.sum(axis=-1)
    if np.any(total <= 0.0):
        raise ScienceError(
            where="Oil blend",
            found="nothing in it",
            allowed="At least one share above zero",
            cause="All oils are at 0 %",
            do="Give the shares of the oils",
        )
    number = (x * (14.534 * np.log(np.log(v + 0.8)) + 10.975)).sum(axis=-1) / total
    return plain(np.exp(np.exp((number - 10.975) / 14.534)) - 0.8)


def _component(name: str) -> str:
    found = liquids.find(name)
    known = {"Glycerin", "Propylene Glycol", "Alcohol"}
    if found in known:
        return found
    if name.strip().casefold() in {"sucrose", "sugar"}:
        return "Sucrose"
    raise ScienceError(
        where=name,
        found="no data for it in water",
        allowed="Glycerin, propylene glycol, ethanol and sucrose",
        cause="Mixtures with water follow no rule that serves every liquid",
        do="Measure the mixture, or take glycerin or propylene glycol as a likeness",
    )


def _on_grid(
    name: str, quantity: str, percent: npt.ArrayLike, temperature_c: npt.ArrayLike
) -> npt.NDArray[np.float64]:
    """Interpolated quantity (its logarithm for viscosity): at 20 °C, then the change from it."""
    splines = _splines(name, quantity)
    if not splines:
        raise ScienceError(
            where=f"{name} in water",
            found=f"no {quantity.replace('_', ' ')} in the table",
            allowed="Density and viscosity; specific heat of the glycols and ethanol",
            cause="Nobody has entered it yet",
            do="Measure it, or leave it out",
        )
    ladder = [degree for degree in splines if degree != REFERENCE_C]
    room = 0.0 if ladder else SINGLE_TEMPERATURE_REACH
    low, high = min(splines) - room, max(splines) + room
    w, t = np.broadcast_arrays(
        given(percent, f"{name} in water", "%", 0.0, float(splines[REFERENCE_C].x[-1])),
        given(temperature_c, "Temperature of the mixture", "°C", low, high),
    )
    found = np.array(splines[REFERENCE_C](w), dtype=np.float64)
    for degree in ladder:
        weight = np.ones(t.shape)
        for other in splines:
            if other != degree:
                weight = weight * (t - other) / (degree - other)
        found += weight * splines[degree](w)
    return found


@cache
def _splines(name: str, quantity: str) -> Mapping[float, Any]:
    """Spline over the percentage: at 20 °C itself, at other temperatures the change from it."""
    from scipy.interpolate import CubicSpline

    points: dict[float, dict[float, float]] = {}
    for row in rows("carrier_grid"):
        if row["component"] == name and row["property"] == quantity:
            degree, share = (float(row[key] or "nan") for key in ("temperature_c", "wt_percent"))
            points.setdefault(degree, {})[share] = float(row["value"] or "nan")
    curves = {}
    for degree, curve in sorted(points.items()):
        if name != "Sucrose":
            curve[100.0] = float(liquids.value(name, quantity, degree))
        grid = np.array(sorted(curve))
        values = np.array([curve[share] for share in sorted(curve)])
        curves[degree] = (grid, np.log(values) if quantity == "viscosity" else values)
    if not curves:
        return {}
    base = CubicSpline(*curves[REFERENCE_C], bc_type="natural")
    return {
        degree: base
        if degree == REFERENCE_C
        else CubicSpline(grid, values - base(grid), bc_type="natural")
        for degree, (grid, values) in curves.items()
    }
