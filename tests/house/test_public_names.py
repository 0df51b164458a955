"""The public names are a decision: adding one is seen here."""

from __future__ import annotations

import subprocess
import sys

import pytest

import labkit as lk

NAMES = [
    "Bench",
    "Brief",
    "Estimate",
    "Finding",
    "Formula",
    "LabkitError",
    "Line",
    "Material",
    "Materials",
    "Move",
    "Phase",
    "Quantity",
    "__version__",
    "asking_why",
    "charts",
    "check",
    "demo_bench",
    "estimates",
    "forecast",
    "learning",
    "measuring",
    "paperwork",
    "plan",
    "proposing",
    "read_recipe",
    "science",
    "share",
    "teach",
    "tune",
    "watch",
    "weigh",
]


def test_the_front_door_has_these_names() -> None:
    assert sorted(lk.__all__) == NAMES
    assert dir(lk) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_every_public_name_is_there_and_documented(name: str) -> None:
    thing = getattr(lk, name)
    assert name == "__version__" or (thing.__doc__ or "").strip()


def test_a_name_that_is_not_there_says_what_is() -> None:
    with pytest.raises(AttributeError, match="labkit has no 'mix'; it has Bench, Brief"):
        lk.mix  # noqa: B018


def test_the_door_alone_can_read_recipes() -> None:
    code = "import labkit as lk; print(lk.Formula.reader is not None)"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "True"
