"""The door of the science room: every module is there, none is loaded before it is asked for."""

from __future__ import annotations

import subprocess
import sys

import pytest

from labkit import science


@pytest.mark.parametrize("name", science.__all__)
def test_every_module_opens_by_its_name(name: str) -> None:
    assert getattr(science, name).__name__ == f"labkit.science.{name}"
    assert name in dir(science)


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'alchemy'"):
        science.alchemy  # noqa: B018


def test_opening_every_module_loads_neither_scipy_nor_pandas() -> None:
    code = (
        "import sys, labkit.science as s; [getattr(s, n) for n in s.__all__]; "
        "print(sorted({'scipy', 'pandas', 'pint', 'plotly'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
