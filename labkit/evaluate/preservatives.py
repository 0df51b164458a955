"""What each preservative needs to work: its acid, its window, its lowest usual dose."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from labkit import tables
from labkit.formula.names import fold

__all__ = ["Preservative", "preservative"]

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
