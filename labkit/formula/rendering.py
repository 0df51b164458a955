"""A formula as it stands on paper: words for a terminal, a table for a notebook."""

from __future__ import annotations

from html import escape

from labkit.formula.grid import show
from labkit.formula.lines import Line, Phase

__all__ = ["formula_html", "formula_words"]


def formula_words(name: str, lines: tuple[Line, ...], qs: int | None) -> str:
    """The formula as aligned text."""
    width = max(len(x.material) for x in lines)
    keys = max(len(x.phase) for x in lines)
    rows = [
        f"{x.phase:<{keys}}  {x.material:<{width}}  {show(x.percent):>8} %{_marks(x, i == qs)}"
        for i, x in enumerate(lines)
    ]
    total = show(sum(x.percent for x in lines))
    return "\n".join([name, *rows, f"{'':<{keys}}  {'Total':<{width}}  {total:>8} %"])


def _marks(line: Line, is_qs: bool) -> str:
    return "  q.s." if is_qs else "  locked" if line.locked else ""


def formula_html(
    name: str, lines: tuple[Line, ...], phases: tuple[Phase, ...], qs: int | None
) -> str:
    """The formula as a plain table, phase by phase."""
    titles = {p.key: p for p in phases}
    rows, last = [], None
    for i, line in enumerate(lines):
        if line.phase != last:
            rows.append(_phase_row(titles[line.phase]))
            last = line.phase
        rows.append(
            f"<tr><td>{escape(line.material)}</td>"
            f'<td style="text-align:right;font-variant-numeric:tabular-nums">'
            f"{show(line.percent)}</td>"
            f'<td style="text-align:left;opacity:.75">{escape(_marks(line, i == qs).strip())}'
            f"{' · ' if line.note and _marks(line, i == qs) else ''}{escape(line.note)}</td></tr>"
        )
    total = show(sum(x.percent for x in lines))
    return (
        f'<table><caption style="text-align:left;font-weight:600">{escape(name)}</caption>'
        '<thead><tr><th style="text-align:left">Material</th><th>% w/w</th><th></th></tr></thead>'
        f"<tbody>{''.join(rows)}</tbody>"
        '<tfoot><tr><td style="text-align:left"><b>Total</b></td>'
        f'<td style="text-align:right"><b>{total}</b></td><td></td></tr></tfoot></table>'
    )


def _phase_row(phase: Phase) -> str:
    title = f"Phase {escape(phase.key)}" + (f" · {escape(phase.title)}" if phase.title else "")
    return f'<tr><th colspan="3" style="text-align:left">{title}</th></tr>'
