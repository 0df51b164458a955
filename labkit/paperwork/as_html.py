"""Blocks as HTML. Every word from outside passes `text`, which leaves no markup."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from labkit.paperwork.blocks import (
    Block,
    Bullets,
    Cell,
    Copy,
    Facts,
    Group,
    Heading,
    Picture,
    Row,
    Side,
    Table,
    Words,
)
from labkit.reading.cells import visible

__all__ = ["block_html", "blocks_html", "text"]


def text(words: str) -> str:
    """Words as HTML text: markup shows as typed, signs that cannot be seen are written out.

    Examples
    --------
    >>> text("<b>pH</b> & more")
    '&lt;b&gt;pH&lt;/b&gt; &amp; more'
    """
    return escape(visible(str(words)), quote=True)


def blocks_html(blocks: Sequence[Block]) -> str:
    """Several blocks, one after the other."""
    return "\n".join(block_html(block) for block in blocks)


def block_html(block: Block) -> str:
    """One block."""
    match block:
        case Heading():
            return f"<h{block.level}>{text(block.text)}</h{block.level}>"
        case Words():
            mark = "" if block.tone == "plain" else f' class="lk-{block.tone}"'
            return f"<p{mark}>{_lines(block.text)}</p>"
        case Bullets():
            return _bullets(block)
        case Facts():
            pairs = "".join(
                f"<dt>{text(name)}</dt><dd>{_lines(value)}</dd>" for name, value in block.pairs
            )
            return f"<dl>{pairs}</dl>"
        case Table():
            return _table(block)
        case Copy():
            title = f"<h3>{text(block.title)}</h3>" if block.title else ""
            return f'{title}<div class="lk-copy">{_lines(block.text)}</div>'
        case Picture():
            return f"<figure>{block.svg}<figcaption>{text(block.title)}</figcaption></figure>"
        case Side():
            halves = "".join(
                f"<div>{blocks_html(half)}</div>" for half in (block.left, block.right)
            )
            return f'<div class="lk-side">{halves}</div>'
    return '<div class="lk-break"></div>'


def _lines(words: str) -> str:
    return "<br>".join(text(line) for line in str(words).splitlines()) if words else ""


def _bullets(block: Bullets) -> str:
    kind = "ol" if block.ordered else "ul"
    mark = ' class="lk-ticks"' if block.ticks else ""
    return f"<{kind}{mark}>{''.join(f'<li>{_lines(x)}</li>' for x in block.items)}</{kind}>"


def _table(table: Table) -> str:
    stack = " lk-stack" if len(table.head) > table.stack_from else ""
    caption = f"<caption>{text(table.caption)}</caption>" if table.caption else ""
    head = "".join(
        f'<th scope="col"{_mark(["lk-number"] if i in table.numeric else [])}>{text(name)}</th>'
        for i, name in enumerate(table.head)
    )
    body = "".join(_row(row, table) for row in table.rows)
    foot = "".join(_row(row, table) for row in table.foot)
    return (
        f'<div class="lk-table{stack}"><table>{caption}<thead><tr>{head}</tr></thead>'
        f"<tbody>{body}</tbody>{f'<tfoot>{foot}</tfoot>' if foot else ''}</table></div>"
    )


def _row(row: Row, table: Table) -> str:
    if isinstance(row, Group):
        words = text(row.text)
        return f'<tr class="lk-group"><th colspan="{len(table.head)}">{words}</th></tr>'
    return f"<tr>{''.join(_cell(cell, i, table) for i, cell in enumerate(row))}</tr>"


def _cell(cell: str | Cell, column: int, table: Table) -> str:
    kind = cell.kind if isinstance(cell, Cell) else "plain"
    words = cell.text if isinstance(cell, Cell) else cell
    marks = ["lk-number"] if column in table.numeric else []
    if kind != "plain":
        marks.append("lk-quiet" if kind == "muted" else f"lk-{kind}")
    label = f' data-label="{text(table.head[column])}"'
    return f"<td{_mark(marks)}{label}>{_lines(words)}</td>"


def _mark(names: list[str]) -> str:
    return f' class="{" ".join(names)}"' if names else ""
