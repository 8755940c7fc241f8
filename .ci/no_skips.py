"""A pytest plugin that fails the run when a test was skipped, deselected or expected to fail.

With pytest-xdist the workers tell what they left out, and the run that started them counts it.
"""

from __future__ import annotations

from typing import Any

import pytest

_left_out: set[str] = set()


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Note a skipped test; an expected failure is reported as one."""
    if report.skipped:
        _left_out.add(report.nodeid)


def pytest_collectreport(report: pytest.CollectReport) -> None:
    """Note a file that skipped itself whole."""
    if report.skipped:
        _left_out.add(report.nodeid)


def pytest_deselected(items: list[pytest.Item]) -> None:
    """Note tests left out by an option or a marker."""
    _left_out.update(item.nodeid for item in items)


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    """Take over what a worker left out."""
    _left_out.update(getattr(node, "workeroutput", {}).get("left_out", ()))


@pytest.hookimpl(tryfirst=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """Turn an otherwise good run into a failed one."""
    output = getattr(session.config, "workeroutput", None)
    if output is not None:
        output["left_out"] = sorted(_left_out)
    elif _left_out and session.exitstatus == pytest.ExitCode.OK:
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Name every test that was left out."""
    if _left_out:
        terminalreporter.section("left out, which fails this run", red=True)
        for nodeid in sorted(_left_out):
            terminalreporter.line(nodeid)
