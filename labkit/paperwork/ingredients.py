"""The ingredient list on paper: ready to copy, with the reason for every place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from labkit.bench import Trial
from labkit.estimates.declaration import Declaration, Entry, declare
from labkit.estimates.declaration_rules import percent_words, rule
from labkit.formula import Brief, Formula
from labkit.formula.brief import MARKETS
from labkit.materials import Materials
from labkit.paperwork.blocks import Block, Bullets, Cell, Copy, Facts, Heading, Table, Words
from labkit.paperwork.page import Document
from labkit.paperwork.subject import LAW, Subject, subject_of

__all__ = ["IngredientList", "ingredient_list", "label_particulars"]

BLOCKS = {
    "active": "active ingredient",
    "ordered": "by weight",
    "free": "any order",
    "colour": "colour, last",
}
_PARTICULARS = ("LR17", "LR18", "LR19", "LR20", "LR21", "LR22", "LR23", "LR24", "LR25", "LR26")
_US_PARTICULARS = ("LR48", "LR49", "LR50", "LR36", "LR37", "LR38")
_ALL_PARTICULARS = ("LR39", "LR41")


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class IngredientList(Document):
    """An ingredient list as a document; ``declarations`` holds one for each market."""

    declarations: tuple[Declaration, ...] = ()

    @property
    def lists(self) -> dict[str, str]:
        """The list of each market, as it is copied to a label."""
        return {d.market: d.text for d in self.declarations}


def ingredient_list(
    about: Formula | Trial,
    mats: Materials,
    *,
    brief: Brief | None = None,
    market: str | Sequence[str] | None = None,
    day: date | None = None,
    paper: str | None = None,
    **choices: Any,
) -> IngredientList:
    """The ingredient list of a formula, explained name by name.

    Parameters
    ----------
    about : Formula or Trial
    mats : Materials
    brief : Brief, optional
        Leave-on or rinse-off, markets, durability; a trial brings its own.
    market : str or sequence of str, optional
        ``EU``, ``GB``, ``US``; those of the brief when left out.
    day : date, optional
        On which the product is placed on the market; the brief's, else today.
    paper : str, optional
        ``"A4"`` or ``"Letter"``.
    **choices
        certificates, left_out, may_contain, nano, drug_actives, colours, not_colours,
        as_perfume, allergen_rules, on_shelf: see
        `labkit.estimates.declaration_choices.LabelChoices`.

    Returns
    -------
    IngredientList
        A document: ``.html``, ``.text``, ``.markdown``, ``.csv`` (the explanation), ``.save``;
        ``.lists`` holds the bare text for each market.

    Raises
    ------
    MaterialError
        Lines without a known material or INCI name.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5", name="Gel")
    >>> ingredient_list(gel, Materials.starter(), market="US").lists
    {'US': 'Water, Glycerin'}
    """
    subject = subject_of(about, brief)
    asked = (market,) if isinstance(market, str) else tuple(market or subject.brief.market)
    made = tuple(
        declare(subject.formula, mats, brief=subject.brief, market=one, day=day, **choices)
        for one in asked
    )
    return IngredientList(
        kind="Ingredient list",
        title=subject.formula.name,
        under=_under(subject),
        blocks=tuple(block for one in made for block in _market(one, subject, len(made) > 1)),
        foot=LAW,
        paper=paper,
        table=_table(made),
        declarations=made,
    )


def _under(subject: Subject) -> str:
    use = {True: "stays on", False: "is rinsed off", None: "stays on or is rinsed off: not said"}
    trial = f" · trial {subject.label}" if subject.label else ""
    return f"{subject.brief.product}, {use[subject.brief.leave_on]}{trial}"


def _market(made: Declaration, subject: Subject, several: bool) -> Iterator[Block]:
    where = f"Market: {MARKETS[made.market]}"
    if several:
        yield Heading(text=where)
    else:
        yield Words(text=where, tone="muted")
    yield Copy(text=made.headed)
    yield Words(text=_read_like_this(made), tone="muted")
    level: Literal[2, 3] = 3 if several else 2
    if made.questions:
        yield Heading(text="Not certain yet", level=level)
        yield Bullets(items=made.questions)
    yield Heading(text="Why each name stands where it does", level=level)
    yield from _explained(made)
    if made.left_out:
        yield Heading(text="In the beaker, not on the list", level=level)
        yield Table(
            head=("Name", "% of the product", "Why", "Source"),
            rows=[(x.name, percent_words(x.amount), x.why, x.source) for x in made.left_out],
        )
    yield Heading(text="What else the label carries", level=level)
    items, sources = label_particulars(made.market, subject.brief)
    yield Bullets(items=items, ticks=True)
    yield Words(text=f"Sources: {'; '.join(sources)}.", tone="muted")


def _read_like_this(made: Declaration) -> str:
    free = "at or under 1 %" if made.market == "US" else "under 1 %"
    limit = "0.001 %" if made.leave_on else "0.01 %"
    rules = {
        "none": "No fragrance allergens are asked for by name in this market (from memory).",
        "original 26": f"Fragrance allergens: the earlier list, above {limit}.",
        "2023/1545": f"Fragrance allergens: Regulation (EU) 2023/1545, above {limit}.",
    }[made.allergen_rules]
    return (
        f"Percentages are those weighed in. Names {free} may stand in any order; here they "
        f"fall too, and equal amounts stand by the alphabet. {rules} An acid and the base that "
        "neutralises it are listed as they were added."
    )


def _explained(made: Declaration) -> Iterator[Block]:
    rows = []
    for entry in made.entries:
        place = BLOCKS[entry.block]
        if entry.may_swap:
            place += f"; order against {', '.join(entry.may_swap)} not certain"
        rows.append(
            (
                Cell(text=entry.name, kind="strong"),
                percent_words(entry.amount),
                _comes_from(entry),
                place,
                ", ".join(entry.rules),
            )
        )
    yield Table(head=("Name", "% of the product", "Comes from", "Place", "Rule"), rows=rows)
    numbers = sorted({number for entry in made.entries for number in entry.rules})
    yield Facts(pairs=[(n, "{} [{}]".format(*rule(n))) for n in numbers])


def _comes_from(entry: Entry) -> str:
    """The materials; the percentage only where there are several."""
    if len(entry.lines) == 1 and not entry.lines[0].startswith("inside "):
        return entry.lines[0].removesuffix(percent_words(entry.amount)).strip()
    return "\n".join(entry.lines)


def _table(made: Sequence[Declaration]) -> Table:
    """The explanation as one table for a CSV file."""
    head = (
        "market", "place", "name", "percent", "percent_low", "percent_high", "block",
        "comes_from", "not_certain_against", "rule", "rule_numbers", "source",
    )  # fmt: skip
    rows = [
        (
            one.market,
            str(k),
            e.name,
            f"{e.amount.typical:f}",
            f"{e.amount.low:f}",
            f"{e.amount.high:f}",
            BLOCKS[e.block],
            "; ".join(e.lines),
            "; ".join(e.may_swap),
            e.why,
            " ".join(e.rules),
            e.source,
        )
        for one in made
        for k, e in enumerate(one.entries, start=1)
    ]
    return Table(head=head, rows=rows, numeric=frozenset({1, 3, 4, 5}))


def label_particulars(market: str, brief: Brief) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What else a label carries, as boxes to tick, and the sources; local law decides.

    Parameters
    ----------
    market : str
        ``EU``, ``GB`` or ``US``.
    brief : Brief
        Its durability decides between a date and a period after opening.

    Returns
    -------
    (tuple of str, tuple of str)
    """
    numbers = [*(_US_PARTICULARS if market == "US" else _PARTICULARS), *_ALL_PARTICULARS]
    numbers += {"GB": ["LR51"], "EU": ["LR52"]}.get(market, [])
    found = [rule(number)[0] for number in numbers]
    if market != "US" and brief.durability is not None:
        kind = "the date" if brief.durability <= 30 else "the period after opening"
        found.append(
            f"For the {brief.durability} months of the brief it is {kind}; "
            "a stability study decides how long it really lasts"
        )
    if market == "GB":
        found.append(
            "Great Britain asks for a responsible person with an address there (from memory)"
        )
    sources = tuple(dict.fromkeys(rule(number)[1] for number in numbers))
    return (*found, "Other duties and other wording: local law"), sources
