"""What all tests share: in CI a test that skips for want of an outside tool fails instead."""

import os
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

# The checks run beside others on small machines: deadlines would measure the machine, not the code.
settings.register_profile(
    "limner", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("limner")

TOOLS = ("chromium", "ghostscript", "qpdf", "pdfinfo", "poppler", "pdftoppm", "mutool")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[None]:
    """Turn a skip for a missing tool into a failure where all tools are promised to be there."""
    report = yield
    if report.skipped and os.environ.get("LIMNER_REQUIRE_TOOLS"):
        reason = str(report.longrepr).lower()
        if any(tool in reason for tool in TOOLS):
            report.outcome = "failed"
            report.longrepr = f"{item.nodeid} needs a tool that is missing: {reason}"
    return report
