"""A raw material as it stands on the shelf."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from dataclasses import fields as dataclass_fields
from datetime import date
from types import MappingProxyType
from typing import Any

from labkit import tables
from labkit.errors import MaterialError
from labkit.materials.fractions import bounds, typical
from labkit.materials.rendering import card

__all__ = ["Band", "Constituent", "Material", "Partition", "Price", "SourceRef"]

Band = tuple[float, float, float]
"""Low, typical, high."""

_NO_FACTS: Mapping[str, SourceRef] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceRef:
    """Where one property of a material comes from.

    ``kind`` is ``opened``, ``computed``, ``memory``, ``common-practice``, ``invented``
    or ``own`` (from the user's own file).
    """

    source_id: str
    kind: str
    place: str | None = None

    @property
    def words(self) -> str:
        """Citation and place, as shown beside the number."""
        known = tables.sources()
        names = [
            known[part].citation if part in known else part for part in self.source_id.split("; ")
        ]
        return "; ".join(names) + (f", {self.place}" if self.place else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Constituent:
    """One part of a material as supplied.

    ``low`` and ``high`` are fractions of the material (0 to 1), equal when the share
    is exact, ``None`` when only the order is known. ``role`` is ``main``, ``carrier``,
    ``preservative``, ``stabiliser``, ``salt``, ``water``, or ``within`` for what a
    natural material holds (it counts for limits, and is no ingredient of its own).
    """

    inci: str
    order: int = 1
    low: float | None = None
    high: float | None = None
    role: str = "main"

    @property
    def exact(self) -> bool:
        """Whether the share is one figure."""
        return self.low is not None and self.low == self.high


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """A price per kilogram of material as supplied."""

    per_kg: float
    currency: str
    pack: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Partition:
    """How a substance shares itself between water and another phase."""

    medium: str
    value: float
    unit: str
    temperature_c: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Material:
    """A raw material; what is not known is ``None``.

    Attributes
    ----------
    key : str
        Made from the common name, unique among the materials in use.
    name : str
        Common name; an INCI name may cover several grades, this names one.
    inci : str
        Ingredient name, parts of a blend joined by ``(and)``.
    starter_id : str or None
        Number in the starter set, ``None`` for own materials.
    functions, groups, hazards, allergy, origin : tuple or frozenset of str
        What it does, tags that the checks use, cautions, allergy and origin tags.
    phase : str or None
        ``water``, ``oil`` or ``dispersible``.
    charge : str or None
        ``nonionic``, ``anionic``, ``cationic``, ``amphoteric``, ``small-ion``, ``acid``,
        ``base`` or ``pigment``.
    charge_class : str or None
        ``surfactant``, ``polymer``, ``dye``, ``protein``, ``soap-when-neutralised``,
        ``polyphosphate``; ``None`` for all others.
    constituents : tuple of Constituent
        Empty when the material is the one substance that its INCI names.
    strength : float or None
        Fraction of the named substance in the material as supplied.
    use_low, use_high : float or None
        Usual use level as supplied [% w/w]; ``no_minimum`` marks solvents and carriers.
    ph_low, ph_high, ph_reason
        Window in which it works or lasts, and why.
    heat_limit_c : float or None
        Highest temperature of the pot [°C].
    hlb, required_hlb : (float, float, float) or None
        Low, typical, high.
    density_g_ml : float or None
        Between 20 and 25 °C [g/mL].
    acid_base : tuple of (str, float) or None
        Component and mol per gram as supplied.
    recipe : tuple of (str, float)
        For a premix: keys and fractions of what it was made from.
    facts : mapping of str to SourceRef
        Source of each property.
    """

    key: str
    name: str
    inci: str
    starter_id: str | None = None
    functions: tuple[str, ...] = ()
    phase: str | None = None
    charge: str | None = None
    charge_class: str | None = None
    groups: frozenset[str] = frozenset()
    constituents: tuple[Constituent, ...] = ()
    strength: float | None = None
    basis: str | None = None
    use_low: float | None = None
    use_high: float | None = None
    no_minimum: bool = False
    ph_low: float | None = None
    ph_high: float | None = None
    ph_reason: str | None = None
    heat_limit_c: float | None = None
    heat_sensitive: bool | None = None
    volatile: bool | None = None
    hlb: Band | None = None
    required_hlb: Band | None = None
    density_g_ml: float | None = None
    cas: str | None = None
    acid_base: tuple[tuple[str, float], ...] | None = None
    partition: tuple[Partition, ...] | None = None
    price: Price | None = None
    hazards: tuple[str, ...] = ()
    allergy: frozenset[str] = frozenset()
    origin: frozenset[str] = frozenset()
    feel: str | None = None
    spreading: str | None = None
    note: str | None = None
    made_on: date | None = None
    lot: str | None = None
    expires: date | None = None
    recipe: tuple[tuple[str, float], ...] = ()
    assumed: str | None = None
    facts: Mapping[str, SourceRef] = field(default_factory=lambda: _NO_FACTS, hash=False)

    def __post_init__(self) -> None:
        _check_ranges(self)
        if self.constituents:
            _check_parts(self)

    def __repr__(self) -> str:
        return f"<Material {self.name!r}: {self.inci}>"

    def __reduce__(self) -> tuple[Any, ...]:
        values = {f.name: getattr(self, f.name) for f in dataclass_fields(self)}
        return (_rebuild, (values | {"facts": dict(self.facts)},))

    @property
    def is_blend(self) -> bool:
        """Whether the INCI names several ingredients."""
        return len(self.listed) > 1

    @property
    def listed(self) -> tuple[Constituent, ...]:
        """The constituents that are ingredients of their own."""
        return tuple(part for part in self.constituents if part.role != "within")

    @property
    def ordered_only(self) -> bool:
        """Whether no share of the blend is known, only the order."""
        return self.is_blend and all(part.low is None for part in self.listed)

    def source(self, name: str) -> SourceRef | None:
        """Where a property comes from, ``None`` when nothing is recorded.

        Parameters
        ----------
        name : str
            A property such as ``"density"``, ``"hlb"`` or ``"use_level"``; the name of
            the attribute will do too.
        """
        return self.facts.get(_SPOKEN.get(name, name))

    def shares(self) -> tuple[list[float], list[float], list[float]]:
        """Low, typical and high fraction of each part in `listed`, in order.

        Returns
        -------
        tuple of three lists of float
            Every mixture between them sums to 1, the typical one does.
        """
        parts = self.listed
        limits = bounds([p.low for p in parts], [p.high for p in parts])
        assert limits is not None
        return limits[0], typical(*limits), limits[1]

    def unknowns(self) -> list[str]:
        """What is not known of this material, in words.

        Returns
        -------
        list of str
            Empty when nothing that labkit uses is missing.
        """
        from_list = [words for name, words in _WORDS.items() if getattr(self, name) is None]
        if self.phase == "oil" and self.required_hlb is None and "emollient" in self.functions:
            from_list.append("required HLB")
        if "emulsifier" in self.functions and self.charge == "nonionic" and self.hlb is None:
            from_list.append("HLB")
        if self.ordered_only:
            from_list.append("shares of the blend (only their order is known)")
        elif any(part.low is None for part in self.listed):
            from_list.append("some shares of the blend")
        if self.charge in ("acid", "base") and self.acid_base is None:
            from_list.append("acid and base content")
        return from_list

    def _repr_html_(self) -> str:
        return card(self)


_WORDS = {
    "phase": "phase it goes into",
    "charge": "charge",
    "use_high": "usual use level",
    "heat_limit_c": "heat limit",
    "density_g_ml": "density",
    "cas": "CAS number",
    "price": "price",
}

_SPOKEN = {
    "density": "density_g_ml",
    "heat_limit": "heat_limit_c",
    "ph": "ph_window",
    "composition": "constituents",
}

_PAIRS = (
    ("use_low", "use_high", "use level", 0.0, 100.0, " %"),
    ("ph_low", "ph_high", "pH window", 0.0, 14.0, ""),
    ("strength", "strength", "strength", 0.0, 1.0, ""),
    ("density_g_ml", "density_g_ml", "density", 0.1, 25.0, " g/mL"),
    ("heat_limit_c", "heat_limit_c", "heat limit", -30.0, 400.0, " °C"),
)


def _rebuild(values: dict[str, Any]) -> Material:
    return Material(**values | {"facts": MappingProxyType(values["facts"])})


def _check_ranges(material: Material) -> None:
    for low, high, words, least, most, unit in _PAIRS:
        a, b = getattr(material, low), getattr(material, high)
        known = [x for x in (a, b) if x is not None]
        if any(not least <= x <= most for x in known) or (len(known) == 2 and a > b):
            shown = " to ".join(f"{x:g}" for x in dict.fromkeys(known))
            raise MaterialError(
                where=f"Material {material.name!r}",
                found=f"{words} {shown}{unit}",
                allowed=f"From {least:g} to {most:g}{unit}, the lower figure first",
                cause="A decimal sign, a unit or the order of the two figures is wrong",
                do="Correct the figure, or leave it blank if it is not known",
            )


def _check_parts(material: Material) -> None:
    parts = material.listed
    wrong = [p for p in parts if (p.low is None) != (p.high is None) or not _within(p.low, p.high)]
    limits = bounds([p.low for p in parts], [p.high for p in parts]) if parts else ([], [])
    if not wrong and limits is not None:
        return
    lows = 100 * sum(p.low or 0.0 for p in parts)
    highs = 100 * sum(1.0 if p.high is None else p.high for p in parts)
    raise MaterialError(
        where=f"Material {material.name!r}",
        found=f"shares of {wrong[0].inci} from {wrong[0].low} to {wrong[0].high}"
        if wrong
        else f"parts that add up to {lows:.4g} to {highs:.4g} % of it",
        allowed="Parts that can add up to 100 %, each from 0 to 100 %, the lower figure first",
        cause="A part is missing from the composition, or a figure is mistyped",
        do="Add the missing part (often Aqua), or leave the unknown figures blank",
    )


def _within(low: float | None, high: float | None) -> bool:
    return low is None or high is None or 0.0 <= low <= high <= 1.0
