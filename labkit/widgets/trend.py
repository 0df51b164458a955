"""Trends beside the notes: a live chart; a trial opens to its card and can be tuned from."""

from __future__ import annotations

import base64
import secrets
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

import anywidget
import ipywidgets
import traitlets

from labkit.bench import Bench
from labkit.bench.views import Trial
from labkit.charts.drawing import y_span, y_ticks
from labkit.charts.marks import Panel
from labkit.charts.trend import Lineage
from labkit.charts.trend import trend as trend_chart
from labkit.errors import LabkitError
from labkit.formula import Brief
from labkit.formula.grid import show
from labkit.materials import Materials
from labkit.widgets.assets import TREND, joined
from labkit.widgets.sheet import tune
from labkit.widgets.showing import WithPicture

__all__ = ["TrendBoard", "TrendChart", "watch"]

LARGEST_PHOTO = 600_000
"""Bytes of a photo that the card shows; a larger one is named."""


class TrendChart(anywidget.AnyWidget):
    """The chart and the card of a :class:`TrendBoard`."""

    _esm = joined(TREND, "js")
    _css = joined(("sheet", "parts", "lines", "board"), "css")
    _state = traitlets.Dict().tag(sync=True)

    def __init__(self, board: TrendBoard, state: dict[str, Any]) -> None:
        super().__init__()
        self._board = board
        self._state = state
        self.on_msg(self._hear)

    def _hear(self, _: Any, content: Mapping[str, Any], buffers: Any) -> None:
        before = self._state
        self._board.asked(content)
        answer = {
            "kind": "state",
            "client": str(content.get("client", "")),
            "seq": content.get("seq"),
        }
        same = content.get("do") == "look" and self._state is before
        self.send(answer if same else answer | {"state": self._state})


class TrendBoard(WithPicture, ipywidgets.VBox):  # type: ignore[misc]
    """A live trend chart of a bench; what is chosen on the page can be set from Python.

    Made by :func:`watch`. ``choose`` picks quantity, branch and conditions, ``card``
    shows the card of a trial, ``refresh`` looks whether the bench has grown.
    """

    def __init__(
        self, bench: Bench, quantity: str, mats: Materials | None, brief: Brief | None
    ) -> None:
        self.bench, self.mats, self.brief = bench, mats, brief
        self.picture_id = secrets.token_hex(6)
        self._quantity, self._branch, self._series = quantity, "", ""
        self._card: dict[str, Any] | None = None
        self._trouble = ""
        self._seen = self._size()
        self.chart = TrendChart(self, self._told())
        super().__init__([self.chart])

    def choose(
        self,
        quantity: str | None = None,
        *,
        branch: str | None = None,
        conditions: str | None = None,
    ) -> None:
        """Show another quantity, the branch that ends in a trial, or some conditions.

        An empty text stands for all branches, or all conditions.
        """
        if quantity is not None and quantity != self._quantity:
            self._quantity, self._series = quantity, ""
        self._branch = self._branch if branch is None else branch
        self._series = self._series if conditions is None else conditions
        self._tell()

    def card(self, trial: str) -> None:
        """Show the card of a trial: formula, differences, readings, notes, photo.

        Raises
        ------
        RecordError
            No such trial.
        """
        self._card = card_of(self.bench, self.bench.trial(trial))
        self._tell()

    def tune(self, trial: str) -> None:
        """Open the mixing sheet on a trial, under the chart."""
        sheet = tune(self.bench.trial(trial), self.mats, bench=self.bench, brief=self.brief)
        self.children = (self.chart, sheet)

    def refresh(self) -> bool:
        """Draw anew if something was recorded since; whether it was."""
        size = self._size()
        grown = size != self._seen
        if grown:
            self._seen = size
            if self._card is not None:
                self._card = card_of(self.bench, self.bench.trial(self._card["id"]))
            self._tell()
        return grown

    def asked(self, content: Mapping[str, Any]) -> None:
        """What the page asks for; what cannot be done is said on it."""
        self._trouble = ""
        try:
            self._do(str(content.get("do")), content)
        except LabkitError as error:
            self._trouble = str(error)
            self._tell()

    def _do(self, do: str, content: Mapping[str, Any]) -> None:
        if do == "show":
            picked = (content.get(name) for name in ("quantity", "branch", "conditions"))
            quantity, branch, conditions = (None if x is None else str(x) for x in picked)
            self.choose(quantity, branch=branch, conditions=conditions)
        elif do == "card":
            self.card(str(content.get("trial")))
        elif do == "close":
            self._card = None
            self._tell()
        elif do == "tune":
            self.tune(str(content.get("trial")))
        elif do == "look":
            self.refresh()

    def _size(self) -> int:
        return self.bench.store.count()

    def _tell(self) -> None:
        self.chart._state = self._told()
        self._renew_pictures()

    def _told(self) -> dict[str, Any]:
        readings = self.bench.readings()
        numbers = readings[readings["value"].notna()]
        state: dict[str, Any] = {
            "quantities": sorted(set(numbers["quantity"])),
            "quantity": self._quantity,
            "sheet": self.picture_id,
            "branches": [{"id": t.id, "label": t.label} for t in self.bench.heads()],
            "branch": self._branch,
            "conditions": self._series,
            "panel": None,
            "card": self._card,
            "trouble": self._trouble,
        }
        try:
            state["panel"] = self._panel()
        except LabkitError as error:
            state["trouble"] = self._trouble or str(error)
        return state

    def _panel(self) -> dict[str, Any]:
        only = self._labels()
        chart = trend_chart(self.bench, self._quantity, brief=self.brief, trials=only)
        order = {i: name for name, i in Lineage.of(self.bench, only).order.items()}
        return panel_dict(chart.panels[0], order, self._series)

    def _labels(self) -> list[str] | None:
        if not self._branch:
            return None
        head = self.bench.trial(self._branch)
        return [t.label for t in (*self.bench.lineage(head), head)]

    def __repr__(self) -> str:
        return f"<TrendBoard of {self._quantity}: {self.bench!r}>"

    def _still(self) -> str:
        try:
            only = self._labels()
            return trend_chart(self.bench, self._quantity, brief=self.brief, trials=only).html()
        except LabkitError as error:
            return f"<p>{escape(str(error))}</p>"


def watch(
    bench: Bench,
    quantity: str = "viscosity",
    *,
    mats: Materials | None = None,
    brief: Brief | None = None,
) -> TrendBoard:
    """A live chart of a quantity across the trials, to stand beside the notes.

    Parameters
    ----------
    bench : Bench
        Where the readings are; what is recorded later appears by itself.
    quantity : str
        What was measured, such as ``"viscosity"`` or ``"pH"``.
    mats : Materials, optional
        For "tune from here".
    brief : Brief, optional
        Its windows are drawn as bands.

    Returns
    -------
    TrendBoard
        Shown when it is the last line of a cell. The same in one line without a page:
        ``lk.charts.trend(bench, "viscosity")``.
    """
    return TrendBoard(bench, quantity, mats, brief)


def panel_dict(panel: Panel, order: Mapping[int, str], conditions: str = "") -> dict[str, Any]:
    """A panel as plain values, each point with its trial; one series only when asked for."""
    kept = {s.index for s in panel.series if conditions in ("", s.name)}
    low, high = y_span(panel)
    return {
        "caption": panel.caption,
        "log": panel.log,
        "span": [low, high],
        "y_ticks": [list(tick) for tick in y_ticks(panel)],
        "x_ticks": [list(tick) for tick in panel.ticks],
        "bands": [{"low": b.low, "high": b.high, "words": b.words} for b in panel.bands],
        "series": [
            {"index": s.index, "name": s.name, "ink": s.ink, "symbol": s.symbol}
            for s in panel.series
        ],
        "links": [
            {"x": list(k.x), "y": list(k.y), "series": k.series}
            for k in panel.links
            if k.series in kept
        ],
        "points": [
            {
                "x": p.x, "y": p.y, "low": p.low, "high": p.high, "series": p.series,
                "hover": list(p.hover), "trial": order[int(p.x)],
            }
            for p in panel.points
            if p.series in kept
        ],
    }  # fmt: skip


def card_of(bench: Bench, trial: Trial) -> dict[str, Any]:
    """A trial's card: formula, differences from its parents, readings, notes, photo."""
    return {
        "id": trial.id,
        "label": trial.label,
        "name": trial.name,
        "note": trial.note,
        "created": trial.created[:10],
        "lines": [
            {"phase": x.phase, "material": x.material, "percent": show(x.percent)}
            for x in trial.formula.lines
        ],
        "differences": _differences(bench, trial),
        "readings": _readings(bench, trial),
        "notes": [str(r.body.get("text", "")) for r in bench.records("note", about=trial)],
        "photo": _photo(bench, trial),
    }


def _differences(bench: Bench, trial: Trial) -> list[dict[str, Any]]:
    found = []
    for name in trial.parents:
        parent = bench.trial(name)
        changes = [str(d) for d in parent.formula.compare(trial.formula)]
        found.append({"parent": parent.label, "changes": changes})
    return found


def _readings(bench: Bench, trial: Trial) -> list[str]:
    frame = bench.readings(trial=trial)
    return [
        f"{quantity} {text}" + (f" ({how})" if how else "")
        for quantity, text, how in zip(
            frame["quantity"], frame["text"], frame["conditions"], strict=True
        )
    ]


def _photo(bench: Bench, trial: Trial) -> dict[str, str] | None:
    photos: Sequence[Any] = bench.records("photo", about=trial)
    if not photos:
        return None
    body = photos[-1].body
    caption = str(body.get("caption", ""))
    media, content = bench.store.file_bytes(str(body["photo"]))
    if len(content) > LARGEST_PHOTO:
        return {"caption": f"{caption} (a photo of {len(content) // 1000} kB)".strip(), "src": ""}
    return {
        "caption": caption,
        "src": f"data:{media};base64,{base64.b64encode(content).decode()}",
    }
