"""The pH standards and mixtures, beyond what the generic runner holds row by row."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from labkit.science.acidbase import solve_ph

FOLDER = Path(__file__).parents[1] / "reference"


def _rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _primary_errors(activity: str) -> list[float]:
    """pH(S) of the primary buffers (NIST/IUPAC, J. Res. NBS), 15-40 °C, against labkit."""
    return [
        float(
            solve_ph(
                json.loads(row["totals_mol_per_kg"]),
                temperature_c=float(row["temperature_C"]),
                activity=activity,
            )
        )
        - float(row["value"])
        for row in _rows("ph_standards.csv")
        if row["quantity"] == "pH(S)" and "secondary" not in row["source"] + row["note"]
    ]


def test_every_primary_standard_is_met_within_0_025_and_on_average_within_0_010() -> None:
    errors = np.abs(_primary_errors("davies"))
    assert len(errors) >= 20
    assert errors.max() <= 0.025
    assert errors.mean() <= 0.010


def test_without_activities_the_standards_are_missed() -> None:
    assert np.abs(_primary_errors("ideal")).mean() > 0.1


@pytest.mark.parametrize("row", _rows("ph_mixtures.csv"), ids=lambda row: row["id"])
def test_single_and_batch_path_agree_on_every_mixture(row: dict[str, str]) -> None:
    totals = json.loads(row["totals_mol_per_kg"])
    if not totals:
        return
    constants, level = json.loads(row["constants"]), float(row["temperature_C"])
    single = solve_ph(totals, constants, level)
    batch = solve_ph({name: [x, x] for name, x in totals.items()}, constants, level)
    assert np.allclose(batch, single, atol=1e-9, rtol=0)
