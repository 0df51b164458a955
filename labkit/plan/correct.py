"""Before it is bottled: what to add to a batch that is not as it should be.

Common practice of the bench for each trouble, with the arithmetic of
`labkit.science.batch`, `labkit.science.restoring` and the bench titration.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from labkit.bench.views import Trial
from labkit.errors import BriefError
from labkit.estimates.check import check
from labkit.estimates.finding import Findings
from labkit.formula import Brief, Formula
from labkit.materials import Materials
from labkit.plan.correcting import CASES, Beaker
from labkit.plan.correcting_words import NEEDS, OTHER_NAMES, TROUBLES
from labkit.plan.correction import Correction, mixed
from labkit.quantities import parse as parse_quantity

__all__ = ["TROUBLES", "correct"]


def correct(
    about: Formula | Trial,
    trouble: str,
    mats: Materials | None = None,
    *,
    batch: Any = "100 g",
    balance: Any = None,
    brief: Brief | None = None,
    ph: Any = None,
    **how: Any,
) -> Correction:
    """What to add to a batch in the beaker, what becomes of it, or that it cannot be saved.

    Parameters
    ----------
    about : Formula or Trial
        What is in the beaker.
    trouble : str
        One of :data:`TROUBLES`: ``"too thin"``, ``"too thick"``, ``"pH high"``, ``"pH low"``,
        ``"weak colour"``, ``"weak scent"``, ``"evaporated"``, ``"overpoured"``,
        ``"forgotten"``, ``"too little"``, ``"too much"``, ``"split"``, ``"air"``.
    mats : Materials, optional
        The starter set if left out.
    batch : str
        How much is in the beaker now.
    balance : str, optional
        What the balance reads to; the brief's.
    brief : Brief, optional
        Product and market, for the findings.
    ph : float, optional
        The pH after the correction, for what depends on it.
    **how
        Of the trouble: ``material``, ``to`` [%], ``strength`` [%] and ``carrier`` of a stock;
        ``water`` (too thick); ``sample``, ``dose`` (pH, from the titration of a small
        sample); ``vessel``, ``gross`` (evaporated); ``by`` (overpoured); ``room`` (largest
        batch that the vessel takes); ``ceiling`` [%] (the supplier's limit of a scent).

    Returns
    -------
    Correction
        Grams to add, steps, every percentage before and after, what fell and what restores
        it, new findings; ``.fold()`` is the formula of the next trial.

    Raises
    ------
    BriefError
        Another trouble, or something that it cannot be worked out without.
    FormulaError, ScienceError
        A number that cannot be.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Xanthan Gum,0.3")
    >>> thicker = correct(gel, "too thin", batch="96 g", material="xanthan gum", to="0.45 %")
    >>> str(thicker.additions[0]), thicker.fold().lines[1].percent
    ('0.1447 g Xanthan Gum', Decimal('0.4501'))
    """
    name = _named(trouble)
    formula = about.formula if isinstance(about, Trial) else about
    known = Materials.starter() if mats is None else mats
    brief = brief or _brief_of(about, formula)
    beaker = Beaker(
        formula=formula,
        mass_g=parse_quantity(batch, "mass", where=f"{formula.name}, batch").exact("g"),
        step_g=parse_quantity(balance or brief.balance, "mass", where="Balance").exact("g"),
        mats=known,
        how=how,
    )
    _check_how(name, how, beaker)
    answer = CASES[name](beaker)
    before = answer.before or formula
    mass = beaker.mass_g if answer.mass_g is None else answer.mass_g
    after = mixed(before, mass, answer.additions, known)
    return Correction(
        trouble=name,
        possible=answer.possible,
        why=answer.why,
        additions=answer.additions,
        steps=answer.steps,
        planned=formula,
        before=before,
        after=after,
        mass_g=mass,
        balance_g=beaker.step_g,
        findings=_suspects(before, known, brief, ph)
        if name == "split"
        else _new_findings(before, after, known, brief, ph),
        mats=known,
    )


def _brief_of(about: Formula | Trial, formula: Formula) -> Brief:
    recorded = about.brief if isinstance(about, Trial) else None
    return Brief.from_dict(dict(recorded)) if recorded else Brief(product=formula.name)


def _new_findings(
    before: Formula, after: Formula, mats: Materials, brief: Brief, ph: Any
) -> Findings:
    """What holds after the correction and not before; the batch is weighed already."""
    known = {(f.code, f.severity, f.names) for f in check(before, mats, brief)}
    return Findings(
        f
        for f in check(after, mats, brief, ph=ph)
        if (f.code, f.severity, f.names) not in known and f.code != "WEIGH01"
    )


def _suspects(formula: Formula, mats: Materials, brief: Brief, ph: Any) -> Findings:
    """Everything grave that the rules see in a formula that split."""
    found = check(formula, mats, brief, ph=ph)
    return found.of(lambda f: f.severity != "fyi" and f.code != "WEIGH01")


USES: Mapping[str, frozenset[str]] = {
    name: frozenset(words.split()) for name, words in NEEDS.items()
}


def _named(trouble: str) -> str:
    asked = " ".join(str(trouble).split()).casefold()
    spelt = {name.casefold(): name for name in CASES} | dict(OTHER_NAMES)
    if asked in spelt:
        return spelt[asked]
    raise BriefError(
        where="Correction",
        found=f"'{trouble}'",
        allowed=", ".join(TROUBLES),
        cause="Another word for the trouble",
        do="Choose the nearest of these",
    )


def _check_how(name: str, how: Mapping[str, Any], beaker: Beaker) -> None:
    if strange := sorted(set(how) - USES[name]):
        raise BriefError(
            where=f"{beaker.formula.name}, {name}",
            found=", ".join(strange),
            allowed=", ".join(sorted(USES[name])) or "nothing more than the batch",
            cause="The word belongs to another trouble, or is misspelt",
            do="Use these words",
        )
