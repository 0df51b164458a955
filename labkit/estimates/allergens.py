"""Fragrance: allergens to name, what the certificate must say, sun, and small children."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from functools import cache

import numpy as np
from numpy.typing import NDArray

from labkit import tables
from labkit.estimates.catalogue import finding
from labkit.estimates.contents import Contents
from labkit.estimates.finding import Finding
from labkit.estimates.sourcing import source_words
from labkit.estimates.state import Atom, Board, Candidate, State, Test, never, test
from labkit.formula.brief import Brief
from labkit.formula.names import fold

__all__ = ["Allergen", "allergens", "declared", "fragrance_candidates"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

NEW_NAMES_FROM = date(2026, 7, 31)
"""From this day new products in the EU carry the names of Regulation (EU) 2023/1545."""
ASSESSOR = "The supplier's certificate and a qualified safety assessor decide."
USUAL = {"face": 0.5, "body": 1.0, "rinse-off": 1.5}
"""Usual highest level of fragrance [%]; table process_practice, PR55."""
_OILS = frozenset({("group", "essential-oil")})
_PERFUME = frozenset({("inci", "parfum")})
_LEAVE_ON_OIL = 1.0
_PERCENT = re.compile(r"(\d+(?:[.,]\d+)?)\s*%")
_TIGHT = 1e-12
_INFANT_LEVEL = 0.005
"""Below this level [% of the product] a substance inside an oil is a trace (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Allergen:
    """One name that a label must carry above its threshold.

    ``members`` are folded INCI names that count together; thresholds in % of the product,
    exceeded only by more than the figure.
    """

    name: str
    members: frozenset[str]
    leave_on: float
    rinse_off: float
    since_2023: bool
    source: str


@cache
def allergens() -> tuple[Allergen, ...]:
    """The listed fragrance allergens, read once."""
    found = []
    for row in tables.rows("fragrance_allergens"):
        if not (row["threshold_leave_on_pct"] and row["threshold_rinse_off_pct"]):
            continue
        if row["status"] == "prohibited":
            continue
        names = [row["label_name"] or "", *(row["member_inci_names"] or "").split(";")]
        found.append(
            Allergen(
                name=row["label_name"] or "",
                members=frozenset(fold(n) for n in names if n.strip()),
                leave_on=float(row["threshold_leave_on_pct"]),
                rinse_off=float(row["threshold_rinse_off_pct"]),
                since_2023="2023/1545" in (row["origin_list"] or ""),
                source=source_words(row),
            )
        )
    return tuple(found)


def declared(
    contents: Contents, percent: Array, brief: Brief, day: date
) -> list[tuple[Allergen, float, bool]]:
    """Allergens that must be named: entry, level [%], and whether only at the top of a range.

    Parameters
    ----------
    contents : Contents
    percent : ndarray, shape (n_lines,)
    brief : Brief
        Leave-on or rinse-off decides the threshold; leave-on where it is left open.
    day : date
        Decides whether the names of 2023 count in the EU.
    """
    usual, most = percent @ contents.share, percent @ contents.most
    found = []
    for entry in _in_force(brief, day):
        held = [j for j, name in enumerate(contents.substances) if name in entry.members]
        limit = _limit(entry, brief)
        level, top = float(usual[held].sum()), float(most[held].sum())
        if top > limit + _TIGHT:
            found.append((entry, max(level, 0.0), level <= limit + _TIGHT))
    return found


def _in_force(brief: Brief, day: date) -> list[Allergen]:
    """The names that a market of the brief asks for on that day."""
    if not {"EU", "GB"} & set(brief.market):
        return []
    newer = "EU" in brief.market and day >= NEW_NAMES_FROM
    return [entry for entry in allergens() if newer or not entry.since_2023]


def _limit(entry: Allergen, brief: Brief) -> float:
    return entry.rinse_off if brief.leave_on is False else entry.leave_on


def fragrance_candidates(
    contents: Contents, brief: Brief, board: Board, day: date
) -> list[Candidate]:
    """What scent in this formula asks for."""
    oils = (contents.share * contents.mask([_OILS])).sum(axis=1)
    perfume = (contents.share * contents.mask([_PERFUME])).sum(axis=1)
    found = [*_names(contents, brief, board, day), *_figures(contents, brief, board)]
    if (oils + perfume).any():
        found += _levels(contents, brief, board, oils, perfume)
    return [*found, *_sun(contents, brief, board), *_children(contents, brief, board, oils)]


def _names(contents: Contents, brief: Brief, board: Board, day: date) -> list[Candidate]:
    columns = []
    for entry in _in_force(brief, day):
        held = [j for j, name in enumerate(contents.substances) if name in entry.members]
        if contents.most[:, held].any():
            columns.append((board.term(contents.most[:, held].sum(axis=1)), _limit(entry, brief)))
    if not columns:
        return []
    places = [column for column, _ in columns]
    limits = np.array([limit for _, limit in columns])

    def decide(state: State) -> Mask | bool:
        return np.asarray((state.sums[..., places] > limits + _TIGHT).any(axis=-1))

    def tell(state: State, sure: bool) -> Finding:
        named = declared(contents, state.percent, brief, day)
        words = ", ".join(
            f"{entry.name} ({'up to the threshold' if edge else f'{level:.3g} %'})"
            for entry, level, edge in named
        )
        members = {m for entry, _, _ in named for m in entry.members}
        mask = np.zeros(contents.share.shape, dtype=bool)
        mask[:, [j for j, n in enumerate(contents.substances) if n in members]] = True
        lines = contents.lines_with(mask, state.percent)
        limit = _limit(named[0][0], brief)
        use = "rinsed off" if brief.leave_on is False else "left on"
        return finding(
            "ALG01",
            contents,
            lines,
            f"To be named on the label: {words}.",
            f"Above {limit:g} % in a product that is {use}; levels from typical oils.",
            f"Take the figures of your batch from its certificate. {ASSESSOR}",
            names_to_declare=tuple(entry.name for entry, _, _ in named),
        )

    named_any = test(decide)
    return [
        Candidate(code="ALG01", severity="fyi", certain=named_any, possible=named_any, tell=tell)
    ]


def _figures(contents: Contents, brief: Brief, board: Board) -> list[Candidate]:
    """Fragrance substances that the EU bans, or holds to a figure beside the label threshold."""
    if "EU" not in brief.market:
        return []
    found = []
    limited = {fold(row["inci"] or "") for row in tables.rows("use_limits")}
    for row in tables.rows("fragrance_allergens"):
        name = row["label_name"] or ""
        members = {fold(n) for n in (name, *(row["member_inci_names"] or "").split(";"))}
        held = [j for j, n in enumerate(contents.substances) if n in members]
        if not held or members & limited:
            continue
        banned = row["status"] == "prohibited"
        figures = _PERCENT.findall(row["other_limit"] or "")
        if banned or len(figures) == 1:
            limit = 0.0 if banned else float(figures[0].replace(",", "."))
            column = board.term(contents.share[:, held].sum(axis=1))
            found.append(_figure(row, limit, column, held, contents))
    return found


def _figure(
    row: tables.Row, limit: float, column: int, held: list[int], contents: Contents
) -> Candidate:
    over = Test((Atom(column, limit * 1.001 + 1e-6),))
    mask = np.zeros(contents.share.shape, dtype=bool)
    mask[:, held] = True

    def tell(state: State, sure: bool) -> Finding:
        allowed = "not allowed" if limit == 0 else f"limit {limit:g} %"
        return finding(
            "ALG03",
            contents,
            contents.lines_with(mask, state.percent),
            f"{row['label_name']}: {float(state.sums[column]):.3g} %, {allowed} (EU).",
            f"Entry {row['annex_entry']}. {row['note'] or ''}".strip(),
            f"Lower it or choose another fragrance. {ASSESSOR}",
            source=source_words(row),
            kind="law",
            substance=row["label_name"],
            limit=limit,
        )

    return Candidate(code="ALG03", severity="stop", certain=over, possible=over, tell=tell)


def _levels(
    contents: Contents, brief: Brief, board: Board, oils: Array, perfume: Array
) -> list[Candidate]:
    scent, blend, oil = board.term(oils + perfume), board.term(perfume), board.term(oils)
    area = "rinse-off" if brief.leave_on is False else "face" if _on_face(brief) else "body"
    usual = USUAL[area]

    blended = Test((Atom(blend, 0.0),))

    def strong(state: State) -> Mask | bool:
        much_oil = (state.sums[..., oil] > _LEAVE_ON_OIL) & (brief.leave_on is True)
        return (state.sums[..., scent] > usual + 1e-9) | much_oil

    held = test(strong)

    def tell_blend(state: State, sure: bool) -> Finding:
        return finding(
            "ALG02",
            contents,
            tuple(int(i) for i in np.flatnonzero(perfume * state.percent > 0)),
            "The fragrance's own allergens are not in this list.",
            "A fragrance compound is a blend; its certificate gives allergens and a highest level.",
            f"Ask for the allergen statement and the level for this product type. {ASSESSOR}",
            severity="fyi",
        )

    def tell_strong(state: State, sure: bool) -> Finding:
        return finding(
            "FRAG01",
            contents,
            tuple(int(i) for i in np.flatnonzero((oils + perfume) * state.percent > 0)),
            f"{float(state.sums[scent]):.3g} % scent; usual is up to {usual:g} % here.",
            "Skin gets used to none of it: more scent means more people who react.",
            f"Lower it; stay well under the supplier's highest level. {ASSESSOR}",
        )

    return [
        Candidate(code="ALG02", severity="fyi", certain=blended, possible=blended, tell=tell_blend),
        Candidate(code="FRAG01", severity="check", certain=held, possible=held, tell=tell_strong),
    ]


def _on_face(brief: Brief) -> bool:
    return bool({"face", "eye", "lip"} & brief.kind.areas) or brief.eye_area


def _sun(contents: Contents, brief: Brief, board: Board) -> list[Candidate]:
    if not brief.on_sunlit_skin or brief.leave_on is False:
        return []
    rows = {
        fold(r["inci"] or ""): r
        for r in tables.rows("use_limits")
        if "phototoxicity" in (r["annex_ref"] or "") and r["limit_max_pct"]
    }
    weights = np.zeros(contents.n_lines)
    for j, name in enumerate(contents.substances):
        if name in rows:
            weights += contents.share[:, j] / float(rows[name]["limit_max_pct"] or 1)
    if not weights.any():
        return []
    column = board.term(weights)

    over = Test((Atom(column, 1 + 1e-9),))
    surely = over if brief.leave_on is True else never

    def tell(state: State, sure: bool) -> Finding:
        lines = tuple(int(i) for i in np.flatnonzero(weights * state.percent > 0))
        worst = max(lines, key=lambda i: float(weights[i] * state.percent[i]))
        held = [n for j, n in enumerate(contents.substances) if contents.share[worst, j] > 0]
        row = next((rows[n] for n in held if n in rows), None)
        limits = ", ".join(
            f"{contents.formula.lines[i].material} up to {1 / weights[i]:.3g} %" for i in lines
        )
        return finding(
            "PHOTO01",
            contents,
            lines,
            "Burns in the sun: expressed citrus oils at "
            f"{float(state.sums[column]):.2g} times the level for sunlit skin.",
            f"Furocoumarins react under sunlight. Alone: {limits}; fractions add up.",
            f"Lower them, use a distilled or furocoumarin-free grade, or rinse off. {ASSESSOR}",
            severity=None if sure else "check",
            source=None if row is None else source_words(row),
        )

    return [Candidate(code="PHOTO01", severity="stop", certain=surely, possible=over, tell=tell)]


def _children(contents: Contents, brief: Brief, board: Board, oils: Array) -> list[Candidate]:
    if not (brief.under_3 or brief.nappy):
        return []
    cautions = {fold(r["inci"] or ""): r for r in tables.rows("infant_cautions")}
    mask = np.zeros(contents.share.shape, dtype=bool)
    mask[:, [j for j, n in enumerate(contents.substances) if n in cautions]] = True
    grave, oil = board.term((contents.share * mask).sum(axis=1)), board.term(oils)

    decide, some = Test((Atom(grave, _INFANT_LEVEL),)), Test((Atom(oil, 0.0),))

    def tell(state: State, sure: bool) -> Finding:
        lines = contents.lines_with(mask, state.percent)
        levels = (state.percent @ (contents.share * mask)).tolist()
        worst = contents.substances[levels.index(max(levels))]
        row = cautions[worst]
        return finding(
            "INF01",
            contents,
            lines,
            f"Not for small children: {', '.join(contents.line_names(lines))}.",
            f"{(row['why'] or '').capitalize()}.",
            f"Take it out. {ASSESSOR}",
        )

    def tell_some(state: State, sure: bool) -> Finding:
        return finding(
            "INF02",
            contents,
            tuple(int(i) for i in np.flatnonzero(oils * state.percent > 0)),
            "Essential oil in a product for children under three.",
            "Small children react more, and breathe in more for their weight.",
            f"Leave scent out. {ASSESSOR}",
        )

    return [
        Candidate(code="INF01", severity="stop", certain=decide, possible=decide, tell=tell),
        Candidate(code="INF02", severity="check", certain=some, possible=some, tell=tell_some),
    ]
