"""Two trials side by side: only what differs, and what pH and thickness did."""

from __future__ import annotations

import html
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from labkit.bench.views import Trial
from labkit.formula.compare import Comparison

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["ReadingChange", "TrialComparison", "compare_trials"]

_RATIO = {"viscosity", "drain time", "droplet size", "counts", "yield stress"}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingChange:
    """What one quantity did from one trial to the other, under the same conditions.

    A side that was not measured under these conditions is None.
    """

    quantity: str
    conditions: str
    unit: str
    before: float | None
    after: float | None
    before_text: str
    after_text: str

    @property
    def change(self) -> float | None:
        """After minus before, in ``unit``; None where one side is missing."""
        if self.before is None or self.after is None:
            return None
        return self.after - self.before

    def __str__(self) -> str:
        how = f" ({self.conditions})" if self.conditions else ""
        words = f"{self.quantity}{how}: {self.before_text} → {self.after_text}"
        if self.before is None or self.after is None or self.before_text == self.after_text:
            return words
        if self.unit == "word":
            return f"{words}{self._steps(round(self.after - self.before))}"
        if self.quantity in _RATIO and self.before > 0:
            return f"{words} (× {self.after / self.before:.2f})"
        return f"{words} ({_signed(self.after - self.before)})"

    def _steps(self, steps: int) -> str:
        if self.quantity != "thickness":
            return ""
        many = "1 step" if abs(steps) == 1 else f"{abs(steps)} steps"
        return f" ({many} {'thicker' if steps > 0 else 'thinner'})"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialComparison:
    """The differences between two trials."""

    before: str
    after: str
    formula: Comparison
    readings: tuple[ReadingChange, ...]
    unmatched: tuple[str, ...]

    def __str__(self) -> str:
        lines = [f"{self.before} → {self.after}", f"Formula: {self.formula}"]
        lines += [str(one) for one in self.readings]
        lines += [f"not compared: {words}" for words in self.unmatched]
        return "\n".join(lines)

    def table(self) -> pd.DataFrame:
        """Columns what, before, after, change: lines in % w/w first, then readings."""
        import pandas as pd

        rows = [
            (f"{d.material} (% w/w)", d.before, d.after, d.change) for d in self.formula.differences
        ]
        shown = [
            (f"{r.quantity} ({r.conditions}) [{r.unit}]", r.before_text, r.after_text, r.change)
            for r in self.readings
        ]
        return pd.DataFrame([*rows, *shown], columns=["what", self.before, self.after, "change"])

    def _repr_html_(self) -> str:
        return f"<pre>{html.escape(str(self))}</pre>"


def compare_trials(before: Trial, after: Trial, frame: pd.DataFrame) -> TrialComparison:
    """Only the differences from one trial to another.

    Parameters
    ----------
    before, after : Trial
        The two trials.
    frame : DataFrame
        Readings of at least these two (see ``Bench.readings``).

    Returns
    -------
    TrialComparison
        Readings are paired only under the same conditions; others are named as not compared.
    """
    first, second = (_means(frame[frame["trial"] == one.id]) for one in (before, after))
    changes, unmatched = [], []
    for key in dict.fromkeys([*first, *second]):
        if key in first and key in second:
            quantity, conditions, unit = key
            (a, a_text), (b, b_text) = first[key], second[key]
            changes.append(
                ReadingChange(
                    quantity=quantity,
                    conditions=conditions,
                    unit=unit,
                    before=a,
                    after=b,
                    before_text=a_text,
                    after_text=b_text,
                )
            )
        else:
            side, label = (first, before.label) if key in first else (second, after.label)
            how = key[1] or "conditions not noted"
            unmatched.append(f"{key[0]} {side[key][1]} ({how}), only in {label}")
    return TrialComparison(
        before=before.label,
        after=after.label,
        formula=before.formula.compare(after.formula),
        readings=tuple(changes),
        unmatched=tuple(unmatched),
    )


_Key = tuple[str, str, str]


def _means(frame: pd.DataFrame) -> dict[_Key, tuple[float | None, str]]:
    return dict(_each_mean(frame))


def _each_mean(frame: pd.DataFrame) -> Iterator[tuple[_Key, tuple[float | None, str]]]:
    for key, group in frame.groupby(["quantity", "conditions", "unit"], sort=False):
        quantity, conditions, unit = (str(part) for part in key)
        values = [float(v) for v in group["value"] if v is not None and not math.isnan(v)]
        mean = sum(values) / len(values) if len(values) == len(group) else None
        if mean is None or unit == "word" or len(group) == 1:
            text = ", ".join(str(t) for t in group["text"])
        else:
            text = f"{mean:.5g} {unit} (mean of {len(group)})"
        yield (quantity, conditions, unit), (mean, text)


def _signed(change: float) -> str:
    return f"{change:+.3g}".replace("-", "−")
