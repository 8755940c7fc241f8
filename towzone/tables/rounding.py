"""Numbers as results print them: no digits that pretend, no minus zero, nothing that JSON has no word for."""

from __future__ import annotations

import math

from towzone.units import METRE_DIGITS

__all__ = ["DEGREE_DIGITS", "known", "rounded"]

DEGREE_DIGITS = 7
"""1e-7 degrees are 1.1 cm of latitude."""


def rounded(value: float | None, digits: int = METRE_DIGITS) -> float | None:
    """Return a value rounded for output, never as minus zero.

    Examples
    --------
    >>> rounded(-0.001), rounded(None)
    (0.0, None)
    """
    return None if value is None else round(value, digits) + 0.0


def known(value: float | None, digits: int = METRE_DIGITS) -> float | None:
    """Return a value rounded for output, ``None`` where it is not finite.

    Examples
    --------
    >>> known(12.3456), known(float("nan"))
    (12.35, None)
    """
    return None if value is None or not math.isfinite(value) else rounded(value, digits)
