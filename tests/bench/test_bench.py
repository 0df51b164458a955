"""The bench through its own door."""

from __future__ import annotations

import json
import random
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from labkit.bench import Bench, Record
from labkit.bench.records import KINDS
from labkit.errors import LabkitError, RecordError
from labkit.formula import Brief, Formula
from labkit.materials import Material

from .conftest import RECIPE, steady_clock


class Shelf:
    """A tiny list of materials."""

    def __init__(self, *materials: Material) -> None:
        self._known = {m.name.casefold(): m for m in materials} | {m.key: m for m in materials}

    def resolve(self, text: str) -> Material | None:
        return self._known.get(text.casefold())


def test_a_trial_is_named_by_the_hash_of_its_bytes(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream, note="first")
    assert len(trial.id) == 64
    assert trial.label == "T1"
    assert trial.formula.fingerprint == cream.fingerprint
    assert trial.formula == cream
    assert json.loads(trial.record.raw)["note"] == "first"
    assert bench.trials()["id"].tolist() == [trial.id]


def test_the_same_steps_with_the_same_clock_and_dice_give_the_same_history(
    tmp_path: Path, cream: Formula
) -> None:
    def history(name: str) -> list[str]:
        dice = random.Random(3).randbytes
        with Bench.open(tmp_path / name, clock=steady_clock(), entropy=dice) as bench:
            first = bench.record(cream, note="x", private=["/note"])
            bench.record(cream.move("glycerin", "6 %"), parent=first)
            bench.measure(first, "pH", 5.1)
            return sorted(record.id for record in bench.records())

    assert history("a.db") == history("b.db")


def test_a_formula_keeps_its_locks_bounds_steps_and_order(bench: Bench) -> None:
    formula = Formula.parse(RECIPE).lock("glycerin").bound("cetearyl alcohol", 1, 5)
    assert bench.record(formula).formula == formula


def test_labels_are_counted_on_and_can_be_chosen(bench: Bench, cream: Formula) -> None:
    assert [bench.record(cream).label for _ in range(3)] == ["T1", "T2", "T3"]
    assert bench.record(cream, label=" HC-07b ").label == "HC-07b"
    assert bench.record(cream, label="T4").label == "T4"
    assert bench.record(cream).label == "T5"
    with pytest.raises(RecordError, match="another trial is called that already"):
        bench.record(cream, label="HC-07b")
    for bad in ("", "a@b", "x" * 61, "a\nb\x07"):
        with pytest.raises(RecordError, match="1 to 60 signs without @"):
            bench.record(cream, label=bad)
    assert len(bench.trials()) == 6


def test_a_trial_is_found_by_label_number_id_and_start_of_id(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream, label="HC-07b")
    other = bench.record(cream)
    for which in ("HC-07b", "hc-07b", trial.id, trial.id[:8], trial, trial.record):
        assert bench.trial(which).id == trial.id
    assert bench.trial(1).id == other.id
    with pytest.raises(RecordError, match="Did you mean HC-07b"):
        bench.trial("HC-07")
    with pytest.raises(RecordError, match=r"Look at bench\.trials"):
        bench.trial("zebra")
    with pytest.raises(RecordError, match="it is not in this bench"):
        bench.trial("0" * 64)
    with pytest.raises(RecordError, match="Allowed|A trial"):
        bench.trial(bench.note(trial, "x"))


def test_an_ambiguous_start_of_an_id_shows_both(bench: Bench, cream: Formula) -> None:
    seen: dict[str, str] = {}
    for count in range(3000):
        trial = bench.record(cream, note=str(count))
        if trial.id[:4] in seen:
            break
        seen[trial.id[:4]] = trial.label
    with pytest.raises(RecordError, match="several trials answer") as told:
        bench.trial(trial.id[:4])
    assert f"{trial.label} (" in str(told.value)
    assert f"{seen[trial.id[:4]]} (" in str(told.value)


def test_a_forecast_is_in_the_trial_before_any_result(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream, forecast={"pH": (4.9, 5.7), "viscosity": (12000, 18000, 30000)})
    assert trial.forecast == {
        "estimates": [
            {"quantity": "pH", "low": "4.9", "high": "5.7"},
            {"quantity": "viscosity", "value": 12000, "low": 18000, "high": 30000},
        ]
    }


def test_an_object_with_as_record_is_a_forecast(bench: Bench, cream: Formula) -> None:
    class Look:
        def as_record(self) -> dict[str, Any]:
            return {"estimates": [{"quantity": "pH", "value": 5.3}], "model": "m/1", "seed": 7}

    trial = bench.record(cream, forecast=Look())
    assert trial.forecast is not None
    assert trial.forecast["seed"] == 7
    assert trial.forecast["estimates"][0]["value"] == "5.3"


def test_a_bare_number_is_no_forecast(bench: Bench, cream: Formula) -> None:
    with pytest.raises(RecordError, match="Name the quantity it is for"):
        bench.record(cream, forecast=5.3)


def test_a_brief_is_kept_as_it_was(bench: Bench, cream: Formula) -> None:
    brief = Brief(product="hand cream", leave_on=True, ph=(4.8, 5.6))
    trial = bench.record(cream, brief=brief)
    assert trial.brief is not None
    assert trial.brief["product"] == "hand cream"
    assert bench.record(cream, brief={"pH": 5}).brief == {"values": [{"name": "pH", "value": 5}]}


def test_materials_as_used_are_recorded_once_each(bench: Bench, cream: Formula) -> None:
    shelf = Shelf(
        Material(key="water", name="Aqua", inci="Aqua", density_g_ml=0.998),
        Material(key="glycerin", name="Glycerin", inci="Glycerin", groups=frozenset({"polyol"})),
    )
    first = bench.record(cream, mats=shelf)
    second = bench.record(cream.move("glycerin", "6 %"), mats=shelf, parent=first)
    kept = bench.records("material")
    assert len(kept) == 2
    assert first.materials == second.materials
    assert set(first.materials) == {0, 1}
    water = bench.store.get(first.materials[0]).body["material"]
    assert (water["name"], water["density_g_ml"]) == ("Aqua", "0.998")
    assert first.formula.lines[0].key == "water"
    assert bench.verify().ok


def test_prices_are_kept_privately_and_apart_from_the_material(
    bench: Bench, cream: Formula
) -> None:
    from labkit.materials.model import Price

    price = Price(per_kg=7.77, currency="EUR")
    shelf = Shelf(Material(key="glycerin", name="Glycerin", inci="Glycerin", price=price))
    trial = bench.record(cream, mats=shelf)
    assert trial.prices == [{"line": 1, "per_kg": "7.77", "currency": "EUR"}]
    assert b"7.77" not in trial.record.raw
    assert b"EUR" not in b"".join(record.raw for record in bench.records())


def test_private_lines_can_be_read_here_and_are_closed_in_the_record(
    bench: Bench, cream: Formula
) -> None:
    trial = bench.record(cream, private=["/formula/lines/3", "/note"], note="secret oil")
    assert bench.trial(trial.id).formula == cream
    assert b"Caprylic" not in trial.record.raw
    assert b"secret oil" not in trial.record.raw
    assert bench.trials()["note"].tolist() == ["secret oil"]
    assert bench.verify().ok


def test_the_recipe_file_is_kept_with_the_trial(
    bench: Bench, cream: Formula, tmp_path: Path
) -> None:
    file = tmp_path / "hand-cream.csv"
    file.write_text(RECIPE, encoding="utf-8")
    (kept,) = bench.record(cream, recipe=file).files
    assert (kept["name"], kept["media_type"]) == ("hand-cream.csv", "text/csv")
    assert bench.store.file_bytes(kept["sha256"]) == ("text/csv", RECIPE.encode())
    with pytest.raises(RecordError, match="no such file"):
        bench.record(cream, recipe=tmp_path / "absent.csv")
    file.write_bytes(b"0" * 10_000_001)
    with pytest.raises(RecordError, match="At most 10 MB"):
        bench.record(cream, recipe=file)
    with pytest.raises(RecordError, match="At most 10 MB"):
        bench.record(cream, recipe=b"0" * 10_000_001)
    assert len(bench.trials()) == 1


def test_only_a_formula_can_be_recorded(bench: Bench) -> None:
    with pytest.raises(RecordError, match="a str in place of a formula"):
        bench.record("water 100")  # type: ignore[arg-type]


def test_every_other_word_is_a_record_of_its_own(bench: Bench, cream: Formula) -> None:
    trial = bench.record(cream)
    bench.note(trial, "split overnight", tags=["stability"])
    bench.decide(trial, "change", reason="too thin", next="more gum")
    bench.accept("ph-window", "raised on purpose", about=trial)
    water = bench.sample("tap water", "water", note="hard", hardness="14 dH")
    bench.measure(water, "pH", 7.6)
    lot = bench.add("lot", {"name": "glycerin", "lot": "L-7", "supplier": "the shop"})
    batch = bench.add("batch", {"mass_g": "250.0", "uses": [lot.id]}, about=trial)
    shared = bench.record(cream, batch=batch)
    assert shared.batch == batch.id
    assert lot.body["supplier"] == "the shop"
    assert b"the shop" not in lot.raw
    assert b"L-7" not in lot.raw
    kinds = [record.kind for record in bench.records(about=trial)]
    assert kinds == ["note", "decision", "acceptance", "batch"]
    assert bench.verify().ok


def test_a_finding_is_accepted_with_its_words(bench: Bench) -> None:
    class Finding:
        code = "ph-window"

        def as_record(self) -> dict[str, Any]:
            return {"code": self.code, "what": "pH 6.2 lies above the window", "level": 0.5}

    record = bench.accept(Finding(), "checked by hand")
    assert record.body["finding"]["level"] == "0.5"


@pytest.mark.parametrize(
    ("act", "words"),
    [
        (lambda b, t: b.note(t, "  "), "Note: nothing was written"),
        (lambda b, t: b.withdraw(t, reason=""), "Reason: nothing was written"),
        (lambda b, t: b.decide(t, "maybe", reason="x"), "keep, change, stop"),
        (lambda b, t: b.sample(""), "Name: nothing was written"),
        (lambda b, t: b.note("0" * 64, "x"), "it is not in this bench"),
        (lambda b, t: b.measure("0" * 64, "pH", 5), "it is not in this bench"),
        (lambda b, t: b.record(t.formula, parent="0" * 64), "it is not in this bench"),
        (lambda b, t: b.add("wish", {}), "the kind 'wish'"),
        (lambda b, t: b.add("note", {"text": "x", "mood": "y"}, about=t), "'mood' is not a field"),
    ],
)
def test_what_says_nothing_or_names_nothing_is_refused(
    bench: Bench, cream: Formula, act: Any, words: str
) -> None:
    trial = bench.record(cream)
    before = bench.store.count()
    with pytest.raises(RecordError, match=words):
        act(bench, trial)
    assert bench.store.count() == before
    assert bench.verify().ok


def test_a_person_is_a_random_id_in_every_record(tmp_path: Path, cream: Formula) -> None:
    where = tmp_path / "bench.db"
    with Bench.open(where, person="Learner Nine") as bench:
        first = bench.record(cream)
    with Bench.open(where, person="Learner Nine") as bench:
        second = bench.record(cream)
    with Bench.open(where, person="Learner Ten") as bench:
        third = bench.record(cream)
        assert b"Learner" not in b"".join(record.raw for record in bench.records())
    assert first.author == second.author != third.author


def test_search_finds_words_names_and_materials_and_binds_what_is_typed(
    bench: Bench, cream: Formula
) -> None:
    trial = bench.record(cream, label="HC-01")
    note = bench.note(trial, "Überraschend WEICH, 100 % satin")
    assert [record.id for record in bench.search("überraschend weich")] == [note.id]
    assert [record.id for record in bench.search("caprylic")] == [trial.id]
    assert [record.id for record in bench.search("hc-01")] == [trial.id]
    assert bench.search("%") == [note]
    assert bench.search("'; drop table record; --") == []
    assert bench.store.count() == 2


def test_nothing_in_the_bench_can_change_or_delete(bench: Bench) -> None:
    public = {name for name in dir(Bench) if not name.startswith("_")}
    forbidden = ("delete", "remove", "update", "edit", "drop", "clear", "set", "purge")
    assert not [name for name in public if name.startswith(forbidden)]


def test_looking_at_things_shows_words_and_no_markup(bench: Bench) -> None:
    formula = Formula.parse(RECIPE, name="<b>cream</b>")
    trial = bench.record(formula, note="<script>alert(1)</script>", label="<i>x</i>")
    reading = bench.measure(trial, "appearance", "<img src=x onerror=alert(1)>")
    note = bench.note(trial, "<svg onload=alert(1)>")
    shown = [x._repr_html_() for x in (trial, reading, note, bench, bench.tree(), bench.verify())]
    for page in shown:
        assert "<script" not in page
        assert "<img" not in page
        assert "<svg" not in page
        assert "<i>x" not in page
    assert "1 trials" in repr(bench)
    assert "cream" in str(trial)
    assert trial.id[:12] in repr(trial)
    assert "appearance" in repr(reading)


def test_every_kind_can_be_added_through_the_bench(bench: Bench, cream: Formula) -> None:
    from .test_records import HEAD, MINIMAL

    trial = bench.record(cream)
    for kind in KINDS:
        if kind in {"trial", "photo"}:
            continue
        body = {k: v for k, v in MINIMAL[kind].items() if k not in HEAD and k != "about"}
        about = trial if "about" in MINIMAL[kind] else None
        record = bench.add(kind, body, about=about)
        assert isinstance(record, Record)
        assert bench.records(kind)[-1] == record


def test_a_refusal_in_the_middle_of_a_transaction_leaves_nothing(
    bench: Bench, cream: Formula
) -> None:
    trial = bench.record(cream)

    def two_notes() -> None:
        with bench.store.writing() as writer:
            writer.add("note", {"about": [trial.id], "parents": [], "text": "kept?"})
            writer.add("note", {"about": [trial.id], "parents": []})

    with pytest.raises(LabkitError, match="'text' is missing"):
        two_notes()
    assert bench.records("note") == []
    assert bench.verify().ok


def test_importing_the_room_loads_no_database_library() -> None:
    code = "import sys, labkit.bench; print('sqlalchemy' in sys.modules)"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "False"


def test_the_room_has_exactly_its_public_names() -> None:
    import labkit.bench

    assert dir(labkit.bench) == sorted(labkit.bench.__all__)
    for name in labkit.bench.__all__:
        assert getattr(labkit.bench, name).__name__ == name
    with pytest.raises(AttributeError, match="has no 'Bank'"):
        _ = labkit.bench.Bank
