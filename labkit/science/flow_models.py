"""Flow curves: viscosity against shear rate by six equations.

Parameters are named as in the textbooks: K [Pa s^n], n [-], tau0 [Pa], eta_p [Pa s],
eta0 and etainf [Pa s], lambda [s], m and a [-].
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain

PARAMETERS: Mapping[str, tuple[str, ...]] = {
    "power law": ("K", "n"),
    "Herschel-Bulkley": ("tau0", "K", "n"),
    "Casson": ("tau0", "eta_p"),
    "Cross": ("eta0", "etainf", "lambda", "m"),
    "Carreau": ("eta0", "etainf", "lambda", "n"),
    "Carreau-Yasuda": ("eta0", "etainf", "lambda", "n", "a"),
}
PLATEAU_MODELS = ("Cross", "Carreau", "Carreau-Yasuda")


def named(model: str) -> str:
    """The model's name in `PARAMETERS` for any usual spelling.

    Parameters
    ----------
    model : str
        ``"herschel bulkley"``, ``"Power-law"`` …

    Returns
    -------
    str

    Raises
    ------
    ScienceError
        Another model.

    Notes
    -----
    Capitals, blanks and hyphens do not count.

    Examples
    --------
    >>> named("herschel bulkley")
    'Herschel-Bulkley'
    """
    key = "".join(letter for letter in model.casefold() if letter.isalpha())
    for name in PARAMETERS:
        if key == "".join(letter for letter in name.casefold() if letter.isalpha()):
            return name
    raise ScienceError(
        where="Flow model",
        found=repr(model),
        allowed=", ".join(PARAMETERS),
        cause="Another word was typed",
        do="Take Herschel-Bulkley for a cream or gel, Carreau for a lotion with a plateau",
    )


def viscosity(model: str, parameters: Mapping[str, float], shear_rate: npt.ArrayLike) -> Numbers:
    """Apparent viscosity of a flow model.

    Parameters
    ----------
    model : str
        One of `PARAMETERS`.
    parameters : mapping of str to float
        Its parameters by name.
    shear_rate : float or array-like, shape S
        Above 0 [1/s].

    Returns
    -------
    float or ndarray, shape S
        [Pa*s]

    Raises
    ------
    ScienceError
        Another model, a missing or negative parameter, or a shear rate that is not positive.

    Notes
    -----
    Power law K g^(n-1); Herschel-Bulkley tau0/g + K g^(n-1);
    Casson (sqrt(tau0/g) + sqrt(eta_p))^2; Cross etainf + (eta0 - etainf)/(1 + (lambda g)^m);
    Carreau etainf + (eta0 - etainf)(1 + (lambda g)^2)^((n-1)/2); Carreau-Yasuda with
    exponent a: (1 + (lambda g)^a)^((n-1)/a). Textbook forms (Macosko, Rheology, 1994).

    Examples
    --------
    >>> round(viscosity("Casson", {"tau0": 12.0, "eta_p": 0.35}, 10.0), 3)
    2.846
    """
    name = named(model)
    missing = [key for key in PARAMETERS[name] if key not in parameters]
    if missing:
        raise ScienceError(
            where=f"{name} model",
            found=f"no value for {', '.join(missing)}",
            allowed=f"Values for {', '.join(PARAMETERS[name])}",
            cause="A parameter was left out or spelt otherwise",
            do="Give every parameter by its name",
        )
    rate = given(shear_rate, "Shear rate", "1/s", above=0.0)
    values = [
        float(given(parameters[key], f"{key} of the {name} model", "", 0.0))
        for key in PARAMETERS[name]
    ]
    return plain(equation(name, rate, values))


def stress(model: str, parameters: Mapping[str, float], shear_rate: npt.ArrayLike) -> Numbers:
    """Shear stress of a flow model.

    Parameters
    ----------
    model, parameters, shear_rate
        As in `viscosity`.

    Returns
    -------
    float or ndarray, shape S
        [Pa]

    Raises
    ------
    ScienceError
        As in `viscosity`.

    Notes
    -----
    `viscosity` times shear rate.

    Examples
    --------
    >>> round(stress("power law", {"K": 2.3, "n": 0.23}, 10.0), 3)
    3.906
    """
    rate = given(shear_rate, "Shear rate", "1/s", above=0.0)
    return plain(np.asarray(viscosity(model, parameters, rate)) * rate)


def equation(name: str, rate: npt.NDArray[Any], p: list[Any]) -> npt.NDArray[Any]:
    """The bare equation on checked numbers (complex ones too).

    Parameters
    ----------
    name : str
        A name of `PARAMETERS`.
    rate : ndarray
        Shear rates above 0 [1/s], any shape.
    p : list
        Parameters in the order of `PARAMETERS` and in its units.

    Returns
    -------
    ndarray
        Viscosity [Pa*s], shape of `rate`.

    Notes
    -----
    The equations, their sources and ranges are those of `viscosity_pa_s`.

    Examples
    --------
    >>> round(float(equation("power law", np.array(10.0), [20.0, 0.4])), 3)
    5.024
    """
    if name == "power law":
        return np.asarray(p[0] * rate ** (p[1] - 1.0))
    if name == "Herschel-Bulkley":
        return np.asarray(p[0] / rate + p[1] * rate ** (p[2] - 1.0))
    if name == "Casson":
        return np.asarray((np.sqrt(p[0] / rate) + np.sqrt(p[1])) ** 2)
    if name == "Cross":
        return np.asarray(p[1] + (p[0] - p[1]) / (1.0 + (p[2] * rate) ** p[3]))
    bend = 2.0 if name == "Carreau" else p[4]
    return np.asarray(p[1] + (p[0] - p[1]) * (1.0 + (p[2] * rate) ** bend) ** ((p[3] - 1.0) / bend))
