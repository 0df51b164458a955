"""A formula taken as a material."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from labkit.errors import MaterialError
from labkit.materials.decomposition import decompose
from labkit.materials.model import Constituent, Material, Price, SourceRef
from labkit.materials.names import checked_name, slug

__all__ = ["premix"]

_COMPUTED = SourceRef(source_id="own-arithmetic", kind="computed", place="from its lines")


def premix(
    formula: Any,
    resolve: Callable[[str], Material | None],
    *,
    name: str | None,
    made_on: date | None,
    lot: str | None,
    expires: date | None,
) -> Material:
    """See `labkit.materials.Materials.premix`."""
    title = checked_name(name or formula.name, where="Premix")
    if made_on is not None and expires is not None and expires < made_on:
        raise MaterialError(
            where=f"Premix {title!r}",
            found=f"use before {expires}, made on {made_on}",
            allowed="A last day of use after the day of making",
            cause="The two dates are swapped",
            do="Correct one of the dates",
        )
    lines = [line for line in formula.lines if line.percent]
    materials = _known([line.material for line in lines], resolve, title)
    shares = [line.percent / Decimal(100) for line in lines]
    parts = _parts(materials, shares)
    return Material(
        key=slug(title),
        name=title,
        inci=" (and) ".join(part.inci for part in parts if part.role != "within"),
        functions=("premix",),
        constituents=parts,
        heat_limit_c=min((m.heat_limit_c for m in materials if m.heat_limit_c), default=None),
        heat_sensitive=_any([m.heat_sensitive for m in materials]),
        volatile=_any([m.volatile for m in materials]),
        acid_base=_acid_base(materials, shares),
        price=_price(materials, shares),
        hazards=tuple(dict.fromkeys(h for m in materials for h in m.hazards)),
        allergy=frozenset().union(*(m.allergy for m in materials)),
        origin=frozenset().union(*(m.origin for m in materials)),
        made_on=made_on,
        lot=lot,
        expires=expires,
        recipe=tuple((m.key, float(x)) for m, x in zip(materials, shares, strict=True)),
        facts=MappingProxyType(dict.fromkeys(("constituents", "acid_base", "price"), _COMPUTED)),
    )


def _known(
    names: Sequence[str], resolve: Callable[[str], Material | None], title: str
) -> list[Material]:
    found = [resolve(name) for name in names]
    unknown = [name for name, material in zip(names, found, strict=True) if material is None]
    if unknown or not names:
        raise MaterialError(
            where=f"Premix {title!r}",
            found=f"materials that are not known: {', '.join(unknown)}" if names else "no lines",
            allowed="Lines whose materials are all known",
            cause="A name is mistyped or covers several grades, or the material is your own",
            do="Name the grade, or add the material first",
            unknown=unknown,
        )
    return [material for material in found if material is not None]


def _parts(materials: Sequence[Material], shares: Sequence[Decimal]) -> tuple[Constituent, ...]:
    """Constituents in falling order; exact wherever those of the lines are."""
    apart = decompose(materials)
    amounts = [float(x) for x in shares]
    low, high = apart.range(amounts)
    usual = apart.percent(amounts)
    roles = [next((r for r in column if r), "main") for column in apart.roles.T]
    order = sorted((j for j in range(len(usual)) if high[j] > 0), key=lambda j: (-usual[j], j))
    parts = [
        Constituent(
            inci=apart.inci[j],
            order=place,
            low=round(float(low[j]), 12),
            high=min(1.0, round(float(high[j]), 12)),
            role=roles[j],
        )
        for place, j in enumerate(order, start=1)
    ]
    for j, inci in enumerate(apart.inci):
        held = [float(w[:, j] @ amounts) for w in (apart.within_low, apart.within_high)]
        if held[1] > 0:
            parts.append(
                Constituent(
                    inci=inci, order=len(parts) + 1, low=held[0], high=held[1], role="within"
                )
            )
    return tuple(parts)


def _acid_base(
    materials: Sequence[Material], shares: Sequence[Decimal]
) -> tuple[tuple[str, float], ...] | None:
    total: dict[str, float] = defaultdict(float)
    for material, share in zip(materials, shares, strict=True):
        if material.acid_base is None and material.charge in ("acid", "base"):
            return None
        for component, content in material.acid_base or ():
            total[component] += content * float(share)
    return tuple(sorted(total.items())) or None


def _price(materials: Sequence[Material], shares: Sequence[Decimal]) -> Price | None:
    prices = [m.price for m in materials]
    currencies = {p.currency for p in prices if p is not None}
    if None in prices or len(currencies) != 1:
        return None
    per_kg = sum(p.per_kg * float(x) for p, x in zip(prices, shares, strict=True) if p is not None)
    return Price(per_kg=per_kg, currency=currencies.pop())


def _any(flags: Sequence[bool | None]) -> bool | None:
    if any(flags):
        return True
    return None if None in flags else False
