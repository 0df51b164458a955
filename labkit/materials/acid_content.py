"""Acid and base content of materials, joined from the tables of dissociating substances."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from functools import cache

from labkit import tables
from labkit.materials.model import Constituent, SourceRef
from labkit.materials.names import fold

__all__ = ["COMPUTED", "Content", "of_grade", "of_parts", "of_substance"]

Content = tuple[tuple[str, float], ...]
"""Component and mol per gram of material as supplied."""

COMPUTED = SourceRef(source_id="own-arithmetic", kind="computed", place="from its parts")


def of_grade(names: Iterable[str]) -> tuple[Content, SourceRef] | None:
    """Content of a grade by the first of its names that the table lists."""
    rows = next((rows for name in names if (rows := _grades().get(fold(name)))), None)
    if rows is None:
        return None
    first = rows[0]
    source = SourceRef(
        source_id=first["source_id"] or "", kind=first["source_kind"] or "", place=first["place"]
    )
    return tuple((row["component"] or "", float(row["mol_per_g"] or "")) for row in rows), source


def of_substance(inci: str, fraction: float) -> Content | None:
    """Content of a solution of one substance at a stated fraction (0 to 1)."""
    held = _substances().get(fold(inci))
    return tuple((name, fraction * mol) for name, mol in held.items()) if held else None


def of_parts(parts: Iterable[Constituent]) -> Content | None:
    """Content of a blend, from the middle of each part's range.

    Notes
    -----
    ``None`` when no part dissociates, or when the share of one that does is not known.
    """
    total: dict[str, float] = defaultdict(float)
    for part in parts:
        held = _substances().get(fold(part.inci))
        if held is None:
            continue
        if part.low is None or part.high is None:
            return None
        for component, mol in held.items():
            total[component] += mol * (part.low + part.high) / 2
    return tuple(sorted(total.items())) or None


@cache
def _grades() -> Mapping[str, list[tables.Row]]:
    found: dict[str, list[tables.Row]] = {}
    for row in tables.rows("acid_base_materials"):
        found.setdefault(fold(row["material"] or ""), []).append(row)
    return found


@cache
def _substances() -> Mapping[str, Mapping[str, float]]:
    """Mol per gram of the substance itself, free of water, by folded INCI."""
    found: dict[str, dict[str, float]] = {}
    for rows in _grades().values():
        inci = fold(rows[0]["inci"] or "")
        if inci not in found:
            dry = 1.0 - float(rows[0]["water_g_per_g"] or 0)
            found[inci] = {
                row["component"] or "": float(row["mol_per_g"] or "") / dry for row in rows
            }
    return found
