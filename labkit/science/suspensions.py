"""How drops and particles thicken a liquid: relative viscosity against volume fraction."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain


def einstein(fraction: npt.ArrayLike) -> Numbers:
    """Relative viscosity of a very dilute suspension.

    Parameters
    ----------
    fraction : float or array-like, shape S
        Volume fraction; holds below about 0.02 [-].

    Returns
    -------
    float or ndarray, shape S
        Viscosity over that of the liquid [-].

    Raises
    ------
    ScienceError
        A fraction outside 0-1.

    Notes
    -----
    1 + 2.5 phi (Einstein 1906, 1911), as in Entropy 23 (2021) 979, table 6.

    Examples
    --------
    >>> einstein(0.02)
    1.05
    """
    return plain(1.0 + 2.5 * _fraction(fraction))


def batchelor(fraction: npt.ArrayLike, alpha: float = 6.2) -> Numbers:
    """Relative viscosity of a dilute suspension with pairs of particles counted.

    Parameters
    ----------
    fraction : float or array-like, shape S
        Volume fraction; holds below about 0.1 [-].
    alpha : float
        5.2 to 7.6, 6.2 with Brownian motion [-].

    Returns
    -------
    float or ndarray, shape S
        [-]

    Raises
    ------
    ScienceError
        A fraction outside 0-1.

    Notes
    -----
    1 + 2.5 phi + alpha phi^2 (Batchelor 1977), as in Entropy 23 (2021) 979, table 6.

    Examples
    --------
    >>> round(batchelor(0.1), 3)
    1.312
    """
    phi = _fraction(fraction)
    return plain(1.0 + 2.5 * phi + float(given(alpha, "alpha", "", 0.0)) * phi**2)


def brinkman(fraction: npt.ArrayLike) -> Numbers:
    """Relative viscosity of a moderately concentrated suspension.

    Parameters
    ----------
    fraction : float or array-like, shape S
        Volume fraction, below 1 [-].

    Returns
    -------
    float or ndarray, shape S
        [-]

    Raises
    ------
    ScienceError
        A fraction outside 0 to below 1.

    Notes
    -----
    (1 - phi)^-2.5 (Brinkman 1952), as in Entropy 23 (2021) 979, table 6.

    Examples
    --------
    >>> round(brinkman(0.2), 3)
    1.747
    """
    return plain((1.0 - _fraction(fraction, 1.0)) ** -2.5)


def krieger_dougherty(
    fraction: npt.ArrayLike, maximum: npt.ArrayLike = 0.64, intrinsic: npt.ArrayLike = 2.5
) -> Numbers:
    """Relative viscosity up to close packing.

    Parameters
    ----------
    fraction : float or array-like, shape S
        Volume fraction, below ``maximum`` [-].
    maximum : float or array-like, shape S
        Densest packing, about 0.64 for equal spheres [-].
    intrinsic : float or array-like, shape S
        Intrinsic viscosity, 2.5 for spheres [-].

    Returns
    -------
    float or ndarray, shape S
        [-]

    Raises
    ------
    ScienceError
        A fraction at or above the densest packing.

    Notes
    -----
    (1 - phi/phi_m)^(-[eta] phi_m) (Krieger & Dougherty 1959), as in Entropy 23 (2021) 979.

    Examples
    --------
    >>> round(krieger_dougherty(0.3, 0.65), 3)
    2.734
    """
    phi, top = _below(fraction, maximum)
    slope = given(intrinsic, "Intrinsic viscosity", "", above=0.0)
    return plain((1.0 - phi / top) ** (-slope * top))


def taylor(fraction: npt.ArrayLike, viscosity_ratio: npt.ArrayLike) -> Numbers:
    """Relative viscosity of a dilute emulsion.

    Parameters
    ----------
    fraction : float or array-like, shape S
        Volume fraction of drops; dilute [-].
    viscosity_ratio : float or array-like, shape S
        Drop over surrounding liquid [-].

    Returns
    -------
    float or ndarray, shape S
        [-]

    Raises
    ------
    ScienceError
        A fraction outside 0-1, or a negative ratio.

    Notes
    -----
    1 + 2.5 phi (lambda + 0.4)/(lambda + 1), Taylor, Proc. R. Soc. A 138 (1932) 41, from
    memory; clean drops. Emulsifier makes drops stiff, towards `einstein`.

    Examples
    --------
    >>> round(taylor(0.2, 1.0), 3)
    1.35
    """
    ratio = given(viscosity_ratio, "Viscosity of drop over liquid", "", 0.0)
    return plain(1.0 + 2.5 * _fraction(fraction) * (ratio + 0.4) / (ratio + 1.0))


def pal(
    fraction: npt.ArrayLike, viscosity_ratio: npt.ArrayLike, maximum: npt.ArrayLike = 0.637
) -> Numbers:
    """Relative viscosity of a concentrated emulsion.

    Parameters
    ----------
    fraction : float or array-like, shape S
        Volume fraction of drops, below ``maximum`` [-].
    viscosity_ratio : float or array-like, shape S
        Drop over surrounding liquid, above 0 [-].
    maximum : float or array-like, shape S
        Densest packing [-].

    Returns
    -------
    float or ndarray, shape S
        [-]

    Raises
    ------
    ScienceError
        A fraction at or above the densest packing, or a ratio that is not positive.

    Notes
    -----
    eta [(2 eta + 5 lambda)/(2 + 5 lambda)]^1.5 = (1 - phi/phi_m)^(-2.5 phi_m), Pal, J. Colloid
    Interface Sci. 231 (2000) 168 and later (from memory), solved by bisection; tends to
    `taylor` for few drops. A thickened water phase must itself be known at the shear rate.

    Examples
    --------
    >>> round(pal(0.3, 0.1), 3)
    1.57
    """
    phi, top = _below(fraction, maximum)
    ratio = given(viscosity_ratio, "Viscosity of drop over liquid", "", above=0.0)
    target = -2.5 * top * np.log1p(-phi / top)
    low, high, ratio = np.broadcast_arrays(np.zeros(target.shape), target, ratio)
    low, high = low.copy(), high.copy()
    for _ in range(80):
        middle = 0.5 * (low + high)
        swing = np.log((2.0 * np.exp(middle) + 5.0 * ratio) / (2.0 + 5.0 * ratio))
        above = middle + 1.5 * swing > target
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return plain(np.exp(0.5 * (low + high)))


def _fraction(values: npt.ArrayLike, below: float | None = None) -> npt.NDArray[np.float64]:
    phi = given(values, "Volume fraction", "", 0.0, 1.0, cause="A percentage was typed")
    if below is not None and np.any(phi >= below):
        raise _packed(float(phi.max()), below)
    return phi


def _below(
    fraction: npt.ArrayLike, maximum: npt.ArrayLike
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    phi, top = _fraction(fraction), given(maximum, "Densest packing", "", above=0.0, high=1.0)
    if np.any(phi >= top):
        raise _packed(float(phi.max()), float(top.min()))
    return phi, top


def _packed(phi: float, top: float) -> ScienceError:
    return ScienceError(
        where="Relative viscosity",
        found=f"a volume fraction of {phi:g}",
        allowed=f"Below the densest packing of {top:g}",
        cause="Drops touch and deform: the product is a paste, not a flowing suspension",
        do="Measure the viscosity instead",
    )
