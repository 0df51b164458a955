"""Arithmetic before weighing: grams of a batch, the balance, overage, loss on filling."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from labkit.science.bounds import Numbers, given, plain

SMALLEST_DEVIATION_DIGITS = 0.41
"""Standard deviation of a balance is never taken below 0.41 digits, USP <41>."""


def grams(percent: npt.ArrayLike, batch_g: npt.ArrayLike) -> Numbers:
    """Grams of each line in a batch.

    Parameters
    ----------
    percent : float or array-like, shape S
        By weight [%].
    batch_g : float or array-like, shape S
        [g]

    Returns
    -------
    float or ndarray, shape S
        [g]

    Raises
    ------
    ScienceError
        A percentage outside 0-100, or a batch that is not positive.

    Notes
    -----
    percent/100 x batch. A weigh sheet takes exact decimals from `labkit.Formula.grams`.

    Examples
    --------
    >>> grams([80.0, 20.0], 250.0).tolist()
    [200.0, 50.0]
    """
    share = given(percent, "Percentage", "%", 0.0, 100.0) / 100.0
    return plain(share * given(batch_g, "Batch", "g", above=0.0))


def smallest_weighing(
    standard_deviation_g: npt.ArrayLike, readability_g: npt.ArrayLike = 0.0
) -> Numbers:
    """Smallest mass that a balance weighs within a tenth of a percent.

    Parameters
    ----------
    standard_deviation_g : float or array-like, shape S
        Of ten weighings of one mass [g].
    readability_g : float or array-like, shape S
        One digit of the balance [g].

    Returns
    -------
    float or ndarray, shape S
        [g]; never under 820 digits. For bench work within 1 % take 100 digits.

    Raises
    ------
    ScienceError
        A negative number.

    Notes
    -----
    2 s / m <= 0.10 %, with s not below 0.41 digits, USP <41> Balances.

    Examples
    --------
    >>> round(smallest_weighing(0.002, 0.01), 1)
    8.2
    """
    s = given(standard_deviation_g, "Standard deviation of the balance", "g", 0.0)
    digit = given(readability_g, "Readability of the balance", "g", 0.0)
    return plain(2000.0 * np.maximum(s, SMALLEST_DEVIATION_DIGITS * digit))


def with_overage(
    target_percent: npt.ArrayLike,
    assay_percent: npt.ArrayLike = 100.0,
    loss_percent: npt.ArrayLike = 0.0,
) -> Numbers:
    """Percentage to weigh in for an active below 100 %, some of which is lost in making.

    Parameters
    ----------
    target_percent : float or array-like, shape S
        Active wanted in the product [%].
    assay_percent : float or array-like, shape S
        Active in the material [%].
    loss_percent : float or array-like, shape S
        Of the active, lost on the way [%].

    Returns
    -------
    float or ndarray, shape S
        [%]

    Raises
    ------
    ScienceError
        A percentage that cannot be.

    Notes
    -----
    target / (assay x (1 - loss)).

    Examples
    --------
    >>> round(with_overage(2.0, 95.0, 5.0), 4)
    2.2161
    """
    target = given(target_percent, "Wanted active", "%", 0.0, 100.0)
    assay = given(assay_percent, "Assay", "%", above=0.0, high=100.0) / 100.0
    loss = given(loss_percent, "Loss", "%", 0.0, 99.9) / 100.0
    return plain(target / (assay * (1.0 - loss)))


def to_make(fill_g: npt.ArrayLike, loss_percent: npt.ArrayLike) -> Numbers:
    """Batch to make so that a wanted mass can be filled.

    Parameters
    ----------
    fill_g : float or array-like, shape S
        To be filled [g].
    loss_percent : float or array-like, shape S
        Left on vessel, mixer and funnel; 3 to 8 at the bench (common practice) [%].

    Returns
    -------
    float or ndarray, shape S
        [g]

    Raises
    ------
    ScienceError
        A loss outside 0 to below 100 %.

    Notes
    -----
    fill / (1 - loss).

    Examples
    --------
    >>> round(to_make(500.0, 5.0), 1)
    526.3
    """
    fill = given(fill_g, "To be filled", "g", above=0.0)
    return plain(fill / (1.0 - given(loss_percent, "Loss", "%", 0.0, 99.9) / 100.0))
