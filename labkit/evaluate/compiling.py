"""A formula and its materials made ready for the arithmetic."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from labkit.evaluate.emulsifiers import asks_for_hlb, counts_in_hlb, emulsifies
from labkit.evaluate.evaluator import Evaluator
from labkit.evaluate.preservatives import Preservative, preservative
from labkit.formula import Formula, formula_of
from labkit.formula.names import fold, is_water
from labkit.materials import Material, decompose
from labkit.materials.decomposition import Decomposition
from labkit.science.acidbase_system import System, compile_system
from labkit.science.neutralising import apparent_acids
from labkit.science.preservation import oil_water

__all__ = ["KnowsMaterials", "compile_formula"]

Array = NDArray[np.float64]
WATER = "aqua"
UNKNOWN_PARTITION = 1.0
"""Oil/water coefficient where none is known: the level is taken as it was dosed."""

PLAIN_OIL_DENSITY = 0.92
"""g/mL of an oil phase without densities; common practice for triglycerides."""


class KnowsMaterials(Protocol):
    """What the evaluator asks of a list of materials."""

    def resolve(self, text: str) -> Material | None:
        """The material that a name or key means, None when it is not known."""


def compile_formula(
    formula: Formula, mats: KnowsMaterials | None = None, temperature_c: float = 25.0
) -> Evaluator:
    """Make a formula ready for evaluation.

    Parameters
    ----------
    formula : Formula
        Its lines name the materials.
    mats : Materials, optional
        Lines that it does not know are kept, named, and counted as unknown; without a
        list only plain water is known.
    temperature_c : float
        Of the pH [°C].

    Returns
    -------
    Evaluator
        ``evaluator(percent)`` gives every number for percentages (..., n_lines).

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> toner = Formula.parse('''phase,material,percent
    ... A,Aqua,q.s.
    ... A,Lactic acid 80 %,0.5
    ... A,Sodium lactate 60 %,1''')
    >>> evaluator = compile_formula(toner, Materials.starter())
    >>> round(float(evaluator().ph), 1)
    3.9
    """
    formula = formula_of(formula, "Evaluation")
    found = tuple(
        None if mats is None else mats.resolve(x.key or x.material) for x in formula.lines
    )
    names = [x.material for x in formula.lines]
    parts = decompose(found, names)
    components, moles = _moles(found)
    kept = _preservatives(parts)
    oil_kind = _oil_kind(found, formula)
    return Evaluator(
        formula=formula,
        materials=found,
        parts=parts,
        water=_water(parts, names, found),
        oil=_flag(found, lambda m: m.phase == "oil" and not emulsifies(m)),
        emulsifier=_flag(found, emulsifies),
        electrolyte=_electrolyte(found),
        unknown=np.array(
            [float(m is None and not is_water(n)) for m, n in zip(found, names, strict=True)]
        ),
        apparent=_flag(found, lambda m: fold(m.inci) in _apparent_names()),
        price=np.array([np.nan if m is None or m.price is None else m.price.per_kg for m in found]),
        density=_values(found, "density_g_ml"),
        hlb=_hlb(found),
        required=_required(found),
        moles=moles,
        system=_system(components, temperature_c),
        preservatives=kept,
        partition=np.array([_partition(p, oil_kind) for _, p in kept]),
        oil_density=PLAIN_OIL_DENSITY,
    )


def _water(parts: Decomposition, names: Sequence[str], found: Sequence[Material | None]) -> Array:
    columns = [j for j, inci in enumerate(parts.inci) if fold(inci) == WATER]
    share = parts.typical[:, columns].sum(axis=1) if columns else np.zeros(len(names))
    plain = [m is None and is_water(name) for m, name in zip(found, names, strict=True)]
    return np.asarray(np.where(plain, 1.0, share))


def _flag(found: Sequence[Material | None], test: Callable[[Material], bool]) -> Array:
    return np.array([float(m is not None and test(m)) for m in found])


def _values(found: Sequence[Material | None], name: str) -> Array:
    values = [None if m is None else getattr(m, name) for m in found]
    return np.array([np.nan if v is None else float(v) for v in values])


def _electrolyte(found: Sequence[Material | None]) -> Array:
    dissolved = [m is not None and m.charge in {"small-ion", "base"} for m in found]
    strength = [1.0 if m is None or m.strength is None else m.strength for m in found]
    return np.asarray(np.array(dissolved, dtype=float) * np.array(strength, dtype=float))


def _hlb(found: Sequence[Material | None]) -> Array:
    rows = np.zeros((2, len(found)))
    for i, m in enumerate(found):
        if m is not None and m.hlb is not None and counts_in_hlb(m):
            rows[:, i] = 1.0, m.hlb[1]
    return rows


def _required(found: Sequence[Material | None]) -> Array:
    rows = np.zeros((3, len(found)))
    for i, m in enumerate(found):
        if m is not None and m.required_hlb is not None and asks_for_hlb(m):
            rows[:, i] = 1.0, m.required_hlb[0], m.required_hlb[2]
    return rows


def _moles(found: Sequence[Material | None]) -> tuple[tuple[str, ...], Array]:
    """Component names, and mol per 1 % in 100 g of batch for each line."""
    held = [dict(m.acid_base) if m is not None and m.acid_base else {} for m in found]
    names = tuple(dict.fromkeys(name for row in held for name in row))
    table = np.array([[row.get(name, 0.0) for name in names] for row in held])
    return names, table.reshape(len(held), len(names))


def _system(components: tuple[str, ...], temperature_c: float) -> System | None:
    if not components:
        return None
    return compile_system(components, temperature_c=temperature_c)


@cache
def _apparent_names() -> frozenset[str]:
    """Polymers and fatty acids whose acid constants are apparent ones."""
    return frozenset(fold(known.inci) for known in apparent_acids().values())


def _preservatives(parts: Decomposition) -> tuple[tuple[int, Preservative], ...]:
    known = ((j, preservative(inci)) for j, inci in enumerate(parts.inci))
    return tuple((j, found) for j, found in known if found is not None)


def _oil_kind(found: Sequence[Material | None], formula: Formula) -> str | None:
    """The oil of the partition tables that the larger part of the oil phase resembles."""
    mineral = plant = 0.0
    for m, line in zip(found, formula.lines, strict=True):
        if m is None or m.phase != "oil" or emulsifies(m):
            continue
        if fold(m.inci) in {"paraffinum liquidum", "petrolatum", "squalane", "isohexadecane"}:
            mineral += float(line.percent)
        elif fold(m.inci).endswith("oil"):
            plant += float(line.percent)
    if mineral == plant == 0.0:
        return None
    return "liquid paraffin" if mineral >= plant else "soya oil"


def _partition(known: Preservative, oil_kind: str | None) -> float:
    if oil_kind is None:
        return UNKNOWN_PARTITION
    try:
        return float(oil_water(known.inci, oil_kind))
    except ValueError:
        return UNKNOWN_PARTITION
