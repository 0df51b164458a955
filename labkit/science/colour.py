"""Dye stocks in parts per million, and why a white emulsion looks paler than its water phase.

The colour of the emulsion is an impression from a two-flux model, not a measurement.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain

SCATTERING_PER_CM = 30.0
"""Two-flux scattering of a white lotion: 0.75 of a reduced scattering of 40 1/cm (drops of
about 1 µm, 10 to 20 % oil; typical magnitude, from memory)."""

DARKEST = 1.0 / 4096.0  # linear light below this counts as black


def ppm(stock_percent: npt.ArrayLike, stock_g: npt.ArrayLike, batch_g: npt.ArrayLike) -> Numbers:
    """Dye in a batch from a weighed amount of stock solution.

    Parameters
    ----------
    stock_percent : float or array-like, shape S
        Dye in the stock [%].
    stock_g : float or array-like, shape S
        Stock weighed in [g].
    batch_g : float or array-like, shape S
        The whole batch, stock included [g].

    Returns
    -------
    float or ndarray, shape S
        [mg/kg]

    Raises
    ------
    ScienceError
        More stock than batch, or a number that cannot be.

    Notes
    -----
    10 000 ppm in 1 %; mass balance.

    Examples
    --------
    >>> round(ppm(1.0, 0.2, 100.0), 6)
    20.0
    """
    strength = given(stock_percent, "Dye in the stock", "%", 0.0, 100.0)
    stock = given(stock_g, "Stock weighed in", "g", 0.0)
    batch = given(batch_g, "Batch", "g", above=0.0)
    if np.any(stock > batch):
        raise ScienceError(
            where="Dye stock",
            found="more stock than batch",
            allowed="The batch holds the stock",
            cause="The batch was given without the stock, or the two were exchanged",
            do="Give the whole batch in grams",
        )
    return plain(strength * 1e4 * stock / batch)


def stock_for(
    wanted_ppm: npt.ArrayLike, stock_percent: npt.ArrayLike, batch_g: npt.ArrayLike
) -> Numbers:
    """Stock solution that brings a batch to a wanted level of dye.

    Parameters
    ----------
    wanted_ppm : float or array-like, shape S
        [mg/kg]
    stock_percent, batch_g : float or array-like, shape S
        As in `ppm`.

    Returns
    -------
    float or ndarray, shape S
        [g]

    Raises
    ------
    ScienceError
        A stock weaker than the level wanted, or a number that cannot be.

    Notes
    -----
    `ppm` solved for the stock.

    Examples
    --------
    >>> round(stock_for(20.0, 1.0, 100.0), 6)
    0.2
    """
    wanted = given(wanted_ppm, "Wanted dye", "ppm", 0.0, 1e6)
    strength = given(stock_percent, "Dye in the stock", "%", above=0.0, high=100.0) * 1e4
    batch = given(batch_g, "Batch", "g", above=0.0)
    if np.any(wanted > strength):
        raise ScienceError(
            where="Dye stock",
            found="a stock weaker than the level wanted",
            allowed="A stock above the level wanted",
            cause="Percent and ppm were mixed up",
            do="Take a stronger stock",
        )
    return plain(wanted * batch / strength)


def drops_to_grams(drops: npt.ArrayLike, grams_per_drop: float | None) -> Numbers:
    """Grams of a number of drops, for a dropper that was weighed.

    Parameters
    ----------
    drops : float or array-like, shape S
        [-]
    grams_per_drop : float or None
        From weighing at least twenty drops of this liquid from this dropper [g].

    Returns
    -------
    float or ndarray, shape S
        [g]

    Raises
    ------
    ScienceError
        A dropper that was not weighed.

    Notes
    -----
    A drop of water is 0.03 to 0.06 g by dropper (common practice): drops are no unit.

    Examples
    --------
    >>> round(drops_to_grams(5, 0.042), 3)
    0.21
    """
    if grams_per_drop is None:
        raise ScienceError(
            where="Drops",
            found="drops without a weight",
            allowed="Grams, or the weight of one drop of this liquid from this dropper",
            cause="Drops differ by a factor of two between droppers and liquids",
            do="Weigh twenty drops and divide by twenty, or weigh the stock in",
        )
    weight = given(grams_per_drop, "Weight of one drop", "g", above=0.0, high=0.5)
    return plain(given(drops, "Drops", "", 0.0) * weight)


def linear_light(srgb: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Linear light of a screen colour.

    Parameters
    ----------
    srgb : array-like, shape (..., 3)
        0 to 1 [-].

    Returns
    -------
    ndarray, shape (..., 3)
        0 to 1 [-].

    Raises
    ------
    ScienceError
        A channel outside 0-1.

    Notes
    -----
    IEC 61966-2-1.

    Examples
    --------
    >>> linear_light([1.0, 0.5, 0.0]).round(3).tolist()
    [1.0, 0.214, 0.0]
    """
    v = given(srgb, "Colour channel", "", 0.0, 1.0)
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def screen_colour(light: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Screen colour of linear light, the inverse of `linear_light`.

    Parameters
    ----------
    light : array-like, shape (..., 3)
        0 to 1 [-].

    Returns
    -------
    ndarray, shape (..., 3)
        sRGB, 0 to 1 [-].

    Raises
    ------
    ScienceError
        Light outside 0-1.

    Notes
    -----
    IEC 61966-2-1.

    Examples
    --------
    >>> screen_colour([1.0, 0.214, 0.0]).round(2).tolist()
    [1.0, 0.5, 0.0]
    """
    v = given(light, "Linear light", "", 0.0, 1.0)
    return np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1.0 / 2.4) - 0.055)


def thick_reflectance(absorption: npt.ArrayLike, scattering: npt.ArrayLike) -> Numbers:
    """Reflectance of a layer so thick that its ground does not show.

    Parameters
    ----------
    absorption : float or array-like, shape S
        Two-flux K [1/cm].
    scattering : float or array-like, shape S
        Two-flux S [1/cm].

    Returns
    -------
    float or ndarray, shape S
        0 to 1 [-].

    Raises
    ------
    ScienceError
        A negative absorption, or no scattering.

    Notes
    -----
    R = 1 + K/S - sqrt((K/S)^2 + 2 K/S), Kubelka & Munk, Z. tech. Physik 12 (1931) 593.

    Examples
    --------
    >>> round(thick_reflectance(0.1, 1.0), 3)
    0.642
    """
    k = given(absorption, "Absorption", "1/cm", 0.0)
    ratio = k / given(scattering, "Scattering", "1/cm", above=0.0)
    return plain(1.0 / (1.0 + ratio + np.sqrt(ratio**2 + 2.0 * ratio)))


def emulsion_colour(
    water_phase_srgb: npt.ArrayLike,
    path_cm: npt.ArrayLike,
    water_fraction: npt.ArrayLike,
    scattering_per_cm: npt.ArrayLike = SCATTERING_PER_CM,
) -> npt.NDArray[np.float64]:
    """Colour of a white emulsion from the colour of its water phase in the beaker.

    Parameters
    ----------
    water_phase_srgb : array-like, shape (..., 3)
        The dyed water phase seen from above over a white ground, 0 to 1 [-].
    path_cm : float or array-like, shape (...)
        Its depth in the beaker [cm].
    water_fraction : float or array-like, shape (...)
        Share of water phase in the emulsion, by volume, 0 to 1 [-].
    scattering_per_cm : float or array-like, shape (...)
        Two-flux scattering of the emulsion [1/cm].

    Returns
    -------
    ndarray, shape (..., 3)
        sRGB, 0 to 1 [-]; an impression.

    Raises
    ------
    ScienceError
        A colour, depth or share that cannot be.

    Notes
    -----
    Assumptions: light crosses the beaker twice and the ground is white, so that
    a = -ln(light)/(2 path); in the emulsion K = 2 a x water share; S as given; the layer is
    thick; the dye stays in the water and keeps its colour; no gloss; three colour channels
    stand for the spectrum.

    Examples
    --------
    >>> pale = emulsion_colour([0.2, 0.4, 0.9], 5.0, 0.8)
    >>> bool((pale > [0.2, 0.4, 0.89]).all())
    True
    """
    light = np.clip(linear_light(water_phase_srgb), DARKEST, 1.0)
    depth = given(path_cm, "Depth in the beaker", "cm", above=0.0, high=100.0)[..., None]
    share = given(water_fraction, "Share of water phase", "", 0.0, 1.0)[..., None]
    scattering = given(scattering_per_cm, "Scattering", "1/cm", above=0.0)[..., None]
    absorption = -np.log(light) / (2.0 * depth)
    return screen_colour(np.clip(thick_reflectance(2.0 * absorption * share, scattering), 0, 1))
