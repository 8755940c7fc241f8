"""What must hold of verdicts whatever the scene: hypothesis looks for the exception."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st
from scenes import GEOD, apart_m, area, areas, check, fixes, joined, line, moved, points, zone
from strategies import numbers, star

from towzone.geodesy.lines import LineKind, points_along
from towzone.geodesy.shape import Shape
from towzone.model.result import FINDINGS, Status
from towzone.model.zone import ZoneKind

FAR = 1e6
"""A reach that lists every pair."""


@st.composite
def middles(draw):
    lon = draw(st.one_of(numbers(-180.0, 179.9), st.sampled_from([179.99, -179.995, 180.0, 0.0])))
    return lon, draw(numbers(-75.0, 75.0))


@st.composite
def zones_around(draw, middle, *, kinds=("area", "line", "point"), zone_id="Z"):
    """A zone of any kind and edges within 10 km of a middle, with or without margin and radius."""
    at = moved(middle, draw(numbers(0.0, 360.0)), draw(numbers(0.0, 6000.0)))
    edges = draw(st.sampled_from(list(LineKind)))
    margin = draw(st.sampled_from([None, 0.0, 100.0, 463.0]))
    what = draw(st.sampled_from(kinds))
    if what == "point":
        radius = draw(st.sampled_from([0.0, 50.0, 500.0]))
        return zone(points(at), ZoneKind.OBSTRUCTION, radius_m=radius, margin_m=margin, zone_id=zone_id)
    size = 10.0 ** draw(numbers(1.7, 3.7))
    if what == "line":
        other = moved(at, draw(numbers(0.0, 360.0)), size)
        return zone(line(at, other), ZoneKind.CABLE, edges=edges, margin_m=margin, zone_id=zone_id)
    n = draw(st.integers(3, 7))
    radii = size * np.array(draw(st.lists(numbers(0.6, 1.0), min_size=n, max_size=n)))
    ring = star(*at, draw(numbers(0.0, 360.0)) + np.arange(n) * 360.0 / n, radii)
    return zone(area(ring), edges=edges, margin_m=margin, zone_id=zone_id)


@st.composite
def tracks_around(draw, middle, *, most=8, track_id="t"):
    """Fixes within 8 km, two to ten minutes apart, sometimes with a gap; fast enough never to stop."""
    n = draw(st.integers(1, most))
    places = [moved(middle, draw(numbers(0.0, 360.0)), 400.0 + draw(numbers(0.0, 7600.0))) for _ in range(n)]
    steps = [draw(st.sampled_from([120.0, 300.0, 600.0, 900.0, 2400.0])) for _ in range(n)]
    return fixes(places, np.cumsum([0.0, *steps[1:]]), track_id=track_id)


@st.composite
def scenes(draw, *, kinds=("area", "line", "point"), count=2):
    middle = draw(middles())
    track = draw(tracks_around(middle))
    some = [draw(zones_around(middle, kinds=kinds, zone_id=f"Z{n}")) for n in range(count)]
    return track, some


def statuses(track, zones, **settings):
    """Status by tow and zone; what was not listed is clear."""
    rows = check(track, zones, **({"reach_m": FAR} | settings)).rows
    return {(row.tow, row.zone_id): row.status for row in rows}


def worst(track, zones, **settings):
    """The worst status of each zone."""
    found = dict.fromkeys((z.zone_id for z in zones), Status.CLEAR)
    order = list(Status)
    for (_, zone_id), status in statuses(track, zones, **settings).items():
        found[zone_id] = min(found[zone_id], status, key=order.index)
    return found


def firm(track, zones, **settings):
    """Leave out scenes in which a clearance lies within 1 cm of where its status changes."""
    for row in check(track, zones, **({"reach_m": FAR} | settings)).rows:
        if row.clearance_m is None:
            continue
        limits = (-row.uncertainty_m, 0.0, 0.005, row.margin_m, row.margin_m + row.uncertainty_m)
        assume(min(abs(row.clearance_m - limit) for limit in limits) > 0.01)


# Margins and supersets.


@given(scenes(), numbers(0.0, 3000.0), numbers(0.0, 3000.0))
def test_a_bigger_margin_never_removes_a_finding_and_never_adds_a_clear(scene, one, two):
    track, zones = scene
    low, high = sorted((one, two))
    small, big = worst(track, zones, margin_m=low), worst(track, zones, margin_m=high)
    order = list(Status)
    for zone_id in small:
        assert order.index(big[zone_id]) <= order.index(small[zone_id])
        if small[zone_id] in FINDINGS:
            assert big[zone_id] in FINDINGS


@given(scenes(kinds=("area",), count=1), numbers(1.05, 3.0))
def test_a_zone_scaled_outwards_never_loses_an_inside(scene, factor):
    """Corners moved away from their middle; geodesic edges, for which larger holds smaller at this size.

    Geodesic stars scale about their middle up to size**3 / R**2 (3 mm here): 1 cm is left out.
    """
    track, (shut,) = scene
    ring = shut.shape.polygons[0][0]
    shut = replace(shut, edges=LineKind.GEODESIC)
    x, y = ring[:, 0], ring[:, 1]
    middle = moved((x[0], y[0]), GEOD.inv(x[0], y[0], x[-1], y[-1])[0], 0.0)
    centre = _middle(ring, middle)
    bigger = [moved(centre, GEOD.inv(*centre, *c)[0], factor * apart_m(centre, tuple(c))) for c in ring]
    firm(track, [shut])
    before, after = worst(track, [shut]), worst(track, [replace(shut, shape=area(bigger))])
    if before["Z0"] is Status.INSIDE:
        assert after["Z0"] is Status.INSIDE


def _middle(ring, start):
    """The mean of the corners, in a frame about one of them; inside a star of this kind."""
    lon = start[0] + (ring[:, 0] - start[0] + 180.0) % 360.0 - 180.0
    return float(lon.mean()), float(ring[:, 1].mean())


@given(scenes(kinds=("area",), count=2))
def test_another_part_never_removes_an_inside(scene):
    """Two areas as two zones, and as two parts of one zone that lie apart."""
    track, (one, two) = scene
    two = replace(two, edges=one.edges, shape=_shifted(two.shape, 0.6))
    both = replace(one, shape=Shape(polygons=one.shape.polygons + two.shape.polygons))
    if Status.INSIDE in worst(track, [one]).values():
        assert worst(track, [both])["Z0"] is Status.INSIDE


def _shifted(shape, north_deg):
    ring = shape.polygons[0][0] + np.array([0.0, north_deg])
    return area(ring)


# Times and fixes.


@given(scenes(), st.integers(0, 10), numbers(0.05, 0.95))
def test_splitting_a_leg_at_a_fix_between_changes_no_verdict_and_no_clearance(scene, leg, share):
    track, zones = scene
    assume(len(track) > 1)
    leg %= len(track) - 1
    seconds = (track.time_utc - track.time_utc[0]) / np.timedelta64(1, "us") / 1e6
    assume(seconds[leg + 1] - seconds[leg] <= 900.0)
    a, b = ((track.lon_deg[n], track.lat_deg[n]) for n in (leg, leg + 1))
    azimuth, _, length = GEOD.inv(*a, *b)
    between = moved(a, azimuth, length * share)
    when = seconds[leg] + share * (seconds[leg + 1] - seconds[leg])
    split = fixes(
        np.insert(np.column_stack([track.lon_deg, track.lat_deg]), leg + 1, between, axis=0),
        np.insert(seconds, leg + 1, when),
    )
    firm(track, zones)
    before, after = (check(t, zones, reach_m=FAR).rows for t in (track, split))
    # Speeds over a minute may change where a leg is cut, and with them what counts as a stop.
    assume([(r.tow, r.zone_id) for r in before] == [(r.tow, r.zone_id) for r in after])
    for old, new in zip(before, after, strict=True):
        assert (old.status, old.reason) == (new.status, new.reason)
        if old.clearance_m is not None:
            np.testing.assert_allclose(new.clearance_m, old.clearance_m, rtol=0, atol=0.01)


@given(scenes(), st.integers(-40_000_000, 40_000_000))
def test_shifting_all_times_shifts_times_and_nothing_else(scene, seconds):
    track, zones = scene
    by = np.timedelta64(seconds, "s")
    moved_track = replace(track, time_utc=track.time_utc + by)
    before, after = (check(t, zones, reach_m=FAR) for t in (track, moved_track))
    for old, new in zip(before.rows, after.rows, strict=True):
        assert (old.tow, old.zone_id, old.status, old.reason) == (
            new.tow,
            new.zone_id,
            new.status,
            new.reason,
        )
        assert old.clearance_m == new.clearance_m
        if old.closest is not None:
            # Seconds since 1970 in double precision are good to a quarter of a microsecond.
            assert abs((new.closest.utc - old.closest.utc) - by) <= np.timedelta64(2, "us")


@given(scenes(), st.data())
def test_opening_a_gap_never_makes_a_clear_of_what_was_not(scene, data):
    """Fixes taken out of a track, so that nothing is known for longer than the limit."""
    track, zones = scene
    assume(len(track) >= 3)
    first = data.draw(st.integers(1, len(track) - 2))
    last = data.draw(st.integers(first, len(track) - 2))
    keep = np.ones(len(track), dtype=bool)
    keep[first : last + 1] = False
    gone = replace(
        track,
        lon_deg=track.lon_deg[keep],
        lat_deg=track.lat_deg[keep],
        time_utc=track.time_utc[keep],
        part=track.part[keep],
        fixes_read=int(keep.sum()),
    )
    silent = (gone.time_utc[first] - gone.time_utc[first - 1]) / np.timedelta64(1, "s")
    # A vessel fast enough for its own fixes: else they are wrong, and so is the ellipse.
    legs_m = np.asarray(
        GEOD.inv(track.lon_deg[:-1], track.lat_deg[:-1], track.lon_deg[1:], track.lat_deg[1:])[2]
    )
    steps = np.diff(track.time_utc) / np.timedelta64(1, "s")
    fastest = float(np.max(legs_m / steps)) * 3600.0 / 1852.0
    gap_s = float(min(900.0, silent - 1.0))
    settings = {"gap_s": gap_s, "max_speed_kn": max(12.0, fastest + 0.01)}
    before, after = (
        worst(track, zones, gap_s=900.0, max_speed_kn=settings["max_speed_kn"]),
        worst(gone, zones, **settings),
    )
    for zone_id, status in before.items():
        if status is not Status.CLEAR:
            assert after[zone_id] is not Status.CLEAR
        if after[zone_id] in FINDINGS and status not in FINDINGS:
            raise AssertionError("less was known, and more was found")


# Order.


@given(scenes(count=3), st.permutations(range(3)))
def test_the_order_of_zones_does_not_matter(scene, order):
    track, zones = scene
    assert check(track, zones).rows == check(track, [zones[n] for n in order]).rows


@given(st.data())
def test_the_order_of_tracks_does_not_matter(data):
    middle = data.draw(middles())
    one, two = (data.draw(tracks_around(middle, track_id=i)) for i in ("t", "u"))
    zones = [data.draw(zones_around(middle))]
    assert check([one, two], zones).rows == check([two, one], zones).rows


@given(scenes())
def test_tracks_and_zones_are_judged_pair_by_pair(scene):
    """Another zone or track in the same run changes no row."""
    track, zones = scene
    alone = [row for z in zones for row in check(track, [z]).rows]
    together = check([track, fixes([(0.0, -89.0)], [0.0], track_id="far")], zones).rows
    assert sorted(map(repr, alone)) == sorted(repr(row) for row in together if row.track_id == "t")


# The same shape written another way.


@given(scenes(kinds=("area",), count=1), st.integers(0, 6), st.booleans())
def test_start_corner_and_direction_of_a_ring_do_not_matter(scene, start, turned):
    track, (shut,) = scene
    ring = shut.shape.polygons[0][0]
    again = np.roll(ring, start, axis=0)[:: -1 if turned else 1]
    firm(track, [shut])
    same(check(track, [shut], reach_m=FAR), check(track, [replace(shut, shape=area(again))], reach_m=FAR))


@given(scenes(kinds=("area",), count=1), st.integers(0, 6), numbers(0.05, 0.95))
def test_an_extra_corner_on_an_edge_does_not_matter(scene, edge, share):
    """Put there by the edge's own rule."""
    track, (shut,) = scene
    ring = np.array(shut.shape.polygons[0][0])
    edge %= len(ring)
    a, b = ring[edge], ring[(edge + 1) % len(ring)]
    lon, lat = points_along(shut.edges, *a, *b, share)
    corner = ((float(lon) + 180.0) % 360.0 - 180.0, float(lat))
    more = np.insert(ring, edge + 1, corner, axis=0)
    firm(track, [shut])
    same(check(track, [shut], reach_m=FAR), check(track, [replace(shut, shape=area(more))], reach_m=FAR))


@given(
    numbers(-60.0, 60.0), numbers(0.02, 0.2), st.sampled_from([LineKind.RHUMB, LineKind.LONLAT]), st.data()
)
def test_a_cut_at_180_degrees_does_not_matter(south, size, edges, data):
    """A box across 180 degrees, whole and cut in two."""
    middle = (180.0, south + size / 2.0)
    track = data.draw(tracks_around(middle, most=5))
    west, east, north = 180.0 - size, -180.0 + size, south + size
    whole = zone(
        area([(west, south), (east, south), (east, north), (west, north)]), edges=edges, zone_id="Z0"
    )
    cut = areas(
        [[(west, south), (180.0, south), (180.0, north), (west, north)]],
        [[(-180.0, south), (east, south), (east, north), (-180.0, north)]],
    )
    firm(track, [whole])
    same(check(track, [whole], reach_m=FAR), check(track, [replace(whole, shape=cut)], reach_m=FAR))


@given(numbers(-60.0, 60.0), st.data())
def test_180_and_minus_180_are_one_meridian_to_a_track(lat, data):
    middle = (180.0, lat)
    zones = [data.draw(zones_around(middle))]
    seconds = np.arange(4) * 300.0
    east, west = (fixes([(lon, lat + 0.01 * n) for n in range(4)], seconds) for lon in (180.0, -180.0))
    firm(east, zones)
    same(check(east, zones, reach_m=FAR), check(west, zones, reach_m=FAR))


def same(one, two):
    """Statuses alike, clearances to 1 cm."""
    assert len(one.rows) == len(two.rows)
    pairs = {(r.tow, r.zone_id): r for r in two.rows}
    for old in one.rows:
        new = pairs[old.tow, old.zone_id]
        assert (old.status, old.reason) == (new.status, new.reason)
        if old.clearance_m is not None:
            np.testing.assert_allclose(new.clearance_m, old.clearance_m, rtol=0, atol=0.01)
        assert len(old.inside) == len(new.inside)


@given(scenes(count=2))
def test_the_mirror_image_over_the_equator_has_the_same_clearances(scene):
    track, zones = scene
    flipped = replace(track, lat_deg=-track.lat_deg)
    mirrored = [replace(z, shape=_flipped(z.shape)) for z in zones]
    firm(track, zones)
    same(check(track, zones, reach_m=FAR), check(flipped, mirrored, reach_m=FAR))


def _flipped(shape):
    over = np.array([1.0, -1.0])
    return Shape(
        polygons=tuple(tuple(ring * over for ring in polygon) for polygon in shape.polygons),
        lines=tuple(corners * over for corners in shape.lines),
        points=shape.points * over,
    )


@given(scenes(count=1))
def test_a_track_joined_to_itself_backwards_comes_no_nearer(scene):
    """The same way there and back, an hour later: the least clearance is the same."""
    track, zones = scene
    assume(len(track) > 1)
    seconds = (track.time_utc - track.time_utc[0]) / np.timedelta64(1, "us") / 1e6
    assume((np.diff(seconds) <= 900.0).all())
    end = seconds[-1]
    back = fixes(np.column_stack([track.lon_deg, track.lat_deg])[::-1][1:], end + (end - seconds[::-1][1:]))
    least = [
        min(
            (r.clearance_m for r in check(t, zones, reach_m=FAR).rows if r.clearance_m is not None),
            default=None,
        )
        for t in (track, joined(track, back))
    ]
    np.testing.assert_allclose(least[0], least[1], rtol=0, atol=0.001)
