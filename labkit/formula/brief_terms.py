"""How single points of a brief are read, and how a brief refuses."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import Any

from labkit.errors import BriefError, QuantityError
from labkit.quantities import Quantity, decimal
from labkit.quantities import parse as parse_quantity

__all__ = ["check_cost", "check_mass", "months", "plain", "refusal"]

_MONTHS = re.compile(r"(?i)\s*(\d{1,3})\s*(months?|mo|m|years?|y|yr|yrs)\s*")
_COST = re.compile(r"\s*([\d.,]+)\s*([A-Z]{3})\s*(?:/|per)\s*(kg|unit|jar)\s*")


def refusal(
    where: str, found: str, allowed: str, do: str, cause: str = "Mistyped, or left empty"
) -> BriefError:
    """A brief's refusal in five parts."""
    return BriefError(where=where, found=found, allowed=allowed, cause=cause, do=do)


def months(value: Any, where: str) -> int | None:
    """A durability as whole months.

    Examples
    --------
    >>> months("2 years", "Brief"), months(18, "Brief")
    (24, 18)
    """
    if value is None:
        return None
    match = _MONTHS.fullmatch(str(value))
    count = 0
    if isinstance(value, int) and not isinstance(value, bool):
        count = value
    elif match:
        count = int(match[1]) * (12 if match[2].lower().startswith("y") else 1)
    if not 1 <= count <= 120:
        raise refusal(
            where,
            f"a durability of {value!r}",
            "1 to 120 months, such as '18 months' or '2 years'",
            "Write the time with its unit",
        )
    return count


def check_cost(value: Any, where: str) -> None:
    """Refuse a cost ceiling without amount, currency or what it is for."""
    if value is None:
        return
    match = _COST.fullmatch(str(value))
    if match is None or decimal(match[1], where=f"{where}, cost", lowest=0) == 0:
        raise refusal(
            where,
            f"a cost ceiling of '{value}'",
            "An amount above zero, a currency and what for: '6.50 EUR/kg' or '1.20 GBP/unit'",
            "Write it like that",
        )


def check_mass(name: str, value: Any, where: str) -> None:
    """Refuse a batch, balance or fill that is no amount above zero."""
    if value is None:
        return
    amount = parse_quantity(value, None, where=f"{where}, {name}")
    if amount.kind not in ({"mass", "volume"} if name == "fill" else {"mass"}):
        raise QuantityError(
            where=f"{where}, {name}",
            found=f"'{value}' is a {amount.kind}",
            allowed="A mass, such as 100 g" + (" or a volume" if name == "fill" else ""),
            cause="A value in the wrong place",
            do="Write it in g",
        )
    if amount.value <= 0:
        raise refusal(where, f"a {name} of {amount}", "More than zero", "Type the amount again")


def plain(value: Any) -> Any:
    """A point of a brief as plain values for a file."""
    if isinstance(value, Quantity):
        return value.text or str(value)
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [plain(x) for x in value]
    if isinstance(value, Mapping):
        return {k: plain(v) for k, v in value.items()}
    return value
