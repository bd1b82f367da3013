"""A tally of what the fault tests tried, printed after the run."""

import pytest

from tests.faults.counts import TALLY, Tally


@pytest.fixture
def tally(request):
    """Count under the test's name: ``tally["points"] += 1``."""
    return TALLY.setdefault(request.node.originalname, Tally())


def pytest_terminal_summary(terminalreporter):
    if TALLY:
        terminalreporter.section("faults tried")
        for name, counts in TALLY.items():
            figures = ", ".join(f"{what} {count}" for what, count in counts.items())
            terminalreporter.write_line(f"{name.removeprefix('test_')}: {figures}")
