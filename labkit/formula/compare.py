"""Two formulas side by side: only the differences."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from html import escape
from typing import TYPE_CHECKING, Any

from labkit.formula.grid import show
from labkit.formula.lines import Line
from labkit.formula.names import slug

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Comparison", "Difference", "compare_lines"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """What one material does from one formula to the other; None where it is absent."""

    material: str
    phase: str
    before: Decimal | None
    after: Decimal | None

    @property
    def change(self) -> Decimal:
        """Percentage points, from before to after."""
        return (self.after or Decimal(0)) - (self.before or Decimal(0))

    def __str__(self) -> str:
        if self.before is None:
            return f"{self.material} added, {show(self.after or 0)} %"
        if self.after is None:
            return f"{self.material} left out (was {show(self.before)} %)"
        return f"{self.material} {show(self.before)} → {show(self.after)} %"


@dataclass(frozen=True, slots=True)
class Comparison:
    """The differences between two formulas, largest change first.

    Iterating gives :class:`Difference` objects; ``table()`` a DataFrame.
    """

    before: str
    after: str
    differences: tuple[Difference, ...]

    def __iter__(self) -> Iterator[Difference]:
        return iter(self.differences)

    def __len__(self) -> int:
        return len(self.differences)

    def __str__(self) -> str:
        if not self.differences:
            return "no difference"
        return "; ".join(map(str, self.differences))

    def table(self) -> pd.DataFrame:
        """Columns phase, material, before, after, change; shares in %."""
        import pandas as pd

        rows: list[dict[str, Any]] = [
            {
                "phase": d.phase,
                "material": d.material,
                "before": d.before,
                "after": d.after,
                "change": d.change,
            }
            for d in self.differences
        ]
        return pd.DataFrame(rows, columns=["phase", "material", "before", "after", "change"])

    def _repr_html_(self) -> str:
        if not self.differences:
            return "<p>No difference.</p>"
        rows = "".join(
            f"<tr><td>{escape(d.phase)}</td><td>{escape(d.material)}</td>"
            f"<td>{'–' if d.before is None else show(d.before)}</td>"
            f"<td>{'–' if d.after is None else show(d.after)}</td>"
            f"<td>{d.change:+.2f}</td></tr>"
            for d in self.differences
        )
        return (
            "<table><thead><tr><th>Phase</th><th>Material</th>"
            f"<th>{escape(self.before)} %</th><th>{escape(self.after)} %</th><th>Change</th>"
            f"</tr></thead><tbody>{rows}</tbody></table>"
        )


def compare_lines(
    before: tuple[Line, ...], after: tuple[Line, ...], names: tuple[str, str]
) -> Comparison:
    """Differences by phase and material; the same material on two lines of a phase is summed."""
    keyed = all(x.key for x in (*before, *after))

    def place(line: Line) -> tuple[str, str]:
        return line.phase.casefold(), line.identity if keyed else slug(
            line.material
        ) or line.material

    left, right = _amounts(before, place), _amounts(after, place)
    shown = {place(x): x for x in (*before, *after)}
    found = [
        Difference(
            material=shown[at].material,
            phase=shown[at].phase,
            before=left.get(at),
            after=right.get(at),
        )
        for at in dict.fromkeys((*left, *right))
        if left.get(at) != right.get(at)
    ]
    found.sort(key=lambda d: -abs(d.change))
    return Comparison(names[0], names[1], tuple(found))


def _amounts(
    lines: tuple[Line, ...], place: Callable[[Line], tuple[str, str]]
) -> dict[tuple[str, str], Decimal]:
    sums: dict[tuple[str, str], Decimal] = {}
    for line in lines:
        sums[place(line)] = sums.get(place(line), Decimal(0)) + line.percent
    return sums
