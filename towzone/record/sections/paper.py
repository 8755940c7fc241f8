"""The margins of a printed page: its number, and that it is not for navigation."""

from __future__ import annotations

import string

from towzone.record.catalogue import pattern

__all__ = ["paper_style"]

_COUNTERS = {"page": "counter(page)", "pages": "counter(pages)"}

_RULE = """@page {{
  size: A4; margin: 11mm 11mm 14mm;
  @bottom-left {{ content: {caution}; font: 600 8pt/1 sans-serif; color: #000; }}
  @bottom-right {{ content: {number}; font: 8pt/1 sans-serif; color: #000; }}
}}"""
"""Narrower margins than 10 mm are cut off by some printers. Common practice, no source."""


def paper_style() -> str:
    """Return the style sheet of the page margins, with their words from the catalogue.

    Margin boxes: CSS Paged Media Module Level 3, W3C, section 4; a browser without them leaves them out.
    """
    return _RULE.format(
        caution=_content(pattern("evidence.paper.caution")), number=_content(pattern("evidence.paper.page"))
    )


def _content(words: str) -> str:
    """Return words as the value of ``content``, its placeholders as counters.

    Examples
    --------
    >>> _content("{page} of {pages}")
    'counter(page) " of " counter(pages)'
    """
    pieces = []
    for text, name, _, _ in string.Formatter().parse(words):
        pieces += [_quoted(text)] if text else []
        pieces += [_COUNTERS[name]] if name is not None else []
    return " ".join(pieces)


def _quoted(text: str) -> str:
    r"""Return text as a string of CSS (CSS Syntax Module Level 3, section 4.3.5).

    Examples
    --------
    >>> _quoted('a "b" <c>')
    '"a \\22 b\\22  \\3c c>"'
    """
    return '"' + "".join(f"\\{ord(c):x} " if c in '"\\<\n' else c for c in text) + '"'
