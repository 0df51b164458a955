"""One JupyterLab for all browser tests."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.lab import NO_DELAY, Lab


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """JupyterLab over an empty folder, as ``labkit lab`` starts it."""
    root: Path = tmp_path_factory.mktemp("books")
    with Lab(root, NO_DELAY) as running:
        yield running
