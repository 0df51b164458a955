"""Water and its ions: ionisation, dielectric behaviour, activity of ions against temperature.

Everything here is for dilute water phases between 0 and 100 °C at ordinary pressure.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.errors import ScienceError

Array = NDArray[np.float64]

KELVIN = 273.15
REFERENCE_K = 298.15
GAS_CONSTANT = 8.314462618
LN10 = float(np.log(10.0))
HELD_ABOVE = 2.0
MODELS: tuple[str, ...] = ("davies", "bates-guggenheim", "ideal")

_UNCERTAINTY_I = (0.0, 0.1, 0.2, 0.4, 0.8)
_UNCERTAINTY_PH = (0.03, 0.03, 0.05, 0.10, 0.25)


@overload
def water_density(temperature_c: float) -> float: ...
@overload
def water_density(temperature_c: ArrayLike) -> float | Array: ...
def water_density(temperature_c: ArrayLike) -> float | Array:
    """Density of air-free water.

    Parameters
    ----------
    temperature_c : float or array-like, shape S
        0 to 100 [°C].

    Returns
    -------
    float or ndarray, shape S
        Density [g/mL].

    Raises
    ------
    ScienceError
        A temperature outside 0-100 °C.

    Notes
    -----
    Rational polynomial of Kell, J. Chem. Eng. Data 20 (1975) 97; 0-150 °C, 1 atm.

    Examples
    --------
    >>> round(water_density(25.0), 4)
    0.997
    """
    t = _temperature(temperature_c)
    top = 999.83952 + t * (
        16.945176
        + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - t * 280.54253e-12)))
    )
    return _give(top / (1.0 + 16.87985e-3 * t) / 1000.0, temperature_c)


@overload
def water_permittivity(temperature_c: float) -> float: ...
@overload
def water_permittivity(temperature_c: ArrayLike) -> float | Array: ...
def water_permittivity(temperature_c: ArrayLike) -> float | Array:
    """Relative permittivity (dielectric constant) of water.

    Parameters
    ----------
    temperature_c : float or array-like, shape S
        0 to 100 [°C].

    Returns
    -------
    float or ndarray, shape S
        Relative permittivity [-].

    Raises
    ------
    ScienceError
        A temperature outside 0-100 °C.

    Notes
    -----
    Cubic of Malmberg and Maryott, J. Res. NBS 56 (1956) 1; 0-100 °C.

    Examples
    --------
    >>> round(water_permittivity(25.0), 2)
    78.3
    """
    t = _temperature(temperature_c)
    return _give(87.740 + t * (-0.40008 + t * (9.398e-4 - t * 1.410e-6)), temperature_c)


@overload
def debye_huckel_a(temperature_c: float) -> float: ...
@overload
def debye_huckel_a(temperature_c: ArrayLike) -> float | Array: ...
def debye_huckel_a(temperature_c: ArrayLike) -> float | Array:
    """Limiting slope A of log10 of the activity coefficient, molality scale.

    Parameters
    ----------
    temperature_c : float or array-like, shape S
        0 to 100 [°C].

    Returns
    -------
    float or ndarray, shape S
        A [(kg/mol)^0.5].

    Raises
    ------
    ScienceError
        A temperature outside 0-100 °C.

    Notes
    -----
    A = 1.82481e6 sqrt(density) / (permittivity T)^1.5 with `water_density` and
    `water_permittivity` (Debye and Hückel; the constant as in Robinson and Stokes,
    Electrolyte Solutions, from memory).

    Examples
    --------
    >>> round(debye_huckel_a(25.0), 3)
    0.511
    """
    t = _temperature(temperature_c)
    density = np.asarray(water_density(t))
    permittivity = np.asarray(water_permittivity(t))
    slope = 1.82481e6 * np.sqrt(density) / (permittivity * (t + KELVIN)) ** 1.5
    return _give(slope, temperature_c)


@overload
def water_pkw(temperature_c: float) -> float: ...
@overload
def water_pkw(temperature_c: ArrayLike) -> float | Array: ...
def water_pkw(temperature_c: ArrayLike) -> float | Array:
    """Ionisation of water, -log10 of the product of the activities of H+ and OH-.

    Parameters
    ----------
    temperature_c : float or array-like, shape S
        0 to 100 [°C].

    Returns
    -------
    float or ndarray, shape S
        pKw [-].

    Raises
    ------
    ScienceError
        A temperature outside 0-100 °C.

    Notes
    -----
    log Kw = 293.29227 + 0.1360833 T - 10576.913/T - 123.73158 log10 T - 6.996455e-5 T²
    with T in K: the expression in the USGS database phreeqc.dat (public domain).

    Examples
    --------
    >>> round(water_pkw(25.0), 3), round(water_pkw(40.0), 2)
    (13.995, 13.53)
    """
    t = _temperature(temperature_c) + KELVIN
    log_kw = (
        293.29227 + 0.1360833 * t - 10576.913 / t - 123.73158 * np.log10(t) - 6.996455e-5 * t**2
    )
    return _give(-log_kw, temperature_c)


@overload
def activity_term(
    ionic_strength: float, temperature_c: float = 25.0, activity: str = "davies"
) -> float: ...
@overload
def activity_term(
    ionic_strength: ArrayLike, temperature_c: ArrayLike = 25.0, activity: str = "davies"
) -> float | Array: ...
def activity_term(
    ionic_strength: ArrayLike, temperature_c: ArrayLike = 25.0, activity: str = "davies"
) -> float | Array:
    """D in log10(gamma) = -z² D, the activity correction of an ion of charge z.

    Parameters
    ----------
    ionic_strength : float or array-like, shape S
        [mol per kg water].
    temperature_c : float or array-like, shape S
        0 to 100 [°C].
    activity : {"davies", "bates-guggenheim", "ideal"}
        The model.

    Returns
    -------
    float or ndarray, shape S
        D [-]; a neutral species has gamma 1.

    Raises
    ------
    ScienceError
        A negative ionic strength, an unknown model, a temperature outside 0-100 °C.

    Notes
    -----
    Davies, Ion Association (1962): D = A (sqrt I/(1 + sqrt I) - 0.3 I), good to about
    0.01 in pH up to I 0.1, see `ph_uncertainty`. Bates-Guggenheim convention (IUPAC Gold
    Book D01534): D = A sqrt I/(1 + 1.5 sqrt I), I up to 0.1. Above 2 mol/kg, where
    neither has a meaning, D is held at its value there.

    Examples
    --------
    >>> round(10 ** -activity_term(0.1), 3)
    0.781
    """
    strength = _strength(ionic_strength)
    slope = np.asarray(debye_huckel_a(temperature_c))
    value = slope * model_function(activity)(np.minimum(strength, HELD_ABOVE))
    return float(value) if value.ndim == 0 else np.asarray(value)


def _strength(ionic_strength: ArrayLike) -> Array:
    strength = np.asarray(ionic_strength, dtype=float)
    if not (strength >= 0.0).all():
        raise ScienceError(
            where="Ionic strength",
            found=f"{float(np.min(strength)):g} mol/kg",
            allowed="An ionic strength is zero or more",
            cause="A sign, or a number that could not be computed",
            do="Give it in mol per kg water, 0.1 for a usual product",
        )
    return strength


def model_function(activity: str) -> Callable[[Array], Array]:
    """Shape of D against ionic strength, without the slope A.

    Parameters
    ----------
    activity : str
        ``"davies"``, ``"bates-guggenheim"`` or ``"ideal"``.

    Returns
    -------
    callable
        Ionic strength [mol/kg], any shape, to the shape of D [-], same shape.

    Raises
    ------
    ScienceError
        Another model.

    Notes
    -----
    The models and their ranges are those of `activity_term`.

    Examples
    --------
    >>> round(float(model_function("davies")(np.array(0.1))), 4)
    0.2103
    """
    if activity not in MODELS:
        raise ScienceError(
            where="Activity model",
            found=f"{activity!r}",
            allowed="davies, bates-guggenheim or ideal",
            cause="A name that is not one of the models",
            do="Leave it out: davies is the usual choice",
        )
    shapes = {"davies": _davies, "bates-guggenheim": _bates_guggenheim, "ideal": _ideal}
    return shapes[activity]


def _davies(strength: Array) -> Array:
    root = np.sqrt(strength)
    return np.asarray(root / (1.0 + root) - 0.3 * strength)


def _ideal(strength: Array) -> Array:
    return np.zeros_like(strength)


def _bates_guggenheim(strength: Array) -> Array:
    root = np.sqrt(strength)
    return np.asarray(root / (1.0 + 1.5 * root))


@overload
def ph_uncertainty(ionic_strength: float) -> float: ...
@overload
def ph_uncertainty(ionic_strength: ArrayLike) -> float | Array: ...
def ph_uncertainty(ionic_strength: ArrayLike) -> float | Array:
    """How far a calculated pH of a plain water phase may lie from a good meter.

    Parameters
    ----------
    ionic_strength : float or array-like, shape S
        [mol per kg water].

    Returns
    -------
    float or ndarray, shape S
        Half width [pH units].

    Raises
    ------
    ScienceError
        A negative ionic strength.

    Notes
    -----
    Spread between activity models for half-neutralised citric acid (computed):
    0.03 up to I 0.1, 0.05 at 0.2, 0.10 at 0.4, 0.25 at 0.8, straight lines between and
    the last slope beyond. It holds for known ingredients in water. Emulsions, polymers
    and water phases rich in glycol are outside: there the pH is measured.

    Examples
    --------
    >>> ph_uncertainty(0.05), round(ph_uncertainty(0.3), 3)
    (0.03, 0.075)
    """
    strength = _strength(ionic_strength)
    last = (_UNCERTAINTY_PH[-1] - _UNCERTAINTY_PH[-2]) / (_UNCERTAINTY_I[-1] - _UNCERTAINTY_I[-2])
    beyond = np.maximum(strength - _UNCERTAINTY_I[-1], 0.0) * last
    return _give(np.interp(strength, _UNCERTAINTY_I, _UNCERTAINTY_PH) + beyond, ionic_strength)


def ionic_strength_words(ionic_strength: float) -> str:
    """Say what the ionic strength means for trust in a calculated pH.

    Parameters
    ----------
    ionic_strength : float
        [mol per kg water].

    Returns
    -------
    str
        One sentence with the half width.

    Raises
    ------
    ScienceError
        A negative ionic strength.

    Notes
    -----
    Numbers from `ph_uncertainty`.

    Examples
    --------
    >>> ionic_strength_words(0.05)
    'Davies activities at ionic strength 0.05 mol/kg: ± 0.03 for a plain water phase.'
    """
    half = float(ph_uncertainty(ionic_strength))
    tail = (
        " Above 0.5 mol/kg the activity model is stretched: trust the meter."
        if ionic_strength > 0.5
        else ""
    )
    return (
        f"Davies activities at ionic strength {ionic_strength:.2g} mol/kg: "
        f"± {half:.2f} for a plain water phase.{tail}"
    )


def _temperature(temperature_c: ArrayLike) -> Array:
    t = np.asarray(temperature_c, dtype=float)
    if not np.all((t >= 0.0) & (t <= 100.0)):
        bad = t[~((t >= 0.0) & (t <= 100.0))]
        raise ScienceError(
            where="Temperature",
            found=f"{float(bad.flat[0]):g} °C",
            allowed="0 to 100 °C",
            cause="The equations describe liquid water; a value in °F or K may have slipped in",
            do="Give the temperature in °C",
        )
    return t


def _give(value: Array, like: ArrayLike) -> float | Array:
    return float(value) if np.ndim(like) == 0 else np.asarray(value)
