"""What looks wrong about an area: a corner far off, a ring that crosses itself, a size not as stated."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from statistics import median

import numpy as np

from towzone.errors import GeometryError, quoted
from towzone.geodesy.lines import LineKind, inverse
from towzone.geodesy.shape import Corners, Shape, freeze
from towzone.geodesy.validity import shape_faults
from towzone.notices.areas import Area, Ring
from towzone.notices.corners import POSITION, Corner, given_corner
from towzone.notices.questions import Asker
from towzone.notices.remarks import Remarks
from towzone.notices.words import dimensions

__all__ = [
    "ask_crossings",
    "ask_far_corners",
    "compare_dimensions",
    "corners_of",
    "remark_on_closing",
    "ring_sides_m",
]

AS_PRINTED = "as-printed"
_FAR_TIMES = 4.0
"""Own choice: a corner this many times farther from the middle than the next farthest is asked about."""
_FAR_DEG = 0.4
_MOST_ORDERED = 60
"""Own limit on corners for which another order is suggested; the search is of third order."""
_MOST_SUGGESTIONS = 20
_CORNERS_OF_A_BOX = 4
_NEARLY = 0.01
"""Own choice: a closing side so much shorter than the usual one is told."""
_SIZE_TOLERANCE = 0.25
"""Own choice: stated dimensions are often rounded to half a mile."""


def corners_of(ring: Ring) -> Corners:
    """Return the corners of a ring, shape (n, 2), longitude and latitude in degrees.

    Where a list writes the 180th meridian once as east and once as west, one of them is taken for all,
    that of the other corners, so that no side seems to run round the earth.
    """
    lon = [float(corner.lon_deg) for corner in ring.corners]
    if 180.0 in lon and -180.0 in lon:
        side = 180.0 if sum(x for x in lon if abs(x) != 180.0) >= 0.0 else -180.0
        lon = [side if abs(x) == 180.0 else x for x in lon]
    return freeze(list(zip(lon, (float(corner.lat_deg) for corner in ring.corners), strict=True)))


def ring_sides_m(corners: Corners, kind: LineKind, *, closed: bool) -> list[float]:
    """Return the lengths of the sides in printed order, metres; empty when one cannot be drawn."""
    ends = np.roll(corners, -1, axis=0)
    count = len(corners) if closed else len(corners) - 1
    if count < 1 or shape_faults(Shape(points=corners), kind):
        return []
    starts, ends = corners[:count], ends[:count]
    step = np.abs(ends[:, 0] - starts[:, 0])
    if np.any((step == 180.0) | (step == 360.0)):
        return []
    try:
        length_m, _ = inverse(kind, starts[:, 0], starts[:, 1], ends[:, 0], ends[:, 1])
    except GeometryError:  # longer than any edge may be; the shape itself is refused with its corners
        return []
    return [float(length) for length in length_m]


def ask_far_corners(areas: Sequence[Area], asker: Asker) -> None:
    """Ask about corners that lie far from all others of their ring, and put the answers in place."""
    for area in areas:
        for ring in area.rings:
            at = _far_corner(ring)
            if at is None:
                continue
            corner = ring.corners[at]
            others = [c for k, c in enumerate(ring.corners) if k != at]
            turned = _turned(corner, others)
            said = [f"{answer} would bring it to them" for answer in turned]
            text = f"{quoted(corner.words)} lies far from the other corners of {_called(area)}" + (
                f" ({'; '.join(said)})" if said else ""
            )
            choices = {AS_PRINTED: corner, **turned}
            answer = asker.ask(
                f"line {corner.line}",
                text,
                (*turned, AS_PRINTED, POSITION),
                lambda given, choices=choices, corner=corner: (
                    choices.get(given) or given_corner(given, corner)
                ),  # type: ignore[misc]
            )
            if answer is not None:
                ring.corners[at] = answer


def _offsets(corner: Corner, middle: tuple[float, float]) -> float:
    dlon = (float(corner.lon_deg) - middle[0] + 180.0) % 360.0 - 180.0
    dlat = float(corner.lat_deg) - middle[1]
    return max(abs(dlon) * math.cos(math.radians(middle[1])), abs(dlat))


def _middle(corners: Sequence[Corner]) -> tuple[float, float]:
    first = float(corners[0].lon_deg)
    lon = [(float(c.lon_deg) - first + 180.0) % 360.0 - 180.0 for c in corners]
    return first + median(lon), median(float(c.lat_deg) for c in corners)


def _far_corner(ring: Ring) -> int | None:
    """Return the one corner far from the middle of the others, if there is one."""
    if len(ring.corners) < 4:
        return None
    middle = _middle(ring.corners)
    offsets = [_offsets(corner, middle) for corner in ring.corners]
    at = max(range(len(offsets)), key=offsets.__getitem__)
    others = [corner for k, corner in enumerate(ring.corners) if k != at]
    middle = _middle(others)
    away = _offsets(ring.corners[at], middle)
    spread = max(_offsets(corner, middle) for corner in others)
    return at if away > _FAR_DEG and away > _FAR_TIMES * spread else None


def _turned(corner: Corner, others: Sequence[Corner]) -> dict[str, Corner]:
    """Return the corner on the other side of the equator or of Greenwich where that brings it home."""
    middle = _middle(others)
    near = 2.0 * max(_offsets(other, middle) for other in others)
    names = {
        "west" if corner.lon_deg > 0 else "east": replace(corner, lon_deg=-corner.lon_deg),
        "south" if corner.lat_deg > 0 else "north": replace(corner, lat_deg=-corner.lat_deg),
    }
    return {answer: moved for answer, moved in names.items() if _offsets(moved, middle) <= near}


def ask_crossings(areas: Sequence[Area], kind: LineKind, asker: Asker) -> None:
    """Ask in which order the corners of a ring go that crosses itself; never mend it unasked."""
    for area in areas:
        for ring in area.rings:
            faults = _crossings(ring, kind)
            if not faults:
                continue
            order = _uncrossed(ring, kind) if len(asker.open) < _MOST_SUGGESTIONS else None
            answers = ("-".join(str(k + 1) for k in order),) if order else ()
            suggestion = f"; the order {answers[0]} does not cross" if answers else ""
            text = f"{_called(area)} joined as printed crosses itself: {faults[0]}{suggestion}"
            answer = asker.ask(
                f"line {ring.corners[0].line}",
                text,
                (*answers, "any other order of all corners, such as 2-1-3-4"),
                lambda given, ring=ring: _reordered(given, ring, kind),  # type: ignore[misc]
            )
            if answer is not None:
                ring.corners = answer


def _crossings(ring: Ring, kind: LineKind) -> list[str]:
    faults = shape_faults(Shape(polygons=((corners_of(ring),),)), kind)
    return [fault for fault in faults if " cross" in fault or "overlap" in fault]


def _reordered(answer: str, ring: Ring, kind: LineKind) -> list[Corner] | None:
    if len(answer) > 10 * len(ring.corners) + 10:
        return None
    parts = answer.replace(",", "-").split("-")
    if sorted(parts) != sorted(str(k + 1) for k in range(len(ring.corners))):
        return None
    corners = [ring.corners[int(part) - 1] for part in parts]
    return None if _crossings(Ring(corners=corners), kind) else corners


def _uncrossed(ring: Ring, kind: LineKind) -> list[int] | None:
    """Return an order without crossings near the printed one, or ``None``.

    Turning round the run between two crossing sides shortens the ring, so this ends.
    """
    count = len(ring.corners)
    if count > _MOST_ORDERED:
        return None
    middle = _middle(ring.corners)
    scale = math.cos(math.radians(middle[1]))
    xy = [
        (((float(c.lon_deg) - middle[0] + 180.0) % 360.0 - 180.0) * scale, float(c.lat_deg))
        for c in ring.corners
    ]
    order = list(range(count))
    for _ in range(count * count):
        pair = _first_crossing([xy[k] for k in order])
        if pair is None:
            break
        i, j = pair
        order[i + 1 : j + 1] = order[i + 1 : j + 1][::-1]
    corners = [ring.corners[k] for k in order]
    return order if not shape_faults(Shape(polygons=((corners_of(Ring(corners=corners)),),)), kind) else None


def _first_crossing(xy: list[tuple[float, float]]) -> tuple[int, int] | None:
    count = len(xy)
    for i in range(count - 1):
        for j in range(i + 2, count):
            if (j + 1) % count != i and _cross(xy[i], xy[i + 1], xy[j], xy[(j + 1) % count]):
                return i, j
    return None


def _cross(
    a: tuple[float, float], b: tuple[float, float], c: tuple[float, float], d: tuple[float, float]
) -> bool:
    def side(p: tuple[float, float], q: tuple[float, float], r: tuple[float, float]) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0


def remark_on_closing(area: Area, kind: LineKind, remarks: Remarks) -> None:
    """Remark on rings whose last corner misses the first by very little: a misprint, or a real corner."""
    for ring in area.rings:
        sides = ring_sides_m(corners_of(ring), kind, closed=True)
        if len(sides) > _CORNERS_OF_A_BOX - 1 and not ring.closed and sides[-1] < _NEARLY * median(sides):
            remarks.add(
                ring.corners[-1].line,
                f"the last corner lies {sides[-1]:.1f} m from the first; if it should close the ring it is"
                " misprinted",
            )


def compare_dimensions(area: Area, kind: LineKind, remarks: Remarks) -> None:
    """Remark on stated dimensions that the sides of a four-cornered area contradict."""
    sides = ring_sides_m(corners_of(area.rings[0]), kind, closed=True) if area.rings else []
    for text in area.notes:
        for words, one_m, other_m in dimensions(text.words):
            if len(area.rings) != 1 or len(sides) != 4:
                remarks.add(text.line, f"stated dimensions not compared with the corners: {quoted(words)}")
                continue
            found = sorted(((sides[0] + sides[2]) / 2, (sides[1] + sides[3]) / 2))
            stated = sorted((float(one_m), float(other_m)))
            lengths = " x ".join(f"{side / 1852:.3f}" for side in found)
            if all(_agree(a, b) for a, b in zip(found, stated, strict=True)):
                remarks.add(text.line, f"{quoted(words)} agrees with the sides, {lengths} nautical miles")
            else:
                remarks.add(
                    text.line,
                    f"{quoted(words)} contradicts the sides of {_called(area)}, which are {lengths}"
                    " nautical miles: compare the corners with the notice",
                )


def _called(area: Area) -> str:
    return quoted(area.name) if area.name else "this area"


def _agree(found_m: float, stated_m: float) -> bool:
    return abs(found_m - stated_m) <= _SIZE_TOLERANCE * stated_m
