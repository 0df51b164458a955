"""How far a calculated pH can be trusted, in numbers."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["EMULSION_HALF_WIDTH", "ph_half_width"]

EMULSION_HALF_WIDTH = 0.4
"""± of a calculated pH for an emulsion that was never measured (common practice)."""

STRAY_CHARGE = 0.0005
"""mol per kg water of acid or base that materials bring in unseen: carbon dioxide from
the air, residues of their making (common practice; from memory of blank titrations)."""

PER_UNKNOWN_PERCENT = 0.3
"""± pH for each % w/w of a material that is not known (common practice)."""

APPARENT_HALF_WIDTH = 0.3
"""± for a polymer or a fatty acid that is part of the acid balance: its constant is an
apparent one that moves with salt, swelling and degree of neutralising (common practice)."""

WIDEST = 3.0


def ph_half_width(
    solution: ArrayLike,
    buffer: ArrayLike,
    oil: ArrayLike,
    unknown: ArrayLike,
    apparent: ArrayLike = 0.0,
) -> NDArray[np.float64]:
    """Half the width of the interval around a calculated pH.

    Parameters
    ----------
    solution : array-like, shape S
        ± of the equilibrium itself, from the ionic strength [pH units].
    buffer : array-like, shape S
        Buffer capacity [mol per kg water and pH unit].
    oil, unknown, apparent : array-like, shape S
        Oil phase, materials that are not known, and polymers or fatty acids with an
        apparent acid constant [% w/w].

    Returns
    -------
    ndarray, shape S
        At most 3 [pH units].

    Notes
    -----
    Independent contributions are added in squares: the equilibrium; the emulsion (±0.4
    when there is oil); an apparent constant (±0.3); stray acid or base of 0.5 mmol/kg over
    the buffer capacity; and ±0.3 for each percent of an unknown material. Common practice.

    Examples
    --------
    >>> ph_half_width([0.03, 0.03], 0.05, [0.0, 12.0], 0.0).round(2).tolist()
    [0.03, 0.4]
    """
    base = np.asarray(solution, dtype=float)
    emulsion = np.where(np.asarray(oil) > 1.0, EMULSION_HALF_WIDTH, 0.0)
    stray = STRAY_CHARGE / np.maximum(np.asarray(buffer, dtype=float), 1e-9)
    strange = PER_UNKNOWN_PERCENT * np.asarray(unknown, dtype=float)
    chain = np.where(np.asarray(apparent) > 0.0, APPARENT_HALF_WIDTH, 0.0)
    squares = base**2 + emulsion**2 + stray**2 + strange**2 + chain**2
    return np.asarray(np.minimum(np.sqrt(squares), WIDEST))
