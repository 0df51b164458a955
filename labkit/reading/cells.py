"""Text in cells: kept from being run by a spreadsheet, and brought back exactly.

A cell that begins with one of ``= + - @``, their full-width forms, a tab or a line
end may be executed by a spreadsheet. Such text gets one leading apostrophe when it
is written; text that begins with an apostrophe gets one more, so that reading back
is exact. Numbers are not touched. (OWASP guidance on CSV injection, from memory.)
"""

from __future__ import annotations

import html
import re
import unicodedata

__all__ = ["neutralise", "plain_file_name", "restore", "visible"]

_RUN_BY_SPREADSHEETS = "=+-@\t\r\n＝＋－＠"
_APOSTROPHE = "'"
_TURNING = {"Cf", "Cc", "Cs", "Co", "Cn"}
_HARMLESS_FORMAT = {"\u00ad", "\u200b", "\ufeff", "\u200c", "\u200d", "\u2060"}


def neutralise(text: str) -> str:
    """Text as it may be put into a cell of a table that a spreadsheet opens.

    Parameters
    ----------
    text : str
        The text of one cell; not a number that is meant as a number.

    Returns
    -------
    str
        The same text, with a leading apostrophe where a spreadsheet would run it.

    Examples
    --------
    >>> neutralise("=1+1"), neutralise("Aqua"), neutralise("'quoted'")
    ("'=1+1", 'Aqua', "''quoted'")
    """
    risky = text[:1] == _APOSTROPHE or (text != "" and text[0] in _RUN_BY_SPREADSHEETS)
    return _APOSTROPHE + text if risky else text


def restore(text: str) -> str:
    """The text that :func:`neutralise` was given.

    An apostrophe is taken away only where :func:`neutralise` would have put it, so
    a name such as ``'Breakwater'`` in somebody else's sheet stays as it is.

    Examples
    --------
    >>> restore("'=1+1"), restore("''quoted'"), restore("'Breakwater'")
    ('=1+1', "'quoted'", "'Breakwater'")
    """
    marked = len(text) > 1 and text[0] == _APOSTROPHE
    return text[1:] if marked and (text[1] in _RUN_BY_SPREADSHEETS + _APOSTROPHE) else text


def visible(text: str) -> str:
    """Text in which signs that cannot be seen are written out, such as ``⟨U+202E⟩``.

    Marks that only join or part letters (soft hyphen, zero-width blank) are dropped.

    Examples
    --------
    >>> visible("Aqua\\u202e%5.0")
    'Aqua⟨U+202E⟩%5.0'
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_shown(sign) for sign in text)


def _shown(sign: str) -> str:
    if sign in "\t\n\r":
        return sign
    if sign in _HARMLESS_FORMAT:
        return ""
    return f"⟨U+{ord(sign):04X}⟩" if unicodedata.category(sign) in _TURNING else sign


def plain_file_name(name: str, ending: str) -> str:
    """A file name without folders, drive letters or signs that a file system forbids.

    Examples
    --------
    >>> plain_file_name("../../etc/x", ".csv")
    'etc-x.csv'
    >>> plain_file_name("Crème n° 7", ".csv")
    'Crème-n-7.csv'
    """
    words = re.findall(r"[^\W_]+(?:[._][^\W_]+)*", unicodedata.normalize("NFC", name))
    stem = "-".join(words)[:80] or "recipe"
    if stem.upper() in {"CON", "PRN", "AUX", "NUL"} or re.fullmatch(r"(?i)(com|lpt)\d", stem):
        stem = f"recipe-{stem}"
    return stem + ending


def unescape_markdown(text: str) -> str:
    """The text of a Markdown table cell without its escapes."""
    broken = re.sub(r"<br\s*/?>", "\n", text, flags=re.IGNORECASE)
    plain = re.sub(r"\\([\\`*_{}\[\]()#+\-.!|~>])", r"\1", broken)
    return re.sub(r"&(#\d{1,7}|\w{2,31});", _referred, plain)


def _referred(match: re.Match[str]) -> str:
    """The sign that a reference stands for; numbers exactly, names as HTML has them."""
    if match[1].startswith("#"):
        number = int(match[1][1:])
        return chr(number) if number < 0x110000 else match[0]
    return html.unescape(match[0])


def escape_markdown(text: str) -> str:
    """Text for a Markdown table cell: one line, no markup, read back exactly."""
    shown = re.sub(r"([\\`*_\[\]#|~])", r"\\\1", text)
    shown = shown.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    shown = re.sub(r"[\t\r\n\x0b\x0c\x1c-\x1e\x85\u2028\u2029]", _reference, shown)
    return re.sub(r"^\s+|\s+$", lambda m: "".join(f"&#{ord(c)};" for c in m[0]), shown)


def _reference(match: re.Match[str]) -> str:
    return f"&#{ord(match[0])};"
