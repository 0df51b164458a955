"""Arithmetic of a batch in the beaker: additions, dilution, titration, stocks.

Every result is a mass balance; nothing is rounded here.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain

FIRST_DOSE = 0.75
"""Share of a titrated dose added first; then mix, wait, read, add the rest (common practice)."""


def water_lost(vessel_g: float, expected_batch_g: float, gross_g: float) -> float:
    """Water to put back after heating.

    Parameters
    ----------
    vessel_g : float
        Empty vessel, weighed before [g].
    expected_batch_g : float
        What was weighed into it [g].
    gross_g : float
        Vessel and batch now [g].

    Returns
    -------
    float
        Hot purified water to add before homogenising [g].

    Raises
    ------
    ScienceError
        A batch heavier than what was weighed in.

    Notes
    -----
    expected - (gross - vessel), taken as water.

    Examples
    --------
    >>> round(water_lost(212.4, 100.0, 307.15), 2)
    5.25
    """
    vessel = float(given(vessel_g, "Empty vessel", "g", 0.0))
    batch = float(given(expected_batch_g, "Batch weighed in", "g", above=0.0))
    lost = batch - (float(given(gross_g, "Vessel and batch", "g", vessel)) - vessel)
    if lost < -1e-9 * batch:
        raise ScienceError(
            where="Water lost",
            found=f"a batch {-lost:.4g} g heavier than what was weighed in",
            allowed="A batch as heavy as weighed in, or lighter",
            cause="Another vessel's weight, condensed steam, or a line weighed twice",
            do="Weigh again; check the vessel's weight and the weigh sheet",
        )
    return max(lost, 0.0)


def to_reach(
    batch_g: npt.ArrayLike,
    current_percent: npt.ArrayLike,
    target_percent: npt.ArrayLike,
    strength_percent: npt.ArrayLike = 100.0,
) -> Numbers:
    """Grams to add so that an ingredient reaches a percentage.

    Parameters
    ----------
    batch_g : float or array-like, shape S
        Now in the beaker [g].
    current_percent, target_percent : float or array-like, shape S
        Of the ingredient, now and wanted [%].
    strength_percent : float or array-like, shape S
        Of the ingredient in what is added [%].

    Returns
    -------
    float or ndarray, shape S
        [g]; everything else falls by batch / (batch + addition).

    Raises
    ------
    ScienceError
        A stock not stronger than the target, or a target below the present level.

    Notes
    -----
    x = m (t - p) / (s - t).

    Examples
    --------
    >>> round(to_reach(96.0, 0.30, 0.45), 4)
    0.1447
    """
    m = given(batch_g, "Batch", "g", above=0.0)
    p = given(current_percent, "Present level", "%", 0.0, 100.0)
    t = given(target_percent, "Wanted level", "%", 0.0, 100.0)
    s = given(strength_percent, "Strength of what is added", "%", above=0.0, high=100.0)
    if np.any(t < p):
        raise ScienceError(
            where="Addition",
            found="a wanted level below the present one",
            allowed="A wanted level at or above the present one",
            cause="Adding a material cannot lower its own percentage",
            do="Dilute the batch and restore the rest, or remake it",
        )
    if np.any((s <= t) & (t > p)):
        raise ScienceError(
            where="Addition",
            found="a stock not stronger than the target",
            allowed="A stock above the wanted level",
            cause="The strength was mistyped, or the stock is too weak",
            do="Take a stronger stock or the neat material",
        )
    return plain(m * (t - p) / np.where(s > t, s - t, 1.0))


def after_addition(
    percent: npt.ArrayLike, added_g: npt.ArrayLike, batch_g: npt.ArrayLike = 100.0
) -> npt.NDArray[np.float64]:
    """What the jar really holds after something was added.

    Parameters
    ----------
    percent : array-like, shape (..., n)
        Before, of every line [%].
    added_g : array-like, shape (..., n)
        Of every line [g].
    batch_g : float or array-like, shape (...)
        Before [g].

    Returns
    -------
    ndarray, shape (..., n)
        [%]

    Raises
    ------
    ScienceError
        A negative amount, or a batch that is not positive.

    Notes
    -----
    (p m/100 + x) / (m + sum x).

    Examples
    --------
    >>> after_addition([78.0, 15.0, 7.0], [0.0, 3.0, 0.0]).round(3).tolist()
    [75.728, 17.476, 6.796]
    """
    p = given(percent, "Percentage", "%", 0.0, 100.0)
    x = given(added_g, "Added", "g", 0.0)
    m = given(batch_g, "Batch", "g", above=0.0)[..., None]
    return np.asarray(100.0 * (p / 100.0 * m + x) / (m + x.sum(axis=-1, keepdims=True)))


def dose_for_batch(
    sample_g: npt.ArrayLike, dose_g: npt.ArrayLike, batch_left_g: npt.ArrayLike
) -> tuple[Numbers, Numbers]:
    """Acid or base for the batch from the titration of a small sample.

    Parameters
    ----------
    sample_g : float or array-like, shape S
        Taken for the titration [g].
    dose_g : float or array-like, shape S
        Stock that brought it to the wanted pH [g].
    batch_left_g : float or array-like, shape S
        Without the sample [g].

    Returns
    -------
    (first, whole) : tuple of float or ndarray, shape S
        Three quarters, to be added first, and the whole dose [g].

    Raises
    ------
    ScienceError
        A mass that is not positive.

    Notes
    -----
    dose / sample x batch left.

    Examples
    --------
    >>> [round(x, 3) for x in dose_for_batch(10.0, 0.18, 86.5)]
    [1.168, 1.557]
    """
    sample = given(sample_g, "Sample", "g", above=0.0)
    dose = given(dose_g, "Dose of the sample", "g", 0.0)
    whole = dose / sample * given(batch_left_g, "Batch left", "g", above=0.0)
    return plain(FIRST_DOSE * whole), plain(whole)


def on_basis(percent: npt.ArrayLike, factor: npt.ArrayLike) -> Numbers:
    """A percentage as supplied, on the basis a limit is written in.

    Parameters
    ----------
    percent : float or array-like, shape S
        As supplied, a salt or an ester [%].
    factor : float or array-like, shape S
        Molar mass of the basis over that of what is supplied [-].

    Returns
    -------
    float or ndarray, shape S
        As acid, as retinol equivalent … [%]

    Raises
    ------
    ScienceError
        A percentage outside 0-100, or a factor that is not positive.

    Notes
    -----
    percent x factor: 0.6 % sodium benzoate is 0.51 % as benzoic acid.

    Examples
    --------
    >>> round(on_basis(0.6, 0.8475), 4)
    0.5085
    """
    share = given(percent, "Percentage as supplied", "%", 0.0, 100.0)
    return plain(share * given(factor, "Factor to the basis", "", above=0.0, high=10.0))


def blend_to(
    strong_percent: npt.ArrayLike,
    weak_percent: npt.ArrayLike,
    target_percent: npt.ArrayLike,
    total_g: npt.ArrayLike,
) -> tuple[Numbers, Numbers]:
    """Two strengths mixed to a third.

    Parameters
    ----------
    strong_percent, weak_percent : float or array-like, shape S
        Of the two stocks; water is 0 [%].
    target_percent : float or array-like, shape S
        Between them [%].
    total_g : float or array-like, shape S
        Wanted [g].

    Returns
    -------
    (strong, weak) : tuple of float or ndarray, shape S
        [g]

    Raises
    ------
    ScienceError
        A target outside the two stocks, or two equal stocks.

    Notes
    -----
    Alligation: strong = total (t - w)/(s - w).

    Examples
    --------
    >>> [round(x, 2) for x in blend_to(70.0, 0.0, 30.0, 150.0)]
    [64.29, 85.71]
    """
    s = given(strong_percent, "Stronger stock", "%", 0.0, 100.0)
    w = given(weak_percent, "Weaker stock", "%", 0.0, 100.0)
    t = given(target_percent, "Wanted strength", "%", 0.0, 100.0)
    total = given(total_g, "Total", "g", above=0.0)
    if np.any((t < w) | (t > s) | (s <= w)):
        raise ScienceError(
            where="Two stocks",
            found="a wanted strength outside the two stocks",
            allowed="A strength between the weaker and the stronger stock",
            cause="A mixture never lies beyond its ends, or the stocks were exchanged",
            do="Take a stronger or a weaker stock",
        )
    strong = total * (t - w) / (s - w)
    return plain(strong), plain(total - strong)


def oil_to_emulsifier(oil_percent: npt.ArrayLike, emulsifier_percent: npt.ArrayLike) -> Numbers:
    """Parts of oil phase that one part of emulsifier carries.

    Parameters
    ----------
    oil_percent, emulsifier_percent : float or array-like, shape S
        [%]

    Returns
    -------
    float or ndarray, shape S
        4 to 5 is usual for nonionic creams (common practice) [-].

    Raises
    ------
    ScienceError
        No emulsifier.

    Notes
    -----
    oil / emulsifier.

    Examples
    --------
    >>> oil_to_emulsifier(18.0, 4.0)
    4.5
    """
    oil = given(oil_percent, "Oil phase", "%", 0.0, 100.0)
    return plain(oil / given(emulsifier_percent, "Emulsifier", "%", above=0.0, high=100.0))
