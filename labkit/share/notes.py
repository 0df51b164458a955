"""Notes as HTML: a small Markdown, and nothing else gets through.

Two walls stand one behind the other, each tested alone: the words are escaped before
any markup is made, and what was made passes a sanitiser that knows twelve tags and no
attribute. The page that shows them has a policy of its own besides.
"""

from __future__ import annotations

import re
from html import escape

import nh3

from labkit.reading.cells import visible

__all__ = ["TAGS", "note_html", "sanitised"]

TAGS = frozenset(
    {"p", "br", "strong", "em", "code", "pre", "ul", "ol", "li", "blockquote", "s", "hr"}
)
"""The tags that a note may have; none has an attribute."""
_BULLET = re.compile(r"\s{0,3}[-*•]\s+(.*)")
_NUMBER = re.compile(r"\s{0,3}\d{1,3}[.)]\s+(.*)")
_QUOTE = re.compile(r"\s{0,3}&gt;\s?(.*)")
_INLINE = (
    (re.compile(r"`([^`\n]+)`"), r"<code>\1</code>"),
    (re.compile(r"\*\*(?=\S)([^*\n]+?)(?<=\S)\*\*"), r"<strong>\1</strong>"),
    (re.compile(r"(?<![\w*])\*(?=\S)([^*\n]+?)(?<=\S)\*(?![\w*])"), r"<em>\1</em>"),
    (re.compile(r"~~(?=\S)([^~\n]+?)(?<=\S)~~"), r"<s>\1</s>"),
)


def sanitised(markup: str) -> str:
    """Markup with only :data:`TAGS` left in it, without attributes, scripts or styles.

    Examples
    --------
    >>> sanitised("<em onclick='x'>soft</em><script>x</script>")
    '<em>soft</em>'
    """
    return nh3.clean(markup, tags=set(TAGS), attributes={}, link_rel=None)


def note_html(text: str) -> str:
    """A note as HTML: paragraphs, lists, quotes, **strong**, *emphasis*, `code`.

    Links and pictures stay the words they were typed as; markup shows as typed.

    Examples
    --------
    >>> note_html("**soft**, <b>drags</b>")
    '<p><strong>soft</strong>, &lt;b&gt;drags&lt;/b&gt;</p>'
    """
    words = escape(visible(text).replace("\r\n", "\n").replace("\r", "\n"), quote=False)
    return sanitised("".join(map(_block, re.split(r"\n\s*\n", words.strip()))))


def _block(block: str) -> str:
    lines = block.split("\n")
    for pattern, tag in ((_BULLET, "ul"), (_NUMBER, "ol")):
        found = [pattern.fullmatch(line) for line in lines]
        if all(found):
            items = "".join(f"<li>{_inline(m[1])}</li>" for m in found if m)
            return f"<{tag}>{items}</{tag}>"
    quoted = [_QUOTE.fullmatch(line) for line in lines]
    if all(quoted):
        return f"<blockquote>{'<br>'.join(_inline(m[1]) for m in quoted if m)}</blockquote>"
    return f"<p>{'<br>'.join(map(_inline, lines))}</p>" if block.strip() else ""


def _inline(line: str) -> str:
    for pattern, made in _INLINE:
        line = pattern.sub(made, line)
    return line
