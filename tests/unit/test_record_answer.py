"""The answer in plain words: each case says what was found, and none says more than was proved."""

from __future__ import annotations

import dataclasses
import html
import re

import numpy as np
import pytest
from gear_results import build_gear_result
from result_builders import build_result

from towzone.model.gear import GearTier
from towzone.model.result import (
    Activity,
    CheckResult,
    Disagreement,
    DisagreementKind,
    Doubt,
    MoveOn,
    Outcome,
    Part,
    Row,
    Status,
    ZoneReach,
)
from towzone.model.rules import Rules
from towzone.record.clock import local_clock
from towzone.record.sections.headline import headline, look
from towzone.record.sections.summary import summary
from towzone.record.sections.told import teller
from towzone.record.sections.trip_index import trip_index
from towzone.record.sections.unproved import unproved
from towzone.record.sections.what_if import what_if


def plain(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]*>", "", text)).split())


def result_of(*rows: Row, base: CheckResult, **values: object) -> CheckResult:
    return dataclasses.replace(base, rows=rows, beyond_reach=0, **values)


@pytest.fixture(scope="module")
def base() -> CheckResult:
    return build_result(planned=False)


def row_with(base: CheckResult, **values: object) -> Row:
    values = {"status": Status.TOO_CLOSE, "clearance_m": 362.79, "margin_m": 463.0, "reason": ""} | values
    return dataclasses.replace(base.rows[0], **{"tow": 1, **values})


TOLD = [
    ({}, "the vessel on tow 1 came 362.8 m from {zone}; 463.0 m are required"),
    ({"part": Part.GEAR}, "the gear of tow 1 came 362.8 m from {zone}; 463.0 m are required"),
    (
        {"clearance_m": 5000.0},
        "the vessel on tow 1 came 5000.0 m (2.700 nmi) from {zone}; 463.0 m are required",
    ),
    ({"clearance_m": 0.0, "reason": "touched"}, "the vessel on tow 1 crossed or touched {zone}"),
    ({"clearance_m": -5.0}, "the vessel on tow 1 was on the limit of {zone}, 5.0 m past it"),
    ({"clearance_m": None}, "the vessel on tow 1 and {zone}, at a distance that is not known"),
    ({"status": Status.INSIDE, "clearance_m": -221.3}, "the vessel on tow 1 was 221.3 m inside {zone}"),
    ({"status": Status.UNDETERMINED}, "whether the vessel on tow 1 kept 463.0 m from {zone}"),
    ({"status": Status.UNDETERMINED, "margin_m": 0.0}, "whether the vessel on tow 1 kept out of {zone}"),
    (
        {"tow": None, "activity": Activity.NOT_TOWING},
        "the vessel, not towing, came 362.8 m from {zone}; 463.0 m are required",
    ),
    (
        {"tow": None, "activity": Activity.UNKNOWN},
        "the vessel, perhaps towing, came 362.8 m from {zone}; 463.0 m are required",
    ),
    (
        {"activity": Activity.UNKNOWN},
        "the vessel, shooting or hauling (tow 1), came 362.8 m from {zone}; 463.0 m are required",
    ),
]


@pytest.mark.parametrize(("values", "said"), TOLD, ids=[said[:60] for _, said in TOLD])
def test_a_row_is_told_in_plain_words(base: CheckResult, values: dict[str, object], said: str) -> None:
    row = row_with(base, **values)
    tell = teller(base)

    expected = said.replace("{zone}", tell.zones[row.zone_id].name)
    assert plain(tell.did(row)).startswith(expected)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"status": Status.INSIDE, "clearance_m": -40.0}, "was 40.0 m outside {zone}, the only area allowed"),
        ({}, "came 362.8 m from the limits of {zone}, the only area allowed; 463.0 m are required"),
        ({"status": Status.UNDETERMINED}, "stayed inside {zone}, the only area allowed"),
    ],
)
def test_an_area_that_must_not_be_left_is_told_the_other_way_round(
    base: CheckResult, values: dict[str, object], said: str
) -> None:
    zones = tuple(dataclasses.replace(z, rules=Rules(allowed_only_inside=True)) for z in base.zones)
    tell = teller(dataclasses.replace(base, zones=zones))
    row = row_with(base, **values)

    assert said.replace("{zone}", tell.zones[row.zone_id].name) in plain(tell.did(row))


def test_who_crossed_too_slowly_is_told_the_speed_that_was_asked_for(base: CheckResult) -> None:
    zones = tuple(dataclasses.replace(z, rules=Rules(transit_min_speed_kn=6.0)) for z in base.zones)
    tell = teller(dataclasses.replace(base, zones=zones))
    row = row_with(base, status=Status.INSIDE, clearance_m=-40.0, reason="slow_transit")

    assert "slower than the 6 kn asked for" in plain(tell.did(row))


def test_a_route_is_told_as_planned() -> None:
    base = build_result()
    route = next(track for track in base.tracks if track.kind == "planned")
    row = dataclasses.replace(row_with(base), track_id=route.track_id, tow=None)

    assert plain(teller(base).did(row)).startswith("on Invented plan, the planned tow comes 362.8 m from ")
    gear = dataclasses.replace(row, part=Part.GEAR, status=Status.INSIDE, clearance_m=-1.0)
    assert plain(teller(base).did(gear)).startswith(
        "on Invented plan, the gear of the planned tow goes 1.0 m"
    )


@pytest.mark.parametrize(
    ("statuses", "begins", "seen"),
    [
        ((Status.TOO_CLOSE,), "1 problem found: the vessel on tow 1 came ", "finding"),
        (
            (Status.TOO_CLOSE, Status.INSIDE),
            "2 problems found in 1 tow. The worst: the vessel on tow 1 was ",
            "finding",
        ),
        ((Status.UNDETERMINED,), "No problem shown, but one thing is not decided: whether ", "undetermined"),
        (
            (Status.UNDETERMINED,) * 2,
            "No problem shown, but 2 things are not decided. First: ",
            "undetermined",
        ),
        ((Status.CLEAR,), "No problem found for the vessel. Its gear was not checked.", "clear"),
        (
            (Status.TRANSIT, Status.CLEAR),
            "No problem found for the vessel, but something to know: 1 cr",
            "clear",
        ),
        ((), "Nothing was checked", "unchecked"),
    ],
)
def test_headline_says_whether_there_is_a_problem_and_which(
    base: CheckResult, statuses: tuple[Status, ...], begins: str, seen: str
) -> None:
    rows = tuple(
        row_with(base, status=status, clearance_m=-50.0 if status is Status.INSIDE else 362.79)
        for status in statuses
    )
    result = result_of(*rows, base=base)

    assert plain(headline(result, teller(result))).startswith(begins)
    assert look(result) == seen


def test_clear_answer_says_what_it_rests_on_and_that_it_is_no_permission() -> None:
    gear = build_gear_result(planned=False)
    row = dataclasses.replace(gear.rows[0], status=Status.CLEAR, part=Part.VESSEL, gear=None)
    result = result_of(row, base=gear)
    words = plain(summary(result, local_clock(result)))

    assert result.outcome is Outcome.CLEAR
    assert (
        f"No problem found: the vessel and its gear kept clear of all {len(result.zones)} zones checked."
        in words
    )
    assert "It is not permission to tow or to fish there." in words
    assert "Where:" not in words


def test_staying_inside_the_only_area_allowed_is_not_called_keeping_clear_of_it() -> None:
    gear = build_gear_result(planned=False)
    row = dataclasses.replace(gear.rows[0], status=Status.CLEAR, part=Part.VESSEL, gear=None)
    turned = dataclasses.replace(gear.zones[0].rules, allowed_only_inside=True)
    zones = (dataclasses.replace(gear.zones[0], rules=turned), *gear.zones[1:])
    result = result_of(row, base=gear, zones=zones)
    words = plain(headline(result, teller(result)))

    assert words == (
        f"No problem found: the vessel and its gear kept to the rules of all {len(zones)} zones checked."
    )
    assert "kept clear" not in words


def test_where_the_vessel_may_have_towed_the_headline_says_that_its_gear_was_not_checked(
    base: CheckResult,
) -> None:
    track = base.tracks[0]
    doubt = Doubt(
        track_id=track.track_id,
        first=0,
        last=9,
        from_utc=track.time_utc[0],
        to_utc=track.time_utc[9],
        seconds=None,
    )
    row = row_with(base, status=Status.CLEAR, tow=None, activity=Activity.UNKNOWN)
    quiet = result_of(row, base=base, tows=(), doubts=())
    result = result_of(row, base=base, tows=(), doubts=(doubt,))

    assert "Its gear was not checked" not in plain(headline(quiet, teller(quiet)))
    assert plain(headline(result, teller(result))) == (
        "No problem found for the vessel. Its gear was not checked."
    )
    assert "not the gear far astern" in plain(unproved(result, teller(result)))


def test_gear_that_is_clear_by_its_model_only_is_said_in_the_headline() -> None:
    gear = build_gear_result(planned=False)
    found = next(row for row in gear.rows if row.part is Part.GEAR)
    assert found.gear is not None
    reach = dataclasses.replace(found.gear, tier=GearTier.NOT_RULED_OUT)
    result = result_of(dataclasses.replace(found, status=Status.CLEAR, gear=reach), base=gear)

    words = plain(summary(result, local_clock(result)))
    assert "and its gear by the model of its path only." in words
    assert (
        "Of the gear 1 row is clear by the model of its path alone, not by the length of its rope." in words
    )


def move(base: CheckResult, status: Status) -> MoveOn:
    row = base.rows[0]
    assert row.closest is not None
    at = row.closest
    return MoveOn(
        track_id=row.track_id,
        from_tow=1,
        tow=2,
        status=status,
        reason="",
        distance_m=1.0,
        required_m=2.0,
        uncertainty_m=0.0,
        shoot_utc=at.utc,
        lon_deg=at.lon_deg,
        lat_deg=at.lat_deg,
        nearest_utc=at.utc,
        nearest_lon_deg=at.lon_deg,
        nearest_lat_deg=at.lat_deg,
        explain="Tow 2 was shot too near.",
    )


@pytest.mark.parametrize(
    ("row", "shot", "begins"),
    [
        (Status.CLEAR, Status.TOO_CLOSE, "1 problem found: Tow 2 was shot too near."),
        (Status.UNDETERMINED, Status.TOO_CLOSE, "1 problem found: Tow 2 was shot too near."),
        (
            Status.INSIDE,
            Status.TOO_CLOSE,
            "2 problems found in 2 tows. The worst: the vessel on tow 1 was 362.8 m",
        ),
        (
            Status.TOO_CLOSE,
            Status.TOO_CLOSE,
            "2 problems found in 2 tows. The worst: the vessel on tow 1 was on",
        ),
        (Status.CLEAR, Status.UNDETERMINED, "No problem shown, but one thing is not decided: Tow 2"),
    ],
)
def test_a_shot_by_the_move_on_rule_stands_first_where_it_is_the_worst(
    base: CheckResult, row: Status, shot: Status, begins: str
) -> None:
    one = row_with(base, status=row, clearance_m=-362.79)
    result = result_of(one, base=base, moves=(move(base, shot),))

    assert plain(headline(result, teller(result))).startswith(begins)
    assert 'id="worst"' in summary(result, local_clock(result))


def test_problems_are_counted_with_the_tows_they_are_in(base: CheckResult) -> None:
    route = next(track for track in build_result().tracks if track.kind == "planned")
    with_route = dataclasses.replace(base, tracks=(*base.tracks, route))
    rows = [row_with(base, tow=1), row_with(base, tow=1, part=Part.GEAR), row_with(base, tow=3)]
    outside = row_with(base, tow=None, activity=Activity.NOT_TOWING)
    planned = dataclasses.replace(rows[0], track_id=route.track_id)

    def said(*some: Row) -> str:
        result = result_of(*some, base=with_route)
        return plain(headline(result, teller(result))).split(". The worst")[0]

    assert said(*rows) == "3 problems found in 2 tows"
    assert said(*rows, outside) == "4 problems found in 2 tows and outside tows"
    assert said(outside, outside) == "2 problems found outside tows"
    assert said(planned, planned) == "2 problems found on the planned tow"


SEEN = [
    (
        {"tow": None, "activity": Activity.UNKNOWN},
        "the vessel was 172.0 m inside {zone}; whether it was towing",
    ),
    (
        {"activity": Activity.UNKNOWN},
        "the vessel, shooting or hauling (tow 1), was 172.0 m inside {zone}; whether the gear",
    ),
    ({"reason": "date_unknown"}, "the vessel on tow 1 was 172.0 m inside {zone}; whether the rule held then"),
    (
        {"reason": "gear_unknown"},
        "the vessel on tow 1 was 172.0 m inside {zone}; whether the rule covers its gear",
    ),
    (
        {"tow": None, "activity": Activity.NOT_TOWING},
        "the vessel, not towing, was 172.0 m inside {zone}; what else it did",
    ),
]


@pytest.mark.parametrize(("values", "said"), SEEN, ids=[said[:70] for _, said in SEEN])
def test_who_was_inside_is_said_to_have_been_there_whatever_else_is_open(
    base: CheckResult, values: dict[str, object], said: str
) -> None:
    known = {"status": Status.UNDETERMINED, "clearance_m": -172.0, "uncertainty_m": 15.0}
    row = row_with(base, **{**known, "reason": "missing_times", **values})
    result = result_of(row, base=base)
    tell = teller(result)

    words = plain(headline(result, tell))
    expected = said.replace("{zone}", tell.zones[row.zone_id].name)
    assert words.startswith(f"One thing is not decided: {expected}")
    assert words.endswith(" is not known.")
    unsure = dataclasses.replace(row, clearance_m=-15.0)
    assert plain(tell.did(unsure)).startswith("whether ")
    assert plain(tell.did(dataclasses.replace(row, reason="rope_bound"))).startswith("whether ")


def test_who_was_outside_the_only_area_allowed_is_said_to_have_been_there(base: CheckResult) -> None:
    zones = tuple(dataclasses.replace(z, rules=Rules(allowed_only_inside=True)) for z in base.zones)
    row = row_with(base, status=Status.UNDETERMINED, clearance_m=-172.0, activity=Activity.UNKNOWN, tow=None)

    words = plain(teller(dataclasses.replace(base, zones=zones)).did(row))
    assert words.startswith("the vessel was 172.0 m outside ")
    assert words.endswith(", the only area allowed; whether it was towing is not known")


@pytest.mark.parametrize("status", [Status.TOO_CLOSE, Status.UNDETERMINED])
def test_gear_that_was_not_checked_is_said_in_the_box_of_the_answer(
    base: CheckResult, status: Status
) -> None:
    result = result_of(row_with(base, status=status), base=base)
    page = summary(result, local_clock(result))
    box = page[: page.index("</section>")]
    gear = build_gear_result(planned=False)

    assert result.gear_unchecked
    assert "The gear was not checked, only the vessel. It follows far astern" in plain(box)
    assert "The gear was not checked" not in plain(summary(gear, local_clock(gear)))


def test_hauls_that_the_track_does_not_show_are_said_in_the_box_of_a_clear_answer(base: CheckResult) -> None:
    clear = result_of(row_with(base, status=Status.CLEAR), base=base)
    when = np.datetime64("2026-03-01T06:00:00", "us")
    haul = Disagreement(
        kind=DisagreementKind.NOT_IN_TRACK,
        haul_id="7",
        logged_shoot_utc=when,
        logged_haul_utc=when + np.timedelta64(2, "h"),
        track_shoot_utc=np.datetime64("NaT"),
        track_haul_utc=np.datetime64("NaT"),
        explain="Invented.",
    )
    other = dataclasses.replace(haul, kind=DisagreementKind.TIMES_APART)
    boxes = [
        plain(page[: page.index("</section>")])
        for some in ((haul,), (haul, haul), (other,))
        for result in [dataclasses.replace(clear, log_disagreements={base.tracks[0].track_id: some})]
        for page in [summary(result, local_clock(result))]
    ]

    assert "1 haul of the log is not shown by the track, and this answer cannot speak for it" in boxes[0]
    assert "2 hauls of the log are not shown by the track" in boxes[1]
    assert "of the log" not in boxes[2]


def test_a_planned_tow_is_not_told_as_if_it_had_been_sailed() -> None:
    base = build_result()
    route = next(track for track in base.tracks if track.kind == "planned")
    alone = dataclasses.replace(base, tracks=(route,), tows=(), doubts=(), gaps={})
    zones = tuple(dataclasses.replace(z, rules=Rules(allowed_only_inside=True)) for z in base.zones)
    some = [
        {},
        {"clearance_m": 0.0, "reason": "touched"},
        {"clearance_m": -5.0},
        {"status": Status.UNDETERMINED},
        {"status": Status.UNDETERMINED, "margin_m": 0.0},
        {"status": Status.UNDETERMINED, "clearance_m": -900.0},
    ]
    said = [
        plain(teller(result).did(dataclasses.replace(row_with(base, **values), track_id=route.track_id)))
        for values in some
        for result in (alone, dataclasses.replace(alone, zones=zones))
    ]
    clear = result_of(
        dataclasses.replace(row_with(base, status=Status.CLEAR), track_id=route.track_id), base=alone
    )
    said.append(plain(headline(clear, teller(clear))))

    assert [text for text in said if re.search(r"\b(was|came|kept|crossed|stayed)\b", text)] == []
    assert (
        said[-1] == f"No problem found: the planned tow keeps clear of all {len(base.zones)} zones checked."
    )


def test_worst_row_has_a_button_and_the_next_ones_too(base: CheckResult) -> None:
    rows = [row_with(base, tow=n, clearance_m=100.0 * n) for n in range(1, 6)]
    page = summary(result_of(*rows, base=base), local_clock(base))

    assert re.findall(r'class="show-row s-too_close" data-row="(\d)"', page) == ["1", "2", "3"]
    assert '<span class="row-badge s-too_close">Row 1</span>' in page
    assert "And 2 more problems, in the table." in page


def test_vessel_and_gear_on_one_tow_are_told_in_one_line(base: CheckResult) -> None:
    rows = [
        row_with(base, tow=1),
        row_with(base, tow=2, part=Part.GEAR, clearance_m=199.3),
        row_with(base, tow=2, clearance_m=249.5),
    ]
    (line,) = re.findall(r"<li>(.*?)</li>", summary(result_of(*rows, base=base), local_clock(base)))

    assert plain(line).startswith("2 the gear of tow 2 came 199.3 m from ")
    assert plain(line).endswith("are required; also 3 the vessel, 249.5 m.")


def test_row_that_a_gap_leaves_open_tells_when_the_gap_was(base: CheckResult) -> None:
    (track_id, (gap, *_)) = next((k, v) for k, v in base.gaps.items() if v)
    row = row_with(base, tow=None, status=Status.UNDETERMINED, clearance_m=None, closest=None, reason="gap")
    reach = ZoneReach(zone_id=row.zone_id, least_speed_kn=1.0, longest_inside_s=1.0, tow_fits=True)
    open_gap = dataclasses.replace(gap, could_reach=(reach,))
    other = dataclasses.replace(reach, zone_id="another")
    earlier = dataclasses.replace(
        gap, from_utc=gap.from_utc - np.timedelta64(7200, "s"), could_reach=(other,)
    )
    result = result_of(row, base=base, gaps={track_id: (earlier, open_gap)})
    clock = local_clock(result)

    words = plain(summary(result, clock))
    assert f"When: {clock.text(gap.from_utc)} to {clock.text(gap.to_utc)}, without positions." in words
    assert "Not decided is not clear: treat it as a problem until it is settled." in words


def test_what_is_not_proved_is_told_with_its_reasons(base: CheckResult) -> None:
    rows = [row_with(base, tow=n, status=Status.UNDETERMINED, explain=f"Reason {n}.") for n in range(1, 6)]
    text = plain(unproved(result_of(*rows, base=base), teller(base)))

    assert "5 pairs can neither be proved clear nor be shown to be a finding." in text
    assert "Only the vessel was checked" in text
    assert [n for n in range(1, 6) if f"Reason {n}." in text] == [1, 2, 3]
    assert "And 2 more, in the table." in text


def test_index_is_there_for_several_tows_and_left_out_for_one(base: CheckResult) -> None:
    clock = local_clock(base)
    page = trip_index(base, clock)

    assert re.findall(r'data-track="0" data-tow="(\d)"', page) == ["1", "2", "3"]
    for tow in base.tows:
        assert clock.html(tow.shoot_utc) in page
    found = sum(row.status in (Status.INSIDE, Status.TOO_CLOSE) for row in base.rows)
    counts = [int(n) for n in re.findall(r'<td data-head="Problems">(\d+)</td>', page)]
    assert sum(counts) == found > 0
    assert trip_index(dataclasses.replace(base, tows=base.tows[:1]), clock) == ""


def test_index_of_two_tracks_names_the_track_whose_tow_has_a_problem(base: CheckResult) -> None:
    """Both have a tow 1, and one of these is clear."""
    (track, tow) = base.tracks[0], base.tows[0]
    other = dataclasses.replace(track, track_id="The other")
    result = result_of(
        row_with(base, status=Status.INSIDE, clearance_m=-5.0),
        dataclasses.replace(row_with(base, status=Status.CLEAR), track_id="The other"),
        base=base,
        tracks=(track, other),
        tows=(tow, dataclasses.replace(tow, track_id="The other")),
        lengths_m={**base.lengths_m, "The other": 1.0},
    )
    words = plain(trip_index(result, local_clock(base)))

    assert f"Problems: tow 1 of {track.track_id}." in words
    assert "tow 1 of The other" not in words


def test_index_has_words_on_every_button_and_long_tows_in_nautical_miles(base: CheckResult) -> None:
    tows = (dataclasses.replace(base.tows[0], length_m=18561.9), *base.tows[1:])
    outside = row_with(base, tow=None, activity=Activity.NOT_TOWING)
    result = dataclasses.replace(base, tows=tows, rows=(*base.rows, outside))
    page = trip_index(result, local_clock(result))

    assert f'data-row="{len(result.rows)}"' in page
    assert set(re.findall(r"<button[^>]*>([^<]*)</button>", page)) == {"Show"}
    assert "10.02 nmi" in page
    assert "18561.9 m" not in page


def test_index_says_of_a_tow_without_rows_why_it_has_none(base: CheckResult) -> None:
    beyond = trip_index(dataclasses.replace(base, rows=()), local_clock(base))
    nothing = trip_index(dataclasses.replace(base, rows=(), zones=()), local_clock(base))

    assert beyond.count("Clear, farther than the reach") == len(base.tows)
    assert nothing.count("No zones to check") == len(base.tows)


def test_assumptions_count_the_rows_that_would_change_first(base: CheckResult) -> None:
    near = [
        row_with(base, clearance_m=483.0),
        row_with(base, clearance_m=484.0),
        row_with(base, clearance_m=900.0),
    ]
    settings = {**base.settings, "position_error_m": 10.25}
    text = plain(what_if(result_of(*near, base=base, settings=settings)))
    far = plain(what_if(result_of(near[2], base=base, settings=settings)))

    assert "In 1 decided row of the vessel the clearance lies within 20 m of what decides it" in text
    assert "No decided row of the vessel lies within 20 m of what decides it." in far


@pytest.mark.parametrize(
    ("towing", "said"),
    [
        ("detect", "told from the speeds"),
        ("all", "all of it counts"),
        ("none", "none of it"),
        ("x", "haul log"),
    ],
)
def test_assumptions_say_how_tows_were_told(base: CheckResult, towing: str, said: str) -> None:
    result = dataclasses.replace(base, settings={**base.settings, "towing": towing})

    assert said in plain(what_if(result))


def test_index_of_clear_tows_does_not_speak_for_gear_that_was_not_checked(base: CheckResult) -> None:
    clear = result_of(row_with(base, status=Status.CLEAR), base=base)
    gear = dataclasses.replace(clear, gear=build_gear_result().gear)

    assert clear.gear_unchecked
    assert "the gear was not checked" in plain(trip_index(clear, local_clock(clear)))
    assert "the gear was not checked" not in plain(trip_index(gear, local_clock(gear)))
