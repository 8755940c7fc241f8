"""Sail an invented vessel along invented legs and write zones, routes and tracks with fixed formatting.

Uses pyproj and the standard library alone, nothing of towzone, so that the samples are an outside opinion.
The same input gives the same bytes: positions are rounded to 0.000001 degree, about 0.1 m.
"""

from __future__ import annotations

import json
import math
import random
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from statistics import NormalDist

from pyproj import Geod, Proj

__all__ = [
    "Fix",
    "Phase",
    "Voyage",
    "ahead",
    "beside_rhumb",
    "feature",
    "geojson",
    "gpx_route",
    "gpx_track",
    "nmea_log",
    "position_csv",
    "rounding",
]

GEOD = Geod(ellps="WGS84")
NMI_M = 1852.0  # exactly; SI Brochure, 8th ed. (2006), Table 8
STEP_S = 10
# A good receiver's error wanders by a metre or two over minutes rather than jumping with every fix: common
# practice, no source. First-order Markov noise, standard deviation and correlation time per axis:
NOISE_M, NOISE_S = 1.5, 600.0
DRIFT_KN, DRIFT_DEG = 0.05, 60.0

Point = tuple[float, float]
"""Longitude, latitude in degrees."""


def ahead(start: Point, bearing_deg: float, distance_m: float) -> Point:
    """Return the point at a true bearing and distance along the geodesic."""
    lon, lat, _ = GEOD.fwd(*start, bearing_deg, distance_m)
    return lon, lat


def beside_rhumb(a: Point, b: Point, fraction: float, left_m: float) -> Point:
    """Return a point a given distance to the left (negative: right) of the rhumb line from a to b.

    A rhumb line is straight on the ellipsoidal Mercator projection, which also keeps its bearing.
    """
    mercator = Proj(proj="merc", ellps="WGS84", lon_0=a[0])
    (x0, y0), (x1, y1) = mercator(*a), mercator(*b)
    foot = mercator(x0 + fraction * (x1 - x0), y0 + fraction * (y1 - y0), inverse=True)
    return ahead(foot, math.degrees(math.atan2(x1 - x0, y1 - y0)) - 90.0, left_m)


def rounding(
    corner: Point,
    back_deg: float,
    onward_deg: float,
    *,
    radius_m: float,
    clearance_m: float,
    run_in_m: float,
    run_out_m: float,
    step_m: float,
) -> list[Point]:
    """Return a line round the outside of a corner, turning right on an arc with a point every few metres.

    From the corner two edges lead off, ``back_deg`` the way the vessel comes from and ``onward_deg`` the way
    it goes, the area between them to starboard. The arc is nearest to the corner in its middle; at its ends
    it runs into legs along the edges.
    """
    inward_deg = onward_deg + (back_deg - onward_deg) % 360.0 / 2.0
    centre = ahead(corner, inward_deg, radius_m - clearance_m)
    first_deg, last_deg = back_deg + 90.0, onward_deg - 90.0
    turn_deg = (last_deg - first_deg) % 360.0
    steps = round(math.radians(turn_deg) * radius_m / step_m)
    arc = [ahead(centre, first_deg + turn_deg * n / steps, radius_m) for n in range(steps + 1)]
    return [ahead(arc[0], back_deg, run_in_m), *arc, ahead(arc[-1], onward_deg, run_out_m)]


@dataclass(frozen=True)
class Fix:
    """One position of a track, in degrees, with its second and its segment."""

    second: int
    lon_deg: float
    lat_deg: float
    segment: int


@dataclass(frozen=True)
class Phase:
    """A named stretch of a voyage, from its first to its last second."""

    name: str
    first: int
    last: int


@dataclass
class Voyage:
    """A vessel on its way; every method moves it on and notes where it was every ten seconds.

    Parameters
    ----------
    position : Point
        Where it starts.
    seed : int
        Of the receiver noise.
    """

    position: Point
    seed: int
    second: int = 0
    _dark: bool = False
    _segment: int = 0
    _fixes: list[Fix] = field(default_factory=list)
    phases: list[Phase] = field(default_factory=list)

    def run(self, to: Point, speed_kn: float) -> None:
        """Go to a point along the geodesic at a steady speed."""
        bearing_deg, _, distance_m = GEOD.inv(*self.position, *to)
        # Whole steps, so the speed changes by less than a thousandth on the legs of the samples.
        steps = max(1, round(distance_m / (speed_kn * NMI_M / 3600.0 * STEP_S)))
        start = self.position
        for n in range(1, steps + 1):
            self._note()
            self.position = ahead(start, bearing_deg, distance_m * n / steps)
            self.second += STEP_S

    def follow(self, points: Iterable[Point], speed_kn: float) -> None:
        """Go through several points."""
        for point in points:
            self.run(point, speed_kn)

    def lie(self, minutes: float) -> None:
        """Lie stopped, drifting hardly at all."""
        self.run(ahead(self.position, DRIFT_DEG, DRIFT_KN * NMI_M * minutes / 60.0), DRIFT_KN)

    def steam(self, points: Iterable[Point], speed_kn: float, name: str) -> None:
        """Go through several points with the gear on board, as a named phase."""
        first = self.second
        self.follow(points, speed_kn)
        self.phases.append(Phase(name, first, self.second))

    def tow(self, points: Sequence[Point], speed_kn: float, name: str) -> None:
        """Make one tow from the first point on and lie stopped after hauling, so that tows stand apart.

        Shooting takes 8 and hauling 10 minutes at little speed: common practice, no source.
        """
        first = self.second
        self._leg_of_minutes(points[1], 8, 1.2)
        self.follow(points[1:], speed_kn)
        bearing_deg, _, _ = GEOD.inv(*points[-2], *points[-1])
        self._leg_of_minutes(ahead(self.position, bearing_deg, NMI_M), 10, 1.1)
        self.phases.append(Phase(name, first, self.second))
        self.lie(20)

    def go_dark(self, points: Iterable[Point], speed_kn: float, name: str) -> None:
        """Go through several points without a single fix; the next fix begins a new segment."""
        first = self.second
        self._note()
        self._dark = True
        self.follow(points, speed_kn)
        self._dark = False
        self._segment += 1
        self.phases.append(Phase(name, first, self.second))

    def new_segment(self) -> None:
        """Let the next fix begin a new segment, as when the plotter starts a new file."""
        self._segment += 1

    def fixes(self) -> list[Fix]:
        """Return all fixes with the noise of the receiver, rounded as they are written."""
        self._note()
        noise = random.Random(self.seed)
        normal = NormalDist(0.0, NOISE_M)
        keep = math.exp(-STEP_S / NOISE_S)
        fresh = math.sqrt(1.0 - keep * keep)
        east, north = 0.0, 0.0
        noisy = []
        for fix in self._fixes:
            east = keep * east + fresh * normal.inv_cdf(noise.random())
            north = keep * north + fresh * normal.inv_cdf(noise.random())
            lon, lat = ahead(
                (fix.lon_deg, fix.lat_deg), math.degrees(math.atan2(east, north)), math.hypot(east, north)
            )
            noisy.append(Fix(fix.second, _rounded(lon), _rounded(lat), fix.segment))
        return noisy

    def _leg_of_minutes(self, towards: Point, minutes: float, speed_kn: float) -> None:
        bearing_deg, _, _ = GEOD.inv(*self.position, *towards)
        self.run(ahead(self.position, bearing_deg, speed_kn * NMI_M * minutes / 60.0), speed_kn)

    def _note(self) -> None:
        known = bool(self._fixes) and self._fixes[-1].second == self.second
        if not self._dark and not known:
            self._fixes.append(Fix(self.second, *self.position, self._segment))


def _rounded(degrees: float) -> float:
    # GPX 1.1 has longitudes from -180 up to, but not including, 180.
    value = round(degrees, 6) + 0.0
    return -180.0 if value == 180.0 else value


def gpx_route(name: str, desc: str, points: Sequence[tuple[Point, str]], day: str) -> str:
    """Return a GPX 1.1 route without times; each point has a word on why it is there."""
    rows = [
        f'    <rtept lat="{_rounded(lat):.6f}" lon="{_rounded(lon):.6f}">'
        f"<name>{number}</name><desc>{why}</desc></rtept>"
        for number, ((lon, lat), why) in enumerate(points, start=1)
    ]
    body = ["  <rte>", f"    <name>{name}</name>", f"    <desc>{desc}</desc>", *rows, "  </rte>"]
    return _gpx(name, desc, body, f"{day}T00:00:00Z")


def gpx_track(name: str, desc: str, fixes: Sequence[Fix], start: datetime) -> str:
    """Return a GPX 1.1 track with a time on every fix and one segment for each of the voyage's."""
    body = ["  <trk>", f"    <name>{name}</name>", f"    <desc>{desc}</desc>"]
    for segment in sorted({fix.segment for fix in fixes}):
        body.append("    <trkseg>")
        body += [
            f'<trkpt lat="{fix.lat_deg:.6f}" lon="{fix.lon_deg:.6f}">'
            f"<time>{start + timedelta(seconds=fix.second):%Y-%m-%dT%H:%M:%SZ}</time></trkpt>"
            for fix in fixes
            if fix.segment == segment
        ]
        body.append("    </trkseg>")
    body.append("  </trk>")
    return _gpx(name, desc, body, f"{start:%Y-%m-%dT%H:%M:%SZ}")


def nmea_log(note: str, fixes: Sequence[Fix], start: datetime) -> str:
    """Return a log as a receiver and a sounder write it: RMC, GGA and DPT for every fix, CR LF at line ends.

    The note is a sentence of text (TXT), which readers of positions pass over. Depths are made up: 110 to
    126 m, in slow waves.
    """
    lines = [_sentence(f"GPTXT,01,01,02,{note}")]
    for fix, after in zip(fixes, [*fixes[1:], fixes[-1]], strict=True):
        when = start + timedelta(seconds=fix.second)
        course_deg, _, distance_m = GEOD.inv(fix.lon_deg, fix.lat_deg, after.lon_deg, after.lat_deg)
        speed_kn = distance_m / max(after.second - fix.second, 1) / NMI_M * 3600.0
        where = f"{_angle(fix.lat_deg, 2, 'NS')},{_angle(fix.lon_deg, 3, 'EW')}"
        course = f"{speed_kn:.1f},{course_deg % 360.0:.1f}"
        depth_m = 118.0 + 8.0 * math.sin(fix.second / 2400.0)
        lines += [
            _sentence(f"GPRMC,{when:%H%M%S}.00,A,{where},{course},{when:%d%m%y},,,A"),
            _sentence(f"GPGGA,{when:%H%M%S}.00,{where},1,10,0.9,4.0,M,50.0,M,,"),
            _sentence(f"SDDPT,{depth_m - 4.5:.1f},4.5,"),
        ]
    return "".join(f"{line}\r\n" for line in lines)


def _sentence(body: str) -> str:
    check = 0
    for character in body.encode("ascii"):
        check ^= character
    return f"${body}*{check:02X}"


def _angle(degrees: float, width: int, letters: str) -> str:
    ten_thousandths = round(abs(degrees) * 600_000)
    whole, rest = divmod(ten_thousandths, 600_000)
    return f"{whole:0{width}d}{rest // 10_000:02d}.{rest % 10_000:04d},{letters[degrees < 0]}"


def position_csv(note: str, vessel: str, fixes: Sequence[Fix], start: datetime) -> str:
    """Return position reports as a table of one vessel, with a comment before its header."""
    rows = [
        f"{vessel},{start + timedelta(seconds=fix.second):%Y-%m-%dT%H:%M:%SZ},"
        f"{fix.lat_deg:.4f},{fix.lon_deg:.4f}"
        for fix in fixes
    ]
    return "\n".join([f"# {note}", "vessel,time,lat,lon", *rows, ""])


def _gpx(name: str, desc: str, body: Sequence[str], time: str) -> str:
    head = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx version="1.1" creator="towzone samples" xmlns="http://www.topografix.com/GPX/1/1">',
        f"  <metadata><name>{name}</name><desc>{desc}</desc><time>{time}</time></metadata>",
    ]
    return "\n".join([*head, *body, "</gpx>", ""])


def feature(kind_of_geometry: str, coordinates: object, **properties: object) -> dict[str, object]:
    """Return one GeoJSON feature."""
    geometry = {"type": kind_of_geometry, "coordinates": coordinates}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def geojson(note: str, features: Sequence[dict[str, object]]) -> str:
    """Return a FeatureCollection whose foreign member ``note`` (RFC 7946, section 6.1) says what it is."""
    text = json.dumps({"type": "FeatureCollection", "note": note, "features": features}, indent=2)
    return re.sub(r"\[\s+(-?[\d.]+),\s+(-?[\d.]+)\s+\]", r"[\1, \2]", text) + "\n"
