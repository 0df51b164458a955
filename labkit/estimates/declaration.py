"""The ingredient list: which names, in which order, and why.

The arithmetic of Regulation (EC) No 1223/2009, Article 19, and of 21 CFR 701.3, as the
table ``label_rules`` states them. Local law, the supplier's documents and a qualified
safety assessor decide what a label says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from labkit.estimates.declaration_choices import LabelChoices, market_of
from labkit.estimates.declaration_entries import Gathered, gather, name_allergens
from labkit.estimates.declaration_entries import allergen_rules as rules_on
from labkit.estimates.declaration_names import key_of, label_name
from labkit.estimates.declaration_order import block_of, certainly_before, in_order
from labkit.estimates.declaration_parts import NOTHING, LineParts, Part, Span, parts_of
from labkit.estimates.declaration_questions import open_questions
from labkit.estimates.declaration_rules import origins, rule, rules_for
from labkit.formula import Brief, Formula, formula_of
from labkit.materials import Materials

__all__ = ["Declaration", "Entry", "LeftOut", "declare"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One name of the list, with what put it there.

    Attributes
    ----------
    name : str
        As printed.
    amount : Span
        Least, typical and greatest percentage of the product.
    block : str
        ``active``, ``ordered``, ``free`` (any order) or ``colour``.
    lines : tuple of str
        The materials that bring it in, largest first, each with its percentage.
    rules : tuple of str
        Numbers of the rules in the table ``label_rules``.
    why : str
        The rules in words.
    source : str
    may_swap : tuple of str
        Names whose order against this one is not certain.
    """

    name: str
    amount: Span
    block: str
    lines: tuple[str, ...]
    rules: tuple[str, ...]
    why: str
    source: str
    may_swap: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """What is in the beaker and not on the list, with the reason."""

    name: str
    amount: Span
    why: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Declaration:
    """An ingredient list with its explanation.

    Attributes
    ----------
    market : str
    entries : tuple of Entry
        In the order of the list.
    left_out : tuple of LeftOut
    questions : tuple of str
        What is not certain and who can answer it.
    allergen_rules : str
        The list of fragrance allergens that was followed.
    leave_on : bool
    may_contain : tuple of str
        Colours behind "may contain".
    """

    product: str
    market: str
    entries: tuple[Entry, ...]
    left_out: tuple[LeftOut, ...]
    questions: tuple[str, ...]
    allergen_rules: str
    leave_on: bool
    may_contain: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The names in their order, active ingredients of a drug first."""
        return tuple(entry.name for entry in self.entries)

    @property
    def actives(self) -> tuple[Entry, ...]:
        """Active ingredients of a product that is a drug."""
        return tuple(entry for entry in self.entries if entry.block == "active")

    @property
    def ordered(self) -> tuple[tuple[str, ...], ...]:
        """The part in falling order; names of equal weight stand together."""
        groups: list[list[Entry]] = []
        for entry in self.entries:
            if entry.block != "ordered":
                continue
            if groups and groups[-1][0].amount.typical == entry.amount.typical:
                groups[-1].append(entry)
            else:
                groups.append([entry])
        return tuple(tuple(entry.name for entry in group) for group in groups)

    @property
    def free(self) -> tuple[str, ...]:
        """Names that may stand in any order after those."""
        return tuple(entry.name for entry in self.entries if entry.block == "free")

    @property
    def colours(self) -> tuple[str, ...]:
        """Colours, last."""
        return tuple(entry.name for entry in self.entries if entry.block == "colour")

    @property
    def text(self) -> str:
        """The list as it is copied to a label, without its heading."""
        shown = [e.name for e in self.entries if e.block in ("ordered", "free")]
        shades = self.may_contain
        if not shades:
            return ", ".join([*shown, *self.colours])
        colours = ", ".join(shades)
        if self.market == "US":
            return f"{', '.join(shown)}. May contain: {colours}"
        return ", ".join([*shown, f"+/- {colours}"])

    @property
    def headed(self) -> str:
        """The list with its heading; active ingredients of a drug before it."""
        if not self.actives:
            return f"Ingredients: {self.text}"
        active = ", ".join(f"{e.name} {e.amount.typical.normalize():f} %" for e in self.actives)
        word = "ingredient" if len(self.actives) == 1 else "ingredients"
        return f"Active {word}: {active}. Inactive ingredients: {self.text}"


def declare(
    formula: Formula,
    mats: Materials,
    *,
    brief: Brief | None = None,
    market: str | None = None,
    day: date | None = None,
    **choices: Any,
) -> Declaration:
    """The ingredient list of a formula for one market.

    Parameters
    ----------
    formula : Formula
        Its percentages are those weighed in.
    mats : Materials
    brief : Brief, optional
        Leave-on or rinse-off decides the allergen threshold: 0.001 or 0.01 % of the product;
        taken as leave-on where it is left open.
    market : str, optional
        ``EU``, ``GB`` or ``US``; the first of the brief when left out.
    day : date, optional
        On which the product is placed on the market: the brief's day, else today.
    **choices
        See `LabelChoices`: certificates, left_out, may_contain, nano, drug_actives, colours,
        not_colours, as_perfume, listed_as, allergen_rules, on_shelf.

    Returns
    -------
    Declaration

    Raises
    ------
    MaterialError
        Lines without a known material or INCI name.
    BriefError, FormulaError
        Choices that cannot be, or about names that are not in the product.

    Notes
    -----
    Blends are taken apart and equal ingredients added; falling weight as added; below 1 %
    (USA: 1 % or under) any order, here falling too; equal weights by the alphabet; colours
    last by the alphabet (Regulation (EC) No 1223/2009, Article 19; 21 CFR 701.3).

    Examples
    --------
    >>> gel = Formula.parse('''phase,material,percent
    ... A,Water,q.s.
    ... A,Glycerol,3
    ... A,Phenoxyethanol blend 90/10,1''', name="Gel")
    >>> declare(gel, Materials.starter(), market="EU").text
    'Aqua, Glycerin, Phenoxyethanol, Ethylhexylglycerin'
    """
    formula = formula_of(formula, "Ingredient list")
    wanted = brief or Brief(product=formula.name)
    chosen = LabelChoices.of(choices, formula.name)
    here = market_of(market, wanted)
    on = day or wanted.as_of or date.today()
    rules = chosen.allergen_rules or rules_on(here, on, on_shelf=chosen.on_shelf)
    leave_on = wanted.leave_on is not False
    taken = parts_of(formula, mats, chosen.certificates)
    chosen.refuse_strangers(
        [part.inci for line in taken for part in line.parts], formula.name, key_of
    )
    lines = _renamed(_perfumed(taken, chosen), chosen)
    found, inside = gather(lines, here, _colouring(chosen, mats, wanted))
    found, left_out = _leave_out(found, chosen, here)
    named, below = name_allergens(found, inside, rules, leave_on)
    ordered = in_order(named, here)
    by_line = {line.line: line for line in lines}
    entries = _entries(ordered, by_line, here, chosen)
    return Declaration(
        product=formula.name,
        market=here,
        entries=entries,
        left_out=(*left_out, *_below(below, rules, leave_on), *_of_nothing(formula)),
        questions=open_questions(lines, ordered, below, entries, here, rules, leave_on, wanted),
        allergen_rules=rules,
        leave_on=leave_on,
        may_contain=_shades(entries, chosen, here),
    )


def _perfumed(lines: Sequence[LineParts], chosen: LabelChoices) -> list[LineParts]:
    """Oils used as perfume stand under that name; what they are still counts inside it."""
    wanted = {key_of(name) for name in chosen.as_perfume}
    made = []
    for line in lines:
        parts: list[Part] = []
        for part in line.parts:
            if part.key not in wanted or part.within:
                parts.append(part)
                continue
            parts.append(replace(part, inci="Parfum", key="parfum"))
            parts.append(replace(part, within=True))
        made.append(replace(line, parts=tuple(parts)))
    return made


def _renamed(lines: Sequence[LineParts], chosen: LabelChoices) -> list[LineParts]:
    """Parts that are listed by another name, such as an acid and its base as the salt."""
    other = {key_of(old): new for old, new in chosen.listed_as.items()}
    return [
        replace(
            line,
            parts=tuple(
                replace(part, inci=other[part.key], key=key_of(other[part.key]))
                if part.key in other and not part.within
                else part
                for part in line.parts
            ),
        )
        for line in lines
    ]


def _colouring(chosen: LabelChoices, mats: Materials, brief: Brief) -> Any:
    """Whether a part of a line is there to colour."""
    yes = {key_of(name) for name in chosen.colours}
    no = {key_of(name) for name in (*chosen.not_colours, *chosen.nano, *chosen.drug_actives)}

    def is_colour(part: Part, line: LineParts) -> bool:
        if part.key in yes or part.key in no:
            return part.key in yes
        if "hair-colour" in brief.kind.kinds:
            return False
        own = line.material if len(line.listed) == 1 else None
        known = own or mats.resolve(part.inci) or Materials.starter().resolve(part.inci)
        return known is not None and known.functions[:1] == ("colourant",)

    return is_colour


def _leave_out(
    found: Sequence[Gathered], chosen: LabelChoices, market: str
) -> tuple[list[Gathered], list[LeftOut]]:
    reasons = {key_of(name): reason for name, reason in chosen.left_out.items()}
    number = "LR33" if market == "US" else "LR13"
    kept = [g for g in found if key_of(g.name) not in reasons]
    out = [
        LeftOut(
            name=g.name,
            amount=g.amount,
            why=reasons[key_of(g.name)],
            source=rule(number)[1],
        )
        for g in found
        if key_of(g.name) in reasons
    ]
    return kept, out


def _below(below: Sequence[Gathered], rules: str, leave_on: bool) -> list[LeftOut]:
    limit = "0.001" if leave_on else "0.01"
    use = "stays on" if leave_on else "is rinsed off"
    return [
        LeftOut(
            name=g.name,
            amount=g.amount,
            why=f"not more than {limit} % in a product that {use} ({rules})",
            source=rule("LR07")[1],
        )
        for g in below
    ]


def _of_nothing(formula: Formula) -> list[LeftOut]:
    return [
        LeftOut(name=x.material, amount=NOTHING, why="a line of 0 %", source="")
        for x in formula.lines
        if x.percent == 0
    ]


def _entries(
    ordered: Sequence[Gathered],
    lines: dict[int, LineParts],
    market: str,
    chosen: LabelChoices,
) -> tuple[Entry, ...]:
    active = {key_of(name) for name in chosen.drug_actives}
    nano = {key_of(name) for name in chosen.nano}
    unsure = _unsure(ordered, lines, market)
    made = []
    for g in ordered:
        is_active = key_of(g.name) in active
        block = "active" if is_active else block_of(g.amount.typical, g.colour, market)
        is_nano = key_of(g.name) in nano
        numbers = rules_for(g, block, market, lines, is_nano)
        made.append(
            Entry(
                name=f"{g.name} (nano)" if is_nano and market != "US" else g.name,
                amount=g.amount,
                block=block,
                lines=origins(g.bits),
                rules=numbers,
                why=". ".join(rule(number)[0] for number in numbers),
                source="; ".join(dict.fromkeys(rule(number)[1] for number in numbers)),
                may_swap=unsure.get(g.name, ()),
            )
        )
    return tuple(sorted(made, key=lambda entry: entry.block != "active"))


def _unsure(
    ordered: Sequence[Gathered], lines: dict[int, LineParts], market: str
) -> dict[str, tuple[str, ...]]:
    """Names of the ordered part whose places could be the other way round."""
    could = [g for g in ordered if block_of(g.amount.high, g.colour, market) == "ordered"]
    swaps: dict[str, list[str]] = {}
    for i, first in enumerate(could):
        for second in could[i + 1 :]:
            if first.amount.exact and second.amount.exact:
                continue
            if not certainly_before(first, second, lines):
                swaps.setdefault(first.name, []).append(second.name)
                swaps.setdefault(second.name, []).append(first.name)
    return {name: tuple(others) for name, others in swaps.items()}


def _shades(entries: Sequence[Entry], chosen: LabelChoices, market: str) -> tuple[str, ...]:
    if chosen.may_contain is False:
        return ()
    own = [entry.name for entry in entries if entry.block == "colour"]
    others = [label_name(name, market, as_colour=True).name for name in chosen.shades]
    return tuple(sorted(dict.fromkeys([*own, *others]), key=str.casefold))
