"""Product types: how a product is used, and where, in words that limits are written in."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from labkit import tables
from labkit.formula.names import fold

__all__ = ["ProductType", "product_type", "product_types", "similar_types", "type_in"]

AREAS = frozenset(
    "hair face body hand foot eye lip mouth underarm nappy skin".split()  # noqa: SIM905
)
"""Where on the body a product can be used."""
USES = frozenset({"leave-on", "rinse-off", "oral"})


@dataclass(frozen=True, slots=True, kw_only=True)
class ProductType:
    """One row of the table of product types.

    ``kinds`` is empty for a broad type such as "leave-on hair", which does not say which
    product it is; ``areas`` is empty when the place on the body is left open too.
    ``exposure`` names the row of the exposure table, where there is one.
    """

    name: str
    use: str
    areas: frozenset[str]
    kinds: frozenset[str]
    exposure: str | None = None

    def has(self, tag: str, sprayed: bool = False) -> bool | None:
        """Whether a tag holds for a product of this type; None when that is left open."""
        if tag == "spray":
            return sprayed or "spray" in self.kinds
        if tag in USES:
            return tag == self.use if self.use else None
        if tag in AREAS:
            return tag in self.areas if self.areas else None
        if tag in self.kinds:
            return True
        return None if not self.kinds and self._could_be(tag) else False

    def _could_be(self, tag: str) -> bool:
        others = [t for t in product_types().values() if tag in t.kinds and self.use in ("", t.use)]
        return any(not self.areas or self.areas & t.areas for t in others)


@cache
def product_types() -> Mapping[str, ProductType]:
    """Every product type by its name and by each of its other names, folded.

    Examples
    --------
    >>> product_types()["body milk"].name
    'body lotion'
    """
    found: dict[str, ProductType] = {}
    for row in tables.rows("product_types"):
        kind = ProductType(
            name=row["product_type"] or "",
            use=row["use"] or "",
            areas=frozenset((row["areas"] or "").split()),
            kinds=frozenset((row["kinds"] or "").split()),
            exposure=row["exposure"],
        )
        for name in (kind.name, *(row["aliases"] or "").split(";")):
            if name.strip():
                found.setdefault(fold(name), kind)
    return MappingProxyType(found)


def product_type(name: str) -> ProductType | None:
    """The product type of that name, or None.

    Examples
    --------
    >>> product_type("Shampoo").use
    'rinse-off'
    """
    return product_types().get(fold(name))


def type_in(text: str) -> ProductType | None:
    """The product type that the last words of a product's name spell, or None.

    Examples
    --------
    >>> type_in("winter hand cream").name
    'hand cream'
    >>> type_in("cream of the crop") is None
    True
    """
    words = fold(text).split(" ")
    tails = (" ".join(words[k:]) for k in range(len(words)))
    return next((product_types()[t] for t in tails if t in product_types()), None)


def similar_types(name: str) -> list[str]:
    """Names of product types that look like ``name``, best first."""
    return difflib.get_close_matches(fold(name), product_types(), n=4, cutoff=0.5)
