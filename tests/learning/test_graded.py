"""The shipped report is what the grader writes, and holds what the learner must hold."""

from __future__ import annotations

import pytest

from labkit import tables
from labkit.learning import graded
from tests.learning.grade import COLUMNS, grade, rows_of
from tests.learning.simulator import REPORT_SEEDS


@pytest.mark.slow
@pytest.mark.parametrize(("world", "trials"), [("plain", 6), ("hostile", 3)])
def test_the_report_comes_out_again_from_its_seeds(world: str, trials: int) -> None:
    fresh = {tuple(r[:3]): r for r in rows_of(grade(world, REPORT_SEEDS[:240], (trials, 20)))}
    for row in tables.rows("learning_report"):
        shipped = [str(row[name]) for name in COLUMNS]
        if (row["world"], row["trials"]) == (world, str(trials)):
            again = fresh[tuple(shipped[:3])]
            for name, old, new in zip(COLUMNS[3:], shipped[3:], again[3:], strict=True):
                assert float(new) == pytest.approx(float(old), rel=0.02, abs=0.02), name


def test_viscosity_is_foretold_as_well_as_it_must_be() -> None:
    table = graded()
    thick = table[table["quantity"] == "viscosity_mPas"]
    assert thick["last_rmse"].between(0.30, 0.4551).all(), "the worlds are neither easy nor mad"
    assert thick["covered80"].between(75, 85).all()
    assert thick["covered95"].between(90, 100).all()
    at_six = thick[thick["trials"] == 6]
    assert (at_six["rmse"] <= 0.24).all()
    assert (at_six["rmse"] <= 0.8 * at_six["last_rmse"]).all()


def test_ph_is_foretold_to_seven_hundredths_in_the_plain_world() -> None:
    table = graded()
    plain = table[(table["quantity"] == "pH") & (table["world"] == "plain")]
    assert (plain[plain["trials"] == 6]["median_error"] <= 0.07).all()
