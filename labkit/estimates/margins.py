"""Exposure and margin of safety of the ingredients, with every input in sight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Any

from labkit import tables
from labkit.errors import FormulaError
from labkit.estimates.declaration_names import key_of
from labkit.estimates.declaration_parts import LineParts, Span
from labkit.estimates.sourcing import source_words
from labkit.formula import Brief
from labkit.quantities import decimal
from labkit.science import exposure

__all__ = ["DepartureRow", "Use", "margins", "use_of"]

DEFAULT_ABSORPTION = 50.0
"""% through the skin where nothing is measured; SCCS Notes of Guidance."""
_UNITS = {"-": "", "cm2": "cm²", "cm^2": "cm²", "1/day": "per day"}
DEFAULT_ORAL = 0.5
"""Share of an oral dose that reaches the blood where nothing is measured; SCCS."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """How much of a product type stays on the body; None where the table has no figure.

    Amounts in mg per kg body weight and day.
    """

    product_type: str
    exposure_mg_kg_day: float | None
    facts: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DepartureRow:
    """One ingredient: its exposure, and its margin where a point of departure was given."""

    name: str
    percent: Decimal
    absorption_percent: float
    absorption_source: str
    dose_mg_kg_day: float | None
    point_mg_kg_day: float | None = None
    point_source: str = ""
    oral: float | None = None
    oral_source: str = ""
    margin: float | None = None


@cache
def _uses() -> Mapping[str, tuple[Mapping[str, str | None], ...]]:
    found: dict[str, list[Mapping[str, str | None]]] = {}
    for row in tables.rows("exposure"):
        found.setdefault(row["product_type"] or "", []).append(row)
    return {name: tuple(rows) for name, rows in found.items()}


def use_of(brief: Brief) -> Use | None:
    """Exposure figures of the brief's product type.

    Returns
    -------
    Use or None
        None when the product type has no row in the table of the SCCS Notes of Guidance.

    Examples
    --------
    >>> use_of(Brief(product="hand cream")).exposure_mg_kg_day
    32.7
    """
    name = brief.kind.exposure
    if name is None or name not in _uses():
        return None
    rows = _uses()[name]
    value = {row["property"]: row["value"] for row in rows}
    given = value.get("exposure_per_body_weight")
    amount, kept = value.get("amount_per_body_weight"), value.get("retention_factor")
    per_kg = float(given) if given else None
    if per_kg is None and amount and kept:
        per_kg = float(exposure.product_exposure(float(amount), float(kept)))
    return Use(
        product_type=name,
        exposure_mg_kg_day=per_kg,
        facts=tuple(
            (
                (row["property"] or "").replace("_", " "),
                f"{row['value']} {_UNITS.get(row['unit'] or '', row['unit'] or '')}".strip(),
                source_words(row),
            )
            for row in rows
            if row["value"]
        ),
    )


def margins(
    lines: Sequence[LineParts], use: Use | None, points: Mapping[str, Mapping[str, Any]], where: str
) -> tuple[DepartureRow, ...]:
    """Systemic dose of every ingredient, and the margin where a point of departure is given.

    Parameters
    ----------
    lines : sequence of LineParts
        From `labkit.estimates.declaration_parts.parts_of`.
    use : Use or None
    points : mapping
        INCI name to ``{"point": 100, "source": "…", "absorption": 10, "oral": 0.5}``: point
        of departure [mg/kg body weight/day], absorption through the skin [%], oral
        bioavailability [-]; ``absorption_source`` and ``oral_source`` beside them.
    where : str

    Returns
    -------
    tuple of DepartureRow
        Largest percentage first; the greatest percentage of a range is used.

    Raises
    ------
    FormulaError
        A point for an ingredient that is not there, or without its source.
    ScienceError
        A figure outside what can be.

    Notes
    -----
    SED = E x C/100 x DA/100 and MoS = PoD x oral bioavailability / SED, SCCS Notes of
    Guidance (SCCS/1647/22). 100 is a reference line, no verdict: a qualified safety assessor
    decides.
    """
    totals: dict[str, tuple[str, Span]] = {}
    for line in lines:
        for part in line.listed:
            amount = part.share.times(line.percent)
            name, before = totals.get(part.key, (part.inci, None))
            totals[part.key] = (name, amount if before is None else before + amount)
    given = {key_of(name): dict(values) for name, values in points.items()}
    _check_points(points, given, totals, where)
    rows = [
        _row(name, amount.high, use, given.get(key, {}), where)
        for key, (name, amount) in totals.items()
    ]
    return tuple(sorted(rows, key=lambda row: (-row.percent, row.name)))


def _row(
    name: str, percent: Decimal, use: Use | None, given: Mapping[str, Any], where: str
) -> DepartureRow:
    told = f"{where}, {name}"
    absorbed = _figure(given, "absorption", told)
    oral = _figure(given, "oral", told)
    point = _figure(given, "point", told)
    share = DEFAULT_ABSORPTION if absorbed is None else absorbed
    dose = None
    if use is not None and use.exposure_mg_kg_day is not None:
        dose = float(exposure.systemic_dose(use.exposure_mg_kg_day, float(percent), share))
    reaches = (DEFAULT_ORAL if oral is None else oral) if point is not None else None
    return DepartureRow(
        name=name,
        percent=percent,
        absorption_percent=share,
        absorption_source=_said(given, "absorption", absorbed is None),
        dose_mg_kg_day=dose,
        point_mg_kg_day=point,
        point_source=str(given.get("source", "")),
        oral=reaches,
        oral_source=_said(given, "oral", oral is None) if point is not None else "",
        margin=float(exposure.margin(point, dose, reaches))
        if point is not None and dose and reaches is not None
        else None,
    )


def _figure(given: Mapping[str, Any], name: str, where: str) -> float | None:
    value = given.get(name)
    return None if value is None else float(decimal(value, where=f"{where}, {name}", lowest=0))


def _said(given: Mapping[str, Any], name: str, default: bool) -> str:
    if default:
        return "default of the SCCS Notes of Guidance"
    return str(given.get(f"{name}_source", "")) or "as entered, no source named"


def _check_points(
    points: Mapping[str, Mapping[str, Any]],
    given: Mapping[str, Mapping[str, Any]],
    totals: Mapping[str, object],
    where: str,
) -> None:
    strange = [name for name in points if key_of(name) not in totals]
    if strange:
        raise FormulaError(
            where=where,
            found=f"a point of departure for {', '.join(strange)}",
            allowed="INCI names of ingredients that are in the product",
            cause="A trade name, or another spelling",
            do="Write the INCI name as the composition table shows it",
        )
    silent = [
        name for name in points
        if given[key_of(name)].get("point") is not None
        and not str(given[key_of(name)].get("source", "")).strip()
    ]  # fmt: skip
    if silent:
        raise FormulaError(
            where=where,
            found=f"a point of departure without its source: {', '.join(silent)}",
            allowed="A figure with the study or opinion it comes from",
            cause="The source was not typed",
            do="Add source=…: an assessor must be able to look it up",
        )
