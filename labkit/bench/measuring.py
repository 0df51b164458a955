"""Readings as they are written at the bench, kept with their digits and conditions."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from labkit.bench.canonical import DECIMAL, decimal_text, plain
from labkit.bench.conditions import as_typed, read_conditions, trimmed, unreadable
from labkit.bench.scales import SCALES, Scale, find_scale
from labkit.errors import LabkitError, MeasurementError
from labkit.quantities import Quantity, decimal, parse

__all__ = ["base_values", "measurement", "number_of", "reread"]

_INTERVAL = re.compile(r"\s*([\d.,]+)\s*(?:-|–|to|\.\.)\s*([\d.,]+)\s*(?:pH)?\s*", re.I)
_COLOUR = re.compile(
    r"\s*L?\*?\s*([\d.,]+)[\s;/]+a?\*?\s*([+\-−]?[\d.,]+)[\s;/]+b?\*?\s*([+\-−]?[\d.,]+)\s*"
)
_BOUND = re.compile(r"\s*([<>≤≥])\s*(.+)")
_BOUNDS = {"<": "<", ">": ">", "≤": "<=", "≥": ">="}


def measurement(quantity: str, value: Any, note: str = "", **conditions: Any) -> dict[str, Any]:
    """The body of a measurement: what was read, in which unit, under which conditions.

    Parameters
    ----------
    quantity : str
        One of :data:`~labkit.bench.scales.SCALES`, or a name of one's own.
    value : str, number, Quantity, or a list of these
        A list holds replicates: readings of the same thing under the same conditions.
    note : str
        What else was seen.
    **conditions
        ``temperature`` [°C], ``dilution``, ``spindle``, ``speed`` [rpm], ``torque`` [%],
        ``instrument``, ``method``, ``cup``, ``weight`` [g], ``duration``, ``scale``,
        ``calibration``, ``step`` (of a strip) and ``at`` (time since making).

    Returns
    -------
    dict
        Plain values; digits as read.

    Raises
    ------
    MeasurementError, QuantityError
        No unit, two readings in one field, a value no instrument shows, an unknown condition.

    Examples
    --------
    >>> measurement("viscosity", "18900 cps", speed="20 rpm")["value"]
    '18900'
    >>> measurement("thickness", "Mounds")["word"]
    'mounds'
    """
    scale = find_scale(quantity)
    name = scale.name if scale else " ".join(plain(quantity, "Measurement").split())
    step = conditions.pop("step", None)
    at = conditions.pop("at", None)
    value = value.tolist() if hasattr(value, "tolist") else value
    several = isinstance(value, Sequence) and not isinstance(value, str | bytes)
    if several and scale and scale.sort == "colour" and len(value) == 3:
        value, several = " ".join(str(part) for part in value), False
    readings = [_reading(scale, name, one, step) for one in (value if several else [value])]
    if not readings:
        raise unreadable(name, "an empty list", "The reading, or a list of replicates")
    body: dict[str, Any] = {"quantity": name}
    body |= readings[0] if len(readings) == 1 else {"replicates": readings}
    if found := read_conditions(name, conditions):
        body["conditions"] = found
    _wanted(scale, found)
    if at is not None:
        body["at_h"] = trimmed(parse(at, "time", where="Time since making").exact("h"))
    if note:
        body["note"] = plain(note, "Note")
    return body


def reread(quantity: str, reading: Mapping[str, Any], now: Any) -> str:
    """A corrected value in the unit of the first reading, checked like a new one.

    Raises
    ------
    MeasurementError, QuantityError
        The new value is in another unit, or no instrument shows it.

    Examples
    --------
    >>> reread("pH", {"value": "4.62", "unit": "pH"}, 4.26)
    '4.26'
    """
    unit = str(reading.get("unit", ""))
    shown = as_typed(now)
    if "word" not in reading and re.fullmatch(r"[<>≤≥]?\s*[+\-−]?[\d.,]+", shown):
        shown = f"{shown} {unit}"
    scale = find_scale(quantity)
    again = _reading(scale, quantity, shown, "0" if scale and scale.sort == "strip" else None)
    if again.get("unit") != unit:
        raise MeasurementError(
            where=f"Correction of a {quantity}",
            found=f"{shown} where the reading is in {unit}",
            allowed=f"A value in {unit}",
            cause="The reading was noted in another unit",
            do=f"Write it in {unit}, or withdraw the reading and measure again",
        )
    return str(again.get("word", again.get("value")))


def base_values(quantity: str, reading: Mapping[str, Any]) -> dict[str, Any]:
    """A reading as numbers in the unit that its quantity is kept in.

    Examples
    --------
    >>> base_values("viscosity", {"value": "18.2", "unit": "Pa*s"})["value"]
    18200.0
    """
    scale = SCALES.get(quantity)
    unit = str(reading.get("unit", ""))
    word, value = reading.get("word"), reading.get("value")
    kept = scale.unit if scale else unit
    number: float | None
    if word is not None:
        words = scale.words if scale else ()
        number = float(words.index(word) + 1) if word in words else None
        shown = str(word)
    else:
        number = _in_unit(value, unit, kept)
        shown = str(reading.get("text", f"{value} {unit}" if value is not None else ""))
    bound = reading.get("bound")
    return {
        "value": number,
        "low": number_of(reading.get("low")),
        "high": number_of(reading.get("high")),
        "bound": bound if bound in _BOUNDS.values() else None,
        "unit": kept,
        "text": shown,
    }


def number_of(text: Any) -> float | None:
    """A decimal of a record as a float; None for anything else that may stand there."""
    return float(text) if isinstance(text, str) and DECIMAL.fullmatch(text) else None


def _in_unit(value: Any, unit: str, kept: str) -> float | None:
    number = number_of(value)
    if number is None or unit == kept:
        return number
    try:
        return Quantity(Decimal(value), unit, "").to(kept)
    except LabkitError:
        return None


def _reading(scale: Scale | None, name: str, value: Any, step: Any) -> dict[str, Any]:
    shown = as_typed(value)
    if scale is None:
        quantity = value if isinstance(value, Quantity) else parse(shown, where=name)
        return _kept(quantity, shown)
    return _READERS[scale.sort](scale, shown, step)


def _number_reading(scale: Scale, shown: str, _: Any) -> dict[str, Any]:
    bound = _BOUND.fullmatch(shown)
    typed = bound.group(2) if bound else shown
    if scale.kind in {"pH", "share"}:
        typed = re.sub(r"^pH\s*", "", typed, flags=re.I)
    quantity = parse(typed, scale.kind, where=_headed(scale.name))
    _in_range(scale, quantity, shown)
    kept = _kept(quantity, shown)
    return kept | {"bound": _BOUNDS[bound.group(1)]} if bound else kept


def _kept(quantity: Quantity, shown: str) -> dict[str, Any]:
    value = decimal_text(quantity.value, "Measurement")
    kept = {"value": value, "unit": quantity.unit}
    return kept if shown in {value, f"{value} {quantity.unit}"} else kept | {"text": shown}


def _in_range(scale: Scale, quantity: Quantity, shown: str) -> None:
    value = quantity.value if quantity.unit == scale.unit else quantity.exact(scale.unit)
    if (scale.low is None or value >= scale.low) and (scale.high is None or value <= scale.high):
        return
    meant = value / 10
    likely = scale.low is not None and scale.high is not None and scale.low <= meant <= scale.high
    limits = f"between {scale.low} and {scale.high} {scale.unit}".removesuffix(" pH")
    if scale.high is None:
        limits = f"of {scale.low} {scale.unit} or more"
    article = "A pH lies" if scale.kind == "pH" else f"A {scale.name} lies"
    raise MeasurementError(
        where="Measurement",
        found=f"{scale.name} {shown}",
        allowed=f"{article} {limits}",
        cause="A decimal sign may be missing or misplaced, or the unit is another",
        do=f"Did you mean {trimmed(meant)}? Nothing was saved"
        if likely
        else "Read the instrument again; nothing was saved",
        quantity=scale.name,
        value=float(value),
    )


def _strip_reading(scale: Scale, shown: str, step: Any) -> dict[str, Any]:
    if match := _INTERVAL.fullmatch(shown):
        low, high = (decimal(part, where="pH strip") for part in match.groups())
    else:
        middle = parse(re.sub(r"^pH\s*", "", shown, flags=re.I), "pH", where="pH strip").value
        if step is None:
            raise MeasurementError(
                where="pH strip",
                found=f"'{shown}' without the interval it stands for",
                allowed="The two colours it lies between, such as '5-6', or a step",
                cause="A strip shows steps of 0.3 to 1, a single number looks like a meter",
                do="Write '5-6', or add step='0.5' as printed on the box",
            )
        half = decimal(step, where="Step of the strip") / 2
        low, high = middle - half, middle + half
    if low > high:
        low, high = high, low
    for end in (low, high):
        _in_range(scale, Quantity(end, "pH", shown), shown)
    return {
        "value": trimmed((low + high) / 2),
        "unit": "pH",
        "low": trimmed(low),
        "high": trimmed(high),
        "text": shown,
    }


def _word_reading(scale: Scale, shown: str, _: Any) -> dict[str, Any]:
    word = shown.casefold()
    if word not in scale.words:
        raise MeasurementError(
            where=scale.name.capitalize(),
            found=f"'{shown[:40]}'",
            allowed=f"One of the words {', '.join(scale.words)}",
            cause="The scale has these words only, so that trials can be compared",
            do="Choose the nearest word, and put the rest into note=",
        )
    return {"word": word, "unit": scale.unit}


def _text_reading(scale: Scale, shown: str, _: Any) -> dict[str, Any]:
    if not shown:
        raise unreadable(scale.name.capitalize(), "nothing", "What was seen, in words")
    return {"word": shown, "unit": scale.unit}


def _colour_reading(scale: Scale, shown: str, _: Any) -> dict[str, Any]:
    match = _COLOUR.fullmatch(shown)
    if match is None:
        return _text_reading(scale, shown, None) | {"unit": "text"}
    parts = [decimal(part, where="Colour") for part in match.groups()]
    if not 0 <= parts[0] <= 100:
        raise unreadable("Colour", f"L* {parts[0]}", "L* between 0 and 100, then a* and b*")
    return {"word": " ".join(decimal_text(part) for part in parts), "unit": scale.unit}


def _score_reading(scale: Scale, shown: str, _: Any) -> dict[str, Any]:
    return {"value": decimal_text(decimal(shown, where="Panel score")), "unit": scale.unit}


_READERS = {
    "number": _number_reading,
    "strip": _strip_reading,
    "word": _word_reading,
    "text": _text_reading,
    "colour": _colour_reading,
    "score": _score_reading,
}


def _wanted(scale: Scale | None, found: Mapping[str, str]) -> None:
    for need in scale.wants if scale else ():
        if need not in found:
            raise MeasurementError(
                where=_headed(scale.name) if scale else "",
                found=f"no {need}= beside the reading",
                allowed=_WANTS[need],
                cause="Without it two readings of this kind cannot be compared",
                do=f"Add {need}=",
            )


_WANTS = {"scale": "The ends of the scale, such as scale='1 to 9'"}


def _headed(name: str) -> str:
    return name if name.startswith("pH") else name[0].upper() + name[1:]
