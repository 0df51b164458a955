"""One JupyterLab and one browser for all browser tests."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.lab import CHROMIUM_ARGS, NO_DELAY, Lab, chromium


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Debian's Chromium; a missing one fails where everything is required."""
    program = chromium()
    if program is None:
        if os.environ.get("LABKIT_REQUIRE_ALL"):
            pytest.fail("no Chromium on this machine, and LABKIT_REQUIRE_ALL is set")
        pytest.skip("no Chromium on this machine")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=program, args=CHROMIUM_ARGS)
        try:
            yield running
        finally:
            running.close()


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """JupyterLab over an empty folder, as ``labkit lab`` starts it."""
    root: Path = tmp_path_factory.mktemp("books")
    with Lab(root, NO_DELAY) as running:
        yield running
