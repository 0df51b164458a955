"""It split, why? Questions at the bench, suspects with their evidence, the trial that tells."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from html import escape

from labkit import tables
from labkit.errors import MeasurementError
from labkit.estimates.check import Checker
from labkit.estimates.finding import Finding, Findings
from labkit.estimates.state import PhLike
from labkit.formula import Formula
from labkit.formula.brief import Brief
from labkit.formula.names import fold
from labkit.materials import Materials

__all__ = ["Question", "Suspect", "Triage", "questions", "triage"]

APART_C, COLD_C = 5.0, 65.0
"""Phases further apart, or colder, when combined (process practice PR01, PR03)."""
_LIKELY, _POSSIBLE = 4, 2
_FINDING = "finding"


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Something to look at or to remember, with the answers that count."""

    id: str
    asks: str
    answers: tuple[str, ...]
    how: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A possible cause, what speaks for and against it, and the trial that would tell.

    ``score`` orders suspects; it is a sum of weights, not a probability.
    """

    id: str
    name: str
    word: str
    score: int
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]
    lines: tuple[str, ...]
    next_trial: str

    def __str__(self) -> str:
        against = f" Against it: {'; '.join(self.speaks_against)}." if self.speaks_against else ""
        told = "; ".join(self.speaks_for)
        return f"{self.name} ({self.word}): {told}.{against} Next trial: {self.next_trial}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Triage:
    """Suspects in order, and what would still help to tell them apart."""

    suspects: tuple[Suspect, ...]
    open_questions: tuple[Question, ...]

    def __str__(self) -> str:
        if not self.suspects:
            asked = self.open_questions[0].asks if self.open_questions else ""
            return f"No suspect yet. {asked}".strip()
        return "\n".join(str(s) for s in self.suspects)

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><td>{escape(s.name)}</td><td>{s.word}</td>"
            f"<td>{escape('; '.join(s.speaks_for))}</td>"
            f"<td>{escape('; '.join(s.speaks_against))}</td>"
            f"<td>{escape(s.next_trial)}</td></tr>"
            for s in self.suspects
        )
        heads = ("suspect", "", "for it", "against it", "next trial")
        return f"<table><tr>{''.join(f'<th>{h}</th>' for h in heads)}</tr>{rows}</table>"


@cache
def questions() -> tuple[Question, ...]:
    """What the triage asks, in the order of the bench.

    Examples
    --------
    >>> questions()[0].answers
    ('spreads', 'beads', 'strings')
    """
    return tuple(
        Question(
            id=row["question"] or "",
            asks=row["asks"] or "",
            answers=tuple(a.strip() for a in (row["answers"] or "").split(";")),
            how=row["how"] or "",
        )
        for row in tables.rows("triage_questions")
    )


def triage(
    formula: Formula,
    mats: Materials | None = None,
    brief: Brief | None = None,
    answers: Mapping[str, str] | None = None,
    *,
    ph: PhLike = None,
    forecast_ph: float | None = None,
    water_c: float | None = None,
    oil_c: float | None = None,
) -> Triage:
    """Who did it: suspects from the formula on paper and from what was seen.

    Parameters
    ----------
    formula, mats, brief
        What was made; its findings count as evidence.
    answers : mapping of str to str, optional
        Question id to one of its answers (see :func:`questions`); any may be missing.
    ph : float, optional
        Reading of the split batch at 25 °C.
    forecast_ph : float, optional
        What had been expected; further than 0.4 away counts.
    water_c, oil_c : float, optional
        Temperatures of the phases when combined [°C].

    Returns
    -------
    Triage
        Suspects, the most likely first, each with the next trial that would tell.

    Raises
    ------
    MeasurementError
        A question or an answer that the triage does not know.

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> wash = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Sodium Laureth Sulfate,20
    ... A,Cetrimonium Chloride,3
    ... A,Phenoxyethanol,0.9''')
    >>> found = triage(wash, Materials.starter(), answers={"look": "curds", "when": "at once"})
    >>> found.suspects[0].name, found.suspects[0].word
    ('Opposite charges', 'likely')
    """
    told = _checked(dict(answers or {}))
    told |= _from_readings(ph, forecast_ph, water_c, oil_c)
    found = Checker(formula, mats, brief).findings(ph=ph)
    suspects = [_weigh(row, told, found) for row in tables.rows("triage_suspects")]
    kept = sorted((s for s in suspects if s.score >= _POSSIBLE), key=lambda s: (-s.score, s.name))
    waiting = [q for q in questions() if q.id not in told]
    return Triage(suspects=tuple(kept), open_questions=tuple(_most_telling(waiting, kept)))


def _checked(answers: dict[str, str]) -> dict[str, str]:
    known = {q.id: q for q in questions()}
    clean = {}
    for name, answer in answers.items():
        question = known.get(fold(name))
        if question is None:
            raise _refusal(f"a question '{name}'", ", ".join(known))
        match = next((a for a in question.answers if fold(a) == fold(answer)), None)
        if match is None:
            raise _refusal(
                f"'{answer}' as the answer to '{question.asks}'", "; ".join(question.answers)
            )
        clean[question.id] = match
    return clean


def _refusal(found: str, allowed: str) -> MeasurementError:
    return MeasurementError(
        where="Triage",
        found=f"{found} is not known",
        allowed=allowed,
        cause="Mistyped, or an answer in other words",
        do="Choose one of these, or leave the question open",
    )


def _from_readings(
    ph: PhLike, forecast_ph: float | None, water_c: float | None, oil_c: float | None
) -> dict[str, str]:
    found = {}
    if isinstance(ph, float | int) and forecast_ph is not None:
        gap = float(ph) - forecast_ph
        found["ph"] = "as forecast" if abs(gap) <= 0.4 else "higher" if gap > 0 else "lower"
    if water_c is not None and oil_c is not None:
        close = abs(water_c - oil_c) <= APART_C
        cold = min(water_c, oil_c) < COLD_C
        found["temperatures"] = (
            "one was below 65 °C" if cold else "within 5 °C" if close else "further apart"
        )
    return found


@cache
def _evidence() -> Mapping[str, tuple[tables.Row, ...]]:
    found: dict[str, tuple[tables.Row, ...]] = {}
    for row in tables.rows("triage_evidence"):
        name = row["suspect"] or ""
        found[name] = (*found.get(name, ()), row)
    return found


def _weigh(row: tables.Row, told: Mapping[str, str], found: Findings) -> Suspect:
    name = row["suspect"] or ""
    by_code = {f.code: f for f in found}
    score = 0
    good: list[str] = []
    bad: list[str] = []
    lines: list[str] = []
    for entry in _evidence().get(name, ()):
        weight, words = int(entry["weight"] or 0), entry["words"] or ""
        if entry["question"] == _FINDING:
            finding = by_code.get(entry["answer"] or "")
            if finding is None:
                continue
            words = f"{words} ({finding.code}: {', '.join(finding.names) or 'pH'})"
            lines += _lines_to_leave_out(finding)
        elif told.get(entry["question"] or "") != entry["answer"]:
            continue
        score += weight
        (good if weight > 0 else bad).append(words)
    missing = ", ".join(dict.fromkeys(lines)) or "the last addition"
    return Suspect(
        id=name,
        name=row["name"] or "",
        word="likely" if score >= _LIKELY else "possible",
        score=score,
        speaks_for=tuple(good),
        speaks_against=tuple(bad),
        lines=tuple(dict.fromkeys(lines)),
        next_trial=(row["next_trial"] or "").format(lines=missing),
    )


def _lines_to_leave_out(finding: Finding) -> Iterable[str]:
    """The last of the lines in conflict: leaving one out tells as much as leaving out both."""
    return finding.names[-1:]


def _most_telling(waiting: list[Question], suspects: list[Suspect]) -> list[Question]:
    """Open questions, first those whose answers move the suspects most."""
    named = {s.id for s in suspects} or set(_evidence())

    def weight(question: Question) -> int:
        return sum(
            abs(int(row["weight"] or 0))
            for name in named
            for row in _evidence().get(name, ())
            if row["question"] == question.id
        )

    return sorted(waiting, key=lambda q: -weight(q))
