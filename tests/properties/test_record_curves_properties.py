"""What must hold of the drawn clearances whatever the scene, by brute force in a plane of its own.

The plane is azimuthal and equidistant about the middle of the scene, within 20 km of which it errs by less
than ``r**3 / 6 R**2``, 4 cm. Nothing of `towzone.geodesy` measures here.
"""

from __future__ import annotations

import numpy as np
import pyproj
import shapely
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from oracles import densify
from scenes import area, check, fixes, line, moved, points, zone
from strategies import numbers, star

from towzone.geodesy.lines import LineKind
from towzone.model.result import CheckResult
from towzone.model.rules import Rules
from towzone.model.track import Track
from towzone.model.zone import Zone, ZoneKind
from towzone.record.curves import marks as curve_marks
from towzone.record.curves.figures import ZoneCurves, clearance_curves
from towzone.record.curves.least import State

GEOD = pyproj.Geod(ellps="WGS84")
SAMPLES_A_LEG = 150
PROMISED_M = 1.0
PLANE_M = 0.1
"""Own error of the plane and of edges cut every 20 m."""


class Plane:
    """Signed distances from one zone, brute and flat."""

    def __init__(self, asked: Zone, middle: tuple[float, float]) -> None:
        lon, lat = middle
        self.project = pyproj.Proj(f"+proj=aeqd +lat_0={lat} +lon_0={lon} +ellps=WGS84")
        strings = [
            self.flat(*np.concatenate(densify(asked.edges, corners, 20.0, closed), axis=1))
            if len(corners) > 1
            else self.flat(*corners.T)
            for corners, closed in asked.shape.strings()
        ]
        self.inside = None
        if asked.shape.is_area:
            self.inside = shapely.Polygon(strings[0])
            self.edge = self.inside.boundary
        else:
            self.edge = (
                shapely.linestrings(strings[0]) if len(strings[0]) > 1 else shapely.points(strings[0][0])
            )
        shapely.prepare(self.edge)
        self.radius_m = asked.radius_m
        self.reverse = asked.rules.allowed_only_inside

    def flat(self, lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
        return np.column_stack(self.project(lon, lat))

    def signed_m(self, lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
        at = shapely.points(self.flat(lon, lat))
        off = shapely.distance(at, self.edge)
        if self.inside is not None:
            off = np.where(shapely.contains(self.inside, at) != self.reverse, -off, off)
        return off - self.radius_m


def sampled(track: Track) -> tuple[np.ndarray, np.ndarray, np.ndarray, float]:
    """Positions and times along the legs that are no gaps, and the longest step between two, metres."""
    lon, lat, time, step = [], [], [], 0.0
    seconds = track.time_utc.astype(np.int64) / 1e6
    part = np.linspace(0.0005, 0.9995, SAMPLES_A_LEG)  # never at the very end, where columns may meet
    for leg in np.flatnonzero(np.diff(seconds) <= 900.0):
        course, _, length = GEOD.inv(*(c[leg + i] for i in (0, 1) for c in (track.lon_deg, track.lat_deg)))
        starts = (np.full(len(part), c[leg]) for c in (track.lon_deg, track.lat_deg))
        east, north, _ = GEOD.fwd(*starts, np.full(len(part), course), length * part)
        lon.append(east)
        lat.append(north)
        time.append(seconds[leg] + part * (seconds[leg + 1] - seconds[leg]))
        step = max(step, length / (SAMPLES_A_LEG - 1))
    return np.concatenate(lon), np.concatenate(lat), np.concatenate(time), step


@st.composite
def scenes(draw):
    """A track of up to twelve legs by one zone, and the middle of both."""
    middle = (draw(st.sampled_from([-179.99, 0.0, 12.3, 180.0])), draw(numbers(-70.0, 70.0)))
    n = draw(st.integers(3, 12))
    places = [moved(middle, draw(numbers(0.0, 360.0)), draw(numbers(50.0, 5000.0))) for _ in range(n)]
    steps = [draw(st.sampled_from([300.0, 600.0, 840.0, 3000.0])) for _ in range(n - 1)]
    steps[0] = 600.0
    track = fixes(places, np.cumsum([0.0, *steps]))
    at = moved(middle, draw(numbers(0.0, 360.0)), draw(numbers(0.0, 3000.0)))
    margin_m = draw(st.sampled_from([None, 463.0, 2000.0]))
    edges = draw(st.sampled_from(list(LineKind)))
    what = draw(st.sampled_from(["area", "area", "only inside", "line", "point"]))
    if what == "point":
        radius_m = draw(st.sampled_from([0.0, 500.0]))
        return track, zone(points(at), ZoneKind.OBSTRUCTION, radius_m=radius_m, margin_m=margin_m), middle
    size = draw(numbers(200.0, 5000.0))
    if what == "line":
        other = moved(at, draw(numbers(0.0, 360.0)), size)
        return track, zone(line(at, other), ZoneKind.CABLE, edges=edges, margin_m=margin_m), middle
    corners = draw(st.integers(3, 7))
    radii = size * np.array(draw(st.lists(numbers(0.6, 1.0), min_size=corners, max_size=corners)))
    ring = star(*at, draw(numbers(0.0, 360.0)) + np.arange(corners) * 360.0 / corners, radii)
    rules = Rules(allowed_only_inside=what == "only inside")
    return track, zone(area(ring), edges=edges, margin_m=margin_m, rules=rules), middle


def unhelped(result: CheckResult) -> ZoneCurves:
    """The drawing before the rows' own clearances are put into it."""
    hit = curve_marks.RowsOnCurve.hit
    curve_marks.RowsOnCurve.hit = lambda *_: None
    try:
        (drawn,) = clearance_curves(result).curves
    finally:
        curve_marks.RowsOnCurve.hit = hit
    return drawn


@hypothesis_settings(max_examples=25)
@given(scenes())
def test_no_sample_of_the_path_lies_a_metre_below_the_least_of_its_column(scene):
    track, asked, middle = scene
    drawn = unhelped(check(track, asked, reach_m=1e6, max_speed_kn=60.0))
    plane = Plane(asked, middle)
    lon, lat, time, step_m = sampled(track)
    signed = plane.signed_m(lon, lat)
    columns = drawn.vessel
    here = np.floor((time - drawn.first) / (drawn.last - drawn.first) * len(columns.state)).astype(int)
    held = (here >= 0) & (here < len(columns.state))
    here, signed = here[held], signed[held]
    state, slack_m = columns.state[here], PROMISED_M + PLANE_M
    within = state == State.WITHIN

    assert (state != State.NOTHING).all()
    assert (signed[within] >= columns.least_m[here][within] - slack_m).all()
    assert (signed[state == State.ABOVE] >= drawn.top_m - slack_m).all()
    assert (signed[state == State.BELOW] <= drawn.bottom_m + slack_m).all()
    # Nor is the least drawn lower than the path came: between two samples, or at the ends of the column.
    lowest = np.full(len(columns.state), np.inf)
    np.minimum.at(lowest, here, signed)
    told = (columns.state == State.WITHIN) & np.isfinite(lowest)
    assert (columns.least_m[told] >= lowest[told] - step_m - PLANE_M).all()


@hypothesis_settings(max_examples=25)
@given(scenes())
def test_the_least_of_all_columns_is_the_clearance_of_the_row(scene):
    track, asked, _ = scene
    result = check(track, asked, reach_m=1e6, max_speed_kn=60.0)
    (drawn,) = clearance_curves(result).curves
    least_m = min(row.clearance_m for row in result.rows if row.clearance_m is not None)
    within = drawn.vessel.state == State.WITHIN

    np.testing.assert_allclose(drawn.vessel.least_m[within].min(), least_m, rtol=0, atol=0.01)
    own = unhelped(result).vessel
    found_m = float(own.least_m[own.state == State.WITHIN].min())
    assert least_m - 0.01 <= found_m <= least_m + (0.01 if least_m > 0.0 else PROMISED_M)
