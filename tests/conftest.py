"""What was measured on the way is printed at the end, also when several processes run the tests."""

from __future__ import annotations

import logging
import os
from collections.abc import Callable

import pytest

pytest.register_assert_rewrite("tests.recorded")  # a changed answer is shown beside the old one


@pytest.fixture
def measured(record_property: Callable[[str, object], None]) -> Callable[[str], None]:
    """Return a function that has a text printed at the end."""

    def say(text: str) -> None:
        record_property("measured", text)

    return say


@pytest.fixture(autouse=True)
def log_is_heard() -> None:
    """Libraries of notebooks may silence, in one test, what a later one listens to."""
    logging.disable(logging.NOTSET)
    for name, logger in logging.root.manager.loggerDict.items():
        if name.startswith("stoichkit") and isinstance(logger, logging.Logger):
            logger.disabled, logger.propagate = False, True


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    reports = terminalreporter.getreports("passed") + terminalreporter.getreports("failed")
    lines = [
        str(text)
        for report in reports
        if report.when == "call"
        for name, text in report.user_properties
        if name == "measured"
    ]
    if lines:
        terminalreporter.section("measured", sep="-")
        terminalreporter.write_line("\n".join(lines))


def pytest_xdist_auto_num_workers() -> int:
    """One process more than there are processors: tests of pages mostly wait for a browser."""
    return (os.cpu_count() or 1) + 1
