"""A number that is said with how sure it is, what it rests on, and where that comes from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from html import escape
from typing import Any, Literal

__all__ = ["Basis", "Estimate", "digits"]

Basis = Literal["calculated", "learned", "measured", "from supplier", "unknown"]


def digits(value: float, spread: float | None = None) -> str:
    """A number with as many digits as its spread leaves meaningful.

    Examples
    --------
    >>> digits(5.3128, 0.4), digits(24312.0, 6000.0), digits(0.0042)
    ('5.3', '24000', '0.0042')

    A spread wider than the number itself still leaves its first digit:

    >>> digits(27_000.0, 9e6), digits(0.0, 0.4)
    ('30000', '0.0')
    """
    if not math.isfinite(value):
        return "–"
    scale = abs(spread) if spread else abs(value) / 20
    if not scale:
        return f"{value:g}"
    scale = min(scale, abs(value)) or scale
    place = -math.floor(math.log10(scale))
    if place <= 0:
        return f"{round(value, place):.0f}"
    return f"{value:.{min(place, 6)}f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """What to expect of one quantity.

    Attributes
    ----------
    quantity : str
        What it is, as in "pH".
    value, low, high : float or None
        Middle and ends of the interval that holds a new reading with probability
        ``level``; None where nothing is known.
    level : float
        0.80 unless said otherwise.
    unit : str
        Of value, low and high.
    basis : str
        calculated, learned, measured, from supplier or unknown.
    words : str
        What was taken into account, and what was not.
    source : str
        The equation or table behind it.

    Examples
    --------
    >>> e = Estimate(quantity="pH", value=5.31, low=4.91, high=5.71, unit="",
    ...     basis="calculated", words="acids and salts in the water phase")
    >>> print(e)
    pH 5.3 (4.9 to 5.7), calculated
    """

    quantity: str
    value: float | None
    low: float | None = None
    high: float | None = None
    level: float = 0.80
    unit: str = ""
    basis: Basis = "calculated"
    words: str = ""
    source: str = ""

    @property
    def known(self) -> bool:
        """Whether there is a number at all."""
        return self.value is not None and math.isfinite(self.value)

    @property
    def spread(self) -> float | None:
        """Half the width of the interval, None without one."""
        if self.low is None or self.high is None:
            return None
        return (self.high - self.low) / 2

    def inside(self, low: float | None, high: float | None) -> bool | None:
        """Whether the whole interval lies in a window; None where it is not known."""
        if not self.known:
            return None
        bottom = self.value if self.low is None else self.low
        top = self.value if self.high is None else self.high
        return (low is None or bottom >= low) and (high is None or top <= high)  # type: ignore[operator]

    def __str__(self) -> str:
        unit = f" {self.unit}" if self.unit else ""
        if self.value is None or not self.known:
            return f"{self.quantity}: unknown" + (f", {self.words}" if self.words else "")
        text = f"{self.quantity} {digits(self.value, self.spread)}{unit}"
        if self.low is not None and self.high is not None and self.high > self.low:
            text += f" ({digits(self.low, self.spread)} to {digits(self.high, self.spread)})"
        return f"{text}, {self.basis}"

    def _repr_html_(self) -> str:
        return (
            f"<p><b>{escape(str(self))}</b><br>{escape(self.words)}"
            f"{'<br><small>' + escape(self.source) + '</small>' if self.source else ''}</p>"
        )

    def as_record(self) -> dict[str, Any]:
        """The estimate as text values, for a record; digits to a millionth."""
        record: dict[str, Any] = {
            "quantity": self.quantity,
            "basis": self.basis,
            "level": f"{self.level:.2f}",
        }
        for name in ("value", "low", "high"):
            number = getattr(self, name)
            if number is not None and math.isfinite(number):
                record[name] = _plain(number)
        for name in ("unit", "words", "source"):
            if getattr(self, name):
                record[name] = getattr(self, name)
        return record


def _plain(number: float) -> str:
    text = f"{Decimal(repr(number)).quantize(Decimal('0.000001')):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
