"""What the bench has tried: how far each material went, and in words where a recipe leaves it."""

from __future__ import annotations

from labkit.bench import Bench
from labkit.estimates.forecast import Forecast
from labkit.estimates.learned import family_frame
from labkit.formula import Formula, Line
from labkit.formula.grid import TOTAL
from labkit.learning.bench_table import column_of
from labkit.materials import Materials

__all__ = ["Tried", "outside_names"]


class Tried:
    """Least and most of each material in the measured trials of one family."""

    def __init__(self, bench: Bench, formula: Formula, mats: Materials | None) -> None:
        frame, materials = family_frame(bench, formula, mats)
        self._mats = mats
        self._columns: dict[str, str] = {}
        self._spans = {
            name: (
                round(float(frame[name].min()) * TOTAL / 100),
                round(float(frame[name].max()) * TOTAL / 100),
            )
            for name in (materials if len(frame) > 1 else ())
        }

    def of(self, line: Line) -> list[int] | None:
        """Tried range of a line [grid units]; None for a material that no trial had."""
        known = line.key or line.material
        if known not in self._columns:
            self._columns[known] = column_of(known, self._mats)
        span = self._spans.get(self._columns[known])
        return None if span is None else list(span)


def outside_names(look: Forecast, mats: Materials | None) -> list[str]:
    """What leaves the trials by so much that it counts, by the names in the formula."""
    if not look.outside:
        return []
    lines = {column_of(x.key or x.material, mats): x.material for x in look.formula.lines}
    parts = (label.partition(",") for label in look.outside)
    return list(dict.fromkeys(f"{lines.get(head, head)}{mark}{rest}" for head, mark, rest in parts))
