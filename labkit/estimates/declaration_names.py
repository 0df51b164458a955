"""Ingredient names as a market writes them: water, perfume, plants, colours."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType

from labkit import tables
from labkit.formula.names import fold, is_water

__all__ = ["LabelName", "is_colour_index", "key_of", "label_name"]

_COLOUR_INDEX = re.compile(r"ci\s*\d{5}(:\d)?")
_ALSO_OTHERWISE = frozenset(
    fold(name)
    for name in (
        "Titanium Dioxide", "Zinc Oxide", "Mica", "Bismuth Oxychloride", "Beta-Carotene",
        "Guanine", "Aluminum Powder",
    )
)  # fmt: skip
"""Colours that are also a filter, a filler, a vitamin …: the material decides."""
_NANO = re.compile(r"\s*\(nano\)$", re.IGNORECASE)
_ENGLISH = re.compile(
    r"^([A-Z][a-z]+(?: [A-Z][a-z]+){1,3}) \((?!nano\b)[A-Z][A-Za-z' /-]*\)(?= |$)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelName:
    """A name for one market; ``known`` is False where the market's own form was not found."""

    name: str
    colour: bool = False
    known: bool = True


@cache
def _table() -> Mapping[str, tuple[str, str, str]]:
    """Folded name of either market to (EU name, US name, kind); EU names win."""
    found: dict[str, tuple[str, str, str]] = {}
    rows = [
        (row["eu_name"] or "", row["us_name"] or "", row["kind"] or "")
        for row in tables.rows("label_names")
    ]
    for eu, us, kind in rows:
        found[fold(eu)] = (eu, us, kind)
    for eu, us, kind in rows:
        if kind != "colour":
            found.setdefault(fold(us), (eu, us, kind))
    return MappingProxyType(found)


@cache
def _colours_by_name() -> Mapping[str, str]:
    """Folded US colour name to its one CI number; a name of several numbers is left out."""
    several: dict[str, list[str]] = {}
    for row in tables.rows("label_names"):
        if row["kind"] == "colour":
            several.setdefault(fold(row["us_name"] or ""), []).append(row["eu_name"] or "")
    return MappingProxyType({name: eu[0] for name, eu in several.items() if len(eu) == 1})


@cache
def _only_colours() -> frozenset[str]:
    """Folded US names of colours that name nothing else, such as Yellow 5 or Iron Oxides."""
    rows = (row for row in tables.rows("label_names") if row["kind"] == "colour")
    return frozenset(fold(row["us_name"] or "") for row in rows) - _ALSO_OTHERWISE


def is_colour_index(name: str) -> bool:
    """Whether a name is a Colour Index number, such as ``CI 77891``.

    Examples
    --------
    >>> is_colour_index("CI 77891"), is_colour_index("Citric Acid")
    (True, False)
    """
    return _COLOUR_INDEX.fullmatch(fold(name)) is not None


def key_of(inci: str) -> str:
    """What equal ingredients share, whichever market's name they came under.

    Examples
    --------
    >>> key_of("Water") == key_of("Aqua")
    True
    >>> key_of("Butyrospermum Parkii (Shea) Butter") == key_of("Butyrospermum Parkii Butter")
    True
    """
    if is_water(inci):
        return "aqua"
    entry = _table().get(fold(inci)) or _table().get(fold(_without_english(inci)))
    return fold(entry[0] if entry else _without_english(inci))


def label_name(inci: str, market: str, *, as_colour: bool = False) -> LabelName:
    """The name of an ingredient on a label.

    Parameters
    ----------
    inci : str
        Name in either market's form.
    market : str
        ``EU``, ``GB`` or ``US``.
    as_colour : bool
        Whether it is there to colour: titanium dioxide is then CI 77891 in the EU.

    Returns
    -------
    LabelName

    Examples
    --------
    >>> label_name("Helianthus Annuus Seed Oil", "US").name
    'Helianthus Annuus (Sunflower) Seed Oil'
    >>> label_name("CI 19140", "US"), label_name("Titanium Dioxide", "EU", as_colour=True).name
    (LabelName(name='Yellow 5', colour=True, known=True), 'CI 77891')
    """
    if (small := _NANO.sub("", inci)) != inci:
        found = label_name(small, market, as_colour=as_colour)
        return found if market == "US" else replace(found, name=f"{found.name} (nano)")
    only_colour = fold(inci) in _only_colours()
    number = _colours_by_name().get(fold(inci)) if as_colour or only_colour else None
    plain = number or inci
    entry = ("Aqua", "Water", "name") if is_water(inci) else _entry(plain)
    colour = only_colour or is_colour_index(plain) or (entry is not None and entry[2] == "colour")
    if entry is None:
        shown = plain if market == "US" else _without_english(plain)
        return LabelName(name=shown, colour=colour, known=not colour or only_colour)
    return LabelName(name=entry[1] if market == "US" else entry[0], colour=colour)


def _entry(name: str) -> tuple[str, str, str] | None:
    return _table().get(fold(name)) or _table().get(fold(_without_english(name)))


def _without_english(name: str) -> str:
    """A plant's name without the English name in brackets that US labels carry."""
    return _ENGLISH.sub(r"\1", name)
