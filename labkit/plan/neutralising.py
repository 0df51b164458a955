"""Neutralising a formula's carbomer, acrylate, fatty acid or fatty amine, as one job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from html import escape

from labkit.errors import FormulaError
from labkit.formula import Formula, Move, formula_of
from labkit.formula.names import fold
from labkit.materials import Material, Materials
from labkit.plan.reagents import Titrated, titrate
from labkit.quantities import parse
from labkit.science import neutralising as groups
from labkit.science.neutralising import ApparentAcid, Neutralisation
from labkit.tables import sources

__all__ = ["Neutralising", "neutralise"]

GRID = Decimal("0.0001")
FIRST_SHARE = 0.75


@dataclass(frozen=True, slots=True, kw_only=True)
class Neutralising:
    """How much base (or acid) a formula wants, and the moves that put it in.

    Attributes
    ----------
    reagent : str
        The base or acid.
    percent, low, high : float
        Typical share of the batch and the band it lies in [% w/w].
    first : float
        Three quarters of the lower end: what to add before the first reading [% w/w].
    grams : tuple of float
        Low, typical and high for the batch [g].
    ph : float or None
        The pH asked for; None when a degree was given.
    degrees : mapping of str to float
        Share of the groups neutralised, line by line.
    moves : tuple of Move
        To be applied to the formula in this order; empty when nothing is to be added.
    formula : Formula
        The formula after the moves.
    words : str
        The answer for the weigh sheet.
    caution : str
        What can hurt, or "".
    source : str
        Where the constants come from.
    """

    reagent: str
    percent: float
    low: float
    high: float
    first: float
    grams: tuple[float, float, float]
    ph: float | None
    degrees: dict[str, float]
    moves: tuple[Move, ...]
    formula: Formula
    words: str
    caution: str
    source: str

    def __str__(self) -> str:
        return f"{self.words}\n{self.caution}".strip()

    def _repr_html_(self) -> str:
        caution = f"<br><b>{escape(self.caution)}</b>" if self.caution else ""
        return f"<p>{escape(self.words)}{caution}<br><small>{escape(self.source)}</small></p>"


def neutralise(
    formula: Formula,
    mats: Materials,
    reagent: str = "Sodium hydroxide 18 % solution",
    *,
    ph: float | None = None,
    degree: float | None = None,
    batch: str = "100 g",
) -> Neutralising:
    """How much base the carbomer, acrylate or fatty acid of a formula wants; how much acid
    its fatty amidoamine.

    Parameters
    ----------
    formula : Formula
        Its q.s. line gives way.
    mats : Materials
    reagent : str
        The base or acid. Where the formula has it already its line is set anew.
    ph : float, optional
        pH wanted in the water phase.
    degree : float, optional
        Or the share of the acid groups to neutralise, above 0 up to 1. Give one of the two;
        a fatty acid wants the degree, its pH says little.
    batch : str
        For the grams in the answer.

    Returns
    -------
    Neutralising

    Raises
    ------
    FormulaError
        No line that this reagent neutralises, no q.s. line, or a pH it does not reach.
    MaterialError
        The reagent is not known.
    ScienceError
        Neither or both of ``ph`` and ``degree``, or one that cannot be.

    Notes
    -----
    With a pH the amount comes from the charge balance of the whole water phase, other acids
    and bases included, as in the forecast; the band from the low and high ends of
    equivalents, apparent pKa and steepness of each polymer or fatty acid
    (`labkit.science.neutralising`). With a degree only those groups are counted.

    Examples
    --------
    >>> gel = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Carbomer,0.4''')
    >>> job = neutralise(gel, Materials.starter(), "Sodium hydroxide 10 % solution", ph=6.5)
    >>> 0.4 < job.low < job.percent < job.high < 3
    True
    >>> [m.kind for m in job.moves]
    ['add']
    """
    formula = formula_of(formula, "Neutralising")
    job = titrate(formula, mats, reagent)
    chains = _chains(job)
    answers = {
        job.formula.lines[i].material: groups.neutralise(
            known.name, float(job.formula.lines[i].percent), job.reagent.name, ph=ph, degree=degree
        )
        for i, known in chains
    }
    alone = sum(a.reagent_g for a in answers.values())
    percent = alone if ph is None else _to_reach(job, ph)
    low = max(percent - sum(a.reagent_g - a.low_g for a in answers.values()), 0.0)
    high = percent + sum(a.high_g - a.reagent_g for a in answers.values())
    moves = _moves(formula, job, percent)
    after = formula
    for move in moves:
        after = after.apply(move)
    mass = parse(batch, "mass", where="Batch").to("g")
    grams = (low * mass / 100, percent * mass / 100, high * mass / 100)
    return Neutralising(
        reagent=job.reagent.name,
        percent=percent,
        low=low,
        high=high,
        first=FIRST_SHARE * low,
        grams=grams,
        ph=ph,
        degrees={name: a.degree for name, a in answers.items()},
        moves=moves,
        formula=after,
        words=_words(job, answers, grams, mass, ph, degree),
        caution=next((a.caution for a in answers.values() if a.caution), ""),
        source=_source(list(answers.values())),
    )


def _chains(job: Titrated) -> list[tuple[int, ApparentAcid]]:
    """Lines with acid groups for a base, or with amine groups for an acid."""
    by_inci = {fold(a.inci): a for a in groups.apparent_acids().values()}
    wants_acid = job.reagent.charge == "acid"
    found = [
        (i, known)
        for i, m in enumerate(job.evaluator.materials)
        if m is not None and (known := _known(m, by_inci)) is not None
        if job.formula.lines[i].percent > 0
    ]
    fitting = [(i, known) for i, known in found if known.is_acid != wants_acid]
    if not fitting:
        raise _nothing_to_do(job, [known for _, known in found])
    return fitting


def _known(material: Material, by_inci: dict[str, ApparentAcid]) -> ApparentAcid | None:
    return by_inci.get(fold(material.name)) or by_inci.get(fold(material.inci))


def _nothing_to_do(job: Titrated, others: Sequence[ApparentAcid]) -> FormulaError:
    wants = "an acid" if job.reagent.charge != "acid" else "a base"
    names = ", ".join(a.inci for a in others)
    return FormulaError(
        where=job.formula.name,
        found=f"no line that {job.reagent.name} neutralises"
        + (f"; {names} wants {wants}" if others else ""),
        allowed="Carbomer, an acrylates copolymer or a fatty acid for a base; a fatty amidoamine "
        "for an acid",
        cause="The polymer is sold neutralised, or the pH is set by dissolved acids alone",
        do="For a dissolved acid draw lk.charts.titration(formula, mats, reagent)",
    )


def _to_reach(job: Titrated, ph: float) -> float:
    found = job.dose_for(ph)
    if found is None:
        low, high = job.reach()
        raise FormulaError(
            where=f"{job.formula.name}, pH {ph:g} with {job.reagent.name}",
            found="a pH that this reagent does not reach",
            allowed=f"pH {low:.1f} to {high:.1f}",
            cause="It pulls the other way, is too weak, or the water is used up first",
            do="Take another reagent or another pH",
            reachable=(low, high),
        )
    return found


def _moves(formula: Formula, job: Titrated, percent: float) -> tuple[Move, ...]:
    share = Decimal(repr(percent)).quantize(GRID)
    if job.line < len(formula.lines) and job.present > 0:
        here = formula.lines[job.line]
        if share == here.percent:
            return ()
        return (Move(kind="set", line=job.line, material=here.material, percent=share),)
    if share <= 0:
        return ()
    last = job.formula.lines[job.line]
    return (Move(kind="add", material=last.material, phase=last.phase, percent=share),)


def _words(
    job: Titrated,
    answers: dict[str, Neutralisation],
    grams: tuple[float, float, float],
    mass: float,
    ph: float | None,
    degree: float | None,
) -> str:
    low, typical, high = grams
    aim = f"pH {ph:g}" if ph is not None else f"{100 * (degree or 0):g} % of the groups neutralised"
    others = [] if ph is not None else _others(job, answers)
    beside = (
        "The other acids and bases of the recipe are counted. "
        if ph is not None
        else f"Not counted, and on top: {', '.join(others)}. "
        if others
        else ""
    )
    return (
        f"{typical:.3g} g of {job.reagent.name} in {mass:g} g for {' and '.join(answers)}, "
        f"{aim} ({low:.3g} to {high:.3g} g: the pKa is apparent). {beside}"
        f"{_already(job, mass)}Add {FIRST_SHARE * low:.3g} g, stir, wait, read; finish in steps "
        "and check by titration."
    )


def _already(job: Titrated, mass: float) -> str:
    held = job.present * mass / 100
    return f"The recipe holds {held:.3g} g of it, replaced by this. " if held > 0 else ""


def _others(job: Titrated, answers: dict[str, Neutralisation]) -> list[str]:
    return [
        line.material
        for i, (line, m) in enumerate(zip(job.formula.lines, job.evaluator.materials, strict=True))
        if i != job.line and m is not None and m.charge == "acid" and line.material not in answers
    ]


def _source(answers: Sequence[Neutralisation]) -> str:
    known = sources()
    ids = dict.fromkeys(name for a in answers for name in a.source_ids)
    return "; ".join(known[name].citation if name in known else name for name in ids)
