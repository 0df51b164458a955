"""How much of a preservative is left to work: ionised, in the oil, bound, or free in water.

Numbers only. Whether a product is preserved is for a challenge test in a laboratory.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain
from labkit.tables import rows

PH = ("pH", "", -2.0, 16.0)
PKA = ("pKa", "", -10.0, 20.0)


def un_ionised_fraction(ph: npt.ArrayLike, pka: npt.ArrayLike) -> Numbers:
    """Share of a weak acid present as the uncharged acid.

    Parameters
    ----------
    ph : float or array-like, shape S
        Of the water phase [pH units].
    pka : float or array-like, shape S
        At the same temperature and ionic strength [pH units].

    Returns
    -------
    float or ndarray, shape S
        Between 0 and 1 [-].

    Raises
    ------
    ScienceError
        A pH or pKa that cannot be.

    Notes
    -----
    1 / (1 + 10^(pH - pKa)), Henderson-Hasselbalch. With a pKa for zero ionic strength the
    share is up to 20 % too high at 0.1 mol/kg (Davies); pass the effective pKa then.

    Examples
    --------
    >>> round(un_ionised_fraction(5.0, 4.20), 3)
    0.137
    """
    return plain(1.0 / (1.0 + 10.0 ** (given(ph, *PH) - given(pka, *PKA))))


def binding_ratio(surfactant_percent: npt.ArrayLike, constant: npt.ArrayLike) -> Numbers:
    """Total over free preservative in water that holds a surfactant.

    Parameters
    ----------
    surfactant_percent : float or array-like, shape S
        Surfactant in the water phase [%].
    constant : float or array-like, shape S
        Binding constant of this preservative with this surfactant [1/%].

    Returns
    -------
    float or ndarray, shape S
        R = 1 when nothing is bound [-].

    Raises
    ------
    ScienceError
        A negative number.

    Notes
    -----
    R = 1 + c S, J. Soc. Cosmet. Chem. 23 (1972) 703. Linear at low preservative levels.

    Examples
    --------
    >>> binding_ratio(3.0, 0.5)
    2.5
    """
    s = given(surfactant_percent, "Surfactant in the water phase", "%", 0.0, 100.0)
    return plain(1.0 + given(constant, "Binding constant", "1/%", 0.0) * s)


def in_water(
    total_percent: npt.ArrayLike,
    oil_water: npt.ArrayLike,
    oil_to_water: npt.ArrayLike,
    binding: npt.ArrayLike = 1.0,
) -> Numbers:
    """Free preservative in the water phase of an emulsion.

    Parameters
    ----------
    total_percent : float or array-like, shape S
        In the whole emulsion [% w/v].
    oil_water : float or array-like, shape S
        Partition coefficient oil over water for this oil [-]; log Kow is no substitute:
        a paraben has 0.02 in liquid paraffin and 7.5 in soya oil.
    oil_to_water : float or array-like, shape S
        Volume of oil over volume of water [-].
    binding : float or array-like, shape S
        Total over free in water, see `binding_ratio` [-].

    Returns
    -------
    float or ndarray, shape S
        [% w/v of the water phase]

    Raises
    ------
    ScienceError
        A negative number, or a binding ratio below 1.

    Notes
    -----
    Cw = C (phi + 1) / (K phi + R), J. Soc. Cosmet. Chem. 16 (1965) 15 and 23 (1972) 703.
    For one uncharged preservative at equilibrium, K independent of concentration.

    Examples
    --------
    >>> round(in_water(0.4, 0.067, 1.0), 4)
    0.7498
    """
    c, k, phi, r = _distribution(total_percent, oil_water, oil_to_water, binding)
    return plain(c * (phi + 1.0) / (k * phi + r))


def free_acid(
    total_percent: npt.ArrayLike,
    oil_water: npt.ArrayLike,
    oil_to_water: npt.ArrayLike,
    ph: npt.ArrayLike,
    pka: npt.ArrayLike,
    binding: npt.ArrayLike = 1.0,
) -> Numbers:
    """Free un-ionised acid in the water phase when only the uncharged acid partitions and binds.

    Parameters
    ----------
    total_percent, oil_water, oil_to_water, binding : float or array-like, shape S
        As in `in_water`; the partition coefficient is that of the uncharged acid.
    ph, pka : float or array-like, shape S
        As in `un_ionised_fraction`.

    Returns
    -------
    float or ndarray, shape S
        [% w/v of the water phase]

    Raises
    ------
    ScienceError
        As in `in_water` and `un_ionised_fraction`.

    Notes
    -----
    Mass balance C (phi + 1) = HA (K phi + R + 10^(pH - pKa)). Benzoic acid forms dimers in
    liquid paraffin, so that its K rises with concentration.

    Examples
    --------
    >>> round(free_acid(0.3, 2.5, 0.25, 5.0, 4.2), 4)
    0.0473
    """
    c, k, phi, r = _distribution(total_percent, oil_water, oil_to_water, binding)
    ionised = 10.0 ** (given(ph, *PH) - given(pka, *PKA))
    return plain(c * (phi + 1.0) / (k * phi + r + ionised))


def working_ratio(
    free_percent: npt.ArrayLike,
    minimum_use_percent: npt.ArrayLike,
    window_top_ph: npt.ArrayLike,
    pka: npt.ArrayLike,
) -> Numbers:
    """How the working level compares with what the lowest usual dose gives at its worst pH.

    Parameters
    ----------
    free_percent : float or array-like, shape S
        Free un-ionised acid now, from `free_acid` or dose times `un_ionised_fraction` [%].
    minimum_use_percent : float or array-like, shape S
        Lower end of the usual range, as acid [%].
    window_top_ph : float or array-like, shape S
        Highest pH at which the acid is recommended [pH units].
    pka : float or array-like, shape S
        As in `un_ionised_fraction`.

    Returns
    -------
    float or ndarray, shape S
        1 when both agree, above 1 when there is more [-].

    Raises
    ------
    ScienceError
        A negative level, or a minimum of zero.

    Notes
    -----
    free / (minimum x un-ionised share at the top of the window): like is compared with
    like. An orientation; a challenge test decides.

    Examples
    --------
    >>> round(working_ratio(0.04, 0.2, 5.5, 4.76), 2)
    1.3
    """
    low = given(minimum_use_percent, "Lowest usual dose", "%", above=0.0)
    free = given(free_percent, "Free un-ionised level", "%", 0.0)
    return plain(free / (low * np.asarray(un_ionised_fraction(window_top_ph, pka))))


def log_d(log_p: npt.ArrayLike, ph: npt.ArrayLike, pka: npt.ArrayLike) -> Numbers:
    """Distribution coefficient of an acid when only its uncharged form enters the oil.

    Parameters
    ----------
    log_p : float or array-like, shape S
        Decimal logarithm of the partition coefficient of the uncharged acid [-].
    ph, pka : float or array-like, shape S
        As in `un_ionised_fraction`.

    Returns
    -------
    float or ndarray, shape S
        log10 of all acid in oil over all acid in water [-].

    Raises
    ------
    ScienceError
        As in `un_ionised_fraction`.

    Notes
    -----
    log D = log P + log10(un-ionised share).

    Examples
    --------
    >>> round(log_d(1.87, 5.0, 4.2), 3)
    1.006
    """
    share = np.asarray(un_ionised_fraction(ph, pka))
    return plain(given(log_p, "log P", "", -10.0, 15.0) + np.log10(share))


def oil_to_water_ratio(
    oil_percent: npt.ArrayLike,
    water_percent: npt.ArrayLike,
    oil_density: npt.ArrayLike = 0.92,
    water_density: npt.ArrayLike = 1.0,
) -> Numbers:
    """Volume of oil over volume of water.

    Parameters
    ----------
    oil_percent, water_percent : float or array-like, shape S
        Shares by weight [%].
    oil_density, water_density : float or array-like, shape S
        [g/mL]; 0.92 is that of a seed oil (common practice).

    Returns
    -------
    float or ndarray, shape S
        [-]

    Raises
    ------
    ScienceError
        No water, or a number that cannot be.

    Notes
    -----
    phi = (oil/density) / (water/density).

    Examples
    --------
    >>> round(oil_to_water_ratio(20.0, 70.0), 3)
    0.311
    """
    oil = given(oil_percent, "Oil phase", "%", 0.0, 100.0)
    water = given(water_percent, "Water phase", "%", above=0.0)
    heavy = given(oil_density, "Density of the oil", "g/mL", above=0.0)
    return plain(oil / heavy * given(water_density, "Density of the water", above=0.0) / water)


def log_kow(name: str) -> float:
    """log10 of the octanol/water partition coefficient from the table of partition.

    Parameters
    ----------
    name : str
        INCI name.

    Returns
    -------
    float
        At 25 °C [-]; sources differ by about 0.15.

    Raises
    ------
    ScienceError
        Not in the table.

    Notes
    -----
    ``datasets/partition.csv`` and ``partition_further.csv``; a first look only, see `in_water`.

    Examples
    --------
    >>> log_kow("phenoxyethanol")
    1.16
    """
    return _partition(name, "log_kow", "octanol")


def oil_water(name: str, oil: str) -> float:
    """Measured partition coefficient of a preservative between one oil and water.

    Parameters
    ----------
    name : str
        INCI name.
    oil : str
        ``"liquid paraffin"``, ``"soya oil"``, ``"arachis oil"``.

    Returns
    -------
    float
        Concentration in oil over concentration in water, w/v [-].

    Raises
    ------
    ScienceError
        This pair is not in the table.

    Notes
    -----
    ``datasets/partition.csv`` and ``partition_further.csv``, rows opened in
    J. Soc. Cosmet. Chem. 16 (1965) 15 and
    23 (1972) 703.

    Examples
    --------
    >>> oil_water("methylparaben", "soya oil")
    7.5
    """
    return _partition(name, "oil_water_coefficient", oil)


def _distribution(
    total_percent: npt.ArrayLike,
    oil_water: npt.ArrayLike,
    oil_to_water: npt.ArrayLike,
    binding: npt.ArrayLike,
) -> tuple[npt.NDArray[np.float64], ...]:
    return (
        given(total_percent, "Preservative", "%", 0.0, 100.0),
        given(oil_water, "Partition coefficient oil over water", "", 0.0),
        given(oil_to_water, "Oil to water", "", 0.0),
        given(binding, "Total over free in water", "", 1.0),
    )


def _partition(name: str, quantity: str, oil: str) -> float:
    key = (name.strip().casefold(), quantity, oil.strip().casefold())
    if key not in _table():
        raise ScienceError(
            where=name,
            found=f"no partition between {oil} and water in the table",
            allowed="Pairs that were measured and entered",
            cause="Nobody has entered it yet; each oil has its own coefficient",
            do="Give a measured coefficient, or leave the oil out and say so",
        )
    return _table()[key]


@cache
def _table() -> Mapping[tuple[str, str, str], float]:
    return {
        (
            (row["inci"] or "").casefold(),
            row["property"] or "",
            (row["medium"] or "").casefold(),
        ): float(row["value"] or "nan")
        for table in ("partition_further", "partition")
        for row in rows(table)
    }
