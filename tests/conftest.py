"""Where everything is required, a test that was skipped has failed.

Properties run without a time limit for one example (a loaded machine is no fault of the code),
and with the same examples in every CI run, so that a red run can be looked into.
"""

from __future__ import annotations

import os
from collections.abc import Generator

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "labkit",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=bool(os.environ.get("CI")),
)
settings.load_profile("labkit")


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
