"""``--update-golden`` rewrites the kept results; the difference is for a person to read."""

from __future__ import annotations

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--update-golden",
        action="store_true",
        help="rewrite the kept results in tests/golden instead of comparing with them",
    )


@pytest.fixture
def update(request: pytest.FixtureRequest) -> bool:
    """Whether kept results are to be rewritten; false when the option is not known (run from elsewhere)."""
    return bool(request.config.getoption("--update-golden", default=False))
