"""What the words between coordinates say: headings, joints, holes, line types, datums, dates, dimensions.

Nothing here becomes a rule of a zone: what is found is shown to a person, who gives it as an option.
"""

from __future__ import annotations

import re
from enum import StrEnum
from fractions import Fraction

from towzone.notices.values import fraction

__all__ = [
    "Words",
    "classify",
    "coast_words",
    "datums",
    "dimensions",
    "distance_words",
    "follows_something",
    "line_words",
    "point_label",
    "seasons",
    "title",
]


class Words(StrEnum):
    """What a stretch of text between coordinates is."""

    NOTHING = "nothing"
    JOINT = "joint"
    CLOSING = "closing"
    HOLE = "hole"
    HEADING = "heading"
    TITLE = "title"
    NOTE = "note"
    PROSE = "prose"


_JOINTS_TEXT = """
    a along and are area at back been being beginning bounded by circle closing commencement
    commencing connected connecting coordinate coordinates corner corners corrected defined degrees
    direction directly due east easterly eastern eastwards enclosed end ending following follows
    from geodesic geodesics great have in initial is it its joined joining joins lat latitude
    latitudes line lines lon long longitude longitudes measured minutes meridian moving next
    nautical north northeast northeasterly northerly northern northwest northwesterly northwards of
    on order origin parallel point points position positions proceeding rhumb return returning
    running seconds sequentially south southeast southeasterly southerly southern southwest
    southwesterly southwards start starting straight system that the then thence to true up via
    vertex vertices west westerly western westwards wgs which with system according geographical
    stated listed below above first last ne nw se sw n s e w no nr
"""
_JOINTS = frozenset(_JOINTS_TEXT.split())
_WITH_DATES = _JOINTS | {"each", "every", "year", "inclusive", "annually"}
_CLOSING = re.compile(
    r"\b(?:point|place|position) of (?:origin|beginning|commencement|departure)|\bstarting (?:point|position)"
    r"|\b(?:back|return\w*) to (?:the )?(?:start|beginning|origin|first|initial)|\bto the (?:start|beginning"
    r"|first (?:point|position))\b|\bfirst (?:point|position) (?:above|listed)",
    re.IGNORECASE,
)
_HOLE = re.compile(
    r"\bexclud(?:ed|es|ing)\b|\bnot including\b"
    r"|\bexcept(?:ing)? (?:for )?(?:the|that|an) (?:inner )?(?:area|part|zone)"
    r"|\bwith the exception of (?:the|that|an) (?:area|part|zone)|\bexclusion of\b|\bless the area\b"
    r"|\binner (?:ring|boundary)\b",
    re.IGNORECASE,
)
_NUMBERED = re.compile(
    r"^[\s|]*(?:[#§]\s*)?(?:(?:[0-9]{1,3}(?:\.[0-9]{1,3}){0,3}[.):]?)|(?:\(?(?:[a-z]|[ivx]{1,5}|[0-9]{1,3})[).]))[\s|]{1,9}"
    r"(?=[^\W\d_])",
    re.IGNORECASE,
)
_AREA_WORD = re.compile(
    r"^\W*(?:[Tt]he\s+)?(?i:area|zone|box|polygon|sector|block|closure|subarea|sub-area|region)\b\W*"
    r"(?:[Nn]o\.?\s*)?(?:[0-9]{1,3}[A-Za-z]?|[A-Z]|[IVX]{1,4})\b"
)
_FURNITURE = re.compile(
    r"official journal|^\W*(?:EN\b|L\s?[0-9]|C\s?[0-9]|page\b|[▼►◄]|M[0-9]+\b|annex\b.*\bcont)|\bcontinued\b"
    r"|^\W*[0-9]{1,2}[./][0-9]{1,2}[./][0-9]{2,4}\W*$|www\.|https?:",
    re.IGNORECASE,
)
_MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
_DAYS = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_MONTH = "|".join(f"{name[:3]}(?:{name[3:]})?\\.?" if name != "may" else "may" for name in _MONTHS)
_DATE = (
    r"(?:(?P<{side}last>last day (?:of|in) )"
    r"|(?P<{side}day>[0-9]{{1,2}})(?:st|nd|rd|th)?\s{{1,3}}(?:of\s{{1,3}})?)"
    rf"(?P<{{side}}month>{_MONTH})\b"
)
_SEASON = re.compile(
    _DATE.format(side="a")
    + r"(?:\s{1,3}[0-9]{4})?[\s,]{1,3}(?:to|until|till|and|through|[-–—])[\s,]{1,3}"
    + r"(?:and including\s{1,3})?(?:the\s{1,3})?"
    + _DATE.format(side="b"),
    re.IGNORECASE,
)
_DIMENSIONS = re.compile(
    r"([0-9]{1,4}(?:[.,][0-9]{1,3})?)\s{0,2}[x×*]\s{0,2}([0-9]{1,4}(?:[.,][0-9]{1,3})?)\s{0,2}"
    r"(nautical miles?|naut\.? miles?|nmi\b|nm\b|miles?|km\b|kilomet(?:re|er)s?)",
    re.IGNORECASE,
)
_COAST = re.compile(
    r"\b(?:coast\w*|shore\w*|land\b|beach|baselines?|high[- ]water|low[- ]water|light(?:house)?\b"
    r"|headland|cape|peninsula|island|harbour|mouth|limit|boundary)",
    re.IGNORECASE,
)
_ALONG = re.compile(
    r"\b(?:along|follow(?:s|ing)?)\b[^.;]{0,60}?\b(?:coast\w*|shore\w*|high[- ]water|low[- ]water|baselines?"
    r"|limits?|boundary|boundaries|contours?|isobaths?|depth|arc)\b",
    re.IGNORECASE,
)
_DISTANCE = re.compile(
    r"\b[0-9]{1,4}(?:[.,][0-9]{1,3})?\s{0,2}(?:nautical\s{1,2}|sea\s{1,2})?(?:miles?|nmi?|km|met(?:re|er)s?|cables?)\b",
    re.IGNORECASE,
)
_DATUM = re.compile(
    r"\b(WGS[\s-]?(?:19)?84|ED[\s-]?50|European (?:1950 )?Datum(?: (?:of )?1950)?|ETRS[\s-]?89|OSGB(?:36)?"
    r"|NAD[\s-]?27|NAD[\s-]?83|WGS[\s-]?72|Tokyo datum|Pulkovo\w*|S-42"
    r"|AGD[\s-]?66|NZGD[\s-]?49|GDA[\s-]?(?:94|2020))\b",
    re.IGNORECASE,
)
_LINES = {
    "rhumb": re.compile(r"\b(?:rhumb(?:[-\s]{1,3}lines?)?|loxodrom\w{0,6})", re.IGNORECASE),
    "geodesic": re.compile(
        r"\b(?:geodesics?|geodetic\s{1,3}lines?|great[-\s]{1,3}circles?)\b", re.IGNORECASE
    ),
    "straight": re.compile(r"\bstraight[-\s]{1,3}lines?\b", re.IGNORECASE),
}
_LABEL = re.compile(
    r"(?:(?:points?|positions?|corners?|vertex|waypoint|no|nr|pt|wp|p)\b\.?\s*)?[#(\[]?\s*"
    r"(?P<label>[0-9]{1,4}[a-z]?|[a-z]{1,2}[0-9]{0,3}|[ivx]{1,6}|[0-9]+(?:_[0-9]+)+)\s*[)\].:]{0,2}",
    re.IGNORECASE,
)
_WORD = re.compile(r"[^\W\d_]+")
_TITLE_WORDS = 10


def classify(text: str) -> Words:
    """Return what a stretch of text that holds no coordinates says about the list it stands in."""
    if not any(character.isalnum() for character in text):
        return Words.NOTHING
    if len(text) > 5000:
        return Words.PROSE
    if _HOLE.search(text):
        return Words.HOLE
    if _CLOSING.search(text):
        return Words.CLOSING
    if _AREA_WORD.match(text):
        return Words.HEADING
    if point_label(text) is not None or _only_joints(text):
        return Words.JOINT
    words = _WORD.findall(_DIMENSIONS.sub("", _SEASON.sub("", text)))
    if _FURNITURE.search(text) or all(word.lower() in _WITH_DATES for word in words):
        return Words.NOTE
    if _NUMBERED.match(text):
        return Words.HEADING
    if text.rstrip().endswith(":"):
        return Words.HEADING
    if words[-1].lower() in ("to", "at", "from", "by"):
        return Words.PROSE
    first = text.lstrip(" \t\"'“‘(*•-–—|")[:1]
    if first.isupper() and len(words) <= _TITLE_WORDS and not text.rstrip().endswith((".", ",", ";")):
        return Words.TITLE
    return Words.PROSE


def _only_joints(text: str) -> bool:
    return all(word.lower() in _JOINTS or len(word) == 1 for word in _WORD.findall(text))


def point_label(text: str) -> str | None:
    """Return the number, letter or corner (``NW``) that a text gives a point, if it is only that."""
    if len(text) > 40:
        return None
    match = _LABEL.fullmatch(text.strip(" \t|-–—•*,;\"'"))
    if match is None or match["label"].lower() in ("at", "to", "in", "by", "of", "on", "is", "as", "or"):
        return None
    return match["label"]


def title(text: str) -> str:
    """Return the name in a heading, without its number, dates and dimensions; empty when it is a sentence."""
    if len(text) > 400:
        return ""
    bare = _DIMENSIONS.sub(" ", _SEASON.sub(" ", text))
    bare = _NUMBERED.sub("", bare)
    bare = re.sub(r"\(\W*\)", " ", bare)
    bare = bare.partition(":")[0] if bare.partition(":")[0].strip() else bare
    bare = " ".join(bare.split()).strip(" :;,.-–—|*•\t'\"")
    if re.search(r"\b(?:following|coordinates|positions|points|shall)\b", bare, re.IGNORECASE):
        return ""
    return bare if 0 < len(bare) <= 80 and len(_WORD.findall(bare)) <= _TITLE_WORDS + 2 else ""


def coast_words(text: str) -> bool:
    """Return whether a text speaks of a coast, a light or a limit: a place without coordinates."""
    return bool(_COAST.search(text))


def follows_something(text: str) -> str:
    """Return the words that send a boundary along a coast, a depth or a limit, or nothing."""
    match = _ALONG.search(text)
    return match.group() if match else ""


def distance_words(text: str) -> str:
    """Return the words that give a distance, dimensions aside, or nothing."""
    match = _DISTANCE.search(_DIMENSIONS.sub(" ", text)) if len(text) < 5000 else None
    return match.group() if match else ""


def line_words(text: str) -> dict[str, str]:
    """Return the line types a text names, as printed, by ``rhumb``, ``geodesic`` and ``straight``."""
    return {kind: match.group() for kind, pattern in _LINES.items() if (match := pattern.search(text))}


def datums(text: str) -> list[str]:
    """Return the geodetic datums a text names, as printed."""
    return [match.group() for match in _DATUM.finditer(text)]


def seasons(text: str) -> list[tuple[str, str]]:
    """Return phrases like ``1 January to 30 April`` with the option that would say the same.

    Examples
    --------
    >>> seasons("from 1 December to the last day of February in the following year")
    [('1 December to the last day of February', '12-01..02-END')]
    """
    found = []
    for match in _SEASON.finditer(text):
        ends = [_month_day(match, side) for side in ("a", "b")]
        if all(ends):
            found.append((match.group(), "..".join(ends)))
    return found


def _month_day(match: re.Match[str], side: str) -> str:
    month = next(i for i, name in enumerate(_MONTHS) if name.startswith(match[f"{side}month"][:3].lower()))
    if match[f"{side}last"]:
        return f"{month + 1:02d}-{'END' if month == 1 else _DAYS[month]}"
    day = int(match[f"{side}day"])
    return f"{month + 1:02d}-{day:02d}" if 1 <= day <= _DAYS[month] else ""


def dimensions(text: str) -> list[tuple[str, Fraction, Fraction]]:
    """Return stated dimensions: the words, and the two lengths in metres.

    Examples
    --------
    >>> dimensions("18 x 4 nautical miles")
    [('18 x 4 nautical miles', Fraction(33336, 1), Fraction(7408, 1))]
    """
    found = []
    for match in _DIMENSIONS.finditer(text):
        # In notices to fishermen a mile is a nautical mile: common practice, no source.
        unit_m = 1000 if match[3].lower().startswith("k") else 1852
        found.append((match.group(), fraction(match[1]) * unit_m, fraction(match[2]) * unit_m))
    return found
