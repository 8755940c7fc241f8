"""Two devices in one log: neither vanishes behind the other, be it under one name or under two."""

from __future__ import annotations

import datetime as dt

import pytest
from nmea_texts import START, fixes, gga, gll, left_out, read, rmc, sentence, steps, told

from towzone.errors import InputError

LAT, LON = 54.5, -8.25
AWAY = 54.6
"""Six nautical miles north, where a zone might be."""


def track(whens, lat=LAT, **how):
    return "".join(rmc(when, lat, LON, **how) for when in whens)


# --- one name -----------------------------------------------------------------------------------------


def test_a_moment_at_two_places_gives_no_fix_and_every_position_is_listed():
    whens = steps(9)
    log = track(whens[:4]) + rmc(whens[4], LAT, LON) + gga(whens[4], AWAY, LON) + track(whens[5:])
    content = read(log)

    assert [when for _, when, _, _ in fixes(content)] == [*whens[:4], *whens[5:]]
    (out,) = content.raw[0].left_out
    assert out.reason == "conflicting_time"
    assert out.line.tolist() == [5, 6]
    assert out.lat_deg.tolist() == pytest.approx([LAT, AWAY], abs=1e-9)
    assert [when.item() for when in out.time_utc] == [whens[4]] * 2
    assert (content.tally["fixes"], content.tally["used"], content.tally["left_out"]) == (10, 8, 2)


def test_a_new_segment_begins_behind_a_moment_at_two_places():
    whens = steps(9)
    content = read(track(whens[:4]) + track(whens[4:5]) + gga(whens[4], AWAY, LON) + track(whens[5:]))

    assert content.raw[0].bounds == ((0, 4), (4, 8))
    assert told(
        content, r"line 5: 1 moment at which .* more than 50 m apart \(up to 1113\d\.\d m .*interrupted"
    )


def test_a_moment_at_two_places_is_found_wherever_the_log_is_cut():
    whens = steps(9)
    log = track(whens[:4]) + rmc(whens[4], LAT, LON) + gga(whens[4], AWAY, LON) + track(whens[5:])

    for piece_bytes in range(90, 400, 7):
        assert left_out(read(log, piece_bytes=piece_bytes)) == {"conflicting_time": 2}


def test_two_devices_of_one_name_are_refused_with_what_to_do():
    log = "".join(rmc(when, LAT, LON) + rmc(when, AWAY, LON) for when in steps(30))

    with pytest.raises(
        InputError,
        match=r"line 1: the receiver 'GP' stands at two places .*: 30 of its 30 .*Split the log by device",
    ):
        read(log)


def test_a_receiver_at_two_places_is_not_passed_over_for_a_poorer_one():
    """Else its second device would vanish all the same; whoever knows better names the other one."""
    log = "".join(rmc(when, LAT, LON) + rmc(when, AWAY, LON) for when in steps(30))
    log += track(steps(5), talker="II")

    with pytest.raises(InputError, match=r"take another receiver with --receiver \('II'\)"):
        read(log)
    assert len(fixes(read(log, receiver="II"))) == 5


@pytest.mark.parametrize(("conflicts", "refused"), [(10, False), (11, True)])
def test_ten_moments_at_two_places_are_left_out_and_more_are_refused(conflicts, refused):
    whens = steps(100)
    log = track(whens[:50]) + "".join(
        rmc(w, LAT, LON) + gga(w, AWAY, LON) for w in whens[50 : 50 + conflicts]
    )
    log += track(whens[50 + conflicts :])

    if refused:
        with pytest.raises(InputError, match="11 of its 100 positions"):
            read(log)
    else:
        assert left_out(read(log)) == {"conflicting_time": 20}


def test_of_two_thousand_moments_twenty_may_be_at_two_places():
    """One in a hundred, where that is more than ten."""
    whens = steps(2000)
    log = track(whens[:1000]) + "".join(rmc(w, LAT, LON) + gga(w, AWAY, LON) for w in whens[1000:1020])

    assert left_out(read(log + track(whens[1020:]))) == {"conflicting_time": 40}


def test_a_log_of_which_half_is_at_two_places_is_refused_however_short():
    first, second, third = steps(3)
    both = "".join(rmc(when, LAT, LON) + rmc(when, AWAY, LON) for when in (first, second))

    with pytest.raises(InputError, match="2 of its 3 positions"):
        read(both + rmc(third, LAT, LON))


def test_a_clock_that_stands_still_swallows_no_positions():
    """Each position more than 50 m from the first counts: 0.001 degrees of latitude are 111 m."""
    whens = steps(40)
    frozen = "".join(rmc(whens[20], LAT + 0.001 * number, LON) for number in range(12))

    with pytest.raises(InputError, match=r"line 21: .* 11 of its 50 positions"):
        read(track(whens[:20]) + frozen + track(whens[21:]))


def test_a_moment_that_is_not_valid_is_no_conflict():
    whens = steps(3)
    log = rmc(whens[0], LAT, LON) + gga(whens[0], AWAY, LON, quality="0") + track(whens[1:])

    assert left_out(read(log)) == {"void": 1}


# --- two names ----------------------------------------------------------------------------------------


def both(lat, seconds=20, other=rmc, shift=0.0):
    return "".join(
        rmc(when, LAT, LON) + other(when + dt.timedelta(seconds=shift), lat, LON, "II")
        for when in steps(seconds)
    )


def test_receivers_miles_apart_are_both_judged():
    content = read(both(AWAY, shift=0.4))

    assert [raw.name for raw in content.raw] == ["trip/GP", "trip/II"]
    assert [{round(lat, 9) for lat in raw.lat_deg.tolist()} for raw in content.raw] == [{LAT}, {AWAY}]
    assert [raw.left_out for raw in content.raw] == [(), ()]
    assert content.tally["used"] == content.tally["fixes"] == 40
    assert told(
        content, "line 2: receivers GP and II do not agree: 20 of their 20 common moments .*both are judged"
    )


@pytest.mark.parametrize("other", [gga, gll])
def test_receivers_miles_apart_are_both_judged_where_one_tells_no_date(other):
    assert len(read(both(AWAY, other=other)).raw) == 2


def test_receivers_miles_apart_are_both_judged_in_a_log_without_dates():
    log = "".join(gga(when, LAT, LON) + gga(when, AWAY, LON, "II") for when in steps(20))

    assert len(read(log).raw) == 2


def test_a_receiver_that_the_user_names_is_judged_alone_and_the_other_is_told():
    content = read(both(AWAY), receiver="II")

    assert {round(lat, 9) for _, _, lat, _ in fixes(content)} == {AWAY}
    assert left_out(content) == {"other_receiver": 20}
    assert told(content, "receivers II and GP do not agree: .*; II was taken")


def test_receivers_a_cable_apart_are_told_and_one_is_taken():
    """0.002 degrees of latitude are 222.6 m there (WGS 84: 111 303 m a degree at 54.5 degrees)."""
    content = read(both(LAT + 0.002))

    assert {round(lat, 9) for _, _, lat, _ in fixes(content)} == {LAT}
    assert told(content, "line 2: receivers GP and II do not agree: 20 of .* at most 22[23].* at 2026-03-01")


@pytest.mark.parametrize("log", [both(LAT + 0.0005), both(AWAY, seconds=2), track(steps(9)) + both(AWAY, 2)])
def test_antennas_of_one_ship_and_one_or_two_moments_are_no_disagreement(log):
    content = read(log)

    assert len(content.raw) == 1
    assert not told(content, "do not agree")


def test_a_receiver_that_is_miles_away_for_a_while_is_told():
    log = "".join(
        rmc(when, LAT, LON) + rmc(when, AWAY if i < 3 else LAT, LON, "II") for i, when in enumerate(steps(60))
    )
    content = read(log)

    assert left_out(content) == {"other_receiver": 60}
    assert told(content, "receivers GP and II do not agree: 3 of their 60 common moments .*; GP was taken")


def test_a_second_vessel_on_another_datum_is_refused():
    datum = sentence("IIDTM,999,,0.08,N,0.07,E,-47.7,W84")

    with pytest.raises(InputError, match="'II' declares its positions to be on the datum '999'"):
        read(datum + both(AWAY))


def test_the_second_vessel_may_not_be_at_two_places_either():
    log = "".join(
        rmc(when, LAT, LON) + rmc(when, AWAY, LON, "II") + (rmc(when, 54.7, LON, "II") if i % 2 else "")
        for i, when in enumerate(steps(30))
    )

    with pytest.raises(InputError, match="the receiver 'II' stands at two places"):
        read(log)


def test_a_log_that_starts_with_a_conflict_begins_with_the_first_fix():
    whens = steps(4, start=START)
    content = read(track(whens[:1]) + gga(whens[0], AWAY, LON) + track(whens[1:]))

    assert content.raw[0].bounds == ((0, 3),)
