"""The materials at hand: looked up, added to, never changed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from functools import cache, cached_property
from os import PathLike
from typing import TYPE_CHECKING, Any

from labkit.errors import MaterialError
from labkit.materials.building import material_from_fields
from labkit.materials.files import rows_of
from labkit.materials.model import Constituent, Material
from labkit.materials.names import fold, parts_of_blend, slug, tokens, without_remarks
from labkit.materials.premixes import premix
from labkit.materials.rendering import listing
from labkit.materials.search import Index
from labkit.materials.starter import default_grades, other_names, starter_materials

if TYPE_CHECKING:
    from datetime import date

    import pandas as pd

__all__ = ["Materials"]


class MaterialKeyError(MaterialError, KeyError):
    """A key that is not in the list; a ``KeyError`` too, so that ``get`` and ``in`` work."""

    __str__ = Exception.__str__


class Materials(Mapping[str, Material]):
    """Raw materials by key; immutable, adding gives a new collection.

    Parameters
    ----------
    materials : iterable of Material
        Each key once.

    Raises
    ------
    MaterialError
        Two materials under one key.

    Examples
    --------
    >>> mats = Materials.starter()
    >>> mats.resolve("Water").name
    'Purified water'
    >>> [m.name for m in mats.find("buter shea", n=1)]
    ['Shea butter']
    """

    def __init__(self, materials: Iterable[Material] = ()) -> None:
        self._by_key: dict[str, Material] = {}
        for material in materials:
            if material.key in self._by_key:
                raise MaterialError(
                    where=f"Material {material.name!r}",
                    found=f"the key {material.key!r} a second time",
                    allowed="Names that differ in more than capitals, accents and signs",
                    cause="Two materials carry nearly the same name",
                    do="Add the grade or the supplier to one of the names",
                )
            self._by_key[material.key] = material

    @classmethod
    def starter(cls) -> Materials:
        """The 528 generic materials that come with labkit, read once and kept."""
        return _starter()

    @classmethod
    def read(cls, path: str | PathLike[str], *, onto: Materials | None = None) -> Materials:
        """Own materials from a CSV, TSV or XLSX file, added to others.

        Parameters
        ----------
        path : str or path
            One material per row; the columns are named in plain words (see
            `labkit.materials.files`). A row named like a known material, or "based on"
            one, is your own version of it: blank cells keep what is known.
        onto : Materials, optional
            What they are added to; the starter set when left out.

        Returns
        -------
        Materials

        Raises
        ------
        MaterialError
            A row that cannot be a material; the message names file, row and column.
        """
        base = cls.starter() if onto is None else onto
        known = dict(base)
        for where, values in rows_of(path):
            wanted = values.pop("based_on", None) or values["name"]
            model = base.resolve(wanted)
            if model is None and wanted != values["name"]:
                raise _no_such_base(where, wanted)
            if model is not None and fold(values.get("inci", model.inci)) != fold(model.inci):
                model = model if wanted != values["name"] else None
            made = material_from_fields(values, base=model, where=where)
            known[made.key] = made
        return cls(known.values())

    def add(self, material: Material | None = None, **fields: Any) -> Materials:
        """A new collection with one material more; one of the same key is replaced.

        Parameters
        ----------
        material : Material, optional
            A finished material, such as a premix.
        **fields
            Otherwise its fields, as in a file of own materials: ``name``, ``inci``,
            ``use_low``, ``density``, ``composition="Aqua 70-73; Sodium Laureth Sulfate 27-29"``,
            ``price`` …

        Returns
        -------
        Materials
        """
        made = material or material_from_fields(fields, base=None, where="Added material")
        return Materials((self._by_key | {made.key: made}).values())

    def find(self, text: str, n: int = 10) -> list[Material]:
        """The materials a text may mean, best first; tolerant of typing.

        Parameters
        ----------
        text : str
            Words in any order; accents, capitals and small slips do not matter.
        n : int
            At most so many.

        Returns
        -------
        list of Material
        """
        exact = self.resolve(text)
        keys = self._index.find(text, n + 1)
        first = [exact.key] if exact is not None and exact.key in self._by_key else []
        ranked = list(dict.fromkeys([*first, *keys]))[:n]
        return [self._by_key[key] for key in ranked]

    def resolve(self, text: str) -> Material | None:
        """The one material a text names, or ``None``.

        Parameters
        ----------
        text : str
            Key, starter number, common name, other name or INCI name. An INCI name of
            several grades gives your own one, else its usual grade where one is set down
            (``datasets/material_defaults.csv``). ``X (and) Y`` of known parts gives a
            blend of which only the order is known; its ``assumed`` says so.

        Returns
        -------
        Material or None
            ``None`` when nothing fits or when several fit equally: see `candidates`.
        """
        if text not in self._cache:
            if len(self._cache) >= _MOST_KEPT:
                self._cache.clear()
            self._cache[text] = self._look_up(text)
        return self._cache[text]

    def candidates(self, text: str) -> tuple[Material, ...]:
        """Every grade that an INCI name or a name covers; else what is nearest to it."""
        keys = self._by_inci.get(_plain(text)) or self._by_parts.get(_part_set(text))
        if keys:
            return tuple(self._by_key[key] for key in keys)
        one = self.resolve(text)
        return (one,) if one is not None else tuple(self.find(text, 5))

    def premix(
        self,
        formula: Any,
        name: str | None = None,
        *,
        made_on: date | None = None,
        lot: str | None = None,
        expires: date | None = None,
    ) -> Material:
        """A formula as a material: gum in glycerin, a dye stock, caustic at 10 %.

        Parameters
        ----------
        formula : object
            With ``name`` and ``lines``, each with ``material`` and ``percent``.
        name : str, optional
            Name of the premix; the formula's when left out.
        made_on, expires : datetime.date, optional
            Day of making, last day of use.
        lot : str, optional
            Its lot.

        Returns
        -------
        Material
            Add it with `add`. Its constituents are those of its lines; blends inside
            it are taken apart.

        Raises
        ------
        MaterialError
            A line whose material is not known, or a last day before the day of making.
        """
        return premix(formula, self.resolve, name=name, made_on=made_on, lot=lot, expires=expires)

    def table(self) -> pd.DataFrame:
        """One row per material: key, name, INCI, functions, use level, price …"""
        import pandas as pd

        rows = [
            {
                "key": m.key,
                "name": m.name,
                "inci": m.inci,
                "functions": ", ".join(m.functions),
                "phase": m.phase,
                "charge": m.charge,
                "use_low": m.use_low,
                "use_high": m.use_high,
                "ph_low": m.ph_low,
                "ph_high": m.ph_high,
                "heat_limit_c": m.heat_limit_c,
                "density_g_ml": m.density_g_ml,
                "price_per_kg": m.price.per_kg if m.price else None,
                "currency": m.price.currency if m.price else None,
                "not_known": ", ".join(m.unknowns()),
            }
            for m in self.values()
        ]
        return pd.DataFrame(rows)

    def __getitem__(self, key: str) -> Material:
        if key not in self._by_key:
            near = [m.key for m in self.find(str(key), 3)] if isinstance(key, str) else []
            raise MaterialKeyError(
                where="Materials",
                found=f"no material with the key {key!r}",
                allowed="A key such as 'glycerol'; find takes names, INCI and slips of the pen",
                cause="A name was given in place of the key, or it is not in this list",
                do=f"Did you mean {' or '.join(map(repr, near))}?"
                if near
                else "Add it: mats = mats.add(name=…, inci=…)",
            )
        return self._by_key[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._by_key)

    def __len__(self) -> int:
        return len(self._by_key)

    def __hash__(self) -> int:
        return self._hash

    def __repr__(self) -> str:
        return f"<Materials: {len(self)} materials>"

    def _repr_html_(self) -> str:
        return listing(list(self.values()))

    @cached_property
    def _hash(self) -> int:
        return hash(frozenset(self._by_key))

    @cached_property
    def _cache(self) -> dict[str, Material | None]:
        return {}

    @cached_property
    def _by_name(self) -> Mapping[str, str]:
        """Plain name to key: common names first, then other names."""
        found: dict[str, str] = {}
        for key, material in self._by_key.items():
            found.setdefault(fold(material.name), key)
        for key, material in self._by_key.items():
            for name in other_names().get(material.starter_id or "", ()):
                found.setdefault(fold(name), key)
        return found

    @cached_property
    def _by_inci(self) -> Mapping[str, list[str]]:
        found: dict[str, list[str]] = defaultdict(list)
        for key, material in self._by_key.items():
            found[_plain(material.inci)].append(key)
        return found

    @cached_property
    def _by_words(self) -> Mapping[tuple[str, ...], set[str]]:
        found: dict[tuple[str, ...], set[str]] = defaultdict(set)
        for name, key in self._by_name.items():
            found[tuple(sorted(tokens(name)))].add(key)
        return found

    @cached_property
    def _by_parts(self) -> Mapping[frozenset[str], list[str]]:
        found: dict[frozenset[str], list[str]] = defaultdict(list)
        for key, material in self._by_key.items():
            if len(parts_of_blend(material.inci)) > 1:
                found[_part_set(material.inci)].append(key)
        return found

    @cached_property
    def _substances(self) -> Mapping[str, str]:
        """Plain name of every substance inside a material to its INCI name."""
        return {
            _plain(part.inci): part.inci for m in self._by_key.values() for part in m.constituents
        }

    @cached_property
    def _by_number(self) -> Mapping[str, str]:
        return {m.starter_id: key for key, m in self._by_key.items() if m.starter_id}

    @cached_property
    def _index(self) -> Index:
        names = []
        for key, material in self._by_key.items():
            own = (key, material.name, material.inci, material.cas or "", material.starter_id or "")
            names += [(key, name) for name in own]
            names += [(key, name) for name in other_names().get(material.starter_id or "", ())]
        return Index(names)

    def _look_up(self, text: str) -> Material | None:
        plain = fold(text)
        if not plain:
            return None
        key = text if text in self._by_key else self._by_number.get(text.strip().upper())
        key = key or self._by_name.get(plain) or self._of_inci(text)
        if key is None and without_remarks(text) != text:
            key = self._by_name.get(_plain(text))
        if key is None:
            keys = self._by_words.get(tuple(sorted(tokens(text))), set())
            key = next(iter(keys)) if len(keys) == 1 else None
        if key is not None:
            return self._by_key[key]
        return self._by_key.get(slug(text)) or self._blend(text)

    def _of_inci(self, text: str) -> str | None:
        keys = self._by_inci.get(_plain(text))
        if not keys and len(parts_of_blend(text)) > 1:
            keys = self._by_parts.get(_part_set(text))
        if not keys:
            return None
        if len(keys) == 1:
            return keys[0]
        own = [key for key in keys if self._by_key[key].starter_id is None]
        if len(own) == 1:
            return own[0]
        number, _ = default_grades().get(fold(self._by_key[keys[0]].inci), ("", ""))
        usual = self._by_number.get(number)
        return usual if usual in keys else None

    def _blend(self, text: str) -> Material | None:
        names = parts_of_blend(text)
        if len(names) < 2:
            return None
        incis = []
        for name in names:
            part = self.resolve(name)
            inci = self._substances.get(_plain(name)) or (part.inci if part else None)
            if inci is None or len(parts_of_blend(inci)) > 1:
                return None
            incis.append(inci)
        inci = " (and) ".join(incis)
        return Material(
            key=slug(inci),
            name=inci,
            inci=inci,
            constituents=tuple(Constituent(inci=x, order=k) for k, x in enumerate(incis, start=1)),
            assumed="a blend of these parts in falling order; the shares are not known",
        )


_MOST_KEPT = 10_000


@cache
def _starter() -> Materials:
    return Materials(starter_materials())


def _plain(text: str) -> str:
    return fold(without_remarks(text)) or fold(text)


def _part_set(text: str) -> frozenset[str]:
    return frozenset(_plain(part) for part in parts_of_blend(text))


def _no_such_base(where: str, wanted: str) -> MaterialError:
    return MaterialError(
        where=where,
        found=f"'based on' names {wanted!r}, which is not among the materials",
        allowed="The name, number or INCI name of one known material",
        cause="The name is mistyped, or covers several grades",
        do="Look it up with find(), or leave the cell blank",
    )
