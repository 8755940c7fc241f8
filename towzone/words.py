"""Counted nouns for messages."""

from __future__ import annotations

__all__ = ["counted"]


def counted(count: int, one: str, many: str = "") -> str:
    """Return a count with its noun in the right number.

    Examples
    --------
    >>> counted(1, "fix", "fixes"), counted(3, "time")
    ('1 fix', '3 times')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"
