"""What a chart shows, before it is drawn: panels of points, links and bands."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["INKS", "SYMBOLS", "Band", "Curve", "Link", "Panel", "Point", "Ribbon", "Series"]

INKS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#8C6D1F")
"""Colours that people with colour-blindness tell apart: Okabe and Ito (2008), "Color
Universal Design"; the last one is ours. Symbols differ as well."""

SYMBOLS = ("circle", "square", "diamond", "triangle-up", "cross", "x", "star")


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One mark; ``low`` and ``high`` are the ends of its whisker, where it has one."""

    x: float
    y: float
    series: int = 0
    low: float | None = None
    high: float | None = None
    label: str = ""
    hover: tuple[str, ...] = ()
    hollow: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A line between two points, in the colour of a series."""

    x: tuple[float, float]
    y: tuple[float, float]
    series: int = 0
    dashed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """A calculated line through many places; it breaks where ``y`` is not a number."""

    x: tuple[float, ...]
    y: tuple[float, ...]
    series: int = 0
    dashed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Ribbon:
    """The interval around a curve."""

    x: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    series: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A lying bar from ``start`` to ``end`` at height ``y``, with whiskers at its end."""

    y: float
    start: float
    end: float
    series: int = 0
    low: float | None = None
    high: float | None = None
    hover: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A window across the chart, or along x when ``upright``: with its words."""

    low: float | None
    high: float | None
    words: str = ""
    upright: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Series:
    """A name with its colour and symbol."""

    name: str
    index: int

    @property
    def ink(self) -> str:
        """Colour."""
        return INKS[self.index % len(INKS)]

    @property
    def symbol(self) -> str:
        """Symbol."""
        return SYMBOLS[self.index % len(SYMBOLS)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One pair of axes; ``ticks`` name places along x, ``levels`` words along y.

    ``y_range`` fixes the ends of the y axis; without it they follow from what is drawn.
    """

    title: str
    unit: str = ""
    points: tuple[Point, ...] = ()
    links: tuple[Link, ...] = ()
    curves: tuple[Curve, ...] = ()
    ribbons: tuple[Ribbon, ...] = ()
    bands: tuple[Band, ...] = ()
    bars: tuple[Bar, ...] = ()
    series: tuple[Series, ...] = ()
    log: bool = False
    log_x: bool = False
    y_range: tuple[float, float] | None = None
    bare: bool = False
    x_title: str = ""
    ticks: tuple[tuple[float, str], ...] = field(default=())
    levels: tuple[tuple[float, str], ...] = field(default=())

    @property
    def caption(self) -> str:
        """Title with unit."""
        return f"{self.title} [{self.unit}]" if self.unit else self.title
