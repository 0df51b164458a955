"""The published histories hold, come out again, and are what their script makes."""

from __future__ import annotations

from pathlib import Path

import pytest

import labkit as lk
from labkit.tables import shipped
from tests.share.altering import entries
from tests.share.make_shared import CREAM, GEL, make


def records(path: Path) -> set[str]:
    return {name for name in entries(path) if name.startswith("records/")}


def test_the_script_makes_the_same_records(tmp_path: Path) -> None:
    for fresh in make(tmp_path):
        kept = shipped("shared") / fresh.name
        assert records(fresh) == records(kept), "run: python -m tests.share.make_shared"
        assert lk.share.verify(fresh).digest == lk.share.verify(kept).digest


@pytest.mark.parametrize("name", [CREAM, GEL])
def test_they_hold_and_come_out_again(name: str) -> None:
    path = shipped("shared") / name
    found = lk.share.verify(path)
    assert found.ok, str(found)
    again = lk.share.recalculate(path)
    assert again.ok, str(again)
    assert again.count("reproduced") > 50


def test_they_show_what_a_history_can_hold() -> None:
    with lk.share.open(shipped("shared") / CREAM) as cream:
        assert len(cream.trials()) == 11
        assert len(cream.readings("viscosity")) + 1 == len(
            cream.readings("viscosity", withdrawn=True)
        )
        assert cream.readings()["amended"].any()
        assert cream.rebuild("HC-07").formula.total == 100
        assert not cream.rebuild("HC-07").priced
    with lk.share.open(shipped("shared") / GEL) as gel:
        assert {"L-1", "GS-05@studio"} <= set(gel.trials()["label"])
        assert [t.label for t in gel.lineage("L-1")][-1] == "GS-05@studio"


def test_they_are_found_by_name() -> None:
    assert lk.share.published("dune-gel-serum").is_file()
    with pytest.raises(lk.LabkitError, match="dune-gel-serum, harbour-hand-cream"):
        lk.share.published("../x")
