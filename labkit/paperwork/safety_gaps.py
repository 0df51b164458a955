"""What a safety file lacks, each gap with who can close it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from labkit.estimates.declaration import Declaration
from labkit.estimates.margins import DepartureRow, Use
from labkit.materials import Material
from labkit.paperwork.subject import Measured, Subject

__all__ = ["gaps_of"]

WET = ("Aqua", "Water")


def gaps_of(
    subject: Subject,
    found: Sequence[Material | None],
    use: Use | None,
    rows: Sequence[DepartureRow],
    read: Sequence[Measured],
    label: Declaration | None,
    trouble: str,
    kept: Sequence[object],
    killed: Sequence[object],
    spread: Sequence[object],
) -> tuple[str, ...]:
    """Every gap in words, each once."""
    return tuple(
        dict.fromkeys(
            [
                *_brief(subject),
                *_materials(subject, found),
                *_toxicology(use, rows, subject),
                *_measured(subject, read, spread),
                *_studies(rows, kept, killed),
                *_label(label, trouble),
                *_always(subject),
            ]
        )
    )


def _brief(subject: Subject) -> Iterator[str]:
    brief = subject.brief
    if not subject.stated:
        yield "No brief: what the product is for, who uses it and where. Write one."
    if brief.leave_on is None:
        yield "Whether it stays on or is rinsed off: say so in the brief."
    if brief.ph is None:
        yield "No pH window in the brief."
    if not brief.pack:
        yield "No pack in the brief: material, closure, and how it goes with the product."
    if brief.durability is None:
        yield "No wanted durability in the brief."


def _materials(subject: Subject, found: Sequence[Material | None]) -> Iterator[str]:
    lines = [x for x in zip(subject.formula.lines, found, strict=True) if x[0].percent]
    unknown = [line.material for line, m in lines if m is None]
    if unknown:
        yield (
            f"Not known, so counted nowhere in this file: {', '.join(unknown)}. Add them from the "
            "suppliers' sheets."
        )
    known = list({m.key: m for _, m in lines if m is not None}.values())
    general = [m.name for m in known if not _own(m)]
    if general:
        yield (
            f"Supplier's documents (specification, safety data sheet, allergens, impurities): "
            f"{', '.join(general)} carry general figures of the trade only."
        )
    no_cas = [m.name for m in known if m.cas is None and not m.is_blend]
    if no_cas:
        yield f"CAS number: {', '.join(no_cas)}."
    no_lot = [m.name for m in known if m.lot is None]
    if no_lot:
        yield f"Lot numbers: none for {len(no_lot)} of {len(known)} materials."
    loose = [m.name for m in known if any(not part.exact for part in m.listed)]
    if loose:
        yield f"Exact composition: {', '.join(loose)} state ranges, or only an order."


def _own(material: Material) -> bool:
    return any(ref.kind in ("own", "opened-supplier") for ref in material.facts.values())


def _toxicology(use: Use | None, rows: Sequence[DepartureRow], subject: Subject) -> Iterator[str]:
    if use is None or use.exposure_mg_kg_day is None:
        kind = subject.brief.product_type or subject.brief.product
        yield f"Exposure figures for “{kind}”: the assessor sets them."
    silent = [r.name for r in rows if r.point_mg_kg_day is None and r.name not in WET]
    if silent:
        yield f"No point of departure, so no margin, for: {', '.join(silent)}."
    guessed = [
        r.name for r in rows if r.point_mg_kg_day is not None and "default" in r.absorption_source
    ]
    if guessed:
        yield f"Absorption through the skin is the default, not measured: {', '.join(guessed)}."
    unsourced = [r.name for r in rows if "no source named" in (r.absorption_source + r.oral_source)]
    if unsourced:
        yield f"Absorption or bioavailability entered without a source: {', '.join(unsourced)}."


def _measured(
    subject: Subject, read: Sequence[Measured], spread: Sequence[object]
) -> Iterator[str]:
    seen = {m.quantity for m in read}
    if subject.trial is None:
        yield "This formula is not a recorded trial: nothing was made or measured under it."
    for quantity in ("pH", "viscosity", "appearance", "smell", "colour", "density"):
        if quantity not in seen:
            yield f"No measured {quantity}."
    if not spread:
        yield "No specification from repeat batches."


def _studies(
    rows: Sequence[DepartureRow], kept: Sequence[object], killed: Sequence[object]
) -> Iterator[str]:
    if not kept:
        yield "No stability study: 4, 25 and 40 °C, freezing, light, final pack (common practice)."
    if not killed and any(r.name in WET for r in rows):
        yield "No challenge test of a product with water: a laboratory does it."
    yield "Microbiological quality: total counts of a batch, from a laboratory."


def _label(label: Declaration | None, trouble: str) -> Iterator[str]:
    if label is None:
        yield f"No ingredient list: {trouble}."
    else:
        yield from label.questions


def _always(subject: Subject) -> Iterator[str]:
    yield "Impurities, traces and what may come out of the pack: from suppliers and pack maker."
    yield "Undesirable effects: what users reported, kept from the first jar on."
    if subject.brief.claims:
        yield f"Evidence for the claims: {'; '.join(subject.brief.claims)}."
    if subject.brief.under_3 or subject.brief.nappy or subject.brief.eye_area:
        yield "An assessment of its own for small children, the nappy area or the eyes."
    yield "Name, address and signature of the assessor, with the proof of qualification."
