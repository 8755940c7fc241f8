"""A line of a notice as tokens: numbers, marks, dashes, letters and words, each with its place.

One pass of one expression without nested repetition, so that hostile text costs no more than its length.
"""

from __future__ import annotations

import re
from enum import StrEnum
from typing import NamedTuple

__all__ = ["Kind", "Token", "glued", "tokenize"]


class Kind(StrEnum):
    """What a token is; the names are groups of the expression below."""

    LABEL = "label"
    RECTANGLE = "rectangle"
    TOO_LONG = "too_long"
    NUMBER = "number"
    DEGREE = "degree"
    SECOND = "second"
    MINUTE = "minute"
    DASH = "dash"
    PLUS = "plus"
    COLON = "colon"
    COMMA = "comma"
    SEMICOLON = "semicolon"
    SLASH = "slash"
    DOT = "dot"
    OPEN = "open"
    CLOSE = "close"
    EQUALS = "equals"
    WORD = "word"
    OTHER = "other"


class Token(NamedTuple):
    """One token; ``start`` and ``end`` are columns of its line, from 0."""

    kind: Kind
    text: str
    start: int
    end: int


_EXPRESSION = re.compile(
    r"""
      (?P<label>[0-9]{1,12}(?:_[0-9]{1,12})+)
    | (?P<rectangle>(?<![\w.,])[0-9]{2}[A-HJ-M][0-9](?![\w°º'′’]|[.,][0-9]))
    | (?P<too_long>[0-9]{13,}(?:[.,][0-9]+)?|[0-9]{1,12}[.,][0-9]{16,})
    | (?P<number>[0-9]{1,12}(?:[.,·][0-9]{1,15})?)
    | (?P<degree>Â?[°º˚∘⁰]|deg(?:rees?|s)?(?![^\W\d_])|(?<=[0-9])o(?=\ ?[0-9]))
    | (?P<second>["”“″ʺ˝„]|''|’’|‘‘|′′|´´|sec(?:onds?|s)?(?![^\W\d_]))
    | (?P<minute>['’‘′´`ʹʼ‵]|min(?:utes?|s)?(?![^\W\d_]))
    | (?P<dash>[-\u2212\u2013\u2014\u2010\u2011\u2012])
    | (?P<plus>\+)
    | (?P<colon>:)
    | (?P<comma>,)
    | (?P<semicolon>;)
    | (?P<slash>[/\\])
    | (?P<dot>[.·])
    | (?P<open>[(\[{])
    | (?P<close>[)\]}])
    | (?P<equals>=)
    | (?P<word>[^\W\d_]+)
    | (?P<other>[^\s|])
    """,
    re.VERBOSE,
)


def tokenize(line: str) -> list[Token]:
    """Return the tokens of one line; spaces and the bars of a table are told by the columns alone.

    Examples
    --------
    >>> [token.text for token in tokenize("43°46,5′ N, 07°54,4′ W")]
    ['43', '°', '46,5', '′', 'N', ',', '07', '°', '54,4', '′', 'W']
    """
    return [
        Token(Kind(match.lastgroup or ""), match.group(), match.start(), match.end())
        for match in _EXPRESSION.finditer(line)
    ]


def glued(tokens: list[Token], index: int) -> bool:
    """Return whether a token follows the one before it without a space."""
    return 0 < index < len(tokens) and tokens[index - 1].end == tokens[index].start
