"""How fast drops rise or sink, when a droplet size was measured; the centrifuge's pull."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain

GRAVITY = 9.80665  # m/s2, standard acceleration of free fall (CGPM 1901)
MM_PER_DAY = 8.64e7  # from m/s
RICHARDSON_ZAKI = 4.65  # exponent for slow flow, Trans. Inst. Chem. Eng. 32 (1954) 35
YIELD_CRITICAL = (
    0.143  # 3 tau / (g d drho), Beris et al., J. Fluid Mech. 158 (1985) 219; from memory
)


def velocity(
    droplet_um: npt.ArrayLike | None,
    density_difference_kg_m3: npt.ArrayLike,
    viscosity_mpa_s: npt.ArrayLike,
    dispersed_fraction: npt.ArrayLike = 0.0,
    pull_g: npt.ArrayLike = 1.0,
) -> Numbers:
    """Speed at which drops rise (lighter) or sink (heavier).

    Parameters
    ----------
    droplet_um : float or array-like, shape S
        Measured droplet diameter [µm]; without one nothing can be said.
    density_difference_kg_m3 : float or array-like, shape S
        Drop minus surroundings; negative rises [kg/m3].
    viscosity_mpa_s : float or array-like, shape S
        Of the continuous phase at the very low shear of a drop, not the product's reading at
        20 rpm [mPa*s].
    dispersed_fraction : float or array-like, shape S
        Volume fraction of drops, 0 to 0.6 [-].
    pull_g : float or array-like, shape S
        1 on the shelf; see `centrifuge_pull` [times gravity].

    Returns
    -------
    float or ndarray, shape S
        Downwards positive [mm/day].

    Raises
    ------
    ScienceError
        No droplet size, or a number that cannot be.

    Notes
    -----
    Stokes v = d^2 drho g / (18 eta), slowed by (1 - phi)^4.65 (Richardson & Zaki). Single
    size, no flocs, no yield stress; drops above the fraction 0.6 touch.

    Examples
    --------
    >>> round(velocity(2.0, -80.0, 100.0), 2)
    -0.15
    """
    if droplet_um is None:
        raise ScienceError(
            where="Creaming",
            found="no droplet size",
            allowed="A diameter measured under a microscope or by light scattering",
            cause="The speed goes with the square of the diameter; a guess says nothing",
            do="Measure the drops, or judge creaming by a centrifuge and the shelf",
        )
    d = given(droplet_um, "Droplet diameter", "µm", above=0.0, high=5000.0) * 1e-6
    difference = given(density_difference_kg_m3, "Density difference", "kg/m3", -3000.0, 8000.0)
    eta = given(viscosity_mpa_s, "Viscosity of the continuous phase", "mPa*s", above=0.0) * 1e-3
    phi = given(dispersed_fraction, "Volume fraction of drops", "", 0.0, 0.6)
    pull = given(pull_g, "Pull", "times gravity", 0.0)
    stokes = d**2 * difference * GRAVITY * pull / (18.0 * eta)
    return plain(stokes * (1.0 - phi) ** RICHARDSON_ZAKI * MM_PER_DAY)


def held_by_yield_stress(
    droplet_um: npt.ArrayLike,
    density_difference_kg_m3: npt.ArrayLike,
    yield_stress_pa: npt.ArrayLike,
) -> npt.NDArray[np.bool_]:
    """Whether a gel's yield stress holds a drop or particle in place.

    Parameters
    ----------
    droplet_um, density_difference_kg_m3 : float or array-like, shape S
        As in `velocity`.
    yield_stress_pa : float or array-like, shape S
        [Pa]

    Returns
    -------
    ndarray of bool, shape S

    Raises
    ------
    ScienceError
        A number that cannot be.

    Notes
    -----
    Held when 3 tau / (g d |drho|) >= 0.143 (Beris et al. 1985, sphere in a Bingham liquid).
    Shaking and transport shear the gel and let go.

    Examples
    --------
    >>> bool(held_by_yield_stress(500.0, 100.0, 1.0))
    True
    """
    d = given(droplet_um, "Droplet diameter", "µm", above=0.0) * 1e-6
    difference = np.abs(given(density_difference_kg_m3, "Density difference", "kg/m3"))
    tau = given(yield_stress_pa, "Yield stress", "Pa", 0.0)
    return np.asarray(3.0 * tau >= YIELD_CRITICAL * GRAVITY * d * difference)


def centrifuge_pull(rpm: npt.ArrayLike, radius_cm: npt.ArrayLike) -> Numbers:
    """Relative centrifugal force.

    Parameters
    ----------
    rpm : float or array-like, shape S
        [1/min]
    radius_cm : float or array-like, shape S
        From the axis to the middle of the sample [cm].

    Returns
    -------
    float or ndarray, shape S
        [times gravity]

    Raises
    ------
    ScienceError
        A speed or radius that cannot be.

    Notes
    -----
    omega^2 r / g.

    Examples
    --------
    >>> round(centrifuge_pull(3000, 10))
    1006
    """
    omega = 2.0 * np.pi * given(rpm, "Centrifuge speed", "rpm", 0.0, 2e5) / 60.0
    radius = given(radius_cm, "Radius", "cm", above=0.0, high=200.0) / 100.0
    return plain(omega**2 * radius / GRAVITY)
