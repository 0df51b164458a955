"""Record a measurement from the page: quantity, value with its unit, conditions."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from html import escape
from typing import Any

import anywidget
import traitlets

from labkit.bench import Bench
from labkit.bench.conditions import conditions_text
from labkit.bench.scales import SCALES
from labkit.bench.views import Trial
from labkit.errors import LabkitError
from labkit.widgets.assets import RECORDING, joined
from labkit.widgets.showing import WithPicture
from labkit.widgets.state import Refusal
from labkit.widgets.static import STYLE

__all__ = ["RecordingSlip", "measuring"]

CONDITIONS = {
    "temperature": "such as 25 °C",
    "dilution": "neat, or 10 % in water",
    "spindle": "number or shape",
    "speed": "such as 20 rpm",
    "instrument": "which meter",
    "method": "how it was done",
    "at": "24 h after making",
}
"""Conditions that the slip offers, and how each is written."""
USUAL = {
    "pH": ("temperature", "dilution", "instrument", "at"),
    "pH strip": ("temperature", "dilution", "at"),
    "viscosity": ("temperature", "spindle", "speed", "instrument", "at"),
    "drain time": ("temperature", "method", "at"),
    "spread": ("temperature", "method", "at"),
}
"""Conditions that change each quantity most; the others have temperature, method and time."""
MOST_TRIALS = 200


class RecordingSlip(WithPicture, anywidget.AnyWidget):
    """A slip on which one measurement is written; made by :func:`measuring`."""

    _esm = joined(RECORDING, "js")
    _css = joined(("sheet", "parts", "lines", "board"), "css")
    _state = traitlets.Dict().tag(sync=True)

    def __init__(self, bench: Bench, trial: Trial | None = None) -> None:
        self.bench = bench
        self._chosen = trial.id if trial is not None else ""
        self._saved: list[str] = []
        self.picture_id = secrets.token_hex(6)
        super().__init__()
        self._state = self._told(None)
        self.on_msg(self._hear)

    def save(self, trial: str, quantity: str, value: str, note: str = "", **conditions: str) -> str:
        """Record a measurement as the page would; replicates are parted by ``;``.

        Returns
        -------
        str
            What was recorded, in words.

        Raises
        ------
        MeasurementError, QuantityError, RecordError
            What is wrong with it; nothing is saved.
        """
        about = self.bench.trial(trial)
        replicates = [part.strip() for part in value.split(";") if part.strip()]
        given = {name: text for name, text in conditions.items() if text.strip()}
        what = replicates if len(replicates) > 1 else value.strip()
        reading = self.bench.measure(about, quantity, what, note=note, **given)
        how = conditions_text(reading.conditions)
        texts = [text.removesuffix(f" {reading.quantity}") for text in reading.texts]
        words = f"{reading.quantity} {', '.join(texts)} on {about.label}"
        self._saved = [words + (f" ({how})" if how else ""), *self._saved[:4]]
        self._chosen = about.id
        self._state = self._told(None)
        self._renew_pictures()
        return self._saved[0]

    def _hear(self, _: Any, content: Mapping[str, Any], buffers: Any) -> None:
        refusal = None
        if content.get("do") == "save":
            refusal = self._try_to_save(content)
        self._state = self._told(refusal)
        answer = {"kind": "state", "client": str(content.get("client", ""))}
        self.send(answer | {"seq": content.get("seq"), "state": self._state})

    def _try_to_save(self, content: Mapping[str, Any]) -> Refusal | None:
        given = {k: str(v) for k, v in dict(content.get("conditions") or {}).items()}
        try:
            self.save(
                str(content.get("trial", "")),
                str(content.get("quantity", "")),
                str(content.get("value", "")),
                str(content.get("note", "")),
                **{name: text for name, text in given.items() if name in CONDITIONS},
            )
        except LabkitError as error:
            return Refusal.of(error)
        return None

    def _told(self, refusal: Refusal | None) -> dict[str, Any]:
        frame = self.bench.trials().tail(MOST_TRIALS)
        trials = [
            {"id": name, "label": label}
            for name, label in zip(frame["id"], frame["label"], strict=True)
        ][::-1]
        return {
            "sheet": self.picture_id,
            "trials": trials,
            "trial": self._chosen or (trials[0]["id"] if trials else ""),
            "quantities": [
                {"name": s.name, "hint": _hint(s), "conditions": _usual(s.name)}
                for s in SCALES.values()
            ],
            "hints": CONDITIONS,
            "refusal": None if refusal is None else refusal.as_dict(),
            "saved": list(self._saved),
        }

    def _still(self) -> str:
        rows = "".join(f"<li>{escape(words)}</li>" for words in self._saved)
        saved = f"<ul>{rows}</ul>" if rows else "<p>Run the cell to write a measurement.</p>"
        return f'{STYLE}<div class="lk-paper"><b>Measurements</b>{saved}</div>'

    def __repr__(self) -> str:
        return f"<RecordingSlip: {self.bench!r}>"


def measuring(bench: Bench, trial: Trial | str | None = None) -> RecordingSlip:
    """A slip to record measurements on; the same as ``bench.measure(...)`` in one line.

    Parameters
    ----------
    bench : Bench
        Where it is recorded.
    trial : Trial or str, optional
        Which trial is measured first; the newest if left out.

    Returns
    -------
    RecordingSlip
        Shown when it is the last line of a cell.
    """
    return RecordingSlip(bench, bench.trial(trial) if trial is not None else None)


def _hint(scale: Any) -> str:
    if scale.words:
        return ", ".join(scale.words)
    examples = {"viscosity": "18.2 Pa*s or 20k cP", "pH": "5.31", "text": "a few words"}
    return examples.get(scale.name) or examples.get(scale.sort) or f"number with {scale.unit}"


def _usual(name: str) -> list[str]:
    return list(USUAL.get(name, ("temperature", "method", "at")))
