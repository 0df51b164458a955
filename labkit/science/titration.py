"""Buffer capacity, titration curves, and a bench titration carried over to the batch."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from labkit.errors import ScienceError
from labkit.science.acid_constants import Constants
from labkit.science.acidbase_system import compile_system
from labkit.science.activity import Array
from labkit.science.dosing import DosedMixture, Reagent

STEP_PH = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaledTitration:
    """A bench titration carried over to the batch.

    Attributes
    ----------
    total_g : float
        Stock for the whole batch [g].
    first_g : float
        To be added at once [g].
    rest_g : float
        To be added in small steps, reading the pH [g].
    words : str
        The same as a line for the weigh sheet.
    """

    total_g: float
    first_g: float
    rest_g: float
    words: str


def buffer_capacity(
    totals: Mapping[str, ArrayLike],
    constants: Constants | None = None,
    temperature_c: float = 25.0,
    activity: str = "davies",
    ph: ArrayLike | None = None,
) -> float | Array:
    """How firmly a mixture holds its pH.

    Parameters
    ----------
    totals : mapping of str to float or array-like, shapes broadcast to S
        As in `solve_ph` [mol per kg water].
    constants, temperature_c, activity
        As in `solve_ph`.
    ph : float or array-like, broadcast with S, optional
        Where to look; by default the mixture's own pH.

    Returns
    -------
    float or ndarray
        Strong base for one pH unit [mol per kg water per pH], zero or more.

    Raises
    ------
    ScienceError
        As `solve_ph`.

    Notes
    -----
    beta = d(strong base)/d(pH) (Van Slyke 1922), the mean of adding base and adding acid,
    by a central difference of 0.001 pH in the charge balance, activities included.

    Examples
    --------
    >>> round(buffer_capacity({"phosphate": 0.05, "K": 0.025, "Na": 0.05}), 3)
    0.03
    """
    names = tuple(totals)
    system = compile_system(names, constants, temperature_c, activity)
    columns = np.broadcast_arrays(*[np.asarray(totals[name], dtype=float) for name in names])
    matrix = np.stack(columns, axis=-1) if names else np.zeros(0)
    level = np.asarray(system.solve(matrix) if ph is None else ph, dtype=float)
    above, below = system.charge(level + STEP_PH, matrix), system.charge(level - STEP_PH, matrix)
    return (below - above) / (2.0 * STEP_PH)


def titration_curve(
    totals: Mapping[str, float],
    reagent: Reagent,
    doses: ArrayLike,
    constants: Constants | None = None,
    temperature_c: float = 25.0,
    activity: str = "davies",
) -> float | Array:
    """pH against the amount of reagent added.

    Parameters
    ----------
    totals, reagent, constants, temperature_c, activity
        As in `dose_for_ph`.
    doses : float or array-like, shape S
        Amounts of the reagent: [g per kg water] of a material, [mol per kg water] of
        components.

    Returns
    -------
    float or ndarray, shape S
        pH after each dose.

    Raises
    ------
    ScienceError
        As `solve_ph`.

    Notes
    -----
    `solve_ph` of the dosed mixture; the reagent's water dilutes it.

    Examples
    --------
    >>> titration_curve({"acetate": 0.1}, {"Na": 1.0}, [0.0, 0.05, 0.1]).round(2).tolist()
    [2.88, 4.67, 8.77]
    """
    job = DosedMixture.of(totals, reagent, constants, temperature_c, activity)
    added = np.asarray(doses, dtype=float)
    if not np.all(added >= 0.0):
        raise ScienceError(
            where="Titration",
            found="an amount below zero, or none",
            allowed="Amounts of 0 or more",
            cause="What was added cannot be taken out",
            do="To go the other way, give the other reagent",
        )
    return job.system.solve(job.mixture(added))


def scale_bench_titration(
    stock_on_sample_g: float, sample_g: float, batch_left_g: float, first_share: float = 0.75
) -> ScaledTitration:
    """Carry the titration of a small sample over to the batch.

    Parameters
    ----------
    stock_on_sample_g : float
        Stock solution that brought the sample to the pH wanted [g].
    sample_g : float
        Weight of the sample before [g].
    batch_left_g : float
        Batch without the sample [g].
    first_share : float
        Share of the total to add at once, above 0 up to 1 [-].

    Returns
    -------
    ScaledTitration

    Raises
    ------
    ScienceError
        A weight that is not above zero, a share outside 0 to 1.

    Notes
    -----
    total = stock x batch/sample. Three quarters first is common practice: a sample is
    stirred and read in another way than the batch.

    Examples
    --------
    >>> scale_bench_titration(0.42, 50.0, 950.0).words
    '7.98 g of stock for 950 g: add 5.99 g, stir, wait, read the pH; then up to 2.00 g in steps.'
    """
    for name, value in (
        ("Stock on the sample", stock_on_sample_g),
        ("Sample", sample_g),
        ("Batch left", batch_left_g),
    ):
        if not math.isfinite(value) or value <= 0.0:
            raise ScienceError(
                where=name,
                found=f"{value:g} g",
                allowed="More than 0 g",
                cause="A weight was left out or carries a sign",
                do="Give the weight in grams",
            )
    if not 0.0 < first_share <= 1.0:
        raise ScienceError(
            where="First share",
            found=f"{first_share:g}",
            allowed="Above 0, up to 1",
            cause="A percentage in place of a share",
            do="Write 0.75 for three quarters",
        )
    total = stock_on_sample_g * batch_left_g / sample_g
    first = total * first_share
    return ScaledTitration(
        total_g=total,
        first_g=first,
        rest_g=total - first,
        words=f"{total:.2f} g of stock for {batch_left_g:g} g: add {first:.2f} g, stir, wait, "
        f"read the pH; then up to {total - first:.2f} g in steps.",
    )
