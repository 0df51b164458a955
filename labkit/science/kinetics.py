"""Ageing: zero and first order, Arrhenius, Q10, the time to a limit.

A planning aid. No result here is a shelf life: storage in real time decides.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain
from labkit.science.liquids import GAS_CONSTANT, KELVIN

Order = Literal["zero", "first"]


def q10_factor(q10: npt.ArrayLike, test_c: npt.ArrayLike, storage_c: npt.ArrayLike) -> Numbers:
    """How much faster ageing runs at the test temperature.

    Parameters
    ----------
    q10 : float or array-like, shape S
        Rate ratio for 10 K; 2 is an assumption, not a measurement [-].
    test_c, storage_c : float or array-like, shape S
        [°C]

    Returns
    -------
    float or ndarray, shape S
        1 means that the test is not accelerated [-].

    Raises
    ------
    ScienceError
        A Q10 that is not positive.

    Notes
    -----
    Q10^((Ttest - Tstorage)/10). Doubtful for emulsions, which fail by other ways than a
    reaction.

    Examples
    --------
    >>> round(q10_factor(2, 40, 25), 3)
    2.828
    """
    base = given(q10, "Q10", "", above=0.0, high=20.0)
    return plain(base ** ((celsius(test_c) - celsius(storage_c)) / 10.0))


def cabinet_days(
    real_days: npt.ArrayLike, q10: npt.ArrayLike, test_c: npt.ArrayLike, storage_c: npt.ArrayLike
) -> Numbers:
    """Days in a warm cabinet that stand for a time in storage, if Q10 holds.

    Parameters
    ----------
    real_days : float or array-like, shape S
        In storage [days].
    q10, test_c, storage_c : float or array-like, shape S
        As in `q10_factor`.

    Returns
    -------
    float or ndarray, shape S
        [days]

    Raises
    ------
    ScienceError
        A test that is not warmer than storage: it is not accelerated.

    Notes
    -----
    real days / `q10_factor`.

    Examples
    --------
    >>> round(cabinet_days(365, 2, 45, 23), 1)
    79.4
    """
    days = given(real_days, "Days in storage", "days", 0.0)
    return plain(days / _accelerated(q10, test_c, storage_c))


def storage_days(
    days_in_test: npt.ArrayLike,
    q10: npt.ArrayLike,
    test_c: npt.ArrayLike,
    storage_c: npt.ArrayLike,
) -> Numbers:
    """Days in storage that a time in a warm cabinet stands for, if Q10 holds.

    Parameters
    ----------
    days_in_test : float or array-like, shape S
        In the cabinet [days].
    q10, test_c, storage_c : float or array-like, shape S
        As in `q10_factor`.

    Returns
    -------
    float or ndarray, shape S
        [days]

    Raises
    ------
    ScienceError
        A test that is not warmer than storage: it is not accelerated.

    Notes
    -----
    days x `q10_factor`: 90 days at 40 °C are 255 at 25 °C with Q10 = 2, not two years.

    Examples
    --------
    >>> round(storage_days(90, 2, 40, 25), 1)
    254.6
    """
    days = given(days_in_test, "Days in the cabinet", "days", 0.0)
    return plain(days * _accelerated(q10, test_c, storage_c))


def q10_from_energy(
    energy_kj_mol: npt.ArrayLike, low_c: npt.ArrayLike, high_c: npt.ArrayLike
) -> Numbers:
    """Q10 between two temperatures from an activation energy.

    Parameters
    ----------
    energy_kj_mol : float or array-like, shape S
        [kJ/mol]
    low_c, high_c : float or array-like, shape S
        Two different temperatures [°C].

    Returns
    -------
    float or ndarray, shape S
        [-]

    Raises
    ------
    ScienceError
        Twice the same temperature.

    Notes
    -----
    exp(Ea/R (1/T1 - 1/T2)) to the power 10/(T2 - T1).

    Examples
    --------
    >>> round(q10_from_energy(85, 25, 35), 4)
    3.0426
    """
    ratio = np.asarray(rate_ratio(energy_kj_mol, low_c, high_c))
    return plain(ratio ** (10.0 / _apart(low_c, high_c)))


def energy_from_q10(q10: npt.ArrayLike, low_c: npt.ArrayLike, high_c: npt.ArrayLike) -> Numbers:
    """Activation energy that a Q10 stands for between two temperatures.

    Parameters
    ----------
    q10 : float or array-like, shape S
        [-]
    low_c, high_c : float or array-like, shape S
        Two different temperatures [°C].

    Returns
    -------
    float or ndarray, shape S
        [kJ/mol]

    Raises
    ------
    ScienceError
        A Q10 that is not positive, or twice the same temperature.

    Notes
    -----
    `q10_from_energy` solved for the energy.

    Examples
    --------
    >>> round(energy_from_q10(2, 25, 35), 3)
    52.949
    """
    base = given(q10, "Q10", "", above=0.0, high=20.0)
    steps = _apart(low_c, high_c) / 10.0
    return plain(GAS_CONSTANT * steps * np.log(base) / _inverse_gap(low_c, high_c) * 1e-3)


def rate_ratio(energy_kj_mol: npt.ArrayLike, from_c: npt.ArrayLike, to_c: npt.ArrayLike) -> Numbers:
    """Rate at one temperature over the rate at another.

    Parameters
    ----------
    energy_kj_mol : float or array-like, shape S
        [kJ/mol]
    from_c, to_c : float or array-like, shape S
        [°C]

    Returns
    -------
    float or ndarray, shape S
        k(to)/k(from) [-].

    Raises
    ------
    ScienceError
        A number that cannot be.

    Notes
    -----
    Arrhenius with R = 8.314462618 J/mol/K.

    Examples
    --------
    >>> round(rate_ratio(70, 45, 25), 4)
    0.1695
    """
    ea = given(energy_kj_mol, "Activation energy", "kJ/mol", -1000.0, 1000.0) * 1e3
    return plain(np.exp(ea / GAS_CONSTANT * _inverse_gap(from_c, to_c)))


def energy_from_two(
    rate_low: npt.ArrayLike, low_c: npt.ArrayLike, rate_high: npt.ArrayLike, high_c: npt.ArrayLike
) -> Numbers:
    """Activation energy from two rate constants.

    Parameters
    ----------
    rate_low, rate_high : float or array-like, shape S
        In one unit.
    low_c, high_c : float or array-like, shape S
        Their temperatures [°C].

    Returns
    -------
    float or ndarray, shape S
        [kJ/mol]; without an interval, since two points leave none.

    Raises
    ------
    ScienceError
        A rate that is not positive, or twice the same temperature.

    Notes
    -----
    R ln(k2/k1) / (1/T1 - 1/T2).

    Examples
    --------
    >>> round(energy_from_two(0.0008, 40.0, 0.0035, 60.0), 2)
    64.01
    """
    k1, k2 = (given(k, "Rate constant", "", above=0.0) for k in (rate_low, rate_high))
    _apart(low_c, high_c)
    return plain(GAS_CONSTANT * np.log(k2 / k1) / _inverse_gap(low_c, high_c) * 1e-3)


def amount_left(
    start: npt.ArrayLike, rate: npt.ArrayLike, time: npt.ArrayLike, order: Order = "first"
) -> Numbers:
    """What is left after a time.

    Parameters
    ----------
    start : float or array-like, shape S
        At time 0.
    rate : float or array-like, shape S
        Per time for first order, amount per time for zero order.
    time : float or array-like, shape S
        In the unit of the rate.
    order : {"zero", "first"}

    Returns
    -------
    float or ndarray, shape S
        Not below zero.

    Raises
    ------
    ScienceError
        Another order, or a negative number.

    Notes
    -----
    c0 - k t, or c0 exp(-k t).

    Examples
    --------
    >>> round(amount_left(100.0, 0.004, 100.0), 2)
    67.03
    """
    c0, k, t = (given(v, w, "", 0.0) for v, w in ((start, "Start"), (rate, "Rate"), (time, "Time")))
    if order_named(order) == "zero":
        return plain(np.maximum(c0 - k * t, 0.0))
    return plain(c0 * np.exp(-k * t))


def time_to_loss(rate: npt.ArrayLike, loss: npt.ArrayLike, order: Order = "first") -> Numbers:
    """Time until a loss is reached.

    Parameters
    ----------
    rate : float or array-like, shape S
        As in `amount_left`.
    loss : float or array-like, shape S
        First order: share lost, 0 to 1 [-]. Zero order: amount lost, in the unit of the rate.
    order : {"zero", "first"}

    Returns
    -------
    float or ndarray, shape S
        In the unit of the rate.

    Raises
    ------
    ScienceError
        A rate that is not positive, or a loss that cannot be.

    Notes
    -----
    -ln(1 - loss)/k, or loss/k.

    Examples
    --------
    >>> round(time_to_loss(0.00067785, 0.2), 1)
    329.2
    """
    k = given(rate, "Rate", "", above=0.0)
    if order_named(order) == "zero":
        return plain(given(loss, "Loss", "", 0.0) / k)
    share = given(loss, "Share lost", "", 0.0, 1.0 - 1e-12, cause="A percentage was typed")
    return plain(-np.log1p(-share) / k)


def celsius(value: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Temperatures in °C, refused when none of a bench.

    Parameters
    ----------
    value : float or array-like, shape S
        Temperatures [°C].

    Returns
    -------
    ndarray, shape S
        The same temperatures [°C].

    Raises
    ------
    ScienceError
        Not a number, or outside -80 to 300 °C.

    Notes
    -----
    The bounds only catch slips such as kelvin; they are common practice.

    Examples
    --------
    >>> float(celsius(40))
    40.0
    """
    return given(value, "Temperature", "°C", -80.0, 300.0)


def _inverse_gap(from_c: npt.ArrayLike, to_c: npt.ArrayLike) -> npt.NDArray[np.float64]:
    return np.asarray(1.0 / (celsius(from_c) + KELVIN) - 1.0 / (celsius(to_c) + KELVIN))


def _accelerated(
    q10: npt.ArrayLike, test_c: npt.ArrayLike, storage_c: npt.ArrayLike
) -> npt.NDArray[np.float64]:
    factor = np.asarray(q10_factor(q10, test_c, storage_c))
    if np.any(factor <= 1.0):
        raise ScienceError(
            where="Accelerated test",
            found=f"a factor of {float(factor.min()):g}: the test is not accelerated",
            allowed="A test warmer than storage, and a Q10 above 1",
            cause="Test and storage temperatures are the same, or were exchanged",
            do="Choose a warmer cabinet, or read the result as storage in real time",
        )
    return factor


def _apart(low_c: npt.ArrayLike, high_c: npt.ArrayLike) -> npt.NDArray[np.float64]:
    gap = celsius(high_c) - celsius(low_c)
    if np.any(gap == 0.0):
        raise ScienceError(
            where="Two temperatures",
            found="twice the same temperature",
            allowed="Two different temperatures",
            cause="One was typed twice",
            do="Give the other temperature",
        )
    return np.asarray(gap)


def order_named(order: str) -> Order:
    """The order of a loss by its name.

    Parameters
    ----------
    order : str
        ``"zero"`` or ``"first"``.

    Returns
    -------
    str

    Raises
    ------
    ScienceError
        Another word.

    Notes
    -----
    First order loses a share each day, zero order an amount.

    Examples
    --------
    >>> order_named("first")
    'first'
    """
    if order == "zero":
        return "zero"
    if order == "first":
        return "first"
    raise ScienceError(
        where="Order of the loss",
        found=repr(order),
        allowed="'zero' or 'first'",
        cause="Another word was typed",
        do="Use 'first' unless the loss is a straight line",
    )
