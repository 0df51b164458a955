"""Pasted lists: one material to a line, the amount before or behind its name."""

from __future__ import annotations

import re

from labkit.reading.amounts import looks_like_amount, read_text
from labkit.reading.grid import Cell
from labkit.reading.words import measured

__all__ = ["numbered_name", "read_free_lines"]

_LONGEST = 200
_BULLET = re.compile(r"^\s*(?:[-*•·‣▪–—]\s+|\d{1,2}[.)]\s+(?=\D)|\[[ x]?\]\s*|>\s+)+")
_EMPHASIS = re.compile(r"^\s*(?:#{1,6} |\*\*|__)(.{1,150}?)(?:\*\*|__)?\s*$")
_BEFORE = re.compile(
    r"^(?P<amount>(?:ca\.?|approx\.?|about|~|≈|<|≤|max\.?|up to)? ?"
    r"[\d.,½¼¾'’]+(?: ?(?:-|–|to|bis) ?[\d.,]+)? ?"
    r"(?:%(?: ?w/w)?|kg|mg|grammes?|gramm|grams?|gr?|ml|drops?|tropfen|gouttes?|parts?|teile"
    r"|tsps?|tbsps?|"
    r"tl|el|cups?|pinch(?:es)?)?\.?)\s+(?:of\s+|de\s+|d['’])?(?P<name>[^\W\d].*)$",
    re.IGNORECASE,
)
_QS_BEFORE = re.compile(
    r"^(?P<amount>(?:q\.?s\.?p?\.?(?: (?:ad|to) 100(?: ?%)?)?|(?:ad|to) 100(?: ?%)?|rest"
    r"|balance))[ :]+"
    r"(?P<name>[^\W\d].*)$",
    re.IGNORECASE,
)
_FILLED = re.compile(r"\s*(?:\.{3,}|…+|_{3,}|\s[-–—=→]+\s|:\s+|\t+|\s{2,})\s*")
_NUMBERED = re.compile(
    r"^(?:.*\b)?(?:polysorbate|poloxamer|laureth|ceteareth|ceteth|steareth|oleth|beheneth"
    r"|trideceth|"
    r"isoceteth|pareth|peg|ppg|ci|quaternium|polyquaternium|yellow|red|blue|green|orange"
    r"|violet|brown|"
    r"black|steareth|nonoxynol|octoxynol|vitamin [a-z]|coenzyme q|polyglyceryl|acid|fd&c|d&c"
    r"|pigment|"
    r"dimethicone|paraffin|carbomer|bis|tween|no|n°|nr)[ .-]*\d{1,5}$",
    re.IGNORECASE,
)  # fmt: skip
_PHASE = re.compile(r"^(?P<phase>[A-Z]|[IVX]{1,4}|\d)(?P<mark>[.):]?)\s+(?P<rest>\S.*)$")


def numbered_name(name: str) -> bool:
    """Whether a name ends in a number that belongs to it, as in *Polysorbate 20*."""
    return bool(_NUMBERED.match(name.strip()))


def read_free_lines(lines: list[str]) -> list[list[str]]:
    """Rows of cells (phase, name, amount, remark) from a list written line by line."""
    lines = [_EMPHASIS.sub(r"\1", x) for x in lines]
    bare = [_BULLET.sub("", x).strip() if len(x) <= _LONGEST else x.strip() for x in lines]
    before = sum(1 for x in bare if len(x) <= _LONGEST and _BEFORE.match(x))
    behind = sum(1 for x in bare if _behind(x) is not None)
    lettered = [_PHASE.match(x) for x in bare if x and len(x) <= _LONGEST]
    told = [m for m in lettered if m and _parts(m["rest"], before > behind)[1]]
    prefixed = len(told) >= 2 and len(told) * 2 >= behind + before
    return [_row(x, first=before > behind, prefixed=prefixed) if x else [] for x in bare]


def _row(line: str, *, first: bool, prefixed: bool) -> list[str]:
    if len(line) > _LONGEST:
        return ["", line]
    match = _PHASE.match(line) if prefixed else None
    phase, rest = (match["phase"], match["rest"]) if match else ("", line)
    name, amount, remark = _parts(rest, first)
    if not amount:
        return ["", line]
    return [phase, name, amount, remark]


def _parts(line: str, first: bool) -> tuple[str, str, str]:
    """Name, amount and remark of one line; an empty amount where there is none."""
    reading = re.match(r"^(?P<what>[^\d:=]+(?:\([^)]*\))?)[ :=]+(?P<value>[~<>]?\d.*)$", line)
    if reading and measured(line, surely=True):
        return reading["what"].strip(), reading["value"], ""
    ahead = _BEFORE.match(line) or _QS_BEFORE.match(line)
    back = _behind(line)
    if ahead and (first or back is None):
        name, _, remark = ahead["name"].partition(" - ")
        return name.strip(" :,;"), ahead["amount"].strip(), remark.strip()
    return back if back is not None else (line, "", "")


def _behind(line: str) -> tuple[str, str, str] | None:
    """Name, amount and remark where the amount stands behind the name."""
    if len(line) > _LONGEST:
        return None
    pieces = [x for x in _FILLED.split(line) if x]
    if len(pieces) >= 2 and _amount(pieces[1]):
        return pieces[0].strip(" :,;"), pieces[1], "; ".join(pieces[2:])
    words = line.split(" ")
    for start in range(1, len(words)):
        tail = " ".join(words[start:])
        if not _amount(tail):
            continue
        name = " ".join(words[:start]).rstrip(" :,;=–-")
        if not name or (numbered_name(line) and not re.search(r"[%a-z]$", tail)):
            return None
        return name, tail.strip(), ""
    return _bracketed(line)


def _bracketed(line: str) -> tuple[str, str, str] | None:
    match = re.match(r"^(?P<name>.+?)[ :,]*[(\[](?P<amount>[^()\[\]]+)[)\]] ?(?P<rest>.*)$", line)
    if match and _amount(match["amount"]) and re.search(r"\d|q\.?s", match["amount"]):
        return match["name"], match["amount"], match["rest"].strip(" -–,;")
    tail = re.match(
        r"^(?P<name>[^\W\d].*?)[ :,=]+(?P<amount>[~<≤]?[\d.,]+ ?(?:%|gr?\b))[ ,;]+(?P<rest>.+)$",
        line,
    )
    if tail and _amount(tail["amount"]):
        return tail["name"], tail["amount"], tail["rest"].strip("()[] -–")
    return None


def _amount(text: str) -> bool:
    text = text.strip()
    if not looks_like_amount(Cell(text=text)):
        return False
    amount = read_text(text, "mixed")
    return amount.kind != "missing" or (amount.dash and text in {"?", "-", "–"})
