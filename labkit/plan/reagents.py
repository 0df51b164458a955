"""A formula under titration: one acid or base goes up, the q.s. line gives way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.errors import FormulaError, MaterialError
from labkit.evaluate import Evaluator, Numbers, compile_formula
from labkit.formula import Formula
from labkit.formula.names import fold
from labkit.materials import Material, Materials

__all__ = ["Titrated", "acid_or_base", "titrate"]

Array = NDArray[np.float64]
LEAST = 1e-4
"""Smallest share of a line [% w/w]."""


@dataclass(frozen=True, kw_only=True)
class Titrated:
    """A formula made ready for any dose of one acid or base.

    Attributes
    ----------
    formula : Formula
        The recipe, with a line for the reagent.
    line : int
        Where the reagent stands.
    present : float
        What the recipe holds of it now [% w/w].
    reagent : Material
        The acid or base.
    evaluator : Evaluator
        Of ``formula``.
    """

    formula: Formula
    line: int
    present: float
    reagent: Material
    evaluator: Evaluator

    @property
    def most(self) -> float:
        """The dose at which the q.s. line is used up [% w/w]."""
        assert self.formula.qs is not None
        return self.present + float(self.formula.lines[self.formula.qs].percent)

    def percents(self, dose: ArrayLike) -> Array:
        """Percentages of every line for doses of shape S, shape S + (n_lines,)."""
        assert self.formula.qs is not None
        amount = np.asarray(dose, dtype=float)
        rows = np.broadcast_to(self.evaluator.percent, (*amount.shape, self.evaluator.n_lines))
        rows = rows.copy()
        rows[..., self.formula.qs] += self.present - amount
        rows[..., self.line] = amount
        return rows

    def numbers(self, dose: ArrayLike) -> Numbers:
        """Every number at these doses [% w/w of the batch]."""
        return self.evaluator(self.percents(dose))

    def dose_for(self, ph: float) -> float | None:
        """The dose that brings the calculated pH to a value; None where none does."""
        doses = np.concatenate([[0.0], np.geomspace(LEAST, self.most, 160)])
        for _ in range(3):
            level = np.asarray(self.numbers(doses).ph)
            beyond = np.sign(level - ph)
            turns = np.flatnonzero((beyond[:-1] * beyond[1:] <= 0) & np.isfinite(beyond[1:]))
            if not turns.size:
                return None
            at = int(turns[0])
            doses = np.linspace(doses[at], doses[at + 1], 60)
        return float(np.interp(0.0, *_rising(level - ph, doses)))

    def reach(self) -> tuple[float, float]:
        """Lowest and highest pH that this reagent gives."""
        doses = np.concatenate([[0.0], np.geomspace(LEAST, self.most, 160)])
        level = np.asarray(self.numbers(doses).ph)
        return float(np.nanmin(level)), float(np.nanmax(level))


def _rising(level: Array, doses: Array) -> tuple[Array, Array]:
    known = np.isfinite(level)
    level = np.interp(doses, doses[known], level[known])
    return (level, doses) if level[-1] >= level[0] else (level[::-1], doses[::-1])


def acid_or_base(reagent: str, mats: Materials) -> Material:
    """The acid or base of that name.

    Raises
    ------
    MaterialError
        Not in the list, or without acid-base data.
    """
    found = mats.resolve(reagent)
    if found is None or not found.acid_base:
        near = [m.name for m in mats.find(reagent, n=5) if m.acid_base]
        raise MaterialError(
            where=reagent,
            found="not in the list of materials" if found is None else "no acid or base in it",
            allowed="An acid or a base"
            + (
                f", such as {', '.join(near)}"
                if near
                else ", such as Sodium hydroxide 18 % solution"
            ),
            cause="Another spelling, or several grades share the name",
            do="Name the grade on the label, with its strength",
        )
    return found


def titrate(formula: Formula, mats: Materials, reagent: str) -> Titrated:
    """A formula with a line for one acid or base, ready for any dose.

    Parameters
    ----------
    formula : Formula
        Its q.s. line gives way.
    mats : Materials
    reagent : str
        The acid or base by its name, such as ``"Sodium hydroxide 18 % solution"``. A line
        that the formula has already is taken from nothing to all that the q.s. line allows.

    Raises
    ------
    FormulaError
        No q.s. line, or the reagent is it.
    MaterialError
        As `acid_or_base`.

    Examples
    --------
    >>> gel = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Lactic acid 80 %,1''')
    >>> job = titrate(gel, Materials.starter(), "Sodium hydroxide 18 % solution")
    >>> round(job.dose_for(4.0), 2)
    1.24
    """
    material = acid_or_base(reagent, mats)
    if formula.qs is None:
        raise FormulaError(
            where=formula.name,
            found="no q.s. line",
            allowed="A line that gives way when acid or base is added, mostly the water",
            cause="Every line has a fixed share",
            do='Let one take the rest: formula.rest("Aqua")',
        )
    resolved = [mats.resolve(x.key or x.material) for x in formula.lines]
    line = next(
        (i for i, m in enumerate(resolved) if m is not None and m.key == material.key), None
    )
    if line == formula.qs:
        raise FormulaError(
            where=formula.name,
            found=f"{material.name} is the q.s. line",
            allowed="Another line takes the rest",
            cause="The reagent cannot go up and give way at once",
            do='Let the water take the rest: formula.rest("Aqua")',
        )
    return _with_line(formula, mats, material, line)


def _with_line(formula: Formula, mats: Any, material: Material, line: int | None) -> Titrated:
    present = 0.0 if line is None else float(formula.lines[line].percent)
    ready = formula
    if line is None:
        ready = formula.add(material.name, 0)
        line = next(i for i, x in enumerate(ready.lines) if fold(x.material) == fold(material.name))
    return Titrated(
        formula=ready,
        line=line,
        present=present,
        reagent=material,
        evaluator=compile_formula(ready, mats),
    )
