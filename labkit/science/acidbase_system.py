"""A list of acids, bases and ions made ready once, then solved as often as wanted."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
from numpy.typing import ArrayLike

from labkit.errors import ScienceError
from labkit.science import acidbase_scalar, acidbase_vector
from labkit.science.acid_constants import (
    Component,
    Constants,
    check_temperature,
    component_name,
    find_component,
)
from labkit.science.acidbase_checks import bad_amounts, check_amounts, check_ph
from labkit.science.acidbase_scalar import LN10, Ladder
from labkit.science.acidbase_vector import CHUNK, Batch, Family, Index
from labkit.science.activity import (
    HELD_ABOVE,
    Array,
    debye_huckel_a,
    model_function,
    ph_uncertainty,
    water_pkw,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """What is dissolved at equilibrium; every array has the shape of the totals.

    Attributes
    ----------
    ph : float or ndarray
        -log10 of the activity of H+.
    ionic_strength : float or ndarray
        [mol per kg water].
    species : mapping of str to ndarray
        For each acid or base the amounts [mol per kg water] along the last axis, from
        the form with all its acid protons to the form with none.
    charges : mapping of str to tuple of int
        The charge of each of those forms.
    """

    ph: float | Array
    ionic_strength: float | Array
    species: Mapping[str, Array]
    charges: Mapping[str, tuple[int, ...]]

    @property
    def ph_half_width(self) -> float | Array:
        """± to expect against a meter in a plain water phase, see `ph_uncertainty`."""
        return ph_uncertainty(self.ionic_strength)


@dataclass(frozen=True, slots=True, kw_only=True)
class System:
    """Acids, bases and ions ready to be solved; made by `compile_system`.

    Attributes
    ----------
    names : tuple of str
        The components in the order of the last axis of every matrix.
    temperature_c : float
        [°C].
    activity : str
        The activity model.
    """

    names: tuple[str, ...]
    temperature_c: float
    activity: str
    components: tuple[Component, ...]
    ladders: tuple[Ladder, ...]
    families: tuple[Family, ...]
    strong: tuple[tuple[int, int], ...]
    pkw: float
    slope: float
    lowest_d: float
    highest_d: float

    def solve(self, totals: ArrayLike) -> float | Array:
        """pH of every row of ``totals``.

        Parameters
        ----------
        totals : array-like, shape S + (n,)
            Amounts in the order of ``names`` [mol per kg water].

        Returns
        -------
        float or ndarray, shape S
            pH = -log10 a(H+).

        Raises
        ------
        ScienceError
            Amounts below zero, not finite, above 20 mol/kg, or of the wrong width.

        Notes
        -----
        As `solve_ph`.

        Examples
        --------
        >>> round(compile_system(["acetate", "Na"]).solve([0.2, 0.1]), 2)
        4.65
        """
        matrix = self._matrix(totals)
        if matrix.ndim == 1:
            return self._one(matrix)[0] / -LN10
        x, _ = self._many(self._rows(matrix))
        return np.asarray(x / -LN10).reshape(matrix.shape[:-1])

    def detail(self, totals: ArrayLike) -> Solution:
        """pH, ionic strength and species of every row of ``totals``.

        Parameters
        ----------
        totals : array-like, shape S + (n,)
            As in `solve`.

        Returns
        -------
        Solution

        Raises
        ------
        ScienceError
            As `solve`.

        Notes
        -----
        As `solve_ph`.

        Examples
        --------
        >>> round(compile_system(["acetate", "Na"]).detail([0.2, 0.1]).ionic_strength, 3)
        0.1
        """
        matrix = self._matrix(totals)
        if matrix.ndim == 1:
            return self._detail_of_one(matrix)
        shape, flat = matrix.shape[:-1], self._rows(matrix)
        x, d = self._many(flat)
        return Solution(
            ph=(x / -LN10).reshape(shape),
            ionic_strength=self.batch(flat).strength(x, d).reshape(shape),
            species={
                self.names[ladder.column]: self._species(ladder, flat, x, d).reshape((*shape, -1))
                for ladder in self.ladders
            },
            charges=self._charges(),
        )

    def _detail_of_one(self, row: Array) -> Solution:
        amounts = row.tolist()
        x, d, strength = self._one(row)
        return Solution(
            ph=x / -LN10,
            ionic_strength=strength,
            species={
                self.names[ladder.column]: np.array(
                    acidbase_scalar.species(ladder, amounts[ladder.column], x, d)
                )
                for ladder in self.ladders
            },
            charges=self._charges(),
        )

    def _charges(self) -> dict[str, tuple[int, ...]]:
        return {
            self.names[ladder.column]: tuple(
                ladder.charge + i for i in range(len(ladder.pka_up), -1, -1)
            )
            for ladder in self.ladders
        }

    def charge(self, ph: ArrayLike, totals: ArrayLike) -> float | Array:
        """Net charge left over when the pH is ``ph``.

        Parameters
        ----------
        ph : float or array-like, shape S
            -3.5 to 20 [pH units].
        totals : array-like, shape S + (n,), leading shape broadcast with S
            As in `solve`.

        Returns
        -------
        float or ndarray, shape S
            Charge [mol per kg water]: falls as pH rises, zero at the pH of the mixture;
            at another pH, minus this is the strong base that is missing there.

        Raises
        ------
        ScienceError
            As `solve`, and a pH outside -3.5 to 20.

        Notes
        -----
        The missing ion is counted as a monovalent one in the ionic strength.

        Examples
        --------
        >>> system = compile_system(["acetate", "Na"])
        >>> round(-system.charge(4.65, [0.2, 0.0]), 2)
        0.1
        """
        matrix, level = self._matrix(totals), check_ph(ph)
        shape = np.broadcast_shapes(level.shape, matrix.shape[:-1])
        flat = self._rows(np.broadcast_to(matrix, (*shape, len(self.names))))
        x = np.broadcast_to(level, shape).reshape(-1) * -LN10
        found = np.empty(x.shape)
        for first in range(0, x.size, CHUNK):
            part = slice(first, first + CHUNK)
            found[part] = self._charge_at(self.batch(flat[part]), x[part])
        return float(found[0]) if shape == () else found.reshape(shape)

    def _charge_at(self, batch: Batch, x: Array) -> Array:
        d = self.settle_at(
            x, lambda x_live, d, live: self._closed_strength(batch.pick(live), x_live, d)
        )
        return batch.residual(x, d)

    @staticmethod
    def _closed_strength(batch: Batch, x: Array, d: Array) -> Array:
        return np.asarray(batch.strength(x, d) + 0.5 * np.abs(batch.residual(x, d)))

    def settle_at(self, x: Array, strength: Callable[[Array, Array, Index], Array]) -> Array:
        """D at given x, where ``strength(x, d, live)`` gives the ionic strength."""
        if self.highest_d == 0.0:
            return np.zeros_like(x)
        return acidbase_vector.settle(
            lambda d, live, _: np.asarray(self._activity(strength(x[live], d, live)) - d),
            np.full_like(x, 0.5 * self.highest_d),
            self.lowest_d,
            self.highest_d,
        )

    def batch(self, totals: Array) -> Batch:
        """The vector form of rows of totals, for arithmetic at a fixed pH."""
        return Batch.of(self.families, self.strong, np.ascontiguousarray(totals.T), self.pkw)

    def _activity(self, strength: Array) -> Array:
        shape = model_function(self.activity)
        return np.asarray(self.slope * shape(np.minimum(strength, HELD_ABOVE)))

    def _activity_scalar(self) -> Callable[[float], float]:
        slope, davies = self.slope, self.activity == "davies"

        def term(strength: float) -> float:
            held = min(strength, HELD_ABOVE)
            root = math.sqrt(held)
            if davies:
                return slope * (root / (1.0 + root) - 0.3 * held)
            return slope * root / (1.0 + 1.5 * root)

        return term

    def _one(self, row: Array) -> tuple[float, float, float]:
        return acidbase_scalar.solve(
            self.ladders,
            self.strong,
            row.tolist(),
            self.pkw,
            self._activity_scalar(),
            self.highest_d,
        )

    def _many(self, flat: Array) -> tuple[Array, Array]:
        x, d = np.empty(len(flat)), np.empty(len(flat))
        for first in range(0, len(flat), CHUNK):
            part = slice(first, first + CHUNK)
            x[part], d[part] = acidbase_vector.solve(
                self.batch(flat[part]), self._activity, self.lowest_d, self.highest_d
            )
        return x, d

    def _species(self, ladder: Ladder, flat: Array, x: Array, d: Array) -> Array:
        a_h = np.exp(x)
        weights = [np.ones_like(x)]
        for i, pka in enumerate(ladder.pka_up, 1):
            step = np.exp(LN10 * (pka + d * (2 * (ladder.charge + i) - 1)))
            weights.append(weights[-1] * step * a_h)
        stack = np.stack(weights[::-1], axis=-1)
        share = stack / stack.sum(axis=-1, keepdims=True)
        return np.asarray(share * flat[:, ladder.column, None])

    def _rows(self, matrix: Array) -> Array:
        return matrix.reshape(math.prod(matrix.shape[:-1]), len(self.names))

    def _matrix(self, totals: ArrayLike) -> Array:
        try:
            matrix = np.asarray(totals, dtype=float)
        except (TypeError, ValueError) as error:
            raise bad_amounts("something that is no table of numbers", str(error)) from error
        width = len(self.names)
        if matrix.ndim == 0 or matrix.shape[-1] != width:
            raise bad_amounts(
                f"a table of shape {matrix.shape}",
                f"{width} columns are expected: {', '.join(self.names)}",
            )
        check_amounts(self.names, matrix)
        return matrix


@cache
def _highest_shape(activity: str) -> tuple[float, float]:
    shape = model_function(activity)(np.linspace(0.0, HELD_ABOVE, 20001))
    return float(shape[-1]), float(shape.max())


def compile_system(
    names: Sequence[str],
    constants: Constants | None = None,
    temperature_c: float = 25.0,
    activity: str = "davies",
) -> System:
    """Make a list of acids, bases and ions ready for many solves.

    Parameters
    ----------
    names : sequence of str
        Components, in the order of the columns that will be solved.
    constants : mapping, optional
        As in `solve_ph`.
    temperature_c : float
        0 to 100 [°C].
    activity : {"davies", "bates-guggenheim", "ideal"}
        Activity model, see `activity_term`.

    Returns
    -------
    System
        With ``solve``, ``detail`` and ``charge`` for matrices of shape (..., n).

    Raises
    ------
    ScienceError
        An unknown or repeated component, unusable constants, temperature or model.

    Notes
    -----
    As `solve_ph`.

    Examples
    --------
    >>> system = compile_system(["lactate", "Na"])
    >>> system.solve([[0.1, 0.05], [0.1, 0.09]]).round(2).tolist()
    [3.78, 4.71]
    """
    if constants:
        return _compile(tuple(names), constants, check_temperature(temperature_c), activity)
    return _compile_shipped(tuple(names), check_temperature(temperature_c), activity)


@lru_cache(maxsize=256)
def _compile_shipped(names: tuple[str, ...], temperature_c: float, activity: str) -> System:
    return _compile(names, None, temperature_c, activity)


def _compile(
    names: tuple[str, ...], constants: Constants | None, temperature_c: float, activity: str
) -> System:
    own = [component_name(name) for name in names]
    twice = [name for name, real in zip(names, own, strict=True) if own.count(real) > 1]
    if twice:
        raise ScienceError(
            where="Components",
            found=f"{' and '.join(repr(name) for name in twice)} name the same component",
            allowed="Each component once",
            cause="Two spellings of one acid, base or ion",
            do="Add the two amounts and give them under one name",
        )
    components = tuple(find_component(name, constants) for name in names)
    ladders = tuple(
        Ladder.of(column, part.charge, part.pka(temperature_c))
        for column, part in enumerate(components)
        if part.pka25
    )
    slope = debye_huckel_a(temperature_c)
    last, highest = _highest_shape(activity)
    return System(
        names=names,
        temperature_c=temperature_c,
        activity=activity,
        components=components,
        ladders=ladders,
        families=Family.gather(ladders),
        strong=tuple(
            (column, part.charge) for column, part in enumerate(components) if not part.pka25
        ),
        pkw=water_pkw(temperature_c),
        slope=slope,
        lowest_d=slope * last,
        highest_d=slope * highest,
    )
