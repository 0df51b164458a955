"""The notebooks are documents: half text, public names only, outputs that can be compared."""

from __future__ import annotations

import re
from pathlib import Path

import nbformat
import pytest

FOLDER = Path(__file__).parents[2] / "notebooks"
NOTEBOOKS = sorted(p for p in FOLDER.rglob("*.ipynb") if ".ipynb_checkpoints" not in p.parts)
INSIDE = re.compile(r"(?:from|import)\s+labkit\.")
PLACE = re.compile(r"/(?:work|root|home|tmp)/\w")


def cells(path: Path, kind: str) -> list[nbformat.NotebookNode]:
    book = nbformat.read(path, as_version=4)
    nbformat.validate(book)
    return [c for c in book.cells if c.cell_type == kind]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
class TestNotebook:
    def test_it_asks_a_question_first_and_answers_at_the_end(self, path: Path) -> None:
        text = cells(path, "markdown")
        assert text[0].source.startswith("# ")
        assert "**" in text[0].source
        assert "**" in text[-1].source

    def test_a_third_or_more_of_the_cells_is_text(self, path: Path) -> None:
        text, code = len(cells(path, "markdown")), len(cells(path, "code"))
        assert text / (text + code) >= 0.33
        assert code <= 30

    def test_only_public_names_are_used(self, path: Path) -> None:
        for cell in cells(path, "code"):
            assert not INSIDE.search(cell.source), cell.source

    def test_no_output_names_a_place_of_a_machine_or_an_error(self, path: Path) -> None:
        for cell in cells(path, "code"):
            for output in cell.outputs:
                assert output.output_type != "error"
                assert not PLACE.search(str(output.get("text", ""))), cell.source

    def test_at_least_one_number_is_compared(self, path: Path) -> None:
        checked = [c for c in cells(path, "code") if "NBVAL_CHECK_OUTPUT" in c.source]
        print(f"{path.stem}: {len(checked)} of {len(cells(path, 'code'))} code cells compared")
        assert checked
        assert all(c.outputs for c in checked)

    def test_no_widget_state_is_stored(self, path: Path) -> None:
        assert "widgets" not in nbformat.read(path, as_version=4).metadata
