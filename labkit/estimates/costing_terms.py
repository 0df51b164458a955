"""Prices as suppliers write them, and the terms of a costing."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from labkit.errors import QuantityError
from labkit.materials import Material
from labkit.quantities import decimal
from labkit.quantities import parse as parse_quantity

__all__ = ["Money", "Offer", "money", "offers_of", "read_offers", "share"]

_MONEY = re.compile(r"\s*(?P<amount>[\d.,]+)\s*(?P<currency>[A-Z]{3})\s*")
_PRICE = re.compile(
    r"\s*(?P<amount>[\d.,]+)\s*(?P<currency>[A-Z]{3})\s*(?:/|per|for)\s*(?P<mass>.+?)\s*"
)
_THOUSAND = Decimal(1000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Money:
    """An amount in a currency."""

    amount: Decimal
    currency: str

    def into(self, currency: str, rates: Mapping[str, Decimal], where: str) -> Decimal:
        """The amount in another currency; a rate says what 1 of it is worth.

        Raises
        ------
        QuantityError
            No rate for it.
        """
        if self.currency == currency:
            return self.amount
        if self.currency not in rates:
            raise QuantityError(
                where=where,
                found=f"a price in {self.currency}, the costing is in {currency}",
                allowed=f"{currency}, or a rate for {self.currency}",
                cause="Suppliers in several countries",
                do=f"Give rates={{'{self.currency}': …}}: how many {currency} one "
                f"{self.currency} is worth, and the day of that rate",
            )
        return self.amount * rates[self.currency]


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A price per kilogram, and the pack it holds for where that is known."""

    per_kg: Money
    pack_g: Decimal | None = None
    source: str = ""

    @property
    def pack(self) -> Money | None:
        """What one pack costs."""
        if self.pack_g is None:
            return None
        return Money(
            amount=self.per_kg.amount * self.pack_g / _THOUSAND, currency=self.per_kg.currency
        )


def money(text: Any, where: str) -> Money:
    """Read an amount of money.

    Examples
    --------
    >>> money("0.62 EUR", "Jar")
    Money(amount=Decimal('0.62'), currency='EUR')
    """
    match = _MONEY.fullmatch(str(text))
    if match is None:
        raise _no_money(str(text), where, "An amount and its currency: '0.62 EUR'")
    amount = decimal(match["amount"], where=where, what="an amount of money", lowest=0)
    return Money(amount=amount, currency=match["currency"])


def read_offers(text: Any, where: str, source: str = "as given") -> tuple[Offer, ...]:
    """Read one price, or one for each pack size.

    Parameters
    ----------
    text : str or list of str
        ``"3.20 EUR/kg"``; ``"12.50 EUR for 500 g"``; or several, one a pack size.
    where : str
        Named in refusals.
    source : str
        Where the price comes from.

    Returns
    -------
    tuple of Offer

    Raises
    ------
    QuantityError
        No amount, currency or mass.

    Examples
    --------
    >>> [str(o.per_kg.amount) for o in read_offers(["4 EUR for 500 g", "6 EUR/kg"], "Glycerin")]
    ['8', '6']
    """
    several = [text] if isinstance(text, str) or not isinstance(text, Sequence) else list(text)
    return tuple(_read_offer(str(one), where, source) for one in several)


def _read_offer(text: str, where: str, source: str) -> Offer:
    match = _PRICE.fullmatch(text)
    if match is None:
        raise _no_money(text, where, "'3.20 EUR/kg', or '12.50 EUR for 500 g'")
    amount = decimal(match["amount"], where=where, what="a price", lowest=0)
    per_kg = match["mass"].lower() == "kg"
    mass = _THOUSAND if per_kg else parse_quantity(match["mass"], "mass", where=where).exact("g")
    if mass <= 0:
        raise _no_money(text, where, "A pack of more than nothing")
    return Offer(
        per_kg=Money(amount=amount * _THOUSAND / mass, currency=match["currency"]),
        pack_g=None if per_kg else mass,
        source=source,
    )


def offers_of(material: Material) -> tuple[Offer, ...]:
    """The list price that a material carries, if it carries one."""
    if material.price is None:
        return ()
    fact = material.source("price")
    pack = material.price.pack
    return (
        Offer(
            per_kg=Money(
                amount=Decimal(repr(material.price.per_kg)), currency=material.price.currency
            ),
            pack_g=None if pack is None else _mass(pack, material.name),
            source={"invented": "invented demo price", "own": "your materials"}.get(
                fact.kind if fact else "", "list price"
            ),
        ),
    )


def _mass(pack: str, name: str) -> Decimal | None:
    try:
        return parse_quantity(pack, "mass", where=f"{name}, pack").exact("g")
    except QuantityError:
        return None


def share(text: Any, where: str) -> Decimal:
    """A loss such as ``"5 %"`` as a fraction below 1.

    Examples
    --------
    >>> share("5 %", "Loss")
    Decimal('0.05')
    """
    value = decimal(str(text).replace("%", "").strip(), where=where, what="a loss", lowest=0) / 100
    if value >= 1:
        raise QuantityError(
            where=where,
            found=f"a loss of {text}",
            allowed="0 to under 100 % of the batch",
            cause="Grams in place of percent",
            do="Give what stays in vessel, pipes and samples as % of the batch; 3 to 8 % is usual",
        )
    return value


def _no_money(text: str, where: str, allowed: str) -> QuantityError:
    return QuantityError(
        where=where,
        found=f"'{text}'",
        allowed=allowed,
        cause="The amount, the currency (three capitals) or the pack is missing",
        do="Write it like that",
    )
