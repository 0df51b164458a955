"""What a mixing sheet knows, as a value: every edit gives a new state.

No widget, no clock and no file here: the sheet in the notebook hands each edit to
one of these methods and shows what comes back. While a slider is dragged (or an
arrow key held) the edits carry one gesture; each of them is applied to the formula
from which the gesture began, so that out and back gives the same digits.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from labkit.errors import LabkitError, MoveError
from labkit.formula import Formula, Move
from labkit.formula.compare import Comparison
from labkit.formula.moves import Give
from labkit.quantities import parse as parse_quantity

__all__ = ["Refusal", "SheetState", "Step"]

GIVE_MODES = ("qs", "phase", "all", "chosen")
"""Which lines give way, as the sheet offers it."""
MOST_STEPS = 400
"""Undo steps that are kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One named point of the sheet's history; ``ids`` follow the lines as they are reordered."""

    words: str
    formula: Formula
    ids: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A change that was not made, in the five parts of every refusal."""

    where: str
    found: str
    allowed: str
    cause: str
    do: str
    line: int | None = None

    @classmethod
    def of(cls, error: LabkitError, line: int | None = None) -> Refusal:
        """The refusal that an error carries, at the line it concerns."""
        return cls(
            where=error.where,
            found=error.found,
            allowed=error.allowed,
            cause=error.cause,
            do=error.do,
            line=line,
        )

    def as_dict(self) -> dict[str, Any]:
        """The parts as plain values."""
        return {name: getattr(self, name) for name in self.__slots__}


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetState:
    """A formula on the mixing sheet, with its steps and what it is compared with.

    ``steps[at]`` is the formula as it was last settled; ``formula`` may be ahead of
    it while ``gesture`` runs. ``marks`` is the formula whose values are marked on the
    sliders, usually the last trial's.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,4")
    >>> sheet = SheetState.opened(gel)
    >>> sheet = sheet.moved(Move(kind="set", percent=Decimal(6)), line_id=1)
    >>> str(sheet.formula.lines[0].percent), sheet.undo_words
    ('94.0000', 'Glycerin to 6.00 %')
    """

    formula: Formula
    ids: tuple[int, ...]
    steps: tuple[Step, ...]
    at: int = 0
    give: str = "qs"
    chosen: tuple[int, ...] = ()
    batch_g: Decimal = Decimal(100)
    balance_g: Decimal = Decimal("0.01")
    parent_label: str = ""
    marks: Formula | None = None
    marks_label: str = ""
    note: str = ""
    gesture: str | None = None
    gesture_words: str = ""
    refusal: Refusal | None = None
    recorded: str = ""

    @classmethod
    def opened(
        cls, formula: Formula, *, marks: Formula | None = None, marks_label: str = ""
    ) -> SheetState:
        """A sheet as it stands when it is opened."""
        ids = tuple(range(len(formula.lines)))
        words = f"as {marks_label}" if marks_label else "as opened"
        return cls(
            formula=formula,
            ids=ids,
            steps=(Step(words=words, formula=formula, ids=ids),),
            give="qs" if formula.qs is not None else "all",
            parent_label=marks_label,
            marks=marks if marks is not None else formula,
            marks_label=marks_label or "as opened",
        )

    @property
    def origin(self) -> Step:
        """The settled step from which a running gesture is computed."""
        return self.steps[self.at]

    @property
    def changes(self) -> Comparison | None:
        """What differs from the marked formula, largest change first."""
        return None if self.marks is None else self.marks.compare(self.formula)

    @property
    def undo_words(self) -> str:
        """Name of the step that undo would take back, or nothing."""
        return self.origin.words if self.at else ""

    @property
    def redo_words(self) -> str:
        """Name of the step that redo would make again, or nothing."""
        return self.steps[self.at + 1].words if self.at + 1 < len(self.steps) else ""

    @property
    def gives(self) -> Give:
        """The give mode as a move carries it; chosen lines by position."""
        if self.give != "chosen":
            return self.give
        return tuple(i for i, mark in enumerate(self.ids) if mark in self.chosen)

    def moved(
        self,
        move: Move,
        *,
        line_id: int | None = None,
        gesture: str | None = None,
        final: bool = True,
    ) -> SheetState:
        """The state after a raw move; a move that cannot be made leaves a refusal instead."""
        here = self if gesture is None or gesture == self.gesture else self.settled()
        start = here.origin
        try:
            whole = here._completed(move, line_id, start)
            formula = start.formula.apply(whole)
        except LabkitError as error:
            refused = replace(here, refusal=Refusal.of(error, line_id), gesture=None)
            return refused._back_to_step()
        ids = _followed(start, formula, whole)
        ahead = replace(here, formula=formula, ids=ids, gesture=gesture, refusal=None)
        ahead = replace(ahead, gesture_words=whole.words)
        return ahead.settled(whole.words) if final or gesture is None else ahead

    def settled(self, words: str = "") -> SheetState:
        """End a gesture: what it changed becomes one named step."""
        if self.formula == self.origin.formula:
            return replace(self, gesture=None)
        step = Step(words=words or self.gesture_words, formula=self.formula, ids=self.ids)
        steps = (*self.steps[: self.at + 1], step)[-MOST_STEPS:]
        return replace(self, steps=steps, at=len(steps) - 1, gesture=None, recorded="")

    def cancelled(self) -> SheetState:
        """End a gesture without a change: back to where it began."""
        return replace(self, gesture=None, refusal=None)._back_to_step()

    def undone(self) -> SheetState:
        """One step back, if there is one."""
        return self.stepped(self.at - 1)

    def redone(self) -> SheetState:
        """One step forward again, if there is one."""
        return self.stepped(self.at + 1)

    def stepped(self, to: int) -> SheetState:
        """To any step of the history; outside it nothing changes."""
        here = self.settled()
        if not 0 <= to < len(here.steps):
            return here
        return replace(here, at=to, refusal=None)._back_to_step()

    def replaced(self, formula: Formula, words: str) -> SheetState:
        """Another formula in this sheet, as one step that can be undone."""
        here = self.settled()
        fresh = tuple(range(max(here.ids) + 1, max(here.ids) + 1 + len(formula.lines)))
        return replace(here, formula=formula, ids=fresh, refusal=None).settled(words)

    def giving(self, mode: str, chosen: tuple[int, ...] | None = None) -> SheetState:
        """With other lines giving way from now on."""
        if mode not in GIVE_MODES:
            error = MoveError(
                where=self.formula.name,
                found=f"'{mode}' as the lines that give way",
                allowed="q.s., phase, all, or chosen lines",
                cause="A mode of another sheet",
                do="Choose one of the four",
            )
            return replace(self, refusal=Refusal.of(error))
        kept = self.chosen if chosen is None else chosen
        return replace(self.settled(), give=mode, chosen=kept, refusal=None)

    def weighing(self, batch: str | None = None, balance: str | None = None) -> SheetState:
        """With another batch size or another balance, such as ``"250 g"``."""
        try:
            sizes = [
                here if text is None else _mass(text, what)
                for text, what, here in (
                    (batch, "Batch size", self.batch_g),
                    (balance, "Balance", self.balance_g),
                )
            ]
        except LabkitError as error:
            return replace(self, refusal=Refusal.of(error))
        return replace(self, batch_g=sizes[0], balance_g=sizes[1], refusal=None)

    def noting(self, note: str) -> SheetState:
        """With this note, to be recorded with the trial."""
        return replace(self, note=note)

    def marking(self, marks: Formula, label: str) -> SheetState:
        """With another trial's values marked on the sliders."""
        return replace(self, marks=marks, marks_label=label)

    def recorded_as(self, label: str) -> SheetState:
        """After the formula was recorded: it is the last trial now; undo still works."""
        here = self.settled()
        return replace(
            here,
            parent_label=label,
            marks=here.formula,
            marks_label=label,
            note="",
            refusal=None,
            recorded=label,
        )

    def refused(self, error: LabkitError) -> SheetState:
        """With a refusal to show; nothing else changes."""
        return replace(self, refusal=Refusal.of(error))

    def at_line(self, line_id: int | None) -> SheetState:
        """With the refusal shown at a line."""
        if self.refusal is None:
            return self
        return replace(self, refusal=replace(self.refusal, line=line_id))

    def grams(self) -> tuple[Decimal, ...]:
        """Grams of each line for the batch, exact."""
        return tuple(x.percent * self.batch_g / 100 for x in self.formula.lines)

    def too_small(self) -> tuple[int, ...]:
        """Lines whose weighing is uncertain by more than 1 % on this balance.

        Notes
        -----
        One step of the reading against the mass weighed; the 1 % is common practice.
        """
        least = self.balance_g * 100
        return tuple(i for i, g in enumerate(self.grams()) if 0 < g < least)

    def _back_to_step(self) -> SheetState:
        return replace(self, formula=self.origin.formula, ids=self.origin.ids)

    def _completed(self, move: Move, line_id: int | None, start: Step) -> Move:
        """The raw move with its line and the give mode of the sheet."""
        give = self._give_for(move)
        if line_id is None:
            return replace(move, give=give)
        if line_id not in start.ids:
            raise MoveError(
                where=start.formula.name,
                found="a change to a line that is no longer in the sheet",
                allowed="A line that is shown",
                cause="It was removed in another view of this sheet, or by undo",
                do="Make the change again on the line as it is now",
            )
        line = start.ids.index(line_id)
        return replace(move, line=line, material=start.formula.lines[line].material, give=give)

    def _give_for(self, move: Move) -> Give:
        """Adding and removing fall back to all lines where nothing takes the rest."""
        if move.give != "qs":
            return move.give
        if move.kind in {"add", "remove"} and self.formula.qs is None and self.give == "qs":
            return "all"
        return self.gives


def _mass(text: str, what: str) -> Decimal:
    shown = str(text).strip()
    if shown.replace(",", "").replace(".", "").isdigit():
        shown += " g"
    mass = parse_quantity(shown, "mass", where=what).exact("g")
    if 0 < mass <= 10**7:
        return mass
    raise MoveError(
        where=what,
        found=f"{text}",
        allowed="More than 0 g and at most 10 000 kg",
        cause="A sign or a unit may be wrong",
        do="Write it as, for example, 250 g",
    )


def _followed(start: Step, formula: Formula, move: Move) -> tuple[int, ...]:
    """The ids of the lines after a move: who is who after adding, removing, reordering."""
    before = [(x.phase, x.material) for x in start.formula.lines]
    after = [(x.phase, x.material) for x in formula.lines]
    ids = list(start.ids)
    if move.kind == "add":
        place = next(i for i in range(len(after)) if after[:i] + after[i + 1 :] == before)
        return (*ids[:place], max(ids) + 1, *ids[place:])
    line = start.formula.find(move.line if move.line is not None else move.material)
    if move.kind == "remove":
        return (*ids[:line], *ids[line + 1 :])
    if move.kind == "place":
        rest = before[:line] + before[line + 1 :]
        place = next(i for i in range(len(after)) if after[:i] + after[i + 1 :] == rest)
        moving = ids.pop(line)
        return (*ids[:place], moving, *ids[place:])
    return start.ids
