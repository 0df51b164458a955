"""Names as they are compared: one spelling for what the eye takes as one name."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from labkit.errors import FormulaError

__all__ = ["clean_name", "fold", "is_water", "slug"]

_HIDDEN = {"Cf", "Cc", "Cs", "Co", "Cn"}
_WATER = {
    "aqua",
    "water",
    "eau",
    "wasser",
    "purified water",
    "distilled water",
    "deionised water",
    "deionized water",
    "demineralised water",
    "demineralized water",
    "aqua purificata",
    "aqua (water)",
    "water (aqua)",
    "aqua/water",
    "water/aqua",
    "aqua/water/eau",
    "aqua (water/eau)",
}


def clean_name(text: str, *, where: str) -> str:
    """A name in normal form: composed letters, single blanks.

    Raises
    ------
    FormulaError
        Empty, longer than 300 characters, or with signs that cannot be seen
        (such as those that turn the reading direction round).

    Examples
    --------
    >>> clean_name("Cre\u0300me  base", where="Line 1") == "Cr\u00e8me base"
    True
    """
    name, hidden = _spelled(text)
    if hidden:
        raise FormulaError(
            where=where,
            found=f"the name holds signs that cannot be seen ({', '.join(hidden[:3])})",
            allowed="Letters, digits and signs that can be read on paper",
            cause="Copied from a web page or a file that hides marks in its text",
            do="Type the name again",
            name=name,
        )
    if not name or len(name) > 300:
        raise FormulaError(
            where=where,
            found="no name" if not name else f"a name of {len(name)} characters",
            allowed="A name of 1 to 300 characters",
            cause="A cell was left empty" if not name else "A whole paragraph in the name's cell",
            do="Write the INCI or common name of the material",
            name=name[:300],
        )
    return name


@lru_cache(maxsize=8192)
def _spelled(text: str) -> tuple[str, tuple[str, ...]]:
    """A name in normal form, and the code points in it that cannot be seen."""
    name = unicodedata.normalize("NFC", re.sub(r"\s+", " ", text)).strip()
    hidden = {f"U+{ord(c):04X}" for c in name if unicodedata.category(c) in _HIDDEN}
    return name, tuple(sorted(hidden))


@lru_cache(maxsize=8192)
def fold(text: str) -> str:
    """The form in which two spellings of one name are equal.

    Examples
    --------
    >>> fold("  CETEARYL\u00a0 alcohol ") == fold("Cetearyl Alcohol")
    True
    """
    return unicodedata.normalize("NFC", re.sub(r"\s+", " ", text).strip().casefold())


def slug(text: str) -> str:
    """A name as a key: letters and digits of any script, small, joined by hyphens.

    Examples
    --------
    >>> slug("Caprylic/Capric Triglyceride")
    'caprylic-capric-triglyceride'
    >>> slug("Масло ши")
    'масло-ши'
    """
    plain = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(c for c in plain if not unicodedata.combining(c))
    return re.sub(r"[\W_]+", "-", bare).strip("-")


def is_water(name: str) -> bool:
    """Whether a name is one of the usual words for plain water."""
    return fold(name) in _WATER
