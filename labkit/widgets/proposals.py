"""What to make next: proposals side by side; one press opens one on the mixing sheet."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from html import escape
from typing import Any

import anywidget
import ipywidgets
import traitlets

from labkit.bench import Bench
from labkit.errors import LabkitError, RecordError
from labkit.formula import Brief, Formula
from labkit.materials import Materials
from labkit.plan import Proposal, next_trials
from labkit.plan.next_trials import windows_of
from labkit.plan.proposals import REPEAT, TEACHES, TOWARDS
from labkit.widgets.assets import PROPOSING, joined
from labkit.widgets.sheet import MixingSheet, tune
from labkit.widgets.showing import WithPicture
from labkit.widgets.static import BAR_WIDTH, STYLE

__all__ = ["ProposalBoard", "ProposalCards", "proposing"]

KIND_WORDS = {
    TOWARDS: "aims at the middle of every window",
    REPEAT: "the same recipe once more: shows how far two batches differ by chance",
    TEACHES: "need not land in the windows: what it shows narrows the bands most",
}
SHOWN_AS = {
    "viscosity_mPas": ("viscosity", 0.001, "Pa·s"),
    "drain_s": ("drain time", 1.0, "s"),
    "spread_mm": ("spread", 1.0, "mm"),
}
"""Columns of the learner as name, factor and unit of the bench."""


class ProposalCards(anywidget.AnyWidget):
    """The cards of a :class:`ProposalBoard`."""

    _esm = joined(PROPOSING, "js")
    _css = joined(("sheet", "parts", "lines", "board", "proposing"), "css")
    _state = traitlets.Dict().tag(sync=True)

    def __init__(self, board: ProposalBoard, state: dict[str, Any]) -> None:
        super().__init__()
        self._board = board
        self._state = state
        self.on_msg(self._hear)

    def _hear(self, _: Any, content: Mapping[str, Any], buffers: Any) -> None:
        self._board.asked(content)
        answer = {"kind": "state", "client": str(content.get("client", ""))}
        self.send(answer | {"seq": content.get("seq"), "state": self._state})


class ProposalBoard(WithPicture, ipywidgets.VBox):  # type: ignore[misc]
    """Proposals for the next trial, made by :func:`proposing`.

    ``proposals`` are the proposals as they stand, ``choose`` opens one on a mixing
    sheet, ``sheet`` is the one opened last, ``again`` proposes anew from the bench.
    """

    def __init__(
        self, bench: Bench, brief: Brief, mats: Materials, n: int, options: Mapping[str, Any]
    ) -> None:
        self.bench, self.brief, self.mats = bench, brief, mats
        self.picture_id = secrets.token_hex(6)
        self.sheet: MixingSheet | None = None
        self._n, self._options = n, dict(options)
        self._chosen: int | None = None
        self._trouble = ""
        self.proposals: tuple[Proposal, ...] = self._propose()
        self.cards = ProposalCards(self, self._told())
        super().__init__([self.cards])

    def choose(self, i: int) -> MixingSheet:
        """Open a proposal on a mixing sheet, as one step from the trial it starts from.

        Parameters
        ----------
        i : int
            Place in ``proposals``, from 0.

        Raises
        ------
        RecordError
            No such proposal.
        """
        if not 0 <= i < len(self.proposals):
            raise RecordError(
                where="Proposals",
                found=f"proposal {i}",
                allowed=f"0 to {len(self.proposals) - 1}",
                cause="Places are counted from 0",
                do="Choose one of the proposals on the board",
            )
        proposal = self.proposals[i]
        base = self.bench.trial(str(proposal.base))
        idea = proposal.apply(base.formula, self.mats)
        sheet = tune(base, self.mats, bench=self.bench, brief=self.brief)
        if idea != base.formula:
            sheet.put(idea, f"proposal {i + 1}, {proposal.kind}")
        self.sheet, self._chosen = sheet, i
        self.children = (self.cards, sheet)
        self._tell()
        return sheet

    def again(self) -> tuple[Proposal, ...]:
        """Propose anew, with what was recorded since."""
        self.proposals, self._chosen = self._propose(), None
        self._tell()
        return self.proposals

    def asked(self, content: Mapping[str, Any]) -> None:
        """What the page asks for; what cannot be done is said on it."""
        self._trouble = ""
        try:
            if content.get("do") == "choose":
                self.choose(int(content.get("i", -1)))
            elif content.get("do") == "again":
                self.again()
        except LabkitError as error:
            self._trouble = str(error)
            self._tell()

    def _propose(self) -> tuple[Proposal, ...]:
        return tuple(next_trials(self.bench, self.brief, self.mats, self._n, **self._options))

    def _tell(self) -> None:
        self.cards._state = self._told()
        self._renew_pictures()

    def _told(self) -> dict[str, Any]:
        windows = windows_of(self.brief)
        return {
            "sheet": self.picture_id,
            "title": f"Next trials for {self.brief.product}",
            "proposals": [card_of(p, windows, self.bench, self.mats) for p in self.proposals],
            "chosen": self._chosen,
            "trouble": self._trouble,
        }

    def __repr__(self) -> str:
        return f"<ProposalBoard: {len(self.proposals)} proposals for {self.brief.product!r}>"

    def _still(self) -> str:
        return still_cards(self._told())


def proposing(
    bench: Bench, brief: Brief, mats: Materials | None = None, n: int = 3, **options: Any
) -> ProposalBoard:
    """Proposals for the next trial, to be opened on the mixing sheet with one press.

    Parameters
    ----------
    bench : Bench
        The trials so far; also where "record as trial" writes.
    brief : Brief
        Windows to land in.
    mats : Materials, optional
        Your materials; the starter set if left out.
    n : int
        Proposals towards the brief; the one that teaches most, and a repeat when noise
        is the question, are added.
    **options
        ``vary``, ``bounds``, ``at_most``, ``stops``, ``seed`` as in
        ``lk.plan.next_trials``.

    Returns
    -------
    ProposalBoard
        Shown when it is the last line of a cell; ``.choose(0)`` gives a mixing sheet.

    Raises
    ------
    BriefError
        No window, a window that holds nothing, or one for a quantity never measured.
    """
    return ProposalBoard(
        bench, brief, mats if mats is not None else Materials.starter(), n, options
    )


def card_of(
    proposal: Proposal,
    windows: Mapping[str, tuple[float, float]],
    bench: Bench,
    mats: Materials,
) -> dict[str, Any]:
    """A proposal as plain values: what moves, how likely it lands, why, cost, how far out."""
    base = bench.trial(str(proposal.base)).formula
    changes = [str(d) for d in base.compare(proposal.apply(base, mats))]
    return {
        "kind": proposal.kind,
        "words": KIND_WORDS[proposal.kind],
        "from": proposal.label,
        "moves": changes or ["nothing moves"],
        "chances": [
            {"label": _window_words(name, windows[name]), "chance": chance}
            for name, chance in proposal.chances.items()
        ],
        "chance": proposal.chance,
        "why": [_titled(words, proposal.titles) for words in proposal.why],
        "cost": None
        if proposal.cost is None
        else f"{proposal.cost:.2f} {_currency(base, mats)} per kg".replace("  ", " "),
        "outside": outside_words([_titled(x, proposal.titles) for x in proposal.outside]),
    }


def _currency(formula: Formula, mats: Materials) -> str:
    known = (mats.resolve(line.key or line.material) for line in formula.lines)
    return next((m.price.currency for m in known if m is not None and m.price is not None), "")


def outside_words(names: list[str]) -> str:
    """In words, what goes further than any trial so far."""
    if not names:
        return "inside what you have tried"
    return f"outside what you have tried: {', '.join(dict.fromkeys(names))}"


def _titled(label: str, titles: Mapping[str, str]) -> str:
    """A label of the learner with the name the bench uses."""
    for mark in (",", ":"):
        head, found, rest = label.partition(mark)
        if found and head in titles:
            return f"{titles[head]}{mark}{rest}"
    return titles.get(label, label)


def _window_words(column: str, window: tuple[float, float]) -> str:
    name, factor, unit = SHOWN_AS.get(column, (column, 1.0, ""))
    low, high = (f"{x * factor:g}" for x in window)
    return f"{name} {low} to {high} {unit}".strip()


def still_cards(told: Mapping[str, Any]) -> str:
    """The cards as a still table."""
    rows = "".join(_still_card(i, card) for i, card in enumerate(told["proposals"], 1))
    return (
        f'{STYLE}<div class="lk-paper"><table class="lk-still"><tbody>{rows}</tbody></table></div>'
    )


def _still_card(number: int, card: Mapping[str, Any]) -> str:
    head = f"{number}. {card['kind']}, from {card['from']}"
    moves = "; ".join(card["moves"])
    chances = [*card["chances"], {"label": "all windows", "chance": card["chance"]}]
    told = "".join(
        f"<tr><td>{escape(c['label'])}</td><td>{_chance_bar(c['chance'])}</td>"
        f'<td class="n">{c["chance"]:.0%}</td></tr>'
        for c in chances
    )
    small = " · ".join(x for x in ("; ".join(card["why"]), card["cost"], card["outside"]) if x)
    return (
        f'<tr class="p"><th colspan="3">{escape(head)}</th></tr>'
        f'<tr><td colspan="3" style="white-space:normal">{escape(moves)}</td></tr>{told}'
        f'<tr><td colspan="3" style="white-space:normal"><small>{escape(small)}</small></td></tr>'
    )


def _chance_bar(chance: float) -> str:
    return (
        f'<svg width="{BAR_WIDTH}" height="12" role="img" aria-label="{chance:.0%}">'
        f'<rect y="2" x="0.5" width="{BAR_WIDTH - 1}" height="8" fill="none" stroke="#8a979c"/>'
        f'<rect y="3" width="{BAR_WIDTH * chance:.1f}" height="6" fill="#2d7d8c"/></svg>'
    )
