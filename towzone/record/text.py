"""Untrusted text made fit to be shown: nothing hidden, nothing reordered, nothing taken as markup."""

from __future__ import annotations

import html
import unicodedata

__all__ = ["SENTENCE", "clean", "escape", "short", "shown"]

LONGEST = 300
"""Characters of one name or note that the page shows; the embedded result keeps all. Own choice."""

SENTENCE = 1000
"""The same for an explanation. Own choice."""

_MARKED_CATEGORIES = frozenset({"Cc", "Cs", "Zl", "Zp"})
_MARKED = frozenset(
    (
        *(0x00AD, 0x061C, 0x180E, 0x200B, 0x200E, 0x200F, 0x2060, 0xFEFF),
        *range(0x202A, 0x202F),
        *range(0x2066, 0x206A),
        *range(0xFFF9, 0xFFFC),
        *range(0xE0000, 0xE0080),
    )
)
"""Characters that are invisible or turn the reading direction (Unicode Standard Annex 9, section 2)."""


def clean(text: str) -> str:
    r"""Return text with control, direction and invisible characters replaced by a visible mark.

    Examples
    --------
    >>> clean("Box\u202eA")
    'Box‹U+202E›A'
    >>> clean("two\nlines")
    'two‹U+000A›lines'
    """
    if text.isascii() and text.isprintable():
        return text  # most are, and pages hold thousands
    return "".join(f"‹U+{ord(c):04X}›" if _is_marked(c) else c for c in text)


def _is_marked(character: str) -> bool:
    return ord(character) in _MARKED or unicodedata.category(character) in _MARKED_CATEGORIES


def short(text: str, limit: int = LONGEST) -> str:
    """Return cleaned text, cut to ``limit`` characters of the original with the cut stated.

    Examples
    --------
    >>> short("abcdef", limit=3)
    'abc… (6 characters)'
    """
    if len(text) <= limit:
        return clean(text)
    return f"{clean(text[:limit])}… ({len(text)} characters)"


def escape(text: str) -> str:
    """Return our own or cleaned text as HTML text or attribute value."""
    return html.escape(text, quote=True)


def shown(text: str, limit: int = LONGEST) -> str:
    """Return untrusted text as HTML: cleaned, cut, escaped and isolated in reading direction.

    Examples
    --------
    >>> shown("<b>")
    '<bdi>&lt;b&gt;</bdi>'
    """
    return f"<bdi>{escape(short(text, limit))}</bdi>"
