"""The costing on paper: per batch, unit and line, what drives it, what a change does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from labkit.bench import Trial
from labkit.errors import QuantityError
from labkit.estimates.costing import Costing, CostLine, cost
from labkit.estimates.costing_terms import money
from labkit.formula import Brief, Formula
from labkit.formula.grid import show
from labkit.materials import Materials
from labkit.paperwork.blocks import Block, Bullets, Cell, Facts, Heading, Side, Table, Words
from labkit.paperwork.page import Document
from labkit.paperwork.subject import Subject, subject_of

__all__ = ["CostPaper", "costing"]


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class CostPaper(Document):
    """A costing as a document; ``costing`` holds its numbers, ``changed`` those of the change."""

    costing: Costing
    changed: Costing | None = None


def costing(
    about: Formula | Trial,
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
    target: Any = None,
    change: Formula | Trial | None = None,
    brief: Brief | None = None,
    paper: str | None = None,
) -> CostPaper:
    """What a batch, a unit and each line cost.

    Parameters
    ----------
    about : Formula or Trial
    mats : Materials
    batch, fill, prices, pack, labour, loss, currency, rates, density_g_ml
        As in `labkit.estimates.costing.cost`.
    target : str, optional
        For one unit: ``"1.20 EUR"``; the brief's where it names one for a unit.
    change : Formula or Trial, optional
        Another version: what it would cost under the same terms.
    brief : Brief, optional
    paper : str, optional
        ``"A4"`` or ``"Letter"``.

    Returns
    -------
    CostPaper
        A document; ``.costing.per_unit`` and others are exact decimals.

    Raises
    ------
    QuantityError, FormulaError
        Terms that cannot be read, prices for materials that are not there.

    Examples
    --------
    >>> gel = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5", name="Gel")
    >>> paper = costing(gel, Materials.starter(), batch="1 kg", fill="50 g", pack="0.50 EUR",
    ...     prices={"Aqua": "0.10 EUR/kg", "Glycerin": "4 EUR/kg"}, loss="0 %")
    >>> round(paper.costing.per_unit, 3)
    Decimal('0.515')
    """
    subject = subject_of(about, brief)
    terms: dict[str, Any] = {
        "batch": batch, "fill": fill, "pack": pack, "labour": labour, "loss": loss,
        "currency": currency, "rates": rates, "density_g_ml": density_g_ml,
        "brief": subject.brief,
    }  # fmt: skip
    made = cost(subject.formula, mats, prices=prices, **terms)
    other = None
    if change is not None:
        changed = subject_of(change).formula
        there = _there(prices or {}, changed, mats)
        other = cost(changed, mats, prices=there, **terms)
    return CostPaper(
        kind="Costing",
        title=subject.formula.name,
        under=_under(made, subject),
        blocks=tuple(_blocks(made, other, subject, _target(target, subject.brief, made))),
        foot="Prices as given on the day; a price that is missing is not counted as nothing.",
        paper=paper,
        table=_csv(made),
        costing=made,
        changed=other,
    )


def _there(prices: Mapping[str, Any], formula: Formula, mats: Materials) -> dict[str, Any]:
    """Prices of materials that the other version holds; the others are not needed."""
    known = {mats.resolve(x.key or x.material) for x in formula.lines} - {None}
    names = {x.material.casefold() for x in formula.lines}
    return {
        name: price
        for name, price in prices.items()
        if name.casefold() in names or mats.resolve(name) in known
    }


def _target(target: Any, brief: Brief, made: Costing) -> Decimal | None:
    if target is None:
        stated = brief.cost or ""
        if not stated.endswith(("/unit", "/jar")):
            return None
        target = stated.split("/")[0]
    amount = money(str(target).removesuffix("/unit").strip(), f"{made.product}, target")
    if amount.currency != made.currency:
        raise QuantityError(
            where=f"{made.product}, target",
            found=f"a target in {amount.currency}, the costing is in {made.currency}",
            allowed=f"A target in {made.currency}",
            cause="Two currencies",
            do="Write the target in the currency of the costing",
        )
    return amount.amount


def _under(made: Costing, subject: Subject) -> str:
    trial = f"trial {subject.label} · " if subject.label else ""
    return (
        f"{trial}batch {grams(made.batch_g)} · {made.units} unit{'s' * (made.units != 1)} "
        f"of {grams(made.fill_g)} · "
        f"loss {_plain(made.loss * 100)} %"
    )


def grams(value: Decimal) -> str:
    """A mass as it is read: kg from 1000 g on.

    Examples
    --------
    >>> grams(Decimal("2500")), grams(Decimal("50.0"))
    ('2.5 kg', '50 g')
    """
    if value >= 1000:
        return f"{_plain(value / 1000)} kg"
    return f"{_plain(value)} g"


def _plain(value: Decimal) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return text or "0"


def _blocks(
    made: Costing, other: Costing | None, subject: Subject, target: Decimal | None
) -> Iterator[Block]:
    if made.unpriced:
        yield Words(
            text="No price for "
            + ", ".join(f"{x.material} ({_plain(x.percent)} %)" for x in made.unpriced)
            + ". Every total below is at least what it shows.",
            tone="caution",
        )
    yield Words(text=f"One unit costs {_money(made.per_unit, made, 3)}.", tone="lead")
    yield Side(left=(_unit(made), *_drivers(made)), right=(_batch(made),))
    if target is not None:
        yield from _against(made, target, subject.formula)
    yield Heading(text="Line by line")
    yield _lines(made, _qs(made, subject.formula))
    if other is not None:
        yield from _change(made, other)


def _unit(made: Costing) -> Facts:
    pairs = [(f"{name} per unit", _counted(x, made, 4)) for name, x in made.parts_per_unit]
    return Facts(pairs=pairs)


def _counted(amount: Decimal, made: Costing, digits: int = 2) -> str:
    return _money(amount, made, digits) if amount else "not counted: nothing was given"


def _batch(made: Costing) -> Facts:
    pairs = [
        ("whole batch", _money(made.per_batch, made)),
        ("materials", _money(made.materials_per_batch, made)),
        ("materials per kg", f"{_money(made.materials_per_kg, made)}/kg"),
        ("labour", _counted(made.labour, made)),
        *((f"{name}, each", _money(x, made, 4)) for name, x in made.pack),
    ]
    bought = [x.outlay for x in made.lines if x.outlay is not None]
    if bought:
        pairs.append(("to buy, whole packs", _money(sum(bought, Decimal(0)), made)))
    return Facts(pairs=pairs)


def _drivers(made: Costing) -> tuple[Block, ...]:
    if not made.drivers:
        return ()
    total = sum((x.share or Decimal(0) for x in made.drivers), Decimal(0))
    names = ", ".join(f"{x.material} {x.share:.0f} %" for x in made.drivers)
    return (Words(text=f"{total:.0f} % of the material cost: {names}."),)


def _against(made: Costing, target: Decimal, formula: Formula) -> Iterator[Block]:
    over = made.per_unit - target
    yield Heading(text=f"Against the target of {_money(target, made)} a unit")
    if over <= 0:
        yield Words(text=f"{_money(-over, made, 4)} below it.")
        return
    yield Words(text=f"{_money(over, made, 4)} above it. One of these alone would meet it:")
    ways = [
        f"{name} at {wanted:.2f} % (now {_percent_of(made, name)} %), the q.s. line takes the rest"
        for name, wanted in made.to_reach(target, _qs(made, formula))
    ]
    ways += _other_ways(made, target)
    yield Bullets(items=ways or ["None of the lines alone can: pack, labour or batch size."])
    yield Words(
        text="A cheaper share is another product: check it on paper, then as a trial.", tone="muted"
    )


def _percent_of(made: Costing, name: str) -> str:
    return _plain(sum((x.percent for x in made.lines if x.material == name), Decimal(0)))


def _other_ways(made: Costing, target: Decimal) -> list[str]:
    """What pack and labour would have to be."""
    over = made.per_unit - target
    found = []
    if made.pack_per_unit >= over and made.pack:
        found.append(f"a pack of {_money(made.pack_per_unit - over, made, 4)} in all")
    hours = made.labour / made.units
    if hours >= over and made.labour:
        found.append(f"labour of {_money((hours - over) * made.units, made)} for the batch")
    return found


def _qs(made: Costing, formula: Formula) -> CostLine | None:
    return None if formula.qs is None else made.lines[formula.qs]


def _lines(made: Costing, qs: CostLine | None) -> Table:
    unit = made.currency
    sources = dict.fromkeys(x.source for x in made.lines)
    several = len(sources) > 1
    head = [
        "Material", "% w/w", "g", f"{unit}/kg", f"{unit}/batch", f"{unit}/unit",
        "% of materials", "+1 % adds",
    ]  # fmt: skip
    places = min(max(-int(x.grams.normalize().as_tuple().exponent) for x in made.lines), 3)
    rows: list[list[str | Cell]] = [
        [
            Cell(text=x.material, kind="strong" if x in made.drivers else "plain"),
            show(x.percent),
            f"{x.grams:.{max(places, 0)}f}",
            _none(x.per_kg, 2),
            _none(x.per_batch, 3),
            _none(x.per_unit, 4),
            _none(x.share, 1),
            _none(made.point(x, qs), 4),
            *([x.source] if several else []),
        ]
        for x in made.lines
    ]
    foot = [
        "Materials", "100.00", f"{made.batch_g:.{max(places, 0)}f}",
        _none(made.materials_per_kg, 2), _none(made.materials_per_batch, 3),
        _none(made.materials_per_batch / made.units, 4), "100.0", "",
        *([""] if several else []),
    ]  # fmt: skip
    told = "" if several else f" Prices: {next(iter(sources))}."
    return Table(
        head=[*head, "price"] if several else head,
        rows=rows,
        foot=[foot],
        numeric=frozenset(range(1, 8)),
        caption=f"“+1 % adds”: what one more percent costs a unit, taken from the q.s. line.{told}",
    )


def _change(made: Costing, other: Costing) -> Iterator[Block]:
    more = other.per_unit - made.per_unit
    yield Heading(
        text=f"Changed to {other.product}" if made.product != other.product else "With the change"
    )
    sign = "more" if more >= 0 else "less"
    yield Words(
        text=f"{_money(abs(more), made, 4)} {sign} a unit: {_money(other.per_unit, made, 4)}."
    )
    before = {x.material: x for x in made.lines}
    after = {x.material: x for x in other.lines}
    rows = []
    for name in dict.fromkeys([*before, *after]):
        a, b = before.get(name), after.get(name)
        was = a.per_unit if a and a.per_unit is not None else None if a else Decimal(0)
        now = b.per_unit if b and b.per_unit is not None else None if b else Decimal(0)
        if was == now and (a and b and a.percent == b.percent):
            continue
        step = None if was is None or now is None else now - was
        rows.append(
            (
                name,
                _plain(a.percent) if a else "–",
                _plain(b.percent) if b else "–",
                "unknown" if step is None else f"{step:+.4f}",
            )
        )
    yield Table(
        head=("Material", "% before", "% after", f"{made.currency}/unit"),
        rows=rows,
        numeric=frozenset({1, 2, 3}),
    )


def _money(value: Decimal, made: Costing, digits: int = 2) -> str:
    return f"{value:.{digits}f} {made.currency}"


def _none(value: Decimal | None, digits: int) -> str:
    return "–" if value is None else f"{value:.{digits}f}"


def _csv(made: Costing) -> Table:
    rows = [
        (
            x.phase,
            x.material,
            *("" if v is None else f"{v:f}" for v in (x.percent, x.grams)),
            *("" if v is None else f"{v:.6f}" for v in (x.per_kg, x.per_batch, x.per_unit)),
            "" if x.share is None else f"{x.share:.3f}",
            "" if x.packs is None else str(x.packs),
            "" if x.outlay is None else f"{x.outlay:.2f}",
            x.source,
        )
        for x in made.lines
    ]
    unit = made.currency
    head = (
        "phase", "material", "percent", "grams", f"{unit}_per_kg", f"{unit}_per_batch",
        f"{unit}_per_unit", "percent_of_materials", "packs", f"{unit}_to_buy", "price_from",
    )  # fmt: skip
    return Table(head=head, rows=rows, numeric=frozenset(range(2, 10)))
