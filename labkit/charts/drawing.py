"""Panels drawn as a static picture with our own SVG writer."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from labkit.charts.marks import Band, Bar, Panel, Point, Ribbon, Series
from labkit.charts.svg import Svg, nice_ticks

__all__ = ["WINDOW", "draw_svg", "label_side", "x_span", "x_ticks", "y_span", "y_ticks"]

LEFT, RIGHT, TOP, BOTTOM = 62.0, 16.0, 26.0, 34.0
LEGEND_ROW = 18.0
WINDOW = "#009E73"
"""Colour of what is wanted."""
PER_LETTER = 6.2
"""Width of a letter in the legend [px]."""

EDGE = 0.012
"""Room beside a curve's ends for the marks on them, as a share of the axis."""

NEAR_EDGE = 0.06

Scale = Callable[[float], float]


def y_span(panel: Panel) -> tuple[float, float]:
    """Lowest and highest value of a panel, with room above and below."""
    if panel.y_range is not None:
        return panel.y_range
    if panel.levels:
        return panel.levels[0][0] - 0.6, panel.levels[-1][0] + 0.6
    values = [v for v in _y_values(panel) if math.isfinite(v) and (v > 0 or not panel.log)]
    if not values:
        return (1.0, 10.0) if panel.log else (0.0, 1.0)
    low, high = min(values), max(values)
    if panel.log:
        return low / 1.25, high * 1.25
    room = (high - low) * 0.12 or max(abs(high) * 0.1, 0.1)
    return low - room, high + room


def _y_values(panel: Panel) -> Iterator[float]:
    for p in panel.points:
        yield from (v for v in (p.y, p.low, p.high) if v is not None)
    for curve in panel.curves:
        yield from curve.y
    for ribbon in panel.ribbons:
        yield from (*ribbon.low, *ribbon.high)
    for band in panel.bands:
        if not band.upright:
            yield from (v for v in (band.low, band.high) if v is not None)


def x_span(panel: Panel) -> tuple[float, float]:
    """Ends of the x axis: a little wider than the marks, exactly the curves'."""
    marks = [p.x for p in panel.points] + [t for t, _ in panel.ticks]
    marks += [x for b in panel.bars for x in (b.start, b.end, b.low, b.high) if x is not None]
    lines = [x for c in panel.curves for x in c.x] + [x for r in panel.ribbons for x in r.x]
    values = [v for v in (*marks, *lines) if math.isfinite(v) and (v > 0 or not panel.log_x)]
    first, last = min(values, default=0.0), max(values, default=0.0)
    if lines and first < last:
        room = EDGE if marks else 0.0
        if panel.log_x:
            stretch = (last / first) ** room
            return first / stretch, last * stretch
        return first - room * (last - first), last + room * (last - first)
    if panel.log_x and values:
        return first / 1.2, last * 1.2
    pad = (last - first) * 0.05 or 1.0
    return first - pad, last + pad


def draw_svg(panels: Sequence[Panel], title: str, width: float = 720, height: float = 300) -> str:
    """Panels below one another, sharing nothing but their width."""
    picture = Svg(width, height * len(panels), title)
    for i, panel in enumerate(panels):
        _panel(picture, panel, i * height, height)
    return picture.text_of()


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the axes stand, and how values become places."""

    left: float
    right: float
    top: float
    bottom: float
    x_of: Scale
    y_of: Scale


def _panel(picture: Svg, panel: Panel, top: float, height: float) -> None:
    rows = _legend_rows(panel, picture.width)
    foot = BOTTOM + (16.0 if panel.x_title else 0.0) + LEGEND_ROW * len(rows)
    bottom = top + height - foot
    frame = _frame(panel, picture.width, top + TOP, bottom)
    picture.text(LEFT - 50, top + 16, panel.caption, size=12.5, weight="600")
    if not panel.bare:
        _axes(picture, panel, frame)
    for band in panel.bands:
        _band(picture, panel, band, frame)
    inks = {s.index: s.ink for s in panel.series}
    for ribbon in panel.ribbons:
        picture.polygon(_outline(ribbon, frame), inks.get(ribbon.series, "currentColor"), 0.16)
    _lines(picture, panel, inks, frame)
    for point in panel.points:
        _point(picture, panel, point, frame)
    if panel.x_title:
        picture.text(picture.width / 2, bottom + 32, panel.x_title, anchor="middle", opacity=0.85)
    for i, row in enumerate(rows):
        _legend(picture, panel, row, top + height - LEGEND_ROW * (len(rows) - 1 - i))


def _legend_rows(panel: Panel, width: float) -> list[list[Series]]:
    """Names of the series, as many to a row as fit; none for a single series."""
    named = [s for s in panel.series if s.name]
    if len(named) < 2:
        return []
    rows: list[list[Series]] = [[]]
    used = LEFT
    for s in named:
        wide = 22 + PER_LETTER * len(s.name)
        if rows[-1] and used + wide > width - RIGHT:
            rows.append([])
            used = LEFT
        rows[-1].append(s)
        used += wide
    return rows


def _legend(picture: Svg, panel: Panel, row: list[Series], foot: float) -> None:
    drawn = {p.series for p in panel.points}
    x = LEFT
    for s in row:
        if s.index in drawn:
            picture.mark(x, foot - 10, s.symbol, s.ink, 4)
        else:
            picture.line(x - 7, foot - 10, x + 5, foot - 10, s.ink, 2.2)
        picture.text(x + 9, foot - 6, s.name, size=10.5)
        x += 22 + PER_LETTER * len(s.name)


def _frame(panel: Panel, width: float, top: float, bottom: float) -> Frame:
    first, last = x_span(panel)
    low, high = y_span(panel)
    left = left_of(panel)
    if panel.log:
        low, high = math.log10(low), math.log10(high)
    if panel.log_x:
        first, last = math.log10(first), math.log10(last)

    def x_of(x: float) -> float:
        value = math.log10(max(x, 1e-12)) if panel.log_x else x
        return left + (value - first) / (last - first) * (width - left - RIGHT)

    def y_of(y: float) -> float:
        value = math.log10(max(y, 1e-12)) if panel.log else y
        return bottom - (value - low) / (high - low) * (bottom - top)

    return Frame(left, width - RIGHT, top, bottom, x_of, y_of)


def _axes(picture: Svg, panel: Panel, frame: Frame) -> None:
    for tick, words in y_ticks(panel):
        y = frame.y_of(tick)
        picture.line(frame.left, y, frame.right, y, width=0.5, opacity=0.25)
        picture.text(frame.left - 8, y + 4, words, anchor="end", opacity=0.85)
    shown = x_ticks(panel)
    room = 46 if panel.ticks else 30
    stride = max(1, math.ceil(len(shown) * room / (frame.right - frame.left)))
    for x, words in shown[::stride]:
        picture.text(frame.x_of(x), frame.bottom + 16, words, anchor="middle", opacity=0.85)
    picture.line(frame.left, frame.bottom, frame.right, frame.bottom, width=0.8, opacity=0.5)


def y_ticks(panel: Panel) -> list[tuple[float, str]]:
    """Places and words along the y axis."""
    if panel.levels:
        return list(panel.levels)
    low, high = y_span(panel)
    return [(t, _tick(t)) for t in nice_ticks(low, high, panel.log)]


def x_ticks(panel: Panel) -> list[tuple[float, str]]:
    """Places and words along the x axis."""
    if panel.ticks or not (panel.curves or panel.ribbons or panel.log_x):
        return list(panel.ticks)
    low, high = x_span(panel)
    return [(t, _tick(t)) for t in nice_ticks(low, high, panel.log_x, count=8)]


def label_side(panel: Panel, x: float) -> str:
    """Anchor of a label, so that it stays inside the axes: start, middle or end."""
    first, last = x_span(panel)
    if panel.log_x:
        first, last, x = math.log10(first), math.log10(last), math.log10(x)
    place = (x - first) / (last - first)
    return "start" if place < NEAR_EDGE else "end" if place > 1 - NEAR_EDGE else "middle"


def _tick(value: float) -> str:
    if abs(value) >= 10_000:
        return f"{value / 1000:g}k"
    return f"{value:g}"


def _band(picture: Svg, panel: Panel, band: Band, frame: Frame) -> None:
    if band.upright:
        first, last = x_span(panel)
        left = frame.x_of(first if band.low is None else max(band.low, first))
        right = frame.x_of(last if band.high is None else min(band.high, last))
        if right <= left:
            return
        height = frame.bottom - frame.top
        picture.rect(left, frame.top, right - left, height, "currentColor", 0.08, band.words)
        for edge in (left, right):
            picture.line(edge, frame.top, edge, frame.bottom, "currentColor", 1, "2 3", 0.5)
        picture.text((left + right) / 2, frame.top - 3, band.words, 10, "middle", opacity=0.85)
        return
    span = y_span(panel)
    top = frame.y_of(span[1] if band.high is None else min(band.high, span[1]))
    bottom = frame.y_of(span[0] if band.low is None else max(band.low, span[0]))
    width = frame.right - frame.left
    picture.rect(frame.left, top, width, bottom - top, WINDOW, 0.12, band.words)
    for value, y in ((band.high, top), (band.low, bottom)):
        if value is not None:
            picture.line(frame.left, y, frame.right, y, WINDOW, 1, "2 3")
    if band.words:
        picture.text(frame.left + 5, top + 12, band.words, 10, opacity=0.85)


def _outline(ribbon: Ribbon, frame: Frame) -> list[tuple[float, float]]:
    """The ribbon's edge, out along its top and back along its bottom, inside the axes."""

    def place(x: float, y: float) -> tuple[float, float]:
        return frame.x_of(x), min(max(frame.y_of(y), frame.top), frame.bottom)

    known = [
        (x, a, b)
        for x, a, b in zip(ribbon.x, ribbon.low, ribbon.high, strict=True)
        if math.isfinite(a) and math.isfinite(b)
    ]
    return [place(x, b) for x, _, b in known] + [place(x, a) for x, a, _ in reversed(known)]


def left_of(panel: Panel) -> float:
    """Room for the words on the left [px]."""
    longest = max((len(words) for _, words in panel.levels), default=0)
    return min(max(LEFT, 22.0 + PER_LETTER * longest), 270.0)


def _bar(picture: Svg, bar: Bar, ink: str, frame: Frame) -> None:
    y, ends = frame.y_of(bar.y), sorted((frame.x_of(bar.start), frame.x_of(bar.end)))
    hover = " · ".join(bar.hover)
    picture.rect(ends[0], y - 7, max(ends[1] - ends[0], 1.5), 14, ink, 0.8, hover)
    if bar.low is not None and bar.high is not None:
        picture.line(frame.x_of(bar.low), y, frame.x_of(bar.high), y, width=1.3)
        for x in (bar.low, bar.high):
            picture.line(frame.x_of(x), y - 4, frame.x_of(x), y + 4, width=1.3)


def _lines(picture: Svg, panel: Panel, inks: dict[int, str], frame: Frame) -> None:
    for curve in panel.curves:
        ink = inks.get(curve.series, "currentColor")
        dash, width = ("5 4", 1.6) if curve.dashed else ("", 2.0)
        for piece in _pieces(curve.x, curve.y):
            picture.polyline([(frame.x_of(x), frame.y_of(y)) for x, y in piece], ink, width, dash)
    for bar in panel.bars:
        _bar(picture, bar, inks.get(bar.series, "currentColor"), frame)
    for link in panel.links:
        picture.line(
            frame.x_of(link.x[0]), frame.y_of(link.y[0]),
            frame.x_of(link.x[1]), frame.y_of(link.y[1]),
            inks.get(link.series, "currentColor"), 1.8, "4 3" if link.dashed else "", 0.85,
        )  # fmt: skip


def _pieces(xs: Sequence[float], ys: Sequence[float]) -> Iterator[list[tuple[float, float]]]:
    piece: list[tuple[float, float]] = []
    for x, y in zip(xs, ys, strict=True):
        if math.isfinite(y):
            piece.append((x, y))
        elif piece:
            yield piece
            piece = []
    if piece:
        yield piece


def _point(picture: Svg, panel: Panel, point: Point, frame: Frame) -> None:
    series = next((s for s in panel.series if s.index == point.series), None)
    ink, symbol = (series.ink, series.symbol) if series else ("currentColor", "circle")
    x, y = frame.x_of(point.x), frame.y_of(point.y)
    if point.low is not None and point.high is not None:
        picture.line(x, frame.y_of(point.low), x, frame.y_of(point.high), ink, 1.4)
        for end in (point.low, point.high):
            picture.line(x - 4, frame.y_of(end), x + 4, frame.y_of(end), ink, 1.4)
    picture.mark(x, y, symbol, ink, 4.5, point.hollow, " · ".join(point.hover))
    if point.label:
        side = "middle" if panel.bare else label_side(panel, point.x)
        picture.text(x, y - 9, point.label, 10.5, side)
