"""A pasted flow curve: what is read as what, and what is refused."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from labkit.errors import QuantityError, ScienceError
from labkit.science.flow_table import flow_table

REFERENCE = Path(__file__).parents[1] / "reference" / "rheology.csv"


@pytest.mark.parametrize(
    "text",
    [
        "shear rate (1/s)\tviscosity (mPa*s)\n1\t12000\n10\t2300.5",
        "shear rate (1/s);viscosity (mPa·s)\n1;12000\n10;2300,5",
        "Shear rate [s-1], Viscosity [cP]\n1, 12000\n10, 2300.5\n",
        "speed;shear rate (1/s);viscosity (Pa s)\n5;1;12\n50;10;2.3005",
        "shear rate (1/s);stress (Pa)\n1;12\n10;23.005",
        "Shear rate [1/s]  Viscosity [Pa·s]\n\n1.0    12.0\n10   2.3005\n",
    ],
)
def test_one_curve_in_many_dresses(text: str) -> None:
    table = flow_table(text)
    assert table.shear_rate.tolist() == [1.0, 10.0]
    assert table.viscosity_pa_s == pytest.approx([12.0, 2.3005])


def test_it_says_what_the_columns_were_taken_for() -> None:
    assert flow_table("rate;stress (Pa)\n1;12").read_as == "shear rate in 1/s, stress in Pa"


def test_where_both_stand_the_viscosity_is_taken() -> None:
    table = flow_table("shear rate (1/s);stress (Pa);viscosity (Pa*s)\n2;8;4")
    assert table.viscosity_pa_s.tolist() == [4.0]


@pytest.mark.parametrize("case", ["fit test B", "fit test D"])
def test_a_pasted_reference_set_finds_its_true_parameters(case: str) -> None:
    """Made by the model with 2 % noise; the true parameters stand in the row."""
    with REFERENCE.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["case"] == case]
    assert len(rows) == 13
    lines = [f"{row['x']};{row['value']}" for row in rows]
    found = flow_table("shear rate (1/s);shear stress (Pa)\n" + "\n".join(lines)).fit()
    for key, true in json.loads(rows[0]["parameters"]).items():
        assert found.low[key] <= true <= found.high[key], key
    assert 0.5 < found.scatter_percent < 4.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "without headings"),
        ("1;2\n3;4", "A heading with 'shear rate"),
        ("rpm (rpm);viscosity (cP)\n1;2", "A heading with 'shear rate"),
        ("shear rate (1/s);torque (%)\n1;2", "A heading with 'shear rate"),
        ("shear rate (rpm);viscosity (cP)\n1;2", "not revolutions"),
        ("shear rate (1/s);viscosity (cP)\n1;2\n4", "A number under each heading"),
        ("shear rate (1/s);viscosity (cP)", "Readings below the headings"),
        ("shear rate (1/s);viscosity (cP)\n0;2", "above 0"),
    ],
)
def test_what_cannot_be_a_flow_curve_is_refused(text: str, words: str) -> None:
    with pytest.raises(ScienceError, match=words):
        flow_table(text)


def test_a_number_or_a_unit_that_cannot_be_read_is_refused() -> None:
    with pytest.raises(QuantityError, match="row 2"):
        flow_table("shear rate (1/s);viscosity (cP)\n1;thick")
    with pytest.raises(QuantityError, match="A unit in the heading"):
        flow_table("shear rate (1/s);viscosity\n1;2")
    with pytest.raises(QuantityError, match="bananas"):
        flow_table("shear rate (1/s);viscosity (bananas)\n1;2")
