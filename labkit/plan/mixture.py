"""A set of batches that varies 2 to 6 materials and holds the rest of the formula."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.errors import BriefError
from labkit.formula.model import Formula
from labkit.learning.posterior import Array
from labkit.learning.regression import LinearFit, scheffe_design, scheffe_fit
from labkit.plan.designs import (
    blocks_of,
    extreme_vertices,
    names_of,
    optimal_design,
    region_candidates,
    simplex_centroid,
    simplex_lattice,
)

if TYPE_CHECKING:
    import pandas as pd

KINDS = ("lattice", "centroid", "vertices", "D-optimal", "I-optimal")
MOST_VARIED = 6
GRID = 4  # decimals of % w/w


@dataclass(frozen=True, slots=True, kw_only=True)
class MixtureDesign:
    """Batches to make.

    Attributes
    ----------
    names : tuple of str
        The varied materials.
    low, total : ndarray, float
        Lower bounds and the % w/w the varied part takes together.
    percent : ndarray, shape (runs, q)
        % w/w of each varied material; rows sum to ``total`` exactly on the 0.0001 % grid.
    block : ndarray of int, shape (runs,)
        Who makes which batch.
    kind, model : str
    """

    names: tuple[str, ...]
    low: Array
    total: float
    percent: Array
    block: NDArray[np.intp]
    kind: str
    model: str

    @property
    def pseudo(self) -> Array:
        """Pseudo-components: share of the room above the lower bounds, rows sum to 1."""
        return pseudo_components(self.percent, self.low, self.total)

    def table(self) -> pd.DataFrame:
        """Runs with their block and % w/w."""
        import pandas as pd

        frame = pd.DataFrame(self.percent, columns=list(self.names))
        frame.insert(0, "group", self.block + 1)
        frame.insert(0, "run", np.arange(1, len(frame) + 1))
        return frame

    def formulas(self, formula: Formula) -> tuple[Formula, ...]:
        """The batches as formulas: ``formula`` with the varied lines set."""
        out = []
        for run, row in enumerate(self.percent, start=1):
            made = formula
            order = np.argsort(row - [float(_line(formula, n)) for n in self.names])
            for j in order:  # those that go down first, so that there is room
                made = made.move(self.names[j], f"{row[j]:.4f} %", give="qs")
            out.append(made.renamed(f"{formula.name}, run {run}"))
        return tuple(out)

    def fit(self, y: ArrayLike, model: str | None = None) -> LinearFit:
        """Scheffé fit of measured answers (runs,) on the pseudo-components."""
        return scheffe_fit(self.pseudo, y, model or self.model, self.names)


def _line(formula: Formula, name: str) -> Any:
    return formula.lines[formula.find(name)].percent


def pseudo_components(percent: ArrayLike, low: ArrayLike, total: float) -> Array:
    """``(x - L) / (total - sum L)``: rows sum to 1 on the constrained region."""
    x, lower = np.asarray(percent, float), np.asarray(low, float)
    return np.asarray((x - lower) / (total - lower.sum()))


def mixture(
    formula: Formula | None,
    vary: Sequence[str],
    bounds: Mapping[str, tuple[float, float]],
    *,
    design: str = "D-optimal",
    model: str = "quadratic",
    runs: int | None = None,
    groups: int = 1,
    degree: int = 2,
    total: float | None = None,
    seed: int = 1,
) -> MixtureDesign:
    """Plan a set of batches in which 2 to 6 materials trade places.

    Parameters
    ----------
    formula : Formula or None
        The rest is held; its varied lines give ``total`` when that is left out.
    vary : sequence of str
        Materials that share ``total`` among themselves; name the q.s. line to let water vary.
    bounds : mapping
        Material to (low, high) % w/w.
    design : {"lattice", "centroid", "vertices", "D-optimal", "I-optimal"}
        The first two fill the room above the lower bounds and need upper bounds that allow it.
    model : {"linear", "quadratic", "special cubic"}
        What is to be fitted.
    runs : int, optional
        For the optimal designs: terms of the model plus three when left out.
    groups : int
        Groups of a class that share the work.
    degree : int
        Of the lattice.
    total : float, optional
        % w/w of the varied part.
    seed : int
        Of the optimal designs.

    Returns
    -------
    MixtureDesign

    Raises
    ------
    BriefError
        Bounds that cannot be met, too few runs, an unknown design.

    Examples
    --------
    >>> plan = mixture(None, ["Glycerin", "Propanediol", "Sorbitol"],
    ...     {n: (1, 6) for n in ("Glycerin", "Propanediol", "Sorbitol")},
    ...     design="vertices", total=8)
    >>> plan.percent.tolist()
    [[1.0, 1.0, 6.0], [1.0, 6.0, 1.0], [6.0, 1.0, 1.0]]
    """
    names = names_of(vary)
    if not 2 <= len(names) <= MOST_VARIED or design not in KINDS:
        raise _refuse(
            f"{len(names)} materials, design '{design}'",
            f"2 to {MOST_VARIED} materials; {', '.join(KINDS)}",
        )
    missing = [n for n in names if n not in bounds]
    if missing:
        raise _refuse(f"no bounds for {', '.join(missing)}", "Bounds in % w/w for each")
    if total is None:
        if formula is None:
            raise _refuse("neither a formula nor a total", "One of the two")
        total = float(sum(_line(formula, n) for n in names))
    low = np.array([float(bounds[n][0]) for n in names])
    high = np.array([float(bounds[n][1]) for n in names])
    points = _points(design, low, high, total, model, runs, degree, seed)
    percent = _on_grid(points, total)
    return MixtureDesign(
        names=names,
        low=low,
        total=total,
        percent=percent,
        block=blocks_of(percent, groups),
        kind=design,
        model=model,
    )


def _points(
    design: str,
    low: Array,
    high: Array,
    total: float,
    model: str,
    runs: int | None,
    degree: int,
    seed: int,
) -> Array:
    corners = extreme_vertices(low, high, total)
    if design == "vertices":
        return corners
    if design in ("lattice", "centroid"):
        q = low.size
        unit = simplex_lattice(q, degree) if design == "lattice" else simplex_centroid(q)
        points = low + unit * (total - low.sum())
        if (points > high + 1e-9).any():
            raise _refuse(
                "an upper bound inside the triangle of the lower bounds",
                "Upper bounds that leave the whole triangle free",
            )
        return np.asarray(points)
    candidates = region_candidates(low, high, total)
    expanded = scheffe_design(pseudo_components(candidates, low, total), model)
    count = expanded.shape[1] + 3 if runs is None else runs
    return np.asarray(candidates[optimal_design(expanded, count, design[0], seed)])


def _on_grid(points: Array, total: float) -> Array:
    """Rounded to 0.0001 % with rows summing to ``total`` to the last digit."""
    scale = 10**GRID
    units = np.floor(points * scale + 1e-6).astype(np.int64)
    rest = round(total * scale) - units.sum(axis=1)
    part = points * scale - units
    for i, missing in enumerate(rest):
        units[i, np.argsort(-part[i])[: int(missing)]] += 1
    return np.asarray(units / scale)


def _refuse(found: str, allowed: str) -> BriefError:
    return BriefError(
        where="Mixture",
        found=found,
        allowed=allowed,
        cause="A bound is missing or too tight",
        do="Complete the bounds, or choose vertices or D-optimal",
    )


def ternary_grid(low: ArrayLike, high: ArrayLike, total: float, steps: int = 40) -> Array:
    """Points of three varied materials on a triangular grid, inside their bounds.

    Returns
    -------
    ndarray, shape (points, 3)
        % w/w, for a contour over the triangle.

    Examples
    --------
    >>> len(ternary_grid([0, 0, 0], [1, 1, 1], 1.0, steps=4))
    15
    """
    lower, upper = np.asarray(low, float), np.asarray(high, float)
    points = lower + simplex_lattice(3, steps) * (total - lower.sum())
    return np.asarray(points[(points <= upper + 1e-9).all(axis=1)])


def surface(fit: LinearFit, design: MixtureDesign, points: ArrayLike) -> Array:
    """A Scheffé fit evaluated at points (m, q) in % w/w."""
    terms = {1: "linear", 2: "quadratic", 3: "special cubic"}
    order = max(term.count("*") + 1 for term in fit.terms)
    rows = scheffe_design(pseudo_components(points, design.low, design.total), terms[order])
    return np.asarray(rows @ fit.coefficients)
