"""Numbers of one's own: drawn from the name of a learner, the same wherever they are drawn."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import sha256
from typing import TypeVar

__all__ = ["Draw", "pseudonym"]

T = TypeVar("T")
_SHORE = (
    *("auk", "barnacle", "bittern", "brill", "bunting", "cockle", "conger", "coot", "crab"),
    *("curlew", "cuttle", "dabchick", "dogfish", "dulse", "dunlin", "eider", "flounder"),
    *("fulmar", "gannet", "garfish", "godwit", "grebe", "gurnard", "heron", "kelp", "knot"),
    *("lapwing", "limpet", "linnet", "lobster", "lugworm", "mallard", "merlin", "mullet"),
    *("mussel", "osprey", "otter", "oyster", "petrel", "pintail", "pipit", "plover", "pochard"),
    *("prawn", "puffin", "ray", "ruff", "samphire", "sanderling", "scaup", "scoter", "seal"),
    *("shad", "shelduck", "smew", "snipe", "sole", "sprat", "stint", "teal", "tern", "turbot"),
    *("whelk", "wigeon"),
)


class Draw:
    """Picks that follow from a few words; the same words give the same picks for ever.

    Parameters
    ----------
    *words : str
        What the picks are for: the class, the learner, the exercise.

    Notes
    -----
    SHA-256 of the words and a running number, so that no library's own random numbers are
    needed and no seed has to be kept.

    Examples
    --------
    >>> one, again = Draw("class", "heron"), Draw("class", "heron")
    >>> one.of(range(100)) == again.of(range(100)), one.step(1, 9, 0.5) == again.step(1, 9, 0.5)
    (True, True)
    """

    def __init__(self, *words: str) -> None:
        self._words, self._taken = "\x1f".join(words), 0

    def of(self, options: Sequence[T]) -> T:
        """One of several."""
        self._taken += 1
        digest = sha256(f"{self._words}\x1e{self._taken}".encode()).digest()
        return options[int.from_bytes(digest[:8], "big") % len(options)]

    def step(self, low: float, high: float, step: float) -> float:
        """A number from low to high in whole steps."""
        count = round((high - low) / step)
        return round(low + step * self.of(range(count + 1)), 6)


def pseudonym(bench: str) -> str:
    """What a learner is called in the class: a word from the shore and five signs.

    Parameters
    ----------
    bench : str
        The id of the learner's bench, a UUID; nobody's name is in it.

    Examples
    --------
    >>> pseudonym("3b1c0a52-9d1e-4c11-8c3e-5f1f6a4be001")
    'sole-d3877'
    """
    digest = sha256(bench.encode()).hexdigest()
    return f"{_SHORE[int(digest[:8], 16) % len(_SHORE)]}-{digest[8:13]}"
