"""How names of raw materials are compared, however they were typed."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from labkit.errors import MaterialError

__all__ = ["checked_name", "fold", "parts_of_blend", "slug", "tokens", "without_remarks"]

_UNSEEN = {"Cf", "Cc", "Cs", "Co", "Cn"}
_EXECUTED = ("=", "+", "@", "\t")
_GREEK = str.maketrans({"α": "alpha", "β": "beta", "γ": "gamma", "µ": "micro", "μ": "micro"})
_SPELLINGS = (
    ("sulph", "sulf"),
    ("aluminium", "aluminum"),
    ("hydrolys", "hydrolyz"),
    ("quaternis", "quaterniz"),
    ("solubilis", "solubiliz"),
    ("emulsific", "emulsif"),
    ("deionis", "deioniz"),
    ("demineralis", "demineraliz"),
    ("glycerine", "glycerin"),
    ("colour", "color"),
)
_TOKEN = re.compile(r"[^\W\d_]+|\d+(?:[.,]\d+)?")
_REMARK = re.compile(r"\((?!and\))[^()]*\)", re.IGNORECASE)
_AND = re.compile(r"\s*\(\s*and\s*\)\s*|\s+&\s+|\s+\+\s+|\s*;\s*|\b-and-\b", re.IGNORECASE)


@lru_cache(maxsize=20_000)
def tokens(text: str) -> tuple[str, ...]:
    """Words and numbers of a name in one spelling.

    Examples
    --------
    >>> tokens("Sodium Laureth Sulphate, 28 %")
    ('sodium', 'laureth', 'sulfate', '28')
    """
    plain = unicodedata.normalize("NFKD", text.translate(_GREEK)).casefold()
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    for other, ours in _SPELLINGS:
        plain = plain.replace(other, ours)
    return tuple(token.replace(",", ".") for token in _TOKEN.findall(plain))


def fold(text: str) -> str:
    """A name as it is compared: no accents, capitals, signs or double blanks.

    Examples
    --------
    >>> fold("Crème  de-Karité (BIO)")
    'creme de karite bio'
    """
    return " ".join(tokens(text))


def without_remarks(text: str) -> str:
    """A name without what stands in brackets; ``(and)`` is no remark.

    Examples
    --------
    >>> without_remarks("Helianthus Annuus (Sunflower) Seed Oil")
    'Helianthus Annuus Seed Oil'
    >>> without_remarks("Aqua (and) Glycerin (plant)")
    'Aqua (and) Glycerin'
    """
    return " ".join(_REMARK.sub(" ", text).split())


def parts_of_blend(text: str) -> tuple[str, ...]:
    """The names joined by ``(and)``, ``&`` or ``+``; one name gives itself.

    Examples
    --------
    >>> parts_of_blend("Phenoxyethanol (and) Ethylhexylglycerin")
    ('Phenoxyethanol', 'Ethylhexylglycerin')
    """
    return tuple(part for part in (p.strip() for p in _AND.split(text)) if part)


def slug(text: str) -> str:
    """A key made from a name.

    Examples
    --------
    >>> slug("Citric acid 50 % solution")
    'citric-acid-50-solution'
    """
    return "-".join(token.replace(".", "p") for token in tokens(text))


def checked_name(text: str, *, where: str) -> str:
    """A name fit to be kept: composed letters, nothing hidden, nothing to execute.

    Parameters
    ----------
    text : str
        As typed or read.
    where : str
        Named in the refusal: the file and row.

    Returns
    -------
    str
        In normal form C, single blanks.

    Raises
    ------
    MaterialError
        Empty, longer than 300 characters, with hidden signs, or looking like a
        spreadsheet formula.

    Examples
    --------
    >>> checked_name(" Shea   butter ", where="Row 2")
    'Shea butter'
    """
    name = unicodedata.normalize("NFC", " ".join(text.split()))
    hidden = sorted({f"U+{ord(c):04X}" for c in text if c not in "\t\r\n" and _unseen(c)})
    if hidden:
        raise MaterialError(
            where=where,
            found=f"a name with signs that cannot be seen ({', '.join(hidden[:3])})",
            allowed="Letters, digits and signs that can be read on paper",
            cause="It was copied from a page that hides marks in its text, such as marks "
            "that turn the reading direction round",
            do="Type the name by hand",
            name=name,
        )
    if not tokens(name) or len(name) > 300:
        raise MaterialError(
            where=where,
            found=f"a name of {len(name)} characters" if name else "no name",
            allowed="A name of 1 to 300 characters with at least one letter or digit",
            cause="The cell is empty or holds a whole text",
            do="Give the material a short name",
        )
    if name.startswith(_EXECUTED):
        raise MaterialError(
            where=where,
            found=f"the name {name[:40]!r}, which a spreadsheet would execute",
            allowed="A name that begins with a letter or a digit",
            cause="The cell holds a spreadsheet formula",
            do="Paste the cells as values, or type the name",
        )
    return name


def _unseen(character: str) -> bool:
    return unicodedata.category(character) in _UNSEEN
