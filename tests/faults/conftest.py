"""A tally of what the fault tests tried, printed after the run."""

from collections import Counter

import pytest

TALLY: dict[str, Counter] = {}


@pytest.fixture
def tally(request):
    """Count under the test's name: ``tally["points"] += 1``."""
    return TALLY.setdefault(request.node.originalname, Counter())


def pytest_terminal_summary(terminalreporter):
    if TALLY:
        terminalreporter.section("faults tried")
        for name, counts in TALLY.items():
            figures = ", ".join(f"{what} {count}" for what, count in counts.items())
            terminalreporter.write_line(f"{name.removeprefix('test_')}: {figures}")
