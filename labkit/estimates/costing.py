"""What a batch and a unit cost, what drives it, and what a change would do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Any

from labkit.errors import FormulaError, QuantityError
from labkit.estimates.costing_terms import Money, Offer, money, offers_of, read_offers, share
from labkit.evaluate import compile_formula
from labkit.formula import Brief, Formula, formula_of
from labkit.formula.names import fold
from labkit.materials import Materials
from labkit.quantities import decimal
from labkit.quantities import parse as parse_quantity

__all__ = ["CostLine", "Costing", "cost"]

_HUNDRED, _THOUSAND = Decimal(100), Decimal(1000)


@dataclass(frozen=True, slots=True, kw_only=True)
class CostLine:
    """One line of the formula in money; None where it has no price.

    ``packs`` and ``outlay`` are what must be bought for one batch.
    """

    phase: str
    material: str
    percent: Decimal
    grams: Decimal
    per_kg: Decimal | None
    per_batch: Decimal | None
    per_unit: Decimal | None
    share: Decimal | None
    packs: int | None
    outlay: Decimal | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Costing:
    """A formula in money.

    Attributes
    ----------
    currency : str
    batch_g, fill_g : Decimal
        Mass made and mass filled into a unit [g].
    loss : Decimal
        Fraction of the batch that is not filled.
    units : int
        Whole units that a batch fills.
    lines : tuple of CostLine
    pack : tuple of (str, Decimal)
        Parts of the pack, for one unit.
    labour : Decimal
        For the batch.
    """

    product: str
    currency: str
    batch_g: Decimal
    fill_g: Decimal
    loss: Decimal
    units: int
    lines: tuple[CostLine, ...]
    pack: tuple[tuple[str, Decimal], ...]
    labour: Decimal

    @property
    def unpriced(self) -> tuple[CostLine, ...]:
        """Lines without a price: every total is at least what is shown."""
        return tuple(x for x in self.lines if x.per_batch is None and x.grams)

    @property
    def materials_per_batch(self) -> Decimal:
        """Materials of a batch, of the lines that have a price."""
        return sum((x.per_batch for x in self.lines if x.per_batch is not None), Decimal(0))

    @property
    def materials_per_kg(self) -> Decimal:
        """Materials of a kilogram."""
        return self.materials_per_batch * _THOUSAND / self.batch_g

    @property
    def pack_per_unit(self) -> Decimal:
        """Jar, lid, label, carton …"""
        return sum((amount for _, amount in self.pack), Decimal(0))

    @property
    def per_batch(self) -> Decimal:
        """Materials, labour and the packs of all units."""
        return self.materials_per_batch + self.labour + self.pack_per_unit * self.units

    @property
    def per_unit(self) -> Decimal:
        """Everything, for one filled unit: what is lost is paid by what is sold."""
        return self.per_batch / self.units

    @property
    def parts_per_unit(self) -> tuple[tuple[str, Decimal], ...]:
        """Materials, pack and labour of one unit."""
        return (
            ("materials", self.materials_per_batch / self.units),
            ("pack", self.pack_per_unit),
            ("labour", self.labour / self.units),
        )

    @property
    def drivers(self) -> tuple[CostLine, ...]:
        """The fewest lines that make up four fifths of the material cost, largest first."""
        ranked = sorted(
            (x for x in self.lines if x.share), key=lambda x: (-(x.share or 0), x.material)
        )
        taken, so_far = [], Decimal(0)
        for line in ranked:
            if so_far >= 80:
                break
            taken.append(line)
            so_far += line.share or 0
        return tuple(taken)

    def point(self, line: CostLine, qs: CostLine | None) -> Decimal | None:
        """What one more percent of a line, taken from the q.s. line, adds to a unit."""
        if line.per_kg is None or qs is None or qs.per_kg is None or line is qs:
            return None
        grams = self.batch_g / _HUNDRED
        return (line.per_kg - qs.per_kg) * grams / _THOUSAND / self.units

    def to_reach(self, target: Decimal, qs: CostLine | None) -> tuple[tuple[str, Decimal], ...]:
        """For each driver: the percentage at which one unit costs the target.

        Only percentages that are there to be had (0 or more) are given; the q.s. line takes
        the difference.
        """
        over = self.per_unit - target
        found = []
        for line in self.drivers:
            step = self.point(line, qs)
            if step is not None and step > 0:
                wanted = line.percent - over / step
                if 0 <= wanted <= 100:
                    found.append((line.material, wanted))
        return tuple(found)


def cost(
    formula: Formula,
    mats: Materials,
    *,
    batch: Any = None,
    fill: Any = None,
    prices: Mapping[str, Any] | None = None,
    pack: Mapping[str, Any] | Any = None,
    labour: tuple[Any, Any] | None = None,
    loss: Any = "5 %",
    currency: str = "EUR",
    rates: Mapping[str, Any] | None = None,
    density_g_ml: Any = None,
    brief: Brief | None = None,
) -> Costing:
    """Work out what a batch and a unit cost.

    Parameters
    ----------
    formula : Formula
    mats : Materials
        Their list prices are used where ``prices`` says nothing.
    batch : str, optional
        Mass made; the brief's, else 1 kg.
    fill : str, optional
        Mass or volume of a unit; the brief's, else 50 g.
    prices : mapping, optional
        Material to ``"3.20 EUR/kg"``, ``"12.50 EUR for 500 g"``, or a list of such, one a
        pack size: the smallest pack that covers the batch is taken, else the largest.
    pack : mapping or str, optional
        Parts of the pack for one unit: ``{"jar": "0.48 EUR", "label": "0.06 EUR"}``.
    labour : (str, str), optional
        Time for the batch and its rate: ``("2.5 h", "18 EUR")`` an hour.
    loss : str
        What stays in vessels and samples; 5 % is common practice for small batches.
    currency : str
        Of the result.
    rates : mapping, optional
        What 1 of another currency is worth in it.
    density_g_ml : number, optional
        For a fill by volume; estimated from the materials when left out [g/mL].
    brief : Brief, optional

    Returns
    -------
    Costing

    Raises
    ------
    QuantityError
        A price, time or mass that cannot be read; a currency without a rate.
    FormulaError
        Prices for materials that are not in the formula, or a batch too small for a unit.

    Notes
    -----
    Units = floor(batch x (1 - loss) / fill). A price that is missing is missing: it is named,
    and the totals are "at least".

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5", name="Gel")
    >>> c = cost(gel, Materials.starter(), batch="1 kg", fill="50 g", pack="0.50 EUR",
    ...     prices={"Aqua": "0.10 EUR/kg", "Glycerin": "4 EUR/kg"}, loss="0 %")
    >>> c.units, round(c.materials_per_batch, 3), round(c.per_unit, 4)
    (20, Decimal('0.295'), Decimal('0.5148'))
    """
    formula = formula_of(formula, "Costing")
    where = f"{formula.name}, costing"
    batch_g = _positive(
        batch or (brief.batch if brief and batch is None else None) or "1 kg", where
    )
    fill_g = _fill(fill or (brief.fill if brief else None) or "50 g", density_g_ml, formula, mats)
    lost = share(loss, f"{where}, loss")
    units = int((batch_g * (1 - lost) / fill_g).to_integral_value(ROUND_FLOOR))
    if units < 1:
        raise FormulaError(
            where=where,
            found=f"a batch of {batch_g} g for units of {fill_g.normalize():f} g",
            allowed="A batch that fills at least one unit",
            cause="The batch is a trial, not a filling",
            do="Give the batch that would be filled, for example batch='2 kg'",
        )
    worth = {
        name: decimal(rate, where=f"{where}, rate of {name}", lowest=0)
        for name, rate in (rates or {}).items()
    }
    offers = _offers(formula, mats, prices or {}, where)
    lines = _lines(formula, offers, batch_g, units, currency, worth, where)
    return Costing(
        product=formula.name,
        currency=currency,
        batch_g=batch_g,
        fill_g=fill_g,
        loss=lost,
        units=units,
        lines=lines,
        pack=_pack(pack, currency, worth, where),
        labour=_labour(labour, currency, worth, where),
    )


def _positive(text: Any, where: str) -> Decimal:
    grams = parse_quantity(text, "mass", where=f"{where}, batch").exact("g")
    if grams <= 0:
        raise QuantityError(
            where=f"{where}, batch",
            found=f"'{text}'",
            allowed="More than nothing",
            cause="A number left at zero",
            do="Give the mass of the batch, such as '2 kg'",
        )
    return grams


def _fill(text: Any, density: Any, formula: Formula, mats: Materials) -> Decimal:
    where = f"{formula.name}, fill"
    amount = parse_quantity(text, None, where=where)
    if amount.kind == "volume":
        grams = amount.exact("mL") * _density(density, formula, mats, where)
    else:
        grams = parse_quantity(text, "mass", where=where).exact("g")
    if grams <= 0:
        raise QuantityError(
            where=where,
            found=f"'{text}'",
            allowed="More than nothing",
            cause="A number left at zero",
            do="Give the content of one unit, such as '50 g' or '100 mL'",
        )
    return grams


def _density(given: Any, formula: Formula, mats: Materials, where: str) -> Decimal:
    if given is not None:
        return decimal(given, where=f"{where}, density", lowest=0)
    found = float(compile_formula(formula, mats)().density)
    if found != found:
        raise QuantityError(
            where=where,
            found="a fill by volume, and no density of the product",
            allowed="A fill in g, or a density",
            cause="Over 5 % of the batch has no known density",
            do="Weigh 100 mL of the product and give density_g_ml=…",
        )
    return Decimal(f"{found:.4f}")


def _offers(
    formula: Formula, mats: Materials, prices: Mapping[str, Any], where: str
) -> list[tuple[Offer, ...]]:
    given = {fold(name): (name, text) for name, text in prices.items()}
    used: set[str] = set()
    found = []
    for line in formula.lines:
        material = mats.resolve(line.key or line.material)
        names = [line.material, *([material.name, material.key, material.inci] if material else [])]
        name = next((fold(n) for n in names if fold(n) in given), None)
        if name is not None:
            used.add(name)
            found.append(read_offers(given[name][1], f"{where}, {line.material}"))
        else:
            found.append(offers_of(material) if material else ())
    strange = [name for key, (name, _) in given.items() if key not in used]
    if strange:
        raise FormulaError(
            where=where,
            found=f"prices for {', '.join(strange)}",
            allowed="Prices of materials that are in the formula",
            cause="The name is mistyped, or the material was taken out",
            do="Name the material as its line does",
        )
    return found


def _lines(
    formula: Formula,
    offers: Sequence[tuple[Offer, ...]],
    batch_g: Decimal,
    units: int,
    currency: str,
    rates: Mapping[str, Decimal],
    where: str,
) -> tuple[CostLine, ...]:
    made = []
    for line, choice in zip(formula.lines, offers, strict=True):
        grams = line.percent * batch_g / _HUNDRED
        offer = _fitting(choice, grams)
        told = f"{where}, {line.material}"
        per_kg = None if offer is None else offer.per_kg.into(currency, rates, told)
        spent = None if per_kg is None else per_kg * grams / _THOUSAND
        packs, outlay = _buy(offer, grams, currency, rates, told)
        made.append((line, grams, offer, per_kg, spent, packs, outlay))
    whole = sum((spent for *_, spent, _, _ in made if spent is not None), Decimal(0))
    return tuple(
        CostLine(
            phase=line.phase,
            material=line.material,
            percent=line.percent,
            grams=grams,
            per_kg=per_kg,
            per_batch=spent,
            per_unit=None if spent is None else spent / units,
            share=None if spent is None or not whole else _HUNDRED * spent / whole,
            packs=packs,
            outlay=outlay,
            source="no price" if offer is None else offer.source,
        )
        for line, grams, offer, per_kg, spent, packs, outlay in made
    )


def _fitting(offers: Sequence[Offer], grams: Decimal) -> Offer | None:
    """The smallest pack that covers the need, else the largest there is."""
    if not offers:
        return None
    ranked = sorted(offers, key=lambda o: o.pack_g or Decimal(0))
    return next((o for o in ranked if o.pack_g is None or o.pack_g >= grams), ranked[-1])


def _buy(
    offer: Offer | None, grams: Decimal, currency: str, rates: Mapping[str, Decimal], where: str
) -> tuple[int | None, Decimal | None]:
    if offer is None or offer.pack is None or offer.pack_g is None:
        return None, None
    packs = int((grams / offer.pack_g).to_integral_value(ROUND_CEILING))
    return packs, offer.pack.into(currency, rates, where) * packs


def _pack(
    pack: Any, currency: str, rates: Mapping[str, Decimal], where: str
) -> tuple[tuple[str, Decimal], ...]:
    if pack is None:
        return ()
    parts = pack if isinstance(pack, Mapping) else {"pack": pack}
    return tuple(
        (str(name), money(text, f"{where}, {name}").into(currency, rates, f"{where}, {name}"))
        for name, text in parts.items()
    )


def _labour(
    labour: tuple[Any, Any] | None, currency: str, rates: Mapping[str, Decimal], where: str
) -> Decimal:
    if labour is None:
        return Decimal(0)
    told = f"{where}, labour"
    time, rate = labour
    hours = parse_quantity(time, "time", where=told).exact("h")
    hourly: Money = money(str(rate).removesuffix("/h").strip(), told)
    return hours * hourly.into(currency, rates, told)
