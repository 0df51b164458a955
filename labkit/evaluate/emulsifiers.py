"""What counts as an emulsifier, in the HLB of a formula and in what its oils ask for.

One definition for the forecast, the findings, the charts and the jobs.
"""

from __future__ import annotations

from labkit.materials import Material

__all__ = ["asks_for_hlb", "counts_in_hlb", "emulsifies"]

JOBS = frozenset({"emulsifier", "co-emulsifier", "solubiliser"})
"""What a nonionic does when its HLB matters; thickeners and pearlisers of a wash do not count."""


def emulsifies(material: Material) -> bool:
    """Whether it belongs to the emulsifiers rather than to the oil phase.

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> mats = Materials.starter()
    >>> [emulsifies(mats.resolve(x)) for x in ("Polysorbate 60", "GMS", "Cetyl alcohol")]
    [True, True, False]
    """
    return "emulsifier" in material.functions or (
        material.hlb is not None and material.required_hlb is None
    )


def counts_in_hlb(material: Material) -> bool:
    """Whether its HLB enters the mean: a nonionic emulsifier, co-emulsifier or solubiliser.

    Notes
    -----
    Griffin 1949: HLB belongs to nonionic emulsifiers; quats, soaps and polymers are left out.

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> mats = Materials.starter()
    >>> names = ("Sorbitan oleate", "PEG-40 HCO", "Glycol distearate", "SSL", "Cetyl alcohol")
    >>> [counts_in_hlb(mats.resolve(x)) for x in names]
    [True, True, False, False, False]
    """
    return (
        material.hlb is not None
        and material.charge == "nonionic"
        and bool(JOBS & set(material.functions))
    )


def asks_for_hlb(material: Material) -> bool:
    """Whether it has a required HLB and is no emulsifier: oils, esters, waxes, fatty alcohols.

    Examples
    --------
    >>> from labkit.materials import Materials
    >>> mats = Materials.starter()
    >>> [asks_for_hlb(mats.resolve(x)) for x in ("Mineral oil", "Cetyl alcohol", "GMS")]
    [True, True, False]
    """
    return material.required_hlb is not None and not emulsifies(material)
