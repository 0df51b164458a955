"""The weighing board: type what the balance says; everything is on disk at once."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from decimal import Decimal
from html import escape
from typing import Any

import anywidget
import traitlets

from labkit.bench import Batch, Bench, Lot, Trial
from labkit.bench.records import Record
from labkit.errors import LabkitError
from labkit.formula import Formula
from labkit.formula.grid import show
from labkit.widgets.assets import WEIGHING, joined
from labkit.widgets.showing import WithPicture
from labkit.widgets.state import Refusal
from labkit.widgets.static import STYLE

__all__ = ["WeighingBoard", "weigh"]

NEAR = Decimal("0.01")
"""A line within 1 % of its target, or one digit of the balance, is in (common practice)."""
LAST_LINES = 30


class WeighingBoard(WithPicture, anywidget.AnyWidget):
    """A batch at the balance; made by :func:`weigh`. ``batch`` is what is written."""

    _esm = joined(WEIGHING, "js")
    _css = joined(("sheet", "parts", "lines", "board", "weighing"), "css")
    _state = traitlets.Dict().tag(sync=True)

    def __init__(self, batch: Batch, lots: Mapping[str, Lot] | None = None) -> None:
        self.batch = batch
        self._lots = dict(lots or {})
        self._targets = batch.planned_g
        self._accepted: tuple[Decimal, ...] | None = None
        self._steam = ""
        self._last: list[Record] = []
        self.picture_id = secrets.token_hex(6)
        super().__init__()
        self._state = self._told(None)
        self.on_msg(self._hear)

    def _hear(self, _: Any, content: Mapping[str, Any], buffers: Any) -> None:
        refusal = None
        act = self._acts().get(str(content.get("do")))
        if act is not None:
            try:
                act(content)
            except LabkitError as error:
                refusal = Refusal.of(error)
        self._state = self._told(refusal)
        self._renew_pictures()
        answer = {"kind": "state", "client": str(content.get("client", ""))}
        self.send(answer | {"seq": content.get("seq"), "state": self._state})

    def _acts(self) -> Mapping[str, Callable[[Mapping[str, Any]], object]]:
        return {
            "weigh": self._heard_weigh,
            "log": self._heard_log,
            "undo": self._heard_undo,
            "steam": self._heard_steam,
            "finish": self._heard_finish,
            "raise": lambda _: self.bring_up(),
            "accept": lambda _: self.accept(),
        }

    def _heard_weigh(self, content: Mapping[str, Any]) -> None:
        line = self.batch.formula.find(int(content["line"]))
        lot = self._lots.get(self.batch.formula.lines[line].material)
        weighing = self.batch.weigh(line, str(content.get("grams", "")), lot=lot)
        self._last.append(weighing.record)

    def _heard_log(self, content: Mapping[str, Any]) -> None:
        warm = str(content.get("warm") or "").strip()
        bare = warm.replace(",", ".").replace(".", "", 1).isdecimal()
        said = f"{warm} °C" if bare else (warm or None)
        self._last.append(self.batch.log(str(content.get("words", "")), temperature=said))

    def _heard_undo(self, _: Mapping[str, Any]) -> None:
        if self._last:
            self.batch.undo(self._last.pop(), "taken back at the balance")

    def _heard_steam(self, content: Mapping[str, Any]) -> None:
        vessel = str(content.get("vessel") or "").strip() or None
        water = self.batch.water_to_add(str(content.get("gross", "")), vessel)
        self._steam = f"add {water:f} g hot water"

    def _heard_finish(self, content: Mapping[str, Any]) -> None:
        vessel = str(content.get("vessel") or "").strip() or None
        mass = self.batch.finish(str(content.get("gross", "")), vessel)
        self._steam = f"batch {mass:f} g"

    def bring_up(self) -> dict[str, Decimal]:
        """Raise the targets of the other lines so that the recipe is right again; it is logged."""
        adds = self.batch.bring_up()
        if adds:
            told = "; ".join(f"+{grams:f} g {name}" for name, grams in adds.items())
            self._last.append(self.batch.log(f"overpoured, the rest brought up: {told}"))
            self._targets = tuple(
                done + adds.get(line.material, Decimal(0))
                for line, done in zip(self.batch.formula.lines, self.batch.weighed_g, strict=True)
            )
        return adds

    def accept(self) -> None:
        """Take an overpoured line as it is; it is logged, and the percentages follow."""
        weighed = self.batch.weighed_g
        over = ", ".join(self._over(weighed))
        if over:
            self._last.append(self.batch.log(f"taken as it is: {over}"))
            self._accepted = weighed

    # telling -------------------------------------------------------------------

    def _over(self, weighed: tuple[Decimal, ...]) -> list[str]:
        taken = self._accepted or (Decimal(0),) * len(weighed)
        return [
            f"{line.material} over by {done - target:f} g"
            for line, target, done, known in zip(
                self.batch.formula.lines, self._targets, weighed, taken, strict=True
            )
            if done - target > self._room(target) and done != known
        ]

    def _room(self, target: Decimal) -> Decimal:
        return max(self.batch.balance_g, NEAR * target)

    def _told(self, refusal: Refusal | None) -> dict[str, Any]:
        batch, weighed = self.batch, self.batch.weighed_g
        made = self._made(weighed)
        over = self._over(weighed)
        lines = [self._line(i, weighed, made) for i in range(len(weighed))]
        label = ", ".join(trial.label for trial in batch.trials)
        return {
            "sheet": self.picture_id,
            "title": batch.formula.name,
            "words": f"{label} · balance {batch.balance_g.normalize():f} g".lstrip(" ·"),
            "planned": f"{sum(self._targets, Decimal(0)):f}",
            "weighed": f"{sum(weighed, Decimal(0)):f}",
            "lines": lines,
            "next": next((x["i"] for x in lines if x["state"] in ("open", "short")), None),
            "over": {"words": "; ".join(over)} if over else None,
            "vessel": None if batch.vessel_g is None else f"{batch.vessel_g:f}",
            "steam": self._steam,
            "phases": [p.key for p in batch.formula.phases],
            "log": [str(x) for x in batch.log_lines[-LAST_LINES:]][::-1],
            "can_undo": bool(self._last),
            "refusal": None if refusal is None else refusal.as_dict(),
        }

    def _made(self, weighed: tuple[Decimal, ...]) -> Formula | None:
        planned = self.batch.planned_g
        if any(plan > 0 and not done for plan, done in zip(planned, weighed, strict=True)):
            return None
        try:
            return self.batch.made()
        except LabkitError:
            return None

    def _line(self, i: int, weighed: tuple[Decimal, ...], made: Formula | None) -> dict[str, Any]:
        line, target, done = self.batch.formula.lines[i], self._targets[i], weighed[i]
        title = next((p.title for p in self.batch.formula.phases if p.key == line.phase), "")
        off = done - target
        state = "open"
        if done:
            room = self._room(target)
            state = "over" if off > room else "short" if off < -room else "in"
        lot = self._lots.get(line.material)
        return {
            "i": i,
            "phase": line.phase,
            "heading": f"Phase {line.phase}" + (f" · {title}" if title else ""),
            "material": line.material,
            "lot": "" if lot is None else lot.lot,
            "target": f"{target:f}",
            "weighed": f"{done:f}" if done else "",
            "off": f"{off:+f}" if done else "",
            "made": show(made.lines[i].percent) if made is not None and done else "",
            "state": state,
        }

    def _still(self) -> str:
        return still_weighing(self._told(None))

    def __repr__(self) -> str:
        return f"<WeighingBoard: {self.batch!r}>"


def still_weighing(told: Mapping[str, Any]) -> str:
    """A batch at the balance as a still table, with its log.

    Parameters
    ----------
    told : mapping
        The state of a weighing board.
    """
    rows, last = [], None
    for line in told["lines"]:
        if line["phase"] != last:
            last = line["phase"]
            rows.append(f'<tr class="p"><th colspan="5">{escape(line["heading"])}</th></tr>')
        numbers = "".join(
            f'<td class="n">{escape(line[name])}</td>'
            for name in ("target", "weighed", "off", "made")
        )
        rows.append(f"<tr><td>{escape(line['material'])}</td>{numbers}</tr>")
    heads = "".join(f'<th class="n">{x}</th>' for x in ("target, g", "in, g", "off, g", "% made"))
    log = "".join(f"<li>{escape(words)}</li>" for words in told["log"])
    return (
        f'{STYLE}<div class="lk-paper"><b>{escape(told["title"])}</b> '
        f"<small>{escape(told['words'])} · {told['weighed']} of {told['planned']} g in</small>"
        f'<table class="lk-still"><thead><tr><th>Material</th>{heads}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table><ul>{log}</ul></div>"
    )


def weigh(
    bench: Bench,
    what: Batch | Trial | Formula | str,
    mass: Any = "100 g",
    *,
    balance: Any = "0.01 g",
    vessel: Any = None,
    lots: Mapping[str, Lot] | None = None,
) -> WeighingBoard:
    """A board to weigh a batch on; each entry is on disk when its tick appears.

    Parameters
    ----------
    bench : Bench
    what : Batch, Trial, Formula or str
        A batch that was begun goes on where it stopped; a trial (or its label) or a formula
        begins a new one.
    mass, balance, vessel : str
        Of a new batch, as in ``bench.start_batch``.
    lots : mapping of material to Lot, optional
        What is taken from the shelf; see ``bench.stock(mats).lots_for(formula)``.

    Returns
    -------
    WeighingBoard
        Shown when it is the last line of a cell.
    """
    if isinstance(what, Batch):
        return WeighingBoard(what, lots)
    about = bench.trial(what) if isinstance(what, str) else what
    batch = bench.start_batch(about, mass, balance=balance, vessel=vessel)
    return WeighingBoard(batch, lots)
