"""From a recipe and the answers to its questions to a formula."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from labkit.errors import FormulaError
from labkit.formula import Formula, Line, Phase
from labkit.formula.grid import apportion, percent_of
from labkit.reading.agreement import grams_of_percent, tidy_name
from labkit.reading.amounts import read_text
from labkit.reading.checks import question_of
from labkit.reading.model import Finding, ReadLine, ReadRecipe
from labkit.reading.words import is_water_name

__all__ = ["Answer", "decide"]

Answer = str | int | float | Decimal
"""What a person answers: an amount, or one of the words that a question offers."""

_DROP = re.compile(r"^(leave (it )?out|drop|remove|none|without|not used)$")
_REST = re.compile(r"^(takes the rest|take the rest|rest|balance|q\.?s\.?|to 100)$")
_SCALE = re.compile(r"^(scale( (it|the lines))?( to 100)?|use the lines|the lines|lines)$")
_GIVE = re.compile(
    r"^(?:give )?(?:the )?(?:difference|rest) to (?P<name>.+)$"
    r"|^(?P<other>.+) takes the (?:difference|rest)$"
)


_GRAMS = {"kg": Fraction(1000), "mg": Fraction(1, 1000)}


@dataclass(slots=True, kw_only=True)
class _Piece:
    """A line on its way into the formula; ``value`` is None where it takes the rest."""

    line: ReadLine
    name: str
    value: Fraction | None
    percent: bool = False
    open: bool = False


def decide(
    recipe: ReadRecipe,
    hidden: tuple[ReadLine, ...],
    questions: tuple[Finding, ...],
    answers: Mapping[str, Answer],
    title: str,
    known: frozenset[str],
) -> Formula:
    """The formula of one recipe.

    Raises
    ------
    FormulaError
        Open questions, each listed; answers that fit no question or cannot be understood.
    """
    return _Decider(recipe, hidden, questions, answers, title).formula(known)


class _Decider:
    """Answers worked into the lines, with the questions that are still open."""

    def __init__(
        self,
        recipe: ReadRecipe,
        hidden: tuple[ReadLine, ...],
        questions: tuple[Finding, ...],
        answers: Mapping[str, Answer],
        title: str,
    ) -> None:
        self.recipe, self.hidden, self.title = recipe, hidden, title
        self.questions = {q.question: q for q in questions if q.question}
        self.answers = {" ".join(k.casefold().split()): v for k, v in answers.items()}
        self.asked: dict[str, Finding] = {}
        self.used: set[str] = set()
        self.batch = grams_of_percent(recipe) or recipe.batch_g

    def formula(self, known: frozenset[str]) -> Formula:
        """The formula, or the refusal that lists what is open."""
        for question in self.questions.values():
            if not re.search(r": (amount|name|twice|column|hidden|total|rest)$|^(total|rest)$",
                             question.question or ""):  # fmt: skip
                self._answer(question.question or "")
        pieces = self._joined([x for line in self._lines() if (x := self._piece(line))])
        self._one_rest(pieces)
        shares = None if any(x.open for x in pieces) or not pieces else self._shares(pieces)
        strange = set(self.answers) - self.used - known
        if strange:
            raise self._refuse_answer(sorted(strange)[0], "it belongs to no question of this sheet")
        if self.asked or shares is None:
            raise self._open(pieces)
        return self._build(pieces, shares)

    def _answer(self, question: str) -> str | None:
        """The answer to a question; noted as open where there is none."""
        key = " ".join(question.casefold().split())
        if key in self.answers:
            self.used.add(key)
            return " ".join(str(self.answers[key]).split())
        if question in self.questions:
            self.asked[question] = self.questions[question]
        return None

    def _question(self, row: int | None, about: str) -> str:
        return question_of(row, about, self.recipe.trial)

    def _lines(self) -> list[ReadLine]:
        """The lines that count, hidden ones as answered."""
        kept = []
        for line in sorted((*self.recipe.lines, *self.hidden), key=lambda x: x.row):
            if line.hidden:
                question = f"row {line.row}: hidden"
                answer = self._answer(question)
                if answer is not None and answer.casefold() not in {"keep", "leave out"}:
                    raise self._refuse_answer(question, f"'{answer}' is neither keep nor leave out")
                if answer is None or answer.casefold() == "leave out":
                    continue
            kept.append(line)
        return kept

    def _piece(self, line: ReadLine) -> _Piece | None:
        name_question = self._question(line.row, "name")
        answer = self._answer(name_question) if name_question in self.questions else None
        name = answer or line.name or "?"
        amount = self._question(line.row, "amount")
        if amount in self.questions or amount.casefold() in self.answers:
            given = self._answer(amount)
            if given is None:
                return _Piece(line=line, name=name, value=Fraction(0), open=True)
            return self._answered(line, name, amount, given)
        if line.kind == "balance":
            return _Piece(line=line, name=name, value=None)
        column = self._question(line.row, "column")
        if column in self.questions:
            return self._by_column(line, name, column)
        if line.kind != "amount":
            self.asked[amount] = _asked(line.row, amount, f"{line.name}: how much?")
            return _Piece(line=line, name=name, value=Fraction(0), open=True)
        return _Piece(line=line, name=name, value=line.mass)

    def _by_column(self, line: ReadLine, name: str, question: str) -> _Piece:
        answer = (self._answer(question) or "").casefold()
        if answer.startswith("gram") and self.batch and line.grams is not None:
            share = Fraction(line.grams) * 100 / Fraction(self.batch)
            return _Piece(line=line, name=name, value=share)
        if answer and not answer.startswith("percent"):
            raise self._refuse_answer(question, f"'{answer}' is neither column")
        return _Piece(line=line, name=name, value=line.mass)

    def _answered(self, line: ReadLine, name: str, question: str, given: str) -> _Piece | None:
        word = given.casefold()
        if _DROP.match(word):
            return None
        if _REST.match(word):
            return _Piece(line=line, name=name, value=None)
        amount = read_text(given, ".")
        if amount.kind != "amount" or amount.value is None or amount.unclear:
            raise self._refuse_answer(question, f"'{given}' is no amount")
        value = Fraction(amount.value) * _GRAMS.get(amount.unit or "", Fraction(1))
        if amount.unit == "%":
            return _Piece(line=line, name=name, value=value, percent=True)
        if amount.unit in {"g", "kg", "mg"} and self.recipe.basis == "percent":
            if not self.batch:
                raise self._refuse_answer(question, "grams say nothing without the batch size")
            return _Piece(line=line, name=name, value=value * 100 / Fraction(self.batch))
        return _Piece(line=line, name=name, value=value)

    def _joined(self, pieces: list[_Piece]) -> list[_Piece]:
        """Lines of the same material joined where that was answered."""
        kept: list[_Piece] = []
        for piece in pieces:
            question = self._question(piece.line.row, "twice")
            answer = self._answer(question) if question in self.questions else None
            if answer is not None and answer.casefold() not in {"join", "keep"}:
                raise self._refuse_answer(question, f"'{answer}' is neither keep nor join")
            same = [
                x
                for x in kept
                if x.line.phase == piece.line.phase and tidy_name(x.name) == tidy_name(piece.name)
            ]
            if answer is None or answer.casefold() == "keep" or not same:
                kept.append(piece)
            elif piece.value is None or same[-1].value is None:
                same[-1].value = None
            elif piece.percent == same[-1].percent:
                same[-1].value += piece.value
            else:
                raise self._refuse_answer(question, "one amount is in %, the other is not")
        return kept

    def _one_rest(self, pieces: list[_Piece]) -> None:
        """One line takes the rest; the others of several need an amount."""
        rest = [x for x in pieces if x.value is None]
        if len(rest) < 2:
            return
        question = next((q for q in self.questions if q.endswith("rest")), None)
        answer = self._answer(question) if question else None
        if answer is None:
            if question is None:
                question = self._question(rest[1].line.row, "rest")
                answer = self._answer(question)
            if answer is None:
                words = " and ".join(x.name for x in rest)
                self.asked[question] = _asked(None, question, f"{words} both take the rest: which?")
                return
        for piece in rest:
            if answer.casefold() in {f"row {piece.line.row}", piece.name.casefold()}:
                continue
            amount = self._question(piece.line.row, "amount")
            self.asked[amount] = _asked(piece.line.row, amount, f"{piece.name}: how much?")
            piece.open = True

    def _shares(self, pieces: list[_Piece]) -> list[Fraction] | None:
        """Shares in percent that add up to exactly 100; None where the total is a question."""
        whole = self._whole(pieces)
        given = [
            None
            if x.value is None
            else x.value
            if x.percent or whole == 0
            else x.value * 100 / whole
            for x in pieces
        ]
        known = sum((x for x in given if x is not None), Fraction(0))
        gap = 100 - known
        if None in given and gap >= 0:
            return [gap if x is None else x for x in given]
        shares = [Fraction(0) if x is None else x for x in given]
        return shares if gap == 0 else self._with_gap(pieces, shares, gap)

    def _whole(self, pieces: list[_Piece]) -> Fraction:
        """What counts as 100 %, in the unit of the lines."""
        recipe = self.recipe
        if recipe.basis == "percent":
            return Fraction(100)
        stated = recipe.batch_g if recipe.basis == "grams" else recipe.stated_total
        if any(x.value is None for x in pieces):
            up_to = next((x.line.up_to for x in pieces if x.value is None), None)
            batch = self.answers.get("batch")
            told = read_text(str(batch), ".").value if batch is not None else None
            return Fraction(told or stated or up_to or 100)
        if stated is not None:
            return Fraction(stated)
        lines = sum((x.value or Fraction(0) for x in pieces if not x.percent), Fraction(0))
        shares = sum((x.value or Fraction(0) for x in pieces if x.percent), Fraction(0))
        return lines / (1 - shares / 100) if shares < 100 else Fraction(0)

    def _with_gap(
        self, pieces: list[_Piece], shares: list[Fraction], gap: Fraction
    ) -> list[Fraction] | None:
        question = next((q for q in self.questions if q.endswith("total")), None)
        question = question or self._question(self.recipe.total_row, "total")
        answer = self._answer(question)
        if answer is None:
            side = "missing" if gap > 0 else "too much"
            words = f"the lines give {float(100 - gap):.6g} %: {float(abs(gap)):.6g} % {side}"
            water = next((x.name for x in pieces if is_water_name(x.name)), pieces[0].name)
            offers = ("scale to 100", f"difference to {water}")
            self.asked.setdefault(question, _asked(None, question, words, offers))
            return None
        if _SCALE.match(answer.casefold()):
            total = sum(shares, Fraction(0))
            return [x * 100 / total for x in shares] if total else None
        give = _GIVE.match(answer)
        wanted = tidy_name((give["name"] or give["other"]) if give else answer)
        found = [i for i, x in enumerate(pieces) if tidy_name(x.name) == wanted]
        if not found:
            raise self._refuse_answer(question, f"'{answer}' names no line of the recipe")
        changed = shares[found[0]] + gap
        if changed < 0:
            raise self._refuse_answer(
                question, f"{pieces[found[0]].name} has less than that to give"
            )
        return [changed if i == found[0] else x for i, x in enumerate(shares)]

    def _build(self, pieces: list[_Piece], shares: list[Fraction]) -> Formula:
        units = apportion(shares, 1_000_000)
        lines = tuple(
            _line(piece, percent_of(n), self.recipe) for piece, n in zip(pieces, units, strict=True)
        )
        rest = next((i for i, x in enumerate(pieces) if x.value is None), None)
        if rest is None:
            waters = [i for i, x in enumerate(lines) if is_water_name(x.material) and not x.locked]
            rest = max(waters, key=lambda i: lines[i].percent, default=None)
        notes = dict(self.recipe.phase_notes)
        keys = dict.fromkeys(x.phase for x in lines)
        phases = tuple(Phase(key=k, title=" ".join(notes.get(k, "").split())) for k in keys)
        return Formula(" ".join(self.title.split()), lines, phases, rest)

    def _open(self, pieces: list[_Piece]) -> FormulaError:
        listed = [_listed(q, f) for q, f in self.asked.items()]
        if not pieces and not listed:
            listed = ["no material with an amount was found"]
        many = "questions" if len(listed) != 1 else "question"
        return FormulaError(
            where=self.title,
            found=f"{len(listed)} open {many}: " + "; ".join(listed),
            allowed="A formula is made once each question has an answer",
            cause="The sheet leaves these points open",
            do="Give them as report.formula(answers={'question': 'answer'})",
            questions=tuple(self.asked),
        )

    def _refuse_answer(self, question: str, why: str) -> FormulaError:
        known = self.questions.get(question)
        offers = ", ".join(known.offers) if known is not None and known.offers else "an amount"
        return FormulaError(
            where=f"{self.title}, answer to '{question}'",
            found=why,
            allowed=offers
            if known
            else "Questions as the report shows them: " + ", ".join(self.questions),
            cause="Mistyped, or meant for another sheet",
            do="Give one of the offers, or an amount with its unit",
        )


def _asked(row: int | None, question: str, say: str, offers: tuple[str, ...] = ()) -> Finding:
    return Finding(
        row=row, code="still_open", severity="ask", say=say, question=question, offers=offers
    )


def _listed(question: str, finding: Finding) -> str:
    offers = f" ({' / '.join(finding.offers)})" if finding.offers else ""
    return f"'{question}' {finding.say}{offers}"


def _line(piece: _Piece, percent: Decimal, recipe: ReadRecipe) -> Line:
    line = piece.line
    low, high = (_bound(x, recipe) for x in (line.low, line.high))
    fits = (low is None or low <= percent) and (high is None or percent <= high)
    notes = [line.remark or "", "approximate" if line.about else ""]
    return Line(
        phase=line.phase or "A",
        material=piece.name,
        percent=percent,
        locked=line.locked,
        low=low if fits else None,
        high=high if fits else None,
        note="; ".join(x for x in notes if x),
    )


def _bound(value: Decimal | None, recipe: ReadRecipe) -> Decimal | None:
    """A bound that a formula can carry: in percent, on its grid."""
    if value is None or recipe.basis != "percent" or not 0 <= value <= 100:
        return None
    return value if value * 10_000 % 1 == 0 else None
