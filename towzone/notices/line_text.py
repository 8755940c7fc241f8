"""A planned line as one types it: positions parted by semicolons, in any usual spelling, none guessed at."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from towzone.errors import UsageError, quoted
from towzone.model.plan import PlannedLine
from towzone.notices.pieces import Lone, Position
from towzone.notices.points import read_pieces
from towzone.notices.values import LIMIT_DEG, Angle, Axis
from towzone.tracks.corners import corner_faults
from towzone.words import counted

__all__ = ["line_of_text"]

_SOURCE = "--line"
_EXAMPLE = (
    '"54°30.2N 8°10.5W; 54°32N 8°15W", or decimal degrees, latitude first, "54.503,-8.175; 54.53,-8.25"'
)
_FIGURE = r"([-+]?[0-9]{1,3}(?:\.[0-9]{1,20})?)"
_BARE = re.compile(rf"{_FIGURE}[ ]?°?(?:[ ]?,[ ]?|[ ]){_FIGURE}[ ]?°?")
_FIGURE_WITH_COMMA = r"([-+]?[0-9]{1,3},[0-9]{1,20})"
_BARE_WITH_COMMAS = re.compile(rf"{_FIGURE_WITH_COMMA}[ ]?°?[ ]{_FIGURE_WITH_COMMA}[ ]?°?")
"""Two decimal degrees and nothing else. A comma is a decimal mark only where both have one and a blank parts
them; a dash between them may be a sign, so that it parts nothing."""
_COMMA_INSIDE, _POINT_INSIDE = re.compile(r"[0-9],[0-9]"), re.compile(r"[0-9]\.[0-9]")
_SIGN = re.compile(r"[^0-9]*[-+\u2212\u2010\u2011\u2012\u2013\u2014]")
_MINUS = str.maketrans("\u2212\u2010\u2011\u2012\u2013", "-----")
_BETWEEN = re.compile("\\s*[;\uff1b\u037e]\\s*|\\s*[\r\n]\\s*")
"""Semicolons, also those that only look like one, and ends of lines."""
_OTHER_DIGITS = re.compile(r"(?![0-9])\d")
_LONGEST = 100_000
"""Own limit, characters: five hundred points need a third of it."""
_SHOWN = 10
_NAMES = {Axis.LAT: "latitude", Axis.LON: "longitude"}
_LETTERS = {Axis.LAT: "N or S", Axis.LON: "E or W"}


def line_of_text(text: str, name: str) -> PlannedLine:
    """Return the planned line of a text such as ``54°30.2N 8°10.5W; 54°32N 8°15W``.

    Parameters
    ----------
    text : str
        Positions parted by semicolons. Letters say which angle is the latitude and on which side it lies;
        without any, both are decimal degrees, latitude first, north and east positive.
    name : str
        Of the line.

    Raises
    ------
    UsageError
        A position that cannot be read, or can be read in two ways, or no planned line; all such points are
        told.

    Examples
    --------
    >>> line = line_of_text("54°30.2N 8°10.5W; 54.53,-8.25", "line")
    >>> [round(x, 6) for x in line.lat_deg.tolist()], [round(x, 6) for x in line.lon_deg.tolist()]
    ([54.503333, 54.53], [-8.175, -8.25])
    """
    if len(text) > _LONGEST:
        message = f"{_SOURCE} is longer than {_LONGEST} characters; put the points into a file"
        raise UsageError(message)
    parts = _BETWEEN.split(text.strip())
    while parts and not parts[-1]:
        parts.pop()
    if not parts:
        message = f"{_SOURCE} holds no point; write for example {_EXAMPLE}"
        raise UsageError(message)
    problems: list[str] = []
    found: list[_Point] = []
    for number, part in enumerate(parts, start=1):
        try:
            found.append(_point(part))
        except _PointError as error:
            problems.append(f"point {number} {quoted(part)} {error}")
    _refuse(problems)
    _refuse(_minutes_or_decimals(parts, found))
    lon, lat = [float(point.lon_deg) for point in found], [float(point.lat_deg) for point in found]
    _refuse([fault.message for fault in corner_faults(lon, lat)])
    return PlannedLine(
        name=name,
        lon_deg=lon,  # type: ignore[arg-type]  # copied into an array
        lat_deg=lat,  # type: ignore[arg-type]
        point_names=tuple(point.label for point in found),
        source=_SOURCE,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Point:
    """One position, exactly; ``angles`` are those with letters, in printed order."""

    lon_deg: Fraction
    lat_deg: Fraction
    label: str = ""
    angles: tuple[Angle, ...] = ()


class _PointError(ValueError):
    """Why a text is not one position, in words that follow it."""


def _refuse(problems: Sequence[str]) -> None:
    if problems:
        shown = [*problems[:_SHOWN]]
        if len(problems) > _SHOWN:
            shown.append(f"and {counted(len(problems) - _SHOWN, 'more problem')}")
        raise UsageError("\n".join(f"{_SOURCE}: {problem}" for problem in shown))


def _point(part: str) -> _Point:
    """Return the one position of a part, of which nothing is in doubt."""
    if not part:
        message = "is empty; write a position, or one semicolon less"
        raise _PointError(message)
    if match := _OTHER_DIGITS.search(part):
        message = f"holds {quoted(match.group())}, a digit of another script; write 0 to 9"
        raise _PointError(message)
    point = _bare(part)
    if point is None:
        point = _lettered(part)
    for value_deg, axis in ((point.lat_deg, Axis.LAT), (point.lon_deg, Axis.LON)):
        if abs(value_deg) > LIMIT_DEG[axis]:
            message = (
                f"has a {_NAMES[axis]} outside -{LIMIT_DEG[axis]} to {LIMIT_DEG[axis]}; check whether"
                " latitude and longitude changed places (without letters the latitude comes first)"
            )
            raise _PointError(message)
    return point


def _bare(part: str) -> _Point | None:
    """Return a position without letters: decimal degrees, latitude first."""
    text = " ".join(part.translate(_MINUS).split()).strip("()[], ")
    match = _BARE.fullmatch(text) or _BARE_WITH_COMMAS.fullmatch(text)
    if match is None:
        return None
    if match[1].lstrip("+-").isdigit() and match[2].lstrip("+-").isdigit():
        message = (
            "has no letters and no decimals, and could be degrees and minutes; write for example 54.0,-8.0"
        )
        raise _PointError(message)
    lat, lon = (Fraction(figure.replace(",", ".")) for figure in match.groups())
    return _Point(lon_deg=lon, lat_deg=lat)


def _lettered(part: str) -> _Point:
    """Return a position of which letters (or the words lat and lon) say which angle is which."""
    if _COMMA_INSIDE.search(part) and _POINT_INSIDE.search(part):
        message = "has commas and points between figures; use one of them, as decimal mark"
        raise _PointError(message)
    pieces = read_pieces(part, _SOURCE)
    positions = [piece for piece in pieces if isinstance(piece, Position)]
    if len(positions) > 1:
        message = "holds more than one position; put a semicolon between points"
        raise _PointError(message)
    if len(positions) != 1 or len(pieces) != 1:
        why = [f": {piece.why}" for piece in pieces if isinstance(piece, Lone)]
        message = f"cannot be read as a position{''.join(why[:1])}; write for example {_EXAMPLE}"
        raise _PointError(message)
    position = positions[0]
    for angle in (position.first, position.second):
        _check(angle, part)
    first, second = position.first, position.second
    lat, lon = (second, first) if first.axis is Axis.LON else (first, second)
    return _Point(
        lon_deg=lon.value_deg,
        lat_deg=lat.value_deg,
        label=position.label,
        angles=(first, second),
    )


def _check(angle: Angle, part: str) -> None:
    words = quoted(part[angle.first : angle.last].strip())
    if angle.doubt:
        message = f"is in doubt: {angle.doubt}; write it so that no doubt is left"
        raise _PointError(message)
    if angle.axis is None:
        message = f"has no letter at {words}; put N or S behind the latitude, E or W behind the longitude"
        raise _PointError(message)
    if not angle.sided and not angle.whole:
        message = f"has minutes but no letter at {words}; add {_LETTERS[angle.axis]}"
        raise _PointError(message)
    if angle.sided and not angle.signed and _SIGN.match(part[angle.first : angle.last]):
        message = f"has a sign and a letter at {words}; leave one of them out"
        raise _PointError(message)


def _minutes_or_decimals(parts: Sequence[str], found: Sequence[_Point]) -> list[str]:
    """Return what is wrong where all numbers are like ``54.30N``, which some write for 54°30′.

    The decimals of a single other number tell what the point means in all of them.
    """
    angles = [
        (number, angle)
        for number, point in enumerate(found)
        for angle in point.angles
        if angle.whole and angle.sided and not angle.signed and angle.value_deg.denominator > 1
    ]
    if not any(angle.short for _, angle in angles) or not all(angle.short for _, angle in angles):
        return []
    return [
        f"point {number + 1} {quoted(parts[number])} can be read in two ways: the two digits behind the point"
        " are decimals of a degree or minutes; write 54°30N or 54.300N"
        for number in sorted({number for number, _ in angles})
    ]
