"""What stands in the amount cell of a recipe, from ``4,00`` to ``q.s. to pH 4.2``."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache

from labkit.reading.grid import Cell
from labkit.reading.numerals import NUMERAL, DecimalSign, read_numeral
from labkit.reading.words import plain

__all__ = ["Amount", "looks_like_amount", "read_amount", "read_target"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """One amount cell as read.

    ``kind`` as in a report's lines: amount, balance, to_target, range, missing,
    unreadable, volume; ``qs`` marks a bare *q.s.* whose sense the other lines decide.
    """

    kind: str
    text: str = ""
    value: Decimal | None = None
    unit: str | None = None
    low: Decimal | None = None
    high: Decimal | None = None
    target: tuple[str, str | None] | None = None
    up_to: Decimal | None = None
    qs: bool = False
    about: bool = False
    doubtful: bool = False
    dash: bool = False
    each: bool = False
    grouped: bool = False
    unclear: bool = False
    formula: bool = False
    signs: frozenset[str] = frozenset()
    remark: str = ""


_LONGEST = 200
_PERCENT = r"%|wt\.?-? ?%|gew\.?-? ?%|% ?\(?[wm]/[wm]\)?|pct\.?|per ?cent|prozent|pour ?cent"
_MASS = r"kg|mg|grammes?|gramm|grams?|gr\.?|gm|g\.?"
_PARTS = r"parts?|pts?\.?|teile?|parties?|partes?|pbw|phr"
_VOLUME = (
    r"drops?|dr\.?|gtts?\.?|tropfen|gouttes?|gocce|gotas|m[lL]|millilit(?:er|re)s?|cl|cc|l"
    r"|lit(?:er|re)s?|"
    r"tsps?\.?|teaspoons?|tbsps?\.?|tablespoons?|tl|el|cups?|pinch(?:es)?|prisen?|dash(?:es)?|"
    r"scoops?|fl\.? ?oz\.?|pumps?|spatulas?|messerspitzen?|msp\.?|cuill[eè]res?"
)
_UNIT = rf"(?P<unit>{_PERCENT}|{_MASS}|{_PARTS})"
_NUM = rf"(?P<%s>{NUMERAL})"
_ABOUT = (
    r"(?P<about>(?:ca|circa|approx|approximately|about|app|env|environ|etwa|ungef(?:ähr"
    r"|\.)?|rd|around|roughly|c|±|~|≈|∼)\.?\s*)?"
)
_TOP = (
    r"(?:up to|max(?:imum|imal|\.)?:?|at most|not more than|no more than|less than|below|under|"
    r"bis(?: zu)?|höchstens|unter|jusqu['’]?(?:à| a)?|moins de|maximal|hasta|fino a|≤|<=?|&lt;)"
)
_BOTTOM = r"(?:min(?:imum|\.)?:?|at least|mindestens|mind\.?|ab|more than|au moins|über|over|≥|>=?)"
_TO = r"(?:-|–|—|−|‐|‑|\.\.+|…|~|to|bis|à|a|until|und|and)"
_QS_WORD = (
    r"q\.? ?s\.?(?: ?p\.?)?|q\.? ?b\.?|s\.? ?q\.?|quantum sat(?:is|\.)?|quantum sufficit|"
    r"quantity sufficient|quantité suffisante(?: pour)?|quant\.? suff\.?|as (?:needed|required)|"
    r"nach bedarf|n\. ?b\.|si besoin|selon besoin|to taste|if needed|bei bedarf"
)
_QS = re.compile(rf"^(?:{_QS_WORD})$")
_REST = re.compile(
    r"^(?:the )?(?:balance|bal\.?|rest|reste|resto|remainder|remaining|remains|restant|rimanenza|"
    r"complément|complement|difference|aufgefüllt|auffüllen)"
    rf"(?: ?(?:to|ad|auf|à|a|bis)? ?(?P<n>{NUMERAL}) ?(?P<u>%|g|kg|ml|parts?|teile)?)?$"
)
_UP_TO = re.compile(
    rf"^(?:(?P<qs>{_QS_WORD}|add|make|made|make up|balance|rest|top|fill|auffüllen|ergänzen"
    rf"|compléter)"
    r"[ ,.:]*)?(?P<word>ad|to|up to|auf|bis|bis zu|à|a|pour|per|para|until|zu|→)? ?"
    rf"(?P<n>{NUMERAL}) ?(?P<u>%|g|gr|kg|ml|parts?|teile|gramm|grams?)?(?: (?:w/w|total))?$"
)
_TO_PH = re.compile(
    rf"^(?:{_QS_WORD}|add|adjust|einstellen|ajuster)?[ ,:(]*(?:to|ad|for|pour|bis|auf|until"
    rf"|zu|à|a)? ?"
    rf"(?:target |about |ca\.? ?)?(?P<ph>p\.?h(?:[- ]?wert)?\b[ :=~≈]*.*)$"
)
_PH = re.compile(
    rf"\bp\.?h(?:[- ]?wert)?\b[ :=~≈]*(?:of|von|de|to|is|about|ca\.?|approx\.?)? ?"
    rf"(?P<low>{NUMERAL})(?: ?{_TO} ?(?P<high>{NUMERAL}))?"
)
_OTHER_TARGET = re.compile(
    rf"^(?:{_QS_WORD}) ?(?:to|ad|for|pour|bis|auf|until|zu)? (?P<what>[a-zà-ÿ][\w .'·*/-]{{2,40}})$"
)
_DASH = re.compile(r"^(?:[-–—−_./]+|n/?a|none|nil|k\.?a\.?|keine?|x{2,3}|tbd|tbc|offen|open|\?+)$")
_PLAIN = re.compile(rf"^{_ABOUT}{_NUM % 'n'} ?{_UNIT}?$")
_RANGE = re.compile(
    rf"^(?:between |zwischen |entre |from |von |de )?{_ABOUT}{_NUM % 'a'} ?(?:{_PERCENT}|{_MASS})?"
    rf" ?{_TO} ?{_NUM % 'b'} ?{_UNIT}?$"
)
_LIMIT = re.compile(
    rf"^(?:(?P<top>{_TOP})|(?P<bottom>{_BOTTOM})) ?{_NUM % 'n'} ?{_UNIT}?$"
    rf"|^{_NUM % 'm'} ?(?P<unit2>{_PERCENT}|{_MASS}|{_PARTS})? ?\(?(?:max(?:imum|\.)?"
    rf"|or less|höchstens)\)?$"
)
_MEASURE = re.compile(
    rf"^{_ABOUT}(?P<n>{NUMERAL}|[½¼¾]|\d ?[/⁄] ?\d|a|an|one|two|three|ein|eine|un|une)"
    rf"(?: ?{_TO} ?(?P<more>{NUMERAL}))? ?(?P<unit>{_VOLUME})$"
)
_EACH = re.compile(r"^(?:aa|ana|āā|ää|aa\.|a\.a\.)(?: ?(?P<rest>.+))?$")
_DROPS = re.compile(r"^(drops|dr\.?|gtts?\.?|tropfen|gouttes?|gocce|gotas)$")
_WORDED = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3, "ein": 1, "eine": 1, "un": 1, "une": 1}


def read_amount(cell: Cell, sign: DecimalSign) -> Amount:
    """Read one amount cell, with the decimal sign of the sheet.

    Examples
    --------
    >>> read_amount(Cell(text="2,5 to 3"), "mixed").high
    Decimal('3')
    >>> read_amount(Cell(text="q.s. to pH 4.2"), ".").target
    ('pH', '4.2')
    """
    if cell.formula:
        return Amount(kind="missing", formula=True)
    if cell.number is not None:
        if cell.number < 0:
            return Amount(kind="unreadable", text=cell.text, value=cell.number)
        unit = "%" if cell.percent else None
        return Amount(kind="amount", text=cell.text, value=cell.number, unit=unit)
    if cell.day is not None:
        return Amount(kind="unreadable", text=cell.text)
    return read_text(cell.text, sign)


def read_text(text: str, sign: DecimalSign) -> Amount:
    """Read an amount from what was typed."""
    if len(text) > _LONGEST:
        return Amount(kind="unreadable", text=text)
    word = plain(text).strip("*†‡' ")
    word, bracket = _bracket(word)
    doubtful = word.endswith("?") and len(word) > 1
    word = word.rstrip("? ").strip() if doubtful else word
    if not word and not bracket:
        return Amount(kind="missing", text=text)
    for reader in (_words, _measures, _numbers):
        found = reader(word, sign)
        if found is not None:
            remark = bracket if found.kind != "to_target" else ""
            return replace(found, text=text, doubtful=doubtful, remark=remark)
    return Amount(kind="unreadable", text=text, doubtful=doubtful)


def _bracket(word: str) -> tuple[str, str]:
    """A note in brackets behind the amount, parted from it."""
    match = re.fullmatch(r"(.+?) ?[(\[]([^()\[\]]+)[)\]]", word)
    if (
        not match
        or re.search(r"\bph\b", match[2])
        or re.fullmatch(r"max\w*\.?|[wm]/[wm]", match[2])
    ):
        return word, ""
    return match[1].strip(), match[2].strip()


def _words(word: str, sign: DecimalSign) -> Amount | None:
    if _DASH.match(word):
        return Amount(kind="missing", dash=True)
    each = _EACH.match(word)
    if each:
        rest = read_text(each["rest"], sign) if each["rest"] else Amount(kind="missing")
        return replace(rest, each=True)
    to_ph = _TO_PH.match(word)
    if to_ph and (target := read_target(to_ph["ph"], sign)):
        return Amount(kind="to_target", target=target)
    if _QS.match(word):
        return Amount(kind="to_target", qs=True)
    rest_word = _REST.match(word)
    if rest_word:
        number = read_numeral(rest_word["n"], sign) if rest_word["n"] else None
        return Amount(kind="balance", up_to=_base(number, rest_word["u"]) if number else None)
    up_to = _up_to(word, sign)
    if up_to is not None:
        return up_to
    other = _OTHER_TARGET.match(word)
    if other and not re.search(r"\d", other["what"]):
        return Amount(kind="to_target", target=(other["what"].strip(), None))
    return None


def _base(number: object, unit: str | None) -> Decimal:
    value = number.value  # type: ignore[attr-defined]
    return Decimal(value * 1000 if unit == "kg" else value)


def _up_to(word: str, sign: DecimalSign) -> Amount | None:
    match = _UP_TO.match(word)
    if not match or not (match["qs"] or match["word"]):
        return None
    number = read_numeral(match["n"], sign)
    if number is None:
        return None
    total = _base(number, match["u"])
    limit_word = not match["qs"] and match["word"] in {"up to", "bis", "bis zu", "until", "à", "a"}
    if total < 100 and match["u"] != "kg":
        return None
    if limit_word and total not in {100, 1000}:
        return None
    return Amount(kind="balance", up_to=total)


def read_target(text: str, sign: DecimalSign) -> tuple[str, str | None] | None:
    """The pH that an addition is made to reach, where a text names one."""
    match = _PH.search(plain(text))
    if not match:
        return None
    low = read_numeral(match["low"].rstrip(".,"), sign)
    high = read_numeral(match["high"].rstrip(".,"), sign) if match["high"] else None
    if low is None or low.value > 14:
        return None
    return "pH", f"{low.value}-{high.value}" if high else str(low.value)


def _measures(word: str, sign: DecimalSign) -> Amount | None:
    match = _MEASURE.match(word)
    if not match:
        return None
    text = match["n"]
    fraction = {"½": "0.5", "¼": "0.25", "¾": "0.75"}.get(text)
    if "/" in text or "⁄" in text:
        above, below = (int(x) for x in re.split("[/⁄]", text))
        fraction = str(Decimal(above) / below) if below else None
    if fraction or text in _WORDED:
        value: Decimal | None = Decimal(fraction or _WORDED[text])
    else:
        number = read_numeral(text, sign)
        value = number.value if number and not match["more"] else None
    unit = "drops" if _DROPS.match(match["unit"]) else match["unit"]
    return Amount(kind="volume", value=value, unit=unit, about=bool(match["about"]))


_FRACTION = re.compile(
    rf"^(?:(?P<above>\d{{1,2}}) ?[/⁄] ?(?P<below>\d{{1,2}})|(?P<sign>[½¼¾])) ?{_UNIT}?$"
)


def _fraction(word: str) -> Amount | None:
    """A half, a quarter, 3/4: exact in decimals, or not read."""
    match = _FRACTION.match(word)
    if match is None:
        return None
    if match["sign"]:
        value = {"½": Decimal("0.5"), "¼": Decimal("0.25"), "¾": Decimal("0.75")}[match["sign"]]
    else:
        above, below = Decimal(match["above"]), Decimal(match["below"])
        if below not in {2, 4, 5, 8, 10}:
            return None
        value = above / below
    return Amount(kind="amount", value=value, unit=unit_name(match["unit"]))


def _numbers(word: str, sign: DecimalSign) -> Amount | None:
    if fraction := _fraction(word):
        return fraction
    if match := _PLAIN.match(word):
        number = read_numeral(match["n"], sign)
        if number is None:
            return None
        return Amount(
            kind="amount",
            value=number.value,
            unit=unit_name(match["unit"]),
            about=bool(match["about"]),
            grouped=number.grouped,
            unclear=number.doubtful,
            signs=frozenset({number.sign} if number.sign else ()),
        )
    if match := _LIMIT.match(word):
        number = read_numeral(match["n"] or match["m"], sign)
        if number is None:
            return None
        return Amount(
            kind="range",
            unit=unit_name(match["unit"] or match["unit2"]),
            low=number.value if match["bottom"] else None,
            high=None if match["bottom"] else number.value,
            signs=frozenset({number.sign} if number.sign else ()),
        )
    if match := _RANGE.match(word):
        return _range(match, sign)
    return None


def _range(match: re.Match[str], sign: DecimalSign) -> Amount | None:
    first, second = read_numeral(match["a"], sign), read_numeral(match["b"], sign)
    if first is None or second is None or first.value > second.value:
        return None
    signs = {x.sign for x in (first, second) if x.sign}
    return Amount(
        kind="range",
        low=first.value,
        high=second.value,
        unit=unit_name(match["unit"]),
        signs=frozenset(signs),
    )


def unit_name(text: str | None) -> str | None:
    """The plain name of a unit of share or mass: %, g, kg, mg, parts."""
    if not text:
        return None
    word = text.casefold().strip(". ")
    if word in {"kg", "mg"}:
        return word
    if re.fullmatch(_MASS, word):
        return "g"
    return "parts" if re.fullmatch(_PARTS, word) else "%"


def looks_like_amount(cell: Cell) -> bool:
    """Whether a cell could be an amount, whatever the decimal sign."""
    if cell.number is not None or cell.formula:
        return True
    return len(cell.text) <= 40 and _text_looks_like_amount(cell.text)


@lru_cache(maxsize=4096)
def _text_looks_like_amount(text: str) -> bool:
    if not text.strip():
        return False
    amount = read_text(text, "mixed")
    return amount.kind != "unreadable" and not (amount.kind == "missing" and not amount.dash)
