"""A batch at the bench: weighings add up, the log has times, nothing entered is lost."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

import pytest

from labkit.bench import Batch, Bench
from labkit.errors import FormulaError, LabkitError, MoveError, RecordError
from labkit.formula import Formula
from labkit.learning.bench_table import bench_frame

CREAM = Formula.parse(
    "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5\nB,Cetearyl Alcohol,3\nC,Parfum,0.4",
    name="cream",
)


@pytest.fixture
def batch(bench: Bench) -> Batch:
    return bench.start_batch(bench.record(CREAM), "250 g", balance="0.01 g", vessel="212.40 g")


def weigh_all(batch: Batch) -> None:
    for line, grams in zip(CREAM.lines, batch.planned_g, strict=True):
        batch.weigh(line.material, f"{grams} g")


def test_the_plan_is_exact_and_the_actuals_stand_beside_it(batch: Batch) -> None:
    assert sum(batch.planned_g) == batch.mass_g == 250
    batch.weigh("glycerin", "12.53 g")
    batch.weigh("Cetearyl Alcohol", "7,5")
    table = batch.table()
    assert table.weighed_g.tolist() == [0, Decimal("12.53"), Decimal("7.5"), 0]
    assert table.difference_g.tolist()[1] == Decimal("0.03")
    assert table.difference_g.tolist()[0] is None
    assert "2 of 4 lines" in repr(batch)


def test_more_of_a_line_adds_up_and_a_slip_is_taken_back(batch: Batch) -> None:
    first = batch.weigh("Glycerin", "10 g")
    batch.weigh("Glycerin", "2.5 g")
    assert batch.weighed_g[1] == Decimal("12.5")
    batch.undo(first, "wrong bottle")
    assert batch.weighed_g[1] == Decimal("2.5")


def test_the_finished_percentages_come_from_what_was_weighed_and_what_steamed_off(
    batch: Batch,
) -> None:
    weigh_all(batch)
    assert batch.made().fingerprint == CREAM.fingerprint
    batch.finish("452.40 g")
    # by hand: 10 g of 250 g went as water: glycerin 12.5/240 = 5.2083 %
    assert batch.finished_g == 240
    assert batch.made().lines[1].percent == Decimal("5.2083")
    assert batch.made().total == 100


def test_steam_is_topped_up_by_the_balance(batch: Batch) -> None:
    weigh_all(batch)
    assert batch.water_to_add("455.05 g") == Decimal("7.35")


def test_an_overpoured_line_brings_the_rest_up_or_is_taken_as_it_is(batch: Batch) -> None:
    weigh_all(batch)
    assert batch.bring_up() == {}
    batch.weigh("Cetearyl Alcohol", "0.75 g")
    adds = batch.bring_up()
    # 8.25 g of 7.50 g planned: everything ten per cent up
    assert adds["Glycerin"] == Decimal("1.25")
    assert adds["Aqua"] == Decimal("22.90")
    assert "Cetearyl Alcohol" not in adds
    as_it_is = batch.made()
    assert float(as_it_is.lines[2].percent) == pytest.approx(8.25 / 250.75 * 100, abs=1e-4)


def test_the_log_has_the_time_of_the_wall_clock_and_the_temperature(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", "UTC-2")
    time.tzset()
    now = datetime(2026, 3, 2, 14, 5, tzinfo=UTC)
    with Bench.open(tmp_path, clock=lambda: now) as bench:
        batch = bench.start_batch(bench.record(CREAM), "100 g")
        batch.log("B in", temperature="72 °C")
        assert [str(x) for x in batch.log_lines] == ["16:05 B in, 72 °C"]
    monkeypatch.undo()
    time.tzset()


def test_a_batch_is_found_again_with_everything(batch: Batch, bench: Bench) -> None:
    batch.weigh("Glycerin", "12.5 g")
    again = bench.batches(batch.trials[0])[0]
    assert again.weighed_g == batch.weighed_g
    assert again.vessel_g == Decimal("212.4")
    assert bench.verify().ok


def test_one_base_goes_into_several_beakers_and_is_recorded_once(bench: Bench) -> None:
    base = CREAM.remove("Parfum")
    batch = bench.start_batch(base, "300 g")
    for line, grams in zip(base.lines, batch.planned_g, strict=True):
        batch.weigh(line.material, f"{grams} g")
    made = batch.split(
        {
            "HC-a": ("90 g", {}),
            "HC-b": ("90 g", {"Parfum": "0.36 g"}),
            "HC-c": ("95 g", {"Urea": 5}),
        },
        phase="C",
    )
    assert [t.label for t in made] == ["HC-a", "HC-b", "HC-c"]
    assert made[0].formula.fingerprint == base.fingerprint
    assert float(made[1].formula.lines[-1].percent) == pytest.approx(36 / 90.36, abs=1e-4)
    assert float(made[2].formula.lines[-1].percent) == 5
    assert {t.batch for t in made} == {batch.id}
    assert {t.label for t in batch.trials} == {"HC-a", "HC-b", "HC-c"}
    assert bench.trials()["batch"].nunique() == 1
    assert len(batch.weighings) == len(base.lines)
    assert bench.verify().ok
    with pytest.raises(RecordError, match="of base for 1 beakers"):
        batch.split({"HC-d": ("400 g", {})})


@pytest.mark.parametrize(
    ("kind", "call", "words"),
    [
        (MoveError, lambda b: b.weigh("Squalane", "1 g"), "no line"),
        (RecordError, lambda b: b.weigh("Glycerin", "0 g"), "More than 0 g"),
        (LabkitError, lambda b: b.weigh("Glycerin", "12 mL"), "mass"),
        (LabkitError, lambda b: b.weigh("Glycerin", "a spoon"), "Glycerin"),
        (RecordError, lambda b: b.log("  "), "A few words"),
        (LabkitError, lambda b: b.log("hot", temperature="72"), "unit"),
        (RecordError, lambda b: b.finish("200 g"), "lighter than the vessel"),
        (FormulaError, lambda b: b.made(), "nothing weighed yet"),
        (RecordError, lambda b: Batch(b.bench, b.log("x")), "begins no batch"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_saved(
    batch: Batch, kind: type[LabkitError], call: object, words: str
) -> None:
    with pytest.raises(kind, match=words):
        call(batch)  # type: ignore[operator]
    assert batch.weighings == ()


def test_a_base_that_was_only_planned_reads_like_a_batch(bench: Bench) -> None:
    weighed = [
        {"material": x.material, "planned_g": f"{g:f}"}
        for x, g in zip(CREAM.lines, CREAM.grams("200 g", "0.1 g"), strict=True)
    ]
    bench.add("batch", {"formula": CREAM.as_dict(), "mass_g": "200", "weighings": weighed})
    batch = bench.batches()[0]
    assert batch.balance_g == Decimal("0.1")
    assert batch.vessel_g is None
    batch.weigh("Glycerin", "10 g")
    assert batch.weighed_g[1] == 10


def test_without_a_vessel_steam_cannot_be_told(bench: Bench) -> None:
    batch = bench.start_batch(bench.record(CREAM), "100 g")
    for call in (batch.water_to_add, batch.finish):
        with pytest.raises(RecordError, match="empty vessel"):
            call("300 g")


def test_a_batch_heavier_than_its_parts_is_not_explained_away(batch: Batch) -> None:
    batch.weigh("Glycerin", "12.5 g")
    batch.finish("452.40 g")
    with pytest.raises(RecordError, match="heavier than its parts"):
        batch.made()


MAKER = """
import sys
from labkit.bench import Bench
from labkit.formula import Formula
from labkit.learning.bench_table import bench_frame
cream = Formula.parse("phase,material,percent\\nA,Aqua,q.s.\\nA,Glycerin,5")
bench = Bench.open(sys.argv[1])
batch = bench.start_batch(bench.record(cream), "5 kg")
print(batch.id, flush=True)
n = 0
while True:
    n += 1
    one = batch.weigh("Glycerin", f"{n % 7 + 1}.25 g") if n % 3 else batch.log(f"line {n}")
    print(getattr(one, "record", one).id, flush=True)
"""


@pytest.mark.slow
def test_nothing_entered_is_lost_when_the_notebook_dies_in_the_middle_of_a_batch(
    tmp_path: Path,
) -> None:
    dice, entered = random.Random(5), 0
    for run in range(12):
        file = tmp_path / f"{run}.db"
        child = subprocess.Popen([sys.executable, "-c", MAKER, str(file)], stdout=subprocess.PIPE)
        assert child.stdout is not None
        begun = child.stdout.readline().decode().strip()
        time.sleep(dice.random() * 0.4)
        os.kill(child.pid, signal.SIGKILL)
        said = [line.decode().strip() for line in child.stdout.read().split(b"\n")[:-1]]
        child.wait()
        with Bench.open(file) as bench:
            batch = bench.batches()[0]
            assert batch.id == begun
            kept = {r.id for r in bench.records("batch", about=batch.id)}
            assert set(said) <= kept
            assert len(batch.weighings) + len(batch.log_lines) >= len(said)
            assert bench.verify().ok
        entered += len(said)
    assert entered > 100


def test_the_learner_is_told_which_trials_share_a_base(bench: Bench) -> None:
    base = CREAM.remove("Parfum")
    shared = bench.start_batch(base, "300 g").split({"a": ("90 g", {}), "b": ("90 g", {})})
    for trial in (*shared, bench.record(CREAM)):
        bench.measure(trial, "viscosity", "20 Pa*s")
    frame = bench_frame(bench)
    assert frame["base"].tolist()[:2] == [shared[0].batch] * 2
    assert frame["base"].isna().tolist() == [False, False, True]
