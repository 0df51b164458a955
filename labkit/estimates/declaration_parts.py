"""From weighed lines to named substances, in exact decimals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache

from labkit import tables
from labkit.errors import MaterialError
from labkit.estimates.declaration_names import key_of
from labkit.formula import Formula
from labkit.formula.names import fold
from labkit.materials import Material, Materials
from labkit.quantities import decimal

__all__ = ["NOTHING", "LineParts", "Part", "Span", "parts_of"]

Certificates = Mapping[str, Mapping[str, Decimal]]
"""Material to what its certificate says it holds [% of the material]."""

_DIGITS = 12
_HUNDRED = Decimal(100)


@dataclass(frozen=True, slots=True)
class Span:
    """Least, usual and greatest amount; all equal when it is exact."""

    low: Decimal
    typical: Decimal
    high: Decimal

    def __add__(self, other: Span) -> Span:
        return Span(self.low + other.low, self.typical + other.typical, self.high + other.high)

    def times(self, other: Span | Decimal) -> Span:
        """The product, end by end."""
        by = other if isinstance(other, Span) else Span(other, other, other)
        return Span(self.low * by.low, self.typical * by.typical, self.high * by.high)

    @property
    def exact(self) -> bool:
        """Whether it is one figure."""
        return self.low == self.high


NOTHING = Span(Decimal(0), Decimal(0), Decimal(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A substance in one line; ``share`` is the fraction of the material.

    ``within`` marks what a natural material or a perfume holds: it counts for allergens
    and is no ingredient of its own.
    """

    inci: str
    key: str
    share: Span
    role: str = "main"
    within: bool = False
    typical_only: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LineParts:
    """One line taken apart. ``falling``: its parts are listed in falling order."""

    line: int
    written: str
    material: Material
    percent: Decimal
    parts: tuple[Part, ...]
    falling: bool = False
    not_stated: Decimal = field(default=Decimal(0))

    @property
    def listed(self) -> tuple[Part, ...]:
        """The parts that are ingredients of their own; their shares sum to 1."""
        return tuple(part for part in self.parts if not part.within)


def parts_of(
    formula: Formula,
    mats: Materials,
    certificates: Certificates | None = None,
    *,
    known_only: bool = False,
) -> tuple[LineParts, ...]:
    """Every line of a formula taken apart; lines of 0 % are left out.

    Parameters
    ----------
    formula : Formula
    mats : Materials
    certificates : mapping, optional
        Material, or INCI name of a part, to allergens and their share [% of it]. It takes the
        place of the typical composition of an essential oil.
    known_only : bool
        Leave out lines whose material is not known, in place of refusing.

    Returns
    -------
    tuple of LineParts

    Raises
    ------
    MaterialError
        Lines whose material is not known, or has no INCI name; all of them are named.
    """
    stated = _read(certificates or {}, formula.name)
    used: set[str] = set()
    resolved = [
        (i, line, mats.resolve(line.key or line.material))
        for i, line in enumerate(formula.lines)
        if line.percent
    ]
    if known_only:
        resolved = [one for one in resolved if one[2] is not None]
    else:
        _refuse_unnamed(formula, mats, [(line.material, m) for _, line, m in resolved])
    found = []
    for i, line, material in resolved:
        assert material is not None
        parts, rest = _own_parts(material)
        names = (line.material, material.name, material.key)
        parts += _held_inside(parts, material, names, stated, used)
        found.append(
            LineParts(
                line=i,
                written=line.material,
                material=material,
                percent=line.percent,
                parts=tuple(parts),
                falling=_is_falling(material),
                not_stated=rest,
            )
        )
    _refuse_unused(formula, stated, used)
    return tuple(found)


def _exact(value: float) -> Decimal:
    return Decimal(repr(round(value, _DIGITS)))


def _own_parts(material: Material) -> tuple[list[Part], Decimal]:
    if material.listed:
        low, usual, high = material.shares()
        parts = [
            Part(
                inci=part.inci,
                key=key_of(part.inci),
                share=_span(part.low, part.high, bounds),
                role=part.role,
            )
            for part, *bounds in zip(material.listed, low, usual, high, strict=True)
        ]
        return parts, Decimal(0)
    share = Decimal(1) if material.strength is None else _exact(material.strength)
    whole = Span(share, share, share)
    return [Part(inci=material.inci, key=key_of(material.inci), share=whole)], 1 - share


def _span(low: float | None, high: float | None, bounds: Sequence[float]) -> Span:
    if low is not None and low == high:
        return Span(_exact(low), _exact(low), _exact(low))
    least, usual, most = (_exact(value) for value in bounds)
    return Span(least, usual, most)


def _is_falling(material: Material) -> bool:
    """Whether the order of the parts is all that is known of some of them, and it holds."""
    listed = material.listed
    if len(listed) < 2 or all(part.low is not None for part in listed):
        return False
    low, _, high = material.shares()
    return all(sorted(x, reverse=True) == list(x) for x in (low, high))


def _held_inside(
    parts: Sequence[Part],
    material: Material,
    names: Sequence[str],
    stated: dict[str, dict[str, Decimal]],
    used: set[str],
) -> list[Part]:
    whole = next((fold(n) for n in names if fold(n) in stated), None)
    if whole is not None:
        used.add(whole)
        return _certified(stated[whole], Span(Decimal(1), Decimal(1), Decimal(1)))
    inside = [
        Part(
            inci=part.inci,
            key=key_of(part.inci),
            share=Span(*(_exact(x or 0.0) for x in (part.low, part.high, part.high))),
            role=part.role,
            within=True,
        )
        for part in material.constituents
        if part.role == "within"
    ]
    known = {part.key for part in inside}
    for part in parts:
        if fold(part.inci) in stated or part.key in stated:
            name = fold(part.inci) if fold(part.inci) in stated else part.key
            used.add(name)
            inside += _certified(stated[name], part.share)
        else:
            inside += [x for x in _usual_inside(part) if x.key not in known]
    return inside


def _certified(statement: Mapping[str, Decimal], of: Span) -> list[Part]:
    return [
        Part(inci=name, key=key_of(name), share=of.times(share / _HUNDRED), within=True)
        for name, share in statement.items()
    ]


def _usual_inside(part: Part) -> list[Part]:
    return [
        Part(
            inci=name,
            key=key_of(name),
            share=part.share.times(share),
            within=True,
            typical_only=True,
        )
        for name, share in _oils().get(part.key, ())
    ]


@cache
def _oils() -> Mapping[str, tuple[tuple[str, Span], ...]]:
    """What essential oils hold, as fractions, by the oil's key."""
    found: dict[str, list[tuple[str, Span]]] = {}
    for row in tables.rows("essential_oil_allergens"):
        oil, name, high = row["oil_inci"], row["allergen_label_name"], row["max_pct"]
        if oil and name and high:
            ends = (row["min_pct"] or "0", row["typical_pct"] or high, high)
            span = Span(*(Decimal(x) / _HUNDRED for x in ends))
            found.setdefault(key_of(oil), []).append((name, span))
    return {oil: tuple(parts) for oil, parts in found.items()}


def _read(certificates: Certificates, where: str) -> dict[str, dict[str, Decimal]]:
    found = {}
    for material, statement in certificates.items():
        told = f"{where}, certificate of {material}"
        shares = {
            str(name): decimal(share, where=told, lowest=0) for name, share in statement.items()
        }
        if (total := sum(shares.values(), Decimal(0))) > _HUNDRED:
            raise MaterialError(
                where=told,
                found=f"its parts add up to {total} %",
                allowed="At most 100 % of the material",
                cause="A decimal sign is missing, or the figures are in mg/kg",
                do="Give each part in % of the material: 1000 mg/kg is 0.1 %",
            )
        found[fold(material)] = shares
    return found


def _refuse_unnamed(
    formula: Formula, mats: Materials, lines: Sequence[tuple[str, Material | None]]
) -> None:
    unknown = [name for name, material in lines if material is None]
    if unknown:
        raise MaterialError(
            where=f"{formula.name}, ingredient list",
            found=f"materials that are not known: {', '.join(unknown)}",
            allowed="A material with its INCI name for every line",
            cause="The name covers several grades, is a trade name, or is mistyped",
            do="Add each with mats.add(name=…, inci=…) from the supplier's sheet, "
            "or write the name of a known grade",
            materials=unknown,
        )
    nameless = [name for name, material in lines if material and _nameless(material, mats)]
    if nameless:
        raise MaterialError(
            where=f"{formula.name}, ingredient list",
            found=f"no INCI name for: {', '.join(nameless)}",
            allowed="The names of the common ingredient glossary",
            cause="The material was added with its common or trade name only",
            do="Add it again with inci=… from the supplier's sheet; for a blend with "
            "composition='Name 70; Name 30'",
            materials=nameless,
        )


def _nameless(material: Material, mats: Materials) -> bool:
    if not material.inci.strip():
        return True
    typed = material.starter_id is None and material.source("inci") is None
    if not typed or material.listed or fold(material.inci) != fold(material.name):
        return False
    return not any(
        other.key != material.key and fold(material.inci) == fold(other.inci)
        for other in mats.values()
    )


def _refuse_unused(formula: Formula, stated: Mapping[str, object], used: set[str]) -> None:
    strange = sorted(set(stated) - used)
    if strange:
        raise MaterialError(
            where=f"{formula.name}, certificates",
            found=f"a certificate of {', '.join(strange)}",
            allowed="Certificates of materials that are in the formula",
            cause="The name is mistyped, or the material was taken out",
            do="Name the material as its line does, or leave the certificate out",
        )
