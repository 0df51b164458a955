"""How the learner did on simulated benches it had never seen: the shipped report."""

from __future__ import annotations

from typing import TYPE_CHECKING

from labkit import tables

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["graded"]

WORDS = ("world", "quantity")
COUNTS = ("trials", "predictions")
SCORES = ("rmse", "median_error", "covered80", "covered95", "width80", "interval_score95")


def graded() -> pd.DataFrame:
    """The report of the simulator: the future left out, the next four trials scored.

    Returns
    -------
    DataFrame
        One row for each world, quantity and number of trials learned from: root mean square
        and median error (log10 for viscosity, pH units for pH), how many in a hundred results
        fell into the 80 % and 95 % bands, the width of the 80 % band, the interval score, and
        the error of "the same as last time".

    Notes
    -----
    240 simulated benches a world, on seeds that were not used for tuning. The worlds are a
    simulation of our own (power laws, structure, blunders, drift): no proof for real creams.

    Examples
    --------
    >>> set(graded()["world"]) == {"plain", "rough", "hostile"}
    True
    """
    import pandas as pd

    table = pd.DataFrame([dict(row) for row in tables.rows("learning_report")])
    numbers = [*COUNTS, *SCORES, "last_rmse"]
    table[numbers] = table[numbers].apply(pd.to_numeric)
    return table[[*WORDS, *numbers]]
