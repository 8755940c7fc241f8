"""A pytest plugin that fails the run when a test was skipped, deselected or expected to fail."""

from __future__ import annotations

import pytest

_left_out: list[str] = []


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Note a skipped test; an expected failure is reported as one."""
    if report.skipped:
        _left_out.append(report.nodeid)


def pytest_collectreport(report: pytest.CollectReport) -> None:
    """Note a file that skipped itself whole."""
    if report.skipped:
        _left_out.append(report.nodeid)


def pytest_deselected(items: list[pytest.Item]) -> None:
    """Note tests left out by an option or a marker."""
    _left_out.extend(item.nodeid for item in items)


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Turn an otherwise good run into a failed one."""
    if _left_out and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Name every test that was left out."""
    if _left_out:
        terminalreporter.section("left out, which fails this run", red=True)
        for nodeid in _left_out:
            terminalreporter.line(nodeid)
