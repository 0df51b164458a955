"""Formulas made at random, for the property tests of every room."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from labkit.formula import Formula, Line
from labkit.formula.grid import TOTAL, apportion, percent_of

NAMES = [
    "Aqua", "Glycerin", "Xanthan Gum", "Cetearyl Alcohol", "Squalane", "Panthenol",
    "Isopropyl Myristate", "Phenoxyethanol", "Citric Acid", "Tocopherol", "Parfum", "Urea",
]  # fmt: skip


@st.composite
def formulas(draw: st.DrawFn, bounded: bool = True) -> Formula:
    """A formula of one to twelve lines, some locked, some bounded, perhaps a q.s. line."""
    weights = draw(st.lists(st.integers(0, 10_000), min_size=1, max_size=12))
    weights[0] += 1
    units = apportion([Fraction(w) for w in weights], TOTAL)
    qs = draw(st.one_of(st.none(), st.integers(0, len(units) - 1)))
    lines = []
    for i, amount in enumerate(units):
        free = i == qs or not bounded
        low = None if free else draw(st.one_of(st.none(), st.integers(0, amount)))
        high = None if free else draw(st.one_of(st.none(), st.integers(amount, TOTAL)))
        lines.append(
            Line(
                phase=draw(st.sampled_from("ABC")),
                material=NAMES[i],
                percent=percent_of(amount),
                locked=not free and draw(st.booleans()),
                low=None if low is None else percent_of(low),
                high=None if high is None else percent_of(high),
            )
        )
    return Formula("Test", tuple(lines), qs=qs)


def gives(formula: Formula) -> st.SearchStrategy[str | tuple[int, ...]]:
    """Which lines give way: a word, or chosen positions."""
    chosen = st.lists(st.integers(0, len(formula.lines) - 1), min_size=1, max_size=5)
    return st.one_of(st.sampled_from(["qs", "phase", "all"]), chosen.map(tuple))
