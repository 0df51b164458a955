"""Heat at the bench: mixing temperature, the beaker's share, heating, melting, cooling, steam."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science import carriers, liquids, water
from labkit.science.bounds import Numbers, given, plain


def specific_heat(name: str, temperature_c: npt.ArrayLike = 25.0) -> Numbers:
    """Specific heat of a liquid or of a vessel's wall.

    Parameters
    ----------
    name : str
        ``"water"``, or a liquid or wall in the table (``"glass"``, ``"stainless steel"``).
    temperature_c : float or array-like, shape S
        [°C]

    Returns
    -------
    float or ndarray, shape S
        [kJ/kg/K]

    Raises
    ------
    ScienceError
        Unknown, or outside its range.

    Notes
    -----
    ``datasets/liquids.csv``; water by IAPWS-95. Oils about 2.0, 5-10 %.

    Examples
    --------
    >>> round(specific_heat("glycerin", 25.0), 2)
    2.37
    """
    if name.strip().casefold() in {"water", "aqua"}:
        return water.specific_heat(temperature_c)
    return liquids.value(name, "specific_heat", temperature_c)


def water_mixture(component: str, percent: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Numbers:
    """Specific heat of water with glycerin, propylene glycol or ethanol.

    Parameters
    ----------
    component : str
        The carrier beside water.
    percent : float or array-like, shape S
        By weight [%].
    temperature_c : float or array-like, shape S
        [°C]

    Returns
    -------
    float or ndarray, shape S
        [kJ/kg/K]

    Raises
    ------
    ScienceError
        Another carrier, or outside its range.

    Notes
    -----
    See `labkit.science.carriers.specific_heat`.

    Examples
    --------
    >>> round(water_mixture("glycerin", 20.0, 25.0), 2)
    3.82
    """
    return carriers.specific_heat(component, percent, temperature_c)


def mixing_temperature(
    masses_g: npt.ArrayLike, specific_heats: npt.ArrayLike, temperatures_c: npt.ArrayLike
) -> Numbers:
    """Temperature after pouring parts together, without loss.

    Parameters
    ----------
    masses_g : array-like, shape (..., n)
        Of every part; add the beaker as one (120 g of glass takes a 75 g water phase from
        75 to 62 °C) [g].
    specific_heats : array-like, shape (n,) or (..., n)
        [kJ/kg/K]
    temperatures_c : array-like, shape (n,) or (..., n)
        [°C]

    Returns
    -------
    float or ndarray, shape (...)
        [°C]

    Raises
    ------
    ScienceError
        Nothing to mix, or a number that cannot be.

    Notes
    -----
    sum(m c T) / sum(m c). No heat of mixing, melting or crystallising.

    Examples
    --------
    >>> round(mixing_temperature([75, 120], [4.19, 0.84], [75, 22]), 1)
    62.1
    """
    m = given(masses_g, "Mass of a part", "g", 0.0)
    c = given(specific_heats, "Specific heat", "kJ/kg/K", above=0.0, high=20.0)
    t = given(temperatures_c, "Temperature of a part", "°C", -80.0, 400.0)
    room = (m * c).sum(axis=-1)
    if np.any(room <= 0.0):
        raise ScienceError(
            where="Mixing temperature",
            found="nothing to mix",
            allowed="At least one part with a mass above zero",
            cause="All masses are zero",
            do="Give the masses of the parts",
        )
    return plain((m * c * t).sum(axis=-1) / room)


def heating(
    mass_g: npt.ArrayLike,
    specific_heat_kj_kg_k: npt.ArrayLike,
    from_c: npt.ArrayLike,
    to_c: npt.ArrayLike,
    melting_g: npt.ArrayLike = 0.0,
    heat_of_fusion_kj_kg: npt.ArrayLike = 0.0,
) -> Numbers:
    """Heat that a phase takes up, melting included.

    Parameters
    ----------
    mass_g : float or array-like, shape S
        [g]
    specific_heat_kj_kg_k : float or array-like, shape S
        [kJ/kg/K]
    from_c, to_c : float or array-like, shape S
        [°C]
    melting_g : float or array-like, shape S
        How much of it melts on the way [g].
    heat_of_fusion_kj_kg : float or array-like, shape S
        Of what melts [kJ/kg].

    Returns
    -------
    float or ndarray, shape S
        [kJ]; negative when cooling.

    Raises
    ------
    ScienceError
        A negative mass or heat.

    Notes
    -----
    m c dT + m_melt L.

    Examples
    --------
    >>> round(heating(20, 2.0, 22, 75, 4, 142), 3)
    2.688
    """
    m = given(mass_g, "Mass", "g", 0.0)
    c = given(specific_heat_kj_kg_k, "Specific heat", "kJ/kg/K", above=0.0, high=20.0)
    rise = given(to_c, "Temperature", "°C", -80.0, 400.0) - given(from_c, "Temperature", "°C")
    melt = given(melting_g, "Mass that melts", "g", 0.0)
    return plain(
        (m * c * rise + melt * given(heat_of_fusion_kj_kg, "Heat of fusion", "kJ/kg", 0.0)) / 1000.0
    )


def steam_loss(lost_g: npt.ArrayLike, temperature_c: npt.ArrayLike) -> Numbers:
    """Heat carried away by water that evaporates.

    Parameters
    ----------
    lost_g : float or array-like, shape S
        Water lost [g].
    temperature_c : float or array-like, shape S
        0 to 100 [°C].

    Returns
    -------
    float or ndarray, shape S
        [kJ]

    Raises
    ------
    ScienceError
        A negative mass, or a temperature outside 0-100 °C.

    Notes
    -----
    m h_vap(T), `labkit.science.water.heat_of_vaporisation`.

    Examples
    --------
    >>> round(steam_loss(3.0, 75.0), 2)
    6.96
    """
    lost = given(lost_g, "Water lost", "g", 0.0)
    return plain(lost * np.asarray(water.heat_of_vaporisation(temperature_c)) / 1000.0)


def temperature_drop(
    heat_kj: npt.ArrayLike, mass_g: npt.ArrayLike, specific_heat_kj_kg_k: npt.ArrayLike
) -> Numbers:
    """Fall in temperature when heat leaves a batch.

    Parameters
    ----------
    heat_kj : float or array-like, shape S
        [kJ]
    mass_g : float or array-like, shape S
        [g]
    specific_heat_kj_kg_k : float or array-like, shape S
        [kJ/kg/K]

    Returns
    -------
    float or ndarray, shape S
        [K]

    Raises
    ------
    ScienceError
        A mass or specific heat that is not positive.

    Notes
    -----
    Q / (m c), no other exchange.

    Examples
    --------
    >>> round(temperature_drop(6.963, 97.0, 3.7), 1)
    19.4
    """
    m = given(mass_g, "Mass", "g", above=0.0)
    c = given(specific_heat_kj_kg_k, "Specific heat", "kJ/kg/K", above=0.0)
    return plain(given(heat_kj, "Heat", "kJ") * 1000.0 / (m * c))


def cooling_time(
    from_c: npt.ArrayLike,
    to_c: npt.ArrayLike,
    ambient_c: npt.ArrayLike,
    rate_per_min: npt.ArrayLike,
) -> Numbers:
    """Minutes until a batch left to itself has cooled to a temperature.

    Parameters
    ----------
    from_c, to_c, ambient_c : float or array-like, shape S
        Start, end and room [°C].
    rate_per_min : float or array-like, shape S
        Cooling constant of this vessel and batch size, see `cooling_rate` [1/min].

    Returns
    -------
    float or ndarray, shape S
        [min]

    Raises
    ------
    ScienceError
        An end at or beyond the room's temperature, or a rate that is not positive.

    Notes
    -----
    T = Ta + (T0 - Ta) exp(-k t), Newton. The stirred batch; crystallising alcohols hold it up.

    Examples
    --------
    >>> round(cooling_time(75, 40, 22, 0.018))
    60
    """
    ratio = _excess(from_c, to_c, ambient_c)
    return plain(-np.log(ratio) / given(rate_per_min, "Cooling constant", "1/min", above=0.0))


def cooling_rate(
    from_c: npt.ArrayLike, to_c: npt.ArrayLike, ambient_c: npt.ArrayLike, minutes: npt.ArrayLike
) -> Numbers:
    """Cooling constant of a vessel from two readings.

    Parameters
    ----------
    from_c, to_c, ambient_c : float or array-like, shape S
        First reading, second reading, room [°C].
    minutes : float or array-like, shape S
        Time between the readings [min].

    Returns
    -------
    float or ndarray, shape S
        [1/min]

    Raises
    ------
    ScienceError
        Readings at or beyond the room's temperature, or no time between them.

    Notes
    -----
    Newton's law of cooling solved for k.

    Examples
    --------
    >>> round(cooling_rate(75, 40, 22, 60), 4)
    0.018
    """
    ratio = _excess(from_c, to_c, ambient_c)
    return plain(-np.log(ratio) / given(minutes, "Time between readings", "min", above=0.0))


def _excess(
    from_c: npt.ArrayLike, to_c: npt.ArrayLike, ambient_c: npt.ArrayLike
) -> npt.NDArray[np.float64]:
    room = given(ambient_c, "Room temperature", "°C", -40.0, 60.0)
    start = given(from_c, "Temperature", "°C", -80.0, 400.0) - room
    end = given(to_c, "Temperature", "°C", -80.0, 400.0) - room
    if np.any(start == 0.0) or np.any(end / np.where(start == 0.0, 1.0, start) <= 0.0):
        raise ScienceError(
            where="Cooling",
            found="an end at or beyond the temperature of the room",
            allowed="Start and end on the same side of the room's temperature",
            cause="A batch left to itself never passes the room's temperature",
            do="Check the three temperatures",
        )
    return np.asarray(end / start, dtype=np.float64)
