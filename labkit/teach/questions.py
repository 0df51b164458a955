"""Questions checked by computation: right, or wrong for a reason.

A question knows how to work out its answer; it never shows it. A wrong answer is held
against the slips that are usual at a bench, and the reason is told in words.
"""

from __future__ import annotations

import re
from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from labkit.errors import LabkitError
from labkit.quantities import decimal, parse

__all__ = ["NameQuestion", "NumberQuestion", "Question", "Slip", "Verdict"]

KIND_OF = {"g": "mass", "%": "share", "mPa*s": "viscosity", "pH": "pH", "min": "time"}
"""Unit of an answer → what it measures."""
NAME_OF = {"mass": "a mass", "share": "a percentage", "viscosity": "a viscosity", "pH": "a pH",
           "time": "a time"}  # fmt: skip
_SHOWN = {"mPa*s": "mPa·s"}
_POWERS = {10: "ten", 100: "a hundred", 1000: "a thousand"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What is said about an answer: right or not, in words; ``slip`` names the kind of slip."""

    right: bool
    words: str
    slip: str = ""

    def __str__(self) -> str:
        return f"{'Right' if self.right else 'Not yet'}: {self.words}"

    __repr__ = __str__


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A likely way to go wrong: its name, the number it leads to, and what is said then."""

    name: str
    value: float = field(repr=False)
    reason: str


class Question(ABC):
    """A question for one learner; see :class:`NumberQuestion` and :class:`NameQuestion`."""

    key: str
    text: str

    @abstractmethod
    def check(self, given: object) -> Verdict:
        """Right, or wrong for a reason."""

    @abstractmethod
    def worked(self) -> str:
        """The way to the answer, for the teacher's page."""

    def __str__(self) -> str:
        return f"{self.key}: {self.text}"

    __repr__ = __str__


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class NumberQuestion(Question):
    """A question whose answer is a number with its unit.

    Attributes
    ----------
    key, text : str
        Its name in the lesson, and the question with this learner's numbers.
    unit : str
        Of the answer: ``g``, ``%``, ``mPa*s``, ``pH``, ``min``, or nothing.
    answer : float
        Worked out from the learner's numbers, in that unit.
    relative, absolute : float
        How near counts as right: whichever of the two is more.
    slips : tuple of Slip
        Usual ways to go wrong, the likeliest first.
    way : str
        How it is worked out, with the numbers.

    Examples
    --------
    >>> q = NumberQuestion(key="glycerin", text="4 % of 250 g?", unit="g", answer=10.0,
    ...                    way="250 g x 4 / 100 = 10 g")
    >>> q.check("10 g").right, q.check("100 g").slip, q.check("10").slip
    (True, 'factor ten', 'no unit')
    """

    key: str
    text: str
    unit: str
    answer: float
    way: str
    relative: float = 0.005
    absolute: float = 0.0
    slips: tuple[Slip, ...] = ()

    def check(self, given: object) -> Verdict:
        """Right, or wrong for a reason.

        Parameters
        ----------
        given : str or number
            With its unit, such as ``"10 g"``; a decimal comma is read.

        Returns
        -------
        Verdict
        """
        value, trouble = self._read(given)
        if value is None:
            return trouble
        if self.near(value, self.answer):
            return Verdict(right=True, words=f"{given} is what your numbers give.")
        for slip in self.usual_slips():
            if self.near(value, slip.value):
                return Verdict(right=False, words=slip.reason, slip=slip.name)
        where = "too high" if value > self.answer else "too low"
        return Verdict(
            right=False,
            words=f"{given} is {where}, and no slip that is usual here leads to it. "
            "Write down each step with its unit and look where they part.",
            slip="unknown",
        )

    def near(self, value: float, target: float) -> bool:
        """Whether a value counts as the target."""
        return abs(value - target) <= max(self.absolute, self.relative * abs(target)) + 1e-12

    def usual_slips(self) -> tuple[Slip, ...]:
        """The slips that lead elsewhere than to the answer, each place once."""
        kept: list[Slip] = []
        for slip in (*self.slips, *self._powers()):
            reach = 2 * max(self.absolute, self.relative * abs(self.answer))
            if abs(slip.value - self.answer) <= reach:
                continue
            if not any(self.near(slip.value, other.value) for other in kept):
                kept.append(slip)
        return tuple(kept)

    def worked(self) -> str:
        """The way to the answer, for the teacher's page."""
        return self.way

    def _powers(self) -> Iterable[Slip]:
        for power, word in _POWERS.items():
            for factor, way in ((power, "large"), (1 / power, "small")):
                reason = f"The digits are right, the size is not: {word} times too {way}. "
                reason += "Look at the decimal sign"
                reason += (
                    ", and at what percent means: parts in a hundred."
                    if power == 100
                    else ", or at milli and kilo."
                    if power == 1000
                    else "."
                )
                yield Slip(name=f"factor {word}", value=self.answer * factor, reason=reason)
        if self.answer:
            yield Slip(
                name="sign",
                value=-self.answer,
                reason="The size is right, the sign is turned round: which was first?",
            )

    def _read(self, given: object) -> tuple[float | None, Verdict]:
        shown = str(given).strip().replace("−", "-")
        if not self.unit:
            return self._plain(shown)
        kind = KIND_OF[self.unit]
        sign = -1 if shown.startswith("-") else 1
        bare = shown.lstrip("+-").strip()
        try:
            if re.fullmatch(r"[\d.,\s]+", bare) and self.unit != "pH":
                decimal(bare, where="Answer")
                return None, Verdict(
                    right=False,
                    words=f"{shown} of what? Write the unit too, as in "
                    f"'12 {_SHOWN.get(self.unit, self.unit)}'.",
                    slip="no unit",
                )
            return sign * parse(bare, kind, where="Answer").to(self.unit), _READ
        except LabkitError:
            return None, self._unreadable(shown, bare, kind)

    def _plain(self, shown: str) -> tuple[float | None, Verdict]:
        try:
            return float(decimal(shown, where="Answer")), _READ
        except LabkitError:
            return None, Verdict(
                right=False,
                words=f"'{shown[:40]}' is not a plain number; this answer has no unit.",
                slip="unreadable",
            )

    def _unreadable(self, shown: str, bare: str, kind: str) -> Verdict:
        try:
            parse(bare, where="Answer")
        except LabkitError:
            return Verdict(
                right=False,
                words=f"'{shown[:40]}' cannot be read. Write one number and its unit, "
                f"as in '12 {_SHOWN.get(self.unit, self.unit)}'.",
                slip="unreadable",
            )
        return Verdict(
            right=False,
            words=f"{shown} is not {NAME_OF[kind]}. The question asks for "
            f"{_SHOWN.get(self.unit, self.unit)}.",
            slip="other unit",
        )


_READ = Verdict(right=False, words="")


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class NameQuestion(Question):
    """A question whose answer is one or several of some names.

    Attributes
    ----------
    choices : tuple of str
        What can be answered.
    answer : frozenset of str
        The names that together are right.
    reasons : mapping of str to str
        What is said of a name that does not belong.
    way : str
        Why it is so.

    Examples
    --------
    >>> q = NameQuestion(key="pair", text="Which two?", choices=("quat", "soap", "wax"),
    ...                  answer=frozenset({"quat", "soap"}), way="opposite charges")
    >>> q.check("soap, quat").right, q.check("soap").slip, q.check("wax").slip
    (True, 'part of it', 'another name')
    """

    key: str
    text: str
    choices: tuple[str, ...]
    answer: frozenset[str]
    way: str
    reasons: Mapping[str, str] = field(default_factory=dict)

    def check(self, given: object) -> Verdict:
        """Right, or wrong for a reason.

        Parameters
        ----------
        given : str or sequence of str
            Names as they stand in the choices; several are parted by commas.
        """
        parts = given.split(",") if isinstance(given, str) else list(given)  # type: ignore[call-overload]
        folded = {choice.casefold(): choice for choice in self.choices}
        named = [str(part).strip() for part in parts if str(part).strip()]
        unknown = [name for name in named if name.casefold() not in folded]
        if unknown or not named:
            said = f"'{unknown[0][:40]}' is not one of them" if unknown else "Nothing was named"
            words = f"{said}. Choose from: {', '.join(self.choices)}."
            return Verdict(right=False, words=words, slip="unreadable")
        chosen = frozenset(folded[name.casefold()] for name in named)
        if chosen == self.answer:
            return Verdict(right=True, words=self.way)
        if chosen < self.answer:
            words = "What you named belongs to it, but it takes more than that."
            return Verdict(right=False, words=words, slip="part of it")
        wrong = sorted(chosen - self.answer)[0]
        reason = self.reasons.get(wrong, f"{wrong} has no part in it.")
        return Verdict(right=False, words=reason, slip="another name")

    def worked(self) -> str:
        """The answer and why, for the teacher's page."""
        return f"{', '.join(sorted(self.answer))}: {self.way}"
