"""Coordinates torn by a slip of the press or of a scanner: ``54-3l.5N`` must not be read as 5 north."""

from __future__ import annotations

import re

__all__ = ["torn"]

_LETTER_FOR_DIGIT = re.compile(r"[0-9][OolI][.,]?$")
_LABEL = re.compile(r"\W*[^\W\d]*[.\s]?[0-9]{0,4}[^\W\d]?\W{0,2}[)\]}:=>]\W*")
_SHORT_WORDS = frozenset(("at", "to", "of", "by", "in", "on"))
_AFTER = re.compile(r"[.,·]?(?P<letters>[^\W\d_]{1,2})(?![^\W\d_])|[.,·]?[OolI](?=[0-9.,'’′\"”″])")


def torn(line: str, begin: int, first: int, last: int) -> str:
    """Return what an angle is glued to, where that may be a part of it, or nothing.

    Parameters
    ----------
    line : str
    begin : int
        Column where the angle before it ends, or 0.
    first, last : int
        Columns of the angle.
    """
    if _LETTER_FOR_DIGIT.search(line[max(0, first - 3) : first]):
        return _chunk(line[max(0, first - 40) : first])
    chunk = _chunk(line[max(begin, first - 40) : first])
    letters = re.search(r"[^\W\d_]*$", chunk)
    tail = letters.group() if letters else ""
    if tail:
        slip = len(tail) <= 2 and tail.lower() not in _SHORT_WORDS
    else:
        slip = any(c.isdigit() for c in chunk) and _LABEL.fullmatch(chunk) is None
    if slip:
        return chunk
    if line[last - 1].isalpha():
        return ""
    after = _AFTER.match(line, last)
    if after is None or (after["letters"] or "").lower() in _SHORT_WORDS:
        return ""
    return after.group()


def _chunk(before: str) -> str:
    match = re.search(r"[^\s|]*$", before)
    return match.group() if match else ""
