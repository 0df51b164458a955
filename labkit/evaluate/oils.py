"""The oils of a formula: what HLB each asks for, and who prints the ends of its band."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from labkit import tables
from labkit.evaluate.evaluator import Evaluator
from labkit.formula.names import fold
from labkit.materials import Material

__all__ = ["Oil", "oils_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Oil:
    """One oil of the phase with the band of its required HLB.

    Attributes
    ----------
    name : str
        As in the formula.
    percent : float
        [% w/w of the batch]
    low, high : float or None
        Ends of the published values; None where none is known.
    low_source, high_source : str
        Who prints that end; "" where the sources are known only together.
    source : str
        All sources of the band.
    """

    name: str
    percent: float
    low: float | None
    high: float | None
    low_source: str
    high_source: str
    source: str

    @property
    def words(self) -> str:
        """The band with the source of each end, as one reads it out."""
        if self.low is None or self.high is None:
            return f"{self.name}: not known"
        ends = [
            f"{value:g}" + (f" ({source})" if source else "")
            for value, source in ((self.low, self.low_source), (self.high, self.high_source))
        ]
        return (
            f"{self.name} {ends[0]}"
            if self.low == self.high
            else f"{self.name} {' to '.join(ends)}"
        )


def oils_of(evaluator: Evaluator, percent: ArrayLike | None = None) -> tuple[Oil, ...]:
    """The oils that count for the required HLB, and those without data.

    Parameters
    ----------
    evaluator : Evaluator
    percent : array-like, shape (n_lines,), optional
        % w/w of the batch; those of the compiled formula without any.

    Examples
    --------
    >>> from labkit.evaluate import compile_formula
    >>> from labkit.formula import Formula
    >>> from labkit.materials import Materials
    >>> lotion = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... B,Soybean oil,10''')
    >>> print(oils_of(compile_formula(lotion, Materials.starter()))[0].words)
    Soybean oil 6 (emulsifier maker's handbook) to 13 (Myers)
    """
    found = []
    shares = evaluator.percent if percent is None else np.asarray(percent, dtype=float)
    names = [line.material for line in evaluator.formula.lines]
    columns = zip(
        names, shares.tolist(), evaluator.materials, evaluator.oil, evaluator.required[0],
        strict=True,
    )  # fmt: skip
    for name, share, m, oil, counts in columns:
        if m is None or not (oil or counts) or not share:
            continue
        found.append(_oil(name, share, m, bool(counts)))
    return tuple(found)


def _oil(name: str, percent: float, material: Material, counts: bool) -> Oil:
    band = material.required_hlb if counts else None
    source = material.source("required_hlb")
    ends = {} if band is None else _ends().get(fold(material.inci), {})

    def printed(end: str, value: float) -> str:
        told = ends.get(end)
        return told[1] if told is not None and told[0] == value else ""

    return Oil(
        name=name,
        percent=percent,
        low=None if band is None else band[0],
        high=None if band is None else band[2],
        low_source="" if band is None else printed("low", band[0]),
        high_source="" if band is None else printed("high", band[2]),
        source="" if source is None or band is None else source.words,
    )


_SHORT = {
    "hlb-table-1976": "emulsifier maker's handbook",
    "hlb-tutorial-2011": "formulating tutorial",
    "myers-surfactant": "Myers",
    "ocl-2022-29": "OCL 2022",
    "hong-2019": "Hong 2019",
    "griffin-1949": "Griffin 1949",
    "es-hlb-example": "textbook example",
    "memory": "from memory",
}
"""Sources as they fit into a line; the full citations stand in ``Oil.source``."""


@cache
def _ends() -> Mapping[str, Mapping[str, tuple[float, str]]]:
    found: dict[str, dict[str, tuple[float, str]]] = {}
    for row in tables.rows("hlb_required_ends"):
        name = row["source_id"] or ""
        told = (float(row["value"] or "nan"), _SHORT.get(name, name))
        found.setdefault(fold(row["inci"] or ""), {})[row["end"] or ""] = told
    return found
