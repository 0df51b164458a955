"""Drafts of the mixing sheet outlive a crash and stay out of the history."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from labkit.formula import Formula
from labkit.widgets.drafts import MOST_FILES, MOST_STATES, Drafts, draft_folder

NOW = datetime(2024, 3, 1, 9, 30)


@pytest.fixture
def gel() -> Formula:
    return Formula.parse("phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,4", name="Gel")


def test_an_unrecorded_state_is_offered_to_the_next_sheet(tmp_path: Path, gel: Formula) -> None:
    first = Drafts(tmp_path, gel, "one")
    first.keep(gel.move("Glycerin", "6 %"), "Glycerin to 6.00 %", NOW)
    assert first.offered() == []
    (draft,) = Drafts(tmp_path, gel, "two").offered()
    assert draft.offer == "01 Mar 09:30 · Glycerin to 6.00 %"
    assert draft.formula == gel.move("Glycerin", "6 %")


def test_a_recorded_sheet_offers_nothing(tmp_path: Path, gel: Formula) -> None:
    first = Drafts(tmp_path, gel, "one")
    first.keep(gel.move("Glycerin", "6 %"), "Glycerin to 6.00 %", NOW)
    first.clear()
    assert Drafts(tmp_path, gel, "two").offered() == []


def test_another_formula_is_not_offered_the_draft(tmp_path: Path, gel: Formula) -> None:
    Drafts(tmp_path, gel, "one").keep(gel.move("Glycerin", "6 %"), "step", NOW)
    assert Drafts(tmp_path, gel.renamed("Other gel"), "two").offered() == []


def test_only_the_last_twenty_states_are_kept(tmp_path: Path, gel: Formula) -> None:
    drafts = Drafts(tmp_path, gel, "one")
    for step in range(MOST_STATES + 5):
        drafts.keep(gel.move("Glycerin", f"{step} %"), f"step {step}", NOW)
    kept = drafts.states(drafts.path.stem)
    assert [kept[0].words, kept[-1].words, len(kept)] == ["step 5", "step 24", 20]


def test_the_folder_keeps_a_bounded_number_of_files(tmp_path: Path, gel: Formula) -> None:
    for number in range(MOST_FILES + 5):
        Drafts(tmp_path, gel, str(number)).keep(gel, "step", NOW + timedelta(minutes=number))
    assert len(list(tmp_path.glob("*.json"))) == MOST_FILES


@pytest.mark.parametrize("damage", ["", "{", "{}", "[1]", '[{"at":"x","words":"","formula":{}}]'])
def test_a_damaged_draft_is_not_offered(tmp_path: Path, gel: Formula, damage: str) -> None:
    drafts = Drafts(tmp_path, gel, "one")
    drafts.path.write_text(damage)
    assert Drafts(tmp_path, gel, "two").offered() == []


def test_a_disk_that_refuses_is_said_and_stops_nothing(tmp_path: Path, gel: Formula) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("")
    drafts = Drafts(blocked / "drafts", gel, "one")
    drafts.keep(gel, "step", NOW)
    assert "Drafts are not kept" in drafts.problem
    assert drafts.offered() == []


def test_discarding_reaches_only_into_the_draft_folder(tmp_path: Path, gel: Formula) -> None:
    outside = tmp_path / "outside.json"
    outside.write_text("[]")
    Drafts(tmp_path / "in", gel, "one").discard("../outside")
    assert outside.exists()


def test_drafts_lie_beside_the_bench(tmp_path: Path) -> None:
    assert draft_folder(tmp_path / "my.db") == tmp_path / ".labkit-drafts"
    assert draft_folder().name == "drafts"
