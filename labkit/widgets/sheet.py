"""The mixing sheet in the notebook: hears edits, keeps the truth, answers with all of it."""

from __future__ import annotations

import secrets
import threading
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import anywidget
import traitlets

from labkit.bench import Bench
from labkit.bench.views import Trial
from labkit.errors import LabkitError, RecordError
from labkit.estimates import Forecaster
from labkit.estimates.forecast import Forecast
from labkit.estimates.learned import learned_from
from labkit.formula import Brief, Formula, Move
from labkit.formula.compare import Comparison
from labkit.materials import Material, Materials
from labkit.widgets.assets import SHEET, joined
from labkit.widgets.drafts import Drafts, draft_folder
from labkit.widgets.edits import edited
from labkit.widgets.neutral import lines_to_neutralise, neutralised
from labkit.widgets.page import moving_dict, page_dict
from labkit.widgets.readings import last_readings
from labkit.widgets.readouts import Measured, range_dict, readouts
from labkit.widgets.showing import WithPicture
from labkit.widgets.state import SheetState
from labkit.widgets.static import still_html
from labkit.widgets.tried import Tried, outside_names

__all__ = ["MixingSheet", "tune"]

MOST_TRIALS = 200
"""Trials offered for the marks on the sliders."""


class MixingSheet(WithPicture, anywidget.AnyWidget):
    """A formula under the hand: sliders that keep the total at 100, and what they change.

    Made by :func:`tune`. ``formula`` is what stands on the sheet, ``forecast`` what to
    expect of it; ``apply``, ``undo``, ``redo`` and ``record`` do from Python what the
    page does.
    """

    _esm = joined(SHEET, "js")
    _css = joined(("sheet", "lines", "parts"), "css")
    _state = traitlets.Dict().tag(sync=True)

    def __init__(
        self,
        state: SheetState,
        *,
        mats: Materials | None = None,
        bench: Bench | None = None,
        brief: Brief | None = None,
        parent: Trial | None = None,
        forecaster: Any = None,
        drafts: Path | None = None,
    ) -> None:
        self.picture_id = secrets.token_hex(6)
        self._turn = threading.RLock()
        self.state, self.mats, self.bench, self.brief = state, mats, bench, brief
        self.parent = parent
        self._forecaster = forecaster
        self._looked: tuple[Formula, Forecast] | None = None
        self._stamp = 0
        self._measured: Mapping[str, Measured] = {}
        self._trials: list[dict[str, str]] = []
        self._tried: Tried | None = None
        self._drafts = Drafts(
            drafts if drafts is not None else draft_folder(_file_of(bench)),
            state.formula,
            self.picture_id,
        )
        self._offered = self._drafts.offered()
        self._remember()
        super().__init__()
        self._state = self._page()
        self.on_msg(self._hear)

    @property
    def formula(self) -> Formula:
        """The formula as it stands on the sheet; its total is exactly 100."""
        return self.state.formula

    @property
    def forecast(self) -> Forecast | None:
        """What to expect of the formula as it stands, with findings."""
        if self._forecaster is None:
            return None
        if self._looked is None or self._looked[0] is not self.formula:
            self._looked = (self.formula, self._forecaster(self.formula))
        return self._looked[1]

    def apply(self, move: Move) -> Formula:
        """Make a move as the page would, as one step that can be undone.

        Raises
        ------
        MoveError
            The move cannot be made; the sheet is unchanged.
        """
        with self._turn:
            self.formula.apply(move)
            self._take(self.state.moved(move))
            return self.formula

    def put(self, formula: Formula, words: str) -> Formula:
        """Put another formula on the sheet, as one step that can be undone."""
        with self._turn:
            self._take(self.state.replaced(formula, words))
            return self.formula

    def undo(self) -> Formula:
        """One step back."""
        with self._turn:
            self._take(self.state.undone())
            return self.formula

    def redo(self) -> Formula:
        """One step forward again."""
        with self._turn:
            self._take(self.state.redone())
            return self.formula

    def record(self, note: str = "", label: str | None = None) -> Trial:
        """Record the formula as a trial, built on the one the sheet began from.

        Raises
        ------
        RecordError
            The sheet has no bench, the label is taken, or the bench cannot be written.
        """
        with self._turn:
            trial = self._record(note or self.state.note, label)
            self._answer()
            return trial

    def _record(self, note: str, label: str | None) -> Trial:
        if self.bench is None:
            raise RecordError(
                where=self.formula.name,
                found="a sheet without a bench",
                allowed="A sheet that was opened with bench=…",
                cause="tune was called with the formula alone",
                do="Open the sheet with tune(formula, mats, bench=bench)",
            )
        self.state = self.state.settled()
        self.parent = self.bench.record(
            self.formula,
            parent=self.parent,
            note=note,
            forecast=self.forecast,
            label=label or None,
            brief=self.brief,
            mats=self.mats,
        )
        self.state = self.state.recorded_as(self.parent.label)
        self._drafts.clear()
        self._remember()
        return self.parent

    # hearing and answering -------------------------------------------------

    def _hear(self, _: Any, content: Mapping[str, Any], buffers: Any) -> None:
        """A message of the page; a notebook may deliver it beside a running cell."""
        client, seq = str(content.get("client", "")), content.get("seq")
        do = content.get("do")
        with self._turn:
            if do == "find":
                self._send_found(client, content)
            elif do == "range":
                self._send_range(client, content)
            else:
                self._take(self._after(content), client, seq)

    def _after(self, content: Mapping[str, Any]) -> SheetState:
        act = {
            "record": self._heard_record,
            "marks": self._heard_marks,
            "draft": self._heard_draft,
            "neutralise": self._heard_neutralise,
        }
        special = act.get(str(content.get("do")))
        if special is None:
            return edited(self.state, content)
        try:
            return special(content)
        except LabkitError as error:
            return self.state.refused(error)

    def _heard_record(self, content: Mapping[str, Any]) -> SheetState:
        self.state = self.state.noting(str(content.get("note", "")))
        self._record(self.state.note, str(content.get("label") or "").strip())
        return self.state

    def _heard_neutralise(self, content: Mapping[str, Any]) -> SheetState:
        mats = self.mats or Materials.starter()
        return neutralised(self.state, content.get("id"), mats, self.brief)

    def _heard_marks(self, content: Mapping[str, Any]) -> SheetState:
        if self.bench is None:
            return self.state
        trial = self.bench.trial(str(content.get("trial")))
        return self.state.marking(trial.formula, trial.label)

    def _heard_draft(self, content: Mapping[str, Any]) -> SheetState:
        key = str(content.get("key"))
        draft = next((d for d in self._offered if d.key == key), None)
        self._offered = [d for d in self._offered if d.key != key]
        if draft is None:
            return self.state
        self._drafts.discard(key)
        if not content.get("take"):
            return self.state
        return self.state.replaced(draft.formula, f"draft taken up ({draft.words})")

    def _take(self, state: SheetState, client: str = "", seq: Any = None) -> None:
        before, self.state = self.state, state
        settled = state.gesture is None
        fresh = settled and state.origin is not before.origin
        if (state.origin, state.gives) != (before.origin, before.gives):
            self._stamp += 1
        self._answer(client, seq)
        if fresh and not state.recorded:
            self._drafts.keep(state.formula, state.origin.words, datetime.now())

    def _answer(self, client: str = "", seq: Any = None) -> None:
        if self.state.gesture is not None:
            changes = self.state.changes
            moving = moving_dict(self.state, changes) | self._read_off(changes)
            self.send({"kind": "state", "client": client, "seq": seq, "state": moving})
            return
        page = self._page()
        self.send({"kind": "state", "client": client, "seq": seq, "state": page})
        self._state = page
        self._renew_pictures()

    def _read_off(self, changes: Comparison | None) -> dict[str, Any]:
        """What Python alone knows of the formula as it stands."""
        trouble = self._drafts.problem
        try:
            look = self.forecast
        except LabkitError as error:
            look, trouble = None, f"No forecast. {error}"
        outside = None if look is None or not look.learned else outside_names(look, self.mats)
        return {
            "readouts": readouts(self.state, look, self._measured, outside, changes),
            "stamp": self._stamp,
            "trouble": trouble,
            "neutralise": [] if look is None else self._neutralisable(),
        }

    def _page(self) -> dict[str, Any]:
        changes = self.state.changes
        page = page_dict(self.state, changes) | self._read_off(changes)
        if self._tried is not None:
            for told, line in zip(page["lines"], self.formula.lines, strict=True):
                told["tried"] = self._tried.of(line)
        return page | {
            "sheet": self.picture_id,
            "can_record": self.bench is not None,
            "trials": self._trials,
            "drafts": [{"key": d.key, "offer": d.offer} for d in self._offered[:1]],
        }

    def _neutralisable(self) -> list[int]:
        if self._forecaster is None:
            return []
        at = lines_to_neutralise(self._forecaster, self.formula)
        return [self.state.ids[i] for i in at]

    def _send_found(self, client: str, content: Mapping[str, Any]) -> None:
        text = str(content.get("text", ""))[:100]
        found = [] if self.mats is None else self.mats.find(text, 8)
        results = [{"name": m.name, "key": m.key, "detail": _detail(m)} for m in found]
        self.send(
            {"kind": "found", "client": client, "token": content.get("token"), "results": results}
        )

    def _send_range(self, client: str, content: Mapping[str, Any]) -> None:
        line_id = content.get("id")
        start = self.state.origin
        if line_id not in start.ids:
            return
        line = start.ids.index(line_id)
        window = content.get("window")
        told = range_dict(
            start.formula,
            line,
            self.state.gives,
            self._forecaster,
            None if window is None else (int(window[0]), int(window[1])),
        )
        told |= {"kind": "range", "client": client, "id": line_id, "stamp": content.get("stamp")}
        self.send(told)

    def _remember(self) -> None:
        """What the bench knows, read when the sheet opens and after a record."""
        if self.bench is None:
            return
        if self.parent is not None:
            self._measured = last_readings(self.bench, self.parent) or self._measured
        self._tried = Tried(self.bench, self.formula, self.mats)
        frame = self.bench.trials().tail(MOST_TRIALS)
        self._trials = [
            {"id": trial, "label": label}
            for trial, label in zip(frame["id"], frame["label"], strict=True)
        ][::-1]

    # standing in the notebook ----------------------------------------------

    def __repr__(self) -> str:
        built = f", from {self.state.parent_label}" if self.state.parent_label else ""
        return f"<MixingSheet {self.formula.name!r}: {len(self.formula.lines)} lines{built}>"

    def _still(self) -> str:
        page = self._page()
        return still_html(page, page["readouts"])


def tune(
    trial_or_formula: Trial | Formula | str,
    mats: Materials | None = None,
    bench: Bench | None = None,
    brief: Brief | None = None,
) -> MixingSheet:
    """Open the mixing sheet on a formula, or on a trial to build the next one from it.

    Parameters
    ----------
    trial_or_formula : Trial, Formula or str
        A trial (or its label, with a bench) becomes the parent of what is recorded.
    mats : Materials, optional
        What is known of the materials; the starter set if left out.
    bench : Bench, optional
        Where "record as trial" writes, and what it learns from.
    brief : Brief, optional
        Windows and limits; also the batch size and the balance.

    Returns
    -------
    MixingSheet
        Shown when it is the last line of a cell; ``.formula`` is the formula as it stands.

    Raises
    ------
    RecordError
        No such trial at the bench.
    """
    if isinstance(trial_or_formula, str):
        if bench is None:
            raise RecordError(
                where=f"Trial {trial_or_formula}",
                found="a label without a bench",
                allowed="A formula, a trial, or a label with bench=…",
                cause="The bench was left out",
                do="Write tune('HC-07', mats, bench=bench)",
            )
        trial_or_formula = bench.trial(trial_or_formula)
    known = Materials.starter() if mats is None else mats
    parent = None if isinstance(trial_or_formula, Formula) else trial_or_formula
    formula = trial_or_formula if isinstance(trial_or_formula, Formula) else parent_formula(parent)
    label = parent.label if parent is not None else ""
    state = SheetState.opened(formula, marks=formula, marks_label=label)
    if brief is not None:
        state = state.weighing(brief.batch, brief.balance)
    learned = learned_from(bench, formula, known) if bench is not None else None
    return MixingSheet(
        state,
        mats=known,
        bench=bench,
        brief=brief,
        parent=parent,
        forecaster=Forecaster(known, brief, learned),
    )


def parent_formula(parent: Trial | None) -> Formula:
    """The formula of a trial that a sheet is opened on."""
    if parent is None:
        raise RecordError(
            where="Mixing sheet",
            found="nothing to tune",
            allowed="A formula or a trial",
            cause="An empty variable was given",
            do="Give a formula, a trial, or a label with bench=…",
        )
    return parent.formula


def _file_of(bench: Bench | None) -> Path | None:
    file = None if bench is None else bench.store.file
    return None if file is None else Path(file)


def _detail(material: Material) -> str:
    parts = [material.inci if material.inci != material.name else ""]
    if material.use_low is not None and material.use_high is not None:
        parts.append(f"{material.use_low:g}–{material.use_high:g} %")
    parts.append(", ".join(material.functions[:2]))
    return " · ".join(part for part in parts if part)
