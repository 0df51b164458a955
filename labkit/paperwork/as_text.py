"""Blocks as plain text and as Markdown."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from labkit.paperwork.blocks import (
    Block,
    Break,
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
from labkit.reading.cells import escape_markdown, visible

__all__ = ["blocks_markdown", "blocks_text", "shown"]

WIDTH = 78


def shown(words: str) -> str:
    """Words with signs that cannot be seen written out.

    Examples
    --------
    >>> shown("pH\\u202e5")
    'pH⟨U+202E⟩5'
    """
    return visible(str(words))


def blocks_text(blocks: Sequence[Block]) -> str:
    """Several blocks as text, a blank line between them."""
    return "\n\n".join(part for part in map(_block_text, blocks) if part)


def _block_text(block: Block) -> str:
    match block:
        case Heading():
            words = shown(block.text)
            return f"{words}\n{('=' if block.level == 2 else '-') * len(words)}"
        case Words():
            return "\n".join(_wrap(line) for line in shown(block.text).splitlines())
        case Bullets():
            marks = _marks(block, "{}.", "[ ]", "-")
            return "\n".join(
                textwrap.fill(shown(x), WIDTH, initial_indent=f"{m} ", subsequent_indent="   ")
                for m, x in zip(marks, block.items, strict=True)
            )
        case Facts():
            width = max((len(shown(name)) for name, _ in block.pairs), default=0)
            return "\n".join(
                textwrap.fill(
                    shown(value) or "–",
                    max(WIDTH, width + 24),
                    initial_indent=f"{shown(name):<{width}}  ",
                    subsequent_indent=" " * (width + 2),
                )
                for name, value in block.pairs
            )
        case Table():
            return _table_text(block)
        case Copy():
            return "\n".join(x for x in (shown(block.title), shown(block.text)) if x)
        case Picture():
            return f"[{shown(block.title)}]"
        case Side():
            return "\n\n".join((blocks_text(block.left), blocks_text(block.right)))
    return ""


def _wrap(line: str) -> str:
    return textwrap.fill(line, WIDTH)


def _marks(block: Bullets, number: str, tick: str, plain: str) -> list[str]:
    if block.ordered:
        return [number.format(k) for k in range(1, len(block.items) + 1)]
    return [tick if block.ticks else plain] * len(block.items)


def _cells(row: Row) -> list[str]:
    assert not isinstance(row, Group)
    return [shown(_words(cell)).replace("\n", "; ") for cell in row]


def _words(cell: str | Cell) -> str:
    if isinstance(cell, str):
        return cell
    empty = {"blank": "______", "tick": "[ ]"}
    return cell.text or empty.get(cell.kind, "")


def _table_text(table: Table) -> str:
    rows = [*table.rows, *table.foot]
    grid = [_cells(row) for row in rows if not isinstance(row, Group)]
    widths = [
        max(len(row[i]) for row in [list(table.head), *grid]) if grid else len(name)
        for i, name in enumerate(table.head)
    ]
    lines = [shown(table.caption)] if table.caption else []
    lines.append(_line([shown(x) for x in table.head], widths, table.numeric))
    lines.append("  ".join("-" * width for width in widths))
    for row in rows:
        if isinstance(row, Group):
            lines.append(shown(row.text))
        else:
            lines.append(_line(_cells(row), widths, table.numeric))
    return "\n".join(lines)


def _line(cells: Sequence[str], widths: Sequence[int], numeric: frozenset[int]) -> str:
    parts = [
        cell.rjust(width) if i in numeric else cell.ljust(width)
        for i, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ]
    return "  ".join(parts).rstrip()


def blocks_markdown(blocks: Sequence[Block]) -> str:
    """Several blocks as Markdown; words from outside carry no markup."""
    return "\n\n".join(part for part in map(_block_markdown, blocks) if part)


def _block_markdown(block: Block) -> str:
    match block:
        case Heading():
            return f"{'#' * block.level} {_md(block.text)}"
        case Words():
            lines = [_md(x) for x in block.text.splitlines()]
            return "> " + "  \n> ".join(lines) if block.tone == "caution" else "  \n".join(lines)
        case Bullets():
            marks = _marks(block, "{}.", "- [ ]", "-")
            return "\n".join(f"{m} {_md(x)}" for m, x in zip(marks, block.items, strict=True))
        case Facts():
            return "\n".join(f"- {_md(name)}: {_md(value)}" for name, value in block.pairs)
        case Table():
            return _table_markdown(block)
        case Copy():
            body = "\n".join(f"> {_md(x)}" for x in block.text.splitlines())
            return f"### {_md(block.title)}\n\n{body}" if block.title else body
        case Side():
            return "\n\n".join((blocks_markdown(block.left), blocks_markdown(block.right)))
        case Break():
            return "---"
        case Picture():
            return f"*{_md(block.title)}*"


def _md(words: str) -> str:
    return escape_markdown(shown(words))


def _table_markdown(table: Table) -> str:
    ruler = ["---:" if i in table.numeric else "---" for i in range(len(table.head))]
    lines = [f"{_md(table.caption)}\n"] if table.caption else []
    lines += [_md_row([_md(x) for x in table.head]), _md_row(ruler)]
    for row in [*table.rows, *table.foot]:
        if isinstance(row, Group):
            lines.append(_md_row([f"**{_md(row.text)}**", *[""] * (len(table.head) - 1)]))
        else:
            lines.append(_md_row([_md(_words(cell)) for cell in row]))
    return "\n".join(lines)


def _md_row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(cells) + " |"
