"""What the other lines decide: which *q.s.* takes the rest, and whether hidden lines count."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal

from labkit.reading.model import ReadLine, ReadRecipe
from labkit.reading.words import is_water_name, plain

__all__ = ["settle"]

_ADJUSTER = re.compile(
    r"\bacid\b|säure|acide|acido|hydroxid|hydroxyd|lauge|soude|tromethamine|trolamine"
    r"|ethanolamine|arginine"
    r"|aminomethyl|bicarbonate|adjust|buffer|\bph\b|parfum|fragrance|perfume|colou?r|\bci \d"
    r"|\bdye\b|\blye\b"
)


def settle(recipe: ReadRecipe) -> tuple[ReadRecipe, tuple[ReadLine, ...]]:
    """The recipe with its bare *q.s.* lines decided, and hidden lines that do not count."""
    lines = _decide_rest(recipe)
    recipe = replace(recipe, lines=lines)
    hidden = tuple(x for x in lines if x.hidden)
    if not hidden or _agrees(recipe, lines):
        return recipe, ()
    return replace(recipe, lines=tuple(x for x in lines if not x.hidden)), hidden


def _decide_rest(recipe: ReadRecipe) -> tuple[ReadLine, ...]:
    lines = recipe.lines
    bare = [x for x in lines if x.kind == "to_target" and x.target is None and x.text == "q.s."]
    if not bare or any(x.kind == "balance" for x in lines):
        return lines
    waters = [x for x in bare if is_water_name(x.name)]
    chosen = waters[0] if len(waters) == 1 else None
    if len(bare) == 1 and chosen is None:
        complete = recipe.basis == "percent" and recipe.total >= 100
        water_given = any(is_water_name(x.name) for x in lines) and recipe.total > 95
        adjuster = _ADJUSTER.search(plain(bare[0].name))
        chosen = None if complete or adjuster or water_given else bare[0]
    if chosen is None:
        return lines
    return tuple(replace(x, kind="balance") if x is chosen else x for x in lines)


def _agrees(recipe: ReadRecipe, lines: tuple[ReadLine, ...]) -> bool:
    """Whether the total is right with the hidden lines, and not without them."""
    if any(x.kind == "balance" for x in lines):
        return False
    goals = {Decimal(100) if recipe.basis == "percent" else recipe.batch_g, recipe.stated_total}
    return bool({recipe.total, recipe.whole} & (goals - {None}))
