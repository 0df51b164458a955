"""From the dial of a rotational viscometer to viscosity, shear rate and stress.

Spindle constants and conversion factors are from memory: check them against the sheet of
the instrument at hand before relying on them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain

TORQUE_CONSTANT: Mapping[str, float] = {"LV": 0.09373, "RV": 1.0, "HA": 2.0, "HB": 8.0}
"""TK by torque class (ISO 2555 types), from memory."""

SPINDLE_CONSTANT: Mapping[str, Mapping[int, float]] = {
    "LV": {1: 6.4, 2: 32.0, 3: 128.0, 4: 640.0},
    "RV": {1: 1.0, 2: 4.0, 3: 10.0, 4: 20.0, 5: 40.0, 6: 100.0, 7: 400.0},
}
"""SMC by class and spindle, from memory; HA and HB carry the spindles of RV."""

READING_RANGE = (10.0, 100.0)  # percent of full scale, common practice
FULL_SCALE_ERROR = 1.0  # percent of full scale, common practice

MITSCHKA_INDEX = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
MITSCHKA_RATE = (1.728, 0.967, 0.705, 0.576, 0.499, 0.449, 0.414, 0.387, 0.367, 0.351)
MITSCHKA_STRESS: Mapping[int, float] = {
    1: 0.035,
    2: 0.119,
    3: 0.279,
    4: 0.539,
    5: 1.05,
    6: 2.35,
    7: 8.4,
}
"""Mitschka, Rheol. Acta 21 (1982) 207, RV spindles, from memory."""


def constants(spindle: str) -> tuple[float, float]:
    """Torque and spindle constant for a spindle's name.

    Parameters
    ----------
    spindle : str
        Class and number: ``"RV 4"``, ``"LV2"``, ``"HA-5"``.

    Returns
    -------
    (TK, SMC) : tuple of float
        [-]

    Raises
    ------
    ScienceError
        Another class or number.

    Notes
    -----
    `TORQUE_CONSTANT` and `SPINDLE_CONSTANT`, from memory.

    Examples
    --------
    >>> constants("RV 4")
    (1.0, 20.0)
    """
    text = "".join(letter for letter in spindle.upper() if letter.isalnum())
    kind, number = text[:2], text[2:].lstrip("0")
    spindles = SPINDLE_CONSTANT.get("RV" if kind in {"HA", "HB"} else kind, {})
    if not number.isdigit() or int(number) not in spindles:
        raise ScienceError(
            where="Spindle",
            found=repr(spindle),
            allowed="LV 1-4, or RV, HA or HB 1-7",
            cause="Another spindle set is on the instrument",
            do="Give the full-scale viscosity from the instrument's own table",
        )
    return TORQUE_CONSTANT[kind], spindles[int(number)]


def full_scale(
    torque_constant: npt.ArrayLike, spindle_constant: npt.ArrayLike, rpm: npt.ArrayLike
) -> Numbers:
    """Viscosity at which the dial reads 100 %.

    Parameters
    ----------
    torque_constant, spindle_constant : float or array-like, shape S
        TK and SMC of the instrument's sheet [-].
    rpm : float or array-like, shape S
        [1/min]

    Returns
    -------
    float or ndarray, shape S
        [mPa*s]

    Raises
    ------
    ScienceError
        A number that is not positive.

    Notes
    -----
    TK x SMC x 10 000 / rpm.

    Examples
    --------
    >>> full_scale(1.0, 20.0, 20.0)
    10000.0
    """
    tk = given(torque_constant, "Torque constant", "", above=0.0)
    smc = given(spindle_constant, "Spindle constant", "", above=0.0)
    return plain(tk * smc * 1e4 / given(rpm, "Speed", "rpm", above=0.0))


def viscosity(
    reading_percent: npt.ArrayLike, full_scale_mpa_s: npt.ArrayLike
) -> tuple[Numbers, Numbers]:
    """Viscosity from a dial reading, with its error.

    Parameters
    ----------
    reading_percent : float or array-like, shape S
        0 to 100; below 10 the error exceeds a tenth [%].
    full_scale_mpa_s : float or array-like, shape S
        From `full_scale` [mPa*s].

    Returns
    -------
    (viscosity, error) : tuple of float or ndarray, shape S
        [mPa*s]

    Raises
    ------
    ScienceError
        A reading outside 0-100 %.

    Notes
    -----
    reading/100 x full scale, ± 1 % of full scale: 8 % at a reading of 12 %.

    Examples
    --------
    >>> viscosity(62.5, 10000.0)
    (6250.0, 100.0)
    """
    percent = given(
        reading_percent, "Dial reading", "%", 0.0, 100.0, cause="Off scale: change spindle or speed"
    )
    full = given(full_scale_mpa_s, "Full scale", "mPa*s", above=0.0)
    error = np.broadcast_to(full * FULL_SCALE_ERROR / 100.0, np.broadcast(percent, full).shape)
    return plain(percent * full / 100.0), plain(error.copy())


def mitschka_rate_factor(index: npt.ArrayLike) -> Numbers:
    """Shear rate per rpm of a disc spindle for a flow index.

    Parameters
    ----------
    index : float or array-like, shape S
        Slope of log reading against log rpm, 0.1 to 1 [-].

    Returns
    -------
    float or ndarray, shape S
        [1/s per rpm]

    Raises
    ------
    ScienceError
        An index outside the table.

    Notes
    -----
    Mitschka, Rheol. Acta 21 (1982) 207, from memory; cubic in ln n between the table's points.

    Examples
    --------
    >>> round(mitschka_rate_factor(0.5), 3)
    0.499
    """
    from scipy.interpolate import PchipInterpolator

    n = given(index, "Flow index", "", 0.1, 1.0, cause="The product thickens, or readings scatter")
    table = PchipInterpolator(np.log(MITSCHKA_INDEX), np.log(MITSCHKA_RATE))
    return plain(np.exp(table(np.log(n))))


def mitschka_stress_factor(spindle: int) -> float:
    """Shear stress per percent of reading of an RV disc spindle.

    Parameters
    ----------
    spindle : int
        1 to 7.

    Returns
    -------
    float
        [Pa per %]

    Raises
    ------
    ScienceError
        Another spindle.

    Notes
    -----
    Mitschka 1982, from memory; RV torque.

    Examples
    --------
    >>> mitschka_stress_factor(4)
    0.539
    """
    if spindle not in MITSCHKA_STRESS:
        raise ScienceError(
            where="Disc spindle",
            found=f"spindle {spindle}",
            allowed="RV spindles 1 to 7",
            cause="The factors were made for the RV discs",
            do="Use a coaxial cylinder for a flow curve with another spindle",
        )
    return MITSCHKA_STRESS[spindle]


@dataclass(frozen=True, slots=True, kw_only=True)
class DiscCurve:
    """A flow curve from a disc spindle.

    Attributes
    ----------
    shear_rate, stress_pa : ndarray, shape (n,)
        [1/s] and [Pa], to be given to `labkit.science.rheology.fit`.
    index : float
        Flow index from the readings [-].
    """

    shear_rate: npt.NDArray[np.float64]
    stress_pa: npt.NDArray[np.float64]
    index: float


def disc_curve(rpm: npt.ArrayLike, reading_percent: npt.ArrayLike, spindle: int) -> DiscCurve:
    """Flow curve from readings of one RV disc spindle at several speeds.

    Parameters
    ----------
    rpm : array-like, shape (n,)
        Three or more speeds [1/min].
    reading_percent : array-like, shape (n,)
        [%]
    spindle : int
        1 to 7.

    Returns
    -------
    DiscCurve

    Raises
    ------
    ScienceError
        Too few speeds, readings off scale, or another spindle.

    Notes
    -----
    Mitschka 1982: index n from the slope, shear rate k(n) rpm, stress k reading.

    Examples
    --------
    >>> curve = disc_curve([2.0, 10.0, 50.0], [10.0, 22.36, 50.0], 4)
    >>> round(curve.index, 2), round(float(curve.shear_rate[1]), 2)
    (0.5, 4.99)
    """
    speed = given(rpm, "Speed", "rpm", above=0.0)
    reading = given(reading_percent, "Dial reading", "%", above=0.0, high=100.0)
    if speed.ndim != 1 or speed.shape != reading.shape or np.unique(speed).size < 3:
        raise ScienceError(
            where="Disc spindle",
            found=f"{speed.size} speeds and {reading.size} readings",
            allowed="Three or more different speeds, one reading each",
            cause="One speed gives a number, not a flow curve",
            do="Read the same spindle at more speeds",
        )
    slope = float(np.polyfit(np.log(speed), np.log(reading), 1)[0])
    factor = float(mitschka_rate_factor(slope))
    return DiscCurve(
        shear_rate=factor * speed, stress_pa=mitschka_stress_factor(spindle) * reading, index=slope
    )


def coaxial_shear_rate(
    rpm: npt.ArrayLike, bob_radius_mm: npt.ArrayLike, cup_radius_mm: npt.ArrayLike
) -> Numbers:
    """Shear rate at the bob of a coaxial cylinder.

    Parameters
    ----------
    rpm : float or array-like, shape S
        [1/min]
    bob_radius_mm, cup_radius_mm : float or array-like, shape S
        [mm]

    Returns
    -------
    float or ndarray, shape S
        For a Newtonian liquid [1/s].

    Raises
    ------
    ScienceError
        A cup that is not wider than its bob.

    Notes
    -----
    2 omega Rc^2 / (Rc^2 - Rb^2). A shear-thinning product has a higher rate in a wide gap.

    Examples
    --------
    >>> round(coaxial_shear_rate(60, 9.42, 13.8), 2)
    23.53
    """
    bob = given(bob_radius_mm, "Radius of the bob", "mm", above=0.0)
    cup = given(cup_radius_mm, "Radius of the cup", "mm", above=0.0)
    if np.any(cup <= bob):
        raise ScienceError(
            where="Coaxial cylinder",
            found="a cup that is not wider than its bob",
            allowed="A cup wider than the bob",
            cause="The two radii were exchanged",
            do="Exchange them",
        )
    omega = 2.0 * np.pi * given(rpm, "Speed", "rpm", 0.0) / 60.0
    return plain(2.0 * omega * cup**2 / (cup**2 - bob**2))
