"""Nodes of a planned line: few where the gear has settled, and yet the gear where many nodes put it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from gear_oracle import Plane
from gear_stretches import SINGLE
from scenes import GEOD, fixes, moved

from towzone.checks.gear_figures import gear_of_tow
from towzone.checks.gear_nodes import STEP_M
from towzone.checks.paths import build_path
from towzone.checks.settings import CheckSettings
from towzone.gear.likely import likely_outline
from towzone.gear.stretch import gear_stretch
from towzone.model.track import TrackKind
from towzone.model.vessel import Current

HOME = (-20.0, 57.0)
SPEED_MPS = 1.6


def planned(turns_deg, length_m=4000.0, *, towed=True):
    """A line of legs of one length with given turns, its run-in and run-out 1000 m each."""
    course, at = 70.0, HOME
    corners = [moved(at, course + 180.0, 1000.0), at]
    for turn in (0.0, *turns_deg):
        course += turn
        at = moved(at, course, length_m)
        corners.append(at)
    corners.append(moved(at, course, 1000.0))
    corners = np.array(corners)
    apart = GEOD.inv(*corners[:-1].T, *corners[1:].T)[2]
    times = np.concatenate([[0.0], np.cumsum(apart)]) / SPEED_MPS
    track = fixes(corners, times, kind=TrackKind.PLANNED)
    return replace(track, towed=(1, len(track) - 2)) if towed else track


def gear_along(track, figures, keys):
    """The gear of a planned track with some places as nodes."""
    settings = CheckSettings(gear="OTB", figures=figures, position_error_m=10.0)
    path = build_path(track, settings)
    gear = gear_of_tow(path, path.tows[0], settings)
    (lead,) = gear.leads(path, np.asarray(keys, float))
    return gear_stretch(lead, gear.rigging)


def everywhere(track):
    """Places 5 m apart all along a track."""
    apart = GEOD.inv(track.lon_deg[:-1], track.lat_deg[:-1], track.lon_deg[1:], track.lat_deg[1:])[2]
    return np.concatenate([n + np.arange(0.0, 1.0, 5.0 / metres) for n, metres in enumerate(apart)])


@pytest.mark.parametrize("turns", [(60.0,), (-90.0, 45.0), (120.0,), (170.0, -30.0)])
@pytest.mark.parametrize("current", [None, Current(set_deg=200.0, drift_kn=0.8)])
def test_few_nodes_put_the_gear_where_many_do(turns, current):
    figures, track = replace(SINGLE, current=current), planned(turns)
    few = gear_along(track, figures, [])
    many = gear_along(track, figures, np.concatenate([few.lead.place, everywhere(track)]))
    same = np.searchsorted(many.lead.place, few.lead.place)
    assert (many.lead.place[same] == few.lead.place).all()
    for one, other in zip(few.tracers, many.tracers, strict=True):
        off = GEOD.inv(one.lon_deg, one.lat_deg, other.lon_deg[same], other.lat_deg[same])[2]
        assert np.abs(off).max() < 0.15, one.part
        # Nor does a straight leg between nodes stray from the path.
        lon, lat = (np.interp(many.lead.place, few.lead.place, c) for c in (one.lon_deg, one.lat_deg))
        towing = many.down & np.isin(np.round(many.lead.place, 9), np.round(many.lead.place, 9))
        stray = GEOD.inv(lon, lat, other.lon_deg, other.lat_deg)[2][towing]
        assert np.percentile(stray, 99.0) < 0.5, one.part


def test_there_are_far_fewer_where_the_gear_has_settled_and_none_is_missing_where_it_has_not():
    track = planned((60.0,), 12_000.0)
    stretch = gear_along(track, SINGLE, [])
    place = stretch.lead.place
    apart = np.diff(place) * 12_000.0
    second = (place[:-1] >= 2.0) & (place[1:] <= 3.0)
    assert apart[second][0] < 1.1 * STEP_M
    assert apart[second].max() > 150.0
    assert second.sum() < 12_000.0 / STEP_M / 6.0
    run_out = (place[:-1] >= 3.0) & (place[1:] <= 4.0)
    assert (np.diff(place)[run_out] * 1000.0).max() <= 1.01 * STEP_M


def test_every_corner_is_a_node_however_short_the_leg():
    track = planned((30.0, 30.0, -30.0), 6.0)
    stretch = gear_along(track, SINGLE, [1.5])
    assert set(range(1, len(track) - 1)) | {1.5} <= set(stretch.lead.place.tolist())


def test_a_planned_line_of_nothing_but_towing_has_its_warp_out_from_end_to_end():
    stretch = gear_along(planned((60.0,), towed=False), SINGLE, [])
    assert np.ptp(stretch.lead.warp_m) == 0.0
    shot = gear_along(planned((60.0,)), SINGLE, [])
    assert shot.lead.warp_m.min() < shot.lead.warp_m.max() == stretch.lead.warp_m.max()


def likely_ground_of(track, figures, keys):
    """Places of nodes, and what the gear may have touched at each, in a plane, shape (n, points, 2)."""
    settings = CheckSettings(gear="OTB", figures=figures, position_error_m=10.0)
    path = build_path(track, settings)
    gear = gear_of_tow(path, path.tows[0], settings)
    (lead,) = gear.leads(path, np.asarray(keys, float))
    outline = likely_outline(gear_stretch(lead, gear.rigging), gear.rigging, 3.0)
    z = Plane(*HOME).flat(outline[..., 0], outline[..., 1])
    return lead.place, np.stack([z.real, z.imag], -1)


@pytest.mark.parametrize(
    ("turns", "within_m"), [((60.0,), 0.5), ((85.0,), 0.5), ((100.0,), 1.7), ((150.0,), 1.7)]
)
def test_gear_that_swings_about_in_a_sharp_turn_stays_on_its_likely_ground(turns, within_m):
    """The vessel comes back past its gear, which then turns by tens of degrees within ten metres."""
    track = planned(turns)
    place, ground = likely_ground_of(track, SINGLE, [])
    hulls = shapely.convex_hull(shapely.multipoints(np.concatenate([ground[:-1], ground[1:]], axis=1)))
    near = (place[1:] > 1.95) & (place[:-1] < 2.2)
    whole = shapely.union_all(hulls[near])
    often, exact = likely_ground_of(track, SINGLE, np.arange(2.0, 2.11, 1.0 / 4000.0))
    swinging = (often > 2.0) & (often < 2.11)
    assert shapely.distance(whole, shapely.points(exact[swinging])).max() < within_m
