"""All parts of the gear along a stretch: where they lie on a straight tow, in turns, and in the outline."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from gear_stretches import (
    BEAM,
    BEAMS,
    RIGS,
    SINGLE,
    SPEED_MPS,
    TWIN,
    flat,
    lead_along,
    rigging_of,
    stretch_along,
    zigzag,
)

from towzone.gear.likely import likely_outline, with_current
from towzone.gear.stretch import DOOR_PARTS, gear_stretch, laybacks_m
from towzone.model.vessel import Current

LAYBACK_M = 331.9322
"""gear.md of the plan, V2: warp 350 m, depth 100 m, blocks 5 m up and 8 m apart, doors 80 m apart."""
STRAIGHT = [(0.0, 0.0), (3000.0, 0.0)]


def ends(figures, corners=STRAIGHT, **more):
    """At the last node: how far ahead of the block and to port each tracer lies, by part, sorted."""
    stretch, _ = stretch_along(corners, figures, **more)
    end = flat(stretch.lead.lon_deg[-1], stretch.lead.lat_deg[-1])[0]
    found = {}
    for tracer in stretch.tracers:
        xy = flat(tracer.lon_deg[-1], tracer.lat_deg[-1])[0] - end
        found.setdefault(tracer.part, []).append((round(float(xy[0]), 2), round(float(xy[1]), 2)))
    return {part: sorted(some) for part, some in found.items()}


def near(found, expected, off_m=0.02):
    assert set(found) == set(expected)
    for part, some in expected.items():
        np.testing.assert_allclose(found[part], sorted(some), rtol=0, atol=off_m, err_msg=part)


def test_a_single_trawl_has_two_doors_two_wing_ends_and_a_codend():
    # gear.md of the plan, 1.1: wing-ends sqrt(110^2 - 30^2) behind the doors, the net another 50 m.
    wings = -LAYBACK_M - np.sqrt(110.0**2 - 30.0**2)
    near(
        ends(SINGLE),
        {
            "port door": [(-LAYBACK_M, 40.0)],
            "starboard door": [(-LAYBACK_M, -40.0)],
            "net": [(wings, 10.0), (wings, -10.0), (wings - 50.0, 0.0)],
        },
    )


def test_a_twin_rig_has_two_nets_and_a_clump_on_its_own_warp():
    layback = np.sqrt(350.0**2 - 105.0**2 - 71.0**2)
    # Each net is spread by half of the doors' 150 m: sweeps reach from 37.5 m to 10 m off its middle.
    wings = -layback - np.sqrt(110.0**2 - 27.5**2)
    near(
        ends(TWIN),
        {
            "port door": [(-layback, 75.0)],
            "starboard door": [(-layback, -75.0)],
            # V: the clump's warp of 310 m reaches sqrt(310^2 - 105^2) behind the block.
            "clump": [(-np.sqrt(310.0**2 - 105.0**2), 0.0)],
            "net": [(wings, 47.5), (wings, -47.5), (wings - 50.0, 37.5), (wings - 50.0, -37.5)],
        },
    )


@pytest.mark.parametrize(("clump_m", "ahead"), [(310.0, True), (345.0, False)])
def test_the_clump_is_ahead_of_the_doors_on_a_short_warp_and_behind_them_on_a_long_one(clump_m, ahead):
    found = ends(replace(TWIN, clump_warp_m=clump_m))
    assert (found["clump"][0][0] > found["port door"][0][0]) is ahead


def test_a_clump_whose_warp_nobody_states_lies_between_the_doors():
    found = ends(replace(TWIN, clump_warp_m=None))
    assert found["clump"][0][0] == pytest.approx(found["port door"][0][0], abs=0.02)


def test_two_beams_lie_apart_each_with_a_net():
    layback = np.sqrt(90.0**2 - 30.0**2)  # no spread to lose: each is towed from above it
    near(
        ends(BEAMS),
        {
            "port beam": [(-layback, 18.0), (-layback, 6.0)],
            "starboard beam": [(-layback, -18.0), (-layback, -6.0)],
            "net": [(-layback - 20.0, 12.0), (-layback - 20.0, -12.0)],
        },
    )


def test_a_single_beam_lies_astern_and_has_one_net():
    layback = np.sqrt(90.0**2 - 30.0**2)
    near(
        ends(BEAM),
        {"port beam": [(-layback, 6.0), (-layback, -6.0)], "net": [(-layback - 20.0, 0.0)]},
    )


@pytest.mark.parametrize(
    ("rig", "doors_m2", "nets"),
    [("single", 80.0, 1), ("twin", 150.0, 2), ("beams", 24.0, 2), ("beam", 12.0, 1)],
)
def test_what_sweeps_is_as_wide_as_the_doors_or_beams_and_as_many_nets(rig, doors_m2, nets):
    stretch, _ = stretch_along(STRAIGHT, RIGS[rig])
    across = [flat(*outline[-1].T) for outline in stretch.doors]
    assert sum(np.ptp(xy[:, 1]) for xy in across) == pytest.approx(doors_m2, abs=0.02)
    assert len(stretch.nets) == nets
    wing_m = 12.0 if rig.startswith("beam") else 20.0
    for outline in stretch.nets:
        assert np.ptp(flat(*outline[-1].T)[:, 1]) == pytest.approx(wing_m, abs=0.02)
        assert np.ptp(flat(*outline[-1].T)[:, 0]) == pytest.approx(20.0 if "beam" in rig else 50.0, abs=0.02)


@pytest.mark.parametrize("rig", RIGS)
def test_every_tracer_is_a_corner_of_what_sweeps_and_is_named(rig):
    stretch, _ = stretch_along(zigzag(2, 4), RIGS[rig])
    corners = np.concatenate([*stretch.doors, *stretch.nets], axis=1)
    for tracer in stretch.tracers:
        assert tracer.part in (*DOOR_PARTS, "net")
        off = np.abs(corners - np.column_stack([tracer.lon_deg, tracer.lat_deg])[:, None]).max(axis=2)
        assert off.min(axis=1).max() == 0.0


@pytest.mark.parametrize("rig", RIGS)
def test_a_mirrored_tow_has_mirrored_gear_port_for_starboard(rig):
    corners = [(500.0, 0.0), (500.0, 700.0), (1100.0, 900.0), (1200.0, 300.0)]
    one, _ = stretch_along(corners, RIGS[rig])
    other, _ = stretch_along([(-east, north) for east, north in corners], RIGS[rig])
    swap = {"port": "starboard", "starboard": "port"}

    def parts(stretch, turn):
        return sorted(
            (tracer.part if turn > 0 or rig == "beam" else _swapped(tracer.part, swap), *_xy(tracer, turn))
            for tracer in stretch.tracers
        )

    def _swapped(part, by):
        return " ".join(by.get(word, word) for word in part.split())

    def _xy(tracer, turn):
        xy = flat(tracer.lon_deg[-1], tracer.lat_deg[-1])[0]
        return round(turn * float(xy[0]), 3) + 0.0, round(float(xy[1]), 3)

    ours, theirs = parts(one, 1.0), parts(other, -1.0)
    assert [p[0] for p in ours] == [p[0] for p in theirs]
    np.testing.assert_allclose([p[1:] for p in ours], [p[1:] for p in theirs], rtol=0, atol=0.005)


@pytest.mark.parametrize("rig", RIGS)
@pytest.mark.parametrize("count", [0.0, 2.0, 3.0])
@pytest.mark.parametrize("sure", [False, True])
def test_the_likely_outline_always_holds_the_gear_by_its_figures(rig, count, sure):
    """Also with figures taken for exact, where little is added, and in turns that fold the gear."""
    figures = RIGS[rig]
    rigging = rigging_of(figures)
    if sure:
        none = {f.name: replace(f, sigma=0.0) for f in (rigging.warp, rigging.depth, rigging.door_spread)}
        rigging = replace(
            rigging,
            drift_sigma=replace(rigging.drift_sigma, sigma=0.0),
            position=replace(rigging.position, sigma=0.0),
            antenna=replace(rigging.antenna, sigma=0.0),
            **none,
        )
    stretch = gear_stretch(lead_along(zigzag(5, 8), figures), rigging)
    outline = likely_outline(stretch, rigging, count)
    nominal = np.concatenate([*stretch.doors, *stretch.nets], axis=1)
    xy = flat(*np.concatenate([outline, nominal], axis=1).reshape(-1, 2).T)
    xy = xy.reshape(len(outline), -1, 2)
    held, asked = xy[:, : outline.shape[1]], xy[:, outline.shape[1] :]
    index = np.repeat(np.arange(len(held)), held.shape[1])
    hulls = shapely.convex_hull(shapely.multipoints(held.reshape(-1, 2), indices=index))
    apart = shapely.distance(hulls[:, None], shapely.points(asked))
    assert apart.max() < 1e-3


def test_the_likely_outline_grows_with_the_number_of_deviations():
    stretch, rigging = stretch_along(STRAIGHT)
    widths = [np.ptp(flat(*likely_outline(stretch, rigging, k)[-1].T), axis=0) for k in (0.0, 1.0, 2.0, 3.0)]
    assert (np.diff(widths, axis=0) > 1.0).all()
    np.testing.assert_allclose(widths[0], [np.sqrt(110.0**2 - 30.0**2) + 50.0, 80.0], rtol=0, atol=0.03)


def still(figures=SINGLE):
    """The gear along a straight way in water known to be still, and its rigging."""
    rigging = rigging_of(figures)
    rigging = replace(rigging, drift_sigma=replace(rigging.drift_sigma, sigma=0.0))
    return gear_stretch(lead_along(STRAIGHT, figures), rigging), rigging


@pytest.mark.parametrize("count", [1.0, 2.0])
@pytest.mark.parametrize("set_deg", range(0, 360, 25))
def test_the_likely_outline_holds_the_gear_in_any_current_of_as_many_deviations(set_deg, count):
    """In turns, too, where a current does more than carry the gear aside."""
    figures = replace(SINGLE, current=Current(set_deg=200.0, drift_kn=0.4))
    corners = [(0.0, 0.0), (1800.0, 0.0), (2400.0, 900.0), (1500.0, 2500.0)]
    stretch, rigging = stretch_along(corners, figures)
    drift = with_current(rigging, float(set_deg), count * rigging.drift_sigma.sigma)
    moved = gear_stretch(stretch.lead, drift)
    outline = likely_outline(stretch, rigging, count)
    points = np.concatenate([*moved.doors, *moved.nets], axis=1)
    for held, asked in zip(outline[::7], points[::7], strict=True):
        hull = shapely.convex_hull(shapely.multipoints(flat(*held.T)))
        assert shapely.distance(hull, shapely.points(flat(*asked.T))).max() < 1e-3


def test_doors_are_set_out_by_their_deviation_across_and_the_longest_layback_by_its_own():
    stretch, rigging = still()
    xy = flat(*likely_outline(stretch, rigging, 2.0)[-1].T) - (3000.0, 0.0)
    cross, layback = stretch.sigmas.cross_m[-1], stretch.sigmas.layback_m[-1]
    doors = xy[xy[:, 0] > -LAYBACK_M - 80.0]
    assert doors[:, 1].max() == pytest.approx(40.0 + 2.0 * cross, abs=0.02)
    along = 2.0 * np.hypot(rigging.position.sigma, rigging.antenna.sigma)
    assert xy[:, 0].max() == pytest.approx(-LAYBACK_M + 2.0 * layback + along, abs=0.02)
    codend = -LAYBACK_M - np.sqrt(110.0**2 - 30.0**2) - 50.0
    assert xy[:, 0].min() == pytest.approx(codend - 2.0 * layback - along, abs=0.02)


def test_a_warp_guessed_between_limits_is_tried_at_both():
    stretch, rigging = stretch_along(STRAIGHT)
    rigging = replace(rigging, warp=replace(rigging.warp, low=250.0, high=500.0))
    xy = flat(*likely_outline(stretch, rigging, 0.0)[-1].T) - (3000.0, 0.0)
    assert xy[:, 0].max() == pytest.approx(-np.sqrt(250.0**2 - 105.0**2 - 36.0**2), abs=0.02)
    far = np.sqrt(500.0**2 - 105.0**2 - 36.0**2) + np.sqrt(110.0**2 - 30.0**2) + 50.0
    assert xy[:, 0].min() == pytest.approx(-far, abs=0.02)


def test_a_depth_guessed_between_limits_is_tried_at_both():
    stretch, rigging = stretch_along(STRAIGHT)
    rigging = replace(rigging, depth=replace(rigging.depth, low=50.0, high=200.0))
    xy = flat(*likely_outline(stretch, rigging, 0.0)[-1].T) - (3000.0, 0.0)
    assert xy[:, 0].max() == pytest.approx(-np.sqrt(350.0**2 - 205.0**2 - 36.0**2), abs=0.02)
    far = np.sqrt(350.0**2 - 55.0**2 - 36.0**2) + np.sqrt(110.0**2 - 30.0**2) + 50.0
    assert xy[:, 0].min() == pytest.approx(-far, abs=0.02)


def test_the_layback_is_none_where_the_warp_does_not_reach_down():
    rigging = rigging_of(SINGLE)
    found = laybacks_m(np.array([350.0, 112.0, 111.0, 90.0, 0.0]), np.full(5, 105.0), rigging)
    # 36 m aside and 105 m down are 111.0 m.
    np.testing.assert_allclose(found, [LAYBACK_M, np.sqrt(223.0), 0.0, 0.0, 0.0], rtol=0, atol=1e-4)


def test_a_current_across_sets_the_gear_aside_by_its_angle():
    # gear.md of the plan, 2.8 with f = 0: sin(angle) = c / sqrt(V^2 + c^2), 0.5 kn at 1.5 m/s.
    set_north = replace(SINGLE, current=Current(set_deg=0.0, drift_kn=0.5))
    stretch, _ = stretch_along([(0.0, 0.0), (6000.0, 0.0)], set_north)
    middle = np.mean([flat(t.lon_deg[-1], t.lat_deg[-1])[0] for t in stretch.tracers[:2]], axis=0)
    drift = 0.5 * 1852.0 / 3600.0
    assert middle[1] == pytest.approx(LAYBACK_M * drift / np.hypot(SPEED_MPS, drift), abs=0.05)


def test_ways_of_block_and_doors_and_the_angle_between_course_and_towline():
    stretch, _ = stretch_along([(0.0, 0.0), (1000.0, 0.0), (1000.0, 700.0)])
    assert stretch.run_m[-1] == pytest.approx(1700.0, abs=0.01)
    # On the first leg the doors go as far as the block; then by 2.2 of gear.md of the plan.
    theta = 2.0 * np.arctan(np.exp(-700.0 / LAYBACK_M))
    assert stretch.settled_m[-1] == pytest.approx(
        1000.0 - LAYBACK_M * np.log(np.sin(theta)), abs=0.15
    )  # chords of a curve
    assert abs(stretch.beta_deg[-1]) == pytest.approx(np.degrees(theta), abs=0.01)
    assert stretch.beta_deg[-1] < 0.0  # course to port of the towline


def test_a_layback_given_node_by_node_is_where_the_doors_are():
    warp = np.linspace(350.0, 250.0, 301)
    stretch, _ = stretch_along(STRAIGHT, warp_m=warp)
    layback = np.sqrt(warp**2 - 105.0**2 - 36.0**2)
    middle = np.mean([flat(t.lon_deg, t.lat_deg) for t in stretch.tracers[:2]], axis=0)
    np.testing.assert_allclose(
        np.hypot(*(flat(stretch.lead.lon_deg, stretch.lead.lat_deg) - middle).T), layback, rtol=0, atol=0.01
    )
    np.testing.assert_allclose(stretch.layback_m, layback, rtol=0, atol=1e-6)
    assert stretch.down.all()


def test_the_outline_of_a_twin_rig_is_as_wide_at_the_wings_as_its_two_nets():
    stretch, rigging = stretch_along(STRAIGHT, TWIN)
    xy = flat(*likely_outline(stretch, rigging, 0.0)[-1].T) - (3000.0, 0.0)
    wings = -np.sqrt(350.0**2 - 105.0**2 - 71.0**2) - np.sqrt(110.0**2 - 27.5**2)
    at_wings = xy[np.abs(xy[:, 0] - wings) < 1.0]
    at_codends = xy[np.abs(xy[:, 0] - wings + 50.0) < 1.0]
    assert np.ptp(at_wings[:, 1]) == pytest.approx(95.0, abs=0.02)
    assert np.ptp(at_codends[:, 1]) == pytest.approx(75.0, abs=0.02)


def test_the_clump_may_be_ahead_and_aside_by_its_deviations():
    stretch, rigging = still(replace(TWIN, clump_warp_m=250.0))
    xy = flat(*likely_outline(stretch, rigging, 2.0)[-1].T) - (3000.0, 0.0)
    along = 2.0 * np.hypot(rigging.position.sigma, rigging.antenna.sigma)
    clump = -np.sqrt(250.0**2 - 105.0**2)
    foremost = xy[np.argsort(xy[:, 0])[-2:]]
    assert foremost[:, 0] == pytest.approx(clump + 2.0 * stretch.sigmas.layback_m[-1] + along, abs=0.02)
    assert np.abs(foremost[:, 1]) == pytest.approx(2.0 * stretch.sigmas.cross_m[-1], abs=0.02)


def test_wings_are_set_out_farther_than_doors_as_what_turns_the_warps_turns_the_net():
    stretch, rigging = still()
    xy = flat(*likely_outline(stretch, rigging, 2.0)[-1].T) - (3000.0, 0.0)
    aside, behind = 2.0 * stretch.sigmas.cross_m[-1], np.sqrt(110.0**2 - 30.0**2) + 50.0
    codends = xy[xy[:, 0] < -LAYBACK_M - behind - 2.0]
    assert codends[:, 1].max() == pytest.approx(aside * (1.0 + behind / LAYBACK_M), abs=0.02)


def test_in_a_turn_the_net_points_where_its_own_way_took_it():
    """The net's corners lie along the line from codend to doors, in high latitudes, too."""
    stretch, _ = stretch_along(zigzag(4, 5), replace(SINGLE, wing_spread_m=20.0), place=(30.0, 80.0))
    doors = np.mean([flat(t.lon_deg, t.lat_deg, (30.0, 80.0)) for t in stretch.tracers[:2]], axis=0)
    net = [flat(t.lon_deg, t.lat_deg, (30.0, 80.0)) for t in stretch.tracers[2:]]
    behind = np.sqrt(110.0**2 - 30.0**2) + 50.0
    taut = np.abs(np.hypot(*(doors - net[2]).T) - behind) < 0.01
    assert taut.any()
    middle = (net[0] + net[1]) / 2.0
    ahead = (doors - net[2])[taut] / behind
    np.testing.assert_allclose((middle - net[2])[taut], 50.0 * ahead, rtol=0, atol=0.005)


def test_gear_starts_astern_net_and_all_even_if_the_doors_rest_at_first():
    lead = lead_along([(0.0, 0.0), (60.0, 0.0), (60.0, 300.0)])
    veered = np.minimum(120.0 + 12.0 * np.arange(len(lead.place)), 350.0)
    stretch = gear_stretch(replace(lead, warp_m=veered), rigging_of(SINGLE))
    first = [flat(t.lon_deg[0], t.lat_deg[0])[0] for t in stretch.tracers]
    np.testing.assert_allclose(
        first[4], [first[0][0] - np.sqrt(110.0**2 - 30.0**2) - 50.0, 0.0], atol=0.01, rtol=0
    )
