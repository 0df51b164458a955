"""A chart that is live in a notebook and still there without one."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from labkit.charts.drawing import WINDOW, draw_svg, label_side, x_span, x_ticks, y_span, y_ticks
from labkit.charts.marks import Band, Bar, Panel, Point, Ribbon, Series
from labkit.charts.saving import save_text

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go

__all__ = ["Chart"]

INK = "#757575"
"""Grey that is read on white and on black paper alike."""
NOTE_LETTERS, NOTE_LINE = 120, 15
_BESIDE = {"start": "top right", "middle": "top center", "end": "top left"}
GRID = "rgba(128,128,128,0.25)"


class Chart:
    """One or more panels: plotly in a notebook, our own SVG everywhere else.

    ``figure`` is the plotly figure, ``svg`` the static picture, ``table()`` the numbers
    that are drawn.
    """

    def __init__(
        self, panels: Sequence[Panel], title: str, note: str = "", height: float | None = None
    ) -> None:
        self.panels, self.title, self.note = tuple(panels), title, note
        self.height = height or (300 if len(self.panels) == 1 else 170)

    @property
    def svg(self) -> str:
        """The chart as SVG text."""
        return draw_svg(self.panels, self.title, height=self.height)

    @property
    def figure(self) -> go.Figure:
        """The chart as a plotly figure."""
        from plotly.subplots import make_subplots

        count = len(self.panels)
        figure = make_subplots(
            rows=count, cols=1, vertical_spacing=0.3 / max(count, 2) if count > 1 else 0.2,
            subplot_titles=[escape(p.caption) for p in self.panels],
        )  # fmt: skip
        figure.update_annotations(font={"color": INK, "size": 13}, xanchor="left", x=0)
        for row, panel in enumerate(self.panels, start=1):
            _add_panel(figure, panel, row)
        told = textwrap.wrap(self.note, NOTE_LETTERS)
        figure.update_layout(
            height=(self.height + 10) * count + 60 + NOTE_LINE * len(told),
            margin={"l": 60, "r": 20, "t": 46 + NOTE_LINE * len(told), "b": 50},
            paper_bgcolor="rgba(0,0,0,0)",
            plot_bgcolor="rgba(0,0,0,0)",
            font={"color": INK, "size": 12},
            hovermode="closest",
            legend={"orientation": "h", "y": -0.2 / count, "x": 0},
            title={
                "text": "<br>".join(escape(line) for line in told),
                "font": {"size": 11},
                "x": 0,
                "xanchor": "left",
                "y": 1,
                "yref": "container",
                "yanchor": "top",
                "pad": {"t": 14, "l": 6},
            },
        )
        return figure

    def table(self) -> pd.DataFrame:
        """The numbers drawn: panel, series, x, y, low, high."""
        import pandas as pd

        rows = []
        for panel in self.panels:
            names = {s.index: s.name for s in panel.series}
            ticks = dict(panel.ticks)
            rows += [
                (panel.title, names.get(p.series, ""), ticks.get(p.x, p.x), p.y, p.low, p.high)
                for p in panel.points
            ]
        return pd.DataFrame(rows, columns=["panel", "series", "x", "y", "low", "high"])

    def html(self) -> str:
        """The static picture with its title, as a piece of HTML without scripts."""
        note = f"<figcaption>{escape(self.note)}</figcaption>" if self.note else ""
        return f'<figure style="margin:0">{self.svg}{note}</figure>'

    def save(self, path: str | Path) -> Path:
        """Write the static picture to an SVG file."""
        return save_text(self.svg, path)

    def __repr__(self) -> str:
        points = sum(len(p.points) for p in self.panels)
        return f"<Chart {self.title!r}: {len(self.panels)} panels, {points} points>"

    def _repr_mimebundle_(self, **_: Any) -> dict[str, Any]:
        import json

        return {
            "application/vnd.plotly.v1+json": json.loads(self.figure.to_json()),
            "text/html": self.html(),
            "text/plain": repr(self),
        }


def _add_panel(figure: go.Figure, panel: Panel, row: int) -> None:
    inks = {s.index: s.ink for s in panel.series}
    for ribbon in panel.ribbons:
        figure.add_trace(_ribbon(ribbon, inks.get(ribbon.series, INK)), row=row, col=1)
    _add_lines(figure, panel, inks, row)
    for bar in panel.bars:
        figure.add_trace(_lying(bar, panel), row=row, col=1)
    for series in panel.series:
        mine = [p for p in panel.points if p.series == series.index]
        if mine:
            figure.add_trace(_trace(panel, mine, series), row=row, col=1)
    for band in panel.bands:
        _add_band(figure, panel, band, row)
    _axes(figure, panel, row)


def _add_lines(figure: go.Figure, panel: Panel, inks: dict[int, str], row: int) -> None:
    import plotly.graph_objects as go

    named = {s.index: s.name for s in panel.series if len(panel.series) > 1}
    told = {p.series for p in panel.points}
    for curve in panel.curves:
        shown = curve.series not in told and bool(named.get(curve.series))
        told.add(curve.series)
        figure.add_trace(
            go.Scatter(
                x=curve.x, y=[y if math.isfinite(y) else None for y in curve.y], mode="lines",
                line={
                    "color": inks.get(curve.series, INK), "width": 2,
                    "dash": "dash" if curve.dashed else "solid",
                },
                name=escape(named.get(curve.series, "")), showlegend=shown,
                hovertemplate=_hover_of_curve(panel),
            ),
            row=row, col=1,
        )  # fmt: skip
    for link in panel.links:
        line = {
            "color": inks.get(link.series, INK), "width": 1.5,
            "dash": "dot" if link.dashed else "solid",
        }  # fmt: skip
        figure.add_trace(
            go.Scatter(
                x=link.x, y=link.y, mode="lines", line=line, opacity=0.75, showlegend=False,
                hoverinfo="skip",
            ),
            row=row, col=1,
        )  # fmt: skip


def _hover_of_curve(panel: Panel) -> str:
    unit = f" {panel.unit}" if panel.unit and len(panel.unit) < 12 else ""
    return f"{escape(panel.x_title or 'x')} %{{x:.4g}}<br>%{{y:.4g}}{escape(unit)}<extra></extra>"


def _ribbon(ribbon: Ribbon, ink: str) -> go.Scatter:
    import plotly.graph_objects as go

    known = [
        (x, a, b)
        for x, a, b in zip(ribbon.x, ribbon.low, ribbon.high, strict=True)
        if math.isfinite(a) and math.isfinite(b)
    ]
    return go.Scatter(
        x=[x for x, _, _ in known] + [x for x, _, _ in reversed(known)],
        y=[b for _, _, b in known] + [a for _, a, _ in reversed(known)],
        fill="toself", mode="none", fillcolor=ink, opacity=0.16, showlegend=False,
        hoverinfo="skip",
    )  # fmt: skip


def _add_band(figure: go.Figure, panel: Panel, band: Band, row: int) -> None:
    where = {"row": row, "col": 1}
    if band.upright:
        low, high = x_span(panel)
        ends = (low if band.low is None else max(band.low, low),
                high if band.high is None else min(band.high, high))  # fmt: skip
        figure.add_vrect(x0=ends[0], x1=ends[1], fillcolor=INK, opacity=0.13, line_width=0, **where)
        place = {"x": sum(ends) / 2, "xanchor": "center", "yref": "y domain", "y": 1.0}
        figure.add_annotation(**_words(band), **place, yanchor="bottom", **where)
        return
    low, high = y_span(panel)
    top = high if band.high is None else band.high
    figure.add_hrect(
        y0=low if band.low is None else band.low, y1=top,
        fillcolor=WINDOW, opacity=0.12, line_width=0, **where,
    )  # fmt: skip
    place = {"xref": "x domain", "x": 0.01, "y": math.log10(top) if panel.log else top}
    figure.add_annotation(**_words(band), **place, xanchor="left", yanchor="top", **where)


def _words(band: Band) -> dict[str, Any]:
    return {"text": escape(band.words), "font": {"color": INK, "size": 11}, "showarrow": False}


def _trace(panel: Panel, points: list[Point], series: Series) -> go.Scatter:
    import plotly.graph_objects as go

    whiskers = any(p.low is not None for p in points)
    return go.Scatter(
        x=[p.x for p in points],
        y=[p.y for p in points],
        name=escape(series.name),
        mode="markers+text" if any(p.label for p in points) else "markers",
        text=[escape(p.label) for p in points],
        textposition=[_BESIDE["middle" if panel.bare else label_side(panel, p.x)] for p in points],
        cliponaxis=False,
        marker={
            "color": series.ink,
            "size": 10,
            "symbol": [series.symbol + ("-open" if p.hollow else "") for p in points],
        },
        error_y={
            "type": "data",
            "symmetric": False,
            "array": [0 if p.high is None else p.high - p.y for p in points],
            "arrayminus": [0 if p.low is None else p.y - p.low for p in points],
            "color": series.ink,
            "thickness": 1.4,
        }
        if whiskers
        else None,
        hovertext=["<br>".join(escape(h) for h in p.hover) for p in points],
        hoverinfo="text",
        showlegend=len(panel.series) > 1 and bool(series.name),
    )


def _lying(bar: Bar, panel: Panel) -> go.Bar:
    import plotly.graph_objects as go

    ink = next((s.ink for s in panel.series if s.index == bar.series), INK)
    whisker = None
    if bar.low is not None and bar.high is not None:
        whisker = {
            "type": "data", "symmetric": False, "array": [bar.high - bar.end],
            "arrayminus": [bar.end - bar.low], "color": INK,
        }  # fmt: skip
    return go.Bar(
        x=[bar.end - bar.start], base=[bar.start], y=[bar.y], orientation="h", width=0.5,
        marker={"color": ink}, opacity=0.85, error_x=whisker, showlegend=False,
        hovertext=["<br>".join(escape(h) for h in bar.hover)], hoverinfo="text",
    )  # fmt: skip


def _axes(figure: go.Figure, panel: Panel, row: int) -> None:
    low, high = y_span(panel)
    span = [math.log10(low), math.log10(high)] if panel.log else [low, high]
    marks = y_ticks(panel)
    figure.update_yaxes(
        type="log" if panel.log else "linear", range=span, gridcolor=GRID, zeroline=False,
        visible=not panel.bare, tickvals=[v for v, _ in marks],
        ticktext=[escape(w) for _, w in marks], row=row, col=1,
    )  # fmt: skip
    along = x_ticks(panel)
    first, last = x_span(panel)
    ends = [math.log10(first), math.log10(last)] if panel.log_x else [first, last]
    ticks = {"tickvals": [x for x, _ in along], "ticktext": [escape(t) for _, t in along]}
    figure.update_xaxes(
        type="log" if panel.log_x else "linear", range=ends if panel.curves else None,
        gridcolor="rgba(0,0,0,0)", zeroline=False, title=escape(panel.x_title),
        visible=not panel.bare, **(ticks if along else {}), row=row, col=1,
    )  # fmt: skip
