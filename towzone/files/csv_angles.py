"""One latitude or longitude as tables write it: decimal degrees, or degrees and minutes with a letter.

Minutes without a letter for the hemisphere are refused, and so are figures run together (``5530.5``) unless
there is a letter and either the name of the column says so (``lat_ddmm``) or there are as many figures before
the point as only they have: four of a latitude, five of a longitude (NMEA 0183, version 4, from memory).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from towzone.errors import quoted
from towzone.files.csv_numbers import DecimalMark, NumberTextError

__all__ = ["AXES", "Axis", "read_angle"]

_LONGEST = 60
_FIGURE = r"\d{1,30}(?:[.,]\d{0,60})?|[.,]\d{1,60}"
_ANGLE = re.compile(
    rf"(?P<before>[NSEWnsew])?[ ]?(?P<sign>[+-])?(?P<degrees>{_FIGURE})"
    rf"(?:[ ]?(?:[°º˚: ]|-(?=\d)|deg)[ ]?(?P<minutes>{_FIGURE})"
    rf"(?:[ ]?(?:['′’´: ]|-(?=\d)|min)[ ]?(?P<seconds>{_FIGURE})[ ]?(?:''|′′|[\"″”]|sec)?)?)?"
    r"[ ]?(?:[°º˚'′’´]|deg|min)?[ ]?(?P<after>[NSEWnsew])?",
    re.ASCII,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """What is allowed of latitudes, or longitudes.

    ``unset_deg`` is what AIS says for none (published: ITU-R M.1371-5, Annex 8, table 48); ``packed_figures``
    is how many figures stand before the point where degrees and minutes are run together.
    """

    name: str
    column: str
    letters: str
    limit_deg: float
    unset_deg: float
    packed_figures: int
    example: str

    @property
    def either_letter(self) -> str:
        """Both letters, for messages."""
        return " or ".join(self.letters)

    def outside(self, text: str) -> NumberTextError:
        """Return the error for degrees that do not exist."""
        allowed = f"-{self.limit_deg:.0f} to {self.limit_deg:.0f}"
        return NumberTextError(
            f"{self.name} {quoted(text)} is outside {allowed}; check whether latitude and longitude changed"
            " places"
        )

    def unreadable(self, text: str) -> NumberTextError:
        """Return the error for what is no angle."""
        return NumberTextError(
            f"{self.name} {quoted(text)} cannot be read; write decimal degrees such as {self.example}"
        )


AXES = {
    "lat": Axis(
        name="latitude",
        column="lat",
        letters="NS",
        limit_deg=90.0,
        unset_deg=91.0,
        packed_figures=4,
        example="57.5, or degrees and minutes such as 57 30.0N",
    ),
    "lon": Axis(
        name="longitude",
        column="lon",
        letters="EW",
        limit_deg=180.0,
        unset_deg=181.0,
        packed_figures=5,
        example="-20.25, or degrees and minutes such as 20 15.0W",
    ),
}


def read_angle(text: str, letter: str, axis: Axis, *, packed: bool, mark: DecimalMark) -> float:
    """Return degrees, north and east positive.

    Parameters
    ----------
    text : str
        Not empty, without blanks around it.
    letter : str
        Of a column of its own; may be empty.
    axis : Axis
    packed : bool
        The column holds degrees and minutes run together.
    mark : DecimalMark
        Of the file.

    Raises
    ------
    NumberTextError
        It cannot be read, can be read in two ways, or is out of range; `Axis.unset_deg` is let through.
    """
    match = _ANGLE.fullmatch(" ".join(text.split())) if len(text) <= _LONGEST else None
    if match is None:
        return _tiny(text, letter, axis, mark)
    letter = _one_letter(text, [*filter(None, (match["before"], match["after"], letter))], axis)
    figures = [part for part in (match["degrees"], match["minutes"], match["seconds"]) if part]
    if letter and match["sign"]:
        message = f"{axis.name} {quoted(text)} has a sign and a letter; leave one out"
        raise NumberTextError(message)
    if len(figures) > 1:
        value = _with_minutes(text, figures, letter, axis, mark)
    else:
        value = _single(text, figures[0], letter, axis, packed=packed, mark=mark)
    if value > axis.limit_deg and (letter or value != axis.unset_deg or len(figures) > 1):
        raise axis.outside(text)
    return -value if match["sign"] == "-" or letter in ("S", "W") else value


def _tiny(text: str, letter: str, axis: Axis, mark: DecimalMark) -> float:
    """Return a number that a program wrote with an exponent, as it does next to zero."""
    if letter:
        raise axis.unreadable(text)
    try:
        value = mark.number(text)
    except NumberTextError as error:
        raise axis.unreadable(text) from error
    if abs(value) > axis.limit_deg:
        raise axis.outside(text)
    return value


def _one_letter(text: str, letters: Sequence[str], axis: Axis) -> str:
    """Return the letter of the hemisphere, in capitals; empty where there is none."""
    stated = {letter.upper() for letter in letters}
    if not stated:
        return ""
    letter = stated.pop()
    if stated:
        message = f"{axis.name} {quoted(text)} has several letters for the hemisphere; leave one"
        raise NumberTextError(message)
    if letter not in tuple(axis.letters):
        message = (
            f"{axis.name} {quoted(text)} has the letter {quoted(letter)}; allowed are {axis.either_letter}."
            " Check whether latitude and longitude changed places"
        )
        raise NumberTextError(message)
    return letter


def _single(text: str, figure: str, letter: str, axis: Axis, *, packed: bool, mark: DecimalMark) -> float:
    """Return degrees from one figure: decimal, or degrees and minutes run together."""
    value = mark.number(figure)
    before_point = len(re.split("[.,]", figure)[0])
    if not packed and before_point <= 3:
        return value
    if letter and (packed or before_point == axis.packed_figures) and value < 10.0**axis.packed_figures:
        degrees, minutes = divmod(value, 100.0)
        return degrees + _sixtieths(text, minutes, axis)
    message = (
        f"{axis.name} {quoted(text)} is no number of degrees; if it is degrees and minutes run together, a"
        f" letter must say the hemisphere ({axis.either_letter}) and the column be named {axis.column}_ddmm"
    )
    raise NumberTextError(message)


def _with_minutes(text: str, figures: Sequence[str], letter: str, axis: Axis, mark: DecimalMark) -> float:
    before_point = [len(re.split("[.,]", figure)[0]) for figure in figures]
    if not all(figure.isdigit() for figure in figures[:-1]) or not all(
        0 < count <= most for count, most in zip(before_point, (3, 2, 2), strict=False)
    ):
        raise axis.unreadable(text)
    if not letter:
        message = f"{axis.name} {quoted(text)} has minutes but no letter; add {axis.either_letter}"
        raise NumberTextError(message)
    degrees, minutes, *seconds = (mark.number(figure) for figure in figures)
    value = degrees + _sixtieths(text, minutes, axis)
    return value + _sixtieths(text, seconds[0], axis) / 60.0 if seconds else value


def _sixtieths(text: str, value: float, axis: Axis) -> float:
    if value >= 60.0:
        message = f"{axis.name} {quoted(text)} has 60 minutes or seconds, or more; allowed are 0 to 59"
        raise NumberTextError(message)
    return value / 60.0
