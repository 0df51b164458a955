"""It split, why? Questions with their answers beside the suspects they point to."""

from __future__ import annotations

import base64
import binascii
import secrets
from collections.abc import Mapping
from html import escape
from typing import Any

import anywidget
import traitlets

from labkit.bench import Bench
from labkit.bench.records import Record
from labkit.bench.views import Trial
from labkit.errors import LabkitError, MeasurementError, RecordError
from labkit.estimates import forecast
from labkit.estimates.triage import Suspect, Triage, questions, triage
from labkit.formula import Brief, Formula
from labkit.materials import Materials
from labkit.quantities import decimal
from labkit.widgets.assets import SPLITTING, joined
from labkit.widgets.showing import WithPicture
from labkit.widgets.static import STYLE

__all__ = ["SplitBoard", "asking_why"]

NUMBERS = {
    "ph": ("pH now, at 25 °C", 0.0, 14.0),
    "water_c": ("water phase when combined, °C", 0.0, 100.0),
    "oil_c": ("oil phase when combined, °C", 0.0, 150.0),
}
"""Readings that answer a question by themselves: words and the range that can be."""
CHARGED = ("anionic", "cationic", "amphoteric")


class SplitBoard(WithPicture, anywidget.AnyWidget):
    """Questions about a split batch, and its suspects; made by :func:`asking_why`.

    ``answer`` takes what was seen, ``read`` what was measured, ``triage`` names the
    suspects so far, ``note`` keeps it with the trial.
    """

    _esm = joined(SPLITTING, "js")
    _css = joined(("sheet", "parts", "lines", "board", "splitting"), "css")
    _state = traitlets.Dict().tag(sync=True)

    def __init__(
        self,
        formula: Formula,
        *,
        mats: Materials,
        brief: Brief | None = None,
        bench: Bench | None = None,
        trial: Trial | None = None,
    ) -> None:
        self.formula, self.mats, self.brief = formula, mats, brief
        self.bench, self.trial = bench, trial
        self.picture_id = secrets.token_hex(6)
        self._answers: dict[str, str] = {}
        self._numbers: dict[str, float] = {}
        self._typed: dict[str, str] = {}
        self._kept = self._trouble = ""
        self._paper, self._expected_ph = _on_paper(formula, mats, brief)
        self.triage: Triage = self._judged()
        super().__init__()
        self._state = self._told()
        self.on_msg(self._hear)

    def answer(self, answers: Mapping[str, str] | None = None, **more: str) -> Triage:
        """Say what was seen; an empty text leaves a question open again.

        Parameters
        ----------
        answers : mapping of str to str, optional
            Question to answer, as in ``lk.estimates.questions()``.
        **more
            The same, for questions of one word: ``drop="beads"``.

        Raises
        ------
        MeasurementError
            A question or an answer that is not known; nothing is changed.
        """
        before = self._answers
        given = {**before, **(answers or {}), **more}
        self._answers = {k: v for k, v in given.items() if v}
        try:
            self.triage = self._judged()
        except LabkitError:
            self._answers = before
            raise
        self._tell()
        return self.triage

    def read(self, **readings: float | str | None) -> Triage:
        """Give readings: ``ph``, ``water_c``, ``oil_c``; None or an empty text takes one back.

        Raises
        ------
        MeasurementError, QuantityError
            Not a number, or one that cannot be; nothing is changed.
        """
        checked = {name: _number(name, value) for name, value in readings.items()}
        self._numbers = {k: v for k, v in (self._numbers | checked).items() if v is not None}
        self._typed |= {k: "" if v is None else f"{v:g}" for k, v in checked.items()}
        self.triage = self._judged()
        self._tell()
        return self.triage

    def note(self) -> Record:
        """Keep what was seen, and the suspects, as a note on the trial.

        Raises
        ------
        RecordError
            The board was opened on a formula, not on a trial of a bench.
        """
        bench, trial = self._home()
        record = bench.note(trial, self.words, tags=("split",))
        self._kept = f"noted on {trial.label}"
        self._tell()
        return record

    def photo(self, photo: str | bytes, caption: str = "it split") -> Record:
        """Keep a photo of the split batch with the trial.

        Raises
        ------
        RecordError
            The board was opened on a formula, or the photo cannot be read.
        """
        bench, trial = self._home()
        record = bench.photo(trial, photo, caption=caption)
        self._kept = f"photo kept with {trial.label}"
        self._tell()
        return record

    @property
    def words(self) -> str:
        """What was seen, and whom it points to, as it is noted."""
        seen = [f"{q.asks} {self._answers[q.id]}." for q in questions() if q.id in self._answers]
        seen += [f"{NUMBERS[k][0]}: {v:g}." for k, v in self._numbers.items()]
        return "\n".join(["It split.", *seen, str(self.triage)])

    def _home(self) -> tuple[Bench, Trial]:
        if self.bench is None or self.trial is None:
            raise RecordError(
                where=self.formula.name,
                found="a formula without a trial",
                allowed="A trial of a bench",
                cause="The board was opened on a formula, or without bench=…",
                do="Open it with asking_why('HC-07', mats, bench=bench)",
            )
        return self.bench, self.trial

    def _judged(self) -> Triage:
        return triage(
            self.formula,
            self.mats,
            self.brief,
            self._answers,
            ph=self._numbers.get("ph"),
            forecast_ph=self._expected_ph,
            water_c=self._numbers.get("water_c"),
            oil_c=self._numbers.get("oil_c"),
        )

    def _hear(self, _: Any, content: Mapping[str, Any], buffers: Any) -> None:
        self._trouble = self._kept = ""
        try:
            self._do(content)
        except LabkitError as error:
            self._trouble = str(error)
        self._tell()
        answer = {"kind": "state", "client": str(content.get("client", ""))}
        self.send(answer | {"seq": content.get("seq"), "state": self._state})

    def _do(self, content: Mapping[str, Any]) -> None:
        do = content.get("do")
        if do == "answer":
            self.answer({str(content.get("question")): str(content.get("answer") or "")})
        elif do == "read":
            name, text = str(content.get("name")), str(content.get("text") or "")
            self._typed[name] = text
            self.read(**{name: text})
        elif do == "note":
            self.note()
        elif do == "photo":
            self.photo(_bytes(str(content.get("data", ""))))

    def _tell(self) -> None:
        self._state = self._told()
        self._renew_pictures()

    def _told(self) -> dict[str, Any]:
        waiting = [q.id for q in self.triage.open_questions]
        return {
            "sheet": self.picture_id,
            "name": self.trial.label if self.trial is not None else self.formula.name,
            "questions": [
                {
                    "id": q.id, "asks": q.asks, "how": q.how, "answers": list(q.answers),
                    "answer": self._answers.get(q.id, ""),
                }
                for q in questions()
            ],
            "next": waiting[0] if waiting else "",
            "numbers": [
                {"name": name, "label": words, "text": self._typed.get(name, "")}
                for name, (words, _, _) in NUMBERS.items()
            ],
            "paper": list(self._paper),
            "suspects": [_suspect_dict(s) for s in self.triage.suspects],
            "can_note": self.bench is not None and self.trial is not None,
            "kept": self._kept,
            "trouble": self._trouble,
        }  # fmt: skip

    def _still(self) -> str:
        seen = "".join(
            f"<tr><td>{escape(q.asks)}</td><td>{escape(self._answers[q.id])}</td></tr>"
            for q in questions()
            if q.id in self._answers
        )
        seen += "".join(
            f"<tr><td>{escape(NUMBERS[k][0])}</td><td>{v:g}</td></tr>"
            for k, v in self._numbers.items()
        )
        told = self.triage._repr_html_() if self.triage.suspects else escape(str(self.triage))
        return (
            f'{STYLE}<div class="lk-paper"><b>It split, why? {escape(self.formula.name)}</b>'
            f'<table class="lk-still"><tbody>{seen}</tbody></table>{told}</div>'
        )

    def __repr__(self) -> str:
        return f"<SplitBoard of {self.formula.name!r}: {len(self.triage.suspects)} suspects>"


def asking_why(
    trial_or_formula: Trial | Formula | str,
    mats: Materials | None = None,
    bench: Bench | None = None,
    brief: Brief | None = None,
) -> SplitBoard:
    """It split, why? Questions about what was seen, and the suspects they point to.

    Parameters
    ----------
    trial_or_formula : Trial, Formula or str
        What split; a trial, or its label with a bench, can take the note.
    mats : Materials, optional
        What is known of the materials; the starter set if left out.
    bench : Bench, optional
        Where the note and the photo are kept.
    brief : Brief, optional
        Makes the findings on paper those of this product.

    Returns
    -------
    SplitBoard
        Shown when it is the last line of a cell.

    Raises
    ------
    RecordError
        A label without a bench, or no such trial.

    Examples
    --------
    >>> from labkit.formula import Formula
    >>> wash = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Sodium Laureth Sulfate,20
    ... A,Cetrimonium Chloride,3''', "wash")
    >>> board = asking_why(wash)
    >>> board.answer(look="curds", when="at once").suspects[0].name
    'Opposite charges'
    """
    if isinstance(trial_or_formula, str):
        if bench is None:
            raise RecordError(
                where=f"Trial {trial_or_formula}",
                found="a label without a bench",
                allowed="A formula, a trial, or a label with bench=…",
                cause="The bench was left out",
                do="Write asking_why('HC-07', mats, bench=bench)",
            )
        trial_or_formula = bench.trial(trial_or_formula)
    known = Materials.starter() if mats is None else mats
    if isinstance(trial_or_formula, Formula):
        return SplitBoard(trial_or_formula, mats=known, brief=brief, bench=bench)
    trial = trial_or_formula
    return SplitBoard(trial.formula, mats=known, brief=brief, bench=bench, trial=trial)


def _on_paper(
    formula: Formula, mats: Materials, brief: Brief | None
) -> tuple[tuple[str, ...], float | None]:
    """Charges and emulsifier dose in words, and the pH that was to be expected."""
    look = forecast(formula, mats, brief=brief)
    told = [str(look.estimates[k]) for k in ("oil_to_emulsifier", "ph") if k in look.estimates]
    for charge in CHARGED:
        names = [x.material for x in formula.lines if _charge(x.material, mats) == charge]
        if names:
            told.insert(0, f"{charge}: {', '.join(names)}")
    expected = look.estimates.get("ph")
    return tuple(told), None if expected is None else expected.value


def _charge(name: str, mats: Materials) -> str | None:
    material = mats.resolve(name)
    return None if material is None else material.charge


def _suspect_dict(suspect: Suspect) -> dict[str, Any]:
    return {
        "name": suspect.name,
        "word": suspect.word,
        "for": list(suspect.speaks_for),
        "against": list(suspect.speaks_against),
        "next": suspect.next_trial,
    }


def _number(name: str, value: float | str | None) -> float | None:
    if name not in NUMBERS:
        raise MeasurementError(
            where="It split, why?",
            found=f"a reading '{name}'",
            allowed=", ".join(NUMBERS),
            cause="Mistyped, or something that the questions do not use",
            do="Give one of these",
        )
    if value is None or not str(value).strip():
        return None
    words, low, high = NUMBERS[name]
    number = float(decimal(str(value).strip().removesuffix("°C").strip(), where=words))
    if not low <= number <= high:
        raise MeasurementError(
            where=words,
            found=f"{number:g}",
            allowed=f"{low:g} to {high:g}",
            cause="A slip of the pen, or another unit",
            do="Read it again and write it in this range",
        )
    return number


def _bytes(text: str) -> bytes:
    try:
        return base64.b64decode(text, validate=True)
    except (binascii.Error, ValueError) as error:
        raise RecordError(
            where="Photo",
            found="a file that did not arrive whole",
            allowed="A JPEG, PNG or WebP photo",
            cause="The page lost part of it",
            do="Choose the photo again",
        ) from error
