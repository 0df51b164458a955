"""Panels drawn as a static picture with our own SVG writer."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from labkit.charts.marks import Panel, Point
from labkit.charts.svg import Svg, nice_ticks

__all__ = ["draw_svg", "y_span", "y_ticks"]

LEFT, RIGHT, TOP, BOTTOM = 62.0, 16.0, 26.0, 34.0


def y_span(panel: Panel) -> tuple[float, float]:
    """Lowest and highest value of a panel, with room above and below."""
    if panel.levels:
        return panel.levels[0][0] - 0.6, panel.levels[-1][0] + 0.6
    values = [v for p in panel.points for v in (p.y, p.low, p.high) if v is not None]
    values += [v for b in panel.bands for v in (b.low, b.high) if v is not None]
    values = [v for v in values if math.isfinite(v) and (v > 0 or not panel.log)]
    if not values:
        return (1.0, 10.0) if panel.log else (0.0, 1.0)
    low, high = min(values), max(values)
    if panel.log:
        return low / 1.25, high * 1.25
    room = (high - low) * 0.12 or max(abs(high) * 0.1, 0.1)
    return low - room, high + room


def draw_svg(panels: Sequence[Panel], title: str, width: float = 720, height: float = 300) -> str:
    """Panels below one another, sharing nothing but their width."""
    picture = Svg(width, height * len(panels), title)
    for i, panel in enumerate(panels):
        _panel(picture, panel, i * height, height)
    return picture.text_of()


def _panel(picture: Svg, panel: Panel, top: float, height: float) -> None:
    legend = [s for s in panel.series if s.name]
    foot = BOTTOM + (16.0 if panel.x_title else 0.0) + (18.0 if len(legend) > 1 else 0.0)
    bottom = top + height - foot
    x_of, y_of = _scales(panel, picture.width, top + TOP, bottom)
    picture.text(LEFT - 50, top + 16, panel.caption, size=12.5, weight="600")
    if not panel.bare:
        _axes(picture, panel, x_of, y_of, bottom)
    for band in panel.bands:
        _band(picture, panel, band.low, band.high, band.words, y_of)
    inks = {s.index: s.ink for s in panel.series}
    for link in panel.links:
        picture.line(
            x_of(link.x[0]), y_of(link.y[0]), x_of(link.x[1]), y_of(link.y[1]),
            inks.get(link.series, "currentColor"), 1.8, "4 3" if link.dashed else "", 0.85,
        )  # fmt: skip
    for point in panel.points:
        _point(picture, panel, point, x_of, y_of)
    if panel.x_title:
        picture.text(picture.width / 2, bottom + 32, panel.x_title, anchor="middle", opacity=0.8)
    if len(legend) > 1:
        x = LEFT
        for s in legend:
            picture.mark(x, top + height - 10, s.symbol, s.ink, 4)
            picture.text(x + 9, top + height - 6, s.name, size=10.5)
            x += 22 + 6.2 * len(s.name)


def _scales(
    panel: Panel, width: float, top: float, bottom: float
) -> tuple[Callable[[float], float], Callable[[float], float]]:
    xs = [p.x for p in panel.points] + [t for t, _ in panel.ticks] or [0.0]
    first, last = min(xs), max(xs)
    pad = (last - first) * 0.05 or 1.0
    low, high = y_span(panel)
    if panel.log:
        low, high = math.log10(low), math.log10(high)

    def x_of(x: float) -> float:
        return LEFT + (x - first + pad) / (last - first + 2 * pad) * (width - LEFT - RIGHT)

    def y_of(y: float) -> float:
        value = math.log10(max(y, 1e-12)) if panel.log else y
        return bottom - (value - low) / (high - low) * (bottom - top)

    return x_of, y_of


def _axes(
    picture: Svg,
    panel: Panel,
    x_of: Callable[[float], float],
    y_of: Callable[[float], float],
    bottom: float,
) -> None:
    for tick, words in y_ticks(panel):
        y = y_of(tick)
        picture.line(LEFT, y, picture.width - RIGHT, y, width=0.5, opacity=0.25)
        picture.text(LEFT - 8, y + 4, words, anchor="end", opacity=0.85)
    shown = panel.ticks
    stride = max(1, math.ceil(len(shown) * 46 / (picture.width - LEFT - RIGHT)))
    for x, words in shown[::stride]:
        picture.text(x_of(x), bottom + 16, words, anchor="middle", opacity=0.85)
    picture.line(LEFT, bottom, picture.width - RIGHT, bottom, width=0.8, opacity=0.5)


def y_ticks(panel: Panel) -> list[tuple[float, str]]:
    """Places and words along the y axis."""
    if panel.levels:
        return list(panel.levels)
    low, high = y_span(panel)
    return [(t, _tick(t)) for t in nice_ticks(low, high, panel.log)]


def _tick(value: float) -> str:
    if abs(value) >= 10_000:
        return f"{value / 1000:g}k"
    return f"{value:g}"


def _band(
    picture: Svg,
    panel: Panel,
    low: float | None,
    high: float | None,
    words: str,
    y_of: Callable[[float], float],
) -> None:
    span = y_span(panel)
    top, bottom = y_of(span[1] if high is None else high), y_of(span[0] if low is None else low)
    picture.rect(LEFT, top, picture.width - LEFT - RIGHT, bottom - top, "#009E73", 0.12, words)
    for edge, y in ((high, top), (low, bottom)):
        if edge is not None:
            picture.line(LEFT, y, picture.width - RIGHT, y, "#009E73", 1, "2 3")
    if words:
        picture.text(LEFT + 5, top + 12, words, 10, opacity=0.85)


def _point(
    picture: Svg,
    panel: Panel,
    point: Point,
    x_of: Callable[[float], float],
    y_of: Callable[[float], float],
) -> None:
    series = next((s for s in panel.series if s.index == point.series), None)
    ink, symbol = (series.ink, series.symbol) if series else ("currentColor", "circle")
    x = x_of(point.x)
    if point.low is not None and point.high is not None:
        picture.line(x, y_of(point.low), x, y_of(point.high), ink, 1.4)
        for end in (point.low, point.high):
            picture.line(x - 4, y_of(end), x + 4, y_of(end), ink, 1.4)
    picture.mark(x, y_of(point.y), symbol, ink, 4.5, point.hollow, " · ".join(point.hover))
    if point.label:
        picture.text(x, y_of(point.y) - 9, point.label, 10.5, "middle")
