"""Numbers with units as they are written at the bench.

A table of bench spellings stands in front of the general unit library, because
that library reads "cps" as counts per second, "mPas" as milli-pascal and a bare
"k" as Boltzmann's constant. Units outside the table go to pint.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, Any

from labkit.errors import QuantityError

if TYPE_CHECKING:
    import pint

__all__ = ["UNITS", "Quantity", "Unit", "decimal", "kinds", "parse"]


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: ``value in base = factor * value + offset``."""

    name: str
    kind: str
    factor: Decimal
    offset: Decimal = Decimal(0)


BASE = {
    "viscosity": "mPa*s",
    "temperature": "°C",
    "mass": "g",
    "volume": "mL",
    "time": "s",
    "length": "mm",
    "speed": "rpm",
    "shear rate": "1/s",
    "density": "g/mL",
    "share": "%",
    "pH": "pH",
    "count": "CFU/g",
    "stress": "Pa",
}
"""The unit that each kind of quantity is kept in."""


def _unit(name: str, kind: str, factor: str, offset: str = "0") -> Unit:
    return Unit(name, kind, Decimal(factor), Decimal(offset))


_TABLE: tuple[tuple[Unit, str], ...] = (
    (_unit("mPa*s", "viscosity", "1"), "mPa*s mPas mPa.s mPa·s mPa-s MPA.S cP cPs cps centipoise"),
    (_unit("Pa*s", "viscosity", "1000"), "Pa*s Pas Pa.s Pa·s Pa-s"),
    (_unit("P", "viscosity", "100"), "P poise"),
    (_unit("kcP", "viscosity", "1000"), "kcP kcPs kcps"),
    (_unit("°C", "temperature", "1"), "°C ºC ˚C degC C celsius"),
    (_unit("K", "temperature", "1", "-273.15"), "K kelvin"),
    (
        Unit("°F", "temperature", Decimal(5) / Decimal(9), Decimal(-160) / Decimal(9)),
        "°F ºF degF F fahrenheit",
    ),
    (_unit("g", "mass", "1"), "g gram grams gr grm"),
    (_unit("kg", "mass", "1000"), "kg kilo kilos kilogram kilograms"),
    (_unit("mg", "mass", "0.001"), "mg milligram milligrams"),
    (_unit("oz", "mass", "28.349523125"), "oz ounce ounces"),
    (_unit("lb", "mass", "453.59237"), "lb lbs pound pounds"),
    (_unit("mL", "volume", "1"), "mL ml cc cm3 cm³ millilitre millilitres"),
    (_unit("L", "volume", "1000"), "L l litre litres liter liters"),
    (_unit("s", "time", "1"), "s sec secs second seconds"),
    (_unit("min", "time", "60"), "min mins minute minutes"),
    (_unit("h", "time", "3600"), "h hr hrs hour hours"),
    (_unit("d", "time", "86400"), "d day days"),
    (_unit("wk", "time", "604800"), "wk week weeks"),
    (_unit("mm", "length", "1"), "mm millimetre millimetres millimeter"),
    (_unit("cm", "length", "10"), "cm centimetre centimetres centimeter"),
    (_unit("µm", "length", "0.001"), "µm μm um micron microns"),
    (_unit("rpm", "speed", "1"), "rpm r/min 1/min U/min"),
    (_unit("1/s", "shear rate", "1"), "1/s s-1 s^-1 s⁻¹"),
    (_unit("g/mL", "density", "1"), "g/mL g/ml g/cm3 g/cm³ g/cc kg/L kg/l"),
    (_unit("kg/m3", "density", "0.001"), "kg/m3 kg/m³"),
    (_unit("%", "share", "1"), "% percent pct %w/w"),
    (_unit("ppm", "share", "0.0001"), "ppm"),
    (_unit("pH", "pH", "1"), "pH ph PH"),
    (_unit("CFU/g", "count", "1"), "CFU/g cfu/g CFU/mL cfu/ml"),
    (_unit("Pa", "stress", "1"), "Pa pascal"),
)
UNITS: dict[str, Unit] = {word: unit for unit, words in _TABLE for word in words.split()}
"""Every bench spelling that is understood, and the unit it stands for."""

_FOLDED: dict[str, Unit] = {
    word.lower(): unit
    for word, unit in reversed(UNITS.items())
    if word not in {"P", "K", "C", "F", "h", "Pa"}
}
_DROPS = re.compile(r"^(drops?|dr|gtt|pinch(es)?|dash(es)?|tsps?|tbsps?|cups?|scoops?)\.?$", re.I)
_NUMBER = re.compile(r"(?P<sign>[+\-−]?)(?P<digits>\d+(?:[.,]\d+)?|[.,]\d+)")
_SPACED = re.compile(r"\d{1,3}(?:[   ]\d{3})+(?:[.,]\d+)?")
_EXPONENT = re.compile(r"[eE]([+\-]?\d{1,2})(?!\d)")
_THOUSANDS = re.compile(r"[+\-−]?\d{1,3}(?:[.,]\d{3})+")


def decimal(
    text: object, *, where: str = "Number", what: str = "a number", lowest: int | None = None
) -> Decimal:
    """Read one plain number exactly; a decimal comma is understood.

    Parameters
    ----------
    text : str, int, float or Decimal
        What was typed; a float is read by its shortest spelling.
    where : str
        Named in the refusal: the line, column or trial.
    what : str
        What the number is, as in "a percentage".
    lowest : int, optional
        Refuse anything below it.

    Returns
    -------
    Decimal
        With the digits as typed.

    Raises
    ------
    QuantityError
        Not one plain number: words, NaN, infinity, powers of ten, grouped digits.

    Examples
    --------
    >>> decimal("4,50")
    Decimal('4.50')
    >>> decimal(0.1)
    Decimal('0.1')
    """
    shown = str(text) if not isinstance(text, float) else repr(text)
    plain = shown.strip().replace("−", "-")
    match = _NUMBER.fullmatch(plain) if plain.isascii() and len(plain) <= 40 else None
    if match is None:
        raise QuantityError(
            where=where,
            found=f"{_short(shown)} is not {what}",
            allowed="A plain number such as 4.5 or 4,5",
            cause=_why_no_number(plain),
            do="Type the number again with digits 0 to 9 and one decimal sign",
            text=shown,
        )
    value = Decimal(plain.replace(",", "."))
    if value.is_signed() and (value == 0 or lowest == 0):
        lowest = 0
    if lowest is not None and (value < lowest or (value.is_signed() and lowest == 0)):
        raise QuantityError(
            where=where,
            found=f"{_short(shown)} is below {lowest}",
            allowed=f"{what[0].upper()}{what[1:]} of {lowest} or more",
            cause="A minus sign may have slipped in",
            do="Type it again without the sign",
            text=shown,
        )
    return value


def _why_no_number(plain: str) -> str:
    if not plain:
        return "The field is empty"
    if not plain.isascii():
        return "It holds signs other than the digits 0 to 9"
    if re.search(r"[eE]|nan|inf", plain):
        return "Powers of ten, NaN and infinity are not amounts that can be weighed"
    if plain.count(",") + plain.count(".") > 1:
        return "It holds more than one decimal sign or grouped thousands"
    return "Words or signs stand beside the digits"


def _short(text: str) -> str:
    text = unicodedata.normalize("NFC", text)
    shown = "".join(c if c.isprintable() else "�" for c in text)
    return f"'{shown[:40]}…'" if len(shown) > 40 else f"'{shown}'"


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit, and the text it was read from.

    Examples
    --------
    >>> q = parse("18900 cps")
    >>> q.value, q.unit, q.to("Pa*s")
    (Decimal('18900'), 'mPa*s', 18.9)
    """

    value: Decimal
    unit: str
    text: str

    @property
    def kind(self) -> str:
        """What is measured: viscosity, temperature, mass …"""
        return UNITS[self.unit].kind if self.unit in UNITS else "other"

    def exact(self, unit: str) -> Decimal:
        """The value in another unit, as a Decimal."""
        source, target = _unit_of(self.unit), _unit_of(unit)
        if source.kind != target.kind:
            raise _wrong_kind(self.text or str(self), source.kind, target.kind, unit)
        return (self.value * source.factor + source.offset - target.offset) / target.factor

    def to(self, unit: str) -> float:
        """The value in another unit.

        Raises
        ------
        QuantityError
            The two units measure different things.
        """
        if self.unit in UNITS and unit in UNITS:
            return float(self.exact(unit))
        return _pint_convert(self, unit)

    def __str__(self) -> str:
        return f"{self.value} {self.unit}"


def kinds() -> tuple[str, ...]:
    """The kinds of quantity that :func:`parse` knows, as words."""
    return tuple(BASE)


def parse(text: object, kind: str | None = None, *, where: str = "Quantity") -> Quantity:
    """Read a number with a unit as it is written at the bench.

    Parameters
    ----------
    text : str or Quantity
        For example ``"18.2 Pa*s"``, ``"20k cP"``, ``"25 °C"``, ``"1.2 kg"``.
    kind : str, optional
        What it must measure (see :func:`kinds`).
    where : str
        Named in a refusal.

    Returns
    -------
    Quantity
        With the digits as read and the unit in its plain spelling.

    Raises
    ------
    QuantityError
        No number, no unit, a unit that is not understood or measures something
        else, drops and spoons, or digits that can be read in two ways.

    Examples
    --------
    >>> str(parse("20k cP"))
    '20000 mPa*s'
    >>> parse("77 F").to("°C")
    25.0
    """
    if isinstance(text, Quantity):
        return _checked(text, kind, where)
    shown = str(text).strip()
    number, rest = _split(shown, where)
    if not rest and kind in {"pH", "share"}:
        rest = BASE[kind]
    if not rest:
        raise _no_unit(shown, number, kind, where)
    unit = _lookup(rest, kind, shown, where)
    return _checked(Quantity(number, unit.name if unit else rest, shown), kind, where)


def _split(shown: str, where: str) -> tuple[Decimal, str]:
    if not shown.replace("µ", "u").replace("μ", "u").isprintable() or len(shown) > 60:
        raise _unreadable(shown, where)
    grouped = _SPACED.match(shown)
    if grouped and not shown[grouped.end() : grouped.end() + 1].isdigit():
        digits = re.sub(r"[   ]", "", grouped.group())
        return decimal(digits, where=where), shown[grouped.end() :].strip()
    many = _THOUSANDS.match(shown)
    if many and not re.match(r"[.,\d]", shown[many.end() :] or " "):
        digits = many.group()
        if len(re.findall(r"[.,]", digits)) > 1 or ("," in digits and Decimal(digits[:1]) > 0):
            raise _two_ways(shown, digits, where)
    match = _NUMBER.match(shown)
    if match is None:
        raise _unreadable(shown, where)
    value = decimal(match.group(), where=where)
    rest = shown[match.end() :]
    if power := _EXPONENT.match(rest):
        exponent = int(power.group(1))
        if abs(exponent) > 12:
            raise _unreadable(shown, where)
        value = Decimal(f"{value}E{exponent}")
        value = value.quantize(Decimal(1)) if value == value.to_integral() else value
        rest = rest[power.end() :]
    elif re.match(r"[eE.,_\d]", rest):
        raise _unreadable(shown, where)
    if thousand := re.match(r"\s*k(?=\s|$)", rest):
        value, rest = value * 1000, rest[thousand.end() :]
        value = value.quantize(Decimal(1)) if value == value.to_integral() else value
    return value, rest.strip().rstrip(".")


def _lookup(rest: str, kind: str | None, shown: str, where: str) -> Unit | None:
    squeezed = unicodedata.normalize("NFC", re.sub(r"\s+", "", rest)).replace("⋅", "·")
    if _DROPS.match(squeezed):
        raise QuantityError(
            where=where,
            found=f"{_short(shown)} is counted, not weighed",
            allowed="A mass in g",
            cause="Drops and spoons differ from hand to hand and from bottle to bottle",
            do="Weigh it, or count twenty drops on the balance and write grams",
            text=shown,
        )
    for word in (squeezed, squeezed.replace("deg.", "deg").replace("deg", "°")):
        if word in UNITS:
            return UNITS[word]
        if word.lower() in _FOLDED:
            return _FOLDED[word.lower()]
    vague = {"c", "°", "deg"} | ({"k", "f"} if kind == "temperature" else set())
    if squeezed in vague:
        raise QuantityError(
            where=where,
            found=f"{_short(shown)} does not say which degrees",
            allowed="°C, °F or K",
            cause="The letter of the scale is missing or small",
            do="Write it as, for example, 25 °C",
            text=shown,
        )
    if _pint_unit(rest) is None:
        raise QuantityError(
            where=where,
            found=f"the unit '{rest[:20]}' in {_short(shown)} is not known",
            allowed=_examples(kind),
            cause="A spelling of its own, or two quantities in one field",
            do="Write the unit out",
            text=shown,
        )
    return None


def _checked(quantity: Quantity, kind: str | None, where: str) -> Quantity:
    if kind is None or quantity.kind == kind:
        return quantity
    if quantity.kind == "other":
        return Quantity(
            Decimal(repr(_pint_convert(quantity, BASE[kind]))), BASE[kind], quantity.text
        )
    raise _wrong_kind(quantity.text or str(quantity), quantity.kind, kind, BASE[kind], where)


def _examples(kind: str | None) -> str:
    known = {
        "viscosity": "mPa*s (the same as cP and cps) or Pa*s",
        "temperature": "°C, °F or K",
        "mass": "mg, g or kg",
        "time": "s, min, h or d",
        "length": "µm, mm or cm",
        "density": "g/mL or kg/m3",
    }
    return known.get(kind or "", f"For example {BASE.get(kind or '', 'g, °C, mPa*s or min')}")


def _no_unit(shown: str, number: Decimal, kind: str | None, where: str) -> QuantityError:
    if kind == "viscosity":
        do = f"Write '{number} mPa*s' or '{number / 1000:f} Pa*s'"
    else:
        do = f"Write it as '{shown} {BASE.get(kind or '', 'g')}' if that was meant"
    return QuantityError(
        where=where,
        found=f"{(kind or 'the value').capitalize()} {_short(shown)} has no unit",
        allowed=_examples(kind),
        cause="The unit was left out",
        do=do,
        text=shown,
    )


def _two_ways(shown: str, digits: str, where: str) -> QuantityError:
    joined = re.sub(r"[.,]", "", digits)
    split = digits.replace(",", ".")
    return QuantityError(
        where=where,
        found=f"{_short(shown)} can be read as {joined} or as {split}",
        allowed="Digits without grouping and one decimal sign",
        cause="The sign between the digits groups thousands in one country and marks decimals "
        "in another",
        do=f"Write {joined} or {split} as meant",
        text=shown,
    )


def _unreadable(shown: str, where: str) -> QuantityError:
    return QuantityError(
        where=where,
        found=f"{_short(shown)} is not one number with one unit",
        allowed="For example 18.2 Pa*s, 25 °C or 250 g",
        cause=_why_no_number(shown),
        do="Type one number, a blank and the unit",
        text=shown,
    )


def _wrong_kind(
    shown: str, found: str, wanted: str, unit: str, where: str = "Quantity"
) -> QuantityError:
    return QuantityError(
        where=where,
        found=f"{_short(shown)} is a {found}, not a {wanted}",
        allowed=_examples(wanted),
        cause="A value in the wrong field, or a unit mistyped",
        do=f"Give a {wanted}, for example in {unit}",
        text=shown,
    )


def _unit_of(name: str) -> Unit:
    if name in UNITS:
        return UNITS[name]
    raise QuantityError(
        where="Unit",
        found=f"'{name}' is not known",
        allowed=_examples(None),
        cause="A spelling of its own",
        do="Write the unit out",
    )


@cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    return pint.UnitRegistry()


def _pint_unit(text: str) -> Any | None:
    import pint

    if not re.fullmatch(r"[A-Za-zµμ·*/^ \d\-().]{1,30}", text) or not re.search("[A-Za-z]", text):
        return None
    try:
        return _registry().Unit(text)
    except (pint.PintError, ValueError, TypeError, AttributeError, SyntaxError, AssertionError):
        return None


def _pint_convert(quantity: Quantity, unit: str) -> float:
    import pint

    spelled = {"mPa*s": "mPa*s", "°C": "degC", "mL": "mL", "%": "percent", "µm": "um"}
    try:
        source = _registry().Quantity(
            float(quantity.value), spelled.get(quantity.unit, quantity.unit)
        )
        return float(source.to(spelled.get(unit, unit)).magnitude)
    except (pint.PintError, ValueError, TypeError, AttributeError) as error:
        raise _wrong_kind(
            quantity.text or str(quantity),
            f"value in {quantity.unit}",
            f"value in {unit}",
            unit,
        ) from error
