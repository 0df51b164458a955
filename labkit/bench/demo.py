"""The demonstration bench: an invented coastal teaching studio and its three products."""

from __future__ import annotations

import tempfile
from decimal import Decimal
from pathlib import Path
from typing import Any

from labkit import tables
from labkit.bench.bench import Bench
from labkit.bench.views import Trial
from labkit.formula import Formula, Line, Phase

__all__ = ["PHASES", "demo_bench", "demo_formulas", "demo_recipe", "record_demo"]

PHASES = {
    "A": ("Water phase", "Heat to 75 °C, hold 20 min"),
    "B": ("Oil phase", "Heat to 75 °C, add to A under the homogeniser, 3 min"),
    "C": ("Cool down", "Below 40 °C, stir in"),
    "D": ("Adjust", "At 25 °C, drop by drop, read the pH"),
}
COLD = {
    "A": ("Gel", "Sprinkle, let it swell 30 min"),
    "B": ("Actives", "Dissolve cold"),
    "C": ("Neutralise", "Stir slowly, no air"),
}


def demo_formulas() -> dict[str, Formula]:
    """Every recipe of the scenario by the label of its trial."""
    rows: dict[str, list[dict[str, Any]]] = {}
    for row in tables.rows("demo/lines"):
        rows.setdefault(str(row["label"]), []).append(dict(row))
    return {label: _formula(lines) for label, lines in rows.items()}


def _formula(rows: list[dict[str, Any]]) -> Formula:
    lines = tuple(
        Line(
            phase=row["phase"],
            material=row["material"],
            percent=Decimal(row["percent"]),
            note=row["note"] or "",
        )
        for row in rows
    )
    cold = any(x.material == "Carbomer" for x in lines)
    titles = COLD if cold else PHASES
    phases = tuple(
        Phase(key=key, title=titles[key][0], steps=(titles[key][1],))
        for key in dict.fromkeys(x.phase for x in lines)
    )
    qs = next(i for i, row in enumerate(rows) if row["qs"] == "yes")
    return Formula(rows[0]["product"], lines, phases, qs)


def demo_recipe() -> Path:
    """A recipe sheet as it lies around: the first hand cream, in a spreadsheet."""
    return tables.path("demo/trials").with_name("hand-cream-as-found.xlsx")


def demo_bench(
    place: str | Path | None = None, mats: Any = None, product: str | None = None
) -> Bench:
    """A bench on which the scenario has been recorded.

    Parameters
    ----------
    place : path, optional
        A bench file; one that exists is opened as it is. Without a place it is a file in a
        temporary folder.
    mats : Materials, optional
        Kept with the trials as used.
    product : str, optional
        Only this product: the start of its name is enough.

    Examples
    --------
    >>> with demo_bench(product="Low tide") as bench:
    ...     len(bench.trials())
    9
    """
    target = Path(tempfile.mkdtemp()) / "demo-bench.db" if place is None else Path(place)
    there = target.exists()
    bench = Bench.open(target)
    if not there:
        record_demo(bench, mats, product)
    return bench


def record_demo(
    bench: Bench,
    mats: Any = None,
    product: str | None = None,
    forecast: Any = None,
    brief: Any = None,
) -> list[Trial]:
    """Record the trials of the scenario with their notes and readings.

    Parameters
    ----------
    bench : Bench
        Where to; its own trials stay.
    mats : Materials, optional
        Kept with the trials as used.
    product : str, optional
        Only this product: the start of its name is enough.
    forecast : callable, optional
        Given a formula, the forecast to store with its trial before the readings.
    brief : Brief, optional
        Kept with each trial; the one that the forecasts were made for.

    Returns
    -------
    list of Trial
        In the order in which they were made.

    Examples
    --------
    >>> import tempfile
    >>> with Bench.open(tempfile.mkdtemp()) as bench:
    ...     [t.label for t in record_demo(bench, product="Dune")][:3]
    ['GS-01', 'GS-02', 'GS-03']
    """
    formulas = demo_formulas()
    made: dict[str, Trial] = {}
    steps = sorted(tables.rows("demo/trials"), key=lambda row: int(row["day"] or 0))
    for step in steps:
        label = str(step["label"])
        if product and not str(step["product"]).casefold().startswith(product.casefold()):
            continue
        formula = formulas[label]
        made[label] = bench.record(
            formula,
            parent=[made[p] for p in (step["parents"] or "").split()],
            note=str(step["note"]),
            label=label,
            mats=mats,
            forecast=None if forecast is None else forecast(formula),
            brief=brief,
        )
        _measure(bench, made[label])
        bench.note(made[label], str(step["seen"]))
    return list(made.values())


def _measure(bench: Bench, trial: Trial) -> None:
    groups: dict[tuple[tuple[str, str], ...], list[str]] = {}
    names = ("temperature", "dilution", "spindle", "speed", "weight", "cup", "at")
    for row in tables.rows("demo/readings"):
        if row["label"] != trial.label:
            continue
        how = tuple((name, str(row[name])) for name in names if row[name])
        value = f"{row['value']} {row['unit']}" if row["unit"] else str(row["value"])
        groups.setdefault((("quantity", str(row["quantity"])), *how), []).append(value)
    for key, values in groups.items():
        conditions = dict(key)
        quantity = conditions.pop("quantity")
        bench.measure(trial, quantity, values if len(values) > 1 else values[0], **conditions)
