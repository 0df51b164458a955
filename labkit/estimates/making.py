"""How a formula is made, as far as its phases tell: which are heated, which come after."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.estimates.contents import Contents
from labkit.formula import Phase

__all__ = ["Making", "making_of"]

Array = NDArray[np.float64]

_DEGREES = re.compile(r"(\d{2,3})(?:\s*[-–to]+\s*(\d{2,3}))?\s*°?\s*[CcºF]\b")
_HOT = re.compile(r"(?i)\b(heat|heated|hot|melt|melted|warm phase)\b")
_COOL = re.compile(r"(?i)\b(cool|cooled|cooldown|cool-down|cold|room temperature|below)\b")
USUAL_HOT_C = 75.0
"""Where phases are combined; common practice 70 to 75 °C."""
_WAXY_LIMIT_C = 80.0
_HEATED_C = 55.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """Temperatures of the phases, None where the formula does not tell.

    ``after`` are the phases that come after the emulsion is made.
    """

    order: tuple[str, ...]
    temperatures: tuple[float | None, ...]
    after: frozenset[str]

    def temperature_c(self, line: int) -> float | None:
        """Temperature of a line's phase [°C], None where it is not heated or not told."""
        return self.temperatures[line]

    @property
    def cool_phase(self) -> str | None:
        """The first phase that is added after heating."""
        return next((key for key in self.order if key in self.after), None)


def making_of(contents: Contents, form: str, percent: Array) -> Making:
    """Which phases are heated, from their titles and steps, else from what is in them.

    Notes
    -----
    Words and degrees in titles and steps are read first. Where a formula says nothing, an
    emulsion with waxes or solid emulsifiers in a phase of its own is taken as made hot:
    that phase and the phase with most of the water at 75 °C, all later ones cool (common
    practice). A formula written as one phase tells nothing.
    """
    formula = contents.formula
    told = {p.key: _told(p) for p in formula.phases}
    hot: dict[str, float] = {k: t for k, t in told.items() if t is not None and t > 0}
    cool = {k for k, t in told.items() if t == 0}
    if not hot and len(formula.phases) > 1 and "emulsion" in form:
        hot = dict.fromkeys(_usually_hot(contents, percent) - cool, USUAL_HOT_C)
    order = [p.key for p in formula.phases]
    last = max((order.index(k) for k in hot), default=-1)
    after = frozenset(
        k for k in order if hot and k not in hot and (order.index(k) > last or k in cool)
    )
    return Making(
        order=tuple(order),
        temperatures=tuple(hot.get(line.phase) for line in formula.lines),
        after=after,
    )


def _told(phase: Phase) -> float | None:
    """Temperature of a heated phase, 0 for one said to be cool, None where nothing is said."""
    text = " ".join((phase.title, *phase.steps))
    degrees = [(m.start(), float(m[2] or m[1])) for m in _DEGREES.finditer(text)]
    heated = [(at, t) for at, t in degrees if t >= _HEATED_C]
    cool, warm = _COOL.search(text), _HOT.search(text)
    first = min([at for at, _ in heated] + ([warm.start()] if warm else []), default=None)
    if cool is not None and (first is None or cool.start() < first):
        return 0.0
    if heated:
        return max(t for _, t in heated)
    return USUAL_HOT_C if warm else None


def _usually_hot(contents: Contents, percent: Array) -> set[str]:
    formula = contents.formula
    waxy = {
        line.phase
        for line, m in zip(formula.lines, contents.materials, strict=True)
        if m is not None
        and m.phase == "oil"
        and {"emulsifier", "co-emulsifier", "thickener"} & set(m.functions)
        and (m.heat_limit_c or 0) >= _WAXY_LIMIT_C
        and m.charge_class != "polymer"
    }
    if not waxy:
        return set()
    wettest = int(np.argmax(percent * contents.water))
    return waxy | {formula.lines[wettest].phase}
