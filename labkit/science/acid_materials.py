"""What a weighed acid, base or salt brings into the water, by its hydrate, salt or strength."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from labkit.errors import ScienceError
from labkit.tables import Row, rows

CAUTIONS = MappingProxyType(
    {
        "caustic": "Caustic: burns skin and eyes and heats up with water. Goggles and gloves; "
        "add it to the water, never water to it; keep it from children; read the supplier's "
        "safety data sheet",
        "acid": "Corrosive acid: goggles and gloves; add it to the water; read the supplier's "
        "safety data sheet",
        "amine": "Alkaline amine: goggles and gloves; keep it away from anything that releases "
        "nitrite; limits and purity are set by local law",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class AcidMaterial:
    """A material as acids, bases and strong ions.

    Attributes
    ----------
    name : str
        The grade, unique.
    inci : str
        Shared by all grades.
    contents : mapping of str to float
        Component to amount [mol per g as supplied].
    water_g_per_g : float
        Water of solution and of crystal [g per g as supplied].
    caution : str
        What can hurt, or "".
    note : str
        What the numbers do not say, or "".
    source_id : str
        Key of ``datasets/sources.d/acidbase.csv``.
    """

    name: str
    inci: str
    contents: Mapping[str, float]
    water_g_per_g: float
    caution: str
    note: str
    source_id: str


@cache
def acid_materials() -> Mapping[str, AcidMaterial]:
    """Every material of ``datasets/acid_base_materials.csv`` by its name.

    Returns
    -------
    mapping of str to AcidMaterial
        Read-only.

    Raises
    ------
    DataFileError
        The table is missing or damaged.

    Notes
    -----
    mol per g = count x strength / molar mass, the molar mass from the formula in the row
    (IUPAC standard atomic weights 2021).

    Examples
    --------
    >>> round(acid_materials()["Citric acid"].contents["citrate"] * 1000, 3)
    5.205
    """
    gathered: dict[str, list[Row]] = {}
    for row in rows("acid_base_materials"):
        gathered.setdefault(str(row["material"]), []).append(row)
    return MappingProxyType({name: _material(name, group) for name, group in gathered.items()})


def _material(name: str, group: list[Row]) -> AcidMaterial:
    first = group[0]
    return AcidMaterial(
        name=name,
        inci=str(first["inci"]),
        contents=MappingProxyType(
            {str(row["component"]): float(str(row["mol_per_g"])) for row in group}
        ),
        water_g_per_g=float(str(first["water_g_per_g"])),
        caution=CAUTIONS.get(first["caution"] or "", ""),
        note=first["note"] or "",
        source_id=str(first["source_id"]),
    )


def acid_material(text: str) -> AcidMaterial:
    """The acid, base or salt meant by a name or an unambiguous INCI name.

    Parameters
    ----------
    text : str
        Such as ``"Citric acid monohydrate"`` or ``"Tromethamine"``; case does not matter.

    Returns
    -------
    AcidMaterial

    Raises
    ------
    ScienceError
        An unknown name, or an INCI name of several grades.

    Notes
    -----
    A grade's own name goes before an INCI name.

    Examples
    --------
    >>> acid_material("tromethamine").name
    'Tris'
    """
    wanted = str(text).strip().casefold()
    every = acid_materials()
    for name, material in every.items():
        if name.casefold() == wanted:
            return material
    grades = [material for material in every.values() if material.inci.casefold() == wanted]
    if len(grades) == 1:
        return grades[0]
    if grades:
        raise ScienceError(
            where="Acids and bases",
            found=f"{text!r} comes in {len(grades)} grades",
            allowed="One of: " + "; ".join(material.name for material in grades),
            cause="Hydrates and solutions share an INCI name but not a strength",
            do="Name the grade on the label",
            grades=tuple(material.name for material in grades),
        )
    names = {name.casefold(): name for name in every}
    names |= {material.inci.casefold(): material.inci for material in every.values()}
    close = difflib.get_close_matches(wanted, list(names), n=4, cutoff=0.5)
    raise ScienceError(
        where="Acids and bases",
        found=f"{text!r} is not in the table",
        allowed="Near names: " + ("; ".join(names[word] for word in close) or "none"),
        cause="Another spelling, or a material without acid-base data",
        do="Pick a near name, or give its components in mol",
    )


def totals_from_grams(grams: Mapping[str, float], water_g: float) -> dict[str, float]:
    """Totals for `solve_ph` from what was weighed.

    Parameters
    ----------
    grams : mapping of str to float
        Material, as in `acid_material`, to its weight [g].
    water_g : float
        Water beside what the materials bring along [g].

    Returns
    -------
    dict of str to float
        Component to amount [mol per kg of all the water].

    Raises
    ------
    ScienceError
        An unknown material, a weight below zero, no water.

    Notes
    -----
    Water of solutions and of crystals joins the water. Composition data from
    ``datasets/acid_base_materials.csv``.

    Examples
    --------
    >>> totals = totals_from_grams({"Citric acid": 1.0, "Trisodium citrate dihydrate": 2.0}, 97.0)
    >>> {name: round(value, 4) for name, value in totals.items()}
    {'citrate': 0.1235, 'Na': 0.2098}
    """
    moles: dict[str, float] = {}
    water = _weight("Water", water_g)
    for name, weight in grams.items():
        material, amount = acid_material(name), _weight(name, weight)
        water += amount * material.water_g_per_g
        for component, mol_per_g in material.contents.items():
            moles[component] = moles.get(component, 0.0) + amount * mol_per_g
    if water <= 0.0:
        raise ScienceError(
            where="Water",
            found="0 g of water",
            allowed="More than 0 g",
            cause="pH belongs to a water phase",
            do="Give the water of the batch",
        )
    return {component: 1000.0 * amount / water for component, amount in moles.items()}


def _weight(name: str, grams: float) -> float:
    value = float(grams)
    if not math.isfinite(value) or value < 0.0:
        raise ScienceError(
            where="Weights",
            found=f"{name}: {value:g} g",
            allowed="A weight is 0 g or more",
            cause="A sign or an empty cell",
            do="Give the grams that were weighed",
        )
    return value
