"""Three materials that trade places: a fitted answer over the triangle of their shares."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from labkit.charts.figure import INK, Chart
from labkit.charts.marks import Panel, Point, Series
from labkit.charts.svg import Svg
from labkit.errors import BriefError
from labkit.plan import surface, ternary_grid
from labkit.plan.mixture import MixtureDesign

if TYPE_CHECKING:
    import plotly.graph_objects as go

__all__ = ["TernaryChart", "ternary"]

Array = NDArray[np.float64]
RAMP = ("#00204D", "#31446B", "#666970", "#958F78", "#CAB969", "#FFE945")
"""Dark to light in even steps for every kind of colour vision: the cividis map of Nuñez,
Anderton and Renslow, PLoS ONE 13 (2018) e0199239, in six steps, from memory."""
SIZE, MARGIN = 460.0, 56.0


class TernaryChart(Chart):
    """A triangle: corners are the materials, colour is the fitted answer, rings are batches."""

    def __init__(
        self,
        names: Sequence[str],
        grid: Array,
        values: Array,
        measured: Array,
        answers: Array,
        window: tuple[float, float] | None,
        title: str,
    ) -> None:
        points = tuple(
            Point(x=float(i), y=float(y), hover=_hover(names, row, y))
            for i, (row, y) in enumerate(zip(measured, answers, strict=True))
        )
        panel = Panel(title=title, points=points, series=(Series(name="batches", index=0),))
        words = "" if window is None else "White dots: the fitted answer lies in the window."
        super().__init__([panel], title, words, height=SIZE)
        self.names, self.grid, self.values = tuple(names), grid, values
        self.measured, self.answers, self.window = measured, answers, window
        self._ends = grid.min(axis=0), float(grid.sum(axis=1)[0])

    def _share(self, rows: Array) -> Array:
        low, total = self._ends
        return np.asarray((rows - low) / (total - low.sum()))

    @property
    def svg(self) -> str:
        """The triangle as SVG text."""
        picture = Svg(SIZE + 150, SIZE, self.title)
        picture.text(12, 18, self.title, 12.5, weight="600")
        cell = 0.62 * (SIZE - 2 * MARGIN) / math.sqrt(2 * len(self.grid))
        low, high = float(self.values.min()), float(self.values.max())
        for (x, y), value in zip(self._places(self.grid), self.values, strict=True):
            ink = RAMP[_step(value, low, high)]
            picture.rect(x - cell, y - cell, 2 * cell, 2 * cell, ink, 0.9, f"{value:.3g}")
        self._window_marks(picture, cell)
        for (x, y), point in zip(self._places(self.measured), self.panels[0].points, strict=True):
            picture.mark(x, y, "circle", "#FFFFFF", 5.5, hover=" · ".join(point.hover))
            picture.mark(x, y, "circle", "#D55E00", 4, hover=" · ".join(point.hover))
        self._corners(picture)
        self._legend(picture, low, high)
        return picture.text_of()

    def _places(self, rows: Array) -> list[tuple[float, float]]:
        share, side = self._share(rows), SIZE - 2 * MARGIN
        return [
            (MARGIN + side * (b + c / 2), MARGIN + side * (1 - c * math.sqrt(3) / 2))
            for _, b, c in share.tolist()
        ]

    def _window_marks(self, picture: Svg, cell: float) -> None:
        if self.window is None:
            return
        inside = (self.values >= self.window[0]) & (self.values <= self.window[1])
        for (x, y), wanted in zip(self._places(self.grid), inside.tolist(), strict=True):
            if wanted:
                picture.mark(x, y, "circle", "#FFFFFF", cell * 0.22)

    def _corners(self, picture: Svg) -> None:
        side = SIZE - 2 * MARGIN
        bottom = MARGIN + side
        picture.text(8, bottom + 20, self.names[0], 11, "start", "600")
        picture.text(MARGIN + side + 48, bottom + 20, self.names[1], 11, "end", "600")
        top = MARGIN + side * (1 - math.sqrt(3) / 2)
        picture.text(MARGIN + side / 2, top - 14, self.names[2], 11, "middle", "600")

    def _legend(self, picture: Svg, low: float, high: float) -> None:
        for i, ink in enumerate(RAMP):
            y = MARGIN + 20 * (len(RAMP) - i)
            picture.rect(SIZE + 10, y, 18, 20, ink, 0.9)
            edge = low + (high - low) * i / len(RAMP)
            picture.text(SIZE + 34, y + 19, f"from {edge:.3g}", 10.5)

    @property
    def figure(self) -> go.Figure:
        """The triangle as a plotly figure."""
        import plotly.graph_objects as go

        scale = [[i / (len(RAMP) - 1), ink] for i, ink in enumerate(RAMP)]
        field, batches = self._share(self.grid), self._share(self.measured)
        figure = go.Figure(
            [
                go.Scatterternary(
                    a=field[:, 2], b=field[:, 0], c=field[:, 1], mode="markers",
                    marker={"color": self.values, "colorscale": scale, "size": 9,
                            "showscale": True, "symbol": "hexagon"},
                    hovertext=[f"{v:.3g}" for v in self.values], hoverinfo="text", name="fitted",
                ),
                go.Scatterternary(
                    a=batches[:, 2], b=batches[:, 0], c=batches[:, 1], mode="markers",
                    marker={"color": "#D55E00", "size": 10, "line": {"color": "#FFF", "width": 2}},
                    hovertext=["<br>".join(p.hover) for p in self.panels[0].points],
                    hoverinfo="text", name="batches",
                ),
            ]
        )  # fmt: skip
        figure.update_layout(
            ternary={
                "aaxis": {"title": self.names[2]},
                "baxis": {"title": self.names[0]},
                "caxis": {"title": self.names[1]},
                "bgcolor": "rgba(0,0,0,0)",
            },
            height=int(SIZE),
            showlegend=False,
            font={"color": INK},
            paper_bgcolor="rgba(0,0,0,0)",
        )
        return figure


def ternary(
    design: MixtureDesign,
    answers: ArrayLike,
    *,
    model: str | None = None,
    window: tuple[float, float] | None = None,
    title: str = "Fitted answer",
) -> TernaryChart:
    """The Scheffé fit of a three-material design over its triangle, with the batches made.

    Parameters
    ----------
    design : MixtureDesign
        Of three materials.
    answers : array-like, shape (runs,)
        What was measured on each batch.
    model : {"linear", "quadratic", "special cubic"}, optional
        The design's own model without one.
    window : (low, high), optional
        What is wanted; where the fit lies inside it the triangle carries white dots.
    title : str
        What the answer is, with its unit.

    Raises
    ------
    BriefError
        The design does not vary exactly three materials, or an answer is missing.
    """
    measured = np.asarray(answers, dtype=float)
    if len(design.names) != 3 or measured.shape != (len(design.percent),):
        raise BriefError(
            where="Triangle",
            found=f"{len(design.names)} materials and {measured.size} answers "
            f"for {len(design.percent)} batches",
            allowed="Three materials and one answer for each batch",
            cause="Another design, or a batch that was not measured",
            do="Plan with three materials; give the answers in the order of the runs",
        )
    fit = design.fit(measured, model)
    top = design.percent.max(axis=0)
    grid = ternary_grid(design.low, np.maximum(top, design.low), design.total)
    values = np.asarray(surface(fit, design, grid))
    return TernaryChart(design.names, grid, values, design.percent, measured, window, title)


def _hover(names: Sequence[str], row: Any, value: float) -> tuple[str, ...]:
    return (f"{value:.3g}", *(f"{n} {x:.2f} %" for n, x in zip(names, row, strict=True)))


def _step(value: float, low: float, high: float) -> int:
    place = int((value - low) / (high - low or 1.0) * len(RAMP))
    return min(max(place, 0), len(RAMP) - 1)
