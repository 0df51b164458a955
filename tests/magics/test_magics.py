"""The cell magics, in a real IPython shell."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from labkit.bench import Bench
from labkit.errors import FormulaError, RecordError
from labkit.formula import Formula
from labkit.magics import matching_names, register


@pytest.fixture
def shell() -> Iterator[Any]:
    from IPython.core.interactiveshell import InteractiveShell

    InteractiveShell.clear_instance()
    made = InteractiveShell.instance()
    register(made)
    yield made
    InteractiveShell.clear_instance()


TABLE = "phase,material,percent\nA,Aqua,q.s.\nA,Glycerin,4\n"


def test_a_cell_that_is_a_table_becomes_a_formula(shell: Any) -> None:
    made = shell.run_cell_magic("formula", "cream Hand cream", TABLE)
    assert isinstance(shell.user_ns["cream"], Formula)
    assert (made.name, made.total) == ("Hand cream", 100)


def test_a_pasted_list_without_a_heading_is_read_too(shell: Any) -> None:
    made = shell.run_cell_magic("formula", "gel", "Aqua 96\nGlycerin 4,0\n")
    assert [x.material for x in made.lines] == ["Aqua", "Glycerin"]
    assert made.name == "Gel"


def test_a_trial_is_recorded_with_the_cell_as_its_note(shell: Any, tmp_path: Path) -> None:
    shell.run_cell_magic("formula", "cream", TABLE)
    shell.run_line_magic("bench", str(tmp_path))
    first = shell.run_cell_magic("trial", "cream as HC-1", "first draft\n")
    second = shell.run_cell_magic("trial", "cream", "again")
    assert (first.label, first.note) == ("HC-1", "first draft")
    assert second.parents == (first.id,)
    third = shell.run_cell_magic("trial", "cream from HC-1 as HC-3", "a branch")
    assert third.parents == (first.id,)
    shell.user_ns["bench"].close()
    with Bench.open(tmp_path) as bench:
        assert len(bench.trials()) == 3


@pytest.mark.parametrize("line", ["", "2cream", "my-cream"])
def test_a_formula_without_a_usable_name_is_refused(shell: Any, line: str) -> None:
    with pytest.raises(FormulaError, match="Write, for example, %%formula cream"):
        shell.find_cell_magic("formula")(line, TABLE)


def test_a_trial_of_nothing_is_refused(shell: Any) -> None:
    with pytest.raises(RecordError, match="Name a variable that holds a formula"):
        shell.find_cell_magic("trial")("nothing", "note")
    shell.run_cell_magic("formula", "cream", TABLE)
    with pytest.raises(RecordError, match="no bench is open.*%bench my-bench"):
        shell.find_cell_magic("trial")("cream", "note")


def test_material_names_are_completed_inside_a_formula_cell(shell: Any) -> None:
    assert "Cetearyl Alcohol" in matching_names("cetearyl")
    assert matching_names("c") == []
    matcher = shell.Completer.custom_matchers[-1]

    class Context:
        full_text = "%%formula x\nphase,material,percent\nA,cetea"
        line_with_cursor = "A,cetea"
        cursor_position = 7

    found = matcher(Context())
    assert found["matched_fragment"] == "cetea"
    assert "Cetearyl Alcohol" in [c.text for c in found["completions"]]
    Context.full_text = "x = cetea"
    assert matcher(Context())["completions"] == []
