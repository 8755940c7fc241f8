"""Text copied from a web page: character entities and tags turned into what a reader would have seen."""

from __future__ import annotations

import html
import re

__all__ = ["without_markup"]

_ENTITY = re.compile(r"&(?:#[0-9]{1,7}|#[xX][0-9a-fA-F]{1,6}|[A-Za-z]{2,8});?")
_RAISED_MARK = re.compile(r"<sup\b[^<>]{0,100}>\s{0,3}(?:[oO0°º˚])\s{0,3}</sup\s{0,3}>", re.IGNORECASE)
_TAG = re.compile(
    r"</?(?:table|thead|tbody|tfoot|tr|td|th|p|br|span|div|b|i|u|em|strong|small|li|ul|ol|sup|sub|a|font|h[1-6])"
    r"(?:\s[^<>]{0,300})?/?>",
    re.IGNORECASE,
)


def without_markup(text: str) -> str:
    """Return a text without tags and entities, on the same lines.

    Tags become bars, as between the columns of a table; a raised o or 0 becomes a degree mark.

    Examples
    --------
    >>> without_markup("54&deg;30&#39;N")
    "54°30'N"
    """
    if "<" in text:
        text = _RAISED_MARK.sub("°", text)
        # An end of line inside a tag is kept, so that line numbers stay those of the file.
        text = _TAG.sub(lambda tag: " | " + "\n" * tag.group().count("\n"), text)
    if "&" in text:
        text = _ENTITY.sub(lambda entity: _character(entity.group()), text)
    return text


def _character(entity: str) -> str:
    character = html.unescape(entity)
    return entity if "\n" in character or "\r" in character else character
