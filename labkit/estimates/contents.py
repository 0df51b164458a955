"""What is in each line, substance by substance, as the findings look at it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from labkit import tables
from labkit.estimates.needs import Word
from labkit.formula import Formula
from labkit.formula.names import fold, is_water
from labkit.materials import Material, Materials, decompose

__all__ = ["Contents", "look_into"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_WET_ENDINGS = (" water", " juice", " distillate")


@dataclass(frozen=True, kw_only=True, eq=False)
class Contents:
    """Lines into substances, with what each substance is.

    Attributes
    ----------
    formula : Formula
    materials : tuple of (Material or None)
        One for each line.
    substances : tuple of str
        Folded INCI names; ``names`` as they are printed.
    share : ndarray, shape (n_lines, n_substances)
        Fraction of each line's material: the middle of a stated range, and the worst case
        where only the order is known (marked in ``assumed``).
    least, most : ndarray, shape (n_lines, n_substances)
        ``least`` is ``share`` except where only the order is known: there the smallest share
        that the order allows. ``most`` is the top of the range.
    words : tuple of tuple of frozenset
        ``words[i][j]``: what substance j is in line i.
    water : ndarray, shape (n_lines,)
        Fraction of water, with hydrosols and juices counted as water.
    """

    formula: Formula
    materials: tuple[Material | None, ...]
    substances: tuple[str, ...]
    names: tuple[str, ...]
    share: Array
    least: Array
    most: Array
    assumed: Mask
    words: tuple[tuple[frozenset[Word], ...], ...]
    water: Array

    @property
    def n_lines(self) -> int:
        """Number of lines."""
        return len(self.materials)

    @cached_property
    def unknown(self) -> Array:
        """1 for each line whose material is not known, water apart."""
        lines = zip(self.materials, self.formula.lines, strict=True)
        return np.array([float(m is None and not is_water(x.material)) for m, x in lines])

    def mask(self, alternatives: Iterable[frozenset[Word]]) -> Mask:
        """Which substances, in which lines, are one of the alternatives."""
        kinds = tuple(alternatives)
        found = np.zeros(self.share.shape, dtype=bool)
        for i, j, held in self._held:
            found[i, j] = any(kind <= held for kind in kinds)
        return found

    @cached_property
    def _held(self) -> tuple[tuple[int, int, frozenset[Word]], ...]:
        places = zip(*np.nonzero(self.most > 0), strict=True)
        return tuple((int(i), int(j), self.words[i][j]) for i, j in places)

    def columns(self, incis: Iterable[str]) -> list[int]:
        """Positions of substances by INCI name."""
        wanted = {fold(x) for x in incis}
        return [j for j, name in enumerate(self.substances) if name in wanted]

    def lines_with(self, mask: Mask, percent: Array) -> tuple[int, ...]:
        """Lines that bring in a masked substance at these percentages."""
        held = (self.share * mask).sum(axis=1) * percent
        return tuple(int(i) for i in np.flatnonzero(held > 1e-12))

    def line_names(self, lines: Sequence[int]) -> tuple[str, ...]:
        """The materials of lines, as written."""
        return tuple(self.formula.lines[i].material for i in lines)


def look_into(formula: Formula, materials: Sequence[Material | None], mats: Materials) -> Contents:
    """What is in the lines of a formula.

    Parameters
    ----------
    formula : Formula
    materials : sequence of Material or None
        One for each line, None where it is not known.
    mats : Materials
        Where the substances inside blends are looked up; the starter set after it.

    Returns
    -------
    Contents
    """
    found = tuple(materials)
    parts = decompose(found, [line.material for line in formula.lines])
    oils = _oil_parts()
    held = [fold(x) for x in parts.inci]
    extra = dict.fromkeys(
        fold(name) for x in held if x in oils for name, _, _ in oils[x] if fold(name) not in held
    )
    shown = (*parts.inci, *(_printed(oils, x) for x in extra))
    folded = (*held, *extra)
    shape = (len(found), len(folded))
    share, most = np.zeros(shape), np.zeros(shape)
    assumed = np.zeros(shape, dtype=bool)
    column = {name: j for j, name in enumerate(folded)}
    for i, material in enumerate(found):
        _fill(material, parts.high[i], column, share[i], most[i], assumed[i])
        if material is None:
            share[i, : len(held)] = most[i, : len(held)] = parts.typical[i]
        _fill_oils(oils, folded, column, share[i], most[i])
    traits = _Traits(mats)
    words = tuple(traits.row(material, folded, most[i]) for i, material in enumerate(found))
    low = np.zeros(shape)
    low[:, : len(held)] = parts.low
    return Contents(
        formula=formula,
        materials=found,
        substances=folded,
        names=shown,
        share=share,
        least=np.where(assumed, np.minimum(low, share), share),
        most=most,
        assumed=assumed,
        words=words,
        water=_water(folded, parts.typical, found, formula),
    )


def _fill(
    material: Material | None,
    bounds: Array,
    column: dict[str, int],
    share: Array,
    most: Array,
    assumed: Mask,
) -> None:
    if material is None:
        return
    if not material.listed:
        j = column[fold(material.inci)]
        share[j] = most[j] = 1.0 if material.strength is None else material.strength
    for part in material.constituents:
        j = column[fold(part.inci)]
        if part.low is None or part.high is None:
            share[j] = most[j] = float(bounds[j]) if part.role != "within" else 1.0
            assumed[j] = True
        else:
            share[j] += (part.low + part.high) / 2
            most[j] += part.high


def _fill_oils(
    oils: dict[str, list[tuple[str, float, float]]],
    folded: tuple[str, ...],
    column: dict[str, int],
    share: Array,
    most: Array,
) -> None:
    """What essential oils hold inside, unless the material itself states it."""
    for oil in [x for x in folded if x in oils and most[column[x]] > 0]:
        for name, usual, top in oils[oil]:
            j = column[fold(name)]
            if most[j] == 0:
                share[j] += usual * share[column[oil]]
                most[j] += top * most[column[oil]]


@cache
def _oil_parts() -> dict[str, list[tuple[str, float, float]]]:
    found: dict[str, list[tuple[str, float, float]]] = {}
    for row in tables.rows("essential_oil_allergens"):
        if not (row["oil_inci"] and row["allergen_label_name"] and row["max_pct"]):
            continue
        top = float(row["max_pct"]) / 100
        usual = float(row["typical_pct"]) / 100 if row["typical_pct"] else top
        found.setdefault(fold(row["oil_inci"]), []).append((row["allergen_label_name"], usual, top))
    return found


def _printed(oils: dict[str, list[tuple[str, float, float]]], folded: str) -> str:
    return next(n for parts in oils.values() for n, _, _ in parts if fold(n) == folded)


def _water(
    folded: tuple[str, ...], typical: Array, found: Sequence[Material | None], formula: Formula
) -> Array:
    wet = [
        j
        for j, name in enumerate(folded[: typical.shape[1]])
        if is_water(name) or name.endswith(_WET_ENDINGS)
    ]
    plain = [
        m is None and is_water(line.material) for m, line in zip(found, formula.lines, strict=True)
    ]
    return np.where(plain, 1.0, typical[:, wet].sum(axis=1))


class _Traits:
    """What a substance is, in a line: from its own material, and from the blend it came in."""

    def __init__(self, mats: Materials) -> None:
        self._mats = mats

    def row(
        self, material: Material | None, folded: tuple[str, ...], most: Array
    ) -> tuple[frozenset[Word], ...]:
        held = [j for j in range(len(folded)) if most[j] > 0]
        own: dict[int, frozenset[Word]] = {}
        for j in held:
            same = material is not None and fold(material.inci) == folded[j]
            source = material if same else self._material(folded[j])
            own[j] = _substance_words(source, self._mats) | {("inci", folded[j])}
        if material is not None:
            self._inherit(material, folded, own)
        empty: frozenset[Word] = frozenset()
        return tuple(own.get(j, empty) for j in range(len(folded)))

    def _inherit(
        self, material: Material, folded: tuple[str, ...], own: dict[int, frozenset[Word]]
    ) -> None:
        """Give the blend's own words to main parts that nothing else is known of."""
        main = {fold(p.inci) for p in material.listed if p.role == "main"}
        blank = [j for j, words in own.items() if len(words) == 1 and folded[j] in main]
        carried = frozenset[Word]().union(*own.values())
        missing = {w for w in _host_words(material) - carried if w[0] in ("group", "function")}
        charge = {w for w in _host_words(material) if w[0] in ("ionic", "class")}
        if not any(charge <= words for words in own.values()):
            missing |= charge
        for j in blank:
            own[j] = own[j] | missing

    def _material(self, inci: str) -> Material | None:
        return _by_inci(self._mats).get(inci) or _by_inci(_starter()).get(inci)


@cache
def _starter() -> Materials:
    return Materials.starter()


@lru_cache(maxsize=8)
def _by_inci(mats: Materials) -> dict[str, Material]:
    """The material that stands for each substance: the usual grade, else the first."""
    found: dict[str, Material] = {}
    for material in mats.values():
        if not material.is_blend or fold(material.inci) in {fold(p.inci) for p in material.listed}:
            found.setdefault(fold(material.inci), material)
    for name in list(found):
        usual = mats.resolve(name)
        if usual is not None and fold(usual.inci) == name:
            found[name] = usual
    return found


def _host_words(material: Material) -> frozenset[Word]:
    words: set[Word] = {("group", g) for g in material.groups}
    words |= {("function", f) for f in material.functions}
    words.add(("ionic", material.charge or "unknown"))
    words.add(("class", material.charge_class or "none"))
    return frozenset(words)


def _substance_words(material: Material | None, mats: Materials) -> frozenset[Word]:
    """Words of a substance, less those that another part of the same material carries."""
    if material is None:
        return frozenset()
    words = _host_words(material)
    for part in material.listed:
        if fold(part.inci) == fold(material.inci):
            continue
        other = _by_inci(mats).get(fold(part.inci)) or _by_inci(_starter()).get(fold(part.inci))
        if other is not None and not other.is_blend:
            words -= {("group", g) for g in other.groups}
    return words
