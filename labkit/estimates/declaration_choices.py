"""What the maker decides about an ingredient list, beyond the formula."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from labkit.errors import BriefError, FormulaError
from labkit.formula import Brief
from labkit.formula.brief import MARKETS

__all__ = ["LabelChoices", "market_of"]

RULES = ("2023/1545", "original 26", "none")


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelChoices:
    """Decisions that a label records.

    Parameters
    ----------
    certificates : mapping
        Fragrance, oil or extract to its allergens [% of it], from the supplier's statement;
        takes the place of typical figures.
    left_out : mapping of str to str
        Names that are no ingredients of this product, each with the reason: an impurity, a
        processing aid, in the USA an incidental ingredient.
    may_contain : bool or sequence of str
        True puts the colours behind "may contain" (a product in shades); names add the
        colours of the other shades.
    nano : sequence of str
        Names that are nanomaterials.
    drug_actives : sequence of str
        Active ingredients of a product that is a drug in the USA; named first.
    colours, not_colours : sequence of str
        Names that are there to colour, and names that are not although they could be.
    as_perfume : sequence of str
        Essential oils and aroma chemicals that are used as perfume and stand under that name.
    listed_as : mapping of str to str
        Names that are listed by another one: an acid and the base that neutralises it as
        their salt, ``{"Stearic Acid": "Sodium Stearate", "Sodium Hydroxide": "Sodium Stearate"}``.
    allergen_rules : str, optional
        ``"2023/1545"``, ``"original 26"`` or ``"none"``; follows from market and day.
    on_shelf : bool
        The product was on the market before 31 July 2026.
    """

    certificates: Mapping[str, Mapping[str, Decimal]] = field(default_factory=dict)
    left_out: Mapping[str, str] = field(default_factory=dict)
    may_contain: bool | Sequence[str] = False
    nano: Sequence[str] = ()
    drug_actives: Sequence[str] = ()
    colours: Sequence[str] = ()
    not_colours: Sequence[str] = ()
    as_perfume: Sequence[str] = ()
    listed_as: Mapping[str, str] = field(default_factory=dict)
    allergen_rules: str | None = None
    on_shelf: bool = False

    def __post_init__(self) -> None:
        if self.allergen_rules not in (None, *RULES):
            raise BriefError(
                where="Ingredient list",
                found=f"allergen rules '{self.allergen_rules}'",
                allowed=", ".join(RULES),
                cause="Another spelling",
                do="Use one of these, or leave it out: market and day decide",
            )
        for name, reason in dict(self.left_out).items():
            if not str(reason).strip():
                raise BriefError(
                    where="Ingredient list",
                    found=f"{name} is left out without a reason",
                    allowed="A reason for every name that is left out",
                    cause="The reason was not typed",
                    do="Write why it is no ingredient of the finished product",
                )

    @property
    def shades(self) -> tuple[str, ...]:
        """Colours of other shades."""
        return () if isinstance(self.may_contain, bool) else tuple(self.may_contain)

    @classmethod
    def of(cls, given: Mapping[str, Any], where: str) -> LabelChoices:
        """From named arguments; an unknown name is refused with the ones there are."""
        known = tuple(cls.__dataclass_fields__)
        strange = sorted(set(given) - set(known))
        if strange:
            raise BriefError(
                where=f"{where}, ingredient list",
                found=f"no choice called {', '.join(strange)}",
                allowed=", ".join(known),
                cause="Another spelling",
                do="Use one of these names",
            )
        return cls(**given)

    def refuse_strangers(self, names: Iterable[str], where: str, fold: Any) -> None:
        """Refuse choices about names that are not in the product."""
        there = {fold(name) for name in names}
        for words, chosen in (
            ("left_out", self.left_out),
            ("nano", self.nano),
            ("drug_actives", self.drug_actives),
            ("colours", self.colours),
            ("not_colours", self.not_colours),
            ("as_perfume", self.as_perfume),
            ("listed_as", self.listed_as),
        ):
            strange = [name for name in chosen if fold(name) not in there]
            if strange:
                raise FormulaError(
                    where=f"{where}, ingredient list",
                    found=f"{words} names {', '.join(strange)}, which is not in the product",
                    allowed="INCI names of the formula's lines or of their parts",
                    cause="A trade name, another spelling, or a line of 0 %",
                    do="Write the INCI name as the explanation table shows it",
                )


def market_of(market: str | None, brief: Brief) -> str:
    """The market of a list: as asked, else the first of the brief."""
    chosen = market or brief.market[0]
    if chosen not in MARKETS:
        raise BriefError(
            where=f"{brief.product}, ingredient list",
            found=f"the market '{chosen}'",
            allowed="; ".join(f"{key} ({words})" for key, words in MARKETS.items()),
            cause="A market whose rules labkit does not know, or another spelling",
            do="Write EU, GB or US; local law decides elsewhere",
        )
    return chosen
