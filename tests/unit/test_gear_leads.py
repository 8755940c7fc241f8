"""The towing block that the gear follows: where, when, with how much warp and over which depth."""

from dataclasses import replace

import numpy as np
import pytest
from gear_stretches import GEOD, SINGLE, flat
from scenes import KNOT_MPS, START, fixes, joined, moved, route, steady, wait

from towzone.checks.gear_figures import gear_of_tow, gear_outside_tows
from towzone.checks.gear_nodes import STEP_M
from towzone.checks.paths import build_path
from towzone.checks.settings import CheckSettings, Towing
from towzone.gear.figures import NoRigging, Rigging
from towzone.model.gear import Basis
from towzone.tows.logged import LoggedHaul

HOME = (-20.0, 57.0)
MPS = 3.0 * KNOT_MPS
LAYBACK_M = 331.9322
"""gear.md of the plan, V2."""
HEADINGS = [0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0]
NOWHERE = np.empty(0)


def asked(track, figures=SINGLE, tow=0, **settings):
    """The path, what is known of the gear of one of its tows, and the settings."""
    given = {"towing": Towing.ALL, "gear": "OTB", "position_error_m": 10.0} | settings
    known = CheckSettings(figures=figures, **given)
    path = build_path(track, known)
    return path, gear_of_tow(path, path.tows[tow], known)


def leads(track, figures=SINGLE, keys=NOWHERE, span=None, **settings):
    path, gear = asked(track, figures, **settings)
    return list(gear.leads(path, np.asarray(keys, float), span))


def lead_of(track, figures=SINGLE, **settings):
    (lead,) = leads(track, figures, **settings)
    return lead


def tow(length_m=2000.0, heading=90.0, **given):
    return steady([HOME, moved(HOME, heading, length_m)], **given)


def with_readings(track, **readings):
    return replace(track, readings={k: np.asarray(v, np.float32) for k, v in readings.items()})


def vessel_at(track, place):
    low = int(place)
    if place == low:
        return track.lon_deg[low], track.lat_deg[low]
    azimuth, _, length = GEOD.inv(
        track.lon_deg[low], track.lat_deg[low], track.lon_deg[low + 1], track.lat_deg[low + 1]
    )
    return GEOD.fwd(track.lon_deg[low], track.lat_deg[low], azimuth, (place - low) * length)[:2]


# ---------------------------------------------------------------- where the block is


def off_axes(track, lead, heading):
    """How far aft and to starboard of the antenna the block is at every node, by rotation in a plane."""
    found = []
    for n, place in enumerate(lead.place.tolist()):
        at = vessel_at(track, place)
        east, north = flat(lead.lon_deg[n], lead.lat_deg[n], at)[0]
        turned = np.radians(heading)
        ahead = east * np.sin(turned) + north * np.cos(turned)
        found.append((-ahead, east * np.cos(turned) - north * np.sin(turned)))
    return np.array(found)


@pytest.mark.parametrize("heading", HEADINGS)
@pytest.mark.parametrize(("aft_m", "starboard_m"), [(38.0, 0.0), (12.0, 6.5), (-9.0, -4.0)])
def test_the_block_is_aft_and_to_starboard_of_the_antenna_on_every_course(heading, aft_m, starboard_m):
    track = tow(600.0, heading)
    figures = replace(SINGLE, block_aft_m=aft_m, block_starboard_m=starboard_m)
    off = off_axes(track, lead_of(track, figures), heading)
    # Meridians converge by 0.01 degrees over 600 m, 6 mm in 38 m.
    np.testing.assert_allclose(off, np.broadcast_to((aft_m, starboard_m), off.shape), rtol=0, atol=0.01)


@pytest.mark.parametrize("crab", [-25.0, 25.0])
@pytest.mark.parametrize("course", HEADINGS)
def test_where_the_track_tells_headings_they_count_and_not_the_course(course, crab):
    track = tow(400.0, course)
    track = with_readings(track, heading_deg=np.full(len(track), (course + crab) % 360.0))
    figures = replace(SINGLE, block_aft_m=30.0, block_starboard_m=-3.0)
    off = off_axes(track, lead_of(track, figures), course + crab)
    np.testing.assert_allclose(off, np.broadcast_to((30.0, -3.0), off.shape), rtol=0, atol=0.01)


def test_where_a_heading_is_missing_the_course_is_taken():
    track = tow(1000.0)
    headings = np.full(len(track), 120.0)
    headings[len(track) // 2 :] = np.nan
    figures = replace(SINGLE, block_aft_m=30.0)
    track = with_readings(track, heading_deg=headings)
    lead = lead_of(track, figures)
    first, last = lead.place < len(track) / 2 - 1, lead.place > len(track) / 2
    np.testing.assert_allclose(
        off_axes(track, lead, 120.0)[first], [[30.0, 0.0]] * first.sum(), rtol=0, atol=0.01
    )
    np.testing.assert_allclose(
        off_axes(track, lead, 90.0)[last], [[30.0, 0.0]] * last.sum(), rtol=0, atol=0.01
    )


@pytest.mark.parametrize("none", [np.nan])
def test_headings_that_are_all_missing_are_as_none(none):
    track = tow(500.0)
    figures = replace(SINGLE, block_aft_m=30.0)
    plain = lead_of(track, figures)
    same = lead_of(with_readings(track, heading_deg=np.full(len(track), none)), figures)
    np.testing.assert_array_equal(same.lon_deg, plain.lon_deg)


def test_headings_to_either_side_of_north_are_near_each_other():
    track = tow(1500.0, 0.0)
    headings = np.where(np.arange(len(track)) % 2, 359.5, 0.5)
    headings[3] = 360.0
    lead = lead_of(with_readings(track, heading_deg=headings), replace(SINGLE, block_aft_m=40.0))
    off = off_axes(track, lead, 0.0)
    np.testing.assert_allclose(off[:, 0], 40.0, rtol=0, atol=0.01)
    assert np.abs(off[:, 1]).max() == pytest.approx(40.0 * np.sin(np.radians(0.5)), abs=0.01)


def test_nodes_are_no_farther_apart_than_a_step_and_hold_every_key():
    lead = lead_of(tow(2000.0), keys=[3.3, 7.77, 9.0])
    assert {3.3, 7.77, 9.0} <= set(lead.place.tolist())
    apart = GEOD.inv(lead.lon_deg[:-1], lead.lat_deg[:-1], lead.lon_deg[1:], lead.lat_deg[1:])[2]
    assert apart.max() <= STEP_M + 1e-6
    assert (np.diff(lead.place) > 0.0).all()
    assert (lead.place[0], lead.place[-1]) == (0.0, len(tow(2000.0)) - 1)


def test_fixes_of_a_second_are_passed_over_within_five_of_them_but_never_the_ends():
    track = tow(200.0, step_s=1.0)
    rng = np.random.default_rng(5)
    noisy = replace(track, lat_deg=track.lat_deg + rng.normal(0.0, 3.0, len(track)) / 111_000.0)
    lead = lead_of(noisy)
    whole = lead.place[lead.place == np.floor(lead.place)]
    assert np.diff(whole).min() >= 5.0
    assert (lead.place[0], lead.place[-1]) == (0.0, len(track) - 1)


def test_the_first_leg_does_not_take_its_direction_from_two_fixes_of_a_second():
    """Three metres of noise a second apart would turn the gear by 60 degrees; over five seconds by less."""
    track = tow(300.0, step_s=1.0)
    aside = np.where(np.arange(len(track)) == 1, 4.0, 0.0)
    lead = lead_of(replace(track, lat_deg=track.lat_deg + aside / 111_000.0))
    np.testing.assert_allclose(flat(lead.lon_deg, lead.lat_deg)[:5, 1], 0.0, rtol=0, atol=0.01)


# ---------------------------------------------------------------- tracks of little


def test_two_fixes_are_a_tow_with_a_direction():
    track = fixes([HOME, moved(HOME, 90.0, 400.0)], [0.0, 260.0])
    lead = lead_of(track)
    assert (lead.place[0], lead.place[-1]) == (0.0, 1.0)
    assert len(lead.place) == 41


def test_stretches_between_gaps_are_leads_of_their_own_and_lone_fixes_none():
    first = tow(800.0)
    lone = fixes([moved(HOME, 90.0, 1500.0)], [3000.0])
    last = steady([moved(HOME, 90.0, 2500.0), moved(HOME, 90.0, 3000.0)], first_s=6000.0)
    found = leads(joined(first, lone, last))
    assert [(lead.place[0], lead.place[-1]) for lead in found] == [
        (0.0, len(first) - 1.0),
        (len(first) + 1.0, len(first) + len(last)),
    ]


def test_a_stretch_on_one_spot_has_no_lead():
    first = tow(800.0)
    spot = moved(HOME, 90.0, 1500.0)
    still = fixes([spot] * 5, 3000.0 + 60.0 * np.arange(5))
    found = leads(joined(first, still))
    assert [lead.place[-1] for lead in found] == [len(first) - 1.0]


def test_a_stop_in_a_tow_keeps_the_course_and_the_block_where_it_was():
    track = wait(tow(800.0), 600.0)
    track = joined(
        track,
        steady([(track.lon_deg[-1], track.lat_deg[-1]), moved(HOME, 90.0, 1600.0)], first_s=1200.0),
    )
    lead = lead_of(track, replace(SINGLE, block_aft_m=20.0))
    off = off_axes(track, lead, 90.0)
    np.testing.assert_allclose(off, np.broadcast_to((20.0, 0.0), off.shape), rtol=0, atol=0.02)


def test_fixes_said_twice_change_nothing():
    track = tow(1000.0)
    twice = replace(
        track,
        lon_deg=np.repeat(track.lon_deg, 2),
        lat_deg=np.repeat(track.lat_deg, 2),
        time_utc=np.repeat(track.time_utc, 2),
        part=np.repeat(track.part, 2),
        fixes_read=2 * len(track),
    )
    one, two = lead_of(track), lead_of(twice)
    apart = flat(two.lon_deg, two.lat_deg)[:, 0]
    assert np.diff(apart).min() >= -1e-6
    assert apart[-1] == pytest.approx(flat(one.lon_deg, one.lat_deg)[-1, 0], abs=1e-6)
    assert np.isfinite(two.speed_mps).all()
    np.testing.assert_allclose(two.speed_mps, MPS, rtol=0, atol=0.02)


# ---------------------------------------------------------------- clocks


def test_the_clock_is_that_of_the_track():
    lead = lead_of(tow(1000.0))
    start = float((START - np.datetime64(0, "s")) / np.timedelta64(1, "s"))
    metres = flat(lead.lon_deg, lead.lat_deg)[:, 0]
    np.testing.assert_allclose(lead.clock_s, start + metres / MPS, rtol=0, atol=0.01)


@pytest.mark.parametrize("speed_kn", [3.0, 4.5])
def test_a_route_without_times_is_sailed_at_towing_speed(speed_kn):
    figures = replace(SINGLE, tow_speed_kn=speed_kn)
    lead = lead_of(route([HOME, moved(HOME, 90.0, 1000.0)]), figures)
    assert lead.clock_s[-1] - lead.clock_s[0] == pytest.approx(1000.0 / (speed_kn * KNOT_MPS), abs=0.05)
    np.testing.assert_allclose(lead.speed_mps, speed_kn * KNOT_MPS, rtol=0, atol=1e-9)


def test_planned_routes_have_their_warp_out_from_end_to_end_with_times_and_without():
    timed = replace(
        route([HOME, moved(HOME, 90.0, 1000.0)]), time_utc=np.array([START, START + np.timedelta64(700, "s")])
    )
    for track in (route([HOME, moved(HOME, 90.0, 1000.0)]), timed):
        assert set(lead_of(track).warp_m.tolist()) == {350.0}
        _, gear = asked(track)
        assert gear.span == (0.0, 1.0)
    lead = lead_of(timed)
    assert lead.clock_s[-1] - lead.clock_s[0] == pytest.approx(700.0)


# ---------------------------------------------------------------- shooting and hauling

HAUL = LoggedHaul(
    haul="1", shoot_utc=START + np.timedelta64(1200, "s"), haul_utc=START + np.timedelta64(3000, "s")
)
LOG = {"towing": Towing.LOG, "hauls": (HAUL,)}


def long_track(**given):
    return steady([HOME, moved(HOME, 90.0, 8000.0)], step_s=20.0, **given)


def since_start(lead):
    return lead.clock_s - float((START - np.datetime64(0, "s")) / np.timedelta64(1, "s"))


def test_warp_goes_out_before_and_comes_in_after_a_logged_haul():
    lead = lead_of(long_track(), **LOG)
    at = since_start(lead)
    expected = np.clip(
        350.0 - 2.0 * np.clip(1200.0 - at, 0, None) - 1.2 * np.clip(at - 3000.0, 0, None), 0, None
    )
    # Veering of 2 m/s is a default.
    np.testing.assert_allclose(lead.warp_m, expected, rtol=0, atol=0.01)
    assert lead.warp_m.min() == 0.0


def test_a_tow_reaches_out_to_where_any_part_may_touch_and_at_least_as_far_as_its_fixes():
    path, gear = asked(long_track(), **LOG)
    one = path.tows[0]
    assert gear.span[0] <= one.first
    assert gear.span[1] >= one.last
    slow = HAUL.haul_utc + np.timedelta64(int((350.0 + 160.0) / (0.8 * 1.2)), "s")
    assert path.time_at(gear.span[1]) >= slow


def test_the_reach_of_a_tow_never_overlaps_the_next():
    hauls = tuple(
        LoggedHaul(
            haul=str(n),
            shoot_utc=START + np.timedelta64(1200 + 1500 * n, "s"),
            haul_utc=START + np.timedelta64(2400 + 1500 * n, "s"),
        )
        for n in range(3)
    )
    known = CheckSettings(figures=SINGLE, towing=Towing.LOG, hauls=hauls, gear="OTB")
    path = build_path(long_track(), known)
    spans = [gear_of_tow(path, one, known).span for one in path.tows]
    assert len(spans) == 3
    for (_, last), (first, _), one, other in zip(
        spans[:-1], spans[1:], path.tows[:-1], path.tows[1:], strict=True
    ):
        assert last <= first or one.last == other.first
        assert last <= other.first
        assert first >= one.last


def test_a_tow_not_seen_to_begin_has_its_warp_out_there_and_reaches_no_farther():
    early = replace(HAUL, shoot_utc=START - np.timedelta64(4000, "s"))
    path, gear = asked(long_track(), towing=Towing.LOG, hauls=(early,))
    assert path.tows[0].shoot_open
    assert gear.span[0] == path.tows[0].first
    lead = next(iter(gear.leads(path, NOWHERE)))
    assert lead.warp_m[0] == 350.0


def test_fixes_without_times_at_the_ends_of_a_track_leave_its_clock_to_the_tow_between():
    track = long_track()
    times = track.time_utc.copy()
    times[:2] = times[-3:] = np.datetime64("NaT")
    path, gear = asked(replace(track, time_utc=times), **LOG)
    plain_path, plain = asked(track, **LOG)
    assert gear.timed
    assert gear.contact == plain.contact
    assert gear.span == pytest.approx(plain.span, abs=1e-6)
    np.testing.assert_allclose(
        next(iter(gear.leads(path, NOWHERE))).warp_m,
        next(iter(plain.leads(plain_path, NOWHERE))).warp_m,
        rtol=0,
        atol=1e-6,
    )


def test_the_reach_of_a_tow_ends_with_the_last_time():
    track = long_track()
    late = replace(HAUL, haul_utc=track.time_utc[-8])
    times = track.time_utc.copy()
    times[-3:] = np.datetime64("NaT")
    path, gear = asked(replace(track, time_utc=times), towing=Towing.LOG, hauls=(late,))
    assert gear.timed
    assert np.isinf(gear.contact.latest_s) or gear.contact.latest_s > path.time_s[-4]
    assert gear.span[1] == len(track) - 4


# ---------------------------------------------------------------- warp and depth along the way


def test_the_depth_at_the_doors_is_what_the_vessel_sounded_a_layback_earlier():
    track = long_track()
    way = MPS * (track.time_utc - START) / np.timedelta64(1, "s")
    track = with_readings(track, depth_m=60.0 + 0.01 * way, warp_m=np.full(len(track), 350.0))
    path, gear = asked(track)
    mean = gear.rigging.depth.value
    assert mean == pytest.approx((60.0 + 0.01 * way).mean(), abs=1e-3)
    layback = np.sqrt(350.0**2 - (mean + 5.0) ** 2 - 36.0**2)
    lead = next(iter(gear.leads(path, NOWHERE)))
    here = flat(lead.lon_deg, lead.lat_deg)[:, 0]
    expected = 60.0 + 0.01 * np.clip(here - layback, 0.0, None) + 5.0
    np.testing.assert_allclose(lead.height_m, expected, rtol=0, atol=0.02)


def test_a_warp_of_the_track_is_followed_while_towing_and_heaved_from_there():
    track = long_track()
    at = (track.time_utc - START) / np.timedelta64(1, "s")
    towed = np.where(at < 2000.0, 350.0, 400.0)
    out = towed - 2.0 * np.clip(1200.0 - at, 0.0, None) - 1.2 * np.clip(at - 3000.0, 0.0, None)
    track = with_readings(track, warp_m=np.where(out > 5.0, out, np.nan))
    path, gear = asked(track, **LOG)
    assert gear.rigging.warp.basis is Basis.TRACK
    lead = next(iter(gear.leads(path, NOWHERE)))
    found = np.interp(
        [1100.0, 1300.0, 1900.0, 2200.0, 2990.0, 3100.0, 3250.0], since_start(lead), lead.warp_m
    )
    np.testing.assert_allclose(found, [150.0, 350.0, 350.0, 400.0, 400.0, 280.0, 100.0], rtol=0, atol=0.5)


@pytest.mark.parametrize("bad", [np.nan, 0.0, -5.0])
def test_readings_that_cannot_be_are_left_out(bad):
    track = tow(1500.0)
    warp = np.full(len(track), 420.0)
    warp[::3] = bad
    _, gear = asked(with_readings(track, warp_m=warp))
    assert gear.rigging.warp.value == pytest.approx(420.0)
    assert gear.warp_m[1].tolist() == [420.0] * len(gear.warp_m[1])


def test_echoes_below_the_reach_of_the_warp_move_neither_the_mean_nor_the_gear():
    track = tow(1500.0)
    depth = np.full(len(track), 100.0)
    depth[::6] = 2500.0
    path, gear = asked(with_readings(track, depth_m=depth, warp_m=np.full(len(track), 350.0)))
    assert gear.rigging.depth.value == pytest.approx(100.0)
    np.testing.assert_allclose(next(iter(gear.leads(path, NOWHERE))).height_m, 105.0, rtol=0, atol=1e-9)


def test_a_figure_under_trial_moves_the_whole_series():
    track = with_readings(long_track(), warp_m=np.linspace(300.0, 400.0, len(long_track())))
    path, gear = asked(track)
    rigging = gear.rigging
    longer = replace(rigging, warp=replace(rigging.warp, value=rigging.warp.value + 25.0))
    one, two = (next(iter(g.leads(path, NOWHERE))) for g in (gear, gear.with_rigging(longer)))
    np.testing.assert_allclose(two.warp_m - one.warp_m, 25.0, rtol=0, atol=1e-9)


def test_a_trial_of_the_winch_changes_what_is_out_while_hauling():
    path, gear = asked(long_track(), **LOG)
    rigging = gear.rigging
    slow = gear.with_rigging(replace(rigging, heave_speed=replace(rigging.heave_speed, value=0.6)))
    lead = next(iter(slow.leads(path, NOWHERE)))
    assert np.interp(3100.0, since_start(lead), lead.warp_m) == pytest.approx(350.0 - 60.0, abs=0.1)


def test_only_between_two_places_is_less():
    whole = lead_of(tow(1500.0))
    (part,) = leads(tow(1500.0), span=(4.5, 9.25))
    assert (part.place[0], part.place[-1]) == (4.5, 9.25)
    at = np.interp(part.place, whole.place, flat(whole.lon_deg, whole.lat_deg)[:, 0])
    np.testing.assert_allclose(flat(part.lon_deg, part.lat_deg)[:, 0], at, rtol=0, atol=0.01)


# ---------------------------------------------------------------- what is not known


def test_the_haul_log_gives_the_gear_and_its_figures():
    logged = replace(HAUL, gear="OTB", warp_m=500.0, depth_m=150.0, door_spread_m=95.0)
    _, gear = asked(long_track(), towing=Towing.LOG, hauls=(logged,), gear=None)
    values = [getattr(gear.rigging, name).value for name in ("warp", "depth", "door_spread")]
    assert values == [500.0, 150.0, 95.0]


def test_the_track_beats_the_haul_log():
    logged = replace(HAUL, warp_m=500.0)
    track = with_readings(long_track(), warp_m=np.full(len(long_track()), 420.0))
    _, gear = asked(track, towing=Towing.LOG, hauls=(logged,))
    assert (gear.rigging.warp.value, gear.rigging.warp.basis) == (420.0, Basis.TRACK)


def test_gear_that_is_not_modelled_and_no_figures_at_all():
    _, gear = asked(tow(), gear="PTB")
    assert isinstance(gear, NoRigging)
    assert asked(tow(), None)[1] is None
    path, _ = asked(tow())
    assert gear_outside_tows(path, CheckSettings()) is None
    assert isinstance(gear_outside_tows(path, CheckSettings(figures=SINGLE, gear="OTB")), Rigging)
    assert isinstance(gear_outside_tows(path, CheckSettings(figures=SINGLE, gear="PTB")), NoRigging)
