"""From a pH wanted to the amount of a reagent that brings it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.errors import ScienceError
from labkit.science.acid_constants import Constants, component_name
from labkit.science.acid_materials import acid_material
from labkit.science.acidbase_checks import MOST_MOL_PER_KG, PH_LIMITS, check_amounts
from labkit.science.acidbase_scalar import LN10
from labkit.science.acidbase_system import System, compile_system
from labkit.science.acidbase_vector import Batch, Index
from labkit.science.activity import Array, ph_uncertainty

Reagent = str | Mapping[str, float]

NEARLY_ALL = 1.0 - 1e-9
FIRST_SHARE = 0.75


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """Reagent for a wanted pH.

    Attributes
    ----------
    amount : float or ndarray
        In ``unit``; 0 where the mixture is there already.
    unit : str
        ``"g per kg water"`` for a material, ``"mol per kg water"`` for components.
    target : float or ndarray
        The pH asked for.
    low, high : float or ndarray
        Amounts that bring the pH to the near and the far end of what the calculation
        leaves open around the target (``ph_half_width``).
    ph_half_width : float or ndarray
        See `ph_uncertainty`.
    start_ph, furthest_ph : float
        Where the mixture stands, and the last pH this reagent can reach.
    caution : str
        What can hurt, or "".
    words : str
        The answer as a line for the weigh sheet; "" for an array of targets.
    """

    amount: float | Array
    unit: str
    target: float | Array
    low: float | Array
    high: float | Array
    ph_half_width: float | Array
    start_ph: float
    furthest_ph: float
    caution: str
    words: str


@dataclass(frozen=True, slots=True)
class DosedMixture:
    """A mixture and a reagent over the same components."""

    system: System
    start: Array
    per_unit: Array
    water_kg: float
    unit: str
    caution: str

    @classmethod
    def of(
        cls,
        totals: Mapping[str, float],
        reagent: Reagent,
        constants: Constants | None,
        temperature_c: float,
        activity: str,
    ) -> DosedMixture:
        contents, water_kg, unit, caution = _reagent(reagent)
        start = _one_mixture(totals)
        names = tuple(dict.fromkeys([*start, *contents]))
        return cls(
            compile_system(names, constants, temperature_c, activity),
            np.array([start.get(name, 0.0) for name in names]),
            np.array([contents.get(name, 0.0) for name in names]),
            water_kg,
            unit,
            caution,
        )

    def mixture(self, amount: ArrayLike) -> Array:
        """Totals after ``amount`` of reagent, its water counted."""
        added = np.asarray(amount, dtype=float)[..., None]
        return np.asarray((self.start + added * self.per_unit) / (1.0 + added * self.water_kg))

    def most(self) -> float:
        """The amount at which a component meets the 20 mol/kg that can be calculated."""
        check_amounts(self.system.names, self.start)
        gain = self.per_unit - MOST_MOL_PER_KG * self.water_kg
        room = (MOST_MOL_PER_KG - self.start)[gain > 0.0] / gain[gain > 0.0]
        return float(room.min()) * NEARLY_ALL if room.size else 1e6

    def amount_at(self, ph: Array) -> Array:
        """The signed amount that satisfies the charge balance at each pH."""
        x = ph * -LN10
        start, added = self._copies(self.start, x), self._copies(self.per_unit, x)
        beside = 1.0 - self.water_kg

        def parts(x: Array, d: Array, live: Index) -> tuple[Array, Array, Array, Array]:
            a, b = start.pick(live), added.pick(live)
            h, oh = np.exp(x + LN10 * d), a.kw * np.exp(LN10 * d - x)
            needed = -a.residual(x, d)
            brought = b.residual(x, d) - beside * (h - oh)
            return needed, brought, a.strength(x, d), b.strength(x, d) - beside * 0.5 * (h + oh)

        def strength(x: Array, d: Array, live: Index) -> Array:
            needed, brought, i_start, i_added = parts(x, d, live)
            amount = np.clip(_divide(needed, brought), 0.0, self.most())
            mixed = (i_start + amount * i_added) / (1.0 + amount * self.water_kg)
            return np.maximum(mixed, 0.0)

        d = self.system.settle_at(x, strength)
        needed, brought, _, _ = parts(x, d, np.arange(x.size))
        return _divide(needed, brought)

    def _copies(self, row: Array, x: Array) -> Batch:
        return self.system.batch(np.broadcast_to(row, (x.size, row.size)))


def _divide(top: Array, bottom: Array) -> Array:
    return np.divide(top, bottom, out=np.full_like(top, np.inf), where=bottom != 0.0)


def dose_for_ph(
    totals: Mapping[str, float],
    reagent: Reagent,
    target: ArrayLike,
    constants: Constants | None = None,
    temperature_c: float = 25.0,
    activity: str = "davies",
) -> Dose:
    """How much of a reagent brings a mixture to a pH.

    Parameters
    ----------
    totals : mapping of str to float
        The mixture, as in `solve_ph`, single numbers [mol per kg water].
    reagent : str or mapping of str to float
        A material such as ``"Sodium hydroxide 10 % solution"`` (its water is counted), or
        components such as ``{"Na": 1}`` for one mole of sodium hydroxide.
    target : float or array-like, shape S
        The pH wanted.
    constants, temperature_c, activity
        As in `solve_ph`.

    Returns
    -------
    Dose
        Amounts of shape S, per kg of the water present before.

    Raises
    ------
    ScienceError
        A pH that this reagent cannot reach, with the range that it can; what `solve_ph`
        refuses.

    Notes
    -----
    At a fixed pH the charge balance is linear in the amount: dose = -q(mixture)/q(reagent)
    with both charges at that pH, and the ionic strength iterated. Checked by solving the
    dosed mixture forward. Add three quarters first and finish by the meter.

    Examples
    --------
    >>> round(dose_for_ph({"lactate": 0.1}, {"Na": 1.0}, 4.0).amount, 4)
    0.063
    """
    job = DosedMixture.of(totals, reagent, constants, temperature_c, activity)
    wanted = _targets(target)
    most = job.most()
    ends = np.atleast_1d(job.system.solve(job.mixture([0.0, most])))
    start_ph, furthest_ph = float(ends[0]), float(ends[1])
    flat = wanted.reshape(-1)
    amount = job.amount_at(flat)
    amount = np.where(np.abs(flat - start_ph) < 1e-9, 0.0, amount)
    bad = ~((amount >= 0.0) & (amount <= most))
    bad |= ~bad & (np.abs(np.where(bad, 0.0, _reached(job, amount, bad) - flat)) > 1e-4)
    if bad.any():
        raise _unreachable(reagent, float(flat[bad][0]), start_ph, furthest_ph)
    half = np.atleast_1d(np.asarray(_half_widths(job, amount)))
    near, far = (_clipped(job, flat + sign * half, amount, most) for sign in (-1.0, 1.0))
    low, high = np.minimum(near, far), np.maximum(near, far)

    def shaped(values: Array) -> float | Array:
        return float(values[0]) if wanted.ndim == 0 else values.reshape(wanted.shape)

    return Dose(
        amount=shaped(amount),
        unit=job.unit,
        target=shaped(flat),
        low=shaped(low),
        high=shaped(high),
        ph_half_width=shaped(half),
        start_ph=start_ph,
        furthest_ph=furthest_ph,
        caution=job.caution,
        words=_words(job, amount, low, high, flat) if wanted.ndim == 0 else "",
    )


def _words(job: DosedMixture, amount: Array, low: Array, high: Array, target: Array) -> str:
    if amount[0] == 0.0:
        return f"The mixture stands at pH {target[0]:.2f} already: nothing to add."
    return (
        f"{amount[0]:.3g} {job.unit} for pH {target[0]:.2f} ({low[0]:.3g} to {high[0]:.3g}): "
        f"add {FIRST_SHARE * low[0]:.3g}, stir, wait, read the pH; finish in steps by the meter."
    )


def _reached(job: DosedMixture, amount: Array, bad: NDArray[np.bool_]) -> Array:
    return np.atleast_1d(job.system.solve(job.mixture(np.where(bad, 0.0, amount))))


def _half_widths(job: DosedMixture, amount: Array) -> float | Array:
    return ph_uncertainty(job.system.detail(job.mixture(amount)).ionic_strength)


def _clipped(job: DosedMixture, ph: Array, amount: Array, most: float) -> Array:
    """The dose at a neighbouring pH; where the reagent does not reach it, the nearest end."""
    found = job.amount_at(np.clip(ph, *PH_LIMITS))
    rising = np.clip(found, 0.0, most)
    wrong = ~np.isfinite(found)
    return np.where(wrong, amount, rising)


def _unreachable(
    reagent: Reagent, target: float, start_ph: float, furthest_ph: float
) -> ScienceError:
    name = reagent if isinstance(reagent, str) else " + ".join(reagent)
    low, high = min(start_ph, furthest_ph), max(start_ph, furthest_ph)
    return ScienceError(
        where=f"pH {target:g} with {name}",
        found=f"the mixture stands at pH {start_ph:.2f}",
        allowed=f"This reagent reaches pH {low:.2f} to {high:.2f}",
        cause="The reagent pulls the other way, or is too weak for this pH",
        do="Take a base to go up, an acid to go down, a stronger one to go further",
        reachable=(low, high),
    )


def _reagent(reagent: Reagent) -> tuple[dict[str, float], float, str, str]:
    if isinstance(reagent, str):
        material = acid_material(reagent)
        water_kg = material.water_g_per_g / 1000.0
        return dict(material.contents), water_kg, "g per kg water", material.caution
    contents = {component_name(name): float(amount) for name, amount in reagent.items()}
    values = contents.values()
    if not contents or any(not math.isfinite(value) or value < 0.0 for value in values):
        raise ScienceError(
            where="Reagent",
            found=f"{dict(reagent)!r}",
            allowed="Components with the moles each brings, such as {'Na': 1}",
            cause="No component, or an amount below zero",
            do="An acid is given as its acid part alone, such as {'citrate': 1}",
        )
    return contents, 0.0, "mol per kg water", ""


def _one_mixture(totals: Mapping[str, float]) -> dict[str, float]:
    found: dict[str, float] = {}
    for name, amount in totals.items():
        if np.ndim(amount) != 0 or isinstance(amount, str | bool) or amount is None:
            raise ScienceError(
                where="Amounts",
                found=f"{name}: {amount!r}",
                allowed="One number for each component",
                cause="A dose is worked out for one mixture at a time",
                do="Give single numbers in mol per kg water",
            )
        own = component_name(name)
        found[own] = found.get(own, 0.0) + float(amount)
    return found


def _targets(target: ArrayLike) -> Array:
    wanted = np.asarray(target, dtype=float)
    if not np.all((wanted >= 0.0) & (wanted <= 14.0)):
        raise ScienceError(
            where="Wanted pH",
            found=f"pH {float(np.ravel(wanted)[0]):g}",
            allowed="0 to 14",
            cause="A decimal point may be missing",
            do="Give the pH wanted on the meter",
        )
    return wanted
