"""Where everything is required, a test that was skipped has failed.

Properties run without a time limit for one example (a loaded machine is no fault of the code),
and with the same examples in every CI run, so that a red run can be looked into.
"""

from __future__ import annotations

import os
from collections.abc import Generator, Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, settings

from tests.browser.lab import CHROMIUM_ARGS, chromium

settings.register_profile(
    "labkit",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=bool(os.environ.get("CI")),
)
settings.load_profile("labkit")


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


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, None]:
    """Turn a skip into a failure under ``LABKIT_REQUIRE_ALL``."""
    outcome = yield
    report = outcome.get_result()
    if report.skipped and os.environ.get("LABKIT_REQUIRE_ALL") and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = (
            f"{item.nodeid} was skipped, and LABKIT_REQUIRE_ALL is set: {report.longrepr}"
        )
