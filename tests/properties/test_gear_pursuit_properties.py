"""Facts of pursuit that hold for any track: lengths, hulls, symmetries, splitting; and stepping by hand."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from pursuit_scenes import GEOD, Plane, apart_m, geodesic, planar, wandering
from shapely.geometry import MultiPoint, Point
from strategies import latitudes, longitudes, numbers

from towzone.gear.pursuit import pursue
from towzone.gear.towline import Legs, Line, followed

PLANE = Plane(0.0, 0.0)
SURFACE_M = 1e-5
"""What the curvature of the earth allows within a few kilometres: a slack line is followed in a plane, and
plane coordinates of tests are stretched. Own bound: ``L**3 / 6 R**2`` is 1e-6 m for 600 m."""


@st.composite
def tracks(draw, most=60):
    """(path, lengths): standing still, creeping, gentle and sharp turns; lines constant or worked."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    n = draw(st.integers(2, most))
    path = wandering(rng, n, (0.0, draw(st.sampled_from([1.0, 20.0, 100.0]))), draw(numbers(0.0, 3.0)))
    path[1:] = path[0] + np.cumsum(
        np.diff(path, axis=0) * (rng.random((n - 1, 1)) < draw(st.sampled_from([1.0, 0.8]))), axis=0
    )
    length = np.full(n, draw(st.sampled_from([5.0, 60.0, 300.0, 600.0])))
    worked = draw(st.sampled_from([0.0, 0.02, 0.3]))
    return path, length * (1.0 + worked * rng.uniform(-1.0, 1.0, n))


def bearings():
    return st.one_of(numbers(0.0, 360.0), st.sampled_from([0.0, 90.0, 180.0, 270.0]))


def bodies(path, length, start, *, plane=PLANE, drift=None):
    drifts = {} if drift is None else {"drift_east_m": drift[:, 0], "drift_north_m": drift[:, 1]}
    found = pursue(*plane.positions(path), length, start_bearing_deg=start, **drifts)
    return found, plane.points(found.lon_deg, found.lat_deg)


def astern(path, length, start):
    a = np.radians(start)
    return path[0] - length[0] * np.array([np.sin(a), np.cos(a)])


@given(tracks(), bearings(), longitudes(), latitudes())
def test_the_body_is_within_its_line_and_at_its_end_unless_slack(track, start, lon, lat):
    """By exact geodesics, anywhere; and it bears as it is said to."""
    path, length = track
    lon, lat = Plane(lon, lat).positions(path)
    found = pursue(lon, lat, length, start_bearing_deg=start)

    to_body, _, distance = (np.asarray(c) for c in GEOD.inv(lon, lat, found.lon_deg, found.lat_deg))
    taut = np.append(True, ~found.slack)
    assert (distance <= length + SURFACE_M).all()
    assert np.abs(distance - found.distance_m).max() < SURFACE_M
    assert (found.distance_m[taut] == length[taut]).all()
    assert (found.distance_m <= length).all()
    turn = np.radians((to_body + 180.0 - found.bearing_deg + 180.0) % 360.0 - 180.0)
    assert np.abs(turn * distance).max() < SURFACE_M
    assert np.abs(found.lon_deg).max() <= 180.0
    assert ((found.bearing_deg >= 0.0) & (found.bearing_deg < 360.0)).all()


@given(tracks(), bearings())
def test_the_body_runs_no_farther_than_its_lead(track, start):
    """Without a current and a winch."""
    path, length = track
    length = np.full(len(path), length[0])
    _, body = bodies(path, length, start)

    run = np.cumsum(np.hypot(*np.diff(body, axis=0).T))
    assert (run <= np.cumsum(np.hypot(*np.diff(path, axis=0).T)) + SURFACE_M).all()


@given(tracks(), bearings())
def test_the_body_keeps_within_the_hull_of_track_and_start(track, start):
    """It only ever moves towards its lead; a winch alters nothing of that."""
    path, length = track
    _, body = bodies(path, length, start)

    hull = MultiPoint([*path, body[0]]).convex_hull
    assert max(hull.distance(Point(*b)) for b in body) < SURFACE_M


@given(tracks(most=20), bearings(), st.integers(2, 9), st.booleans())
def test_splitting_legs_changes_nothing(track, start, parts, current):
    """To what the ellipsoid allows; in a plane to rounding, see below."""
    path, length = track
    drift = np.tile((0.7, -1.1), (len(path) - 1, 1)) if current else None
    at = np.arange((len(path) - 1) * parts + 1) / parts
    whole = np.arange(len(path))
    fine_path = np.column_stack([np.interp(at, whole, path[:, i]) for i in (0, 1)])
    fine_length = np.interp(at, whole, length)
    fine_drift = None if drift is None else np.repeat(drift, parts, axis=0) / parts
    coarse, body = bodies(path, length, start, drift=drift)
    fine, fine_body = bodies(fine_path, fine_length, start, drift=fine_drift)

    assert np.hypot(*(body - fine_body[::parts]).T).max() < SURFACE_M
    # A leg on which any part hung slack is slack; a slack of a hair may be seen by one alone.
    slack = fine.slack.reshape(-1, parts).any(axis=1)
    assert np.abs(coarse.distance_m - fine.distance_m[::parts]).max() < SURFACE_M
    assert (slack | ~coarse.slack | _hair(coarse, length)).all()


def _hair(found, length):
    return length[1:] - found.distance_m[1:] < SURFACE_M


@given(tracks(), bearings())
def test_mirrored_tracks_are_followed_mirrored(track, start):
    """East for west, and north for south."""
    path, length = track
    found, body = bodies(path, length, start)
    for mirror, bearing in (((-1.0, 1.0), -start), ((1.0, -1.0), 180.0 - start)):
        other, mirrored = bodies(path * mirror, length, bearing)

        assert np.hypot(*(mirrored - body * mirror).T).max() < SURFACE_M
        assert np.abs(other.distance_m - found.distance_m).max() < SURFACE_M


@given(tracks(), bearings(), numbers(0.0, 360.0), longitudes(), latitudes())
def test_moved_and_turned_tracks_are_followed_alike(track, start, turn, lon, lat):
    """In other latitudes too: in the plane around the track the body is in the same place."""
    path, length = track
    scale = min(1.0, 1500.0 / np.abs(path).max()) if np.abs(path).max() > 0 else 1.0
    path = path * scale
    _, body = bodies(path, length, start)
    a = np.radians(turn)
    spin = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    _, spun = bodies(path @ spin, length, start + turn, plane=Plane(lon, lat))

    assert np.hypot(*(spun - body @ spin).T).max() < 1e-4  # of planes at different places


@given(tracks(), bearings())
def test_short_lines_give_the_lead_itself(track, start):
    path, _ = track
    _, body = bodies(path, np.full(len(path), 1e-3), start)

    assert np.hypot(*(body - path).T).max() < 1e-3 + SURFACE_M


@given(
    numbers(0.0, 360.0),
    st.lists(numbers(0.0, 3000.0), min_size=1, max_size=30),
    longitudes(),
    latitudes(70.0),
)
def test_a_body_straight_astern_stays_there(azimuth, legs, lon, lat):
    """On a geodesic it follows in the very wake."""
    along = np.concatenate([[0.0], np.cumsum(legs)]) + 400.0
    n = len(along)
    x, y, _ = GEOD.fwd(np.full(n, lon), np.full(n, lat), np.full(n, azimuth), along)
    wake_x, wake_y, _ = GEOD.fwd(np.full(n, lon), np.full(n, lat), np.full(n, azimuth), along - 400.0)
    start = GEOD.inv(lon, lat, x[0], y[0])[1] + 180.0
    found = pursue(x, y, np.full(n, 400.0), start_bearing_deg=start)

    assert apart_m(found.lon_deg, found.lat_deg, wake_x, wake_y).max() < 1e-4
    assert not found.slack.any()


@given(tracks(most=200), bearings())
def test_the_plane_stepped_by_hand_agrees(track, start):
    """Sharp turns, worked lines, standing still, against a stepper of its own; distances and places."""
    path, length = track
    found, body = bodies(path, length, start)
    wanted, distance, slack = planar(path, length, astern(path, length, start))

    allowed = SURFACE_M * max(1.0, np.abs(path).max() / 1000.0) ** 3
    assert np.hypot(*(body - wanted).T).max() < allowed
    assert np.abs(found.distance_m - distance).max() < allowed
    assert ((found.slack == slack) | _hair(found, length)).all()


@settings(max_examples=25)
@given(tracks(most=200), bearings(), longitudes(), latitudes())
def test_the_globe_stepped_by_hand_agrees(track, start, lon, lat):
    """With exact geodesics leg by leg."""
    path, length = track
    lon, lat = Plane(lon, lat).positions(path)
    found = pursue(lon, lat, length, start_bearing_deg=start)
    wanted, _ = geodesic(lon, lat, length, start)

    assert apart_m(found.lon_deg, found.lat_deg, *wanted.T).max() < SURFACE_M


def legs_of(path, length):
    d = np.diff(path, axis=0)
    half, run = np.arctan2(d[:, 0], d[:, 1]) / 2.0, np.hypot(*d.T)
    return Legs(np.sin(half), np.cos(half), run, length[:-1], length[1:])


@given(tracks(most=400), bearings())
def test_in_one_plane_steps_of_another_make_agree(track, start):
    """To a micrometre; whether a line hangs slack by less may be seen by one alone."""
    path, length = track
    half = np.radians(start) / 2.0
    nodes = followed(legs_of(path, length), Line(float(np.sin(half)), float(np.cos(half))))
    angle = 2.0 * np.arctan2(nodes.half_sin, nodes.half_cos)
    found = path[1:] - nodes.distance_m[:, None] * np.column_stack([np.sin(angle), np.cos(angle)])
    astern = np.array([np.sin(2.0 * half), np.cos(2.0 * half)])
    wanted, distance, _ = planar(path, length, path[0] - length[0] * astern)

    assert np.hypot(*(found - wanted[1:]).T).max() < 1e-6
    assert np.abs(nodes.distance_m - distance[1:]).max() < 1e-6


@given(tracks(most=40), bearings(), st.integers(2, 12))
def test_in_one_plane_splitting_changes_nothing(track, start, parts):
    """To 1e-9 m: the closed form is exact however a leg is cut."""
    path, length = track
    whole, at = np.arange(len(path)), np.arange((len(path) - 1) * parts + 1) / parts
    fine = np.column_stack([np.interp(at, whole, path[:, i]) for i in (0, 1)])
    half = np.radians(start) / 2.0
    line = Line(float(np.sin(half)), float(np.cos(half)))
    ends = []
    for p, some in ((path, length), (fine, np.interp(at, whole, length))):
        nodes = followed(legs_of(p, some), line)
        angle = 2.0 * np.arctan2(nodes.half_sin, nodes.half_cos)
        ends.append(p[1:] - nodes.distance_m[:, None] * np.column_stack([np.sin(angle), np.cos(angle)]))

    assert np.abs(ends[0] - ends[1][parts - 1 :: parts]).max() < 1e-9
