from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from labkit.errors import FormulaError, MaterialError, MeasurementError
from labkit.formula.model import Formula
from labkit.learning.learner import fit
from tests.learning.palette import FUNCTIONS
from tests.learning.simulator import series


@pytest.fixture(scope="module")
def trials() -> pd.DataFrame:
    return series(601, "plain", 16)


def words(frame: pd.DataFrame) -> dict[str, str]:
    return {n: w for n, w in FUNCTIONS.items() if n in frame}


def test_predict_gives_ordered_bands_for_both_quantities(trials: pd.DataFrame) -> None:
    found = fit(trials.iloc[:8], functions=words(trials)).predict(trials.iloc[8:12])
    for name in ("viscosity_mPas", "pH"):
        table = found[name]
        assert list(table.columns) == ["median", "low80", "high80", "low95", "high95"]
        assert list(table.index) == list(trials.index[8:12])
        ordered = table[["low95", "low80", "median", "high80", "high95"]].to_numpy()
        assert (np.diff(ordered, axis=1) > 0).all()


def test_the_future_is_not_used(trials: pd.DataFrame) -> None:
    learner = fit(trials.iloc[:8], functions=words(trials))
    ahead = trials.iloc[8:12].copy()
    first = learner.predict(ahead)["viscosity_mPas"]
    ahead["viscosity_mPas"], ahead["pH"] = 1.0, 1.0
    pd.testing.assert_frame_equal(first, learner.predict(ahead)["viscosity_mPas"])


def test_materials_name_themselves_when_functions_are_not_given(trials: pd.DataFrame) -> None:
    learner = fit(trials.iloc[:8])
    named = dict(zip(learner.data.names, learner.data.words, strict=True))
    assert named["Aqua"] == "water"
    assert set(named) == set(words(trials))


def test_unknown_function_words_mean_wider_bands(trials: pd.DataFrame) -> None:
    known = fit(trials.iloc[:5], functions=words(trials))
    vague = fit(trials.iloc[:5], functions=dict.fromkeys(words(trials), "something else"))
    ahead = trials.iloc[5:12]
    widths = []
    for learner in (known, vague):
        band = learner.predict(ahead)["viscosity_mPas"]
        widths.append(np.median(np.log10(band["high95"] / band["low95"])))
    assert widths[1] > widths[0]


def test_a_formula_with_a_new_material_is_predicted_with_a_wider_band(
    trials: pd.DataFrame,
) -> None:
    learner = fit(trials.iloc[:10])
    row = trials.iloc[9]
    percent = {n: float(row[n]) for n in learner.data.names if row[n] > 0}
    percent["Aqua"] = round(percent["Aqua"] - 0.5, 2)
    text = "phase,material,percent\n"
    text += "\n".join(f"A,{name},{value:.2f}" for name, value in percent.items())
    formula = Formula.parse(text + "\nA,Hydroxypropyl Methylcellulose,0.50")
    same = learner.predict(trials.iloc[[9]])["viscosity_mPas"]
    new = learner.predict(formula)["viscosity_mPas"]
    width = [float(np.log10(t["high80"] / t["low80"]).iloc[0]) for t in (same, new)]
    assert width[1] > width[0]


def test_outside_what_was_tried_is_said(trials: pd.DataFrame) -> None:
    learner = fit(trials.iloc[:6], functions=words(trials))
    far = trials.iloc[[5]].copy()
    name = next(n for n, w in words(trials).items() if w == "fatty alcohol" and far[n].iloc[0] > 0)
    far[name] += 6.0
    far["Aqua"] -= 6.0
    found = learner.predict(far)
    assert any(name in said for said in found.outside[0])
    assert not learner.predict(trials.iloc[[3]]).outside[0]


def test_readings_as_rows_count_as_readings_of_one_batch() -> None:
    frame = pd.read_csv("tests/reference/trial_series_sample.csv")
    learner = fit(frame)
    assert len(learner.data.trials) == 14
    assert learner.data.readings.tolist() == [2.0] * 14
    band = learner.predict(frame[frame["reading"] == 1])["viscosity_mPas"]
    truth = frame[frame["reading"] == 1]["true_viscosity_mPas"]
    assert (np.abs(np.log10(band["median"] / truth)) < 0.1).all()


def test_one_trial_is_enough_to_start(trials: pd.DataFrame) -> None:
    band = fit(trials.iloc[:1], functions=words(trials)).predict(trials.iloc[[0]])["viscosity_mPas"]
    measured = float(trials["viscosity_mPas"].iloc[0])
    assert float(band["low95"].iloc[0]) < measured < float(band["high95"].iloc[0])


def test_missing_readings_are_left_out_not_filled(trials: pd.DataFrame) -> None:
    gaps = trials.iloc[:8].copy()
    gaps.loc[gaps.index[2], "viscosity_mPas"] = np.nan
    gaps.loc[gaps.index[4], "pH"] = np.nan
    learner = fit(gaps, functions=words(trials))
    assert learner.models["viscosity_mPas"].posterior.design.shape[0] == 7
    assert np.isnan(learner.data.ph).sum() == 1


def test_drain_time_is_learned_on_its_own_scale(trials: pd.DataFrame) -> None:
    frame = trials.copy()
    frame["drain_s"] = (frame["viscosity_mPas"] / 1000.0) ** 0.8
    found = fit(frame.iloc[:10], functions=words(trials)).predict(frame.iloc[10:14])
    error = np.log10(found["drain_s"]["median"] / frame["drain_s"].iloc[10:14])
    assert np.median(np.abs(error)) < 0.2


def test_totals_that_are_not_100_are_refused(trials: pd.DataFrame) -> None:
    bad = trials.iloc[:5].copy()
    bad["Aqua"] -= 3.0
    with pytest.raises(FormulaError, match="97.00 %"):
        fit(bad, functions=words(trials))


def test_a_column_that_is_missing_is_named(trials: pd.DataFrame) -> None:
    with pytest.raises(MaterialError, match="Moon dust"):
        fit(trials, functions=words(trials) | {"Moon dust": "active"})


def test_a_table_without_materials_is_refused() -> None:
    with pytest.raises(MaterialError, match="no column that is a known material"):
        fit(pd.DataFrame({"trial": [1], "pH": [5.0], "R17": [100.0]}))


@pytest.mark.parametrize(
    ("column", "value", "words_needed"),
    [
        ("viscosity_mPas", 0.0, "above 0"),
        ("viscosity_mPas", -1.0, "above 0"),
        ("pH", 55.0, "pH 55"),
    ],
)
def test_impossible_readings_are_refused(
    trials: pd.DataFrame, column: str, value: float, words_needed: str
) -> None:
    bad = trials.iloc[:5].copy()
    bad.loc[bad.index[1], column] = value
    with pytest.raises(MeasurementError, match=words_needed):
        fit(bad, functions=words(trials))


def test_nothing_measured_is_said_when_there_is_no_chemistry_either() -> None:
    frame = pd.DataFrame({"trial": [1], "Aqua": [95.0], "Glycerin": [5.0]})
    with pytest.raises(MeasurementError, match="Measure a trial"):
        fit(frame)


def test_a_level_in_percent_is_refused(trials: pd.DataFrame) -> None:
    with pytest.raises(MeasurementError, match="between 0 and 1"):
        fit(trials.iloc[:4], functions=words(trials)).predict(trials.iloc[[4]], levels=(80,))
