"""How a reading was taken: temperature, spindle, speed, dilution, and how they were typed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from labkit.bench.canonical import DECIMAL, decimal_text, plain
from labkit.errors import MeasurementError
from labkit.quantities import Quantity, parse

__all__ = [
    "as_typed",
    "conditions_text",
    "read_conditions",
    "recondition",
    "trimmed",
    "unreadable",
]

_DILUTION = re.compile(r"neat|\d+(\.\d+)?\s*:\s*\d+(\.\d+)?|\d+(\.\d+)?\s*%.*", re.I)
_MEASURED = {
    "temperature": ("temperature_c", "temperature", "°C"),
    "speed": ("speed_rpm", "speed", "rpm"),
    "torque": ("torque_percent", "share", "%"),
    "weight": ("weight_g", "mass", "g"),
    "duration": ("duration_s", "time", "s"),
}
COLDEST, HOTTEST = -40, 200
"""Temperatures at which a sample is measured [°C], to catch slips (common practice)."""
_TYPED = ("dilution", "spindle", "instrument", "method", "cup", "scale", "calibration")


def read_conditions(name: str, given: Mapping[str, Any]) -> dict[str, str]:
    """The conditions of a reading in plain units, as a record keeps them.

    Raises
    ------
    MeasurementError, QuantityError
        An unknown condition, or one without its unit.

    Examples
    --------
    >>> read_conditions("viscosity", {"temperature": "25 °C", "spindle": "S64"})
    {'temperature_c': '25', 'spindle': 'S64'}
    """
    found: dict[str, str] = {}
    for key, value in given.items():
        if value is None:
            continue
        if key in _MEASURED:
            field, kind, unit = _MEASURED[key]
            typed = as_typed(value)
            quantity = parse(typed, kind, where=f"{key.capitalize()} of the {name}")
            found[field] = trimmed(quantity.exact(unit))
            if key == "torque" and not 0 <= Decimal(found[field]) <= 100:
                raise unreadable("Torque", typed, "A torque between 0 and 100 % of the range")
            if key == "temperature" and not COLDEST <= Decimal(found[field]) <= HOTTEST:
                allowed = f"A bench temperature between {COLDEST} and {HOTTEST} °C"
                raise unreadable(f"Temperature of the {name}", typed, allowed)
        elif key in _TYPED:
            found[key] = str(plain(str(value), name)).strip()
            if key == "dilution" and not _DILUTION.fullmatch(found[key]):
                raise unreadable("Dilution", f"'{value}'", "'neat', '1:10' or '10 % in water'")
        else:
            raise unreadable(
                f"Conditions of the {name}",
                f"'{key}'",
                ", ".join([*_MEASURED, *_TYPED, "step", "at"]),
            )
    return found


def recondition(field: str, now: Any) -> str:
    """A corrected condition, checked like a new one.

    Raises
    ------
    MeasurementError, QuantityError
        An unknown condition, or a value without its unit.

    Examples
    --------
    >>> recondition("temperature_c", "77 °F"), recondition("spindle", "S64")
    ('25', 'S64')
    """
    names = {kept: name for name, (kept, _, _) in _MEASURED.items()}
    name = names.get(field, field)
    shown = as_typed(now)
    if name in _MEASURED and DECIMAL.fullmatch(shown):
        shown = f"{shown} {_MEASURED[name][2]}"
    return read_conditions("reading", {name: shown})[field]


def conditions_text(conditions: Mapping[str, Any]) -> str:
    """The conditions of a reading in one line; equal lines may be joined by one curve.

    Examples
    --------
    >>> conditions_text({"speed_rpm": "20", "temperature_c": "25", "dilution": "neat"})
    '25 °C, neat, 20 rpm'
    """
    shown = [
        form.format(conditions[key])
        for key, form in _SHOWN.items()
        if conditions.get(key) is not None
    ]
    shown += [
        f"{key} {conditions[key]}" for key in sorted(set(conditions) - set(_SHOWN) - _NOT_COMPARED)
    ]
    return ", ".join(shown)


_SHOWN = {
    "temperature_c": "{} °C",
    "dilution": "{}",
    "spindle": "spindle {}",
    "speed_rpm": "{} rpm",
    "cup": "cup {}",
    "weight_g": "under {} g",
    "duration_s": "{} s",
    "scale": "scale {}",
    "instrument": "{}",
    "method": "{}",
}
_NOT_COMPARED = {"torque_percent", "calibration"}


def as_typed(value: Any) -> str:
    """A reading as it was typed; a float with its shortest digits."""
    if isinstance(value, Quantity):
        return value.text or str(value)
    if isinstance(value, bool) or value is None:
        raise unreadable("Measurement", repr(value), "A reading")
    if isinstance(value, float | Decimal):
        return decimal_text(value, "Measurement")
    return str(plain(str(value), "Measurement")).strip()


def trimmed(value: Decimal) -> str:
    """A calculated number without idle zeros."""
    text = decimal_text(round(value, 6))
    return text.rstrip("0").rstrip(".") if "." in text else text


def unreadable(where: str, found: str, allowed: str) -> MeasurementError:
    """The refusal of a reading that cannot be understood."""
    return MeasurementError(
        where=where,
        found=found,
        allowed=allowed,
        cause="A slip of the pen, or two things in one field",
        do="Write it again; nothing was saved",
    )
