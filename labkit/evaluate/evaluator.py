"""Every number of a formula at once, for one set of percentages or a million.

A formula's lines are compiled once with the materials; from then on percentages of
shape ``(..., n_lines)`` give arrays of shape ``(...)``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.errors import FormulaError
from labkit.evaluate.preservatives import Figures, Preservative
from labkit.formula import Formula
from labkit.materials import Material
from labkit.materials.decomposition import Decomposition
from labkit.science import preservation
from labkit.science.acidbase_system import Solution, System
from labkit.science.activity import ph_uncertainty

__all__ = ["Evaluator", "Numbers", "Working"]

Array = NDArray[np.float64]
CHUNK = 4096
"""Formulas evaluated at a time, so that a million need no more memory than a few thousand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Working:
    """Preservatives of the formula, along the last axis.

    ``free`` is the un-ionised level in the water phase [% of the water phase];
    ``doses`` is that level over what the lowest usual dose has at the top of its pH
    window, so 1 means "as much as the lowest usual dose where it just works".
    """

    names: tuple[str, ...]
    free: Array
    doses: Array


@dataclass(frozen=True, slots=True, kw_only=True)
class Numbers:
    """What the science says of a set of percentages; every array has their leading shape.

    Attributes
    ----------
    water, oil, emulsifier, electrolyte, unknown, apparent : ndarray
        Share of the batch [% w/w]: plain water, oil phase less emulsifiers, emulsifiers,
        dissolved salts and ions, lines whose material is not known, and polymers or fatty
        acids whose acid constant is an apparent one.
    ph, ph_half_width, ionic_strength, buffer : ndarray
        Of the water phase; NaN where there is too little water or nothing that sets the
        pH. ``buffer`` is mol per kg water and pH unit.
    hlb : ndarray
        Of the nonionic emulsifiers [-], NaN without any.
    required_low, required_high : ndarray
        Ends of the band of the oil phase's required HLB [-], NaN without data.
    cost_per_kg : ndarray
        Of the lines with a price.
    unpriced : ndarray
        Share of the batch without a price [% w/w].
    density : ndarray
        Ideal volumes [g/mL], NaN when over 5 % of the batch has no density.
    working : Working
    """

    water: Array
    oil: Array
    emulsifier: Array
    electrolyte: Array
    unknown: Array
    apparent: Array
    ph: Array
    ph_half_width: Array
    ionic_strength: Array
    buffer: Array
    hlb: Array
    required_low: Array
    required_high: Array
    cost_per_kg: Array
    unpriced: Array
    density: Array
    working: Working


@dataclass(frozen=True, kw_only=True)
class Evaluator:
    """A formula's lines made ready; see :func:`labkit.evaluate.compile_formula`.

    Attributes
    ----------
    formula : Formula
        What was compiled.
    materials : tuple of (Material or None)
        One for each line.
    parts : Decomposition
        Lines into constituents.
    """

    formula: Formula
    materials: tuple[Material | None, ...]
    parts: Decomposition
    water: Array
    oil: Array
    emulsifier: Array
    electrolyte: Array
    unknown: Array
    apparent: Array
    price: Array
    density: Array
    hlb: Array
    required: Array
    moles: Array
    system: System | None
    preservatives: tuple[tuple[int, Preservative], ...]
    partition: Array
    oil_density: float

    @cached_property
    def percent(self) -> Array:
        """The formula's own percentages, as floats."""
        return np.array([float(x.percent) for x in self.formula.lines])

    @cached_property
    def _figures(self) -> Figures:
        return Figures.of([known for _, known in self.preservatives])

    @cached_property
    def _prices(self) -> tuple[Array, Array]:
        """Prices with 0 for the unknown ones, and 1 for each unknown one."""
        return np.nan_to_num(self.price), np.isnan(self.price).astype(float)

    @cached_property
    def _volumes(self) -> tuple[Array, Array]:
        """1 for each line whose density is known, and its volume [mL/g]."""
        known = ~np.isnan(self.density)
        return known.astype(float), np.where(known, 1.0 / np.where(known, self.density, 1.0), 0.0)

    @property
    def n_lines(self) -> int:
        """Number of lines."""
        return len(self.formula.lines)

    def __call__(self, percent: ArrayLike | None = None) -> Numbers:
        """Every number for these percentages (the formula's own without any).

        Parameters
        ----------
        percent : array-like, shape S + (n_lines,)
            % w/w of the batch.

        Raises
        ------
        FormulaError
            Another number of lines.

        Returns
        -------
        Numbers
            Arrays of shape S.
        """
        x = self.percent if percent is None else np.asarray(percent, dtype=float)
        if x.ndim == 0 or x.shape[-1] != self.n_lines:
            raise FormulaError(
                where=self.formula.name,
                found=f"percentages of shape {x.shape}",
                allowed=f"{self.n_lines} along the last axis, one for each line",
                cause="The percentages belong to another formula",
                do="Compile that formula",
            )
        rows = x.reshape(-1, self.n_lines)
        if len(rows) <= CHUNK:
            return _shaped([self._numbers(rows)], x.shape[:-1])
        parts = [self._numbers(rows[i : i + CHUNK]) for i in range(0, len(rows), CHUNK)]
        return _shaped(parts, x.shape[:-1])

    def totals(self, percent: Array) -> Array:
        """Acids, bases and ions, shape (..., n_components) [mol per kg water]."""
        water_kg = np.maximum(percent @ self.water, 1e-9)[..., None] / 1000.0
        return np.asarray((percent @ self.moles) / water_kg)

    def _numbers(self, x: Array) -> Numbers:
        water, oil = x @ self.water, x @ self.oil
        ph, strength, buffer = self._acidity(x, water)
        with np.errstate(divide="ignore", invalid="ignore"):
            surfactant = x @ self.hlb[0]
            needing = x @ self.required[0]
            known_density, volume = x @ self._volumes[0], x @ self._volumes[1]
            return Numbers(
                water=water,
                oil=oil,
                emulsifier=x @ self.emulsifier,
                electrolyte=x @ self.electrolyte,
                unknown=x @ self.unknown,
                apparent=x @ self.apparent,
                ph=ph,
                ph_half_width=np.asarray(ph_uncertainty(strength)),
                ionic_strength=strength,
                buffer=buffer,
                hlb=np.where(surfactant > 0, (x @ self.hlb[1]) / surfactant, np.nan),
                required_low=np.where(needing > 0, (x @ self.required[1]) / needing, np.nan),
                required_high=np.where(needing > 0, (x @ self.required[2]) / needing, np.nan),
                cost_per_kg=x @ self._prices[0] / 100.0,
                unpriced=x @ self._prices[1],
                density=np.where(known_density >= 95.0, known_density / volume, np.nan),
                working=self._working(x, ph, water, oil),
            )

    def _acidity(self, x: Array, water: Array) -> tuple[Array, Array, Array]:
        nan = np.full(len(x), np.nan)
        if self.system is None:
            return nan, np.zeros(len(x)), nan
        totals = self.totals(x)
        able = (water >= 5.0) & (totals.sum(axis=-1) > 0) & (totals.max(axis=-1) <= 20.0)
        ph, strength, buffer = nan.copy(), np.zeros(len(x)), nan.copy()
        if not able.any():
            return ph, strength, buffer
        solved = self.system.detail(totals[able] if len(x) > 1 else totals[0])
        ph[able], strength[able] = solved.ph, solved.ionic_strength
        buffer[able] = _buffer(solved, ph[able])
        return ph, strength, buffer

    def working(self, percent: ArrayLike, ph: ArrayLike) -> Working:
        """Working preservative at another pH than the calculated one, such as a reading.

        Parameters
        ----------
        percent : array-like, shape S + (n_lines,)
            % w/w of the batch.
        ph : array-like, shape S
            Of the water phase.
        """
        x = np.asarray(percent, dtype=float)
        rows = x.reshape(-1, self.n_lines)
        level = np.broadcast_to(np.asarray(ph, dtype=float), x.shape[:-1]).reshape(-1)
        found = self._working(rows, level, rows @ self.water, rows @ self.oil)
        shape = (*x.shape[:-1], len(found.names))
        return Working(
            names=found.names, free=found.free.reshape(shape), doses=found.doses.reshape(shape)
        )

    def _working(self, x: Array, ph: Array, water: Array, oil: Array) -> Working:
        count = len(self.preservatives)
        free, doses = np.zeros((len(x), count)), np.zeros((len(x), count))
        if not count:
            return Working(names=(), free=free, doses=doses)
        ratio = np.asarray(
            preservation.oil_to_water_ratio(
                np.minimum(oil, 95.0), np.maximum(water, 0.1), self.oil_density
            )
        )
        known = self._figures
        total = (x @ self.parts.typical[:, [i for i, _ in self.preservatives]]) * known.factor
        k, least = self.partition, known.least
        plain, acid = known.plain, known.acid
        if plain.size:
            free[:, plain] = preservation.in_water(total[:, plain], k[plain], ratio[:, None])
            doses[:, plain] = free[:, plain] / least[plain]
        if acid.size:
            at = np.where(np.isnan(ph)[:, None], known.top[acid], ph[:, None])
            free[:, acid] = preservation.free_acid(
                total[:, acid], k[acid], ratio[:, None], at, known.pka[acid]
            )
            doses[:, acid] = preservation.working_ratio(
                free[:, acid], least[acid], known.top[acid], known.pka[acid]
            )
        return Working(names=tuple(p.inci for _, p in self.preservatives), free=free, doses=doses)


def _buffer(solved: Solution, ph: Array) -> Array:
    """Buffer capacity from the spread of charges (Van Slyke 1922), activities held constant."""
    capacity = 10.0**-ph + 10.0 ** (ph - 14.0)
    for name, species in solved.species.items():
        charge = np.array(solved.charges[name], dtype=float)
        total = species.sum(axis=-1)
        square = species @ charge**2
        mean = species @ charge
        capacity = (
            capacity + square - np.divide(mean**2, total, out=np.zeros_like(total), where=total > 0)
        )
    return np.asarray(np.log(10.0) * capacity)


def _shaped(parts: list[Numbers], shape: tuple[int, ...]) -> Numbers:
    fields: dict[str, Any] = {}
    for name in Numbers.__slots__:
        if name == "working":
            continue
        fields[name] = _joined([getattr(p, name) for p in parts]).reshape(shape)
    names = parts[0].working.names
    fields["working"] = Working(
        names=names,
        free=_joined([p.working.free for p in parts]).reshape(*shape, len(names)),
        doses=_joined([p.working.doses for p in parts]).reshape(*shape, len(names)),
    )
    return Numbers(**fields)


def _joined(parts: list[Array]) -> Array:
    return parts[0] if len(parts) == 1 else np.concatenate(parts)
