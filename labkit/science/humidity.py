"""Water activity of solutions: what a humectant or a salt leaves of the water's pressure.

At the levels of a cosmetic (5 % glycerin: 0.99) humectants do not preserve.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain
from labkit.science.water import MOL_PER_KG
from labkit.tables import rows

NORRISH_ACCURACY = 0.010  # of the equation down to aw 0.7: 0.005-0.010

# Pitzer, J. Phys. Chem. 77 (1973) 268, NaCl at 25 °C; A_phi of water at 25 °C. From memory.
_NACL_BETA0, _NACL_BETA1, _NACL_C, _A_PHI, _B, _ALPHA = 0.0765, 0.2664, 0.00127, 0.3915, 1.2, 2.0


def molality(
    solute_percent: npt.ArrayLike,
    molar_mass_g_mol: npt.ArrayLike,
    water_percent: npt.ArrayLike | None = None,
) -> Numbers:
    """Moles of solute per kilogram of water.

    Parameters
    ----------
    solute_percent : float or array-like, shape S
        By weight [%].
    molar_mass_g_mol : float or array-like, shape S
        [g/mol]
    water_percent : float or array-like, shape S, optional
        By weight; the rest to 100 when left out [%].

    Returns
    -------
    float or ndarray, shape S
        [mol/kg]

    Raises
    ------
    ScienceError
        No water, or a number that cannot be.

    Notes
    -----
    m = 1000 w_s / (M w_w).

    Examples
    --------
    >>> round(molality(20.0, 92.0938), 4)
    2.7146
    """
    w = given(solute_percent, "Solute", "%", 0.0, 100.0)
    water = given(100.0 - w if water_percent is None else water_percent, "Water", "%", above=0.0)
    m = given(molar_mass_g_mol, "Molar mass", "g/mol", above=0.0)
    return plain(1000.0 * w / (m * water))


def raoult(molalities: npt.ArrayLike) -> Numbers:
    """Ideal water activity: the mole fraction of water.

    Parameters
    ----------
    molalities : array-like, shape (..., n)
        Of every solute; a salt counts once per ion [mol/kg].

    Returns
    -------
    float or ndarray, shape (...)
        [-]

    Raises
    ------
    ScienceError
        A negative molality.

    Notes
    -----
    Raoult's law. Lower accuracy: 0.01-0.03 at 30 %.

    Examples
    --------
    >>> round(raoult([5.6321]), 4)
    0.9079
    """
    return norrish(molalities, 0.0)


def norrish(molalities: npt.ArrayLike, constants: npt.ArrayLike) -> Numbers:
    """Water activity of one or several non-electrolytes.

    Parameters
    ----------
    molalities : array-like, shape (..., n)
        Of every solute [mol/kg].
    constants : array-like, shape (n,)
        Norrish K of each; 0 is ideal [-].

    Returns
    -------
    float or ndarray, shape (...)
        [-]

    Raises
    ------
    ScienceError
        A negative molality or constant.

    Notes
    -----
    aw = xw exp(-(sum sqrt(K_i) x_i)^2), Norrish, J. Food Technol. 1 (1966) 25; for one solute
    aw = xw exp(-K x^2). Good to 0.005-0.010 down to aw 0.7.

    Examples
    --------
    >>> round(norrish([2.7146], [1.16]), 3)
    0.951
    """
    m = given(molalities, "Molality", "mol/kg", 0.0)
    k = given(constants, "Norrish constant", "", 0.0)
    m = m[..., None] if m.ndim == 0 else m
    total = m.sum(axis=-1) + MOL_PER_KG
    return plain(MOL_PER_KG / total * np.exp(-(((np.sqrt(k) * m).sum(axis=-1) / total) ** 2)))


def ross(molalities: npt.ArrayLike, constants: npt.ArrayLike) -> Numbers:
    """Water activity of a mixture as the product of its binaries.

    Parameters
    ----------
    molalities, constants : array-like, shape (..., n) and (n,)
        As in `norrish`.

    Returns
    -------
    float or ndarray, shape (...)
        [-]

    Raises
    ------
    ScienceError
        As in `norrish`.

    Notes
    -----
    Ross, Food Technology 29 (1975) 26: each binary at the same solute to water ratio.

    Examples
    --------
    >>> round(ross([0.305, 0.3651], [1.65, 1.66]), 4)
    0.9879
    """
    m = given(molalities, "Molality", "mol/kg", 0.0)
    k = np.broadcast_to(given(constants, "Norrish constant", "", 0.0), m.shape)
    x = m / (m + MOL_PER_KG)
    return plain(np.prod((1.0 - x) * np.exp(-k * x**2), axis=-1))


def sodium_chloride(molality_mol_kg: npt.ArrayLike) -> Numbers:
    """Water activity of table salt in water at 25 °C.

    Parameters
    ----------
    molality_mol_kg : float or array-like, shape S
        0 to 6.15, the saturated solution [mol/kg].

    Returns
    -------
    float or ndarray, shape S
        [-]

    Raises
    ------
    ScienceError
        Negative, or more than dissolves.

    Notes
    -----
    Osmotic coefficient by Pitzer, J. Phys. Chem. 77 (1973) 268 (constants from memory);
    agrees with Robinson & Stokes within 0.001.

    Examples
    --------
    >>> round(sodium_chloride(6.0), 3)
    0.759
    """
    m = given(molality_mol_kg, "Sodium chloride", "mol/kg", 0.0, 6.2)
    root = np.sqrt(m)
    phi = (
        1.0
        - _A_PHI * root / (1.0 + _B * root)
        + m * (_NACL_BETA0 + _NACL_BETA1 * np.exp(-_ALPHA * root))
        + m**2 * _NACL_C
    )
    return plain(np.exp(-2.0 * m * phi / MOL_PER_KG))


def solution(solutes_percent: Mapping[str, float], water_percent: float) -> float:
    """Water activity of a water phase from names and percentages.

    Parameters
    ----------
    solutes_percent : mapping of str to float
        Name of each dissolved humectant, sugar or sodium chloride, and its amount [%].
    water_percent : float
        Water beside them, in the same unit [%].

    Returns
    -------
    float
        At 25 °C [-]; ± 0.01 where constants are known, less exact where they are not.

    Raises
    ------
    ScienceError
        A solute that is not in ``datasets/norrish_constants.csv``, or no water.

    Notes
    -----
    `norrish` for the non-electrolytes times `sodium_chloride` (Ross).

    Examples
    --------
    >>> round(solution({"glycerin": 5.0}, 95.0), 3)
    0.99
    """
    table = constants()
    m, k, salt = [], [], 0.0
    for name, percent in solutes_percent.items():
        key = name.strip().casefold()
        if key in {"sodium chloride", "nacl", "salt"}:
            salt = float(molality(percent, 58.4428, water_percent))
            continue
        if key not in table:
            raise ScienceError(
                where=name,
                found="no data for its water activity",
                allowed=f"{len(table)} humectants and sugars, and sodium chloride",
                cause="Nobody has entered it yet",
                do="Leave it out and say so, or use raoult with its molar mass",
            )
        mass, constant = table[key]
        m.append(float(molality(percent, mass, water_percent)))
        k.append(constant or 0.0)
    sugar = float(norrish(m, k)) if m else 1.0
    return sugar * float(sodium_chloride(salt))


@cache
def constants() -> Mapping[str, tuple[float, float | None]]:
    """Molar mass and Norrish constant of each solute, by name and synonym.

    Returns
    -------
    mapping of str to (molar mass [g/mol], K or None)
        Lower-case names; None where no constant is known.

    Raises
    ------
    DataFileError
        The table is missing.

    Notes
    -----
    ``datasets/norrish_constants.csv``.

    Examples
    --------
    >>> constants()["glycerol"]
    (92.0938, 1.16)
    """
    found: dict[str, tuple[float, float | None]] = {}
    for row in rows("norrish_constants"):
        k = row["norrish_k"]
        pair = (float(row["molar_mass_g_mol"] or "nan"), float(k) if k is not None else None)
        for text in (row["solute"] or "", *(row["aliases"] or "").split("|")):
            if text:
                found[text.casefold()] = pair
    return MappingProxyType(found)
