"""Read the samples and measure them with plain second implementations, for the tests of the samples.

Distances come from dense points on the ellipsoid and the straight line between two of them in space:
nothing of towzone's geometry, and nothing of the script that made the samples, is used. Where the gear was
comes from `gear_oracle`, which drags it behind the vessel in small steps.
For points h metres apart and a clearance d the answer is too long by at most h * h / (8 * d) on either side.
"""

from __future__ import annotations

import json
import math
import re
import tomllib
import xml.etree.ElementTree as ET
from datetime import datetime
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
from gear_oracle import KNOT_MPS, Boundary, Plane, along, dragged, least_m, level, moments, offset
from pyproj import Geod, Proj, Transformer

REPOSITORY = Path(__file__).resolve().parents[1]
GPX = "{http://www.topografix.com/GPX/1/1}"  # the namespace GPX 1.1 gives itself
NMI_M = 1852.0  # exactly; SI Brochure, 8th ed. (2006), Table 8
POSITION_ERROR_M = 15.0  # towzone's documented default
MAX_SPEED_MPS = 12 * NMI_M / 3600  # towzone's documented default for gaps
GEOD = Geod(ellps="WGS84")
TO_SPACE = Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True)

# The manifest: what every phase of every sample ends as, and which phases make one tow.

CLEAR_OF_ALL = {
    "GW-AREA": "clear",
    "GW-CABLE": "clear",
    "GW-PIPE": "clear",
    "GW-PLATFORM": "clear",
    "GW-WRECK": "clear",
}
TRIP_STORY = {
    "out": CLEAR_OF_ALL,
    "tow 1": CLEAR_OF_ALL,
    "to tow 2": CLEAR_OF_ALL,
    "tow 2": CLEAR_OF_ALL | {"GW-CABLE": "too_close"},
    "to tow 3": CLEAR_OF_ALL,
    "tow 3": CLEAR_OF_ALL | {"GW-AREA": "inside"},
    "home": CLEAR_OF_ALL,
    "gap": CLEAR_OF_ALL,
    "last miles": CLEAR_OF_ALL,
}
GAP_STORY = {
    "out": CLEAR_OF_ALL,
    "tow before the gap": CLEAR_OF_ALL,
    "gap": CLEAR_OF_ALL | {"GW-PLATFORM": "undetermined", "GW-PIPE": "undetermined"},
    "tow after the gap": CLEAR_OF_ALL,
}
PLOVER_STORY = {
    "out": {"PR-AREA": "clear", "PR-CABLE": "clear"},
    "tow 1": {"PR-AREA": "inside", "PR-CABLE": "clear"},
}
PLAN_STORY = {
    "greywether_plan": CLEAR_OF_ALL | {"GW-CABLE": "too_close", "GW-AREA": "inside"},
    "greywether_plan_mended": CLEAR_OF_ALL,
    "plover_plan": {"PR-AREA": "clear", "PR-CABLE": "clear"},
}
# Of the vessels alone; what their gear did is told by `gear_clearances_m`.
ROUND_STORY = {"out": CLEAR_OF_ALL, "tow 1": CLEAR_OF_ALL, "home": CLEAR_OF_ALL}
STORIES = {
    "greywether_trip": TRIP_STORY,
    "greywether_trip_gap": GAP_STORY,
    "greywether_corner": ROUND_STORY,
    "greywether_tip": ROUND_STORY,
    "plover_track": PLOVER_STORY,
}
TOWS = {
    "greywether_trip": {
        1: ("out", "tow 1"),
        2: ("to tow 2", "tow 2"),
        3: ("to tow 3", "tow 3"),
        4: ("home", "gap", "last miles"),
    },
    "greywether_trip_gap": {1: ("out", "tow before the gap", "gap", "tow after the gap")},
    "greywether_corner": {1: ("out", "tow 1"), 2: ("home",)},
    "greywether_tip": {1: ("out", "tow 1"), 2: ("home",)},
    "plover_track": {1: ("out", "tow 1")},
}
WORST_FIRST = ("inside", "too_close", "undetermined", "clear")


def told_of_tows(name):
    """Status by tow and zone of a completed sample when every moving stretch counts as a tow."""
    story = STORIES[name]
    return {
        tow: {
            zone: min((story[phase][zone] for phase in phases), key=WORST_FIRST.index)
            for zone in story[phases[0]]
        }
        for tow, phases in TOWS[name].items()
    }


def mercator(centre_deg: float) -> Proj:
    return Proj(proj="merc", ellps="WGS84", lon_0=centre_deg)


def rhumb_points(a, b, step_m=20.0):
    """Points along a rhumb line: straight on the ellipsoidal Mercator projection."""
    project = mercator(a[0])
    n = max(2, math.ceil(GEOD.inv(*a, *b)[2] / step_m) + 1)
    (x0, y0), (x1, y1) = project(*a), project(*b)
    return np.column_stack(project(np.linspace(x0, x1, n), np.linspace(y0, y1, n), inverse=True))


def geodesic_points(a, b, step_m=20.0):
    n = math.ceil(GEOD.inv(*a, *b)[2] / step_m)
    return np.array([a, *GEOD.npts(*a, *b, max(n - 1, 1)), b])


def lonlat_points(a, b, step_m=20.0):
    n = max(2, math.ceil(GEOD.inv(*a, *b)[2] / step_m) + 1)
    return np.column_stack([np.linspace(a[0], b[0], n), np.linspace(a[1], b[1], n)])


def in_space(points):
    return np.column_stack(TO_SPACE.transform(points[:, 0], points[:, 1], np.zeros(len(points))))


def distances_m(points, others):
    """Matrix of straight distances; at 10 km they are 1 mm shorter than those along the sea."""
    a, b = in_space(np.asarray(points)), in_space(np.asarray(others))
    centre = b.mean(axis=0)
    a, b = a - centre, b - centre  # keeps the cancellation below a millimetre
    squares = (a**2).sum(axis=1)[:, None] + (b**2).sum(axis=1)[None, :] - 2.0 * (a @ b.T)
    return np.sqrt(np.maximum(squares, 0.0))


def nearest_m(points, others):
    pieces = np.array_split(np.asarray(points), len(points) // 500 + 1)
    return np.concatenate([distances_m(piece, others).min(axis=1) for piece in pieces])


def inside_rhumb_ring(points, ring):
    """Even-odd rule on the Mercator projection, where rhumb edges are straight."""
    project = mercator(ring[0][0])
    x, y = project(*np.asarray(points).T)
    corners = [project(*corner) for corner in ring]
    odd = np.zeros(len(x), dtype=bool)
    for (x0, y0), (x1, y1) in pairwise(corners):
        between = (y0 > y) != (y1 > y)
        odd ^= between & (x < x0 + (y - y0) / (y1 - y0 or 1.0) * (x1 - x0))
    return odd


@cache
def read_zones(name):
    zones = {}
    for feature in json.loads((REPOSITORY / "sample_zones" / f"{name}.geojson").read_text())["features"]:
        geometry, properties = feature["geometry"], feature["properties"]
        along = {"rhumb": rhumb_points, "geodesic": geodesic_points}[properties["edges"]]
        ring, line = None, geometry["coordinates"]
        if geometry["type"] == "Polygon":
            ring = line = geometry["coordinates"][0]
        elif geometry["type"] == "Point":
            line = [geometry["coordinates"]]
        dense = [along(a, b) for a, b in pairwise(line)] or [np.array(line)]
        zones[properties["zone_id"]] = (
            np.concatenate(dense),
            ring,
            length_m(properties.get("radius", "0m")),
            length_m(properties["margin"]),
        )
    return zones


def length_m(text):
    return float(text[:-3]) * NMI_M if text.endswith("nmi") else float(text[:-1])


def clearance_m(points, zone):
    """Clearance of each point, negative inside."""
    boundary, ring, radius_m, _ = zone
    distance_m = nearest_m(points, boundary) - radius_m
    return distance_m if ring is None else np.where(inside_rhumb_ring(points, ring), -1, 1) * distance_m


def status(points, zone):
    clearance, margin_m = clearance_m(points, zone).min(), zone[3]
    if clearance < -POSITION_ERROR_M:
        return "inside"
    if clearance < margin_m:
        return "too_close"
    return "undetermined" if clearance < margin_m + POSITION_ERROR_M else "clear"


def status_of_gap(before, after, seconds, zone):
    """Whether any point of the zone's required distance could have been reached between two fixes."""
    boundary, _, radius_m, margin_m = zone
    around_m = distances_m([before, after], boundary).sum(axis=0).min()
    reach_m = MAX_SPEED_MPS * seconds + 2 * POSITION_ERROR_M
    return "clear" if around_m - 2 * (radius_m + margin_m) > reach_m else "undetermined"


@cache
def read_fixes(name):
    root = ET.parse(REPOSITORY / "sample_tracks" / f"{name}.gpx").getroot()
    segments = root.findall(f"{GPX}trk/{GPX}trkseg")
    rows = [
        (
            datetime.fromisoformat(point.find(f"{GPX}time").text),
            float(point.get("lon")),
            float(point.get("lat")),
            number,
        )
        for number, segment in enumerate(segments)
        for point in segment.findall(f"{GPX}trkpt")
    ]
    return [row[0] for row in rows], np.array([row[1:3] for row in rows]), [row[3] for row in rows]


def read_route(name):
    root = ET.parse(REPOSITORY / "sample_tracks" / f"{name}.gpx").getroot()
    return [(float(p.get("lon")), float(p.get("lat"))) for p in root.findall(f"{GPX}rte/{GPX}rtept")]


# The gear of the sample vessel.

VESSEL = "sample_tracks/greywether_vessel.toml"


def profile():
    """Figures of the sample vessel in metres and knots, by table and name, read on their own."""
    text = (REPOSITORY / VESSEL).read_text(encoding="utf-8")
    return {
        table: {name: _plain(value) for name, value in figures.items()}
        for table, figures in tomllib.loads(text).items()
    }


def _plain(value):
    found = re.fullmatch(r"([\d.]+)\s*(m|nmi|kn|m/s|s|min)", value) if isinstance(value, str) else None
    return float(found[1]) * {"nmi": NMI_M, "min": 60.0}.get(found[2], 1.0) if found else value


def gear_paths(points, seconds, *, step_s=0.5):
    """The plane, and by part the paths of the sample vessel and its gear as complex places (n,).

    In the stream that the profile states, if any. The brakes are on all the time: true from some minutes
    after a tow began until it is hauled.
    """
    figures = profile()
    gear, position = figures["gear"], figures.get("position", {})
    plane = Plane(*np.mean(points, axis=0))
    at = moments(np.asarray(seconds, float), step_s)
    vessel = along(seconds, plane.flat(*np.asarray(points).T), at)
    block = offset(vessel[:, None], position.get("block_aft", 0.0), position.get("block_starboard", 0.0))[
        :, 0
    ]
    height = gear["depth"] + gear["block_height"]
    astern = level(gear["warp"], height, (gear["door_spread"] - gear["block_separation"]) / 2.0)
    wing = gear["wing_spread"]
    # Two nets side by side between two doors and a clump: each spans half of the spread.
    sweeps = level(gear["sweeps"], 0.0, (gear["door_spread"] / 2.0 - wing) / 2.0)
    stream = {"drift": 0.0, "set_deg": 0.0} | figures.get("current", {})
    current = stream["drift"] * KNOT_MPS * np.exp(1j * np.radians(90.0 - stream["set_deg"]))
    gone = dragged(at, block[:, None], astern, sweeps + gear["net_length"], current_mps=current)
    doors, u, codend, u2 = (z[:, 0] for z in (gone.doors, gone.u, gone.codend, gone.u2))
    half = 1j * u * gear["door_spread"] / 2.0
    half = 1j * u * gear["door_spread"] / 2.0
    paths = {"vessel": vessel, "port door": doors + half, "starboard door": doors - half}
    paths["clump"] = block - u * level(gear.get("clump_warp", gear["warp"]), height)
    for side, sign in (("port", 1.0), ("starboard", -1.0)):
        aside = 1j * u2 * sign * gear["door_spread"] / 4.0
        paths[f"codend, {side} net"] = codend + aside
        for wing_end, more in (("port", 0.5), ("starboard", -0.5)):
            mouth = codend + u2 * gear["net_length"] + aside + 1j * u2 * more * wing
            paths[f"{wing_end} wing-end, {side} net"] = mouth
    return plane, paths


@cache
def zone_chords(name, zone_id):
    """A sample zone as chords in space."""
    features = json.loads((REPOSITORY / "sample_zones" / f"{name}.geojson").read_text())["features"]
    found = next(f for f in features if f["properties"]["zone_id"] == zone_id)
    geometry, properties = found["geometry"], found["properties"]
    rings = [np.array(ring[:-1]) for ring in geometry["coordinates"]] if geometry["type"] == "Polygon" else []
    strings = [(ring, True) for ring in rings] or [(np.array(geometry["coordinates"]).reshape(-1, 2), False)]
    radius_m = length_m(properties.get("radius", "0m"))
    return Boundary(properties["edges"], [rings] if rings else [], strings, radius_m)


@cache
def gear_clearances_m(name, zone_id, first_s, last_s):
    """Least clearance of the vessel and of each part of its gear between two moments of a sample."""
    times, points, _ = read_fixes(name)
    seconds = np.array([(time - times[0]).total_seconds() for time in times])
    held = (seconds >= first_s) & (seconds <= last_s)
    plane, paths = gear_paths(points[held], seconds[held])
    zone = zone_chords("greywether_bank", zone_id)
    return {part: least_m(zone, plane, path)[0] for part, path in paths.items()}
