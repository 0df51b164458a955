"""The starter set, put together from the tables in ``datasets/``."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from labkit import tables
from labkit.materials.acid_content import COMPUTED, of_grade, of_parts
from labkit.materials.model import Band, Constituent, Material, Partition, Price, SourceRef
from labkit.materials.names import fold, slug

__all__ = ["default_grades", "other_names", "starter_materials"]

_Grouped = Mapping[str, list[tables.Row]]


@cache
def starter_materials() -> tuple[Material, ...]:
    """Every material of the starter set, in the order of its numbers."""
    facts, parts, cautions, tags, prices = (
        _grouped(name)
        for name in (
            "material_facts",
            "material_constituents",
            "material_hazards",
            "material_tags",
            "demo/prices",
        )
    )
    partitions = _partitions()
    made = []
    for row in tables.rows("materials"):
        number = row["starter_id"] or ""
        values = _identity(row)
        sources = {name: _source(row) for name in ("functions", "phase", "charge")}
        for fact in facts[number]:
            _FACTS[fact["property"] or ""](values, fact)
            for name in _FIELDS.get(fact["property"] or "", (fact["property"] or "",)):
                if values.get(name, fact) is not None:
                    sources[name] = _source(fact)
        values["constituents"] = tuple(_constituent(p) for p in parts[number])
        values["hazards"] = tuple(h["hazard"] or "" for h in cautions[number])
        _put_tags(values, tags[number])
        for price in prices[number]:
            values["price"] = Price(
                per_kg=float(price["value"] or ""),
                currency=(price["unit"] or "").split("/")[0],
                pack=price["pack"],
            )
            sources["price"] = _source(price)
        for name, group in (("constituents", parts), ("hazards", cautions)):
            if group[number]:
                sources[name] = _source(group[number][0])
        _put_acid_base(values, sources)
        _put_partition(values, sources, partitions)
        made.append(Material(**values, facts=MappingProxyType(sources)))
    return tuple(made)


@cache
def other_names() -> Mapping[str, tuple[str, ...]]:
    """Other names of starter materials by starter number."""
    found: dict[str, list[str]] = defaultdict(list)
    for row in tables.rows("material_names"):
        found[row["starter_id"] or ""].append(row["alias"] or "")
    return MappingProxyType({number: tuple(names) for number, names in found.items()})


@cache
def default_grades() -> Mapping[str, tuple[str, str]]:
    """Folded INCI to starter number and reason, where an INCI names several grades."""
    return MappingProxyType(
        {
            fold(row["inci"] or ""): (row["starter_id"] or "", row["reason"] or "")
            for row in tables.rows("material_defaults")
        }
    )


def _grouped(name: str) -> _Grouped:
    groups: dict[str, list[tables.Row]] = defaultdict(list)
    for row in tables.rows(name):
        groups[row["starter_id"] or ""].append(row)
    return groups


@cache
def _shared_source(source_id: str, kind: str, place: str | None) -> SourceRef:
    return SourceRef(source_id=source_id, kind=kind, place=place)


def _source(row: tables.Row) -> SourceRef:
    return _shared_source(row["source_id"] or "", row["source_kind"] or "", row["place"])


def _listed(text: str | None) -> list[str]:
    return text.split("; ") if text else []


def _identity(row: tables.Row) -> dict[str, Any]:
    name = row["name"] or ""
    return {
        "key": slug(name),
        "name": name,
        "inci": row["inci"],
        "starter_id": row["starter_id"],
        "functions": tuple(_listed(row["functions"])),
        "phase": row["phase"],
        "charge": row["charge"],
        "charge_class": row["charge_class"],
        "groups": frozenset(_listed(row["groups"])),
        "basis": row["basis"],
    }


def _number(text: str | None) -> float | None:
    return None if text is None else float(text)


def _fraction(text: str | None) -> float | None:
    return None if text is None else round(float(text) / 100, 12)


def _constituent(row: tables.Row) -> Constituent:
    return Constituent(
        inci=row["inci"] or "",
        order=int(row["order"] or 1),
        low=_fraction(row["low"]),
        high=_fraction(row["high"]),
        role=row["role"] or "main",
    )


def _band(row: tables.Row) -> Band:
    value = float(row["value"] or "")
    low, high = _number(row["low"]), _number(row["high"])
    return (value if low is None else low, value, value if high is None else high)


def _use_level(values: dict[str, Any], row: tables.Row) -> None:
    values["use_low"], values["use_high"] = _number(row["low"]), _number(row["high"])
    values["no_minimum"] = row["text"] is not None


def _ph_window(values: dict[str, Any], row: tables.Row) -> None:
    values["ph_low"], values["ph_high"] = _number(row["low"]), _number(row["high"])
    values["ph_reason"] = row["text"]


def _heat_sensitive(values: dict[str, Any], row: tables.Row) -> None:
    values["heat_sensitive"] = row["text"] in ("yes", "volatile")
    values["volatile"] = row["text"] == "volatile"


def _put(
    name: str, read: Callable[[tables.Row], Any]
) -> Callable[[dict[str, Any], tables.Row], None]:
    def put(values: dict[str, Any], row: tables.Row) -> None:
        values[name] = read(row)

    return put


_FACTS: Mapping[str, Callable[[dict[str, Any], tables.Row], None]] = {
    "use_level": _use_level,
    "ph_window": _ph_window,
    "heat_sensitive": _heat_sensitive,
    "heat_limit": _put("heat_limit_c", lambda row: _number(row["value"])),
    "strength": _put("strength", lambda row: _fraction(row["value"])),
    "density": _put("density_g_ml", lambda row: _number(row["value"])),
    "cas": _put("cas", lambda row: row["text"]),
    "hlb": _put("hlb", _band),
    "required_hlb": _put("required_hlb", _band),
    "note": _put("note", lambda row: row["text"]),
}

_FIELDS = {
    "use_level": ("use_level", "use_low", "use_high"),
    "ph_window": ("ph_window", "ph_low", "ph_high", "ph_reason"),
    "heat_limit": ("heat_limit_c",),
    "density": ("density_g_ml",),
}


def _put_tags(values: dict[str, Any], rows: Iterable[tables.Row]) -> None:
    sets: dict[str, set[str]] = {"allergy": set(), "origin": set()}
    for row in rows:
        kind, tag = row["kind"] or "", row["tag"] or ""
        if kind in sets:
            sets[kind].add(tag)
        else:
            values[kind] = tag
    values |= {kind: frozenset(tags) for kind, tags in sets.items()}


def _partitions() -> Mapping[str, list[tables.Row]]:
    found: dict[str, list[tables.Row]] = defaultdict(list)
    seen = set()
    for name in ("partition", "partition_further"):
        for row in tables.rows(name):
            fact = (row["inci"], row["property"], row["medium"])
            if fact not in seen:
                seen.add(fact)
                found[fold(row["inci"] or "")].append(row)
    for row in tables.rows("use_limits"):
        acid, salt = row["acid_form"], row["inci"]
        if acid and salt and fold(acid) in found and fold(salt) not in found:
            found[fold(salt)] = found[fold(acid)]
    return found


def _put_partition(
    values: dict[str, Any], sources: dict[str, SourceRef], known: Mapping[str, list[tables.Row]]
) -> None:
    rows = known.get(fold(values["inci"]), ())
    if rows:
        values["partition"] = tuple(
            Partition(
                medium=row["medium"] or "",
                value=float(row["value"] or ""),
                unit=row["unit"] or "",
                temperature_c=_number(row["temperature_c"]),
            )
            for row in rows
        )
        sources["partition"] = _source(rows[0])


def _put_acid_base(values: dict[str, Any], sources: dict[str, SourceRef]) -> None:
    number, inci = values["starter_id"], values["inci"]
    names = [values["name"], *other_names().get(number, ())]
    if default_grades().get(fold(inci), (number, ""))[0] == number:
        names.append(inci)
    listed = of_grade(names)
    content = of_parts(values["constituents"]) if listed is None else None
    if listed is not None:
        values["acid_base"], sources["acid_base"] = listed
    elif content is not None:
        values["acid_base"], sources["acid_base"] = content, COMPUTED
