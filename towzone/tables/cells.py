"""Text from files made harmless for a screen and for a spreadsheet."""

from __future__ import annotations

__all__ = ["plain", "safe_cell"]

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def plain(text: str) -> str:
    """Return text with line ends and control, bidirectional and other unprintable characters made visible.

    Names from files could otherwise forge a line of the result, or hide one.
    """
    return "".join(c if c.isprintable() else f"<U+{ord(c):04X}>" for c in text)


def safe_cell(value: object) -> object:
    """Return a value with an apostrophe before text that a spreadsheet would run as a formula."""
    return f"'{value}" if isinstance(value, str) and value.startswith(_FORMULA_STARTS) else value
