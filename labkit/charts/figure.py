"""A chart that is live in a notebook and still there without one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from labkit.charts.drawing import draw_svg, y_span, y_ticks
from labkit.charts.marks import Panel, Point

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go

__all__ = ["Chart"]

INK = "#757575"
"""Grey that is read on white and on black paper alike."""
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
            subplot_titles=[p.caption for p in self.panels],
        )  # fmt: skip
        for row, panel in enumerate(self.panels, start=1):
            _add_panel(figure, panel, row)
        figure.update_layout(
            height=(self.height + 10) * count + 60,
            margin={"l": 60, "r": 20, "t": 46, "b": 50},
            paper_bgcolor="rgba(0,0,0,0)",
            plot_bgcolor="rgba(0,0,0,0)",
            font={"color": INK, "size": 12},
            hovermode="closest",
            legend={"orientation": "h", "y": -0.2 / count, "x": 0},
            title={"text": ""},
        )
        figure.update_annotations(font={"color": INK, "size": 13}, xanchor="left", x=0)
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
        target = Path(path)
        target.write_text(self.svg, encoding="utf-8")
        return target

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
    import plotly.graph_objects as go

    for link in panel.links:
        ink = next((s.ink for s in panel.series if s.index == link.series), INK)
        line = {"color": ink, "width": 1.5, "dash": "dot" if link.dashed else "solid"}
        figure.add_trace(
            go.Scatter(
                x=link.x, y=link.y, mode="lines", line=line, opacity=0.75, showlegend=False,
                hoverinfo="skip",
            ),
            row=row, col=1,
        )  # fmt: skip
    for series in panel.series:
        mine = [p for p in panel.points if p.series == series.index]
        if mine:
            figure.add_trace(_trace(mine, series, len(panel.series) > 1), row=row, col=1)
    for band in panel.bands:
        low, high = y_span(panel)
        figure.add_hrect(
            y0=low if band.low is None else band.low, y1=high if band.high is None else band.high,
            fillcolor="#009E73", opacity=0.12, line_width=0, row=row, col=1,
        )  # fmt: skip
    _axes(figure, panel, row)


def _trace(points: list[Point], series: Any, legend: bool) -> go.Scatter:
    import plotly.graph_objects as go

    whiskers = any(p.low is not None for p in points)
    return go.Scatter(
        x=[p.x for p in points],
        y=[p.y for p in points],
        name=series.name,
        mode="markers+text" if any(p.label for p in points) else "markers",
        text=[escape(p.label) for p in points],
        textposition="top center",
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
        showlegend=legend and bool(series.name),
    )


def _axes(figure: go.Figure, panel: Panel, row: int) -> None:
    low, high = y_span(panel)
    span = [math.log10(low), math.log10(high)] if panel.log else [low, high]
    marks = y_ticks(panel)
    figure.update_yaxes(
        type="log" if panel.log else "linear", range=span, gridcolor=GRID, zeroline=False,
        visible=not panel.bare, tickvals=[v for v, _ in marks], ticktext=[w for _, w in marks],
        row=row, col=1,
    )  # fmt: skip
    ticks = {"tickvals": [x for x, _ in panel.ticks], "ticktext": [t for _, t in panel.ticks]}
    figure.update_xaxes(
        gridcolor="rgba(0,0,0,0)", zeroline=False, title=panel.x_title, visible=not panel.bare,
        **(ticks if panel.ticks else {}), row=row, col=1,
    )  # fmt: skip
