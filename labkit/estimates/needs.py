"""The small language in which the rules of ``incompatibilities.csv`` say when they fire.

Clauses are joined by ``&`` and all must hold::

    [ionic:cationic class:surfactant] >= 0.05     a set of substances, in % of the batch
    [group:acid-preservative] above its pH window the same, for acids above their window
    added [inci=Methylisothiazolinone]            lines that are that substance, not parts
    no [group:preservative | group:booster]       none present (or: no [...] > 15)
    pH < 5 · water > 5 · no water                 of the finished product
    not pH >= 10                                  also holds while the pH is unknown
    form: o/w emulsion | gel · not form: …        what it is made as
    use: wet · market: EU                         from the brief
    carried: yes                                  another preservative carries the product
    bench: high shear                             only seen at the bench: never fires on paper

In a set, words standing together must all hold of a substance; ``|`` separates
alternatives. Words are ``ionic:``, ``class:``, ``group:``, ``function:`` and ``inci=``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from labkit.errors import DataFileError

__all__ = [
    "Bench",
    "Carried",
    "Clause",
    "Form",
    "Market",
    "Ph",
    "Set",
    "Water",
    "Wet",
    "Word",
    "parse_needs",
]

Word = tuple[str, str]
"""What a substance must be: ``("group", "soap")``, ``("inci", "xanthan gum")``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Set:
    """Substances of a kind, and how much of them."""

    alternatives: tuple[frozenset[Word], ...]
    threshold: float = 0.0
    strict: bool = True
    absent: bool = False
    added: bool = False
    above_window: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Ph:
    """pH of the finished product against a figure."""

    sign: str
    value: float
    negated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """Water in the product, in % of the batch."""

    more_than: float | None = None
    less_than: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """What the product is made as."""

    forms: tuple[str, ...]
    negated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Market:
    """Where it is sold."""

    market: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Wet:
    """Used with wet hands or in the shower."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """Whether another preservative carries the product."""

    carried: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """Something only the bench can see."""

    what: str


Clause = Set | Ph | Water | Form | Market | Wet | Carried | Bench

_SET = re.compile(
    r"(?P<no>no )?(?P<added>added )?\[(?P<body>[^\]]+)\]"
    r"(?:\s*(?P<sign>>=|>)\s*(?P<value>[\d.]+))?(?P<window> above its pH window)?"
)
_PH = re.compile(r"(not )?pH\s*(<=|<|>=|>)\s*([\d.]+)")
_WATER = re.compile(r"water\s*>\s*([\d.]+)")
_FORM = re.compile(r"(not )?form:\s*(.+)")
_KEYS = ("ionic", "class", "group", "function")
_NO_WATER = 1.0
"""Below this much water [%] a product counts as made without it; common practice."""


def parse_needs(text: str, where: str = "Rule") -> tuple[Clause, ...]:
    """Read the condition of a rule.

    Parameters
    ----------
    text : str
        As in the column ``needs``.
    where : str
        Named in a refusal: the rule's id.

    Returns
    -------
    tuple of clauses
        All must hold.

    Raises
    ------
    DataFileError
        A clause that is not understood.

    Examples
    --------
    >>> parse_needs("[group:carbomer] >= 0.05 & pH < 5")[1]
    Ph(sign='<', value=5.0, negated=False)
    """
    return tuple(_clause(part.strip(), where) for part in text.split("&"))


def _clause(text: str, where: str) -> Clause:
    if match := _SET.fullmatch(text):
        return Set(
            alternatives=tuple(_words(a.strip(), where) for a in match["body"].split("|")),
            threshold=float(match["value"] or 0.0),
            strict=match["sign"] != ">=",
            absent=bool(match["no"]),
            added=bool(match["added"]),
            above_window=bool(match["window"]),
        )
    if match := _PH.fullmatch(text):
        return Ph(sign=match[2], value=float(match[3]), negated=bool(match[1]))
    if match := _WATER.fullmatch(text):
        return Water(more_than=float(match[1]))
    if match := _FORM.fullmatch(text):
        forms = tuple(f.strip() for f in match[2].split("|"))
        return Form(forms=forms, negated=bool(match[1]))
    key, _, value = (part.strip() for part in text.partition(":"))
    known: dict[str, Clause] = {
        "market": Market(market=value),
        "bench": Bench(what=value),
    }
    fixed: dict[str, Clause] = {
        "no water": Water(less_than=_NO_WATER),
        "use: wet": Wet(),
        "carried: yes": Carried(carried=True),
        "carried: no": Carried(carried=False),
    }
    found = fixed.get(text) or (known.get(key) if value else None)
    if found is None:
        raise _not_understood(f"the clause '{text}'", where)
    return found


def _words(text: str, where: str) -> frozenset[Word]:
    head, named, name = text.partition("inci=")
    words: list[Word] = [("inci", name.strip().casefold())] if named else []
    for word in head.split():
        key, _, value = word.partition(":")
        if key not in _KEYS or not value:
            raise _not_understood(f"the word '{word}'", where)
        words.append((key, value))
    if not words or (named and not name.strip()):
        raise _not_understood("an empty alternative", where)
    return frozenset(words)


def _not_understood(found: str, where: str) -> DataFileError:
    return DataFileError(
        where=where,
        found=f"{found} is not understood",
        allowed="Clauses joined by &: [sets], pH, water, form:, market:, use:, carried:, bench:",
        cause="Mistyped in the table of rules",
        do="Write the condition in the small language of labkit.estimates.needs",
    )
