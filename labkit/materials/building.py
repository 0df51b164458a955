"""A material from what a person typed: plain fields to a checked `Material`."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import fields as dataclass_fields
from dataclasses import replace
from types import MappingProxyType
from typing import Any

from labkit.errors import MaterialError
from labkit.materials.acid_content import COMPUTED, of_parts, of_substance
from labkit.materials.model import Band, Constituent, Material, Price, SourceRef
from labkit.materials.names import checked_name, fold, slug
from labkit.quantities import decimal

__all__ = ["material_from_fields"]

_OWN = SourceRef(source_id="own file", kind="own")
_FIGURE = r"\d[\d.,]*"
_BARE = re.compile(r"(?!polysorbate|poloxamer|ci\b).*\D\s(\d+(?:[.,]\d+)?)", re.IGNORECASE)
_SHARE = re.compile(
    rf"^(?P<name>.+?)(?:(?:\s*[:=]\s*|\s+)(?P<low>{_FIGURE})\s*(?:-|–|to)\s*(?P<high>{_FIGURE})\s*%?"
    rf"|(?:\s*[:=]\s*(?P<one>{_FIGURE})\s*%?|\s+(?P<per>{_FIGURE})\s*%))?$"
)
_CHARGES = frozenset(
    "nonionic anionic cationic amphoteric small-ion acid base pigment".split()  # noqa: SIM905
)
_PHASES = frozenset({"water", "oil", "dispersible"})


def material_from_fields(
    values: Mapping[str, Any], *, base: Material | None, where: str
) -> Material:
    """Build one material.

    Parameters
    ----------
    values : mapping
        Field to text or number; ``name`` is needed. Blank means: not known.
    base : Material or None
        A known material whose properties stand where ``values`` says nothing.
    where : str
        Named in refusals.

    Returns
    -------
    Material

    Raises
    ------
    MaterialError, QuantityError
        A field that cannot be read.
    """
    given = {name: value for name, value in values.items() if value not in (None, "", ())}
    name = checked_name(str(given.pop("name", "")), where=where)
    made: dict[str, Any] = {"key": slug(name), "name": name}
    facts = dict(base.facts) if base else {}
    for field, value in given.items():
        read = _READERS.get(field)
        if read is None and field not in _PLAIN:
            raise _unknown_field(field, where)
        target = _TARGETS.get(field, field)
        text = f"{where}, {field.replace('_', ' ')}"
        made[target] = read(value, text) if read else value
        facts[target] = _OWN
    _put_price(made, given, base, where)
    made.setdefault("inci", base.inci if base else name)
    _put_content(made, base, facts)
    if base is None:
        return Material(**made, facts=MappingProxyType(facts))
    same = fold(name) == fold(base.name)
    made.setdefault("starter_id", base.starter_id if same else None)
    return replace(base, **made, facts=MappingProxyType(facts))


def _put_content(made: dict[str, Any], base: Material | None, facts: dict[str, SourceRef]) -> None:
    """A stated composition or strength replaces what the known material carried."""
    if "acid_base" in made or not ({"constituents", "strength"} & set(made)):
        return
    made.setdefault("constituents", ())
    if base is not None:
        made.setdefault("strength", None)
    if made["constituents"]:
        content = of_parts(made["constituents"])
    else:
        content = of_substance(made["inci"], made["strength"])
    made["acid_base"] = content
    facts.pop("acid_base", None)
    if content is not None:
        facts["acid_base"] = COMPUTED


def _text(value: Any, where: str) -> str:
    return checked_name(str(value), where=where)


def _number(value: Any, where: str) -> float:
    return float(decimal(str(value).removesuffix("%").strip(), where=where, lowest=0))


def _degrees(value: Any, where: str) -> float:
    return float(decimal(str(value).replace("°C", "").strip(), where=where))


def _fraction(value: Any, where: str) -> float:
    return round(_number(value, where) / 100, 12)


def _listed(value: Any, where: str) -> tuple[str, ...]:
    if isinstance(value, str):
        value = re.split(r"\s*[;,]\s*", value)
    return tuple(_text(part, where) for part in value if part)


def _sentences(value: Any, where: str) -> tuple[str, ...]:
    parts = re.split(r"\s*;\s*", value) if isinstance(value, str) else value
    return tuple(_text(part, where) for part in parts if part)


def _tags(value: Any, where: str) -> frozenset[str]:
    return frozenset(_listed(value, where))


def _band(value: Any, where: str) -> Band:
    if isinstance(value, tuple):
        return value
    numbers = [_number(part, where) for part in re.split(r"\s*(?:-|–|to)\s*", str(value))]
    low, high = numbers[0], numbers[-1]
    return (low, (low + high) / 2, high)


def _one_of(allowed: frozenset[str]) -> Callable[[Any, str], str]:
    def read(value: Any, where: str) -> str:
        text = str(value).strip().lower()
        if text not in allowed:
            raise MaterialError(
                where=where,
                found=repr(text[:40]),
                allowed=f"One of: {', '.join(sorted(allowed))}",
                cause="Another word was used",
                do="Use one of these words, or leave it blank if it is not known",
            )
        return text

    return read


def _yes_no(value: Any, where: str) -> bool:
    text = str(value).strip().lower()
    if text in ("yes", "true", "y", "x"):
        return True
    if text in ("no", "false", "n"):
        return False
    raise MaterialError(
        where=where,
        found=repr(text[:40]),
        allowed="yes or no",
        cause="Another word was used",
        do="Write yes or no, or leave it blank if it is not known",
    )


def _composition(value: Any, where: str) -> tuple[Constituent, ...]:
    if isinstance(value, tuple) and all(isinstance(part, Constituent) for part in value):
        return value
    if not isinstance(value, str):
        raise _no_composition(where, f"{value!r}"[:60], "It was not written as text")
    texts = re.split(r"\s*[;\n]\s*", value.strip(" ;"))
    if _bare_shares(texts):
        raise _no_composition(where, repr(value[:60]), "The per cent signs were left out")
    parts = []
    for order, text in enumerate(texts, start=1):
        match = _SHARE.match(text)
        if match is None:
            raise _no_composition(where, repr(text[:60]), "A part has no name")
        figures = match["low"] or match["one"] or match["per"], match["high"]
        low = _fraction(figures[0], where) if figures[0] else None
        high = _fraction(figures[1], where) if figures[1] else low
        name = _text(match["name"], where)
        role = "water" if fold(name) in ("aqua", "water", "eau") else "main"
        parts.append(Constituent(inci=name, order=order, low=low, high=high, role=role))
    return tuple(parts)


def _bare_shares(texts: list[str]) -> bool:
    """Whether every part ends in a bare number, and the numbers make up the whole."""
    ends = [_BARE.fullmatch(text) for text in texts]
    shares = [float(match[1].replace(",", ".")) for match in ends if match]
    return len(shares) == len(texts) > 1 and 99.0 <= sum(shares) <= 101.0


def _no_composition(where: str, found: str, cause: str) -> MaterialError:
    return MaterialError(
        where=where,
        found=found,
        allowed="Parts such as 'Aqua 70-73 %; Glycerin 27 %'",
        cause=cause,
        do="Write each part as name and per cent, or the name alone if only the "
        "order is known, with a semicolon between",
    )


def _put_price(
    made: dict[str, Any], given: Mapping[str, Any], base: Material | None, where: str
) -> None:
    currency, pack = made.pop("currency", None), made.pop("pack", None)
    price = made.get("price")
    if price is None or isinstance(price, Price):
        return
    if currency is None and base is not None and base.price is not None:
        currency = base.price.currency
    if currency is None:
        raise MaterialError(
            where=where,
            found=f"a price of {given['price']} without a currency",
            allowed="A price per kilogram and its currency",
            cause="The column 'currency' is missing or blank",
            do="Add the currency, for example EUR",
        )
    made["price"] = Price(per_kg=price, currency=currency, pack=pack)


def _price(value: Any, where: str) -> float | Price:
    return value if isinstance(value, Price) else _number(value, where)


def _unknown_field(field: str, where: str) -> MaterialError:
    return MaterialError(
        where=where,
        found=f"the field {field!r}",
        allowed=f"Fields: {', '.join(sorted(set(_READERS) - set(_TARGETS.values())))}",
        cause="The field is named otherwise",
        do="Use one of these names, or put the words into 'note'",
    )


_READERS: Mapping[str, Callable[[Any, str], Any]] = {
    "inci": _text,
    "functions": _listed,
    "phase": _one_of(_PHASES),
    "charge": _one_of(_CHARGES),
    "charge_class": _text,
    "groups": _tags,
    "composition": _composition,
    "constituents": _composition,
    "strength": _fraction,
    "use_low": _number,
    "use_high": _number,
    "ph_low": _number,
    "ph_high": _number,
    "ph_reason": _text,
    "heat_limit": _degrees,
    "heat_limit_c": _degrees,
    "heat_sensitive": _yes_no,
    "volatile": _yes_no,
    "hlb": _band,
    "required_hlb": _band,
    "density": _number,
    "density_g_ml": _number,
    "cas": _text,
    "price": _price,
    "currency": _text,
    "pack": _text,
    "hazards": _sentences,
    "allergy": _tags,
    "origin": _tags,
    "note": _text,
    "lot": _text,
}

_TARGETS = {
    "composition": "constituents",
    "heat_limit": "heat_limit_c",
    "density": "density_g_ml",
}

_PLAIN = frozenset(f.name for f in dataclass_fields(Material)) - set(_READERS) - {"key", "facts"}
