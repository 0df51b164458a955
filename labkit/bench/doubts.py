"""Readings to look at twice: flagged with the reason, never removed."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from labkit.bench.measuring import base_values
from labkit.errors import MeasurementError
from labkit.science.fitting import t_quantile

if TYPE_CHECKING:
    import pandas as pd

    from labkit.bench.bench import Bench
    from labkit.bench.history import Ref

__all__ = ["doubts", "outlier", "reading_doubts"]

LEVEL = 0.05
"""Chance of flagging one of several good readings."""
TORQUE = (10.0, 100.0)
"""Range of a rotating viscometer in which its reading is to be trusted [%]; common practice."""
SLOPE = (95.0, 105.0)
"""Slope of a healthy pH electrode [% of the ideal one]; from memory."""
_SLOPE = re.compile(r"slope\D{0,12}?(\d{2,3}(?:[.,]\d+)?)\s*%", re.I)
_BUFFERS = re.compile(r"\b(1?\d[.,]\d{1,2})\b")
COLUMNS = ("label", "quantity", "reading", "doubt", "id")


def outlier(values: Sequence[float]) -> int | None:
    """Which of several readings of one thing stands apart from the others.

    Parameters
    ----------
    values : sequence of float, length n
        Readings that should agree.

    Returns
    -------
    int or None
        Its position; None where none stands apart, or there are fewer than three.

    Raises
    ------
    MeasurementError
        A reading that is no number.

    Notes
    -----
    Grubbs' test, two-sided, 5 % (Technometrics 11, 1, 1969). It flags; whether a reading
    was a slip is for who took it.

    Examples
    --------
    >>> outlier([5.31, 5.30, 5.32, 5.31, 5.62])
    4
    """
    read = [float(x) for x in values]
    if not all(map(math.isfinite, read)):
        raise MeasurementError(
            where="Readings",
            found="a reading that is no number",
            allowed="Numbers",
            cause="A gap in the list",
            do="Leave the gap out",
        )
    n = len(read)
    if n < 3:
        return None
    mean = sum(read) / n
    spread = math.sqrt(sum((x - mean) ** 2 for x in read) / (n - 1))
    if spread == 0.0:
        return None
    far = max(range(n), key=lambda i: abs(read[i] - mean))
    t = t_quantile(1.0 - LEVEL / (2 * n), n - 2)
    limit = (n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t))
    return far if abs(read[far] - mean) / spread > limit else None


def reading_doubts(
    quantity: str, texts: Sequence[str], values: Sequence[float | None], how: Mapping[str, str]
) -> list[str]:
    """What to look at twice in one measurement, in words; empty where nothing is."""
    told = []
    known = [(i, v) for i, v in enumerate(values) if v is not None]
    numbers = [v for _, v in known]
    logged = quantity in ("viscosity", "drain time", "counts") and all(v > 0 for v in numbers)
    at = outlier([math.log(v) for v in numbers] if logged else numbers)
    if at is not None:
        told.append(f"{texts[known[at][0]]} stands apart from the other {len(numbers) - 1}")
    torque = how.get("torque_percent")
    if torque is not None and not TORQUE[0] <= float(torque) <= TORQUE[1]:
        told.append(
            f"torque {float(torque):g} % lies outside {TORQUE[0]:g} to {TORQUE[1]:g} %: another "
            "spindle or speed"
        )
    if quantity == "pH":
        told += _electrode(how.get("calibration", ""), numbers)
    return told


def _electrode(calibration: str, numbers: Sequence[float]) -> list[str]:
    """What the calibration note says against a pH reading."""
    told = []
    slope = _SLOPE.search(calibration)
    if slope is not None:
        percent = float(slope[1].replace(",", "."))
        if not SLOPE[0] <= percent <= SLOPE[1]:
            told.append(
                f"electrode slope {percent:g} % lies outside {SLOPE[0]:g} to {SLOPE[1]:g} %: clean "
                "it, fresh buffers, or a new one"
            )
    rest = calibration if slope is None else calibration.replace(slope[0], "")
    buffers = [float(x.replace(",", ".")) for x in _BUFFERS.findall(rest)]
    if len(buffers) == 1:
        told.append(f"calibrated at one buffer ({buffers[0]:g}) only: the slope is not known")
    elif len(buffers) > 1 and any(not min(buffers) <= v <= max(buffers) for v in numbers):
        told.append(
            f"outside the buffers {min(buffers):g} to {max(buffers):g} it was calibrated with"
        )
    return told


def doubts(bench: Bench, about: Ref | None = None) -> pd.DataFrame:
    """See :meth:`labkit.bench.Bench.doubts`."""
    import pandas as pd

    labels = dict(zip(*_columns(bench.trials(), "id", "label"), strict=True))
    rows: list[tuple[Any, ...]] = []
    for record in bench.records("measurement", about=about):
        reading = bench.reading(record)
        if reading.withdrawn is not None:
            continue
        body = reading.folded.body
        parts = body.get("replicates", [body])
        values = [base_values(reading.quantity, part)["value"] for part in parts]
        found = reading_doubts(reading.quantity, reading.texts, values, reading.conditions)
        label = labels.get(reading.about, reading.about[:12])
        shown = ", ".join(reading.texts)
        rows += [(label, reading.quantity, shown, words, reading.id) for words in found]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def _columns(frame: pd.DataFrame, *names: str) -> list[list[Any]]:
    return [frame[name].tolist() for name in names]
