"""The story of a history as one page: for a telephone, a screen, and paper.

Made from the records alone. The page loads nothing and runs nothing: its policy allows
its own style sheet and pictures inside the file. Names and numbers are escaped, notes
pass a sanitiser.
"""

from __future__ import annotations

import base64
import hashlib
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Any, cast

from labkit.bench import Bench
from labkit.bench.history import History
from labkit.charts import family_tree, trend
from labkit.charts.drawing import draw_svg
from labkit.charts.marks import Panel
from labkit.charts.trend import Lineage
from labkit.errors import LabkitError
from labkit.paperwork.as_html import block_html, text
from labkit.paperwork.blocks import Facts, Group, Table
from labkit.paperwork.style import PAPER, SHARED
from labkit.share.notes import note_html
from labkit.share.package import Package, digest_of, kept_back
from labkit.share.pictures import Pictures
from labkit.share.rail import rail_svg
from labkit.share.report_style import REPORT
from labkit.share.story import Chapter, Outcome, Product, day, products

__all__ = ["TOLD", "page", "report_html"]

TOLD = 120
"""The most trials that are told in full."""
_INLINE = ' style="max-width:100%;height:auto"'
_SIGNS = {
    "circle": "●",
    "square": "■",
    "diamond": "◆",
    "triangle-up": "▲",
    "cross": "✚",
    "x": "✖",
    "star": "★",
}
_MARKS = {True: "✓ as expected", False: "✗ outside what was expected", None: ""}


def report_html(history: History, package: Package, held: int = 0) -> str:
    """The report of a shared history.

    Parameters
    ----------
    history : shared history
        What is told.
    package : Package
        What it came in: names of people, what was kept back.
    held : int
        How many records are not shown because something that they rest on is missing.
    """
    told = products(history, TOLD)
    pictures = Pictures(history)
    parts = [
        _head(package, told, history),
        f'<p class="lk-held">{held} records are not shown: something they rest on is missing.</p>'
        if held
        else "",
        _contents(told),
        *(_product(history, package, one, i, pictures) for i, one in enumerate(told)),
        _checks(history, package),
    ]
    return page(f"Trial history: {package.name}", "\n".join(part for part in parts if part))


def page(title: str, inside: str) -> str:
    """A whole page with its policy; ``inside`` is HTML already."""
    style = PAPER + SHARED + REPORT
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = (
        f"default-src 'none'; img-src data:; style-src 'sha256-{digest}'; "
        "base-uri 'none'; form-action 'none'"
    )
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        '<meta name="referrer" content="no-referrer">\n'
        f"<title>{text(title)}</title>\n<style>{style}</style>\n</head>\n"
        f'<body>\n<main class="lk-paper">\n{inside}\n</main>\n</body>\n</html>\n'
    )


def _head(package: Package, told: list[Product], history: History) -> str:
    trials = [trial for one in told for trial in one.trials]
    count = len(history.trials(withdrawn=True))
    days = sorted(t.created for t in trials)
    span = _span(days[0], days[-1]) if days else ""
    names = ", ".join(sorted(package.persons.values()))
    under = f"{_many(count, 'trial')} of {_many(len(told), 'product')}{span}"
    return (
        f'<header><p class="lk-kind">Trial history</p><h1>{text(package.name)}</h1>'
        f'<p class="lk-under">{text(under)}{text(f". Recorded by {names}") if names else ""}</p>'
        "</header>"
    )


def _span(first: str, last: str) -> str:
    return f", {day(first)}" + (f" to {day(last)}" if first[:10] != last[:10] else "")


def _many(n: int, word: str) -> str:
    return f"{n} {word}" if n == 1 else f"{n} {word}s"


def _contents(told: list[Product]) -> str:
    if len(told) < 2:
        return ""
    links = "".join(
        f'<li><a href="#product-{i}">{text(one.name)}</a> ({_many(len(one.trials), "trial")})</li>'
        for i, one in enumerate(told)
    )
    return f"<nav><ul>{links}</ul></nav>"


def _product(
    history: History, package: Package, product: Product, number: int, pictures: Pictures
) -> str:
    older = len(product.trials) - len(product.told)
    parts = [
        f'<section class="lk-product" id="product-{number}"><h2>{text(product.name)}</h2>',
        _lead(product),
        _stands(product.last),
        _recipe(product.last),
        _tree(history, product),
        *_trends(history, product),
        "<h3>Trial by trial</h3>",
        f'<p class="lk-muted">The newest {len(product.told)}; older ones are in the records.</p>'
        if older
        else "",
        *(_card(chapter, pictures) for chapter in product.told),
        "</section>",
    ]
    return "\n".join(part for part in parts if part)


def _lead(product: Product) -> str:
    first, last = product.told[0].trial, product.last.trial
    words = f"From {first.label} ({day(first.created)})"
    words += f" to {last.label}" if last.id != first.id else ""
    kept = [d for d in product.last.decisions if d.body["verdict"] == "keep"]
    words += f", which was kept: {kept[-1].body['reason']}" if kept else ""
    return f'<p class="lk-lead">{text(words)}.</p>'


def _stands(chapter: Chapter) -> str:
    latest: dict[str, Outcome] = {}
    for one in chapter.outcomes:
        if one.withdrawn is None:
            latest.setdefault(one.quantity, one)
    shown = [one for one in latest.values() if len(one.found) <= 24][:5]
    items = "".join(
        f"<li><b>{text(one.found)}</b><span>{text(one.quantity)}</span></li>" for one in shown
    )
    return f'<ul class="lk-now">{items}</ul>' if items else ""


def _recipe(chapter: Chapter) -> str:
    trial = chapter.trial
    try:
        formula = trial.formula
    except LabkitError:
        count = len(trial.record.body.get("formula", {}).get("lines", ()))
        return (
            f"<h3>Recipe of {text(trial.label)}</h3>"
            f'<p class="lk-muted">{_many(count, "line")}, at least one of them kept back.</p>'
        )
    rows: list[Any] = []
    for phase in formula.phases:
        steps = " · ".join(phase.steps)
        rows.append(Group(text=f"{phase.key}  {phase.title}" + (f": {steps}" if steps else "")))
        rows += [
            (line.material, f"{line.percent.normalize():f}" + (" q.s." if i == formula.qs else ""))
            for i, line in enumerate(formula.lines)
            if line.phase == phase.key
        ]
    table = Table(
        head=("material", "% w/w"),
        rows=rows,
        foot=[("Total", f"{formula.total.normalize():f}")],
        numeric=frozenset({1}),
    )
    return f"<h3>Recipe of {text(trial.label)}</h3>{block_html(table)}"


def _tree(history: History, product: Product) -> str:
    if len(product.trials) < 2:
        return ""
    names = [trial.label for trial in product.trials]
    bench = cast("Bench", history)
    words = {c.trial.id: "; ".join(c.changes) for c in product.told}
    try:
        wide = family_tree(bench, trials=names).svg
        narrow = rail_svg(Lineage.of(bench, names), words)
    except LabkitError:
        return ""
    return "<h3>Family tree</h3>" + _figure(wide, narrow, "Each trial stands after its parent.")


def _figure(wide: str, narrow: str, words: str) -> str:
    caption = f"<figcaption>{text(words)}</figcaption>" if words else ""
    return (
        f'<figure><div class="lk-wide">{wide.replace(_INLINE, "")}</div>'
        f'<div class="lk-narrow">{narrow.replace(_INLINE, "")}</div>{caption}</figure>'
    )


def _trends(history: History, product: Product) -> Iterator[str]:
    names = [trial.label for trial in product.trials]
    counted = Counter(
        one.quantity for chapter in product.told for one in chapter.outcomes if not one.withdrawn
    )
    chosen = [q for q in ("pH", "viscosity") if counted[q] > 1]
    chosen += [q for q, n in counted.most_common() if n > 1 and q not in chosen]
    drawn = 0
    for quantity in chosen:
        if drawn == 2:
            return
        try:
            chart = trend(cast("Bench", history), quantity, trials=names)
        except LabkitError:
            continue
        drawn += 1
        narrow = draw_svg([_bare(p) for p in chart.panels], chart.title, width=350, height=250)
        title = quantity[0].upper() + quantity[1:] if not quantity.startswith("pH") else quantity
        legend = [s for panel in chart.panels for s in panel.series if s.name]
        words = "; ".join(f"{_SIGNS[s.symbol]} {s.name}" for s in legend) if len(legend) > 1 else ""
        words = ". ".join(part for part in (words, chart.note) if part)
        wide = draw_svg([_bare(p) for p in chart.panels], chart.title, height=280)
        yield f"<h3>{text(title)}, trial by trial</h3>" + _figure(wide, narrow, words)


def _bare(panel: Panel) -> Panel:
    """Without names of series (the caption has them) and without a title for the trials."""
    named = tuple(replace(one, name="") for one in panel.series)
    return replace(panel, series=named, x_title="")


def _card(chapter: Chapter, pictures: Pictures) -> str:
    trial = chapter.trial
    gone = trial.withdrawn
    origin = f"from {' and '.join(chapter.built_on)}" if chapter.built_on else "a new start"
    head = f"<h4>{text(trial.label)}<span>{text(origin)} · {text(day(trial.created))}</span></h4>"
    why = f'<div class="lk-why">{note_html(trial.note)}</div>' if trial.note else ""
    changed = "".join(f"<li>{text(one)}</li>" for one in chapter.changes)
    read = "".join(map(_outcome, chapter.outcomes))
    said = "".join(
        note_html(str(r.body.get("text") or r.body.get("reason", ""))) for r in chapter.said
    )
    said += "".join(
        f"<p><strong>{text(d.body['verdict'])}</strong>: {text(d.body['reason'])}</p>"
        for d in chapter.decisions
    )
    inside = [
        head,
        f'<p class="lk-later">withdrawn: {text(gone)}</p>' if gone else "",
        why,
        _part("changed", f'<ul class="lk-plain">{changed}</ul>' if changed else ""),
        _part("measured", f'<ul class="lk-plain lk-reads">{read}</ul>' if read else ""),
        _part("seen", said),
        pictures.html(chapter.photos),
    ]
    state = "lk-card lk-gone" if gone else "lk-card"
    return f'<article class="{state}">{"".join(inside)}</article>'


def _part(name: str, inside: str) -> str:
    return f'<div class="lk-part"><b>{name}</b><div>{inside}</div></div>' if inside else ""


def _outcome(one: Outcome) -> str:
    before = f" ({text(one.before)})" if one.before else ""
    mark = _MARKS[None if one.withdrawn else one.inside]
    expected = f"expected {one.expected}{f': {mark}' if mark else ''}" if one.expected else ""
    small = "; ".join(words for words in (one.detail, expected) if words)
    fixed = "".join(f'<span class="lk-later">{text(words)}</span>' for words in one.amended)
    if one.withdrawn:
        fixed += f'<span class="lk-later">does not count: {text(one.withdrawn)}</span>'
    details = f'<span class="lk-small">{text(small)}</span>' if small else ""
    return (
        f'<li>{text(one.quantity)} <span class="lk-read">{text(one.found)}</span>{before}'
        f"{details}{fixed}</li>"
    )


def _checks(history: History, package: Package) -> str:
    kinds = Counter(record.kind for record in history.records())
    told = ", ".join(f"{n} {kind}" for kind, n in sorted(kinds.items()))
    seals = [(r.created, str(r.body["digest"])) for r in history.records("seal")]
    pairs = [
        ("Records", f"{len(package.records)}: {told}"),
        ("Check number", digest_of(package.records)),
        *((f"Sealed {day(made)}", digest) for made, digest in seals[-3:]),
        ("Kept back", kept_back(package.left_out) or "nothing that was recorded as private"),
    ]
    if package.partial:
        pairs.append(("A selection", "other trials of that bench were not shared"))
    return (
        '<section class="lk-checks"><h2>What can be checked</h2>'
        "<p>Every record in the file that this page came in is named by a number made from its "
        "content, and names the records it was built on in the same way: a change anywhere "
        "shows. This page was made from those records; it proves nothing by itself.</p>"
        f'<div class="lk-mono">{block_html(Facts(pairs=pairs))}</div>'
        "<p>With labkit: <code>labkit verify</code> says whether anything was changed or is "
        "missing, <code>labkit recalculate</code> whether the stored forecasts come out again. "
        "Without: README.txt in the file says how, with sha256sum alone.</p>"
        '<p class="lk-muted">None of this says that a product is any good. Local law, supplier '
        "documents, a challenge test and a qualified safety assessor decide.</p></section>"
    )
