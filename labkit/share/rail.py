"""The family tree for a narrow screen: one trial below the other, branches as rails."""

from __future__ import annotations

from collections.abc import Mapping

from labkit.charts.marks import INKS
from labkit.charts.svg import Svg
from labkit.charts.tree import layout
from labkit.charts.trend import Lineage

__all__ = ["rail_svg"]

ROW, LANE, WIDTH = 27.0, 16.0, 340.0
_LETTER = 6.1


def rail_svg(lineage: Lineage, words: Mapping[str, str]) -> str:
    """Trials from the oldest down, each joined with its parents.

    Parameters
    ----------
    lineage : Lineage
        The trials of one product.
    words : mapping of str to str
        What to say beside the label of each, cut to the width.
    """
    lanes = _lanes(lineage)
    names = list(lineage.order)
    places = {name: (12 + LANE * lanes[name], 16 + ROW * i) for i, name in enumerate(names)}
    left = 24 + LANE * max(lanes.values(), default=0)
    picture = Svg(WIDTH, ROW * len(names) + 8, "Family tree")
    for name in names:
        x, y = places[name]
        for parent in lineage.parents.get(name, ()):
            if parent in places:
                px, py = places[parent]
                ink = INKS[int(max(lanes[name], lanes[parent])) % len(INKS)]
                picture.polyline([(px, py), (x, py + ROW * 0.8), (x, y)], ink, 2)
    for name in names:
        x, y = places[name]
        picture.mark(x, y, "circle", INKS[int(lanes[name]) % len(INKS)], 5)
        label = lineage.labels[name]
        picture.text(left, y + 4, label, 12.5, weight="600")
        start = left + 10 + 7.4 * len(label)
        room = max(0, int((WIDTH - start) / _LETTER))
        said = words.get(name, "")
        said = said if len(said) <= room else said[: max(room - 1, 0)].rstrip(" ;,") + "…"
        if said:
            picture.text(start, y + 4, said, 11.5, opacity=0.8)
    return picture.text_of()


def _lanes(lineage: Lineage) -> dict[str, int]:
    rows = {name: -y for name, (_, y) in layout(lineage).items()}
    used = sorted(set(rows.values()))
    return {name: min(used.index(row), 8) for name, row in rows.items()}
