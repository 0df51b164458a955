"""Stops of the checks on paper, for many compositions at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np

from labkit.estimates.check import Checker
from labkit.estimates.finding import LEVELS
from labkit.formula.brief import Brief
from labkit.formula.lines import Line
from labkit.formula.model import Formula
from labkit.learning.bench_table import column_of
from labkit.learning.posterior import Array
from labkit.plan.search import Stops

STOP = LEVELS["stop"]


def new_stops(
    formula: Formula,
    names: Sequence[str],
    base: Array,
    mats: Any,
    brief: Brief,
    ph: Callable[[Array], Array],
) -> Stops:
    """A test that is True where a composition raises a stop that ``base`` does not have.

    Parameters
    ----------
    formula : Formula
        Of the starting trial: its phases, and the names of its lines.
    names : sequence of str
        Materials along the last axis of the compositions.
    base : ndarray, shape (n,)
        The starting composition [% w/w].
    mats, brief
        As for the checks on paper.
    ph : callable
        Compositions (m, n) to expected pH (m,).

    Returns
    -------
    callable
        Compositions (m, n) to bool (m,).
    """
    checker = Checker(_every_material(formula, names, mats), mats, brief)
    known = checker.levels(base[None], ph(base[None]))[0] >= STOP

    def stops(percent: Array) -> Array:
        held = checker.levels(percent, ph(percent)) >= STOP
        return np.asarray((held & ~known).any(axis=-1))

    return stops


def _every_material(formula: Formula, names: Sequence[str], mats: Any) -> Formula:
    """The formula with one line for each of ``names``, in that order; 0 % where it lacks one."""
    at: dict[str, Line] = {}
    share: dict[str, Decimal] = {}
    for line in formula.lines:
        name = column_of(line.key or line.material, mats)
        at.setdefault(name, line)
        share[name] = share.get(name, Decimal(0)) + line.percent
    spare = formula.lines[0].phase
    lines = []
    for name in names:
        called = name if name in at else column_of(name, mats)
        if called in at:
            free = replace(at[called], low=None, high=None, locked=False)
            lines.append(replace(free, percent=share[called]))
        else:
            lines.append(Line(phase=spare, material=name, percent=Decimal(0)))
    return Formula(formula.name, tuple(lines), formula.phases, None)
