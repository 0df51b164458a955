"""How much base for a carbomer, an acrylate or a fatty acid; how much acid for a fatty amidoamine.

These acids and bases sit on chains or in layers: their pKa is apparent and moves with
salt and with the degree of neutralisation. The answer is a band, and a first weighing.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from itertools import product
from types import MappingProxyType

import numpy as np

from labkit.errors import ScienceError
from labkit.science.acid_materials import AcidMaterial, acid_material
from labkit.science.acidbase_system import compile_system
from labkit.science.activity import Array
from labkit.tables import rows

FIRST_SHARE = 0.75
WEAKEST_USE = 0.05
TYPICAL_MOL_PER_KG = 0.02
BASE_USED_UP_PH, ACID_USED_UP_PH = 4.0, 7.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A typical value with the ends it is seen between."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ApparentAcid:
    """A polymer, fatty acid or fatty amine with an apparent constant.

    Attributes
    ----------
    name, inci : str
        Grade and INCI name.
    is_acid : bool
        True: it wants a base; False: it wants an acid.
    equivalents_mmol_g : Band
        Acid or base groups [mmol per g as supplied].
    pka_apparent : Band
        pH at half neutralisation [pH units].
    steepness : Band
        n in pH = pKapp + n log10(a/(1 - a)) [-].
    source_ids : tuple of str
        Keys of ``datasets/sources.d/acidbase.csv``.
    """

    name: str
    inci: str
    is_acid: bool
    equivalents_mmol_g: Band
    pka_apparent: Band
    steepness: Band
    source_ids: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Neutralisation:
    """Reagent for a polymer, fatty acid or fatty amine.

    Attributes
    ----------
    material, reagent : str
        The grades meant.
    reagent_g, low_g, high_g : float
        Typical weight and the band it lies in [g as supplied].
    first_g : float
        Three quarters of the lower end: what to add before the first reading [g].
    ph : float or None
        The pH asked for; None when a degree was given, for then it must be measured.
    degree : float
        Share of the groups neutralised, at the typical values.
    words : str
        The answer as a line for the weigh sheet.
    caution : str
        What can hurt, or "".
    source_ids : tuple of str
        Where the numbers come from.
    """

    material: str
    reagent: str
    reagent_g: float
    low_g: float
    high_g: float
    first_g: float
    ph: float | None
    degree: float
    words: str
    caution: str
    source_ids: tuple[str, ...]


@cache
def apparent_acids() -> Mapping[str, ApparentAcid]:
    """Every material of ``datasets/acid_base_apparent.csv`` by its name.

    Returns
    -------
    mapping of str to ApparentAcid
        Read-only.

    Raises
    ------
    DataFileError
        The table is missing or damaged.

    Notes
    -----
    Equivalents from acid or amine values, apparent constants from titrations of
    polyacids; from memory, with the band that grades show.

    Examples
    --------
    >>> apparent_acids()["Carbomer"].equivalents_mmol_g.value
    13.2
    """
    facts: dict[str, dict[str, Mapping[str, str | None]]] = {}
    for row in rows("acid_base_apparent"):
        facts.setdefault(str(row["material"]), {})[str(row["property"])] = row
    return MappingProxyType({name: _apparent(name, group) for name, group in facts.items()})


def _apparent(name: str, group: Mapping[str, Mapping[str, str | None]]) -> ApparentAcid:
    first = group["equivalents"]
    return ApparentAcid(
        name=name,
        inci=str(first["inci"]),
        is_acid=first["kind"] == "acid",
        equivalents_mmol_g=_band(first),
        pka_apparent=_band(group["pka_apparent"]),
        steepness=_band(group["steepness"]),
        source_ids=tuple(dict.fromkeys(str(row["source_id"]) for row in group.values())),
    )


def _band(row: Mapping[str, str | None]) -> Band:
    value, low, high = (float(str(row[key])) for key in ("value", "low", "high"))
    return Band(value=value, low=low, high=high)


def neutralise(
    material: str,
    grams: float,
    reagent: str,
    ph: float | None = None,
    degree: float | None = None,
    temperature_c: float = 25.0,
) -> Neutralisation:
    """How much base for a carbomer, acrylate or fatty acid; how much acid for a fatty amine.

    Parameters
    ----------
    material : str
        Such as ``"Carbomer"``, ``"Acrylates Copolymer"``, ``"Stearic Acid"``,
        ``"Stearamidopropyl Dimethylamine"``.
    grams : float
        Its weight as supplied [g].
    reagent : str
        The base or acid, such as ``"Sodium hydroxide 18 % solution"`` or
        ``"Lactic acid 80 %"``.
    ph : float, optional
        pH wanted in the water phase.
    degree : float, optional
        Or the share of the groups to neutralise, above 0 up to 1. Give one of the two; a
        fatty acid wants the degree, its pH says little.
    temperature_c : float
        0 to 100 [°C].

    Returns
    -------
    Neutralisation
        Weight of the reagent as supplied, with its band.

    Raises
    ------
    ScienceError
        An unknown material or reagent, neither or both of ``ph`` and ``degree``, a base
        where an acid is wanted, a pH at which the reagent gives next to nothing.

    Notes
    -----
    groups x a = reagent x charge given at this pH, with pH = pKapp + n log10(a/(1 - a))
    (Katchalsky and Spitnik 1947; Henderson and Hasselbalch with steepness n; amines the
    other way round) and the reagent's charge from its own constants. With a degree the
    reagent counts as used up: a base by its charge at pH 4, an acid by its charge at pH 7.
    The band takes every combination of low and high equivalents, pKapp and n. Other
    acids and bases of the formula come on top; salt lowers pKapp. Check by titration.

    Examples
    --------
    >>> answer = neutralise("Carbomer", 1.0, "Sodium hydroxide 18 % solution", ph=7.0)
    >>> round(answer.reagent_g, 1), round(answer.degree, 2)
    (2.3, 0.78)
    """
    groups = _find(material)
    weighed = _positive(f"{groups.name}", grams)
    helper = acid_material(reagent)
    _check_aim(groups, ph, degree)
    used_up = BASE_USED_UP_PH if groups.is_acid else ACID_USED_UP_PH
    given = _given(groups, helper, used_up if ph is None else ph, temperature_c)
    per_gram, share = _weight(groups, given, ph, degree, _typical(groups))
    corners = [_weight(groups, given, ph, degree, corner)[0] for corner in _corners(groups)]
    amount, low, high = (weighed * part for part in (per_gram, min(corners), max(corners)))
    first = FIRST_SHARE * low
    return Neutralisation(
        material=groups.name,
        reagent=helper.name,
        reagent_g=amount,
        low_g=low,
        high_g=high,
        first_g=first,
        ph=ph,
        degree=share,
        words=_words(groups, helper, weighed, amount, low, high, first),
        caution=helper.caution,
        source_ids=(*groups.source_ids, helper.source_id),
    )


def _words(
    groups: ApparentAcid,
    helper: AcidMaterial,
    grams: float,
    amount: float,
    low: float,
    high: float,
    first: float,
) -> str:
    return (
        f"{amount:.3g} g of {helper.name} for {grams:g} g of {groups.name} "
        f"({low:.3g} to {high:.3g} g: its pKa is apparent). Add {first:.3g} g, stir, wait, "
        "read; finish in steps and check by titration. Other acids and bases in the formula "
        "come on top."
    )


def _typical(groups: ApparentAcid) -> tuple[float, float, float]:
    return groups.equivalents_mmol_g.value, groups.pka_apparent.value, groups.steepness.value


def _corners(groups: ApparentAcid) -> list[tuple[float, float, float]]:
    bands = (groups.equivalents_mmol_g, groups.pka_apparent, groups.steepness)
    first, second, third = ((band.low, band.high) for band in bands)
    return list(product(first, second, third))


def _weight(
    groups: ApparentAcid,
    given: float,
    ph: float | None,
    degree: float | None,
    values: tuple[float, float, float],
) -> tuple[float, float]:
    """Grams of reagent for a gram of material, and the degree, for one set of values."""
    equivalents, pka, steepness = values
    if ph is None:
        share = float(degree or 0.0)
    else:
        sign = 1.0 if groups.is_acid else -1.0
        share = 1.0 / (1.0 + 10.0 ** (sign * (pka - ph) / steepness))
    return equivalents * 1e-3 * share / given, share


def _given(groups: ApparentAcid, helper: AcidMaterial, ph: float, temperature_c: float) -> float:
    """Equivalents of the wanted kind that a gram of reagent gives at this pH [mol]."""
    sign = 1.0 if groups.is_acid else -1.0
    given = sign * _charge_per_g(helper, ph, temperature_c)
    if given < WEAKEST_USE * _capacity(helper):
        raise _useless(groups, helper, ph)
    return given


def _charge_per_g(helper: AcidMaterial, ph: float, temperature_c: float) -> float:
    """Base (positive) or acid (negative) that a gram gives up at this pH [mol]."""
    names = tuple(helper.contents)
    system = compile_system(names, None, temperature_c)
    amounts = np.array([helper.contents[name] for name in names])
    scale = TYPICAL_MOL_PER_KG / amounts.max()
    blank = float(system.charge(ph, np.zeros(len(names))))
    return float((system.charge(ph, amounts * scale) - blank) / scale)


def _capacity(helper: AcidMaterial) -> float:
    amounts: Array = np.array(list(helper.contents.values()))
    return float(amounts.max())


def _check_aim(groups: ApparentAcid, ph: float | None, degree: float | None) -> None:
    if (ph is None) == (degree is None):
        raise ScienceError(
            where=groups.name,
            found="both a pH and a degree" if ph is not None else "neither a pH nor a degree",
            allowed="One of the two",
            cause="They fix each other",
            do="Give ph=6.5 for a gel, degree=0.5 for a fatty acid",
        )
    if ph is not None and not 2.0 <= ph <= 12.0:
        raise ScienceError(
            where=groups.name,
            found=f"pH {ph:g}",
            allowed="2 to 12",
            cause="A decimal point may be missing",
            do="Give the pH wanted in the product",
        )
    if degree is not None and not 0.0 < degree <= 1.0:
        raise ScienceError(
            where=groups.name,
            found=f"a degree of {degree:g}",
            allowed="Above 0, up to 1",
            cause="A percentage in place of a share",
            do="Write 0.5 for half neutralised",
        )


def _find(text: str) -> ApparentAcid:
    wanted = str(text).strip().casefold()
    every = apparent_acids()
    for name, one in every.items():
        if wanted in (name.casefold(), one.inci.casefold()):
            return one
    names = {name.casefold(): name for name in every}
    names |= {one.inci.casefold(): one.inci for one in every.values()}
    close = difflib.get_close_matches(wanted, list(names), n=4, cutoff=0.4)
    raise ScienceError(
        where="Neutralising",
        found=f"{text!r} has no acid or amine value here",
        allowed="Near names: " + ("; ".join(names[word] for word in close) or "; ".join(every)),
        cause="A salt that is neutral already, or a material without data",
        do="Pick a near name; a dissolved acid or base goes through dose_for_ph",
    )


def _positive(name: str, grams: float) -> float:
    if not math.isfinite(grams) or grams <= 0.0:
        raise ScienceError(
            where=name,
            found=f"{grams:g} g",
            allowed="More than 0 g",
            cause="The weight was left out or carries a sign",
            do="Give the grams as supplied",
        )
    return float(grams)


def _useless(groups: ApparentAcid, helper: AcidMaterial, ph: float) -> ScienceError:
    wants = "a base" if groups.is_acid else "an acid"
    return ScienceError(
        where=f"{groups.name} with {helper.name}",
        found=f"at pH {ph:.1f} {helper.name} gives next to nothing",
        allowed=f"{groups.name} wants {wants} that still works at this pH",
        cause="An acid in place of a base, or a reagent too weak for this pH",
        do="Take sodium hydroxide or arginine for a base, lactic or citric acid for an acid, "
        "or aim at another pH",
    )
