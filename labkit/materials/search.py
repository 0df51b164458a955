"""Finding a material by a name that is roughly right."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence

from labkit.materials.names import tokens

__all__ = ["Index"]

_PREFIX, _INSIDE, _TYPO = 0.85, 0.55, 0.75


class Index:
    """An index over names; several names may lead to one key.

    Parameters
    ----------
    entries : iterable of (str, str)
        Key and one of its names.

    Examples
    --------
    >>> index = Index([("glycerol", "Glycerol"), ("glycerol", "Glycerin"), ("shea", "Shea butter")])
    >>> index.find("buter shea", 5)
    ['shea']
    """

    def __init__(self, entries: Iterable[tuple[str, str]]) -> None:
        self._names: list[tuple[str, tuple[str, ...]]] = []
        self._squeezed: list[str] = []
        self._places: dict[str, list[int]] = defaultdict(list)
        for key, name in dict.fromkeys(entries):
            words = tokens(name)
            if not words:
                continue
            for word in set(words):
                self._places[word].append(len(self._names))
            self._names.append((key, words))
            self._squeezed.append("".join(words))
        self._pairs: dict[str, set[str]] = defaultdict(set)
        for word in self._places:
            for pair in _pairs(word):
                self._pairs[pair].add(word)

    def find(self, text: str, n: int) -> list[str]:
        """The ``n`` best keys for a text, best first.

        Parameters
        ----------
        text : str
            What was typed: words in any order, with accents, capitals or small slips.
        n : int
            At most so many keys.

        Returns
        -------
        list of str
            Empty when nothing is like it.
        """
        wanted = tokens(text)
        if not wanted or n < 1:
            return []
        best: dict[str, float] = {}
        for place, score in self._scores(wanted).items():
            key = self._names[place][0]
            if score > best.get(key, 0.0):
                best[key] = score
        ranked = sorted(best.items(), key=lambda item: (-item[1], item[0]))
        return [key for key, score in ranked[:n] if score >= 0.35]

    def _scores(self, wanted: Sequence[str]) -> dict[int, float]:
        hits: dict[int, dict[int, float]] = defaultdict(dict)
        weights = []
        for position, word in enumerate(wanted):
            weights.append(self._weight(word))
            for other, likeness in self._like(word).items():
                for place in self._places[other]:
                    if likeness > hits[place].get(position, 0.0):
                        hits[place][position] = likeness
        total = sum(weights)
        scores = {}
        for place, found in hits.items():
            matched = sum(weights[p] * likeness for p, likeness in found.items()) / total
            covered = min(1.0, len(found) / len(self._names[place][1]))
            scores[place] = matched * (0.7 + 0.3 * covered)
        squeezed = "".join(wanted)
        if len(squeezed) >= 4:
            for place, name in enumerate(self._squeezed):
                if squeezed in name:
                    score = 0.5 + 0.5 * len(squeezed) / len(name)
                    scores[place] = max(scores.get(place, 0.0), score)
        return scores

    def _weight(self, word: str) -> float:
        seen = len(self._places.get(word, ()))
        return 1.0 + math.log(1.0 + len(self._names) / (1.0 + seen)) / 4.0

    def _like(self, word: str) -> dict[str, float]:
        """Words of the index that the typed word may stand for, with their likeness."""
        found = {word: 1.0} if word in self._places else {}
        if len(word) < (4 if word[0].isdigit() else 2):
            return found
        pairs = _pairs(word)
        shared: Counter[str] = Counter()
        for pair in pairs:
            shared.update(self._pairs.get(pair, ()))
        allowed = 0 if len(word) < 4 else 1 if len(word) < 7 else 2
        for other, count in shared.items():
            if other in found:
                continue
            if other.startswith(word):
                found[other] = _PREFIX + 0.1 * len(word) / len(other)
            elif len(word) >= 4 and word in other:
                found[other] = _INSIDE + 0.2 * len(word) / len(other)
            elif (
                count >= len(pairs) - 3 * allowed
                and abs(len(other) - len(word)) <= allowed
                and (slips := _slips(word, other, allowed)) <= allowed
            ):
                found[other] = _TYPO + 0.15 * (1 - slips / len(word))
        return found


def _pairs(word: str) -> set[str]:
    framed = f"^{word}$"
    return {framed[i : i + 2] for i in range(len(framed) - 1)}


def _slips(a: str, b: str, allowed: int) -> int:
    """Letters added, left out, changed or swapped with a neighbour; stops above allowed."""
    before: list[int] = []
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, start=1):
        after = [i]
        for j, y in enumerate(b, start=1):
            cost = min(row[j] + 1, after[j - 1] + 1, row[j - 1] + (x != y))
            if i > 1 and j > 1 and x == b[j - 2] and a[i - 2] == y:
                cost = min(cost, before[j - 2] + 1)
            after.append(cost)
        if min(after) > allowed:
            return allowed + 1
        before, row = row, after
    return row[-1]
