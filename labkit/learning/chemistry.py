"""Net charge of formulas against pH, on a grid, for the learner of pH."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from labkit.learning.ph import PH_GRID
from labkit.learning.posterior import Array
from labkit.science.acidbase_system import System, compile_system
from labkit.science.activity import model_function

LN10 = float(np.log(10.0))
NODES = np.array([4.0, 6.0, 8.5])
LEAST_WATER = 0.15
GRAMS_PER_KG_PERCENT = 10.0
POLYACID = "polyacid"
POLYACID_EQUIVALENTS = 1.0 / 76.0  # mol acid per g of a dry polyacrylic thickener (from memory)
# A polyacid resists its own ionisation: three equal sites stand for the drift of its apparent
# constant from about 4.8 to 6.8 as it is neutralised without added salt (from memory).
POLYACID_PKA = np.array([4.8, 5.8, 6.8])

Contents = Sequence[tuple[str, float]]
"""Components of one material: (name, mol per g as supplied)."""


@dataclass(frozen=True, slots=True)
class ChargeTable:
    """Percent to mol of each component, and the compiled system that carries them."""

    system: System
    per_percent: Array  # (n materials, n components) mol/kg batch per %
    water: Array  # (n,) share of each material that is water
    acid_sites: Array  # (n,) mol/kg batch of polyacid sites per %

    @classmethod
    def build(cls, contents: Sequence[Contents], water: Array) -> ChargeTable | None:
        """From each material's components; None when no material brings acid or base."""
        names = sorted({name for content in contents for name, _ in content} - {POLYACID})
        sites = np.zeros(len(contents))
        table = np.zeros((len(contents), len(names)))
        for i, content in enumerate(contents):
            for name, mol_per_g in content:
                if name == POLYACID:
                    sites[i] += mol_per_g * GRAMS_PER_KG_PERCENT
                else:
                    table[i, names.index(name)] += mol_per_g * GRAMS_PER_KG_PERCENT
        if not names:
            return None
        return cls(compile_system(names), table, np.asarray(water, float), sites)

    def curves(self, percent: Array) -> tuple[Array, Array | None]:
        """Net charge (m, grid) in mol per kg water, polyacid apart (None without one)."""
        share = np.maximum(percent @ self.water / 100.0, LEAST_WATER)
        totals = np.maximum(percent @ self.per_percent / share[:, None], 0.0)
        size, grid = totals.shape[0], PH_GRID.size
        if size == 0:
            return np.zeros((0, grid)), np.zeros((0, grid)) if self.acid_sites.any() else None
        d = self._activity(totals)
        at = np.stack([np.interp(PH_GRID, NODES, row) for row in d])
        flat = np.repeat(totals, grid, axis=0)
        x = np.tile(-LN10 * PH_GRID, size)
        found: Array = self.system.batch(flat).residual(x, at.ravel()).reshape(size, grid)
        if not self.acid_sites.any():
            return found, None
        ionised = (1.0 / (1.0 + 10.0 ** (POLYACID_PKA[:, None] - PH_GRID))).mean(axis=0)
        sites = percent @ self.acid_sites / share
        return found, -sites[:, None] * ionised

    def _activity(self, totals: Array) -> Array:
        """Activity term at three pH values, by a few rounds of fixed point."""
        batch = self.system.batch(np.repeat(totals, NODES.size, axis=0))
        x = np.tile(-LN10 * NODES, totals.shape[0])
        shape = model_function(self.system.activity)
        d = np.full(x.size, 0.08)
        for _ in range(3):
            d = self.system.slope * shape(np.minimum(batch.strength(x, d), 1.0))
        return d.reshape(-1, NODES.size)
