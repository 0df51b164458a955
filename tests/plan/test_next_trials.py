from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from labkit.bench import Bench
from labkit.errors import BriefError
from labkit.formula.brief import Brief
from labkit.formula.model import Formula
from labkit.learning.bench_table import column_of
from labkit.learning.learner import Learner, fit
from labkit.materials import Materials
from labkit.plan.candidates import Room, around, refined, weighing_step
from labkit.plan.next_trials import next_trials, windows_of
from labkit.plan.proposals import Proposal
from labkit.plan.search import judge, search
from tests.learning.palette import FUNCTIONS
from tests.learning.simulator import series
from tests.plan.grade import grade

SEED = 621


@pytest.fixture(scope="module")
def trials() -> pd.DataFrame:
    return series(SEED, "plain", 10)


@pytest.fixture(scope="module")
def learner(trials: pd.DataFrame) -> Learner:
    return fit(trials, functions={n: w for n, w in FUNCTIONS.items() if n in trials})


@pytest.fixture(scope="module")
def windows(trials: pd.DataFrame) -> dict[str, tuple[float, float]]:
    middle, ph = float(trials["viscosity_mPas"].median()), float(trials["pH"].median())
    return {"viscosity": (1.4 * middle, 2.1 * middle), "pH": (ph - 0.4, ph - 0.05)}


def test_proposals_lead_to_the_windows_and_say_why(learner: Learner, windows: dict) -> None:
    found = next_trials(learner, windows)
    towards = [p for p in found if p.kind == "towards the brief"]
    assert len(towards) == 3
    assert len({tuple(n for n, _ in p.moves) for p in towards}) == 3
    chances = [
        float(v) for v in judge(learner, learner.data.percent, windows_of(windows)).all_inside
    ]
    assert towards[0].chance > max(chances)
    for p in found:
        assert set(p.chances) == {"viscosity_mPas", "pH"}
        assert p.chance == pytest.approx(np.prod(list(p.chances.values())))
        assert sum(p.percent.values()) == pytest.approx(100.0)
    assert towards[0].why
    assert any(p.kind == "teaches most" for p in found)


def test_the_same_trials_give_the_same_proposals(learner: Learner, windows: dict) -> None:
    assert next_trials(learner, windows) == next_trials(learner, windows)


def test_at_most_counts_the_changes(learner: Learner, windows: dict) -> None:
    for p in next_trials(learner, windows, at_most=1):
        assert len(p.moves) <= 1


def test_only_what_may_vary_moves_and_only_within_its_bounds(
    learner: Learner, windows: dict
) -> None:
    free = [
        n
        for n, w in zip(learner.data.names, learner.data.words, strict=True)
        if w in ("fatty alcohol", "emulsifier", "cationic", "thickener", "acid", "base")
    ]
    bounds = dict.fromkeys(free, (0.1, 2.5))
    for p in next_trials(learner, windows, vary=free, bounds=bounds):
        for name, percent in p.moves:
            assert name in free
            assert 0.1 <= percent <= 2.5


def test_compositions_behind_a_stop_are_never_proposed(learner: Learner, windows: dict) -> None:
    moved = next_trials(learner, windows)[0].moves
    names = [n for n, _ in moved]
    at = [learner.data.names.index(n) for n in names]
    before = learner.data.percent[
        list(learner.data.trials).index(next_trials(learner, windows)[0].base)
    ]

    def stops(percent: np.ndarray) -> np.ndarray:
        return (np.abs(percent[:, at] - before[at]) > 1e-9).all(axis=1)

    for p in next_trials(learner, windows, stops=stops):
        assert not set(names) <= {n for n, _ in p.moves}


def test_cost_breaks_ties(learner: Learner, windows: dict) -> None:
    aim = windows_of(windows)
    base = learner.data.percent[-1]
    vary = np.array(
        [j for j, w in enumerate(learner.data.words) if w not in ("water",) and base[j] > 0]
    )
    room = Room(
        vary=vary,
        low=0.5 * base,
        high=2 * base,
        filler=learner.data.words.index("water"),
        step=weighing_step(base),
    )
    price = np.where(np.arange(base.size) % 2 == 0, 2.0, 40.0)
    plain = search(learner, base, room, aim, rng=np.random.default_rng(1))
    cheap = search(learner, base, room, aim, price=price, rng=np.random.default_rng(1))
    cost = [float(j.percent[0] @ price) for j in (plain, cheap)]
    assert cost[1] <= cost[0] + 1e-9
    assert cheap.score[0] >= plain.score[0] - 0.02 - 1e-9


def test_a_reading_the_others_do_not_expect_is_repeated_first(trials: pd.DataFrame) -> None:
    odd = trials.copy()
    middle = float(odd["viscosity_mPas"].median())
    odd.loc[odd.index[-1], "viscosity_mPas"] = 8 * middle
    words = {n: w for n, w in FUNCTIONS.items() if n in odd}
    found = next_trials(fit(odd, functions=words), {"viscosity": (0.7 * middle, 1.4 * middle)})
    assert all(p.moves for p in found if p.kind == "towards the brief")
    never = odd.drop_duplicates(subset=list(words))
    found = next_trials(fit(never, functions=words), {"viscosity": (0.7 * middle, 1.4 * middle)})
    again = [p for p in found if p.kind == "repeat this batch"]
    assert len(again) == 1
    assert not again[0].moves


def test_a_proposal_becomes_a_formula_of_exactly_100(
    trials: pd.DataFrame, learner: Learner, windows: dict
) -> None:
    proposal = next_trials(learner, windows)[0]
    row = trials[trials["trial"] == proposal.base].iloc[0]
    lines = [f"A,{n},{row[n]:.2f}" for n in learner.data.names if row[n] > 0 and n != "Aqua"]
    formula = Formula.parse("phase,material,percent\nA,Aqua,q.s.\n" + "\n".join(lines))
    made = proposal.apply(formula)
    assert made.total == 100
    for name, percent in proposal.moves:
        assert made.lines[made.find(name)].percent == percent


def test_a_brief_with_units_is_understood() -> None:
    brief = Brief(
        product="hand cream", leave_on=True, ph=(4.8, 5.6), viscosity=("20 Pa*s", "35 Pa*s")
    )
    assert windows_of(brief) == {"pH": (4.8, 5.6), "viscosity_mPas": (20_000.0, 35_000.0)}


@pytest.mark.parametrize("at_most", [1, 2, 4])
def test_candidates_total_100_stay_in_bounds_and_change_few_lines(at_most: int) -> None:
    base = np.array([80.0, 5.0, 3.0, 0.3, 11.7])
    room = Room(
        vary=np.array([1, 2, 3]), low=0.5 * base, high=2 * base, filler=0, step=weighing_step(base)
    )
    rng = np.random.default_rng(0)
    first = around(base, room, 300, at_most, rng)
    every = np.concatenate([first, refined(first[:5], base, room, 100, rng)])
    assert np.allclose(every.sum(axis=1), 100)
    assert (np.abs(every - base)[:, 1:] > 1e-9).sum(axis=1).max() <= at_most
    inside = (every >= room.low - 1e-9) & (every <= room.high + 1e-9)
    assert inside[:, room.vary].all()
    assert (every[:, 4] == 11.7).all()


@pytest.mark.parametrize(
    ("aim", "more", "words"),
    [
        ({}, {}, "no window to aim for"),
        ({"pH": (6.0, 5.0)}, {}, "low end below the high end"),
        ({"spread": (10.0, 20.0)}, {}, "never|not measured"),
        ({"pH": (4.0, 5.0)}, {"vary": ["Moon dust"]}, "Moon dust"),
        ({"pH": (4.0, 5.0)}, {"bounds": {"Aqua": (90, 20)}}, "20 %"),
        ({"pH": (4.0, 5.0)}, {"vary": ["Aqua"]}, "nothing that may change"),
    ],
)
def test_questions_that_cannot_be_answered_are_refused(
    learner: Learner, aim: dict, more: dict, words: str
) -> None:
    with pytest.raises(BriefError, match=words):
        next_trials(learner, aim, **more)


def test_the_planner_reaches_the_windows_in_four_trials_on_most_benches() -> None:
    used = grade("plain", range(3000, 3016))
    assert np.median(used) <= 4
    assert np.mean(used <= 8) >= 0.8


def test_no_proposal_from_a_bench_raises_a_new_stop(tmp_path: Path) -> None:
    """Carbomer beside a cationic surfactant is a stop; the planner never brings them together."""
    mats = Materials.starter()
    bench = Bench.open(tmp_path / "bench.db")
    text = (
        "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,4\nA,Carbomer,{gum}\n"
        "A,Sodium Hydroxide,0.1\nB,Phenoxyethanol,0.8\nC,Behentrimonium Chloride,{quat}\n"
    )
    rows = [("0.30", "0", 9000), ("0.40", "0", 14000), ("0", "3.00", 4000), ("0", "4.00", 6000)]
    for gum, quat, thick in rows:
        given = text.format(gum=gum, quat=quat)
        lines = [line for line in given.splitlines() if not line.endswith(",0")]
        trial = bench.record(Formula.parse("\n".join(lines)))
        bench.measure(trial, "viscosity", f"{thick} mPa*s", spindle="no. 4", speed="20 rpm")
        bench.measure(trial, "pH", "6.0", temperature="25 °C", dilution="neat")
    brief = Brief(product="hand cream", viscosity=("10 Pa*s", "13 Pa*s"))
    both = ["Carbomer", "Behentrimonium Chloride"]
    bounds = {"Carbomer": (0.0, 0.6), "Behentrimonium Chloride": (0.0, 5.0)}
    names = [column_of(n, mats) for n in both]

    def together(found: list[Proposal]) -> int:
        return sum(all(p.percent.get(n, 0) > 0.1 for n in names) for p in found)

    free = next_trials(bench, brief, mats, vary=both, bounds=bounds, stops=lambda x: x[:, 0] < 0)
    kept = next_trials(bench, brief, mats, vary=both, bounds=bounds)
    assert together(free) > 0
    assert together(kept) == 0
