"""A status as people see it: a shape beside its word, so that nothing rests on colour."""

from __future__ import annotations

from towzone.model.result import Status
from towzone.record.text import escape

__all__ = ["SHAPE", "status_mark"]

_FULL = "M2 2H12V12H2Z"
_CROSS = "M3.5 1L7 4.5L10.5 1L13 3.5L9.5 7L13 10.5L10.5 13L7 9.5L3.5 13L1 10.5L4.5 7L1 3.5Z"

SHAPE: dict[str, str] = {
    "finding": _FULL,
    Status.INSIDE: _FULL,
    Status.TOO_CLOSE: "M7 1.5L13 12.5H1Z",
    Status.UNDETERMINED: "M7 .8L13.2 7L7 13.2L.8 7ZM7 4.2L4.2 7L7 9.8L9.8 7Z",
    Status.TRANSIT: "M1 5.5H7V2L13 7L7 12V8.5H1Z",
    Status.NOT_IN_FORCE: "M1.5 5.5H12.5V8.5H1.5Z",
    "fault": _CROSS,
    "not_checked": _CROSS,
    Status.CLEAR: "M13 7A6 6 0 1 1 1 7A6 6 0 1 1 13 7ZM11 7A4 4 0 1 0 3 7A4 4 0 1 0 11 7Z",
}
"""A shape for each status of a row and standing of a vessel, 14 by 14; own drawings."""


def status_mark(status: str, word: str) -> str:
    """Return a status as HTML.

    Parameters
    ----------
    status : str
        A key of `SHAPE`.
    word : str
        Our own word for it.
    """
    shape = f'<svg class="shape" viewBox="0 0 14 14" aria-hidden="true"><path d="{SHAPE[status]}"/></svg>'
    return f'<span class="status s-{status}">{shape}{escape(word)}</span>'
