"""The pieces a document is put together from; each knows only words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

__all__ = [
    "Block",
    "Break",
    "Bullets",
    "Cell",
    "Copy",
    "Facts",
    "Group",
    "Heading",
    "Picture",
    "Side",
    "Table",
    "Words",
]

Tone = Literal["plain", "lead", "muted", "caution"]
Kind = Literal["plain", "strong", "muted", "fixed", "blank", "tick"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading; level 2 opens a section, level 3 a part of it."""

    text: str
    level: Literal[2, 3] = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """A paragraph. ``caution`` is framed, ``muted`` is small."""

    text: str
    tone: Tone = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bullets:
    """A list: plain, numbered (``ordered``) or with boxes to tick."""

    items: Sequence[str]
    ordered: bool = False
    ticks: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Pairs of a name and what it is."""

    pairs: Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A table cell; ``fixed`` never breaks, ``blank`` is a line to write on, ``tick`` a box."""

    text: str = ""
    kind: Kind = "plain"


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """A row across the whole table, such as the title of a phase."""

    text: str


Row = Sequence["str | Cell"] | Group


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table. Columns whose index is in ``numeric`` are set right, digits under digits.

    On a narrow screen a table of more than ``stack_from`` columns shows each row as a
    card, with the column's name before each value.
    """

    head: Sequence[str]
    rows: Sequence[Row]
    foot: Sequence[Row] = ()
    numeric: frozenset[int] = frozenset()
    caption: str = ""
    stack_from: int = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """Text to be copied as it stands: one click selects all of it."""

    text: str
    title: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """An SVG drawn by labkit itself; never one from a user."""

    svg: str
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """Two columns side by side where there is room, one above the other where not."""

    left: Sequence[Block]
    right: Sequence[Block]


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A new sheet of paper begins here when printed."""


Block = Heading | Words | Bullets | Facts | Table | Copy | Picture | Side | Break
