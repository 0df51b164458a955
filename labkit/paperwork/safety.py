"""The safety file: what an assessor asks for, gathered, with every gap named.

Its order follows what Annex I of Regulation (EC) No 1223/2009 and the guidelines of
Decision 2013/674/EU ask of a safety report; it is material for that report, not the report.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from labkit.bench import Bench, Trial
from labkit.errors import MaterialError
from labkit.estimates import Finding, check
from labkit.estimates.declaration import Declaration, declare
from labkit.estimates.declaration_parts import parts_of
from labkit.estimates.margins import DepartureRow, Use, margins, use_of
from labkit.formula import Brief, Formula
from labkit.materials import Materials
from labkit.paperwork.blocks import (
    Block,
    Break,
    Bullets,
    Copy,
    Facts,
    Heading,
    Table,
    Words,
)
from labkit.paperwork.page import Document
from labkit.paperwork.records import challenges, decisions, none_on_record, stability
from labkit.paperwork.safety_gaps import gaps_of
from labkit.paperwork.safety_tables import composition, materials_table
from labkit.paperwork.specifying import limits_table, spread_of
from labkit.paperwork.subject import Measured, Subject, measured, subject_of
from labkit.science.exposure import REFERENCE_LINE

__all__ = ["WHO_DECIDES", "safety_file"]

WHO_DECIDES = (
    ("whether people may use it", "a qualified safety assessor, who signs the report"),
    ("whether it is preserved", "a laboratory's challenge test, read by the assessor"),
    ("how long it keeps", "a stability study in the final pack"),
    ("toxicology, margins", "a toxicologist or the assessor; 100 is a reference line"),
    ("limits, labels, notification", "local law and the responsible person"),
    ("what a material really is", "the supplier's documents for the lot in hand"),
    ("tests on people", "a clinician and an ethics committee"),
)


def safety_file(
    about: Formula | Trial,
    mats: Materials,
    *,
    bench: Bench | None = None,
    brief: Brief | None = None,
    points: Mapping[str, Mapping[str, Any]] | None = None,
    repeats: Sequence[Trial | str] = (),
    market: str | None = None,
    day: date | None = None,
    paper: str | None = None,
    **choices: Any,
) -> Document:
    """Gather what a safety assessor asks for.

    Parameters
    ----------
    about : Formula or Trial
    mats : Materials
    bench : Bench, optional
        Readings, stability and challenge records of the trial.
    brief : Brief, optional
        Product type, users, market; a trial brings its own.
    points : mapping, optional
        INCI name to ``{"point": 100, "source": "…", "absorption": 10, "oral": 0.5}``: point of
        departure [mg/kg body weight/day] with its source, absorption through the skin [%], oral
        bioavailability [-]. Without a point an ingredient has an exposure and no margin.
    repeats : sequence of Trial or label
        Batches of the same formula, for the measured spread.
    market : str, optional
    day : date, optional
        On which the law is read.
    paper : str, optional
        ``"A4"`` or ``"Letter"``.
    **choices
        Of the ingredient list: certificates, left_out …

    Returns
    -------
    Document
        Every gap is named in its own section; it ends with who must decide.

    Raises
    ------
    FormulaError
        A point of departure for something that is not in the product, or without a source.
    ScienceError
        A figure outside what can be.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5", name="Gel")
    >>> made = safety_file(gel, Materials.starter(), brief=Brief(product="face cream"),
    ...     points={"Glycerin": {"point": 2000, "source": "study of the supplier", "oral": 1}})
    >>> "Who must decide" in made.text
    True
    """
    subject = subject_of(about, brief)
    formula = subject.formula
    found = [mats.resolve(x.key or x.material) for x in formula.lines]
    certificates = choices.get("certificates")
    lines = parts_of(formula, mats, certificates, known_only=None in found)
    use = use_of(subject.brief)
    rows = margins(lines, use, points or {}, f"{formula.name}, safety file")
    read = measured(bench, subject.trial)
    spread = spread_of(bench, repeats) if bench is not None and repeats else ()
    label, trouble = _label(subject, mats, market, day, choices)
    findings = check(formula, mats, subject.brief, day=day)
    kept = tuple(stability(bench, subject.trial))
    killed = tuple(challenges(bench, subject.trial))
    gaps = gaps_of(subject, found, use, rows, read, label, trouble, kept, killed, spread)
    blocks: list[Block] = [
        *_opening(gaps),
        *_product(subject, day),
        Heading(text="Composition"),
        composition(lines, mats),
        Heading(text="Materials, their data and sources"),
        *materials_table(formula, found),
        *_findings(findings),
        *_exposure(use, rows, subject),
        *_measured(read, spread),
        Heading(text="Stability"),
        *(kept or (none_on_record("stability study"),)),
        Heading(text="Preservation: challenge test"),
        *(killed or (none_on_record("challenge test"),)),
        *decisions(bench, subject.trial),
        *_label_blocks(label, trouble),
        *_closing(gaps),
    ]
    return Document(
        kind="Safety file",
        title=formula.name,
        under="Material for a qualified safety assessor; no assessment, no verdict"
        + (f" · trial {subject.label}" if subject.label else ""),
        blocks=tuple(blocks),
        foot="Numbers with their sources; what is not known is said. The assessor decides.",
        paper=paper,
        table=composition(lines, mats),
    )


def _opening(gaps: Sequence[str]) -> Iterator[Block]:
    count = f"{len(gaps)} gaps are" if len(gaps) != 1 else "One gap is"
    yield Words(
        text=f"{count} named in the section “What is missing”. A file with gaps cannot be "
        "assessed on those points."
        if gaps
        else "No gap that labkit looks for was found; the assessor may ask for more.",
        tone="caution",
    )


def _product(subject: Subject, day: date | None) -> Iterator[Block]:
    brief = subject.brief
    use = {True: "stays on", False: "is rinsed off", None: "not said"}[brief.leave_on]
    areas = ", ".join(sorted(brief.kind.areas)) or "not said"
    users = [
        words
        for flag, words in (
            (brief.under_3, "children under 3"),
            (brief.nappy, "nappy area"),
            (brief.eye_area, "near the eyes"),
            (brief.sprayed, "sprayed"),
        )
        if flag
    ]
    yield Heading(text="Product and use")
    yield Facts(
        pairs=[
            ("product", brief.product),
            ("type", brief.product_type or "not said"),
            ("use", use),
            ("where", areas),
            ("special", ", ".join(users) or "none said"),
            ("market", ", ".join(brief.market)),
            ("claims", "; ".join(brief.claims) or "none said"),
            ("pack, fill", ", ".join(x for x in (brief.pack, brief.fill) if x) or "not said"),
            ("law read on", str(day or brief.as_of or date.today())),
            *(
                [("record", f"trial {subject.label}, {subject.trial.id[:16]}")]
                if subject.trial
                else []
            ),
        ]
    )


def _findings(findings: Sequence[Finding]) -> Iterator[Block]:
    yield Heading(text="Checked on paper")
    if not findings:
        yield Words(text="The rules that labkit knows found nothing. That is no assessment.")
        return
    yield Table(
        head=("", "What", "Why", "What to do", "Source"),
        rows=[(f"{f.severity} {f.code}", f.what, f.why, f.do, f.source) for f in findings],
    )


def _exposure(use: Use | None, rows: Sequence[DepartureRow], subject: Subject) -> Iterator[Block]:
    yield Heading(text="Exposure and margins")
    if use is None or use.exposure_mg_kg_day is None:
        yield Words(
            text=f"No exposure figure for “{subject.brief.product_type or subject.brief.product}” "
            "in the table of the SCCS Notes of Guidance: no doses, no margins.",
            tone="caution",
        )
        return
    yield Words(text=f"Product type of the SCCS Notes of Guidance: {use.product_type}.")
    yield Facts(pairs=[(name, value) for name, value, _ in use.facts])
    yield Words(
        text="Sources: " + "; ".join(dict.fromkeys(s for *_, s in use.facts)) + ".", tone="muted"
    )
    yield Words(
        text=f"SED = E × C/100 × DA/100, with E = {use.exposure_mg_kg_day:g} mg/kg/day; "
        "MoS = PoD × oral bioavailability / SED. C is the greatest percentage that the "
        "composition allows."
    )
    yield Table(
        head=("Ingredient", "C, %", "DA, %", "SED, mg/kg/day"),
        rows=[
            (r.name, f"{r.percent:.4f}", f"{r.absorption_percent:g}", _dose(r.dose_mg_kg_day))
            for r in rows
        ],
        numeric=frozenset({1, 2, 3}),
        caption="DA is the default of the SCCS, 50 %, unless another was entered.",
    )
    yield from _margins(rows)


def _margins(rows: Sequence[DepartureRow]) -> Iterator[Block]:
    worked = [r for r in rows if r.point_mg_kg_day is not None]
    yield Heading(text="Margins of safety", level=3)
    if not worked:
        yield Words(
            text="No point of departure was entered, so no margin was worked out.", tone="caution"
        )
        return
    for r in worked:
        reached = "no dose, no margin" if r.margin is None else _plain(r.margin)
        yield Facts(
            pairs=[
                ("ingredient", r.name),
                ("point of departure", f"{r.point_mg_kg_day:g} mg/kg/day; {r.point_source}"),
                ("oral bioavailability", f"{r.oral:g}; {r.oral_source}"),
                ("absorption", f"{r.absorption_percent:g} %; {r.absorption_source}"),
                ("SED", f"{_dose(r.dose_mg_kg_day)} mg/kg/day"),
                ("MoS", f"{reached} (reference line {REFERENCE_LINE:g}; {_side(r)})"),
            ]
        )
    yield Words(
        text="The reference line is 10 between species times 10 between people. On either side "
        "of it the number goes to a toxicologist or a qualified safety assessor.",
        tone="muted",
    )


def _side(row: DepartureRow) -> str:
    if row.margin is None:
        return "not worked out"
    return "above it" if row.margin > REFERENCE_LINE else "not above it: take it to the assessor"


def _plain(value: float) -> str:
    return f"{float(f'{value:.4g}'):.12g}"


def _dose(value: float | None) -> str:
    return "–" if value is None else f"{value:.4g}"


def _measured(read: Sequence[Measured], spread: Sequence[Any]) -> Iterator[Block]:
    yield Heading(text="Measured, and specification")
    if read:
        yield Table(
            head=("Quantity", "Measured", "How"),
            rows=[(m.quantity, m.words, m.how) for m in read],
        )
    else:
        yield none_on_record("reading of this product")
    if spread:
        yield limits_table(spread)
    else:
        yield Words(
            text="No repeat batches were named, so there is no measured spread and no proposed "
            "limit.",
            tone="caution",
        )


def _label(
    subject: Subject, mats: Materials, market: str | None, day: date | None, choices: Any
) -> tuple[Declaration | None, str]:
    try:
        made = declare(
            subject.formula, mats, brief=subject.brief, market=market, day=day, **choices
        )
    except MaterialError as gap:
        return None, f"{gap.found}. {gap.do}"
    return made, ""


def _label_blocks(label: Declaration | None, trouble: str) -> Iterator[Block]:
    yield Heading(text="Label")
    if label is None:
        yield Words(text=f"The ingredient list could not be made: {trouble}.", tone="caution")
        return
    yield Copy(text=label.headed)
    if label.questions:
        yield Bullets(items=label.questions)


def _closing(gaps: Sequence[str]) -> Iterator[Block]:
    yield Break()
    yield Heading(text="What is missing")
    yield Bullets(items=gaps or ["Nothing that labkit looks for."], ticks=bool(gaps))
    yield Heading(text="Who must decide")
    yield Facts(pairs=WHO_DECIDES)
    yield Words(
        text="In the EU and Great Britain a product is placed on the market only with a safety "
        "report by a qualified assessor, a responsible person, a product file and a "
        "notification; in the USA with safety substantiation, listing and a responsible person. "
        "Local law decides.",
    )
