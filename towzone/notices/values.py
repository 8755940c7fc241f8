"""What the numbers of an angle are worth: degrees as an exact fraction, and what is doubtful about them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

__all__ = ["AXIS_OF", "LIMIT_DEG", "Angle", "Axis", "Gathered", "evaluate", "fraction", "whole_part"]


class Axis(StrEnum):
    """Which of the two coordinates an angle is."""

    LAT = "lat"
    LON = "lon"


LIMIT_DEG = {Axis.LAT: 90, Axis.LON: 180}
AXIS_OF = {"N": Axis.LAT, "S": Axis.LAT, "E": Axis.LON, "W": Axis.LON}
_SIDES = {Axis.LAT: ("north", "south"), Axis.LON: ("east", "west")}
_NEXT, _SPLIT = "next-degree", "split"


@dataclass(frozen=True, slots=True, kw_only=True)
class Angle:
    """One angle as read.

    Parameters
    ----------
    value_deg : Fraction
        Exact; negative for south and west. Without letter and sign the size alone.
    axis : Axis or None
        ``None`` while nothing says which of the two it is.
    sided : bool
        Whether a letter or sign says on which side of the equator or of Greenwich it lies.
    signed : bool
        Whether a sign, and no letter, says so.
    short : bool
        Printed like ``54.30N``, which some write for 54 degrees 30 minutes.
    whole : bool
        Printed in decimal degrees, where no sign means north or east.
    first, last : int
        Columns of its words in the line; ``last`` is past the end.
    remarks : tuple of str
        What was taken for granted.
    doubt : str
        Why it cannot be taken as read; empty when it can.
    readings : mapping
        Values by the answers that choose them.
    """

    value_deg: Fraction
    axis: Axis | None
    sided: bool
    signed: bool
    whole: bool
    short: bool = False
    first: int
    last: int
    remarks: tuple[str, ...] = ()
    doubt: str = ""
    readings: Mapping[str, Fraction] = field(default_factory=dict)


@dataclass(slots=True)
class Gathered:
    """The printed parts of one angle.

    ``form`` is ``marked`` (with a degree mark), ``joined`` (by colons or dashes), ``spaced``, ``packed`` or
    ``decimal``; ``leading`` tells a letter in front; ``between`` a dash that may part two coordinates;
    ``counted`` a first number that may count the points.
    """

    first: int
    label: Axis | None = None
    letter: str = ""
    leading: bool = False
    sign: int = 0
    between: bool = False
    counted: bool = False
    numbers: list[str] = field(default_factory=list)
    form: str = ""
    remarks: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)
    readings: dict[str, Fraction] = field(default_factory=dict)


def fraction(number: str) -> Fraction:
    """Return a printed number exactly, with a point or a comma before its decimals.

    Examples
    --------
    >>> fraction("54,4")
    Fraction(272, 5)
    """
    return Fraction(number.replace(",", ".").replace("·", "."))


def whole_part(number: str) -> str:
    """Return the digits of a printed number before its decimals."""
    return number.replace(",", ".").replace("·", ".").partition(".")[0]


def evaluate(draft: Gathered, last: int) -> Angle:
    """Return the angle of some printed parts; ``last`` is the column past its last word."""
    axis = AXIS_OF[draft.letter] if draft.letter else draft.label
    if draft.letter and draft.label and AXIS_OF[draft.letter] is not draft.label:
        draft.doubts.append(f"it is called {draft.label} but has the letter {draft.letter}")
    size = _size(draft, axis)
    if axis is not None and size > LIMIT_DEG[axis]:
        _too_large(draft, axis)
    side = -1 if draft.letter in ("S", "W") else 1
    if not draft.letter and draft.sign:
        side = draft.sign
    draft.readings = {answer: side * value for answer, value in draft.readings.items()}
    _sides(draft, axis, size)
    return Angle(
        value_deg=side * size,
        axis=axis,
        sided=bool(draft.letter or draft.sign) and not (draft.between and not draft.letter),
        signed=bool(draft.sign) and not draft.letter and not draft.between,
        whole=len(draft.numbers) == 1 and draft.form != "packed",
        short=draft.form == "decimal" and bool(draft.letter) and _looks_like_minutes(draft.numbers[0]),
        first=draft.first,
        last=last,
        remarks=tuple(draft.remarks),
        doubt="; ".join(draft.doubts),
        readings=draft.readings if len(draft.doubts) == 1 else {},
    )


def _looks_like_minutes(number: str) -> bool:
    decimals = number[len(whole_part(number)) + 1 :]
    return len(decimals) == 2 and int(decimals) < 60


def _size(draft: Gathered, axis: Axis | None) -> Fraction:
    """Return the degrees of the numbers, doubting those no angle can have."""
    if draft.form == "packed":
        _unpack(draft, axis)
    degrees = draft.numbers[0]
    if len(draft.numbers) > 1 and not degrees.isdigit():
        _glued_by_point(draft)
    elif len(whole_part(degrees)) > 3:
        _too_large(draft, axis or Axis.LAT)
    size = fraction(degrees)
    for place, (number, name) in enumerate(zip(draft.numbers[1:], ("minutes", "seconds"), strict=False)):
        part, unit = fraction(number), Fraction(1, 60 ** (place + 1))
        if part >= 60:
            draft.doubts.append(f"{number} {name} are not under 60")
            if part == 60:
                draft.readings[_NEXT] = size + part * unit
        size += part * unit
    if draft.counted:
        rest = [fraction(number) for number in draft.numbers[1:]]
        draft.doubts.append(f"{degrees} may be its degrees, or the number of the point")
        shifted = sum((part / 60**place for place, part in enumerate(rest)), Fraction(0))
        draft.readings |= {"degrees": size, "number": Fraction(shifted)}
    return size


def _unpack(draft: Gathered, axis: Axis | None) -> None:
    """Cut ddmm, ddmmss and their decimals apart; longitudes have one digit more."""
    number = draft.numbers[0]
    whole = whole_part(number)
    wide = 3 if axis is Axis.LON else 2
    if len(whole) not in (wide + 2, wide + 4):
        draft.doubts.append(f"{len(whole)} digits run together can be cut in more than one way")
        wide = len(whole) % 2 or 2
        wide = 3 if wide == 1 else 2
    draft.numbers = [number[:wide], number[wide : wide + 2]]
    if len(whole) > wide + 2:
        draft.numbers.append(number[wide + 2 :])
    else:
        draft.numbers[1] = number[wide:]


def _glued_by_point(draft: Gathered) -> None:
    """Doubt degrees with decimals before minutes: ``1.54°23′`` may be point 1 and 54°23′."""
    number = draft.numbers[0]
    draft.doubts.append(
        f"degrees {number} have decimals and minutes behind them, as if a number were glued on"
    )
    label, _, rest = number.replace(",", ".").replace("·", ".").partition(".")
    if label.isdigit() and 1 <= len(rest) <= 3:
        draft.readings[_SPLIT] = _with_degrees(draft, rest)


def _too_large(draft: Gathered, axis: Axis) -> None:
    number = draft.numbers[0]
    message = f"{number} degrees are more than {LIMIT_DEG[axis]}"
    if any(doubt.startswith(number) for doubt in draft.doubts):
        return
    draft.doubts.append(message)
    whole = whole_part(number)
    rest = whole[-2:] if axis is Axis.LAT else whole[-3:]
    if len(whole) > 2 and len(rest) < len(whole) and draft.form == "marked":
        draft.readings[_SPLIT] = _with_degrees(draft, rest + number[len(whole) :])


def _with_degrees(draft: Gathered, degrees: str) -> Fraction:
    parts = [fraction(degrees), *(fraction(number) for number in draft.numbers[1:])]
    total = sum((part / 60**place for place, part in enumerate(parts)), Fraction(0))
    return Fraction(total)


def _sides(draft: Gathered, axis: Axis | None, size: Fraction) -> None:
    """Compare a sign with the letter beside it."""
    if draft.letter == "E" and "letter O" in "".join(draft.doubts):
        draft.readings |= {"east": size, "west": -size}
    if not draft.letter or not draft.sign or axis is None or draft.between:
        if draft.letter in ("S", "W") and draft.sign < 0:
            draft.remarks.append(_both(draft.letter))
        elif not draft.letter and draft.between:
            draft.doubts.append("the dash before it may be a sign or part two coordinates")
        return
    if (draft.sign < 0) == (draft.letter in ("S", "W")):
        if draft.sign < 0:
            draft.remarks.append(_both(draft.letter))
        return
    sign = "minus" if draft.sign < 0 else "plus"
    draft.doubts.append(f"a {sign} sign stands together with the letter {draft.letter}")
    plus, minus = _SIDES[axis]
    draft.readings |= {plus: size, minus: -size}


def _both(letter: str) -> str:
    side = "south" if letter == "S" else "west"
    return f"a minus sign and the letter {letter} together, read as {side}"
