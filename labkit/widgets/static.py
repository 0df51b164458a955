"""The sheet as a still picture: where no live page is, in print and in exported notebooks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from html import escape
from typing import Any

__all__ = ["still_bundle_html", "still_html"]

STYLE = """<style>
.lk-paper{font:13px/1.45 system-ui,sans-serif;max-width:60em}
.lk-paper table.lk-still{border-collapse:collapse;font-variant-numeric:tabular-nums;margin:.4em 0}
.lk-paper .lk-still :is(th,td){padding:1px .7em 1px 0;text-align:left;border:0;background:none;
vertical-align:baseline;max-width:none}
.lk-paper .lk-still tr{background:none}
.lk-paper .lk-still td:first-child{white-space:nowrap}
.lk-paper .lk-still .n{text-align:right}
.lk-paper .lk-still tr.p th{border-bottom:1px solid currentColor;padding-top:.5em}
.lk-paper .lk-still tr.t :is(td,th){border-top:1px solid currentColor}
.lk-paper small{opacity:.75}
</style>"""
BAR_WIDTH = 150
SIGNS = {"stop": "■ stop", "check": "▲ check", "fyi": "● fyi"}


def still_html(page: Mapping[str, Any], readouts: Sequence[Mapping[str, Any]]) -> str:
    """A table of the lines with their bars, and the read-outs beside their basis.

    Parameters
    ----------
    page : mapping
        What :func:`labkit.widgets.page.page_dict` gives.
    readouts : sequence of mapping
        What :func:`labkit.widgets.readouts.readouts` gives.
    """
    rows, last = [], None
    for line in page["lines"]:
        if line["phase"] != last:
            last = line["phase"]
            rows.append(_phase_row(page, last))
        rows.append(_line_row(page, line))
    parent = f" <small>from {escape(page['parent'])}</small>" if page["parent"] else ""
    return (
        f'{STYLE}<div class="lk-paper"><b>{escape(page["name"])}</b>{parent}'
        f'<table class="lk-still"><thead><tr><th>Material</th><th></th><th class="n">% w/w</th>'
        f'<th class="n">change</th><th class="n">g</th><th></th></tr></thead>'
        f"<tbody>{''.join(rows)}{_total_row(page)}</tbody></table>"
        f"{_readout_table(readouts)}{_note(page)}</div>"
    )


def still_bundle_html(sheet: str, still: str) -> str:
    """The picture for viewers that read the bundle; it hides the companion of the same sheet."""
    hide = f'<style>.lk-aside[data-sheet="{sheet}"]{{display:none}}</style>'
    return hide + still


def _phase_row(page: Mapping[str, Any], key: str) -> str:
    title = next((p["title"] for p in page["phases"] if p["key"] == key), "")
    words = f"Phase {escape(key)}" + (f" · {escape(title)}" if title else "")
    return f'<tr class="p"><th colspan="6">{words}</th></tr>'


def _line_row(page: Mapping[str, Any], line: Mapping[str, Any]) -> str:
    was = line["was"]
    change = "new" if was is None else _signed(line["units"] - was)
    marks = "q.s." if line["id"] == page["qs"] else "locked" if line["locked"] else ""
    note = f" <small>{escape(line['note'])}</small>" if line["note"] else ""
    return (
        f"<tr><td>{escape(line['material'])}{note}</td><td>{_bar(line['units'], was)}</td>"
        f'<td class="n">{_percent(line["units"])}</td><td class="n">{change}</td>'
        f'<td class="n">{_grams(line["units"], page)}</td><td><small>{marks}</small></td></tr>'
    )


def _grams(units: int, page: Mapping[str, Any]) -> str:
    grams = Decimal(units) * Decimal(str(page["batch_g"])) / 1_000_000
    return str(grams.quantize(Decimal("0.01"), ROUND_HALF_UP))


def _bar(units: int, was: int | None) -> str:
    """A bar on a square-root scale, so that a tenth of a percent can still be seen."""
    width = BAR_WIDTH * (units / 1_000_000) ** 0.5
    mark = ""
    if was is not None:
        at = BAR_WIDTH * (was / 1_000_000) ** 0.5
        mark = f'<path d="M{at:.1f} 0v12" stroke="currentColor" stroke-width="1.5"/>'
    return (
        f'<svg width="{BAR_WIDTH}" height="12" role="img" aria-label="{_percent(units)} percent">'
        f'<rect y="3" width="{width:.1f}" height="6" fill="#2d7d8c"/>{mark}</svg>'
    )


def _total_row(page: Mapping[str, Any]) -> str:
    total = sum(x["units"] for x in page["lines"])
    return (
        f'<tr class="t"><th>total</th><td></td><td class="n"><b>{_percent(total)}</b></td>'
        f'<td></td><td class="n">{_grams(total, page)}</td><td></td></tr>'
    )


def _readout_table(readouts: Sequence[Mapping[str, Any]]) -> str:
    rows = []
    for readout in readouts:
        if readout.get("fold") or readout["id"] == "total":
            continue
        sign = SIGNS.get(readout.get("severity") or "", "")
        rows.append(
            f"<tr><td>{escape(readout['label'])}</td><td class='n'>{escape(_value(readout))}</td>"
            f"<td>{escape(_unit(readout))}</td><td><small>{sign} "
            f"{escape(_words(readout))}</small></td></tr>"
        )
        rows += [_finding_row(f) for f in readout.get("findings", ())]
    return f'<table class="lk-still"><tbody>{"".join(rows)}</tbody></table>'


def _finding_row(finding: Mapping[str, Any]) -> str:
    return (
        f"<tr><td></td><td colspan='3'><small>{SIGNS[finding['severity']]}: "
        f"{escape(finding['what'])} {escape(finding['do'] or '')}</small></td></tr>"
    )


def _value(readout: Mapping[str, Any]) -> str:
    if readout.get("text") is not None:
        return str(readout["text"])
    value = readout["value"]
    if value is None:
        return "–"
    word = next((w for level, w in readout.get("steps", ()) if value >= level), None)
    return word or f"{value:.{readout['digits']}f}"


def _unit(readout: Mapping[str, Any]) -> str:
    if readout.get("steps") or (readout["value"] is None and readout.get("text") is None):
        return ""
    return str(readout.get("unit") or "")


def _words(readout: Mapping[str, Any]) -> str:
    low, high, places = readout.get("low"), readout.get("high"), readout["digits"]
    steps = readout.get("steps") and readout["value"]
    said = f"{readout['value']:.{places}f} {readout['unit']}" if steps else ""
    band = "" if low is None or high is None else f"{low:.{places}f} to {high:.{places}f}"
    return " · ".join(x for x in (said, band, readout.get("words"), readout.get("basis")) if x)


def _note(page: Mapping[str, Any]) -> str:
    return f"<p>{escape(page['note'])}</p>" if page["note"] else ""


def _percent(units: int) -> str:
    text = f"{units / 10_000:.4f}"
    return text[:-2] if text.endswith("00") else text.removesuffix("0")


def _signed(units: int) -> str:
    if not units:
        return ""
    return ("+" if units > 0 else "−") + _percent(abs(units))
