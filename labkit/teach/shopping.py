"""What a class needs: materials scaled to the groups, with spare, hazards and allergies."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from labkit.bench.stock import Stock
from labkit.errors import MaterialError
from labkit.formula import Formula
from labkit.materials import Material, Materials
from labkit.paperwork.blocks import Block, Bullets, Cell, Heading, Row, Table, Words
from labkit.paperwork.page import Document
from labkit.quantities import parse

__all__ = ["Need", "ShoppingList", "allergy_tags", "cautions", "shopping_list"]

ASK = (
    "Ask each learner about allergies and pregnancy before the class, in private; what a "
    "material's own document says comes first, and local rules for schools decide."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One material: grams for the class with spare, packs to buy, and what to know."""

    material: str
    grams: Decimal
    have_g: Decimal
    buy_g: Decimal
    pack: str
    packs: int | None
    hazards: tuple[str, ...]
    allergy: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShoppingList:
    """What to buy; ``avoid`` names materials that a learner is allergic to."""

    title: str
    groups: int
    spare: float
    needs: tuple[Need, ...]
    avoid: dict[str, tuple[str, ...]]

    @property
    def page(self) -> Document:
        """The list as a page to print."""
        return _page(self)

    def __str__(self) -> str:
        return self.page.text

    def _repr_html_(self) -> str:
        return self.page._repr_html_()


def shopping_list(
    formulas: Formula | Sequence[Formula],
    mats: Materials,
    *,
    groups: int,
    batch: str = "100 g",
    spare: float = 0.10,
    stock: Mapping[str, str] | Stock | None = None,
    allergies: Iterable[str] = (),
    title: str = "",
) -> ShoppingList:
    """Materials for a class: each line times the groups, plus spare.

    Parameters
    ----------
    formulas : Formula or sequence of Formula
        What each group makes, each once.
    mats : Materials
        Packs, hazards and allergies; a material it does not know is listed without them.
    groups : int
        How many groups.
    batch : str
        What each group makes of each formula.
    spare : float
        Part on top, 0.10 for a tenth.
    stock : mapping of str to str, or Stock, optional
        What is on the shelf already, such as ``{"Glycerin": "300 g"}``, or the stock of a
        bench: lots in date, less what batches took.
    allergies : iterable of str
        Of the learners, such as ``["nut"]``: the materials concerned are named.

    Raises
    ------
    MaterialError
        Fewer than one group, a spare below nothing, or an allergy no material speaks of.

    Notes
    -----
    Sum over formulas of percent x batch x groups x (1 + spare); a blank counts with its
    highest share. With 24 groups of 100 g and a tenth to spare, 4 % asks for 105.6 g.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,4", name="Gel")
    >>> [str(n.grams) for n in shopping_list(gel, Materials.starter(), groups=24).needs]
    ['2534.4', '105.6']
    """
    several = [formulas] if isinstance(formulas, Formula) else list(formulas)
    if groups < 1 or spare < 0 or not several:
        raise _no_class(groups, spare)
    mass = parse(batch, "mass", where="Batch of each group").exact("g")
    wanted = allergy_tags(allergies, mats)
    factor = mass * groups * (1 + Decimal(str(spare))) / 100
    grams: dict[str, Decimal] = defaultdict(Decimal)
    found: dict[str, tuple[str, Material | None]] = {}
    for formula in several:
        for line in formula.lines:
            known = mats.resolve(line.key or line.material)
            key = known.key if known is not None else line.identity
            found.setdefault(key, (line.material, known))
            grams[key] += max(line.percent, line.high or line.percent) * factor
    if isinstance(stock, Stock):
        held = _on_the_shelf(stock, several, batch, mats)
    else:
        held = _held(stock or {}, mats)
    needs = tuple(
        _need(found[key], amount, held.get(key, Decimal(0))) for key, amount in grams.items()
    )
    avoid = {
        tag: tuple(n.material for n in needs if tag in n.allergy)
        for tag in wanted
        if any(tag in n.allergy for n in needs)
    }
    return ShoppingList(
        title=title or " and ".join(f.name for f in several),
        groups=groups,
        spare=spare,
        needs=needs,
        avoid=avoid,
    )


def _on_the_shelf(
    stock: Stock, formulas: Sequence[Formula], batch: str, mats: Materials
) -> dict[str, Decimal]:
    held: dict[str, Decimal] = {}
    for formula in formulas:
        found = stock.needs(formula, batch)
        for name, have in zip(found["material"], found["have_g"], strict=True):
            known = mats.resolve(name)
            held[known.key if known else name.casefold()] = have
    return held


def _held(stock: Mapping[str, str], mats: Materials) -> dict[str, Decimal]:
    held: dict[str, Decimal] = {}
    for name, amount in stock.items():
        known = mats.resolve(name)
        held[known.key if known else name.casefold()] = parse(amount, "mass", where=name).exact("g")
    return held


def _need(found: tuple[str, Material | None], grams: Decimal, have: Decimal) -> Need:
    name, material = found
    grams = grams.quantize(Decimal("0.1"), rounding="ROUND_UP")
    buy = max(grams - have, Decimal(0))
    price = material.price if material else None
    pack = price.pack if price and price.pack else ""
    packs = None
    if pack:
        packs = math.ceil(buy / parse(pack, "mass", where=f"Pack of {name}").exact("g"))
    return Need(
        material=name,
        grams=grams,
        have_g=have,
        buy_g=buy,
        pack=pack,
        packs=packs,
        hazards=material.hazards if material else ("not in the list of materials: read its sheet",),
        allergy=tuple(sorted(material.allergy)) if material else (),
    )


def allergy_tags(allergies: Iterable[str], mats: Materials) -> tuple[str, ...]:
    """Allergies as the materials speak of them.

    Raises
    ------
    MaterialError
        A word no material carries; those that are known are named.
    """
    known = sorted({tag for key in mats for tag in mats[key].allergy})
    found = []
    for said in allergies:
        word = said.strip().casefold()
        near = [t for t in known if word in (t.casefold(), f"{t.casefold()}s")]
        if not near:
            raise MaterialError(
                where="Allergies of the learners",
                found=f"'{said[:40]}'",
                allowed=", ".join(known),
                cause="The materials are marked with other words, or not for this",
                do="Use one of these words; for another allergy read the materials' own documents",
            )
        found += near
    return tuple(dict.fromkeys(found))


def cautions(formula: Formula, mats: Materials) -> dict[str, tuple[str, ...]]:
    """Hazards of the materials of a formula: caution to the materials it is about."""
    told: dict[str, list[str]] = {}
    for line in formula.lines:
        known = mats.resolve(line.key or line.material)
        for hazard in known.hazards if known else ("not in the list of materials: read its sheet",):
            told.setdefault(hazard, []).append(line.material)
    return {hazard: tuple(dict.fromkeys(names)) for hazard, names in told.items()}


def _page(made: ShoppingList) -> Document:
    rows: list[Row] = [
        (
            n.material,
            f"{n.grams:.1f}",
            f"{n.have_g:.1f}" if n.have_g else "",
            f"{n.buy_g:.1f}",
            f"{n.packs} x {n.pack}" if n.packs else "",
            Cell(kind="tick"),
        )
        for n in made.needs
    ]
    table = Table(
        head=("material", "needed [g]", "on the shelf [g]", "to buy [g]", "packs", "there"),
        rows=rows,
        numeric=frozenset({1, 2, 3}),
    )
    blocks: list[Block] = [table]
    if made.avoid:
        blocks.append(Heading(text="Allergies in this class"))
        blocks += [
            Words(
                text=f"{tag}: {', '.join(names)}. Replace it for the whole class, so that nobody "
                "is set apart and no dust or spatula carries it over.",
                tone="caution",
            )
            for tag, names in made.avoid.items()
        ]
    told: dict[str, list[str]] = {}
    for need in made.needs:
        for hazard in need.hazards:
            told.setdefault(hazard, []).append(need.material)
    if told:
        blocks.append(Heading(text="Cautions as supplied"))
        blocks.append(Bullets(items=[f"{h}: {', '.join(names)}" for h, names in told.items()]))
    under = f"{made.groups} groups, {made.spare:.0%} to spare"
    return Document(
        kind="Shopping list", title=made.title, blocks=blocks, under=under, foot=ASK, table=table
    )


def _no_class(groups: int, spare: float) -> MaterialError:
    return MaterialError(
        where="Shopping list",
        found=f"{groups} groups with {spare:g} to spare",
        allowed="At least one group and one formula, and a spare of 0 or more",
        cause="A figure was mistyped",
        do="Write groups=24, spare=0.10 for a tenth more",
    )
