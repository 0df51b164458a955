"""What an addition took down, and the grams that bring it back: several lines at once.

Every result is a mass balance over all lines together; nothing is rounded here.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError
from labkit.science.bounds import Numbers, given, plain

Array = npt.NDArray[np.float64]


def to_restore(
    batch_g: npt.ArrayLike,
    now_percent: npt.ArrayLike,
    wanted_percent: npt.ArrayLike,
    strength_percent: npt.ArrayLike = 100.0,
) -> Array:
    """Grams of several materials that bring all of them back to their percentages at once.

    Parameters
    ----------
    batch_g : float or array-like, shape S
        In the beaker now [g].
    now_percent, wanted_percent : array-like, shape S + (n,)
        Of each material, now and wanted [%].
    strength_percent : float or array-like, shape S + (n,)
        Of each material in what is added [%].

    Returns
    -------
    ndarray, shape S + (n,)
        [g]; each addition dilutes the others, which is counted.

    Raises
    ------
    ScienceError
        A wanted level below the present one, or stocks too weak to get there together.

    Notes
    -----
    With a = wanted/strength and b = m now/strength, the whole addition is
    X = (m sum a - sum b) / (1 - sum a), and each x = a (m + X) - b. For one material this
    is `labkit.science.batch.to_reach`.

    Examples
    --------
    >>> to_restore(100.0, [0.864], [0.90]).round(4).tolist()
    [0.0363]
    """
    m = given(batch_g, "Batch", "g", above=0.0)[..., None]
    p = given(now_percent, "Present level", "%", 0.0, 100.0)
    t = given(wanted_percent, "Wanted level", "%", 0.0, 100.0)
    s = given(strength_percent, "Strength of what is added", "%", above=0.0, high=100.0)
    if np.any(t < p - 1e-9):
        raise ScienceError(
            where="Restoring",
            found="a wanted level below the present one",
            allowed="Wanted levels at or above the present ones",
            cause="Adding a material cannot lower its own percentage",
            do="Dilute the batch and restore the rest, or remake it",
        )
    a, b = t / s, m * p / s
    share = a.sum(axis=-1, keepdims=True)
    if np.any(share >= 1.0):
        raise ScienceError(
            where="Restoring",
            found="stocks too weak to bring everything back together",
            allowed="Stocks whose water leaves room for all the levels wanted",
            cause="Each stock thins the others faster than it lifts its own level",
            do="Take stronger stocks or the neat materials",
        )
    whole = (m * share - b.sum(axis=-1, keepdims=True)) / (1.0 - share)
    return np.asarray(np.maximum(a * (m + whole) - b, 0.0))


def to_bring_up(planned_g: npt.ArrayLike, weighed_g: npt.ArrayLike) -> Array:
    """Grams of every line that make an overpoured batch the planned recipe again.

    Parameters
    ----------
    planned_g, weighed_g : array-like, shape (..., n)
        Of every line, as planned and as it lies in the beaker [g].

    Returns
    -------
    ndarray, shape (..., n)
        Still to add [g]; 0 for the line that was overpoured most.

    Raises
    ------
    ScienceError
        A negative mass, or something in the beaker that the plan does not have.

    Notes
    -----
    The line with the largest weighed/planned sets the size of the new batch; a batch that is
    not over anywhere is filled up to the plan.

    Examples
    --------
    >>> to_bring_up([80.0, 15.0, 5.0], [80.0, 18.0, 5.0]).round(2).tolist()
    [16.0, 0.0, 1.0]
    """
    planned = given(planned_g, "Planned", "g", 0.0)
    weighed = given(weighed_g, "Weighed", "g", 0.0)
    if np.any((planned == 0.0) & (weighed > 0.0)):
        raise ScienceError(
            where="Bringing up",
            found="something weighed that the plan does not have",
            allowed="Only lines of the plan",
            cause="The wrong jar, or a line of another formula",
            do="No other line can make up for it: remake, or take the beaker as a new formula",
        )
    ratio = np.divide(weighed, planned, out=np.zeros_like(weighed), where=planned > 0.0)
    size = np.maximum(ratio.max(axis=-1, keepdims=True), 1.0)
    return np.asarray(np.maximum(size * planned - weighed, 0.0))


def to_dilute(
    batch_g: npt.ArrayLike, current_percent: npt.ArrayLike, target_percent: npt.ArrayLike
) -> Numbers:
    """Grams of something free of a material that bring its percentage down.

    Parameters
    ----------
    batch_g : float or array-like, shape S
        Now in the beaker [g].
    current_percent, target_percent : float or array-like, shape S
        Now and wanted, wanted above 0 [%].

    Returns
    -------
    float or ndarray, shape S
        [g]

    Raises
    ------
    ScienceError
        A wanted level above the present one, or none at all.

    Notes
    -----
    x = m (p - t) / t.

    Examples
    --------
    >>> to_dilute(96.0, 0.9, 0.864)
    4.0
    """
    m = given(batch_g, "Batch", "g", above=0.0)
    p = given(current_percent, "Present level", "%", 0.0, 100.0)
    t = given(target_percent, "Wanted level", "%", above=0.0, high=100.0)
    if np.any(t > p):
        raise ScienceError(
            where="Dilution",
            found="a wanted level above the present one",
            allowed="A wanted level at or below the present one",
            cause="The two levels were exchanged",
            do="To raise a level add the material; see to_reach",
        )
    return plain(np.round(m * (p - t) / t, 12))


def from_weighed(
    weighed_g: npt.ArrayLike, finished_g: npt.ArrayLike | None = None, water: int | None = None
) -> Array:
    """Percentages of the finished batch from what was weighed, with the steam counted.

    Parameters
    ----------
    weighed_g : array-like, shape (..., n)
        Of every line, as it went in [g].
    finished_g : float or array-like, shape (...), optional
        The batch at the end; what is missing went as water [g].
    water : int, optional
        Which line is the water; needed with ``finished_g``.

    Returns
    -------
    ndarray, shape (..., n)
        [%]

    Raises
    ------
    ScienceError
        Nothing weighed, a batch heavier than its parts, or more lost than there was water.

    Notes
    -----
    100 g / sum g, after the water line was lowered by the loss.

    Examples
    --------
    >>> from_weighed([80.0, 15.0, 5.0], 95.0, 0).round(3).tolist()
    [78.947, 15.789, 5.263]
    """
    g = given(weighed_g, "Weighed", "g", 0.0).copy()
    total = g.sum(axis=-1)
    if np.any(total <= 0.0):
        raise ScienceError(
            where="Finished percentages",
            found="nothing weighed yet",
            allowed="At least one line with grams",
            cause="The batch was only planned so far",
            do="Write down what the balance says",
        )
    if finished_g is not None and water is not None:
        lost = total - given(finished_g, "Finished batch", "g", above=0.0)
        if np.any(lost < -1e-9 * total) or np.any(lost > g[..., water] + 1e-9):
            raise ScienceError(
                where="Finished percentages",
                found="a finished mass that water cannot explain",
                allowed="A batch as heavy as weighed in, or lighter by some of its water",
                cause="Another vessel's weight, or a line weighed twice or not at all",
                do="Weigh again; check the vessel's weight and the weigh sheet",
            )
        g[..., water] -= np.maximum(lost, 0.0)
    return np.asarray(100.0 * g / g.sum(axis=-1, keepdims=True))
