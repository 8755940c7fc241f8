"""One receiver gives the track; fixes of several are never mixed, and who was taken and why is told."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from nmea_texts import (
    START,
    fixes,
    gga,
    gll,
    left_out,
    read,
    rmc,
    sentence,
    steps,
    told,
    zda,
)

from towzone.errors import InputError
from towzone.geodesy.lines import WGS84

LAT, LON = 54.5, -8.25
NEAR = 54.5005
"""The latitude of an antenna 56 m away, on the same large ship."""
PHASES = {"GP": 0.0, "IN": 0.07, "EC": 0.41}
"""Seconds by which the invented receivers are apart, as three on one ship were."""
ANTENNAS = {"GP": 0.0, "IN": 2e-5, "EC": -1.5e-5}
"""Degrees of latitude by which their antennas are apart: two metres, as on that ship."""


def second(talker, number):
    """What one receiver says in one second, sailing east at 9.5 knots."""
    when = START + dt.timedelta(seconds=number + PHASES[talker])
    lat = LAT + ANTENNAS[talker] * (-1) ** number
    lon = LON + (number + PHASES[talker]) * 9.5 / 3600 / 60 / np.cos(np.radians(LAT))
    return gga(when, lat, lon, talker, places=6) + rmc(when, lat, lon, talker, places=6)


def length_m(content):
    (raw,) = content.raw
    return WGS84.line_length(raw.lon_deg, raw.lat_deg)


def test_three_receivers_give_the_track_of_one():
    """Interleaved the way would be a third longer; the reader gives what the receiver alone gives."""
    seconds = range(600)
    together = read("".join(second(talker, n) for n in seconds for talker in PHASES))
    alone = {talker: read("".join(second(talker, n) for n in seconds)) for talker in PHASES}
    mixed = [fix for talker in PHASES for fix in fixes(alone[talker])]
    mixed.sort(key=lambda fix: fix[1])
    _, _, lat, lon = zip(*mixed, strict=True)

    assert WGS84.line_length(lon, lat) > 1.2 * length_m(alone["GP"])
    for talker in PHASES:
        chosen = read("".join(second(t, n) for n in seconds for t in PHASES), receiver=talker)
        assert [fix[1:] for fix in fixes(chosen)] == [fix[1:] for fix in fixes(alone[talker])]
    assert length_m(together) == length_m(alone["GP"])
    assert left_out(together) == {"other_receiver": 1200}
    assert not told(together, "filled in")
    assert told(
        together, "positions of 3 receivers .*: GP 600 fixes, IN 600 fixes, EC 600 fixes. GP was taken"
    )


def test_the_receiver_with_most_dated_fixes_is_taken():
    whens = steps(10)
    log = "".join(rmc(when, LAT, LON) for when in whens[:9]) + "".join(
        rmc(when, NEAR, LON, talker="II") for when in whens
    )

    assert {round(lat, 9) for _, _, lat, _ in fixes(read(log))} == {NEAR}


def test_fixes_with_dates_count_before_fixes_without():
    """The undated receiver stands 600 lines behind the dated one, so that it can take no dates from it."""
    whens = steps(10)
    log = "".join(rmc(when, LAT, LON) for when in whens[:3])
    log += "\r\n" * 600 + "".join(gga(when, NEAR, LON, talker="GN") for when in whens)

    assert {round(lat, 9) for _, _, lat, _ in fixes(read(log))} == {LAT}


@pytest.mark.parametrize(
    ("talkers", "taken"),
    [
        (["GP", "GN"], "GP"),
        (["GN", "GP"], "GN"),
        (["GL", "GP"], "GP"),
        (["IN", "GL"], "GL"),
        (["II", "IN"], "IN"),
        (["EC", "II"], "II"),
        (["AI", "EC"], "EC"),
    ],
)
def test_of_receivers_with_as_many_fixes_the_more_direct_one_is_taken(talkers, taken):
    log = "".join(rmc(when, LAT, LON, talker) for when in steps(5) for talker in talkers)

    assert told(read(log), f"{taken} was taken")


def test_sentences_of_makers_are_no_receiver():
    log = rmc(START, LAT, LON) + sentence("PABRMC,061001.00,A,5430.0000,N,00815.0000,W,3.4,120.5,010326,,,A")

    assert len(fixes(read(log))) == 1


@pytest.mark.parametrize("wanted", ["IN", "in", " IN "])
def test_a_receiver_is_chosen_by_its_talker(wanted):
    log = "".join(second(talker, n) for n in range(3) for talker in ("GP", "IN"))

    assert told(read(log, receiver=wanted), "IN was taken")


def test_a_receiver_that_is_not_there_is_refused_with_those_that_are():
    log = "".join(second(talker, n) for n in range(3) for talker in ("GP", "IN"))

    with pytest.raises(InputError, match="no receiver 'HE'; --receiver may be one of 'GP', 'IN'"):
        read(log, receiver="HE")


def tagged(source, text):
    return "\\" + sentence(f"s:{source},n:1", mark="", end="") + "\\" + text


def test_receivers_of_one_talker_are_told_apart_by_their_tag_blocks():
    whens = steps(5)
    log = "".join(tagged("aft", rmc(when, NEAR, LON)) + tagged("fore", rmc(when, LAT, LON)) for when in whens)

    assert told(read(log), "'GP@aft' 5 fixes, 'GP@fore' 5 fixes. 'GP@aft' was taken")
    assert {round(lat, 9) for _, _, lat, _ in fixes(read(log, receiver="GP@fore"))} == {LAT}


def test_a_damaged_tag_block_names_nobody():
    whens = steps(5)
    log = "".join(tagged("aft", rmc(when, NEAR, LON)) for when in whens)
    broken = tagged("aft", rmc(whens[-1], LAT, LON)).replace("s:aft", "s:eft")

    assert told(read(log + broken), "'GP@aft' 5 fixes, GP 1 fix. 'GP@aft' was taken")


def test_a_source_may_stand_in_the_block_before_the_last():
    when = steps(1)[0]
    both = (
        "\\" + sentence("s:aft", mark="", end="") + "\\\\" + sentence("c:1772345400", mark="", end="") + "\\"
    )

    assert told(read(both + rmc(when, LAT, LON) + rmc(when, NEAR, LON)), "'GP@aft'")


def test_types_of_sentences_that_alternate_are_two_receivers_of_one_name():
    """Half a second apart all along: mixed, they would zigzag between two antennas."""
    whens = steps(30)
    half = dt.timedelta(seconds=0.5)
    log = "".join(rmc(when, LAT, LON) + gga(when + half, NEAR, LON) for when in whens)
    content = read(log)

    assert len(fixes(content)) == 30
    assert len({lat for _, _, lat, _ in fixes(content)}) == 1
    assert told(content, "'GP/RMC' 30 fixes, 'GP/GGA' 30 fixes")
    assert [when for _, when, _, _ in fixes(read(log, receiver="GP/GGA"))] == [when + half for when in whens]


def test_types_of_sentences_that_follow_on_each_other_are_one_receiver():
    """Set anew on the way, it says RMC first and GGA then."""
    whens = steps(60)
    log = "".join(rmc(when, LAT, LON) for when in whens[:30])
    log += "".join(gga(when, LAT, LON) for when in whens[30:])

    assert [when for _, when, _, _ in fixes(read(log))] == whens


def test_a_type_that_is_sent_more_rarely_belongs_to_the_same_receiver():
    whens = steps(50, seconds=0.1)
    log = "".join(
        gga(when, LAT, LON) + (rmc(when, LAT, LON) if i % 10 == 0 else "") for i, when in enumerate(whens)
    )

    assert [when for _, when, _, _ in fixes(read(log))] == whens


def test_silences_are_not_filled_from_another_receiver():
    """Ten minutes without the chosen one; that the other has fixes there is told."""
    first, then = steps(30, seconds=60), steps(30, seconds=60, start=START + dt.timedelta(minutes=40))
    log = "".join(rmc(when, LAT, LON) for when in first)
    log += "".join(
        rmc(when, NEAR, LON, talker="IN")
        for when in steps(10, seconds=60, start=START + dt.timedelta(minutes=30))
    )
    log += "".join(rmc(when, LAT, LON) for when in then)
    content = read(log)

    assert [when for _, when, _, _ in fixes(content)] == [*first, *then]
    assert told(
        content, "receiver IN has 10 fixes in 1 silence of GP longer than 5 min; they were not filled in"
    )


def test_a_receiver_without_dates_is_dated_by_another_of_the_log():
    whens = steps(10)
    log = "".join(
        gga(when, LAT, LON, "GN") + (gll(when, NEAR, LON, "II") + zda(when, "II") if i % 2 else "")
        for i, when in enumerate(whens)
    )
    content = read(log)

    assert [when for _, when, _, _ in fixes(content)] == whens
    log = "".join(gga(when, LAT, LON, "GN") + rmc(when, NEAR, LON, "II") for when in whens)
    content = read(log, receiver="GN")
    assert [when for _, when, _, _ in fixes(content)] == whens
    assert told(content, "receiver GN tells no date; its days were taken from receiver II")


def test_more_senders_than_a_ship_has_do_not_stop_the_log():
    """Damaged addresses without checksums make a sender each; the receiver stays what it is."""
    whens = steps(400)
    log = "".join(rmc(when, LAT, LON) for when in whens)
    log += "".join(
        rmc(when, NEAR, LON, talker=f"{i // 26 % 26 + 65:c}{i % 26 + 65:c}") for i, when in enumerate(whens)
    )
    content = read(log)

    assert len(fixes(content)) >= 400
    assert told(content, "GP was taken")
    assert told(content, "and 89 more")
