"""A lesson as one learner has it: predict, try, ask, with numbers of one's own."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from labkit.errors import RecordError
from labkit.formula import Formula
from labkit.materials import Materials
from labkit.paperwork.page import Document
from labkit.teach.lesson_plans import PLANS, LessonPlan
from labkit.teach.pages import station_card, teacher_page
from labkit.teach.questions import Question, Verdict
from labkit.teach.variants import Draw

__all__ = ["Lesson", "lesson", "lessons"]

Keep = Callable[[str, tuple[str, ...]], None]


class Lesson:
    """One of the six lessons, with the numbers of one learner.

    Get one with ``lk.teach.lesson(1, learner=…)``, or from a desk, which also keeps the
    answers.
    """

    def __init__(self, plan: LessonPlan, learner: str, course: str, keep: Keep) -> None:
        self.plan, self.learner, self.course, self._keep = plan, learner, course, keep
        self._predicted: str | None = None
        self.questions: dict[str, Question] = questions_for(plan, learner, course)

    @property
    def title(self) -> str:
        """What the lesson is called."""
        return self.plan.title

    @property
    def aim(self) -> str:
        """What can be done after it that could not be done before."""
        return self.plan.aim

    @property
    def prediction(self) -> str:
        """What is to be predicted, and the choices."""
        asked = self.plan.prediction
        return f"{asked.text} ({', '.join(asked.choices)})"

    def predict(self, choice: str) -> str:
        """Say what will happen; only then does the lesson show its formula.

        Parameters
        ----------
        choice : str
            One of the choices.

        Raises
        ------
        RecordError
            Something else.
        """
        asked = self.plan.prediction
        folded = {c.casefold(): c for c in asked.choices}
        found = folded.get(choice.strip().casefold())
        if found is None:
            raise RecordError(
                where=f"Lesson {self.plan.number}, prediction",
                found=f"'{choice[:40]}'",
                allowed=", ".join(asked.choices),
                cause="Another wording",
                do="Choose one of these; a wrong guess costs nothing",
            )
        self._predicted = found
        self._keep(found, ("prediction", f"lesson {self.plan.number}"))
        return f"You said: {found}. Now try it."

    def recall(self, choice: str) -> None:
        """Take up a prediction that was made before."""
        if choice in self.plan.prediction.choices:
            self._predicted = choice

    @property
    def formula(self) -> Formula:
        """What is tried on the mixing sheet.

        Raises
        ------
        RecordError
            Nothing was predicted yet.
        """
        self._said()
        return self.plan.formula

    def outcome(self, mats: Materials | None = None) -> str:
        """How it came out, beside what was predicted.

        Raises
        ------
        RecordError
            Nothing was predicted yet.
        """
        said = self._said()
        came, numbers = self.plan.prediction.decide(
            self.plan.formula, Materials.starter() if mats is None else mats
        )
        verdict = "as you said" if came == said else f"you said '{said}'"
        return f"{came} ({numbers}): {verdict}."

    def _said(self) -> str:
        if self._predicted is None:
            raise RecordError(
                where=f"Lesson {self.plan.number}",
                found="no prediction yet",
                allowed=", ".join(self.plan.prediction.choices),
                cause="The slider comes after the guess: only then is there something to learn",
                do=f"Answer first with lesson.predict(…): {self.plan.prediction.text}",
            )
        return self._predicted

    def ask(self, key: str) -> str:
        """A question with this learner's numbers."""
        return self._question(key).text

    def check(self, key: str, given: object) -> Verdict:
        """Check an answer: right, or wrong for a reason.

        Parameters
        ----------
        key : str
            Which question.
        given : str or sequence of str
            A number with its unit, or one or several names.

        Returns
        -------
        Verdict

        Raises
        ------
        RecordError
            No such question.
        """
        verdict = self._question(key).check(given)
        outcome = "right" if verdict.right else "wrong"
        tags = ("answer", f"lesson {self.plan.number}", key, outcome)
        self._keep(
            str(given)[:200] or "(nothing)", (*tags, *((verdict.slip,) if verdict.slip else ()))
        )
        return verdict

    def _question(self, key: str) -> Question:
        if key not in self.questions:
            raise RecordError(
                where=f"Lesson {self.plan.number}",
                found=f"no question '{key[:40]}'",
                allowed=", ".join(self.questions),
                cause="Its name was mistyped, or it belongs to another lesson",
                do="Use one of these names",
            )
        return self.questions[key]

    def station_card(self, mats: Materials | None = None, paper: str | None = "A4") -> Document:
        """The card for the bench, to be printed."""
        return station_card(self.plan, mats or Materials.starter(), paper)

    def __repr__(self) -> str:
        lines = [f"Lesson {self.plan.number}: {self.title}", self.aim, ""]
        lines += [f"{key}: {question.text}" for key, question in self.questions.items()]
        return "\n".join(lines)


def questions_for(plan: LessonPlan, learner: str, course: str) -> dict[str, Question]:
    """The questions of a lesson with the numbers of one learner."""
    made = [
        exercise(Draw(course, learner, str(plan.number), exercise.__name__))
        for exercise in plan.exercises
    ]
    return {question.key: question for question in made}


def _forget(text: str, tags: tuple[str, ...]) -> None:
    """Keep nothing: a lesson without a desk."""


def lesson(
    number: int, *, learner: str = "example", course: str = "labkit", keep: Keep = _forget
) -> Lesson:
    """One of the six lessons.

    Parameters
    ----------
    number : int
        1 to 6.
    learner : str
        Whose numbers; the same name has the same numbers everywhere.
    course : str
        The class; another class has other numbers.
    keep : callable, optional
        Told of each prediction and answer; a desk keeps them on its bench.

    Raises
    ------
    RecordError
        No such lesson.

    Examples
    --------
    >>> one = lesson(1, learner="heron")
    >>> print(one.check("grams", "3"))
    Not yet: 3 of what? Write the unit too, as in '12 g'.
    """
    return Lesson(_plan(number), learner, course, keep)


def _plan(number: int) -> LessonPlan:
    if number not in {plan.number for plan in PLANS}:
        raise RecordError(
            where="Course",
            found=f"lesson {number}",
            allowed=f"1 to {len(PLANS)}",
            cause="The course has six lessons",
            do="Choose one of these",
        )
    return PLANS[number - 1]


def lessons() -> tuple[str, ...]:
    """The titles of the course, in order.

    Examples
    --------
    >>> lessons()[0]
    '1 Percentages and phases'
    """
    return tuple(f"{plan.number} {plan.title}" for plan in PLANS)


def teachers_page(
    number: int,
    learners: Sequence[str] = (),
    *,
    course: str = "labkit",
    groups: int = 10,
    mats: Materials | None = None,
    paper: str | None = "A4",
) -> Document:
    """The teacher's page of a lesson: time, what to prepare, what to watch for, answers.

    Parameters
    ----------
    number : int
        1 to 6.
    learners : sequence of str
        Whose answers are worked out.
    course : str
        The class, as the learners' desks know it.
    groups : int
        How many stations are set up.
    mats : Materials, optional
        Where hazards and prices come from; the starter set otherwise.
    paper : str, optional
        ``"A4"`` or ``"Letter"``.

    Examples
    --------
    >>> "90 minutes" in teachers_page(3, ["heron"]).text
    True
    """
    plan = _plan(number)
    worked = {who: questions_for(plan, who, course) for who in learners}
    return teacher_page(plan, worked, groups, mats or Materials.starter(), paper)
