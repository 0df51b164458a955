"""pH of water phases: acids, bases, salts, buffers; this is the door of the acid-base room.

Totals go in as mol per kg water, the pH of the mixture comes out as -log10 of the
activity of H+.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, overload

import numpy as np
from numpy.typing import ArrayLike

from labkit.errors import ScienceError
from labkit.science.acid_constants import Constants, component_name, pka_at, shipped_components
from labkit.science.acid_materials import (
    AcidMaterial,
    acid_material,
    acid_materials,
    totals_from_grams,
)
from labkit.science.acidbase_system import Solution, System, compile_system
from labkit.science.activity import (
    Array,
    activity_term,
    debye_huckel_a,
    ionic_strength_words,
    ph_uncertainty,
    water_pkw,
)
from labkit.science.dosing import Dose, dose_for_ph
from labkit.science.neutralising import Neutralisation, apparent_acids, neutralise
from labkit.science.titration import (
    ScaledTitration,
    buffer_capacity,
    scale_bench_titration,
    titration_curve,
)

__all__ = [
    "AcidMaterial",
    "Dose",
    "Neutralisation",
    "ScaledTitration",
    "Solution",
    "System",
    "acid_material",
    "acid_materials",
    "activity_term",
    "apparent_acids",
    "buffer_capacity",
    "charge",
    "compile_system",
    "component_name",
    "debye_huckel_a",
    "dose_for_ph",
    "ionic_strength_words",
    "neutralise",
    "ph_uncertainty",
    "pka_at",
    "scale_bench_titration",
    "shipped_components",
    "solve_ph",
    "titration_curve",
    "totals_from_grams",
    "undissociated_fraction",
    "water_pkw",
]


@overload
def solve_ph(
    totals: Mapping[str, ArrayLike],
    constants: Constants | None = None,
    temperature_c: ArrayLike = 25.0,
    activity: str = "davies",
    detail: Literal[False] = False,
) -> float | Array: ...
@overload
def solve_ph(
    totals: Mapping[str, ArrayLike],
    constants: Constants | None = None,
    temperature_c: ArrayLike = 25.0,
    activity: str = "davies",
    *,
    detail: Literal[True],
) -> Solution: ...
def solve_ph(
    totals: Mapping[str, ArrayLike],
    constants: Constants | None = None,
    temperature_c: ArrayLike = 25.0,
    activity: str = "davies",
    detail: bool = False,
) -> float | Array | Solution:
    """pH of a mixture of acids, bases and ions in water.

    Parameters
    ----------
    totals : mapping of str to float or array-like, shapes broadcast to S
        Total of each component, whatever its form [mol per kg water]: acids and bases by
        name (``"citrate"``, ``"lactate"``, ``"triethanolamine"`` …), strong ions as
        ``"Na"``, ``"K"``, ``"Cl"``. Sodium benzoate is benzoate and Na.
    constants : mapping, optional
        Constants that go before the shipped ones: name to ``pKa25``,
        ``charge_fully_deprotonated`` and, where known, ``dH_kJ_per_mol``,
        ``dCp_J_per_mol_K``; at 25 °C and ionic strength 0.
    temperature_c : float or array-like, broadcast with S
        0 to 100 [°C].
    activity : {"davies", "bates-guggenheim", "ideal"}
        Activity model, see `activity_term`.
    detail : bool
        Give a `Solution` with ionic strength and species (one temperature only).

    Returns
    -------
    float or ndarray of shape S, or Solution
        pH = -log10 a(H+).

    Raises
    ------
    ScienceError
        Negative, missing or impossible amounts, unknown components, a temperature outside
        0-100 °C, shapes that do not fit.

    Notes
    -----
    Charge balance over the totals, sum of z c = 0, with species shares from the cumulative
    protonation constants, log gamma = -z² A (sqrt I/(1 + sqrt I) - 0.3 I) (Davies 1962,
    neutral species 1), A and pKw from `debye_huckel_a` and `water_pkw`, pKa(T) from
    `pka_at`; I is iterated until it agrees with the species. Checked against the primary
    pH standards of NIST and IUPAC, 15-40 °C. ± 0.03 up to I 0.1, see `ph_uncertainty`.
    Not for water phases rich in glycol or ethanol, nor for polymers.

    Examples
    --------
    Potassium hydrogen phthalate 0.05 mol/kg, the standard of pH 4.006 at 25 °C:

    >>> round(solve_ph({"phthalate": 0.05, "K": 0.05}), 2)
    4.01
    >>> solve_ph({"citrate": 0.05, "Na": [0.05, 0.1]}).round(2).tolist()
    [3.77, 5.1]
    """
    names = _names(totals)
    temperature = np.asarray(temperature_c, dtype=float)
    if temperature.ndim == 0:
        system = compile_system(names, constants, float(temperature), activity)
        matrix = _stack(totals)
        return system.detail(matrix) if detail else system.solve(matrix)
    if detail:
        raise ScienceError(
            where="Temperature",
            found=f"{temperature.size} temperatures with detail",
            allowed="One temperature when species are asked for",
            cause="An array was given",
            do="Ask for one temperature at a time",
        )
    return _at_temperatures(totals, constants, temperature, activity)


def _at_temperatures(
    totals: Mapping[str, ArrayLike], constants: Constants | None, temperature: Array, activity: str
) -> Array:
    matrix = _stack(totals)
    shape = np.broadcast_shapes(matrix.shape[:-1], temperature.shape)
    matrix = np.broadcast_to(matrix, (*shape, matrix.shape[-1]))
    level = np.broadcast_to(temperature, shape)
    found = np.empty(shape)
    for one in np.unique(level):
        here = level == one
        found[here] = compile_system(_names(totals), constants, float(one), activity).solve(
            matrix[here]
        )
    return found


def charge(
    ph: ArrayLike,
    totals: Mapping[str, ArrayLike],
    constants: Constants | None = None,
    temperature_c: float = 25.0,
    activity: str = "davies",
) -> float | Array:
    """Charge that the listed components leave over at a given pH.

    Parameters
    ----------
    ph : float or array-like, broadcast with the totals to shape S
        -3.5 to 20 [pH units].
    totals, constants, temperature_c, activity
        As in `solve_ph`.

    Returns
    -------
    float or ndarray, shape S
        [mol per kg water]; zero at the pH of the mixture, falling as pH rises. Measured at
        a measured pH it is what the recipe does not explain: minus this is the strong
        base (positive) or acid (negative) that must be there.

    Raises
    ------
    ScienceError
        As `solve_ph`, and a pH outside -3.5 to 20.

    Notes
    -----
    The charge balance of `solve_ph` without its root search; the missing ion is counted
    as a monovalent one in the ionic strength.

    Examples
    --------
    >>> round(-charge(4.65, {"acetate": 0.2}), 2)
    0.1
    """
    system = compile_system(_names(totals), constants, temperature_c, activity)
    return system.charge(ph, _stack(totals))


def undissociated_fraction(
    ph: ArrayLike,
    pka: ArrayLike,
    ionic_strength: ArrayLike = 0.0,
    temperature_c: float = 25.0,
    charge_of_acid: int = 0,
) -> float | Array:
    """Share of a one-step acid that still carries its proton.

    Parameters
    ----------
    ph : float or array-like, broadcast to shape S
        Of the water phase, -3.5 to 20 [pH units].
    pka : float or array-like, broadcast to S
        At ionic strength 0 and this temperature.
    ionic_strength : float or array-like, broadcast to S
        [mol per kg water].
    temperature_c : float
        0 to 100, sets the activity term [°C].
    charge_of_acid : int
        Charge with the proton: 0 for benzoic acid, 1 for a protonated amine.

    Returns
    -------
    float or ndarray, shape S
        0 to 1 [-].

    Raises
    ------
    ScienceError
        A pH outside -3.5 to 20, a negative ionic strength, a temperature outside 0-100 °C.

    Notes
    -----
    1/(1 + 10^(pH - pKa')) with pKa' = pKa + D (2 z - 1), D from the Davies equation and z
    the charge with the proton (Henderson and Hasselbalch; thermodynamic constant, pH as
    activity). Water phase only: oil and surfactant take more of the un-ionised form.

    Examples
    --------
    >>> round(undissociated_fraction(5.0, 4.20), 3)
    0.137
    >>> round(undissociated_fraction(5.0, 4.20, ionic_strength=0.1), 2)
    0.11
    """
    level, constant = np.asarray(ph, dtype=float), np.asarray(pka, dtype=float)
    if not np.all((level >= -3.5) & (level <= 20.0)):
        raise ScienceError(
            where="pH",
            found=f"{np.ravel(level)[0]:g} and the like" if level.ndim else f"pH {float(level):g}",
            allowed="A pH lies between 0 and 14, in extreme solutions a little beyond",
            cause="A decimal point may be missing",
            do="Give the pH as read on the meter",
        )
    shift = np.asarray(activity_term(ionic_strength, temperature_c)) * (2 * charge_of_acid - 1)
    share = 1.0 / (1.0 + 10.0 ** (level - constant - shift))
    return float(share) if np.ndim(share) == 0 else np.asarray(share)


def _names(totals: Mapping[str, ArrayLike]) -> tuple[str, ...]:
    if not isinstance(totals, Mapping):
        raise ScienceError(
            where="Amounts",
            found=f"{totals!r}",
            allowed="Component names with their amounts in mol per kg water",
            cause="A list or a number in place of names with amounts",
            do='Write {"citrate": 0.05, "Na": 0.05}',
        )
    return tuple(totals)


def _stack(totals: Mapping[str, ArrayLike]) -> Array:
    if not totals:
        return np.zeros(0)
    columns = []
    for name, amount in totals.items():
        try:
            columns.append(np.asarray(_number(amount), dtype=float))
        except (TypeError, ValueError) as error:
            raise ScienceError(
                where="Amounts",
                found=f"{name}: {amount!r}",
                allowed="A number in mol per kg water, or an array of them",
                cause="Text, an empty cell or a number with its unit",
                do="Give the bare number",
            ) from error
    try:
        return np.stack(np.broadcast_arrays(*columns), axis=-1)
    except ValueError as error:
        shapes = ", ".join(f"{n} {c.shape}" for n, c in zip(totals, columns, strict=True))
        raise ScienceError(
            where="Amounts",
            found=f"arrays that do not fit each other: {shapes}",
            allowed="Single numbers and arrays of one common shape",
            cause="One list is longer than another",
            do="Give every list the same length",
        ) from error


def _number(amount: ArrayLike) -> ArrayLike:
    if isinstance(amount, str | bytes | bool) or amount is None or np.iscomplexobj(amount):
        raise TypeError(amount)
    return amount
