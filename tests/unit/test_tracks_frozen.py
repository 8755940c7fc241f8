"""A receiver that repeats its last position while the vessel moves is found; a vessel at rest is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scenes import check, points, zone
from track_makers import KNOT_MPS, TOW_MPS, at, cleaned, counts, frozen_for, lines_left_out, made, seconds_of

from towzone.checks.settings import Towing
from towzone.model.result import Status
from towzone.model.track import Track
from towzone.model.zone import ZoneKind


def test_a_receiver_that_catches_up_was_frozen() -> None:
    result, said = cleaned(made(*frozen_for(600, 1199)))
    assert lines_left_out(result, "frozen") == list(range(603, 1202))
    assert counts(result) == {"frozen": 599}
    assert result.part.tolist() == [0] * 601 + [1] * 2400
    assert "line 603|599 fixes repeating the same position while the vessel was under way" in said
    assert "that is 16.6 % of all fixes" in said


def test_where_even_the_first_of_the_repeats_is_out_of_reach_nothing_caught_up() -> None:
    seconds, east, north = frozen_for(600, 1199)
    north[1200:] += 50_000.0
    result, said = cleaned(made(seconds, east, north))
    assert result.dropped == ()
    assert "1 step between fixes" in said


def test_a_repeat_of_ten_seconds_is_only_a_break() -> None:
    """At 12 kn, so that it is followed by an impossible step."""
    seconds = np.arange(600.0)
    east = 12.0 * KNOT_MPS * seconds
    east[300:311] = east[300]
    result, _ = cleaned(made(seconds, east))
    assert (result.dropped, result.part.tolist()) == ((), [0] * 311 + [1] * 289)


def test_a_receiver_that_freezes_again_and_again_is_seen_each_time() -> None:
    seconds, east, north = frozen_for(600, 1199)
    for first, last in ((1300, 1400), (1410, 2000)):
        east[first : last + 1], north[first : last + 1] = east[first], north[first]
    assert counts(cleaned(made(seconds, east, north))[0]) == {"frozen": 599 + 100 + 590}


def test_a_position_repeated_at_speed_is_frozen_though_nothing_catches_up() -> None:
    """The log ends frozen; its last fix stays, alone, so that the time is not lost."""
    seconds, east, north = frozen_for(1000, 3599)
    track = made(seconds, east, north, readings={"sog_kn": np.full(3600, 3.0)})
    result, _ = cleaned(track)
    assert counts(result) == {"frozen": 2598}
    assert seconds_of(result)[-2:] == [1000.0, 3599.0]
    assert result.part[-2:].tolist() == [0, 1]


def test_a_short_frozen_end_is_cut_off_and_told() -> None:
    seconds, east, north = frozen_for(3000, 3599)
    result, said = cleaned(made(seconds, east, north, readings={"sog_kn": np.full(3600, 3.0)}))
    assert seconds_of(result)[-1] == 3000.0
    assert "it is judged up to 2026-03-01 06:50:00 UTC" in said


@pytest.mark.parametrize("sog_kn", [0.0, 0.4, np.nan])
def test_a_moored_vessel_is_not_frozen(sog_kn: float) -> None:
    seconds, east, north = frozen_for(1000, 3599)
    track = made(seconds, east, north, readings={"sog_kn": np.full(3600, sog_kn)})
    assert cleaned(track)[0] is track


def test_some_noise_in_the_speed_of_a_moored_vessel_does_not_make_it_move() -> None:
    seconds, east, north = frozen_for(0, 3599)
    speeds = np.where(np.arange(3600) % 10 == 0, 1.4, 0.1)
    track = made(seconds, east, north, readings={"sog_kn": speeds})
    assert cleaned(track)[0] is track


def test_way_too_short_to_be_seen_is_no_sign() -> None:
    """35 s at 1.5 kn are 27 m, less than the errors of two positions."""
    seconds = np.arange(600.0)
    east = 1.5 * KNOT_MPS * seconds
    east[100:136] = east[100]
    track = made(seconds, east, readings={"sog_kn": np.full(600, 1.5)})
    assert cleaned(track)[0] is track


def test_two_reports_from_one_place_do_not_tell_what_was_between() -> None:
    seconds = np.arange(10) * 7200.0
    east = TOW_MPS * seconds
    east[5] = east[4]
    track = made(seconds, east, readings={"sog_kn": np.full(10, 3.0)})
    assert cleaned(track)[0] is track


def test_a_vessel_that_leaves_its_berth_was_not_frozen() -> None:
    """From rest to 10 kn within a minute-long step."""
    seconds = np.arange(200) * 60.0
    east = np.where(seconds > 6000.0, 10.0 * KNOT_MPS * (seconds - 6000.0), 0.0)
    track = made(seconds, east)
    assert cleaned(track, max_speed_kn=4.0)[0] is track


def test_a_spike_seen_at_rest_does_not_freeze_the_rest() -> None:
    seconds, east, north = frozen_for(0, 3599)
    north[1800] += 3000.0
    result, _ = cleaned(made(seconds, east, north))
    assert counts(result) == {"spike": 1}


@pytest.mark.parametrize("grid_deg", [0.001, 0.1 / 60.0])
def test_a_vessel_adrift_whose_positions_have_few_digits_is_not_frozen(grid_deg: float) -> None:
    """It repeats a position for minutes and then steps a hundred metres or more."""
    seconds = np.arange(7200.0)
    track = made(seconds, 0.8 * seconds, 0.5 * seconds)
    coarse = replace(
        track,
        lon_deg=np.round(track.lon_deg / grid_deg) * grid_deg,
        lat_deg=np.round(track.lat_deg / grid_deg) * grid_deg,
    )
    assert len(np.unique(coarse.lat_deg)) < 40
    assert cleaned(coarse)[0] is coarse


def test_how_coarsely_a_source_writes_may_be_stated() -> None:
    """Steps of 150 m in a second: impossible for a source true to 15 m, not for one true to 80 m."""
    seconds = np.arange(900.0)
    east = 150.0 * np.floor(seconds / 100.0)
    assert counts(cleaned(made(seconds, east))[0]) == {"frozen": 792}
    track = made(seconds, east, resolution_m=80.0)
    assert cleaned(track)[0] is track


def test_a_short_repeat_does_no_harm_and_stays() -> None:
    """Ten fixes a second from a receiver that has one."""
    seconds = np.arange(3000) * 0.1
    track = made(seconds, TOW_MPS * np.floor(seconds))
    assert cleaned(track)[0] is track


def test_a_zone_is_not_clear_while_the_receiver_was_frozen() -> None:
    """A wreck 600 m off the straight way: in ten minutes the vessel could have been there and back."""
    lon, lat = at([TOW_MPS * 900.0], [600.0])
    wreck = zone(points((float(lon[0]), float(lat[0]))), ZoneKind.OBSTRUCTION)
    track = made(*frozen_for(600, 1199))

    def worst(judged: Track) -> Status:
        return check(judged, wreck, towing=Towing.ALL).rows[0].status

    assert worst(track) is Status.CLEAR
    assert worst(cleaned(track)[0]) is Status.UNDETERMINED
