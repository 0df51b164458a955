"""The table of legal limits: which entry applies to which product, market and day."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache

from labkit import tables
from labkit.estimates.sourcing import source_words
from labkit.formula.brief import Brief
from labkit.formula.names import fold

__all__ = [
    "Limit",
    "Member",
    "applies",
    "conditions_for",
    "holds_for",
    "in_force",
    "limits_for",
    "next_change",
]

_DAY = re.compile(r"\b(from|until) (\d{4}-\d{2}-\d{2})")
_ENTRY = re.compile(r"III/(\d+)")
_FIRST_EU_ENTRY_AFTER_GB = 321
"""Annex III entries from this number on came after the text that GB took over (from memory)."""
_LATER_EU = re.compile(r"eu-202[1-9]|\(20\d\d/\d+\)|REACH")
_BANS = frozenset({"prohibited", "not permitted"})
_LIMITS = frozenset({"limit", "opinion"}) | _BANS
_CONDITIONS = frozenset({"condition", "label"})
_SKIPPED = ("(as preservative)",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A substance that counts towards a limit, and by how much."""

    inci: str
    factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One entry: what counts, how, up to how much, in which products."""

    id: str
    substance: str
    members: tuple[Member, ...]
    only_with: str | None
    role: str
    status: str
    market: str
    inherited: bool
    product_type: str
    scope: str
    percent: float
    below: bool
    basis: str
    acid: str | None
    entry: str
    conditions: str
    dated: str
    source: str
    source_kind: str

    @property
    def bans(self) -> bool:
        """Whether the substance may not be in the product at all."""
        return self.percent == 0 or self.status in _BANS

    @property
    def pool(self) -> tuple[object, ...] | None:
        """What entries share one sum: salts and esters of one acid under one entry."""
        if self.acid is None or "single ester" in self.product_type:
            return None
        return (self.entry, self.market, self.product_type, self.percent, self.acid)


@cache
def _scopes() -> Mapping[str, str]:
    return {row["product_type"] or "": row["scope"] or "" for row in tables.rows("limit_scope")}


@cache
def _members() -> Mapping[str, tuple[tuple[Member, ...], str | None]]:
    found: dict[str, tuple[tuple[Member, ...], str | None]] = {}
    for row in tables.rows("limit_members"):
        name = row["limit_inci"] or ""
        members, only_with = found.get(name, ((), row["only_with"]))
        member = Member(inci=row["member_inci"] or "", factor=float(row["factor"] or 1.0))
        found[name] = ((*members, member), only_with)
    return found


@cache
def _rows() -> tuple[Limit, ...]:
    found = [_limit(row, _LIMITS) for row in tables.rows("use_limits") if row["limit_max_pct"]]
    sums: dict[str, Limit] = {}
    for row in tables.rows("limit_sums"):
        name = row["sum_id"] or ""
        member = Member(inci=row["member_inci"] or "", factor=float(row["factor"] or 1.0))
        known = sums.get(name)
        sums[name] = _sum(row, (*(known.members if known else ()), member))
    return tuple(x for x in (*found, *sums.values()) if x is not None)


@cache
def conditions_for(market: str) -> tuple[Limit, ...]:
    """Entries of a market that ask for something else than a level in the formula."""
    found = [_limit(row, _CONDITIONS) for row in tables.rows("use_limits")]
    return tuple(x for x in found if x is not None and x.market == market)


def _limit(row: tables.Row, statuses: frozenset[str]) -> Limit | None:
    name, status = row["inci"] or "", row["status"] or ""
    if status not in statuses or (row["limit_basis"] == "as NaOH" and not row["limit_max_pct"]):
        return None
    if any(words in name for words in _SKIPPED) or "secondary amine" in (row["limit_basis"] or ""):
        return None
    factor = float(row["factor_supplied_to_basis"] or 1.0)
    members, only_with = _members().get(name, ((Member(inci=name, factor=factor),), None))
    return Limit(
        id=row["row_id"] or "",
        substance=name,
        members=members,
        only_with=only_with,
        role=row["role"] or "",
        status=status,
        market=row["jurisdiction"] or "",
        inherited=False,
        product_type=row["product_type"] or "",
        scope=_scopes()[row["product_type"] or ""],
        percent=0.1
        if "under 0.1 %" in (row["conditions"] or "")
        else float(row["limit_max_pct"] or 0.0),
        below="below" in (row["limit_basis"] or "") or "under 0.1 %" in (row["conditions"] or ""),
        basis=row["limit_basis"] or "",
        acid=row["acid_form"],
        entry=row["annex_ref"] or "",
        conditions=row["conditions"] or "",
        dated=row["limit_date"] or "",
        source=source_words(row),
        source_kind=f"{row['source_id']} {row['source_kind']}",
    )


def _sum(row: tables.Row, members: tuple[Member, ...]) -> Limit:
    return Limit(
        id=row["sum_id"] or "",
        substance=row["name"] or "",
        members=members,
        only_with=None,
        role="preservative",
        status="limit",
        market=row["jurisdiction"] or "",
        inherited=False,
        product_type=row["product_type"] or "",
        scope=_scopes()[row["product_type"] or ""],
        percent=float(row["limit_max_pct"] or 0.0),
        below=False,
        basis=row["limit_basis"] or "",
        acid=row["acid_form"],
        entry=row["place"] or "",
        conditions="",
        dated="as of 2024-05 (published annex export)",
        source=source_words(row),
        source_kind=row["source_id"] or "",
    )


@cache
def limits_for(market: str) -> tuple[Limit, ...]:
    """Every entry of a market; Great Britain also has those it took over from the EU.

    Examples
    --------
    >>> {x.market for x in limits_for("US")}
    {'US'}
    """
    own = [x for x in _rows() if x.market == market]
    if market == "GB":
        named = {fold(m.inci) for x in own for m in x.members}
        own += [
            _inherit(x)
            for x in _rows()
            if x.market == "EU" and _taken_over(x) and fold(x.substance) not in named
        ]
    return tuple(own)


def _taken_over(limit: Limit) -> bool:
    entry = _ENTRY.search(limit.entry)
    late = entry is not None and int(entry[1]) >= _FIRST_EU_ENTRY_AFTER_GB
    return not (late or _LATER_EU.search(f"{limit.entry} {limit.source_kind}"))


def _inherit(limit: Limit) -> Limit:
    values = {name: getattr(limit, name) for name in Limit.__slots__}
    return Limit(**(values | {"inherited": True}))


def holds_for(brief: Brief, tag: str) -> bool | None:
    """Whether a tag holds for the product of the brief; None when that is left open."""
    flags = {
        "under_3": brief.under_3,
        "nappy": brief.nappy or "nappy" in brief.kind.areas,
        "eye-area": brief.eye_area or "eye" in brief.kind.areas,
    }
    return flags[tag] if tag in flags else brief.kind.has(tag, brief.sprayed)


def applies(scope: str, brief: Brief, others: tuple[bool | None, ...] = ()) -> bool | None:
    """Whether a scope covers the product: yes, no, or None where the brief leaves it open.

    Parameters
    ----------
    scope : str
        Alternatives joined by ``|``; words of one alternative must all hold; ``not:`` turns
        a word round; ``other`` holds unless one of ``others`` surely does; ``unsettled`` is
        open.
    brief : Brief
    others : tuple
        Answers of the sibling entries that name products.

    Examples
    --------
    >>> applies("leave-on face | shampoo", Brief(product="shampoo"))
    True
    >>> applies("body-lotion", Brief(product="thing", leave_on=True)) is None
    True
    """
    answers = [_all_words(part.split(), brief, others) for part in scope.split("|")]
    return True if True in answers else None if None in answers else False


def _all_words(words: list[str], brief: Brief, others: tuple[bool | None, ...]) -> bool | None:
    answers: list[bool | None] = []
    for word in words:
        turned = word.startswith("not:")
        name = word.removeprefix("not:")
        if name == "unsettled":
            answer: bool | None = None
        elif name == "other":
            answer = True not in others
        else:
            answer = holds_for(brief, name)
        answers.append(not answer if turned and answer is not None else answer)
    return False if False in answers else None if None in answers else True


def in_force(limit: Limit, day: date) -> bool:
    """Whether an entry is law (or opinion) on a day."""
    days = {word: date.fromisoformat(text) for word, text in _DAY.findall(limit.dated)}
    return days.get("from", date.min) <= day <= days.get("until", date.max)


def next_change(limit: Limit) -> date | None:
    """The day from which an entry holds, where the table states one."""
    found = dict(_DAY.findall(limit.dated))
    return date.fromisoformat(found["from"]) if "from" in found else None
