"""The tables of a safety file: composition by INCI and CAS, materials and their data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from labkit.estimates.declaration_parts import LineParts, Span
from labkit.estimates.declaration_rules import percent_words
from labkit.formula import Formula
from labkit.materials import Material, Materials
from labkit.paperwork.blocks import Block, Cell, Row, Table, Words

__all__ = ["composition", "materials_table"]

_SHOWN = (
    ("use_low", "usual level", "use_level"),
    ("ph_low", "pH window", "ph_window"),
    ("heat_limit_c", "heat limit", "heat_limit_c"),
    ("density_g_ml", "density", "density_g_ml"),
    ("cas", "CAS number", "cas"),
)


def composition(lines: Sequence[LineParts], mats: Materials) -> Table:
    """Every ingredient with CAS number, functions, percentage and where it comes from.

    Parameters
    ----------
    lines : sequence of LineParts
    mats : Materials
        Where CAS numbers and functions are looked up.

    Returns
    -------
    Table
        Greatest percentage first.
    """
    total: dict[str, tuple[str, Span, list[str], Material | None]] = {}
    for line in lines:
        for part in line.listed:
            amount = part.share.times(line.percent)
            known = line.material if len(line.listed) == 1 else mats.resolve(part.inci)
            name, before, whence, material = total.get(part.key, (part.inci, None, [], None))
            total[part.key] = (
                name,
                amount if before is None else before + amount,
                [*whence, line.written],
                material or known,
            )
    ranked = sorted(total.values(), key=lambda one: (-one[1].typical, one[0]))
    rows = [
        (
            name,
            Cell(text=material.cas if material and material.cas else "not known", kind="fixed"),
            ", ".join(material.functions) if material else "not known",
            percent_words(amount),
            ", ".join(dict.fromkeys(whence)),
        )
        for name, amount, whence, material in ranked
    ]
    return Table(
        head=("INCI", "CAS", "Function", "% of the product", "Comes from"),
        rows=rows,
        caption="Blends taken apart; ranges where a supplier states ranges or only an order.",
    )


def materials_table(formula: Formula, found: Sequence[Material | None]) -> Iterator[Block]:
    """What is known of each material, each figure with its kind of source."""
    rows: list[Row] = []
    for line, material in zip(formula.lines, found, strict=True):
        if line.percent == Decimal(0):
            continue
        if material is None:
            rows.append((Cell(text=line.material, kind="strong"), "no data", "everything"))
            continue
        title = material.name if material.lot is None else f"{material.name}, lot {material.lot}"
        rows.append(
            (
                Cell(text=f"{title}\n{material.inci}"),
                "\n".join(_known(material)),
                ", ".join(material.unknowns()) or "–",
            )
        )
    yield Table(head=("Material", "Known, with its source", "Not known"), rows=rows)
    yield Words(
        text="General figures of the trade are no supplier's documents: safety data sheet, "
        "specification, certificate of analysis, allergen and impurity statements of the lot "
        "come from the supplier.",
        tone="muted",
    )


def _known(material: Material) -> list[str]:
    """Figures gathered by their source, one line a source."""
    by_source: dict[str, list[str]] = {}
    for words, source in _facts(material):
        by_source.setdefault(source, []).append(words)
    return [f"{', '.join(words)} [{source}]" for source, words in by_source.items()]


def _facts(material: Material) -> Iterator[tuple[str, str]]:
    for attribute, words, fact in _SHOWN:
        text = _figure(material, attribute)
        source = material.source(fact)
        if text:
            yield f"{words} {text}", source.words if source else "no source named"
    if material.hazards:
        source = material.source("hazards")
        told = "; ".join(material.hazards)
        yield f"caution: {told}", source.words if source else "materials table"
    if material.allergy or material.origin:
        tags = sorted({*material.allergy, *material.origin})
        yield f"origin, allergy: {', '.join(tags)}", "materials table"


def _figure(material: Material, attribute: str) -> str:
    if attribute == "use_low":
        return _range(material.use_low, material.use_high, " %")
    if attribute == "ph_low":
        window = _range(material.ph_low, material.ph_high, "")
        return f"{window} ({material.ph_reason})" if window and material.ph_reason else window
    if attribute == "heat_limit_c":
        return "" if material.heat_limit_c is None else f"{material.heat_limit_c:g} °C"
    if attribute == "density_g_ml":
        return "" if material.density_g_ml is None else f"{material.density_g_ml:g} g/mL"
    return material.cas or ""


def _range(low: float | None, high: float | None, unit: str) -> str:
    if low is None and high is None:
        return ""
    if low is None or high is None:
        return f"up to {high:g}{unit}" if low is None else f"from {low:g}{unit}"
    return f"{low:g} to {high:g}{unit}"
