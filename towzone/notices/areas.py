"""From corners and the words between them to areas with rings and holes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from towzone.errors import quoted
from towzone.notices.corners import Corner
from towzone.notices.pieces import Blank, Lone, Piece, Position, Text
from towzone.notices.questions import Asker
from towzone.notices.remarks import Remarks
from towzone.notices.words import Words, classify, title

__all__ = ["Area", "Ring", "read_areas"]

_FIRST_LABELS = ("1", "a", "A", "i", "I", "01", "001")
_MIN_CORNERS = 3
_NEW, _SAME = "new", "same"


@dataclass(slots=True)
class Ring:
    """Corners in printed order, the repeated first one left out; ``closed`` when the text repeats it."""

    hole: bool = False
    closed: bool = False
    corners: list[Corner] = field(default_factory=list)
    closing: Corner | None = None


@dataclass(slots=True)
class Area:
    """One area of a notice: its name, its rings and the words that stand with it."""

    name: str = ""
    line: int = 0
    rings: list[Ring] = field(default_factory=list)
    notes: list[Text] = field(default_factory=list)

    @property
    def corners(self) -> list[Corner]:
        """All corners, ring after ring."""
        return [corner for ring in self.rings for corner in ring.corners]


def read_areas(stream: Sequence[Corner | Piece], asker: Asker, remarks: Remarks) -> list[Area]:
    """Return the areas of a notice.

    Parameters
    ----------
    stream : sequence of Corner or Piece
        From `towzone.notices.corners.read_corners`.
    asker, remarks
        Where questions and remarks go. A question left open is taken as "the same area" for the echo.
    """
    builder = _Builder(asker, remarks)
    for piece in _with_row_labels(stream):
        if isinstance(piece, Corner):
            builder.corner(piece)
        elif isinstance(piece, Text):
            builder.texts.append(piece)
        elif isinstance(piece, Blank):
            builder.blanks += 1
        else:
            assert_never_unread(piece)
    builder.finish()
    return builder.areas


def assert_never_unread(piece: Lone | Position) -> None:
    """Refuse a piece that should have become a corner: nothing read may be dropped on the way."""
    message = f"line {piece.line} was read but not decided"
    raise AssertionError(message)


def _with_row_labels(stream: Sequence[Corner | Piece]) -> list[Corner | Piece]:
    """Leave out words that only name the row they stand in, as every row of a table does."""
    headed = [False] * len(stream)
    for at in range(1, len(stream)):
        before, piece = stream[at - 1], stream[at]
        own = isinstance(before, Text) and before.begins and isinstance(piece, Corner)
        headed[at] = own and isinstance(before, Text) and before.line == piece.line
    result: list[Corner | Piece] = []
    corners = [at for at, piece in enumerate(stream) if isinstance(piece, Corner)]
    names = set()
    for one, other in pairwise(corners):
        if headed[one] and headed[other] and other - one == 2:
            texts = [stream[one - 1], stream[other - 1]]
            kinds = {classify(text.words) for text in texts if isinstance(text, Text)}
            if kinds <= {Words.TITLE, Words.HEADING, Words.JOINT} and kinds != {Words.JOINT}:
                names |= {one - 1, other - 1}
    for at, piece in enumerate(stream):
        if at not in names:
            result.append(piece)
    return result


class _Builder:
    """The areas so far, and what stood since the last corner."""

    def __init__(self, asker: Asker, remarks: Remarks) -> None:
        self._asker, self._remarks = asker, remarks
        self.areas: list[Area] = []
        self.texts: list[Text] = []
        self.blanks = 0
        self._usual_blanks = -1

    def corner(self, corner: Corner) -> None:
        """Add a corner to the ring it belongs to."""
        kinds = [_kind(text) for text in self.texts]
        relation = self._relation(corner, kinds) if self.areas else "area"
        if relation == "area":
            self._new_area(corner, kinds)
        elif relation in ("ring", "hole"):
            self.areas[-1].rings.append(Ring(hole=relation == "hole"))
        if relation != "area":
            self.areas[-1].notes += self.texts
        ring = self.areas[-1].rings[-1]
        if relation == "same" and len(ring.corners) == 1:
            self._usual_blanks = self.blanks
        elif relation != "same":
            self._usual_blanks = -1
        self.texts, self.blanks = [], 0
        self._append(ring, corner)

    def finish(self) -> None:
        """Give the words after the last corner to the last area; they may say that it closes."""
        if self.areas:
            self.areas[-1].notes += self.texts
            if any(_kind(text) is Words.CLOSING for text in self.texts):
                self.areas[-1].rings[-1].closed = True

    def _append(self, ring: Ring, corner: Corner) -> None:
        if (ring.corners and corner.place == ring.corners[-1].place) or (
            ring.closed and ring.corners and corner.place == ring.corners[0].place
        ):
            self._remarks.add(corner.line, "a corner that repeats the one before was left out")
        elif len(ring.corners) >= _MIN_CORNERS and corner.place == ring.corners[0].place:
            ring.closed, ring.closing = True, corner
        else:
            ring.corners.append(corner)

    def _new_area(self, corner: Corner, kinds: list[Words]) -> None:
        area = Area(line=corner.line, rings=[Ring()])
        start = 0
        if self.areas:
            # Dates and dimensions before the new heading belong to the area before.
            heads = [at for at, kind in enumerate(kinds) if kind in (Words.HEADING, Words.TITLE)]
            heads = heads[-1:] or [at for at, kind in enumerate(kinds) if kind is Words.PROSE]
            start = heads[0] if heads else len(kinds)
            self.areas[-1].notes += self.texts[:start]
        area.notes += self.texts[start:]
        for text, kind in zip(reversed(self.texts[start:]), reversed(kinds[start:]), strict=True):
            if kind in (Words.HEADING, Words.TITLE) and (name := title(text.words)):
                area.name, area.line = name, text.line
                break
        if Words.HOLE in kinds[start:]:
            self._remarks.add(corner.line, "words of exclusion before this area were not applied to it")
        if not area.name and corner.group:
            area.name = f"polygon {corner.group}"
        self.areas.append(area)

    def _relation(self, corner: Corner, kinds: list[Words]) -> str:
        """Return what a corner begins: ``area``, ``ring``, ``hole``, or nothing new (``same``)."""
        ring = self.areas[-1].rings[-1]
        last = ring.corners[-1]
        enough = len(ring.corners) >= _MIN_CORNERS
        if Words.CLOSING in kinds and enough and not self._is_opening_words(kinds):
            ring.closed = True
        if enough and (corner.group != last.group or self._numbered_area(ring, corner)):
            return "area"
        for kind, text in zip(reversed(kinds), reversed(self.texts), strict=True):
            if kind is Words.HOLE:
                return "hole" if enough or ring.closed else self._ask(corner, text)
            if kind is Words.HEADING or (kind is Words.TITLE and not ring.closed):
                return self._headed(corner, ring, kind, text, enough=enough)
            if kind is Words.TITLE:
                return "area"
        if ring.closed:
            return self._after_closed(corner, ring, kinds)
        return self._open(corner, last, kinds, enough=enough)

    def _numbered_area(self, ring: Ring, corner: Corner) -> bool:
        """Return whether labels number the areas, all corners of the last alike, and a new number begins."""
        label = ring.corners[0].label
        alike = all(ring.corners[at].label == label for at in (1, 2, -1))
        return bool(label) and alike and corner.label not in ("", label)

    def _headed(self, corner: Corner, ring: Ring, kind: Words, text: Text, *, enough: bool) -> str:
        if not (enough or ring.closed):
            return self._ask(corner, text)
        if kind is Words.TITLE and not ring.closed and _may_go_on(ring, corner):
            return self._ask(corner, text)
        if kind is Words.TITLE and not ring.closed:
            self._remarks.add(
                text.line, f"{quoted(text.words.strip())} was taken as the heading of a new area"
            )
        return "area"

    def _is_opening_words(self, kinds: list[Words]) -> bool:
        """Return whether the closing words open a list instead: "starting position:"."""
        return kinds[-1] is Words.CLOSING and self.texts[-1].words.rstrip().endswith(":")

    def _after_closed(self, corner: Corner, ring: Ring, kinds: list[Words]) -> str:
        if corner.place == ring.corners[0].place and not kinds:
            return "same"
        if Words.PROSE in kinds or (corner.label in _FIRST_LABELS and not corner.group):
            return "area"
        self._remarks.add(
            corner.line, "a ring was closed before this corner, which begins another ring of the same area"
        )
        return "ring"

    def _open(self, corner: Corner, last: Corner, kinds: list[Words], *, enough: bool) -> str:
        if corner.label in _FIRST_LABELS and last.label not in ("", *_FIRST_LABELS) and enough:
            self._remarks.add(corner.line, "the numbers of the points begin again, so a new area was begun")
            return "area"
        counted_on = _follows(last.label, corner.label)
        for kind, text in zip(kinds, self.texts, strict=True):
            if kind is Words.PROSE and (not text.begins or _is_joint_prose(text.words)):
                self._remarks.add(
                    text.line, f"words between corners that were not used: {quoted(text.words.strip())}"
                )
            elif kind in (Words.PROSE, Words.NOTE) and text.begins and not counted_on:
                return self._ask(corner, text)
        rare = self.blanks > 0 and self._usual_blanks >= 0 and self.blanks != self._usual_blanks
        if rare and enough and not kinds and not counted_on:
            return self._ask(corner, None)
        return "same"

    def _ask(self, corner: Corner, text: Text | None) -> str:
        found = f"{quoted(text.words.strip())} stands" if text else "an empty line stands"
        question = (
            f"{found} between two corners: does {quoted(corner.words)} begin a new area, or is it the next"
            " corner of the same one?"
        )
        answers = {_NEW: "area", _SAME: "same"}
        line = text.line if text else corner.line
        return self._asker.ask(f"line {line}", question, (_NEW, _SAME), answers.get) or "same"


def _kind(text: Text) -> Words:
    """Return what a text says; behind a corner on its line, only a new sentence can head an area."""
    kind = classify(text.words)
    if kind in (Words.HEADING, Words.TITLE) and not text.begins:
        return kind if text.words.lstrip()[:1] in (".", ";") else Words.PROSE
    return kind


def _may_go_on(ring: Ring, corner: Corner) -> bool:
    """Return whether a corner may well be the next of an open ring: counted on, or no farther than a side."""
    if _follows(ring.corners[-1].label, corner.label):
        return True
    around = [*ring.corners, ring.corners[0]]
    longest = max(_apart_deg(one, other) for one, other in pairwise(around))
    return _apart_deg(ring.corners[-1], corner) <= longest


def _apart_deg(one: Corner, other: Corner) -> float:
    """Return roughly how far two corners lie apart, in degrees of latitude."""
    dlon = (float(other.lon_deg - one.lon_deg) + 180.0) % 360.0 - 180.0
    return math.hypot(dlon * math.cos(math.radians(float(one.lat_deg))), float(other.lat_deg - one.lat_deg))


def _follows(before: str, label: str) -> bool:
    """Return whether a label is the next after another: 4 after 3, d after c."""
    if before.isdigit() and label.isdigit():
        return int(label) == int(before) + 1
    return len(before) == len(label) == 1 and before.isalpha() and ord(label) == ord(before) + 1


def _is_joint_prose(words: str) -> bool:
    start = words.strip(" ,;.-–—|\t").lower()
    return start.startswith(("then", "and ", "to ", "from ", "continuing", "proceeding", "running"))
