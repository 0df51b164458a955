"""The report in words and as a table for the notebook: questions first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import Protocol

from labkit.reading.model import Finding, ReadAs, ReadLine, ReadRecipe, RowFate, digits

__all__ = ["report_html", "report_words"]


class Shown(Protocol):
    """What a report has to show."""

    @property
    def name(self) -> str: ...
    @property
    def read_as(self) -> ReadAs: ...
    @property
    def recipes(self) -> tuple[ReadRecipe, ...]: ...
    @property
    def findings(self) -> tuple[Finding, ...]: ...
    @property
    def rows(self) -> tuple[RowFate, ...]: ...


def _taken_as(read: ReadAs) -> str:
    marks = {"\t": "tab", ";": "semicolon", ",": "comma", "|": "upright stroke"}
    parts = [
        f"sheet '{read.sheet}'" if read.sheet else "",
        f"text in {read.encoding}" if read.encoding else "",
        f"cells parted by {marks.get(read.delimiter, read.delimiter)}" if read.delimiter else "",
        {",": "decimal comma", ".": "decimal point", "mixed": "both decimal signs"}.get(
            read.decimal or "", ""
        ),
        f"headings in row {read.header_row}" if read.header_row else "no headings",
    ]
    return ", ".join(x for x in parts if x)


def _amount(line: ReadLine) -> str:
    about = "about " if line.about else ""
    if line.kind == "amount" and line.amount is not None:
        return f"{about}{digits(line.amount)} {line.unit or ''}".strip()
    if line.kind == "balance":
        return "takes the rest"
    if line.kind == "to_target":
        return "until " + (" ".join(filter(None, line.target or ())) or "it is enough")
    if line.kind == "range":
        low = "" if line.low is None else digits(line.low)
        high = "" if line.high is None else digits(line.high)
        return (
            f"{low} to {high}" if low and high else f"at most {high}" if high else f"at least {low}"
        )
    return {"missing": "no amount", "volume": f"{line.text.strip()} (a volume)"}.get(
        line.kind, f"not read: {line.text[:30]}"
    )


def _question(finding: Finding) -> str:
    offers = f"  [{' / '.join(finding.offers)}]" if finding.offers else ""
    return f"{finding.question}: {finding.say}{offers}"


def _told(finding: Finding) -> str:
    place = f"row {finding.row}: " if finding.row is not None else ""
    return place + finding.say


def report_words(report: Shown) -> str:
    """The report as text."""
    asks = [x for x in report.findings if x.severity == "ask"]
    tells = [x for x in report.findings if x.severity != "ask"]
    words = [f"{report.name}: {_taken_as(report.read_as)}", ""]
    words += [f"{len(asks)} to answer:"] if asks else ["Nothing to answer."]
    words += [f"  {_question(x)}" for x in asks]
    for recipe in report.recipes:
        words += ["", _recipe_head(recipe)]
        words += [
            f"  row {x.row:>3}  {x.phase or '-':<4} {x.name:<44} {_amount(x)}" for x in recipe.lines
        ]
        words += [f"  measured: {x.quantity} {x.value}" for x in recipe.measurements]
    if tells:
        words += ["", "To know:", *(f"  {_told(x)}" for x in tells)]
    others = [x for x in report.rows if x.kept_as not in {"line", "blank"}]
    words += ["", "Other rows:", *(_row_words(x) for x in others)] if others else []
    return "\n".join(words)


def _recipe_head(recipe: ReadRecipe) -> str:
    total = f"{digits(recipe.total)} {recipe.shown_unit} in {len(recipe.lines)} lines"
    return f"{recipe.title or 'Recipe without a title'}: in {recipe.basis}, {total}"


def _row_words(row: RowFate) -> str:
    why = f" ({row.why})" if row.why else ""
    return f"  row {row.row:>3}  {row.kept_as}{why}: {row.text[:60]}"


def report_html(report: Shown) -> str:
    """The report as HTML; every word of the sheet is escaped."""
    asks = [x for x in report.findings if x.severity == "ask"]
    tells = [x for x in report.findings if x.severity != "ask"]
    parts = [f"<p><b>{escape(report.name)}</b>: {escape(_taken_as(report.read_as))}</p>"]
    if asks:
        parts.append(f"<p><b>{len(asks)} to answer</b></p>{_list(_question(x) for x in asks)}")
    else:
        parts.append("<p>Nothing to answer.</p>")
    parts += [_recipe_html(x) for x in report.recipes]
    if tells:
        parts.append(f"<p><b>To know</b></p>{_list(_told(x) for x in tells)}")
    rows = _table(
        ("row", "kept as", "why", "text"),
        [(str(x.row), x.kept_as, x.why, x.text) for x in report.rows if x.kept_as != "blank"],
    )
    parts.append(f"<details><summary>Every row of the sheet</summary>{rows}</details>")
    return "<div>" + "".join(parts) + "</div>"


def _recipe_html(recipe: ReadRecipe) -> str:
    rows = [(str(x.row), x.phase or "", x.name, _amount(x), x.remark or "") for x in recipe.lines]
    table = _table(("row", "phase", "material", "amount", "remark"), rows)
    return f"<p><b>{escape(_recipe_head(recipe))}</b></p>{table}"


def _list(texts: Iterable[str]) -> str:
    return "<ul>" + "".join(f"<li>{escape(x)}</li>" for x in texts) + "</ul>"


def _table(heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> str:
    head = "".join(f"<th style='text-align:left'>{escape(x)}</th>" for x in heads)
    body = "".join(
        "<tr>" + "".join(f"<td style='text-align:left'>{escape(x)}</td>" for x in row) + "</tr>"
        for row in rows
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
