"""Acids, bases and ions by name, and their constants at a temperature."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from numbers import Real
from types import MappingProxyType
from typing import Any

from labkit.errors import ScienceError
from labkit.science.activity import GAS_CONSTANT, KELVIN, LN10, REFERENCE_K
from labkit.tables import rows

Constants = Mapping[str, Mapping[str, Any]]

PKA_LIMITS = (-5.0, 18.0)
MOST_STEPS = 12
_KEYS = ("pKa25", "dH_kJ_per_mol", "dCp_J_per_mol_K", "charge_fully_deprotonated")


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One acid, base or ion as the solver sees it.

    Attributes
    ----------
    name : str
        As in ``totals``.
    charge : int
        Charge without its acid protons; of a strong ion, its charge.
    pka25 : tuple of float
        Constants at 25 °C and ionic strength 0, first proton lost first; empty for a
        strong ion.
    dh_kj_per_mol, dcp_j_per_mol_k : tuple of float
        Enthalpy and heat capacity of each dissociation; 0 where unknown.
    """

    name: str
    charge: int
    pka25: tuple[float, ...] = ()
    dh_kj_per_mol: tuple[float, ...] = ()
    dcp_j_per_mol_k: tuple[float, ...] = ()

    def pka(self, temperature_c: float) -> tuple[float, ...]:
        """Constants at ``temperature_c`` [°C], ionic strength 0; see `pka_at`."""
        if temperature_c == REFERENCE_K - KELVIN:
            return self.pka25
        kelvin = temperature_c + KELVIN
        enthalpy = (1.0 / kelvin - 1.0 / REFERENCE_K) * 1000.0 / (GAS_CONSTANT * LN10)
        ratio = REFERENCE_K / kelvin
        capacity = (ratio - 1.0 - math.log(ratio)) / (GAS_CONSTANT * LN10)
        return tuple(
            pka + dh * enthalpy - dcp * capacity
            for pka, dh, dcp in zip(
                self.pka25, self.dh_kj_per_mol, self.dcp_j_per_mol_k, strict=True
            )
        )


def pka_at(name: str, temperature_c: float = 25.0) -> tuple[float, ...]:
    """Dissociation constants of a shipped acid or base at a temperature.

    Parameters
    ----------
    name : str
        A component or one of its other names, such as ``"citrate"`` or ``"Cit"``.
    temperature_c : float
        0 to 100 [°C].

    Returns
    -------
    tuple of float
        pKa of each step at ionic strength 0, first proton lost first; empty for a strong ion.

    Raises
    ------
    ScienceError
        An unknown name, a temperature outside 0-100 °C.

    Notes
    -----
    pKa(T) = pKa(298) + dH/(R ln10) (1/T - 1/298.15)
    - dCp/(R ln10) (298.15/T - 1 + ln(T/298.15)), a constant heat capacity of ionisation.
    Constants in ``datasets/acid_base_constants.csv`` with the source of each. Where dH is
    unknown the value does not move with temperature; carboxylic acids hardly do, amines
    fall by about 0.03 per °C.

    Examples
    --------
    >>> [round(value, 2) for value in pka_at("citrate", 25.0)]
    [3.13, 4.76, 6.4]
    >>> round(pka_at("Tris", 37.0)[0], 2)
    7.75
    """
    check_temperature(temperature_c)
    return find_component(name).pka(temperature_c)


@cache
def shipped_components() -> Mapping[str, Component]:
    """Every component of ``datasets/acid_base_constants.csv`` by its own name.

    Returns
    -------
    mapping of str to Component
        Read-only.

    Raises
    ------
    DataFileError
        The table is missing or damaged.

    Notes
    -----
    Strong ions carry one row with step 0.

    Examples
    --------
    >>> shipped_components()["Na"].charge
    1
    """
    facts: dict[str, dict[tuple[int, str], float]] = {}
    charges: dict[str, int] = {}
    for row in rows("acid_base_constants"):
        name = str(row["component"])
        charges[name] = int(str(row["charge_fully_deprotonated"]))
        facts.setdefault(name, {})[int(str(row["step"])), str(row["property"])] = float(
            str(row["value"])
        )
    return MappingProxyType({name: _shipped(name, charges[name], facts[name]) for name in facts})


def _shipped(name: str, charge: int, facts: Mapping[tuple[int, str], float]) -> Component:
    steps = sorted({step for step, _ in facts if step > 0})
    return Component(
        name=name,
        charge=charge,
        pka25=tuple(facts[step, "pKa25"] for step in steps),
        dh_kj_per_mol=tuple(facts.get((step, "dH"), 0.0) for step in steps),
        dcp_j_per_mol_k=tuple(facts.get((step, "dCp"), 0.0) for step in steps),
    )


@cache
def _spellings() -> tuple[Mapping[str, str], Mapping[str, str]]:
    exact = {name: name for name in shipped_components()}
    exact |= {str(row["name"]): str(row["component"]) for row in rows("acid_base_names")}
    return exact, {spelling.casefold(): name for spelling, name in exact.items()}


def component_name(name: str) -> str:
    """The component's own name for any accepted spelling, or the text itself.

    Parameters
    ----------
    name : str
        Such as ``"Cit"``, ``"citric acid"``, ``"Tris"``.

    Returns
    -------
    str
        Such as ``"citrate"``; an unknown text comes back unchanged.

    Raises
    ------
    ScienceError
        A name that is no text.

    Notes
    -----
    Spellings in ``datasets/acid_base_names.csv``; exact first, then without regard to case.

    Examples
    --------
    >>> component_name("Cit"), component_name("my own acid")
    ('citrate', 'my own acid')
    """
    if not isinstance(name, str):
        raise ScienceError(
            where="Components",
            found=f"{name!r} where a name belongs",
            allowed="Names such as 'citrate' or 'Na'",
            cause="A number or a list was given as a name",
            do="Write the name in quotes",
        )
    exact, folded = _spellings()
    text = name.strip()
    return exact.get(text) or folded.get(text.casefold()) or text


def find_component(name: str, constants: Constants | None = None) -> Component:
    """One component by any accepted name, with the caller's constants before the shipped.

    Parameters
    ----------
    name : str
        As in `component_name`.
    constants : mapping, optional
        Name to ``pKa25``, ``charge_fully_deprotonated`` and, where known,
        ``dH_kJ_per_mol`` and ``dCp_J_per_mol_K``.

    Returns
    -------
    Component

    Raises
    ------
    ScienceError
        An unknown name, or constants that cannot be used.

    Notes
    -----
    Constants hold at 25 °C and ionic strength 0, first proton lost first.

    Examples
    --------
    >>> mine = {"my acid": {"pKa25": [4.0], "charge_fully_deprotonated": -1}}
    >>> find_component("my acid", mine).pka25
    (4.0,)
    """
    own = component_name(name)
    given = {component_name(key): value for key, value in (constants or {}).items()}
    if own in given:
        return _given(own, given[own])
    try:
        return shipped_components()[own]
    except KeyError:
        raise _unknown(name) from None


def _unknown(name: str) -> ScienceError:
    folded = _spellings()[1]
    close = difflib.get_close_matches(name.casefold(), list(folded), n=4, cutoff=0.5)
    near = list(dict.fromkeys(folded[word] for word in close))
    hint = f"Near names: {', '.join(near)}" if near else "citrate, lactate, Na, Cl …"
    return ScienceError(
        where="Acids, bases and ions",
        found=f"{name!r} is not known",
        allowed=hint,
        cause="A salt or a trade spelling in place of its acid, base or ion",
        do="Name the acid part and the ion apart (sodium citrate: citrate and Na), "
        "or give its constants",
        name=name,
        near=tuple(near),
    )


def _given(name: str, facts: Mapping[str, Any]) -> Component:
    if not isinstance(facts, Mapping):
        raise _unusable(name, f"{facts!r}", "a mapping with pKa25 and charge_fully_deprotonated")
    extra = [key for key in facts if key not in _KEYS]
    if extra:
        raise _unusable(name, f"the entry {extra[0]!r}", ", ".join(_KEYS))
    charge = _whole(name, facts.get("charge_fully_deprotonated"))
    pka = _numbers(name, "pKa25", facts.get("pKa25"))
    low, high = PKA_LIMITS
    if len(pka) > MOST_STEPS or any(not low <= value <= high for value in pka):
        allowed = f"at most {MOST_STEPS} pKa, each {low:g} to {high:g}"
        raise _unusable(name, f"pKa {list(pka)}", allowed)
    return Component(
        name=name,
        charge=charge,
        pka25=pka,
        dh_kj_per_mol=_matching(name, facts, "dH_kJ_per_mol", len(pka)),
        dcp_j_per_mol_k=_matching(name, facts, "dCp_J_per_mol_K", len(pka)),
    )


def _whole(name: str, charge: Any) -> int:
    plain = isinstance(charge, Real) and not isinstance(charge, bool)
    if not plain or charge != round(float(charge)) or abs(float(charge)) > MOST_STEPS:
        allowed = f"a whole number from -{MOST_STEPS} to {MOST_STEPS}, such as -3"
        raise _unusable(name, f"the charge {charge!r}", allowed)
    return round(float(charge))


def _matching(name: str, facts: Mapping[str, Any], key: str, count: int) -> tuple[float, ...]:
    values = facts.get(key)
    if values is None:
        return (0.0,) * count
    found = _numbers(name, key, [0.0 if value is None else value for value in _listed(values)])
    if len(found) != count:
        raise _unusable(name, f"{len(found)} values of {key}", f"{count}, one for each pKa")
    return found


def _listed(values: Any) -> Sequence[Any]:
    return values if isinstance(values, list | tuple) else [values]


def _numbers(name: str, key: str, values: Any) -> tuple[float, ...]:
    found = []
    for value in _listed(values):
        plain = isinstance(value, Real) and not isinstance(value, bool)
        if not plain or not math.isfinite(float(value)):
            raise _unusable(name, f"{key} {value!r}", "plain numbers")
        found.append(float(value))
    return tuple(found)


def _unusable(name: str, found: str, allowed: str) -> ScienceError:
    return ScienceError(
        where=f"Constants of {name}",
        found=found,
        allowed=f"Wanted: {allowed}",
        cause="A constant was left out or typed in another shape",
        do='Write {"pKa25": [4.2], "dH_kJ_per_mol": [0.5], "charge_fully_deprotonated": -1}',
    )


def check_temperature(temperature_c: Any) -> float:
    """Refuse a temperature outside liquid water; give it back as a float.

    Parameters
    ----------
    temperature_c : float
        One temperature [°C].

    Returns
    -------
    float
        The same temperature [°C].

    Raises
    ------
    ScienceError
        Not a number, or outside 0 to 100 °C.

    Notes
    -----
    The constants of water and their heats hold for the liquid at ordinary pressure.

    Examples
    --------
    >>> check_temperature(25)
    25.0
    """
    plain = isinstance(temperature_c, Real) and not isinstance(temperature_c, bool)
    if not plain or not 0.0 <= float(temperature_c) <= 100.0:
        raise ScienceError(
            where="Temperature",
            found=f"{temperature_c} °C",
            allowed="0 to 100 °C",
            cause="The equations describe liquid water; a value in °F or K may have slipped in",
            do="Give the temperature in °C",
        )
    return float(temperature_c)
