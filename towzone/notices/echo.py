"""What was read, told back beside the words it was read from, so that a person can compare."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from towzone.geodesy.lines import WGS84, LineKind
from towzone.geodesy.shape import Corners
from towzone.model.draft import Echo
from towzone.notices.areas import Area
from towzone.notices.corners import Corner
from towzone.notices.doubts import corners_of, ring_sides_m
from towzone.units import NAUTICAL_MILE_M

__all__ = ["echo_areas", "position_text"]

_LEAST_DECIMALS, _MOST_DECIMALS = 3, 6


def position_text(corner: Corner) -> str:
    """Return a corner in degrees and minutes and in degrees, with all the decimals it was printed with.

    Minutes show at least 3 and at most 6 decimals, degrees 7 (a centimetre).
    """
    north = "S" if corner.lat_deg < 0 else "N"
    east = "W" if corner.lon_deg < 0 else "E"
    minutes = f"{_minutes(corner.lat_deg, 2)}{north} {_minutes(corner.lon_deg, 3)}{east}"
    return f"{minutes} ({float(corner.lat_deg):.7f}, {float(corner.lon_deg):.7f})"


def _minutes(angle_deg: Fraction, width: int) -> str:
    unit = 10**_MOST_DECIMALS
    degrees, rest = divmod(round(abs(angle_deg) * 60 * unit), 60 * unit)
    whole, decimals = divmod(rest, unit)
    digits = f"{decimals:0{_MOST_DECIMALS}d}".rstrip("0").ljust(_LEAST_DECIMALS, "0")
    return f"{degrees:0{width}d}°{whole:02d}.{digits}'"


def echo_areas(
    areas: Sequence[Area], kind: LineKind, *, form: str, edges_known: bool, first: int = 1
) -> list[Echo]:
    """Return one echo for each area and each of its corners.

    Parameters
    ----------
    areas : sequence of Area
    kind : LineKind
        How sides are measured; ``edges_known`` is false while a question about it is open.
    form : str
        ``polygon``, ``line`` or ``points``.
    edges_known : bool
    first : int
        Number of the first of them.
    """
    echoes: list[Echo] = []
    for number, area in enumerate(areas, start=first):
        head = f"area {number}" + (f" '{area.name}'" if area.name else "")
        summary = [_summary(area, form)]
        if form != "points":
            summary.append(f"sides measured as {kind} lines" + ("" if edges_known else ", not yet decided"))
        if form == "polygon" and (size := _size(area)):
            summary.append(size)
        echoes.append(Echo(where=f"line {area.line}", words=area.name, read=f"{head}: {'; '.join(summary)}"))
        for place, ring in enumerate(area.rings, start=1):
            within = ("hole, " if ring.hole else f"ring {place}, ") if len(area.rings) > 1 else ""
            sides = [] if form == "points" else ring_sides_m(corners_of(ring), kind, closed=form == "polygon")
            for at, corner in enumerate(ring.corners):
                side = f", {sides[at] / NAUTICAL_MILE_M:.3f} nmi to the next" if at < len(sides) else ""
                echoes.append(
                    Echo(
                        where=f"line {corner.line}",
                        words=corner.words,
                        read=f"{head}, {within}corner {at + 1}: {position_text(corner)}{side}",
                    )
                )
    return echoes


def _summary(area: Area, form: str) -> str:
    count = len(area.corners)
    text = f"{count} corner" + ("" if count == 1 else "s")
    if len(area.rings) > 1:
        text += f" in {len(area.rings)} rings"
    if form == "polygon":
        closed = sum(ring.closed for ring in area.rings)
        ways = {0: "not closed in the text, closed here", len(area.rings): "closed in the text"}
        text += f", {ways.get(closed, 'some rings closed in the text')}"
    return text


def _size(area: Area) -> str:
    """Return the size of an area on the ellipsoid, sides taken as geodesics; empty when it has none."""
    total_m2 = 0.0
    for ring in area.rings:
        corners: Corners = corners_of(ring)
        if len(corners) < 3:
            return ""
        size, _ = WGS84.polygon_area_perimeter(corners[:, 0], corners[:, 1])
        total_m2 += -abs(float(size)) if ring.hole else abs(float(size))
    return f"{total_m2 / 1e6:.2f} km² with geodesic sides"
