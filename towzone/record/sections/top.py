"""The head of a page: its title, the choice of its light, and the shape that stands for the answer."""

from __future__ import annotations

from towzone.record.catalogue import say
from towzone.record.text import escape

__all__ = ["MODES", "page_top", "verdict_shape"]

MODES = ("auto", "day", "dusk", "night")

_SHAPES = {
    "finding": '<path class="full" d="M24 3L45 41H3Z"/>',
    "undetermined": '<circle class="broken" cx="24" cy="24" r="19"/>',
    "unchecked": '<circle class="broken" cx="24" cy="24" r="19"/>',
    "clear": '<rect class="hollow" x="6" y="6" width="36" height="36"/>',
}
"""A full triangle, a broken ring, a hollow square: told apart without any colour."""


def page_top(title: str, of: str) -> str:
    """Return the head as HTML; ``title`` is our own text, ``of``, what the page tells of, is HTML."""
    modes = "".join(f'<option value="{m}">{escape(say(f"page.display.{m}"))}</option>' for m in MODES)
    return (
        f'<header class="top"><div><h1>{escape(title)}</h1>'
        f'<p class="of">{of}</p></div>\n'
        f'<p class="mode needs-script"><label for="mode">{escape(say("page.display.label"))}</label> '
        f'<select id="mode">{modes}</select></p></header>'
    )


def verdict_shape(seen: str) -> str:
    """Return the shape for how an answer looks, as HTML."""
    mark = {"finding": "!", "clear": "0"}.get(seen) or say("page.answer.mark_unknown")
    return (
        '<svg class="verdict-mark" viewBox="0 0 48 48" width="48" height="48" aria-hidden="true">'
        f'{_SHAPES[seen]}<text x="24" y="{37 if seen == "finding" else 32}">{escape(mark)}</text></svg>'
    )
