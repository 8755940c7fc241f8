"""The caution that goes with every result."""

from __future__ import annotations

__all__ = ["CAUTION"]

CAUTION = (
    "A planning and record aid, not for navigation. Official charts, notices, cable owners and the authority "
    "decide. A clear result is never permission to tow over a cable."
)
