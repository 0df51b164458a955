"""What each preservative needs to work: its acid, its window, its lowest usual dose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from labkit import tables
from labkit.formula.names import fold

__all__ = ["Figures", "Preservative", "preservative"]

Array = NDArray[np.float64]

SAME_PKA = 0.05
"""Two figures of one constant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Preservative:
    """One substance that preserves, as the table of use limits knows it.

    ``pka`` and ``acid_factor`` are None for substances that do not ionise.
    ``minimum_percent`` is the lowest usual dose of the substance itself, in % w/w.
    ``source`` is that of the window and the dose, ``pka_source`` that of the constant.
    """

    inci: str
    pka: float | None
    acid_factor: float
    window_top_ph: float
    window_low_ph: float
    minimum_percent: float
    source: str
    pka_source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What several preservatives need, one number for each along the last axis.

    ``acid`` and ``plain`` are the places of those that ionise and of those that do not;
    ``least`` is the lowest usual dose as the acid [% w/w].
    """

    factor: Array
    least: Array
    top: Array
    pka: Array
    acid: NDArray[np.intp]
    plain: NDArray[np.intp]

    @classmethod
    def of(cls, preservatives: Sequence[Preservative]) -> Figures:
        """Gathered from the table's rows."""
        factor = np.array([p.acid_factor for p in preservatives])
        ionises = np.array([p.pka is not None for p in preservatives], dtype=bool)
        return cls(
            factor=factor,
            least=np.array([p.minimum_percent for p in preservatives]) * factor,
            top=np.array([p.window_top_ph for p in preservatives]),
            pka=np.array([np.nan if p.pka is None else p.pka for p in preservatives]),
            acid=np.flatnonzero(ionises),
            plain=np.flatnonzero(~ionises),
        )


@cache
def _table() -> dict[str, Preservative]:
    found: dict[str, Preservative] = {}
    for row in tables.rows("use_limits"):
        minimum, top = row["typical_min_pct"], row["ph_max_work"]
        if row["role"] != "preservative" or not minimum or not top or not row["inci"]:
            continue
        pka = float(row["pka"]) if row["pka"] else None
        found.setdefault(
            fold(row["inci"]),
            Preservative(
                inci=row["inci"],
                pka=pka,
                acid_factor=float(row["factor_supplied_to_basis"] or 1.0),
                window_top_ph=float(top),
                window_low_ph=float(row["ph_min_work"] or 0.0),
                minimum_percent=float(minimum),
                source=_citation(row["source_id"]),
                pka_source="" if pka is None else _source_of(row["inci"], pka),
            ),
        )
    return found


def _citation(source_id: str | None) -> str:
    known = tables.sources().get(source_id or "")
    return known.citation if known else (source_id or "")


def _source_of(inci: str, pka: float) -> str:
    """Where the acid constant of a substance comes from, as in the table of constants."""
    parts = {
        row["component"]
        for row in tables.rows("acid_base_materials")
        if fold(row["inci"] or "") == fold(inci)
    }
    for row in tables.rows("acid_base_constants"):
        if row["component"] in parts and row["property"] == "pKa25":
            value = float(row["value"] or "nan")
            if abs(value - pka) <= SAME_PKA:
                return _citation(row["source_id"])
    return "common practice"


def preservative(inci: str) -> Preservative | None:
    """The preservative of that INCI name, or None.

    Examples
    --------
    >>> sorbate = preservative("Potassium Sorbate")
    >>> sorbate.pka, sorbate.window_top_ph
    (4.76, 5.5)
    """
    return _table().get(fold(inci))
