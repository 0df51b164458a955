"""The mixing sheet from Python, without a page: what it hears, answers and shows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import labkit as lk
from labkit.bench import Bench
from labkit.errors import MoveError, RecordError, ScienceError
from labkit.formula import Brief, Formula, Move
from labkit.materials import Materials
from labkit.widgets import MixingSheet, tune
from labkit.widgets.assets import RECORDING, SHEET, TREND, joined
from labkit.widgets.bands import findings_along
from labkit.widgets.ranges import along
from labkit.widgets.readouts import range_dict
from labkit.widgets.static import still_html

CREAM = """phase,material,percent
A,Aqua,q.s.
A,Glycerin,4
B,Shea Butter,5
B,Cetearyl Alcohol,3
C,Sodium Benzoate,0.45
C,Lactic Acid,0.3
"""


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    with Bench.open(tmp_path / "bench.db") as opened:
        yield opened


@pytest.fixture
def sheet(bench: Bench) -> MixingSheet:
    cream = Formula.parse(CREAM, name="Hand cream")
    first = bench.record(cream, label="HC-01")
    bench.measure(first, "pH", 4.71, temperature="25 °C", dilution="neat")
    bench.measure(first, "thickness", "mounds")
    return tune(first, bench=bench, brief=Brief(product="hand cream", batch="250 g"))


def hear(sheet: MixingSheet, **content: Any) -> list[dict[str, Any]]:
    """What the sheet answers to a message of the page."""
    answers: list[dict[str, Any]] = []
    sheet.send = answers.append
    sheet._hear(sheet, {"client": "c", "seq": 1, **content}, [])
    return answers


def read(sheet: MixingSheet, name: str) -> dict[str, Any]:
    found: dict[str, Any] = next(r for r in sheet._state["readouts"] if r["id"] == name)
    return found


def test_the_door_opens_the_sheet() -> None:
    assert lk.tune is tune


def test_an_edit_is_answered_whole_with_its_number(sheet: MixingSheet) -> None:
    move = {"kind": "set", "percent": "6.0000"}
    (answer,) = hear(sheet, do="move", id=1, move=move)
    assert (answer["kind"], answer["client"], answer["seq"]) == ("state", "c", 1)
    assert sum(x["units"] for x in answer["state"]["lines"]) == 1_000_000
    assert sheet._state == answer["state"]
    assert sheet.formula.lines[1].percent == 6


def test_python_recomputes_from_the_raw_move_whatever_the_page_says(sheet: MixingSheet) -> None:
    move = {"kind": "set", "percent": "6.0000"}
    hear(sheet, do="move", id=1, move=move, lines=[1, 2, 3], total=99)
    assert sheet.formula.total == 100


def test_a_running_gesture_is_not_mirrored_before_it_settles(sheet: MixingSheet) -> None:
    before = sheet._state
    move = {"kind": "set", "percent": "6.0000"}
    (answer,) = hear(sheet, do="move", id=1, gesture="g", final=False, move=move)
    assert "trials" not in answer["state"]
    assert sheet._state is before
    (answer,) = hear(sheet, do="move", id=1, gesture="g", final=True, move=move)
    assert "trials" in answer["state"]
    assert sheet._state["undo"] == "Glycerin to 6.00 %"


@pytest.mark.parametrize(
    "content",
    [
        {"do": "move", "id": 1, "move": {"kind": "explode"}},
        {"do": "move", "id": 1, "move": {"kind": "set", "percent": "six"}},
        {"do": "move", "id": 1, "move": {"bad": 1}},
        {"do": "move", "id": 99, "move": {"kind": "lock", "locked": True}},
        {"do": "typed", "id": 1, "text": "<script>"},
        {"do": "typed", "id": 1, "text": "1e400"},
        {"do": "bound", "id": 1, "low": "5", "high": "2"},
        {"do": "bound", "id": 1, "low": "x"},
        {"do": "weigh", "batch": "NaN"},
        {"do": "give", "mode": "??"},
        {"do": "marks", "trial": "no such trial"},
        {"do": "record", "label": "HC-01", "note": "kept"},
    ],
)
def test_what_cannot_be_done_is_answered_with_a_refusal(
    sheet: MixingSheet, content: dict[str, Any]
) -> None:
    before = sheet.formula
    (answer,) = hear(sheet, **content)
    refusal = answer["state"]["refusal"]
    assert all(refusal[part] for part in ("found", "allowed", "cause", "do"))
    assert sheet.formula == before


@pytest.mark.parametrize("content", [{}, {"do": "eval"}, {"do": "draft", "key": "../x"}])
def test_what_is_not_known_changes_nothing(sheet: MixingSheet, content: dict[str, Any]) -> None:
    before = sheet.formula
    (answer,) = hear(sheet, **content)
    assert answer["state"]["refusal"] is None
    assert sheet.formula == before


def test_a_note_outlives_a_refused_record(sheet: MixingSheet) -> None:
    hear(sheet, do="record", label="HC-01", note="kept")
    assert sheet.state.note == "kept"


def test_a_recorded_trial_has_its_parent_note_and_forecast(
    sheet: MixingSheet, bench: Bench
) -> None:
    hear(sheet, do="move", id=1, move={"kind": "set", "percent": "6.0000"})
    hear(sheet, do="record", label="HC-02", note="less sticky?")
    trial = bench.trial("HC-02")
    assert trial.parents == (bench.trial("HC-01").id,)
    assert trial.note == "less sticky?"
    assert trial.forecast is not None
    assert sheet.parent is not None
    assert sheet.parent.id == trial.id
    third = sheet.record(note="again", label="HC-03")
    assert third.parents == (trial.id,)


def test_the_last_readings_stand_beside_the_forecast(sheet: MixingSheet) -> None:
    assert "measured 4.71 on HC-01 (25 °C, neat)" in read(sheet, "ph")["words"]
    assert "measured thickness mounds on HC-01" in read(sheet, "viscosity")["words"]


def test_read_outs_come_in_the_order_in_which_they_are_looked_at(sheet: MixingSheet) -> None:
    shown = [r["id"] for r in sheet._state["readouts"] if not r.get("fold")]
    assert shown == [
        "total",
        "differs",
        "findings",
        "ph",
        "viscosity",
        "preservation",
        "water",
        "oil_to_emulsifier",
        "grams",
        "cost",
    ]
    for readout in sheet._state["readouts"]:
        assert (
            readout["value"] is None
            or readout["unit"]
            or readout["id"] in {"ph", "hlb"}
            or (readout["id"] in {"required_hlb", "unknown"})
        )


def test_a_search_answers_with_materials_and_their_use(sheet: MixingSheet) -> None:
    (answer,) = hear(sheet, do="find", text="squal", token=7)
    assert answer["token"] == 7
    assert any("qual" in found["name"] for found in answer["results"])


def test_the_range_begins_where_the_gesture_began(sheet: MixingSheet) -> None:
    move = {"kind": "set", "percent": "0.9"}
    hear(sheet, do="move", id=4, gesture="g", final=False, move=move)
    (answer,) = hear(sheet, do="range", id=4, window=[0, 10_000], stamp=0)
    assert (answer["kind"], answer["id"], answer["low"]) == ("range", 4, 0)
    assert answer["high"] == sum(x["units"] for x in sheet._state["lines"] if x["id"] in (0, 4))
    for curve in answer["curves"]:
        assert len(curve["values"]) == len(answer["positions"])


def test_a_finding_begins_where_the_checks_say_it_does() -> None:
    cream = Formula.parse(CREAM, name="Hand cream")
    forecaster = tune(cream)._forecaster
    walk = along(cream, 4, "qs", window=(0, 10_000))
    arrays = forecaster.along(cream, walk.rows / 10_000)
    found = findings_along(cream, 4, "qs", walk, forecaster, arrays, (0, 10_000))
    stop = next(b for b in found.bands if b["severity"] == "stop")
    for units, holds in [(stop["from"], True), (stop["from"] - 3, False)]:
        there = cream.move("Sodium Benzoate", f"{units / 10_000:.4f} %")
        assert (stop["code"] in forecaster(there).findings.codes) is holds


def test_findings_are_counted_along_the_range_as_each_formula_there_counts_them() -> None:
    cream = Formula.parse(CREAM, name="Hand cream")
    forecaster = tune(cream)._forecaster
    counts = range_dict(cream, 4, "qs", forecaster, (0, 10_000))["counts"]
    assert len(counts) > 2
    assert counts[0]["from"] == 0
    for units in range(150, 9_900, 650):
        there = cream.move("Sodium Benzoate", f"{units / 10_000:.4f} %")
        findings = forecaster(there).findings
        told = [c for c in counts if c["from"] <= units][-1]
        assert told["text"] == str(len(findings.of("stop")) + len(findings.of("check")))


def test_read_outs_along_the_range_are_those_of_each_formula_there() -> None:
    cream = Formula.parse(CREAM, name="Hand cream")
    forecaster = tune(cream)._forecaster
    told = range_dict(cream, 5, "qs", forecaster, (0, 10_000), points=9)
    ph = next(c for c in told["curves"] if c["id"] == "ph")
    for position, value in list(zip(told["positions"], ph["values"], strict=True))[1:6]:
        there = cream.move("Lactic Acid", f"{position / 10_000:.4f} %")
        assert value == pytest.approx(forecaster(there).ph.value, abs=2e-5)


def test_from_python_a_move_is_made_or_refused(sheet: MixingSheet) -> None:
    move = Move(kind="set", line=1, percent=sheet.formula.lines[1].percent * 2)
    assert sheet.apply(move).lines[1].percent == 8
    assert sheet.undo().lines[1].percent == 4
    assert sheet.redo().lines[1].percent == 8
    with pytest.raises(MoveError, match="cannot be reached"):
        sheet.apply(Move(kind="set", line=1, percent=sheet.formula.lines[0].percent * 2))
    assert sheet.formula.lines[1].percent == 8


def test_a_sheet_without_a_bench_records_nothing_and_says_so() -> None:
    alone = tune(Formula.parse(CREAM))
    assert alone._state["can_record"] is False
    with pytest.raises(RecordError, match="bench="):
        alone.record()


def test_a_label_needs_a_bench() -> None:
    with pytest.raises(RecordError, match="bench=bench"):
        tune("HC-01")


def test_an_empty_variable_is_not_tuned() -> None:
    with pytest.raises(RecordError, match="nothing to tune"):
        tune(None)  # type: ignore[arg-type]


def test_a_trial_is_found_by_its_label(sheet: MixingSheet, bench: Bench) -> None:
    assert tune("HC-01", bench=bench).formula == sheet.formula


def test_the_repr_is_stable(sheet: MixingSheet) -> None:
    assert repr(sheet) == "<MixingSheet 'Hand cream': 6 lines, from HC-01>"


def test_the_bundle_has_a_picture_for_viewers_without_widgets(sheet: MixingSheet) -> None:
    bundle = sheet._repr_mimebundle_()
    assert bundle is not None
    picture = bundle[0]["text/html"]
    assert "application/vnd.jupyter.widget-view+json" in bundle[0]
    for words in ("Hand cream", "Glycerin", "100.00", "pH", "from HC-01"):
        assert words in picture
    assert f'.lk-aside[data-sheet="{sheet.picture_id}"]' in picture


def test_the_picture_escapes_what_people_write(sheet: MixingSheet) -> None:
    page = dict(sheet._state) | {"name": "<b>x</b>", "note": "<script>1</script>"}
    picture = still_html(page, page["readouts"])
    assert "<script>" not in picture
    assert "&lt;b&gt;x&lt;/b&gt;" in picture


def test_nothing_is_fetched_and_the_page_is_small() -> None:
    for names in (SHEET, TREND, RECORDING):
        source = joined(names, "js")
        assert len(source.encode()) < 100_000
        assert not re.search(r"\bimport\b\s*[\(\"'{*]|https?://(?!www\.w3\.org)", source)
        assert source.count("export default") == 1


def test_the_sheet_never_promises(sheet: MixingSheet) -> None:
    words = joined(SHEET, "js") + str(sheet._state)
    assert not re.search(r"\b(safe|compliant|approved)\b", words, re.IGNORECASE)


def test_a_formula_of_unknown_materials_still_opens() -> None:
    odd = Formula.parse("phase,material,percent\nA,Moon Dust,60\nA,Stardust,40")
    sheet = tune(odd, Materials())
    assert sheet.formula.total == 100
    assert read(sheet, "unknown")["text"] == "2"


def test_a_forecast_that_cannot_be_made_is_said_and_the_lines_still_move(
    sheet: MixingSheet,
) -> None:
    def refuse(formula: Formula) -> None:
        raise ScienceError(
            where="pH",
            found="no solution",
            allowed="A water phase",
            cause="Too little water",
            do="Add water",
        )

    sheet._forecaster = refuse
    sheet._looked = None
    (answer,) = hear(sheet, do="move", id=1, move={"kind": "set", "percent": "6"})
    assert "No forecast. pH: no solution" in answer["state"]["trouble"]
    assert sheet.formula.lines[1].percent == 6
