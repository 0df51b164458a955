"""Plain tables of materials for the notebook."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from labkit.materials.model import Material

__all__ = ["card", "listing"]

_SHOWN_ROWS = 60


def card(material: Material) -> str:
    """One material as a table: property, value with unit, kind of source."""
    rows = [(words, value, _kind(material, name)) for name, words, value in _facts(material)]
    for part in material.constituents:
        share = _share(part.low, part.high)
        rows.append((f"{part.inci} ({part.role})", share, _kind(material, "constituents")))
    missing = material.unknowns()
    if missing:
        rows.append(("not known", ", ".join(missing), ""))
    return _table((material.name, material.inci, "source"), rows)


def listing(materials: Sequence[Material]) -> str:
    """Many materials as a table, cut after sixty rows with a line that says so."""
    rows = [
        (m.name, m.inci, ", ".join(m.functions), m.phase or "", _range(m.use_low, m.use_high, " %"))
        for m in materials[:_SHOWN_ROWS]
    ]
    if len(materials) > _SHOWN_ROWS:
        rows.append((f"and {len(materials) - _SHOWN_ROWS} more", "", "", "", ""))
    return _table(("name", "INCI", "functions", "phase", "usual level"), rows)


def _facts(material: Material) -> Iterable[tuple[str, str, str]]:
    m = material
    price = f"{m.price.per_kg:g} {m.price.currency}/kg" if m.price else ""
    shown = [
        ("functions", "functions", ", ".join(m.functions)),
        ("phase", "phase", m.phase or ""),
        ("charge", "charge", " ".join(x for x in (m.charge, m.charge_class) if x)),
        ("use_level", "usual level", _range(m.use_low, m.use_high, " %")),
        ("strength", "strength", f"{100 * m.strength:g} %" if m.strength is not None else ""),
        ("ph_window", "pH window", _range(m.ph_low, m.ph_high, _reason(m.ph_reason))),
        ("heat_limit_c", "heat limit", f"{m.heat_limit_c:g} °C" if m.heat_limit_c else ""),
        ("hlb", "HLB", _band(m.hlb)),
        ("required_hlb", "required HLB", _band(m.required_hlb)),
        ("density_g_ml", "density", f"{m.density_g_ml:g} g/mL" if m.density_g_ml else ""),
        ("cas", "CAS number", m.cas or ""),
        ("price", "list price", price),
        ("hazards", "caution", "; ".join(m.hazards)),
        ("note", "note", m.note or ""),
        ("assumed", "assumed", m.assumed or ""),
        ("lot", "lot", m.lot or ""),
        ("expires", "use before", m.expires.isoformat() if m.expires else ""),
    ]
    return (row for row in shown if row[2])


def _kind(material: Material, name: str) -> str:
    source = material.source(name)
    return source.kind.replace("-", " ") if source else ""


def _reason(words: str | None) -> str:
    return f": {words}" if words else ""


def _band(band: tuple[float, float, float] | None) -> str:
    if band is None:
        return ""
    low, typical, high = band
    return f"{typical:g}" if low == high else f"{typical:g} ({low:g} to {high:g})"


def _range(low: float | None, high: float | None, unit: str) -> str:
    if low is None and high is None:
        return ""
    if low is None or high is None:
        return f"up to {high:g}{unit}" if low is None else f"from {low:g}{unit}"
    return f"{low:g}{unit}" if low == high else f"{low:g} to {high:g}{unit}"


def _share(low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return "share not known"
    return _range(100 * round(low, 10), 100 * round(high, 10), " %")


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    cells = "".join(f"<th style='text-align:left'>{escape(name)}</th>" for name in head)
    body = "".join(
        "<tr>" + "".join(f"<td style='text-align:left'>{escape(c)}</td>" for c in row) + "</tr>"
        for row in rows
    )
    return f"<table><thead><tr>{cells}</tr></thead><tbody>{body}</tbody></table>"
