"""Learning from a bench as it is recorded: readings, conditions, families."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from labkit.bench import Bench
from labkit.errors import MeasurementError
from labkit.estimates import forecast
from labkit.formula.model import Formula
from labkit.learning.bench_table import bench_frame
from labkit.learning.frames import function_words
from labkit.learning.learner import fit
from labkit.learning.words import meaning
from labkit.materials import Materials
from labkit.plan.effects import effects
from labkit.plan.next_trials import next_trials
from tests.learning.palette import FUNCTIONS, NAMES
from tests.learning.simulator import series

SEED = 640


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """Six simulated trials recorded as a chemist would."""
    place: Path = tmp_path_factory.mktemp("bench")
    made = Bench.open(place / "bench.db")
    frame = series(SEED, "plain", 6)
    trials = {}
    for row in frame.to_dict("records"):
        lines = [f"A,{n},{row[n]:.2f}" for n in NAMES if n in row and row[n] > 0 and n != "Aqua"]
        formula = Formula.parse("phase,material,percent\nA,Aqua,q.s.\n" + "\n".join(lines))
        parent = trials.get(row["parent"])
        trial = made.record(formula, parent=parent)
        trials[row["trial"]] = trial
        value = row["viscosity_mPas"]
        made.measure(
            trial,
            "viscosity",
            [f"{value * f:.0f} mPa*s" for f in (0.97, 1.03)],
            temperature="23 °C",
            spindle="no. 4",
            speed="20 rpm",
        )
        made.measure(trial, "pH", row["pH"], temperature="25 °C", dilution="neat")
    return made


def test_a_bench_becomes_a_table_with_one_row_a_trial(bench: Bench) -> None:
    frame = bench_frame(bench, Materials.starter())
    expected = series(SEED, "plain", 6)
    assert len(frame) == 6
    assert frame["n_readings"].tolist() == [2] * 6
    ours = np.sort(frame["viscosity_mPas"].to_numpy())
    assert ours == pytest.approx(np.sort(expected["viscosity_mPas"].to_numpy()), rel=0.01)
    assert frame["parent"].isna().sum() == 1


def test_what_a_bench_taught_is_what_its_table_taught(bench: Bench) -> None:
    frame = series(SEED, "plain", 6)
    words = {n: w for n, w in FUNCTIONS.items() if n in frame}
    plain = fit(
        frame.drop(columns=["age_days", "homog_min", "homog_rpm", "measure_temp_C"]),
        functions=words,
    )
    learned = fit(bench)
    formula = bench.trial(str(bench.trials()["id"].iloc[3])).formula
    ours = learned.predict(formula)["viscosity_mPas"]["median"].iloc[0]
    row = frame.iloc[[3]]
    theirs = plain.predict(row)["viscosity_mPas"]["median"].iloc[0]
    assert ours == pytest.approx(theirs, rel=0.35)


def test_effects_and_proposals_come_straight_from_the_bench(bench: Bench) -> None:
    assert len(effects(bench)) == 5
    learned = fit(bench)
    middle = 10 ** float(np.median(learned.data.log_values["viscosity_mPas"]))
    found = next_trials(bench, {"viscosity": (middle * 0.9, middle * 1.3)})
    formula = bench.trial(str(found[0].base)).formula
    made = found[0].apply(formula, Materials.starter())
    assert made.total == 100
    assert made.compare(formula)


def test_a_bench_without_readings_says_so(tmp_path: Path) -> None:
    empty = Bench.open(tmp_path / "bench.db")
    empty.record(Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,5"))
    with pytest.raises(MeasurementError, match="no viscosity, drain time, spread or pH measured"):
        fit(empty)


def test_a_material_that_no_list_knows_is_learned_from_its_readings(tmp_path: Path) -> None:
    """A gum bought under a house name: the bench knows nothing but what it measured."""
    bench, trial = Bench.open(tmp_path / "b.db"), None
    gel = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Wonder gum,0.5\nA,Glycerin,3")
    for percent, thick in (("0.5", 9), ("0.8", 15), ("1.1", 25), ("1.4", 40)):
        trial = bench.record(gel.move("Wonder gum", percent), parent=trial)
        bench.measure(trial, "viscosity", f"{thick} Pa*s")
        bench.measure(trial, "pH", 5.6)
    for mats in (Materials.starter(), None):
        learner = fit(bench, mats)
        assert "Wonder gum" in learner.data.names
        found = learner.predict([gel.move("Wonder gum", "1.25")])["viscosity_mPas"]
        assert 25_000 < found["median"][0] < 40_000
        assert [s.contributions[0].what for s in effects(bench, mats=mats)] == ["Wonder gum"] * 3
    strange = gel.move("Wonder gum", "1.1").add("Nobody knows", "1 %")
    look = forecast(strange, Materials.starter(), bench=bench)
    usual = forecast(gel.move("Wonder gum", "1.1"), Materials.starter(), bench=bench)
    assert "Nobody knows" in " ".join(look.outside)
    assert look.viscosity.high / look.viscosity.low > 3 * usual.viscosity.high / usual.viscosity.low
    assert " 0 mPa*s" not in str(look.viscosity)


def test_the_words_of_the_list_are_words_of_the_learner() -> None:
    mats = Materials.starter()
    words = function_words(mats, mats)
    assert len(words) == len(mats)
    assert all(meaning(word, "x") == word for word in words.values())


def test_a_family_is_learned_from_the_way_it_was_measured_itself(tmp_path: Path) -> None:
    """Creams on a helical spindle outnumber the gels on a disc: the gels still count."""
    bench, mats = Bench.open(tmp_path / "b.db"), Materials.starter()
    cream = Formula.parse(
        "phase,material,percent\nA,Aqua,q.s.\nB,Squalane,10\nB,Cetearyl Alcohol,3\n"
        "B,Polysorbate 60,2\nB,Sorbitan Stearate,1"
    )
    gel = Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Xanthan Gum,0.5\nA,Glycerin,3")
    for percent in ("2", "2.5", "3", "3.5", "4"):
        trial = bench.record(cream.move("Cetearyl Alcohol", percent))
        bench.measure(trial, "viscosity", "30 Pa*s", spindle="helical C", speed="5 rpm")
    for percent, thick in (("0.5", 4), ("0.8", 7), ("1.1", 11)):
        trial = bench.record(gel.move("Xanthan Gum", percent))
        bench.measure(trial, "viscosity", f"{thick} Pa*s", spindle="disc 4", speed="20 rpm")
    look = forecast(gel.move("Xanthan Gum", "0.9"), mats, bench=bench)
    assert look.viscosity.basis == "learned"
    assert 6_000 < look.viscosity.value < 11_000
