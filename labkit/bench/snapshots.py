"""Materials, briefs and forecasts as they were on the day, as plain values of a record."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from labkit.bench.canonical import plain
from labkit.errors import RecordError

__all__ = ["forecast_values", "material_values", "price_values", "values_of"]

_KEY = re.compile(r"[a-z][a-z0-9_]*")
_KEPT_APART = {"price"}


def values_of(thing: Any, where: str = "Record") -> Any:
    """Plain values of a dataclass, a mapping, a set or a single value; None is left out.

    A mapping whose keys are words of their own becomes a list of name and value.

    Examples
    --------
    >>> values_of({"pH": (4.8, 5.6)})
    [{'name': 'pH', 'value': ['4.8', '5.6']}]
    """
    if is_dataclass(thing) and not isinstance(thing, type):
        thing = {f.name: getattr(thing, f.name) for f in fields(thing)}
    if isinstance(thing, Mapping):
        kept = {str(key): values_of(item, where) for key, item in thing.items() if item is not None}
        if all(map(_KEY.fullmatch, kept)):
            return kept
        return [{"name": plain(key, where), "value": item} for key, item in kept.items()]
    if isinstance(thing, set | frozenset):
        return sorted(values_of(item, where) for item in thing)
    if isinstance(thing, list | tuple):
        return [values_of(item, where) for item in thing]
    return plain(thing, where)


def material_values(material: Any) -> dict[str, Any]:
    """A material as used: everything that a stranger needs to calculate with it, not its price."""
    given = values_of(material, f"Material {getattr(material, 'name', '?')}")
    return {k: v for k, v in given.items() if k not in _KEPT_APART and v not in ([], {}, "")}


def price_values(material: Any) -> dict[str, Any] | None:
    """The price that a material had, if one is known."""
    price = getattr(material, "price", None)
    return None if price is None else dict(values_of(price))


def forecast_values(forecast: Any) -> dict[str, Any] | None:
    """A forecast as plain values, from an object with ``as_record`` or from a dict.

    A dict of quantities may hold a number, (low, high), (value, low, high) or a dict for each.

    Raises
    ------
    RecordError
        Anything else.

    Examples
    --------
    >>> forecast_values({"pH": (4.9, 5.7)})
    {'estimates': [{'quantity': 'pH', 'low': '4.9', 'high': '5.7'}]}
    """
    if forecast is None:
        return None
    said = forecast.as_record() if hasattr(forecast, "as_record") else forecast
    if not isinstance(said, Mapping):
        raise RecordError(
            where="Forecast",
            found=f"a {type(forecast).__name__}",
            allowed="What lk.forecast gave, or a dict such as {'pH': (4.9, 5.7)}",
            cause="One number was given in place of the forecast",
            do="Name the quantity it is for; nothing was saved",
        )
    if "estimates" in said or hasattr(forecast, "as_record"):
        return dict(values_of(said, "Forecast"))
    return {"estimates": [_estimate(str(name), value) for name, value in said.items()]}


def _estimate(quantity: str, value: Any) -> dict[str, Any]:
    told = {"quantity": plain(quantity, "Forecast")}
    if isinstance(value, Mapping):
        return told | dict(values_of(value, f"Forecast of {quantity}"))
    if isinstance(value, tuple | list) and len(value) in (2, 3):
        names = ("low", "high") if len(value) == 2 else ("value", "low", "high")
        return told | dict(zip(names, plain(list(value), f"Forecast of {quantity}"), strict=True))
    return told | {"value": plain(value, f"Forecast of {quantity}")}
