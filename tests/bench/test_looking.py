"""Tables, family tree and comparison."""

from __future__ import annotations

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.bench import Bench
from labkit.bench.frames import READING_COLUMNS, TRIAL_COLUMNS
from labkit.bench.lineage import FamilyTree
from labkit.errors import LabkitError
from labkit.formula import Formula


@pytest.fixture
def family(bench: Bench, cream: Formula) -> Bench:
    """A: root; B, C on A; D on B and C; E alone."""
    a = bench.record(cream, label="A")
    b = bench.record(cream.move("glycerin", "6 %"), label="B", parent=a)
    c = bench.record(cream.swap("glycerin", "Sorbitol"), label="C", parent="A")
    bench.record(cream.move("glycerin", "7 %"), label="D", parent=[b, c])
    bench.record(cream, label="E")
    return bench


def test_an_empty_bench_has_empty_tables_with_their_columns(bench: Bench) -> None:
    assert list(bench.trials().columns) == list(TRIAL_COLUMNS)
    assert list(bench.readings().columns) == list(READING_COLUMNS)
    assert bench.trials().empty
    assert bench.readings().empty
    assert bench.wide().empty
    assert bench.heads() == []
    assert bench.verify().ok


def test_the_table_of_trials_says_what_each_was_built_on(family: Bench) -> None:
    frame = family.trials()
    assert frame["label"].tolist() == list("ABCDE")
    assert frame["parent"].tolist() == ["", "A", "A", "B, C", ""]
    assert isinstance(frame["created"].dtype, pd.DatetimeTZDtype)
    assert frame["created"].is_monotonic_increasing
    assert frame["lines"].tolist() == [5] * 5


def test_lineage_goes_all_the_way_up_and_each_ancestor_is_named_once(family: Bench) -> None:
    assert [t.label for t in family.lineage("D")] == ["A", "B", "C"]
    assert [t.label for t in family.lineage("A")] == []
    assert [t.label for t in family.descendants("A")] == ["B", "C", "D"]
    assert [t.label for t in family.heads()] == ["D", "E"]


def test_the_family_tree_is_drawn_with_every_trial(family: Bench) -> None:
    tree = family.tree()
    assert [tree.labels[name] for name in tree.roots] == ["A", "E"]
    assert str(tree).splitlines() == ["A", "└─ B", "   └─ D", "└─ C", "   └─ D", "E"]


def test_a_tree_whose_parent_is_not_here_starts_there() -> None:
    tree = FamilyTree(parents={"x": ("gone",)}, labels={"x": "X"}, names={"x": "cream"})
    assert tree.roots == ("x",)
    assert tree.heads == ("x",)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.lists(st.integers(0, 100), max_size=2), min_size=1, max_size=12))
def test_ancestors_agree_with_a_walk_by_hand(choices: list[list[int]]) -> None:
    import tempfile

    cream = Formula.parse("phase,material,percent\nA,Aqua,q.s.")
    with tempfile.TemporaryDirectory() as folder, Bench.open(folder) as bench:
        above: dict[str, set[str]] = {}
        for chosen in choices:
            known = list(above)
            parents = {known[i % len(known)] for i in chosen} if known else set()
            trial = bench.record(cream, parent=sorted(parents))
            above[trial.id] = parents.union(*(above[p] for p in parents))
        for name, expected in above.items():
            assert {t.id for t in bench.lineage(name)} == expected


def test_readings_come_in_the_unit_of_their_quantity(family: Bench) -> None:
    family.measure("A", "viscosity", ["18.2 Pa*s", "18900 cps"], speed="20 rpm", at="24 h")
    family.measure("A", "pH", 5.31)
    family.measure("B", "pH", 5.11)
    frame = family.readings("viscosity")
    assert frame["value"].tolist() == [18200.0, 18900.0]
    assert set(frame["unit"]) == {"mPa*s"}
    assert frame["replicate"].tolist() == [0, 1]
    assert frame["at_h"].tolist() == [24.0, 24.0]
    assert family.readings("ph")["label"].tolist() == ["A", "B"]
    assert family.readings(trial="A")["quantity"].tolist() == ["viscosity", "viscosity", "pH"]
    with pytest.raises(LabkitError, match="Did you mean 'viscosity'"):
        family.readings("viscosty")


def test_the_wide_table_has_shares_and_mean_readings(family: Bench) -> None:
    family.measure("A", "pH", [5.2, 5.4])
    family.measure("B", "viscosity", "1 Pa*s", speed="20 rpm")
    family.measure("B", "viscosity", "2 Pa*s", speed="10 rpm")
    family.measure("B", "counts", "<10 CFU/g")
    frame = family.wide().set_index("label")
    shares = ["Aqua", "Glycerin", "Sorbitol", "Cetearyl Alcohol"]
    assert frame.loc["B", "Glycerin"] == 6.0
    assert frame.loc["C", "Sorbitol"] == 5.0
    assert frame.loc["C", "Glycerin"] == 0.0
    assert set(shares) <= set(frame.columns)
    assert frame.loc["A", "pH [pH]"] == pytest.approx(5.3)
    assert frame.loc["B", "viscosity [mPa*s] 20 rpm"] == 1000.0
    assert frame.loc["B", "viscosity [mPa*s] 10 rpm"] == 2000.0
    assert not [c for c in frame.columns if c.startswith("counts")]


def test_private_lines_are_in_the_wide_table_of_their_own_bench(
    bench: Bench, cream: Formula
) -> None:
    bench.record(cream, private=["/formula/lines/3"])
    assert bench.wide()["Caprylic/Capric Triglyceride"].tolist() == [8.0]


def test_two_trials_show_only_what_differs(family: Bench) -> None:
    family.measure("A", "pH", 5.31, temperature="25 °C")
    family.measure("D", "pH", 5.10, temperature="25 °C")
    family.measure("A", "viscosity", ["18 Pa*s", "20 Pa*s"], speed="20 rpm")
    family.measure("D", "viscosity", "38 Pa*s", speed="20 rpm")
    family.measure("A", "thickness", "drops")
    family.measure("D", "thickness", "peaks")
    found = family.compare("A", "D")
    assert {d.material for d in found.formula} == {"Aqua", "Glycerin"}
    ph, viscosity, thickness = found.readings
    assert ph.change == pytest.approx(-0.21)
    assert "5.31 pH → 5.1 pH (−0.21)" in str(found)
    assert viscosity.change == pytest.approx(19000)
    assert "(× 2.00)" in str(viscosity)
    assert "drops → peaks (2 steps thicker)" in str(thickness)
    table = found.table()
    assert table["what"].tolist()[:2] == ["Aqua (% w/w)", "Glycerin (% w/w)"]
    assert len(table) == 5
    assert "A → D" in found._repr_html_()


def test_readings_under_different_conditions_are_not_compared(family: Bench) -> None:
    family.measure("A", "viscosity", "18 Pa*s", speed="20 rpm", temperature="25 °C")
    family.measure("B", "viscosity", "30 Pa*s", speed="20 rpm", temperature="35 °C")
    found = family.compare("A", "B")
    assert found.readings == ()
    assert len(found.unmatched) == 2
    assert "35 °C, 20 rpm" in found.unmatched[1]
    assert "only in B" in str(found)


def test_a_withdrawn_reading_is_not_compared(family: Bench) -> None:
    reading = family.measure("A", "pH", 5.31)
    family.measure("B", "pH", 5.10)
    family.withdraw(reading, reason="probe was dry")
    assert family.compare("A", "B").readings == ()


def test_a_foreign_trial_carries_the_alias_of_its_bench(bench: Bench, cream: Formula) -> None:
    import tempfile

    from sqlalchemy import insert

    from labkit.bench import layout

    own = bench.record(cream, label="T1")
    with tempfile.TemporaryDirectory() as folder, Bench.open(folder) as other:
        theirs = other.record(cream, label="T1", note="theirs")
        origin = other.store.workspace
    with bench.store.writing() as writer:
        writer.take([theirs.record])
    assert set(bench.trials()["label"]) == {"T1", f"T1@{origin[:4]}"}
    with bench.store.writing() as writer:
        row = {"key": f"alias:{origin}", "value": "group-3"}
        writer.connection.execute(insert(layout.meta), [row])
    assert bench.trial("T1").id == own.id
    assert bench.trial("T1@group-3").id == theirs.id
    assert bench.record(cream).label == "T2"
    assert bench.verify().ok


def test_news_tells_what_arrived_since_the_last_look(bench: Bench, cream: Formula) -> None:
    first = bench.record(cream)
    now = bench.since()
    assert (now.records, now.more) == ((), False)
    assert bench.since(now.cursor).records == ()
    assert [r.id for r in bench.since(0).records] == [first.id]
    with Bench.open(str(bench.store.file)) as other:
        trial = other.record(cream, parent=first)
        note = other.note(trial, "from the other notebook")
    news = bench.since(now.cursor)
    assert [r.id for r in news.records] == [trial.id, note.id]
    assert bench.since(news.cursor).records == ()
    part = bench.since(now.cursor, limit=1)
    assert ([r.id for r in part.records], part.more) == ([trial.id], True)
    assert [r.id for r in bench.since(part.cursor).records] == [note.id]
