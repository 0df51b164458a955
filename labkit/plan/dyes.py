"""Dye by stock solution: grams, parts per million, and what is no measure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from html import escape

from labkit.errors import FormulaError
from labkit.formula import Formula, Move, formula_of
from labkit.materials import Materials
from labkit.quantities import decimal, parse
from labkit.science.colour import drops_to_grams, ppm, stock_for

__all__ = ["DyeDose", "dye"]

GRID = Decimal("0.0001")
DROPS = re.compile(r"^\s*(\d+(?:[.,]\d+)?)\s*drops?\s*$", re.IGNORECASE)
SMALLEST_STEPS = 100
"""Balance steps in a weighing for 1 % work (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DyeDose:
    """A weighing of dye stock and what it makes of the batch.

    Attributes
    ----------
    stock_g, batch_g : float
        [g]
    strength_percent : float
        Dye in the stock [%].
    ppm : float
        Dye in the batch [mg/kg].
    percent : Decimal
        Stock in the batch [% w/w].
    move : Move or None
        Puts the stock into the formula.
    words : str
    """

    stock_g: float
    batch_g: float
    strength_percent: float
    ppm: float
    percent: Decimal
    move: Move | None
    words: str

    def __str__(self) -> str:
        return self.words

    def _repr_html_(self) -> str:
        return f"<p>{escape(self.words)}</p>"


def dye(
    formula: Formula,
    stock: str,
    *,
    strength: str | float,
    amount: str | None = None,
    wanted_ppm: float | None = None,
    batch: str = "100 g",
    grams_per_drop: float | None = None,
    balance: str = "0.01 g",
    mats: Materials | None = None,
) -> DyeDose:
    """Dye in a batch from a stock, or stock for a wanted level of dye.

    Parameters
    ----------
    formula : Formula
        Its q.s. line gives way to the stock.
    stock : str
        Name of the stock, as a line of the formula or new.
    strength : str or float
        Dye in the stock, such as ``"1 %"``.
    amount : str, optional
        Stock weighed in, such as ``"0.2 g"``, or ``"5 drops"`` with ``grams_per_drop``.
    wanted_ppm : float, optional
        Or the level wanted in the batch [mg/kg]. Give one of the two.
    batch : str
        The whole batch, stock included.
    grams_per_drop : float, optional
        From weighing twenty drops of this stock from this dropper [g].
    balance : str
        What it reads to.
    mats : Materials, optional
        To find the line of the stock under another of its names.

    Returns
    -------
    DyeDose

    Raises
    ------
    FormulaError
        Neither or both of ``amount`` and ``wanted_ppm``.
    QuantityError
        An amount without a usable unit.
    ScienceError
        Drops of a dropper that was not weighed, more stock than batch, a stock weaker than
        the level wanted.

    Notes
    -----
    ppm = strength x 10 000 x stock/batch.

    Examples
    --------
    >>> wash = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.''')
    >>> dose = dye(wash, "Blue dye stock", strength="1 %", amount="0.2 g")
    >>> dose.ppm, dose.percent, dose.move.words
    (20.0, Decimal('0.2000'), 'Blue dye stock added, 0.20 %')
    """
    formula = formula_of(formula, "Dye")
    if (amount is None) == (wanted_ppm is None):
        raise FormulaError(
            where=f"{formula.name}, {stock}",
            found="both an amount and a level" if amount is not None else "no amount, no level",
            allowed="One of the two",
            cause="They fix each other",
            do='Give amount="0.2 g", or wanted_ppm=20',
        )
    mass = parse(batch, "mass", where="Batch").to("g")
    dyed = _strength(strength, stock)
    if amount is not None:
        grams = _grams(amount, grams_per_drop)
    else:
        grams = float(stock_for(float(wanted_ppm or 0.0), dyed, mass))
    level = round(float(ppm(dyed, grams, mass)), 6)
    percent = Decimal(repr(100.0 * grams / mass)).quantize(GRID)
    step = parse(balance, "mass", where="Balance").to("g")
    return DyeDose(
        stock_g=grams,
        batch_g=mass,
        strength_percent=dyed,
        ppm=level,
        percent=percent,
        move=_move(formula, stock, percent, mats),
        words=_words(stock, dyed, grams, mass, level, step),
    )


def _strength(strength: str | float, stock: str) -> float:
    text = str(strength).strip().removesuffix("%").strip()
    return float(decimal(text, where=f"{stock}, strength in percent"))


def _grams(amount: str, grams_per_drop: float | None) -> float:
    told = DROPS.match(str(amount))
    if told is not None:
        return float(drops_to_grams(float(told[1].replace(",", ".")), grams_per_drop))
    return parse(amount, "mass", where="Dye stock").to("g")


def _move(formula: Formula, stock: str, percent: Decimal, mats: Materials | None) -> Move | None:
    names = {x.material.casefold(): i for i, x in enumerate(formula.lines)}
    line = names.get(stock.casefold())
    if line is None and mats is not None and (known := mats.resolve(stock)) is not None:
        keys = [m.key if (m := mats.resolve(x.material)) else None for x in formula.lines]
        line = keys.index(known.key) if known.key in keys else None
    if line is None:
        return Move(kind="add", material=stock, phase=formula.lines[0].phase, percent=percent)
    here = formula.lines[line]
    if here.percent == percent:
        return None
    return Move(kind="set", line=line, material=here.material, percent=percent)


def _words(
    stock: str, strength: float, grams: float, mass: float, level: float, step: float
) -> str:
    words = (
        f"{grams:.4g} g of {stock} ({strength:g} %) in {mass:g} g: {level:.4g} ppm of dye, "
        f"{level / 1e4:.4g} %."
    )
    if grams < SMALLEST_STEPS * step:
        weaker = strength * grams / (SMALLEST_STEPS * step)
        words += (
            f" That is {grams / step:.0f} steps of a balance that reads {step:g} g: for 1 % work "
            f"take a stock of {weaker:.2g} % and {SMALLEST_STEPS * step:g} g of it."
        )
    return words
