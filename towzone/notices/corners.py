"""From printed positions to corners: which angle is the latitude, on which side, and what must be asked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from towzone.errors import quoted
from towzone.notices.pieces import Lone, Piece, Position, Text
from towzone.notices.points import read_pieces
from towzone.notices.questions import Asker
from towzone.notices.remarks import Remarks, lines_text
from towzone.notices.values import AXIS_OF, LIMIT_DEG, Angle, Axis
from towzone.notices.words import Words, classify, coast_words, distance_words, follows_something

__all__ = ["POSITION", "SKIP", "Corner", "given_corner", "read_corners"]

POSITION = "a position such as \"54°30.0'N 008°10.0'W\""
SKIP = "skip"
_ORDERS = {"lat-lon": Axis.LAT, "lon-lat": Axis.LON}
_NAMES = {Axis.LAT: "latitude", Axis.LON: "longitude"}
_POSITIVE = "no letter and no sign: read as north or east, as is usual for decimal degrees"


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """One corner as read: exact degrees, and the words and line it was read from."""

    line: int
    words: str
    lat_deg: Fraction
    lon_deg: Fraction
    label: str = ""
    group: str = ""

    @property
    def place(self) -> tuple[Fraction, Fraction]:
        """Longitude and latitude, degrees; both ends of the 180th meridian are one."""
        return (Fraction(180) if self.lon_deg == -180 else self.lon_deg, self.lat_deg)


def read_corners(
    pieces: Sequence[Piece], order: str | None, asker: Asker, remarks: Remarks
) -> list[Corner | Piece]:
    """Return the pieces with every position decided; those left open by a question are gone.

    Parameters
    ----------
    pieces : sequence of Piece
    order : str or None
        ``lat-lon`` or ``lon-lat`` for coordinates without letters; ``None`` when a person did not say.
    asker, remarks
        Where questions and remarks go.
    """
    pieces = _minutes_or_decimals(pieces, asker)
    positions = [piece for piece in pieces if isinstance(piece, Position)]
    sides = _Sides(positions, order, asker, remarks)
    last = max((at for at, piece in enumerate(pieces) if isinstance(piece, (Position, Lone))), default=-1)
    result: list[Corner | Piece] = []
    before = ""
    begun = False
    for at, piece in enumerate(pieces):
        corner: Corner | None = None
        if isinstance(piece, Position):
            corner = _from_position(piece, sides, asker, remarks)
        elif isinstance(piece, Lone):
            corner = _from_lone(piece, before, asker, remarks)
            if coast_words(before) and classify(before) in (Words.PROSE, Words.TITLE):
                result.pop()  # these words were the corner's own
        else:
            if isinstance(piece, Text) and begun and at < last:
                _ask_course(piece, asker)
            result.append(piece)
        if corner is not None:
            result.append(corner)
        begun = begun or isinstance(piece, (Position, Lone))
        before = piece.words if isinstance(piece, Text) else ""
    return result


def _minutes_or_decimals(pieces: Sequence[Piece], asker: Asker) -> Sequence[Piece]:
    """Ask what the point in ``54.30N`` is, where all such numbers of a text could be minutes."""
    found = [piece for piece in pieces if isinstance(piece, Position)]
    lettered = [
        a for piece in found for a in (piece.first, piece.second) if a.whole and a.sided and not a.signed
    ]
    if not any(angle.short for angle in lettered):
        return pieces
    with_decimals = [angle for angle in lettered if angle.value_deg.denominator > 1]
    if not all(angle.short for angle in with_decimals):
        return pieces
    first = next(piece for piece in found if piece.first.short or piece.second.short)
    text = (
        f"{quoted(first.words)}: are the two digits behind the point decimals of a degree, or minutes, as in"
        " every number of this kind in the text?"
    )
    answers = {"decimals": False, "minutes": True}
    if not asker.ask(f"line {first.line}", text, tuple(answers), answers.get):
        return pieces
    return [
        replace(piece, first=_as_minutes(piece.first), second=_as_minutes(piece.second))
        if isinstance(piece, Position)
        else piece
        for piece in pieces
    ]


def _as_minutes(angle: Angle) -> Angle:
    if not angle.short:
        return angle
    whole = int(abs(angle.value_deg))
    size = whole + (abs(angle.value_deg) - whole) * 100 / 60
    return replace(angle, value_deg=size if angle.value_deg > 0 else -size)


class _Sides:
    """What all coordinates without letters have in common: their order, and their hemispheres."""

    def __init__(self, positions: list[Position], order: str | None, asker: Asker, remarks: Remarks) -> None:
        self._asker, self._remarks = asker, remarks
        self._order = _ORDERS[order] if order else None
        bare = [p for p in positions if p.first.axis is None and p.second.axis is None]
        self._stated = self._order is not None
        if self._order is None and any(p.header is None for p in bare):
            self._order = self._from_size(bare) or self._ask_order([p for p in bare if p.header is None])
        # A text that uses signs at all says north and east by leaving them out.
        signed = [angle for p in positions for angle in (p.first, p.second) if angle.signed]
        self._by_sign = any(not angle.whole for angle in signed)
        self._any_sign = bool(signed)
        self._sides: dict[Axis, int | None] = {}
        self._collect(positions)

    def first_axis(self, position: Position) -> Axis | None:
        """Return which axis the first angle of a position is, ``None`` while that is an open question."""
        if position.first.axis is not None:
            return position.first.axis
        if position.second.axis is not None:
            return Axis.LON if position.second.axis is Axis.LAT else Axis.LAT
        if position.header is not None and not self._stated:
            return position.header.first
        if position.header is not None and position.header.first is not self._order:
            self._remarks.add(position.line, "the order given by option differs from the head of the table")
        return self._order

    def sided(self, angle: Angle, axis: Axis, position: Position) -> Fraction | None:
        """Return an angle with its sign, ``None`` while its side is an open question."""
        value = angle.value_deg
        letter = _head_letter(position, axis) if not angle.sided or angle.signed else ""
        if letter:
            if angle.signed and (value < 0) != (letter in "SW"):
                self._remarks.add(position.line, f"sign and column head {letter} disagree; read as {letter}")
            return -abs(value) if letter in "SW" else abs(value)
        if not _open_side(angle, axis, position):
            if not angle.sided and value not in (0, 180) and not self._any_sign:
                self._remarks.add(position.line, _POSITIVE)
            elif not angle.sided and value in (0, 180):
                self._remarks.add(position.line, f"{value} degrees without a letter; both sides are the same")
            return value
        if self._by_sign:
            self._remarks.add(position.line, "no sign where others have one: read as north or east")
            return value
        side = self._sides.get(axis)
        return None if side is None else side * value

    def _from_size(self, bare: list[Position]) -> Axis | None:
        first = [p.line for p in bare if abs(p.first.value_deg) > 90]
        second = [p.line for p in bare if abs(p.second.value_deg) > 90]
        if bool(first) == bool(second):
            return None
        axis = Axis.LON if first else Axis.LAT
        name = "longitude" if first else "latitude"
        self._remarks.add((first or second)[0], f"a number over 90 shows that {name} comes first")
        return axis

    def _ask_order(self, bare: list[Position]) -> Axis | None:
        sample = bare[0]
        text = (
            f"{quoted(sample.words)} has no letters, and nothing says whether latitude or longitude comes"
            f" first (so in {len(bare)} positions); give --order or answer"
        )
        return self._asker.ask(f"line {sample.line}", text, tuple(_ORDERS), _ORDERS.get)

    def _collect(self, positions: list[Position]) -> None:
        """Ask once for each axis on which side angles without letter and sign lie."""
        if self._by_sign:
            return
        lines: dict[Axis, list[int]] = {Axis.LAT: [], Axis.LON: []}
        words: dict[Axis, str] = {}
        for position in positions:
            first = self.first_axis(position)
            if first is None:
                continue
            second = Axis.LON if first is Axis.LAT else Axis.LAT
            for angle, axis in ((position.first, first), (position.second, second)):
                if not angle.sided and not _head_letter(position, axis) and _open_side(angle, axis, position):
                    lines[axis].append(position.line)
                    words.setdefault(axis, position.words)
        for axis, names in ((Axis.LAT, ("north", "south")), (Axis.LON, ("east", "west"))):
            if lines[axis]:
                text = (
                    f"the {_NAMES[axis]} in {quoted(words[axis])} has no letter ({lines_text(lines[axis])})"
                )
                signs = {names[0]: 1, names[1]: -1}
                self._sides[axis] = self._asker.ask(f"line {lines[axis][0]}", text, names, signs.get)


def _head_letter(position: Position, axis: Axis) -> str:
    letters = position.header.letters if position.header else ()
    return next((letter for letter in letters if AXIS_OF[letter] is axis), "")


def _open_side(angle: Angle, axis: Axis, position: Position) -> bool:
    """Return whether nothing printed tells the hemisphere of an angle."""
    if angle.sided or angle.value_deg == 0 or (axis is Axis.LON and angle.value_deg == 180):
        return False
    other = position.second if angle is position.first else position.first
    return not angle.whole or (other.sided and not other.signed)


def _from_position(position: Position, sides: _Sides, asker: Asker, remarks: Remarks) -> Corner | None:
    first = sides.first_axis(position)
    if first is None:
        return None
    second = Axis.LON if first is Axis.LAT else Axis.LAT
    angles = {first: position.first, second: position.second}
    values = {axis: sides.sided(angle, axis, position) for axis, angle in angles.items()}
    doubts = [f"{_NAMES[axis]}: {angle.doubt}" for axis, angle in angles.items() if angle.doubt]
    for axis, value in values.items():
        if value is None:
            return None
        if abs(value) > LIMIT_DEG[axis] and not angles[axis].doubt:
            doubts.append(f"{_NAMES[axis]} {float(value):g} is beyond {LIMIT_DEG[axis]} degrees")
    for angle in angles.values():
        for remark in angle.remarks:
            remarks.add(position.line, remark)
    made = Corner(
        line=position.line,
        words=position.words,
        lat_deg=values[Axis.LAT] or Fraction(0),
        lon_deg=values[Axis.LON] or Fraction(0),
        label=position.label,
        group=position.group,
    )
    if not doubts:
        return made
    return _ask_position(made, angles, doubts, asker)


def _ask_position(made: Corner, angles: dict[Axis, Angle], doubts: list[str], asker: Asker) -> Corner | None:
    doubted = [(axis, angle) for axis, angle in angles.items() if angle.doubt]
    readings: dict[str, Corner] = {}
    if len(doubts) == 1 and len(doubted) == 1:
        axis, angle = doubted[0]
        for answer, value in angle.readings.items():
            if abs(value) <= LIMIT_DEG[axis]:
                lat, lon = (value, made.lon_deg) if axis is Axis.LAT else (made.lat_deg, value)
                readings[answer] = replace(made, lat_deg=lat, lon_deg=lon)
    offered = tuple(readings)
    return asker.ask(
        f"line {made.line}",
        f"{quoted(made.words)}: {'; '.join(doubts)}",
        (*offered, POSITION),
        lambda answer: readings.get(answer) or given_corner(answer, made),
    )


def given_corner(answer: str, made: Corner) -> Corner | None:
    """Return the corner a person typed: one position with letters and without any doubt."""
    if len(answer) > 200:
        return None
    pieces = [piece for piece in read_pieces(answer, "answer") if not isinstance(piece, Text)]
    if len(pieces) != 1 or not isinstance(pieces[0], Position):
        return None
    angles = {angle.axis: angle for angle in (pieces[0].first, pieces[0].second)}
    if None in angles or any(angle.doubt or not angle.sided for angle in angles.values()):
        return None
    lat, lon = angles[Axis.LAT].value_deg, angles[Axis.LON].value_deg
    if abs(lat) > 90 or abs(lon) > 180:
        return None
    return replace(made, lat_deg=lat, lon_deg=lon)


def _from_lone(lone: Lone, before: str, asker: Asker, remarks: Remarks) -> Corner | None:
    place = before.strip(" \t;,.:()-–—•*")
    words = f"{place} {lone.words}" if coast_words(before) else lone.words
    why = "this corner is named by a place, not by coordinates" if coast_words(before) else lone.why
    made = Corner(line=lone.line, words=words, lat_deg=Fraction(0), lon_deg=Fraction(0))
    skipped = object()
    answer = asker.ask(
        f"line {lone.line}",
        f"{quoted(words)}: {why}; answer its position, or {SKIP} if it is no corner",
        (POSITION, SKIP),
        lambda given: skipped if given == SKIP else given_corner(given, made),
    )
    if isinstance(answer, Corner):
        remarks.add(
            lone.line, "this corner was given by a person; sides to it are drawn straight, not along a coast"
        )
        return answer
    return None


def _ask_course(text: Text, asker: Asker) -> None:
    distance = distance_words(text.words)
    if distance:
        asker.ask(
            f"line {text.line}",
            f"{quoted(distance)}: a place given by distance cannot be read as a corner; answer ignore if none"
            " is meant, otherwise write its position into the text",
            ("ignore",),
            lambda given: True if given == "ignore" else None,
        )
    course = follows_something(text.words)
    if course:
        asker.ask(
            f"line {text.line}",
            f"{quoted(course)}: a side that follows something cannot be drawn from coordinates; answer"
            " straight to join the corners before and after it directly",
            ("straight",),
            lambda given: True if given == "straight" else None,
        )
