"""What every science function asks of its numbers: finite, inside the range, shape kept."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

from labkit.errors import ScienceError

Numbers = float | npt.NDArray[np.float64]


def plain(values: Any) -> Numbers:
    """A float for a single number, the array otherwise."""
    array = np.asarray(values, dtype=np.float64)
    return float(array) if array.ndim == 0 else array


def given(
    values: npt.ArrayLike,
    what: str,
    unit: str = "",
    low: float = -np.inf,
    high: float = np.inf,
    *,
    above: float | None = None,
    cause: str = "A unit was mixed up, or a digit is missing",
) -> npt.NDArray[np.float64]:
    """The numbers as an array, refused unless finite and between ``low`` and ``high``.

    ``above`` is a bound that must be exceeded (0 for what must be positive).
    """
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as fault:
        raise _refusal(
            what, repr(values), "A number is needed", "Text or a gap in place of a number"
        ) from fault
    if array.size == 1 and _inside(array.item(), low, high, above):
        return array
    good = np.isfinite(array) & (array >= low) & (array <= high)
    if above is not None:
        good &= array > above
    if not good.all():
        worst = array[~good].flat[0] if array.ndim else float(array)
        raise _refusal(what, f"{worst:g} {unit}".strip(), _range(low, high, above, unit), cause)
    return array


def _inside(value: float, low: float, high: float, above: float | None) -> bool:
    """The same questions for one number: most calls come with one, and this is the quick way."""
    return math.isfinite(value) and low <= value <= high and (above is None or value > above)


def _range(low: float, high: float, above: float | None, unit: str) -> str:
    ends = []
    if above is not None:
        ends.append(f"above {above:g}")
    elif low > -np.inf:
        ends.append(f"from {low:g}")
    if high < np.inf:
        ends.append(f"up to {high:g}")
    return f"It must be a number {' '.join(ends)} {unit}".strip() if ends else "A finite number"


def _refusal(what: str, found: str, allowed: str, cause: str) -> ScienceError:
    return ScienceError(
        where=what, found=found, allowed=allowed, cause=cause, do="Correct the number and try again"
    )
