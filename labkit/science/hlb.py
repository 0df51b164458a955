"""HLB: estimated from structure, averaged over a blend, required by an oil phase.

HLB belongs to nonionic emulsifiers. Quats, soaps, lamellar glucosides and polymeric
emulsifiers are chosen by the maker's dose and a trial.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain

EO_UNIT_MASS = 44.053  # g/mol, C2H4O from IUPAC abridged standard atomic weights


def ester(saponification: npt.ArrayLike, acid_value: npt.ArrayLike) -> Numbers:
    """HLB of a fatty ester from its titrations.

    Parameters
    ----------
    saponification : float or array-like, shape S
        Saponification number of the ester [mg KOH/g].
    acid_value : float or array-like, shape S
        Acid number of the fatty acid recovered from it [mg KOH/g].

    Returns
    -------
    float or ndarray, shape S
        HLB [-]

    Raises
    ------
    ScienceError
        A number that is not positive, or a saponification number above the acid number.

    Notes
    -----
    HLB = 20 (1 - S/A), Griffin, J. Soc. Cosmet. Chem. 5 (1954) 249. Not for esters that
    saponify badly (beeswax, lanolin, tall oil).

    Examples
    --------
    >>> round(ester(161, 198), 2)
    3.74
    """
    s = given(saponification, "Saponification number", "mg KOH/g", above=0.0)
    a = given(acid_value, "Acid number of the fatty acid", "mg KOH/g", above=0.0)
    if np.any(s > a):
        raise ScienceError(
            where="HLB of an ester",
            found="a saponification number above the acid number of its fatty acid",
            allowed="The ester is heavier than its acid, so its number is the smaller one",
            cause="The two numbers were exchanged",
            do="Exchange them and try again",
        )
    return plain(20.0 * (1.0 - s / a))


def ethoxylate(
    eo_units: npt.ArrayLike, rest_molar_mass: npt.ArrayLike, eo_unit_mass: float = EO_UNIT_MASS
) -> Numbers:
    """HLB of an ethoxylate from its ideal formula.

    Parameters
    ----------
    eo_units : float or array-like, shape S
        Mean number of ethylene oxide units [-].
    rest_molar_mass : float or array-like, shape S
        Molar mass of the alcohol or acid that carries them [g/mol].
    eo_unit_mass : float
        Molar mass of one unit [g/mol].

    Returns
    -------
    float or ndarray, shape S
        HLB, 0 to 20 [-]

    Raises
    ------
    ScienceError
        Negative units, or a molar mass that is not positive.

    Notes
    -----
    HLB = E/5 with E the weight percentage of ethylene oxide, Griffin 1954.

    Examples
    --------
    >>> round(ethoxylate(21, 270.5), 1)
    15.5
    """
    n = given(eo_units, "Ethylene oxide units", "", 0.0)
    rest = given(rest_molar_mass, "Molar mass of the rest", "g/mol", above=0.0)
    eo = n * given(eo_unit_mass, "Molar mass of one unit", "g/mol", above=0.0)
    return plain(20.0 * eo / (eo + rest))


def davies(
    hydrophilic_groups: Sequence[tuple[float, float]], lipophilic_carbons: npt.ArrayLike
) -> Numbers:
    """HLB from group numbers.

    Parameters
    ----------
    hydrophilic_groups : sequence of (group number, how many)
        ``[(38.7, 1)]`` for a sulfate, ``[(2.4, 1), (1.9, 2)]`` for a glyceryl ester with
        two free hydroxyls.
    lipophilic_carbons : float or array-like, shape S
        CH, CH2 and CH3 groups; a carbon that bears the head group of an acid or a salt is
        not counted [-].

    Returns
    -------
    float or ndarray, shape S
        HLB [-]

    Raises
    ------
    ScienceError
        A negative count.

    Notes
    -----
    HLB = 7 + sum of hydrophilic numbers - 0.475 n, Davies, Proc. 2nd Int. Congr. Surface
    Activity (1957) 426.

    Examples
    --------
    >>> round(davies([(38.7, 1)], 12), 1)
    40.0
    """
    n = given(lipophilic_carbons, "Lipophilic carbons", "", 0.0)
    total = sum(
        float(given(number, "Group number")) * float(given(count, "Number of groups", "", 0.0))
        for number, count in hydrophilic_groups
    )
    return plain(7.0 + total - 0.475 * n)


def blend(shares: npt.ArrayLike, values: npt.ArrayLike) -> Numbers:
    """Mean by weight along the last axis: the HLB of a blend, or the HLB an oil phase requires.

    Parameters
    ----------
    shares : array-like, shape (..., n)
        Amounts in any one unit (%, g); zero leaves an ingredient out.
    values : array-like, shape (n,) or (..., n)
        HLB of each nonionic emulsifier, or required HLB of each oil [-].

    Returns
    -------
    float or ndarray, shape (...)
        [-]

    Raises
    ------
    ScienceError
        A negative amount, no amount at all, or shapes that do not fit.

    Notes
    -----
    Griffin, J. Soc. Cosmet. Chem. 1 (1949) 311: HLB adds by weight. For an oil phase only
    the oils count, not water or emulsifiers. Published required values differ by up to
    three units, so give a band: call it with the low and with the high values.

    Examples
    --------
    >>> round(blend([8, 2], [15.0, 4.3]), 2)
    12.86
    """
    x = given(shares, "Amounts of the blend", "", 0.0)
    h = given(values, "HLB values", "", -50.0, 60.0)
    if x.ndim == 0 or x.shape[-1:] != h.shape[-1:]:
        raise ScienceError(
            where="HLB of a blend",
            found=f"{x.shape[-1] if x.ndim else 1} amounts and {h.shape[-1] if h.ndim else 1} HLB",
            allowed="One HLB for each amount",
            cause="A line without HLB was left in, or one was left out",
            do="Give the amounts and the HLB values of the same lines",
        )
    total = x.sum(axis=-1)
    if np.any(total <= 0.0):
        raise ScienceError(
            where="HLB of a blend",
            found="nothing in it",
            allowed="At least one amount above zero",
            cause="The formula holds no line of this kind",
            do="Add an oil or a nonionic emulsifier, or leave HLB out",
        )
    return plain((x * h).sum(axis=-1) / total)


def pair_share(target: npt.ArrayLike, high: npt.ArrayLike, low: npt.ArrayLike) -> Numbers:
    """Share of the higher emulsifier of a pair that gives a wanted HLB.

    Parameters
    ----------
    target : float or array-like, shape S
        Wanted HLB [-].
    high, low : float or array-like, shape S
        HLB of the two emulsifiers [-].

    Returns
    -------
    float or ndarray, shape S
        Between 0 and 1; the other takes the rest [-].

    Raises
    ------
    ScienceError
        Both the same, or a target that this pair cannot reach: never a negative amount.

    Notes
    -----
    share = (target - low) / (high - low), from the mean by weight (Griffin 1949).

    Examples
    --------
    >>> round(pair_share(12.0, 15.0, 4.3), 4)
    0.7196
    """
    t, h, lo = (
        given(values, what, "", -50.0, 60.0)
        for values, what in (
            (target, "Wanted HLB"),
            (high, "HLB of the higher emulsifier"),
            (low, "HLB of the lower emulsifier"),
        )
    )
    if np.any(h <= lo):
        same = bool(np.any(h == lo))
        raise ScienceError(
            where="Emulsifier pair",
            found="both emulsifiers have the same HLB" if same else "high and low exchanged",
            allowed="The higher one first, the lower one second, apart from each other",
            cause="One emulsifier was named twice" if same else "Their order was exchanged",
            do="Choose one emulsifier above the wanted HLB and one below it",
        )
    if np.any((t < lo) | (t > h)):
        bad = np.broadcast_to((t < lo) | (t > h), np.broadcast_shapes(t.shape, h.shape, lo.shape))
        shown = [float(np.broadcast_to(a, bad.shape)[bad].flat[0]) for a in (t, lo, h)]
        raise ScienceError(
            where="Emulsifier pair",
            found=f"the target {shown[0]:g} lies outside {shown[1]:g} to {shown[2]:g}",
            allowed=f"This pair reaches {shown[1]:g} to {shown[2]:g}",
            cause="A mixture never lies beyond its ends",
            do="Take another pair, one on each side of the target",
            target=shown[0],
            reachable=(shown[1], shown[2]),
        )
    return plain((t - lo) / (h - lo))


def pair_amounts(
    target: npt.ArrayLike, high: npt.ArrayLike, low: npt.ArrayLike, total: npt.ArrayLike
) -> tuple[Numbers, Numbers]:
    """Amounts of the two emulsifiers of a pair.

    Parameters
    ----------
    target, high, low : float or array-like, shape S
        As in `pair_share` [-].
    total : float or array-like, shape S
        Both together [%, g or any unit].

    Returns
    -------
    (higher, lower) : tuple of float or ndarray, shape S
        In the unit of ``total``.

    Raises
    ------
    ScienceError
        As in `pair_share`, or a total that is not positive.

    Notes
    -----
    See `pair_share`.

    Examples
    --------
    >>> [round(x, 3) for x in pair_amounts(10.04, 15.0, 4.7, 3.0)]
    [1.555, 1.445]
    """
    amount = given(total, "Emulsifier together", "", above=0.0)
    share = np.asarray(pair_share(target, high, low))
    return plain(amount * share), plain(amount * (1.0 - share))
