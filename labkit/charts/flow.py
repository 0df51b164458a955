"""A flow curve: readings, the models through them, and how well they hold."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from labkit.charts.figure import Chart
from labkit.charts.marks import Curve, Panel, Point, Ribbon, Series
from labkit.science.flow_table import FlowTable, flow_table
from labkit.science.rheology import FlowFit

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["FlowChart", "flow_curve"]

NEW_READING = 1.2816
"""Standard normal quantile that leaves 80 % between its two signs."""
STEPS = 61


class FlowChart(Chart):
    """A chart that carries its fits; ``fits`` maps the model to a ``FlowFit``."""

    def __init__(self, panel: Panel, title: str, fits: Sequence[FlowFit]) -> None:
        notes = dict.fromkeys(note for found in fits for note in found.notes)
        super().__init__([panel], title, " ".join(notes), height=340)
        self.fits = {found.model: found for found in fits}

    def parameters(self) -> pd.DataFrame:
        """Each parameter with its 95 % interval; None where the readings leave it open."""
        import pandas as pd

        rows = [
            (f.model, key, None if key in f.undetermined else value, f.low[key], f.high[key])
            for f in self.fits.values()
            for key, value in f.parameters.items()
        ]
        return pd.DataFrame(rows, columns=["model", "parameter", "value", "low", "high"])


def flow_curve(
    readings: str | FlowTable,
    models: str | Sequence[str] = "Herschel-Bulkley",
    *,
    title: str = "Flow curve",
) -> FlowChart:
    """Readings of a viscometer with one or more flow models through them.

    Parameters
    ----------
    readings : str or FlowTable
        A pasted table with headings and units, see `labkit.science.flow_table.flow_table`.
    models : str or sequence of str
        Such as ``"Herschel-Bulkley"``, ``"power law"``, ``"Carreau"``.
    title : str
        What was measured.

    Returns
    -------
    FlowChart
        Points as read; each curve over the range read, shaded where four of five new
        readings are expected from the scatter; ``fits`` holds parameters with 95 %
        intervals and what the readings leave open.

    Raises
    ------
    ScienceError
        A table or a model that cannot be read, or readings that cannot carry the model.

    Examples
    --------
    >>> chart = flow_curve('''shear rate (1/s);viscosity (Pa*s)
    ... 1;12
    ... 3;5.6
    ... 10;2.5
    ... 30;1.2
    ... 100;0.52''', "power law")
    >>> round(chart.fits["power law"].parameters["n"], 1)
    0.3
    """
    table = flow_table(readings) if isinstance(readings, str) else readings
    wanted = [models] if isinstance(models, str) else list(models)
    fits = [table.fit(name) for name in wanted]
    rate = np.geomspace(table.shear_rate.min(), table.shear_rate.max(), STEPS)
    x = tuple(rate.tolist())
    curves, ribbons = [], []
    for i, found in enumerate(fits, start=1):
        eta = np.asarray(found.viscosity(rate))
        spread = np.exp(NEW_READING * np.log1p(found.scatter_percent / 100.0))
        curves.append(Curve(x=x, y=tuple(eta.tolist()), series=i))
        ribbons.append(
            Ribbon(
                x=x, low=tuple((eta / spread).tolist()), high=tuple((eta * spread).tolist()),
                series=i,
            )
        )  # fmt: skip
    panel = Panel(
        title="Viscosity",
        unit="Pa·s",
        points=_read(table),
        curves=tuple(curves),
        ribbons=tuple(ribbons),
        series=(
            Series(name="readings", index=0),
            *(Series(name=_told(f), index=i) for i, f in enumerate(fits, start=1)),
        ),
        log=True,
        log_x=True,
        x_title="shear rate, 1/s",
    )
    return FlowChart(panel, title, fits)


def _read(table: FlowTable) -> tuple[Point, ...]:
    return tuple(
        Point(x=g, y=e, hover=(f"{g:.4g} 1/s", f"{e:.4g} Pa·s", f"{e * g:.4g} Pa"))
        for g, e in zip(table.shear_rate.tolist(), table.viscosity_pa_s.tolist(), strict=True)
    )


def _told(found: FlowFit) -> str:
    parts = [
        f"{key} open" if key in found.undetermined else f"{key} {value:.3g}"
        for key, value in found.parameters.items()
    ]
    return f"{found.model}: {', '.join(parts)}"
