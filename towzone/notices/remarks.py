"""Remarks gathered line by line and told once, with all the lines they hold for."""

from __future__ import annotations

__all__ = ["Remarks", "lines_text"]

_SHOWN_LINES = 12


class Remarks:
    """Remarks in the order they first came up."""

    def __init__(self) -> None:
        self._lines: dict[str, list[int]] = {}

    def add(self, line: int, message: str) -> None:
        """Add a remark on a line; 0 is the text as a whole."""
        lines = self._lines.setdefault(message, [])
        if line and (not lines or lines[-1] != line):
            lines.append(line)

    def told(self) -> tuple[tuple[str, str], ...]:
        """Return each remark with the place it holds for."""
        return tuple((lines_text(lines), message) for message, lines in self._lines.items())


def lines_text(lines: list[int]) -> str:
    """Return line numbers for people.

    Examples
    --------
    >>> lines_text([3]), lines_text([3, 4])
    ('line 3', 'lines 3, 4')
    """
    if not lines:
        return ""
    shown = ", ".join(str(line) for line in lines[:_SHOWN_LINES])
    more = f" and {len(lines) - _SHOWN_LINES} more" if len(lines) > _SHOWN_LINES else ""
    return f"line{'s' if len(lines) > 1 else ''} {shown}{more}"
