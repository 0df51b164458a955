"""A small SVG writer of our own: for reports, widgets, and charts without a browser library."""

from __future__ import annotations

import math
from html import escape

__all__ = ["Svg", "nice_ticks"]


class Svg:
    """A drawing built up mark by mark, then written as text.

    Parameters
    ----------
    width, height : float
        Size of the drawing [px].
    title : str
        Spoken by screen readers.

    Examples
    --------
    >>> picture = Svg(10, 10, "A line")
    >>> picture.line(0, 0, 10, 10)
    >>> picture.text_of().startswith('<svg xmlns="http://www.w3.org/2000/svg"')
    True
    """

    def __init__(self, width: float, height: float, title: str) -> None:
        self.width, self.height, self.title = width, height, title
        self._marks: list[str] = []

    def line(
        self, x1: float, y1: float, x2: float, y2: float, ink: str = "currentColor",
        width: float = 1, dash: str = "", opacity: float = 1,
    ) -> None:  # fmt: skip
        """A straight line [px]."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._marks.append(
            f'<line x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}" '
            f'stroke="{escape(ink)}" stroke-width="{_n(width)}" opacity="{_n(opacity)}"{dashed}/>'
        )

    def polyline(
        self, points: list[tuple[float, float]], ink: str = "currentColor", width: float = 1.5,
        dash: str = "",
    ) -> None:  # fmt: skip
        """A line through several points [px]."""
        way = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self._marks.append(
            f'<polyline points="{way}" fill="none" stroke="{escape(ink)}" '
            f'stroke-width="{_n(width)}" stroke-linejoin="round"{dashed}/>'
        )

    def polygon(
        self, points: list[tuple[float, float]], fill: str = "currentColor", opacity: float = 0.2
    ) -> None:
        """A filled outline [px]."""
        way = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
        self._marks.append(
            f'<polygon points="{way}" fill="{escape(fill)}" opacity="{_n(opacity)}"/>'
        )

    def rect(
        self, x: float, y: float, width: float, height: float, fill: str = "currentColor",
        opacity: float = 1, hover: str = "",
    ) -> None:  # fmt: skip
        """A filled rectangle [px]."""
        said = f"<title>{escape(hover)}</title>" if hover else ""
        self._marks.append(
            f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(max(width, 0))}" '
            f'height="{_n(max(height, 0))}" fill="{escape(fill)}" opacity="{_n(opacity)}">'
            f"{said}</rect>"
        )

    def mark(
        self, x: float, y: float, symbol: str, ink: str, size: float = 4.5, hollow: bool = False,
        hover: str = "",
    ) -> None:  # fmt: skip
        """A symbol centred on a point [px]."""
        said = f"<title>{escape(hover)}</title>" if hover else ""
        fill = "none" if hollow else escape(ink)
        style = f'fill="{fill}" stroke="{escape(ink)}" stroke-width="1.5"'
        if symbol == "circle":
            self._marks.append(
                f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(size)}" {style}>{said}</circle>'
            )
            return
        way = " ".join(f"{_n(x + size * dx)},{_n(y + size * dy)}" for dx, dy in _OUTLINE[symbol])
        self._marks.append(f'<polygon points="{way}" {style}>{said}</polygon>')

    def text(
        self, x: float, y: float, words: str, size: float = 11, anchor: str = "start",
        weight: str = "normal", ink: str = "currentColor", opacity: float = 1,
    ) -> None:  # fmt: skip
        """Words at a point [px]; anchor is start, middle or end."""
        self._marks.append(
            f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(size)}" text-anchor="{anchor}" '
            f'font-weight="{weight}" fill="{escape(ink)}" opacity="{_n(opacity)}">'
            f"{escape(words)}</text>"
        )

    def text_of(self) -> str:
        """The drawing as SVG text."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(self.width)} '
            f'{_n(self.height)}" role="img" aria-label="{escape(self.title)}" '
            f'font-family="system-ui, sans-serif" width="{_n(self.width)}" '
            f'style="max-width:100%;height:auto">{"".join(self._marks)}</svg>'
        )


_ROOT = math.sqrt(0.5)
_THIRD = 0.35
_OUTLINE: dict[str, list[tuple[float, float]]] = {
    "square": [(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)],
    "diamond": [(0, -1.25), (1.25, 0), (0, 1.25), (-1.25, 0)],
    "triangle-up": [(0, -1.2), (1.15, 0.9), (-1.15, 0.9)],
    "cross": [
        (-_THIRD, -1.2), (_THIRD, -1.2), (_THIRD, -_THIRD), (1.2, -_THIRD), (1.2, _THIRD),
        (_THIRD, _THIRD), (_THIRD, 1.2), (-_THIRD, 1.2), (-_THIRD, _THIRD), (-1.2, _THIRD),
        (-1.2, -_THIRD), (-_THIRD, -_THIRD),
    ],
    "x": [
        (_ROOT * (a - b), _ROOT * (a + b))
        for a, b in [
            (-_THIRD, -1.2), (_THIRD, -1.2), (_THIRD, -_THIRD), (1.2, -_THIRD), (1.2, _THIRD),
            (_THIRD, _THIRD), (_THIRD, 1.2), (-_THIRD, 1.2), (-_THIRD, _THIRD), (-1.2, _THIRD),
            (-1.2, -_THIRD), (-_THIRD, -_THIRD),
        ]
    ],
    "star": [
        (r * math.sin(k * math.pi / 5), -r * math.cos(k * math.pi / 5))
        for k, r in enumerate([1.3, 0.55] * 5)
    ],
}  # fmt: skip


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") or "0"


def nice_ticks(low: float, high: float, log: bool = False, count: int = 5) -> list[float]:
    """Round numbers along an axis.

    Examples
    --------
    >>> nice_ticks(0, 10), nice_ticks(800, 70000, log=True)
    ([0.0, 2.0, 4.0, 6.0, 8.0, 10.0], [1000.0, 2000.0, 5000.0, 10000.0, 20000.0, 50000.0])
    """
    if log:
        decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
        width = math.log10(high / low)
        steps = (1, 1.5, 2, 3, 5, 7) if width < 1.2 else (1, 2, 5) if width < 3 else (1,)
        ticks = [m * 10.0**d for d in decades for m in steps]
        return [t for t in ticks if low * 0.999 <= t <= high * 1.001]
    rough = (high - low) / count or 1.0
    power = 10.0 ** math.floor(math.log10(rough))
    step = min((m * power for m in (1, 2, 5, 10)), key=lambda s: abs(s - rough))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [round(k * step, 12) for k in range(first, last + 1)]
