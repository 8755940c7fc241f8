"""Whole checks of random small scenes against a plain re-implementation of the rules, statuses and all.

The second implementation shares nothing with towzone's geometry: lines and clearances come from `oracles`
(numerical integrals and pyproj's geodesics), inside from counting dense points, depth from chords 20 m long
in space, the gap's ellipse from dense points of the boundary. Clearances must agree to 1 cm.
"""

from __future__ import annotations

import numpy as np
import pytest
from oracles import GEOD, Lines, _ball, clearances, densify, inside
from scenes import KNOT_MPS, area, areas, check, fixes, line, moved, points, route, zone
from strategies import star, wrapped

from towzone.geodesy.lines import LineKind
from towzone.model.track import TrackKind
from towzone.model.zone import ZoneKind

SEED = 20260316
SCENES = 12
"""For each of five places; three zones each: 180 verdicts."""

PLACES = {
    "mid latitude": (-20.0, 57.0),
    "across 180": (179.99, -16.0),
    "high latitude": (30.0, 79.5),
    "equator": (0.0, 0.0),
    "south": (-179.99, -62.0),
}
ERROR_M, GAP_S, SPEED_KN = 15.0, 900.0, 12.0
CHORD_M = 20.0
UNSURE_M = 0.02
"""Scenes nearer than this to where a status changes may come out either way."""


# ---------------------------------------------------------------- random scenes


def random_track(rng, middle):
    n = int(rng.integers(1, 6))
    places = [moved(middle, rng.uniform(0, 360), rng.uniform(0, 4000)) for _ in range(n)]
    if rng.random() < 0.25 and n > 1:
        return route(places)
    steps = rng.choice([120.0, 240.0, 400.0, 1800.0], n, p=[0.4, 0.3, 0.2, 0.1])
    return fixes(places, np.cumsum([0.0, *steps[1:]]))


def random_zone(rng, middle, number):
    edges = list(LineKind)[number]
    at = moved(middle, rng.uniform(0, 360), rng.uniform(0, 5000))
    size = 10.0 ** rng.uniform(2.0, 3.8)
    more = {"edges": edges, "zone_id": f"Z{number}", "margin_m": float(rng.choice([0.0, 150.0, 463.0]))}
    what = rng.choice(["point", "line", "star", "holed", "parts"])
    if what == "point":
        return zone(points(at), ZoneKind.OBSTRUCTION, radius_m=float(rng.choice([0.0, 500.0])), **more)
    if what == "line":
        corners = [at]
        for _ in range(int(rng.integers(1, 4))):
            corners.append(moved(corners[-1], rng.uniform(0, 360), size))
        return zone(line(*corners), ZoneKind.CABLE, radius_m=float(rng.choice([0.0, 100.0])), **more)
    ring = random_ring(rng, at, size)
    if what == "holed":
        return zone(area(ring, star(*at, np.arange(5) * 72.0, np.full(5, 0.2 * size))), **more)
    if what == "parts":
        other = moved(at, rng.uniform(0, 360), 3.0 * size)
        return zone(areas([ring], [random_ring(rng, other, size)]), **more)
    return zone(area(ring), **more)


def random_ring(rng, at, size):
    n = int(rng.integers(3, 8))
    return star(*at, rng.uniform(0, 360) + np.arange(n) * 360.0 / n, size * rng.uniform(0.6, 1.0, n))


# ---------------------------------------------------------------- the plain re-implementation


def boundary_lines(target):
    """All edges of a zone as one set of lines; a point is a line of no length."""
    starts, ends = [], []
    for corners, closed in target.shape.strings():
        if len(corners) == 1:
            starts.append(corners)
            ends.append(corners)
        else:
            after = np.roll(corners, -1, axis=0)
            starts.append(corners if closed else corners[:-1])
            ends.append(after if closed else after[:-1])
    a, b = np.concatenate(starts), np.concatenate(ends)
    return Lines.between(str(target.edges), a[:, 0], a[:, 1], b[:, 0], b[:, 1])


def boundary_points(target):
    """Dense points of every string of a zone, a list of (lon, lat)."""
    for corners, closed in target.shape.strings():
        if len(corners) == 1:
            yield corners[:, 0], corners[:, 1]
        else:
            for lon, lat in densify(str(target.edges), corners, CHORD_M, closed=closed):
                yield wrapped(lon), lat


def covered_lines(track):
    """The legs positions cover, and lone fixes as lines of no length; and the gaps as pairs of fixes."""
    lon, lat = track.lon_deg, track.lat_deg
    planned = track.kind is TrackKind.PLANNED
    steps = np.diff(track.time_utc) / np.timedelta64(1, "us") / 1e6
    held = np.ones(len(lon) - 1, dtype=bool) if planned else steps <= GAP_S
    legs = [(n, n + 1) for n in np.flatnonzero(held)]
    seen = {n for leg in legs for n in leg}
    legs += [(n, n) for n in range(len(lon)) if n not in seen]
    a, b = np.array(legs).T
    return Lines.between("rhumb" if planned else "geodesic", lon[a], lat[a], lon[b], lat[b]), [
        (n, float(steps[n])) for n in np.flatnonzero(~held)
    ]


def least_clearance(path, edge):
    """Least distance over all pairs of legs and edges."""
    i, k = (c.ravel() for c in np.indices((len(path), len(edge))))
    return float(clearances(path.take(i), edge.take(k)).distance_m.min())


def contains(target, lon, lat):
    polygons = [[np.array(ring) for ring in polygon] for polygon in target.shape.polygons]
    return inside(str(target.edges), polygons, wrapped(lon), lat, step_m=50.0)


def greatest_depth(path, target):
    """Greatest distance from the boundary over path points inside; ``None`` when none is inside."""
    chords = [_ball(lon, lat) for lon, lat in boundary_points(target)]
    start = np.concatenate([c[:-1] for c in chords if len(c) > 1])
    along = np.concatenate([np.diff(c, axis=0) for c in chords if len(c) > 1])
    leg, u = np.repeat(np.arange(len(path)), 4001), np.tile(np.linspace(0.0, 1.0, 4001), len(path))
    lon, lat, _, _ = path.take(leg).at(u)
    held = np.flatnonzero(contains(target, lon, lat))
    if not len(held):
        return None
    stride = len(held) // 500 + 1
    leg, u, cell = leg[held[::stride]], u[held[::stride]], stride / 4000.0
    for _ in range(6):  # from some metres to under 1 mm
        lon, lat, _, _ = path.take(leg).at(u)
        depth = np.where(contains(target, lon, lat), 0.0, -1.0)
        depth[depth == 0.0] = [_nearest_chord(p, start, along) for p in _ball(lon, lat)[depth == 0.0]]
        best = float(depth.max())
        top = np.argsort(depth)[-8:]
        leg, u = np.repeat(leg[top], 21), np.repeat(u[top], 21)
        u = np.clip(u + np.tile(np.linspace(-cell, cell, 21), len(top)), 0.0, 1.0)
        cell /= 10.0
    return best


def _nearest_chord(point, start, along):
    t = ((point - start) * along).sum(1) / np.maximum((along**2).sum(1), 1e-18)
    foot = start + np.clip(t, 0.0, 1.0)[:, None] * along
    return np.sqrt(((point - foot) ** 2).sum(1).min())


def reached_in(gap, track, target):
    """How much shorter than the budget the shortest way over the zone is, metres; infinite from inside."""
    fix, seconds = gap
    a, b = ((track.lon_deg[n], track.lat_deg[n]) for n in (fix, fix + 1))
    if target.shape.polygons and contains(target, np.array([a[0], b[0]]), np.array([a[1], b[1]])).any():
        return np.inf
    way = np.inf
    for lon, lat in boundary_points(target):
        one = GEOD.inv(np.full_like(lon, a[0]), np.full_like(lat, a[1]), lon, lat)[2]
        two = GEOD.inv(np.full_like(lon, b[0]), np.full_like(lat, b[1]), lon, lat)[2]
        way = min(way, float((np.asarray(one) + two).min()))
    straight = GEOD.inv(*a, *b)[2]
    budget = max(SPEED_KN * KNOT_MPS * seconds, straight) + 2 * ERROR_M
    return budget + 2 * (target.radius_m + target.margin_m) - way


def wanted(track, target):
    """Status and clearance by the rules of README, and how far (m) from a change of status."""
    path, gaps = covered_lines(track)
    clearance = least_clearance(path, boundary_lines(target)) - target.radius_m
    if target.shape.polygons:
        depth = greatest_depth(path, target)
        if depth is not None:
            clearance = -depth - target.radius_m
    limits = np.array([-ERROR_M, 0.005, target.margin_m, target.margin_m + ERROR_M])
    sure = float(np.abs(clearance - limits).min())
    spare = max((reached_in(gap, track, target) for gap in gaps), default=-np.inf)
    if clearance < -ERROR_M:
        return "inside", clearance, sure
    if clearance < max(target.margin_m, 0.005):
        return "too_close", clearance, sure
    if clearance < target.margin_m + ERROR_M:
        return "undetermined", clearance, sure
    # Dense points of the boundary lie 20 m apart: the way over them is at most 1 m too long.
    return ("undetermined" if spare >= 0.0 else "clear"), clearance, min(sure, abs(spare) - 1.0)


@pytest.mark.parametrize("place", PLACES)
def test_random_scenes_are_judged_as_the_plain_rules_judge_them(place):
    rng = np.random.default_rng([SEED, list(PLACES).index(place)])
    seen, worst = {}, 0.0
    for scene in range(SCENES):
        track = random_track(rng, PLACES[place])
        zones = [random_zone(rng, PLACES[place], n) for n in range(3)]
        result = check(track, zones, reach_m=1e6)
        if len(result.tows) != 1 or any(row.tow is None for row in result.rows):
            continue  # two fixes so near each other that the vessel seems to lie still
        rows = {row.zone_id: row for row in result.rows}
        for target in zones:
            status, clearance, sure = wanted(track, target)
            row = rows[target.zone_id]
            np.testing.assert_allclose(
                row.clearance_m, clearance, rtol=0, atol=0.01, err_msg=f"scene {scene}"
            )
            worst = max(worst, abs(row.clearance_m - clearance))
            if sure > UNSURE_M:
                assert row.status.value == status, (scene, target, row)
                seen[status] = seen.get(status, 0) + 1
    print(f"\n{place}: {seen}, worst difference {1000 * worst:.2f} mm")
    assert sum(seen.values()) >= 2 * SCENES
    assert {"inside", "clear"} <= seen.keys()
    assert len(seen) >= 3, "scenes that are all alike show nothing"
