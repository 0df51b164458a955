"""Density, viscosity, vapour pressure and heat of single liquids, from named sources.

The table ``datasets/liquids.csv`` holds one correlation a row: a property of one liquid
over a stated range, with its source and the spread to expect.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain
from labkit.tables import rows

KELVIN = 273.15
GAS_CONSTANT = 8.314462618  # J/mol/K, exact (SI Brochure, 9th edition, 2019)

PROPERTIES = (
    "density",
    "viscosity",
    "vapour_pressure",
    "heat_of_vaporisation",
    "specific_heat",
    "heat_of_fusion",
    "melting_point",
    "molar_mass",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Correlation:
    """One property of one liquid.

    Attributes
    ----------
    liquid, quantity, unit : str
        Which property of which liquid, and its unit.
    equation : str
        ``constant`` a; ``quadratic`` a + b(t - 25) + c(t - 25)^2 with t in °C;
        ``kirchhoff`` exp(a + b/T + c ln T) with T in kelvin.
    a, b, c : float
        Its constants.
    low_c, high_c : float
        Range of validity [°C].
    spread : float or None
        Factor between this value and other published or natural values.
    source_id, source_kind, place, note : str
        Where the constants come from.
    """

    liquid: str
    quantity: str
    unit: str
    equation: str
    a: float
    b: float
    c: float
    low_c: float
    high_c: float
    spread: float | None
    source_id: str
    source_kind: str
    place: str
    note: str


def find(name: str) -> str | None:
    """The liquid's name in the table for a name, a synonym or a CAS number.

    Parameters
    ----------
    name : str
        Any spelling: ``"glycerol"``, ``"D5"``, ``"64-17-5"``; a remark in brackets or
        after a comma is tried without.

    Returns
    -------
    str or None
        None when the table holds no such liquid.

    Notes
    -----
    Names, synonyms and CAS numbers stand in the table ``liquids``, each with its source.

    Examples
    --------
    >>> find("1,3-propanediol"), find("Cyclopentasiloxane (D5)"), find("moonshine")
    ('Propanediol', 'Cyclopentasiloxane', None)
    """
    names = _names()
    whole = name.strip().casefold()
    bare = re.sub(r"\s*\([^)]*\)", "", whole).strip()
    tries = [whole, bare, *re.findall(r"\(([^)]*)\)", whole), bare.rsplit(",", 1)[0].strip()]
    return next((names[text] for text in tries if text in names), None)


def correlation(name: str, quantity: str) -> Correlation:
    """The correlation for one property of one liquid.

    Parameters
    ----------
    name : str
        As in `find`.
    quantity : str
        One of ``PROPERTIES``.

    Returns
    -------
    Correlation

    Raises
    ------
    ScienceError
        The liquid or its property is not in the table.

    Notes
    -----
    Equation, range of temperature and source stand with each correlation.

    Examples
    --------
    >>> correlation("ethanol", "molar_mass").a
    46.068
    """
    liquid = find(name)
    if liquid is None or (liquid, quantity) not in _table():
        has = ", ".join(sorted(q for n, q in _table() if n == liquid)) if liquid else "nothing"
        words = quantity.replace("_", " ")
        raise ScienceError(
            where=name,
            found=f"no {words} in the table of liquids",
            allowed=f"The table holds {has.replace('_', ' ')} for it",
            cause="The material is not a single liquid, or nobody has entered it yet",
            do=f"Measure the {words}, or give the supplier's value",
        )
    return _table()[liquid, quantity]


def value(name: str, quantity: str, temperature_c: npt.ArrayLike = 25.0) -> Numbers:
    """A property of a liquid at a temperature.

    Parameters
    ----------
    name : str
        As in `find`.
    quantity : str
        ``density`` [kg/m3], ``viscosity`` [mPa*s], ``vapour_pressure`` [Pa],
        ``heat_of_vaporisation`` [kJ/kg], ``specific_heat`` [kJ/kg/K],
        ``heat_of_fusion`` [kJ/kg], ``melting_point`` [°C], ``molar_mass`` [g/mol].
    temperature_c : float or array-like, shape S
        Temperature [°C].

    Returns
    -------
    float or ndarray, shape S

    Raises
    ------
    ScienceError
        Not in the table, or a temperature outside the range of the correlation.

    Notes
    -----
    Equation, range, spread and source are those of `correlation`; the spread of natural
    oils is 10-20 % in viscosity from batch to batch.

    Examples
    --------
    >>> round(value("glycerin", "density", 25.0), 1)
    1258.1
    """
    row = correlation(name, quantity)
    t = given(
        temperature_c,
        f"Temperature for the {quantity.replace('_', ' ')} of {row.liquid}",
        "°C",
        row.low_c,
        row.high_c,
        cause="The correlation was made for this range only",
    )
    if row.equation == "constant":
        return plain(np.full(t.shape, row.a))
    if row.equation == "quadratic":
        return plain(row.a + row.b * (t - 25.0) + row.c * (t - 25.0) ** 2)
    T = t + KELVIN
    return plain(np.exp(row.a + row.b / T + row.c * np.log(T)))


def spread(name: str, quantity: str) -> float | None:
    """By what factor other published values of this property may differ.

    Parameters
    ----------
    name, quantity : str
        As in `value`.

    Returns
    -------
    float or None
        1.2 means from value/1.2 to 1.2 times value.

    Raises
    ------
    ScienceError
        Not in the table.

    Notes
    -----
    The ratio of published values; None where only one was found.

    Examples
    --------
    >>> spread("D5", "vapour_pressure")
    2.3
    """
    return correlation(name, quantity).spread


@cache
def _table() -> Mapping[tuple[str, str], Correlation]:
    found = {}
    for row in rows("liquids"):
        number = {key: float(text) for key in "abc" if (text := row[key]) is not None}
        low, high, wide = row["t_low_c"], row["t_high_c"], row["spread"]
        found[row["name"] or "", row["property"] or ""] = Correlation(
            liquid=row["name"] or "",
            quantity=row["property"] or "",
            unit=row["unit"] or "",
            equation=row["equation"] or "",
            a=number["a"],
            b=number.get("b", 0.0),
            c=number.get("c", 0.0),
            low_c=float(low) if low is not None else -KELVIN,
            high_c=float(high) if high is not None else np.inf,
            spread=float(wide) if wide is not None else None,
            source_id=row["source_id"] or "",
            source_kind=row["source_kind"] or "",
            place=row["place"] or "",
            note=row["note"] or "",
        )
    return MappingProxyType(found)


@cache
def _names() -> Mapping[str, str]:
    found: dict[str, str] = {}
    for row in rows("liquids"):
        name = row["name"] or ""
        for text in (name, row["cas"] or "", *(row["aliases"] or "").split("|")):
            if text:
                found.setdefault(text.strip().casefold(), name)
    return MappingProxyType(found)
