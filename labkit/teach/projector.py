"""The class on the wall: a large page that follows the class's bench by itself.

The page is one file without scripts; the browser loads it again every few seconds, and
`Projector.follow` writes it anew. It works on any bench: a file, or a server.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import os
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from labkit.bench import Bench
from labkit.charts.drawing import draw_svg
from labkit.charts.marks import Panel, Point, Series
from labkit.errors import ShareError
from labkit.paperwork.as_html import text
from labkit.quantities import parse
from labkit.teach.class_table import LOGARITHMIC, class_spread, class_table, desks_of
from labkit.teach.terms import terms_of

__all__ = ["Projector"]

STYLE = """
:root{color-scheme:light dark;--desk:#fff;--ink:#111814;--soft:#4c5852;--line:#c4ccc7;--odd:#8a4b00}
@media (prefers-color-scheme:dark){:root{--desk:#101412;--ink:#f0f4f1;--soft:#aab6af;
--line:#3b4540;--odd:#f0b765}}
body{margin:0;padding:2vh 3vw;background:var(--desk);color:var(--ink);
font:clamp(1.1rem,1.75vw,2.4rem)/1.3 "Source Sans 3","Segoe UI",Roboto,Arial,sans-serif}
header{display:flex;gap:1.5em;align-items:baseline;flex-wrap:wrap}
h1{font-size:1.4em;margin:0;line-height:1.15}
.count{margin:0 0 .3em;color:var(--soft)}
section{margin:0 0 .7em}h2{font-size:1.15em;margin:0 0 .2em}
.spread{color:var(--soft);margin:.1em 0 .5em}
table{border-collapse:collapse;width:100%}
th{font-weight:500;color:var(--soft);text-align:left}
td,th{padding:.12em .7em .12em 0;border-bottom:1px solid var(--line);vertical-align:top}
.n{text-align:right;font-variant-numeric:tabular-nums}
.odd{color:var(--odd);font-weight:650}
svg{width:100%;height:auto;max-height:62vh}.shared svg{max-height:27vh}
@media (min-width:1000px){.two{display:grid;grid-template-columns:3fr 2fr;
gap:0 3vw;align-items:start}}
"""
ROWS = {1: 9, 2: 4}
"""Rows of the table by how many quantities share the wall; it cannot be scrolled."""


class Projector:
    """A large page of the class, read only, with the words that stand for desks.

    Parameters
    ----------
    bench : Bench, path or address
        The class's bench; a path or address is opened read only at each look.
    quantity : str, optional
        Only this; everything the class measures otherwise.
    every : str
        How often the browser loads the page again.
    """

    def __init__(
        self,
        bench: Bench | str | os.PathLike[str],
        quantity: str | None = None,
        every: str = "5 s",
    ) -> None:
        self._bench, self._quantity = bench, quantity
        self.every_s = max(1, round(parse(every, "time", where="Projector").to("s")))

    @property
    def html(self) -> str:
        """The page as it stands now."""
        if isinstance(self._bench, Bench):
            return self._page(self._bench)
        with Bench.open(self._bench, read_only=True) as bench:
            return self._page(bench)

    def save(self, path: str | os.PathLike[str]) -> Path:
        """Write the page; whoever has it open sees it at the next look.

        Raises
        ------
        ShareError
            The place cannot be written to.
        """
        target = Path(path).expanduser()
        part = target.with_name(f".{target.name}.part")
        try:
            part.write_text(self.html, encoding="utf-8")
            part.replace(target)
        except OSError as error:
            raise ShareError(
                where=target.name,
                found=error.strerror or "it cannot be written",
                allowed="A file in a folder that exists, with room on the disk",
                cause="The folder is missing, write-protected or full",
                do="Choose another place; the class's bench is as it was",
            ) from error
        return target

    def follow(
        self,
        path: str | os.PathLike[str],
        *,
        times: int | None = None,
        before: Callable[[], Any] | None = None,
        wait: Callable[[float], None] = time.sleep,
    ) -> int:
        """Write the page again and again, until stopped (Ctrl-C) or ``times`` looks.

        Parameters
        ----------
        path : path
            Where the page lies; open it in a browser on the wall.
        times : int, optional
            How many looks.
        before : callable, optional
            Called before each look, such as ``lambda: room.gather("hand-ins")``; while it
            has nothing to gather yet, the page stays as it is.
        wait : callable
            Waits for a number of seconds.

        Returns
        -------
        int
            How often the page was written.
        """
        done = 0
        while times is None or done < times:
            if done:
                wait(self.every_s)
            if before is not None:
                with contextlib.suppress(ShareError):
                    before()
            self.save(path)
            done += 1
        return done

    def _page(self, bench: Bench) -> str:
        terms = terms_of(bench)
        wanted = [self._quantity] if self._quantity else list(terms.measures)
        body = "".join(self._section(bench, q, len(wanted)) for q in wanted)
        digest = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
        policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'"
        desks = len(desks_of(bench, terms))
        return (
            '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
            f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
            f'<meta http-equiv="refresh" content="{self.every_s}">\n'
            '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
            f"<title>{text(terms.title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n"
            f'<header><h1>{text(terms.title)}</h1><p class="count">{desks} '
            f"{'desk has' if desks == 1 else 'desks have'} handed in</p></header>\n{body}\n"
            "</body>\n</html>\n"
        )

    def _section(self, bench: Bench, quantity: str, sharing: int) -> str:
        terms = terms_of(bench)
        table = class_table(bench, terms, quantity)
        if table.empty:
            return f"<section><h2>{text(quantity)}</h2><p>nothing measured yet</p></section>"
        rows = table.to_dict("records")
        odd = [row for row in rows if row["flag"]]
        shown = [*odd, *(row for row in rows if not row["flag"])][: ROWS.get(sharing, 3)]
        cells = "".join(_row(row) for row in shown)
        more = len(rows) - len(shown)
        spread = str(class_spread(bench, terms, quantity)).partition(": ")[2]
        told = f'<p class="spread">and {more} more readings</p>' if more else ""
        return (
            f'<section class="{"shared" if sharing > 1 else "alone"}"><h2>{text(quantity)}</h2>'
            f'<p class="spread">{text(spread)}</p>'
            f'<div class="two"><div>{_picture(rows, quantity, sharing)}</div>'
            '<div><table><tr><th>desk</th><th class="n">reading</th><th class="n">class</th>'
            f"<th></th></tr>{cells}</table>{told}</div></div></section>"
        )


def _shown(value: float, unit: str) -> str:
    if unit == "pH":
        return f"{value:.2f}"
    return f"{float(f'{value:.3g}'):.0f}" if abs(value) >= 1000 else f"{value:.3g}"


def _row(row: dict[Any, Any]) -> str:
    flag = str(row["flag"]).partition(":")[0]
    mark = f'<td class="odd">{text(flag[:24])}</td>' if flag else "<td></td>"
    numbers = "".join(
        f'<td class="n">{_shown(row[name], row["unit"])}</td>' for name in ("value", "class")
    )
    return f"<tr><td>{text(str(row['desk']))}</td>{numbers}{mark}</tr>"


def _picture(rows: list[dict[Any, Any]], quantity: str, sharing: int) -> str:
    ordered = sorted(rows, key=lambda row: (float(row["value"]), str(row["id"])))
    points = tuple(
        Point(
            x=float(i),
            y=float(row["value"]),
            series=1 if row["flag"] else 0,
            label=str(row["desk"]) if row["flag"] and len(rows) <= 60 else "",
        )
        for i, row in enumerate(ordered, start=1)
    )
    unit = str(ordered[0]["unit"]).replace("*", "·")
    log = quantity in LOGARITHMIC and all(p.y > 0 for p in points)
    panel = Panel(
        title=quantity,
        unit="" if unit == "pH" else unit,
        points=points,
        series=(Series(name="with the class", index=0), Series(name="look again", index=1)),
        log=log,
        x_title="desks, lowest first",
    )
    height = 300 if sharing == 1 else 190
    return draw_svg((panel,), f"{quantity} of the class", width=520, height=height)
