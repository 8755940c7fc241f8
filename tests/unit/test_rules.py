"""When a rule holds: seasons that wrap, last days of February, two windows, validity, time zones."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from towzone.files.properties import read_properties
from towzone.files.rule_properties import read_rules
from towzone.model.rule_words import rule_words
from towzone.model.rules import Rules


def rules(**given):
    made, problems, _ = read_rules(given)
    assert problems == []
    return made


def at(text):
    return datetime.fromisoformat(text).astimezone(UTC)


HAKE = {"from": "--10-01", "to": "--01-31"}
HAKE_PORTUGAL = {"from": "--12-01", "to": "--02-END"}
CORAL_EDGE = {"from": "--01-01", "to": "--02-28"}
COD_6A = [{"from": "--01-01", "to": "--03-31"}, {"from": "--10-01", "to": "--12-31"}]


@pytest.mark.parametrize(
    ("season", "instant", "held"),
    [
        # Regulation (EU) 2019/1241, Annex VII, Part C, point 1 (a): 1 October to 31 January of the next year.
        ([HAKE], "2026-01-31T23:59:59Z", True),
        ([HAKE], "2026-02-01T00:00:00Z", False),
        ([HAKE], "2026-10-01T00:00:00Z", True),
        ([HAKE], "2026-09-30T23:59:59Z", False),
        # The same, point 1 (b): 1 December to the last day of February of the next year.
        ([HAKE_PORTUGAL], "2028-02-29T12:00:00Z", True),
        ([HAKE_PORTUGAL], "2028-03-01T00:00:00Z", False),
        ([HAKE_PORTUGAL], "2027-02-28T23:59:59Z", True),
        ([HAKE_PORTUGAL], "2027-03-01T00:00:00Z", False),
        ([HAKE_PORTUGAL], "2027-11-30T23:59:59Z", False),
        # Council Regulation (EU) 2025/202, Annex IV, no. 3: 1 January to 28 February, by its words.
        ([CORAL_EDGE], "2028-02-28T23:59:59Z", True),
        ([CORAL_EDGE], "2028-02-29T00:00:00Z", False),
        # Regulation (EU) 2019/1241, Annex VI, Part C, point 1: two windows a year.
        (COD_6A, "2026-03-31T23:59:59Z", True),
        (COD_6A, "2026-04-01T00:00:00Z", False),
        (COD_6A, "2026-09-30T23:59:59Z", False),
        (COD_6A, "2026-10-01T00:00:00Z", True),
        (COD_6A, "2026-12-31T23:59:59Z", True),
    ],
)
def test_a_season_holds_on_both_its_days_and_no_others(season, instant, held):
    assert rules(season=season).in_force_at(at(instant)) is held


def test_a_day_that_a_year_has_not_is_the_nearest_that_it_has():
    """A window to 29 February ends on the 28th of a common year, one from it begins on 1 March."""
    until = rules(season=[{"from": "--02-01", "to": "--02-29"}])
    since = rules(season=[{"from": "--02-29", "to": "--03-31"}])

    assert until.in_force_at(at("2027-02-28T12:00Z"))
    assert not until.in_force_at(at("2027-03-01T00:00Z"))
    assert not since.in_force_at(at("2027-02-28T12:00Z"))
    assert since.in_force_at(at("2027-03-01T00:00Z"))
    assert since.in_force_at(at("2028-02-29T00:00Z"))


@pytest.mark.parametrize(
    ("first", "last", "days"),
    [
        # Notices of the European Fisheries Control Agency, as listed with their wording:
        # Denmark, "26 May 2021 to 15 June 2021 at midnight" (21 days).
        ("2021-05-26", "2021-06-15", 21),
        # Denmark, "11 to 31 January 2022 inclusive" (21 days).
        ("2022-01-11", "2022-01-31", 21),
    ],
)
def test_a_real_time_closure_given_in_dates_counts_both(first, last, days):
    closure = rules(valid_from=first, valid_until=last)

    assert closure.valid_until - closure.valid_from == timedelta(days=days)
    assert closure.in_force_at(at(f"{last}T23:59:59Z"))
    assert not closure.in_force_at(closure.valid_until)


def test_24_hours_of_a_day_is_0_hours_of_the_next():
    """Delegated Regulation (EU) 2019/2201, Article 8: from 24.00 h UTC, 14 days, to midnight UTC.

    Sweden, 29 April to 13 May 2022: 14 days counted from 24.00 UTC on 29 April.
    """
    closure = rules(valid_from="2022-04-29T24:00Z", valid_until="2022-05-13T24:00Z")

    assert closure.valid_from == at("2022-04-30T00:00Z")
    assert closure.valid_until - closure.valid_from == timedelta(days=14)
    assert not closure.in_force_at(at("2022-04-29T23:59:59Z"))
    assert closure.in_force_at(at("2022-04-30T00:00:00Z"))
    assert not closure.in_force_at(at("2022-05-14T00:00:00Z"))


def test_days_are_those_of_the_zones_own_time_zone():
    """The first second of 1 October in Copenhagen (two hours ahead) is 22:00 UTC the day before."""
    danish = rules(season=[HAKE], time_zone="Europe/Copenhagen")

    assert danish.in_force_at(at("2026-09-30T22:00:00Z"))
    assert not danish.in_force_at(at("2026-09-30T21:59:59Z"))
    assert not danish.in_force_at(at("2027-01-31T23:00:00Z"))
    assert danish.in_force_at(at("2027-01-31T22:59:59Z"))


def test_season_and_validity_both_must_hold():
    both = rules(season=[HAKE], valid_from="2026-11-01", valid_until="2026-11-30")

    assert not both.in_force_at(at("2026-10-15T00:00Z"))
    assert both.in_force_at(at("2026-11-15T00:00Z"))
    assert not both.in_force_at(at("2026-12-01T00:00Z"))


def test_the_next_change_is_the_next_edge_of_the_season():
    assert rules(season=[HAKE]).next_change(at("2026-05-01T00:00Z")) == at("2026-10-01T00:00Z")
    assert rules(season=[HAKE]).next_change(at("2026-12-24T00:00Z")) == at("2027-02-01T00:00Z")
    assert rules().next_change(at("2026-12-24T00:00Z")) is None
    assert rules(valid_until="2026-05-12").next_change(at("2026-05-01T00:00Z")) == at("2026-05-13T00:00Z")
    assert rules(valid_until="2026-05-12").next_change(at("2026-06-01T00:00Z")) is None
    assert rules(valid_from="2031-05-12").next_change(at("2026-06-01T00:00Z")) == at("2031-05-12T00:00Z")


def test_windows_that_touch_are_one_and_change_nothing_between_them():
    whole = rules(season=[{"from": "--01-01", "to": "--06-30"}, {"from": "--07-01", "to": "--12-31"}])

    assert whole.changes(at("2026-06-01T00:00Z"), at("2026-08-01T00:00Z")) == []
    assert whole.next_change(at("2026-06-01T00:00Z")) is None


month_days = st.dates().map(lambda day: f"--{day:%m-%d}")
windows = st.lists(st.fixed_dictionaries({"from": month_days, "to": month_days}), min_size=1, max_size=3)
instants = st.integers(0, 120 * 365 * 86_400).map(
    lambda s: datetime(1975, 1, 1, tzinfo=UTC) + timedelta(seconds=s)
)
zone_names = st.sampled_from(["UTC", "Europe/Dublin", "Pacific/Auckland", "America/St_Johns"])


@given(windows, zone_names, instants)
def test_an_instant_is_in_season_when_its_local_day_is(season, name, instant):
    """A plain second reading: month and day of the local calendar, compared as text."""
    day = f"--{instant.astimezone(ZoneInfo(name)):%m-%d}"
    february_end = instant.astimezone(ZoneInfo(name)) + timedelta(days=1)
    plain = any(
        (w["from"] <= day <= w["to"]) if w["from"] <= w["to"] else (day >= w["from"] or day <= w["to"])
        for w in season
    )
    leap_words = any("02-29" in w["from"] + w["to"] for w in season)

    if not (leap_words and february_end.month in (2, 3)):
        assert rules(season=season, time_zone=name).in_force_at(instant) is plain


@given(windows, zone_names, instants, st.timedeltas(timedelta(0), timedelta(days=900)))
def test_spans_and_instants_agree(season, name, first, length):
    made, last = rules(season=season, time_zone=name), first + length
    spans = made.spans(first, last)

    assert all(a[1] < b[0] for a, b in pairwise(spans))
    for share in (0.0, 0.1, 0.37, 0.5, 0.93):
        instant = first + length * share
        inside = any(begin <= instant < end for begin, end in spans) or (not length and bool(spans))
        if instant < last or not length:
            assert inside is made.in_force_at(instant)


@pytest.mark.parametrize(
    ("given_", "fragment"),
    [
        ({"season": [{"from": "10-01", "to": "--01-31"}]}, "--10-01"),
        ({"season": [{"from": "--13-01", "to": "--01-31"}]}, "--13-01"),
        ({"season": [{"from": "--04-31", "to": "--05-31"}]}, "--04-31"),
        ({"season": [{"from": "--04-END", "to": "--05-31"}]}, "--04-END"),
        ({"season": [{"from": "--04-01"}]}, "both days inside"),
        ({"season": "winter"}, "winter"),
        ({"valid_from": "12/05/2026"}, "12/05/2026"),
        ({"valid_from": "2026-02-30"}, "2026-02-30"),
        ({"valid_from": "2026-05-12T25:00Z"}, "25:00"),
        ({"valid_from": "2026-05-12", "valid_until": "2026-05-11"}, "never hold"),
        ({"time_zone": "Copenhagen"}, "IANA"),
        ({"time_zone": "../../etc/passwd"}, "IANA"),
        ({"gears": ["OTB", "TRAWL"]}, "TRAWL"),
        ({"gears": "any towed gear"}, "any towed gear"),
        ({"gears": ["otb"]}, "otb"),
        ({"transit_min_speed": "6"}, "no unit"),
        ({"transit_min_speed": 6}, "no unit"),
        ({"allowed_only_inside": "perhaps"}, "true and false"),
    ],
)
def test_what_is_not_a_rule_is_refused_and_named(given_, fragment):
    _, problems, _ = read_rules(given_)

    assert any(fragment in problem for problem in problems), problems


def test_the_28th_of_february_is_remarked_on():
    _, _, remarks = read_rules({"season": [CORAL_EDGE]})

    assert any("29 February is outside" in remark for remark in remarks)


def test_a_time_zone_is_only_missed_where_something_depends_on_it():
    assert not rules(season=[HAKE]).time_zone_stated
    assert not rules(valid_from="2026-05-12").time_zone_stated
    assert not rules(valid_from="2026-05-12T10:00").time_zone_stated
    assert rules(valid_from="2026-05-12T10:00+02:00").time_zone_stated
    assert rules(season=[HAKE], time_zone="UTC").time_zone_stated
    assert rules(gears=["OTB"]).time_zone_stated


def test_gears_are_listed_spared_or_in_doubt():
    listed, spared = rules(gears=["TB", "SSC"]), rules(except_gears=["TM"])

    assert [listed.covers_gear(g) for g in ("OTT", "SSC", "OTM", "TX", None)] == [
        True,
        True,
        False,
        None,
        None,
    ]
    assert [spared.covers_gear(g) for g in ("OTB", "PTM", "TX", None)] == [True, False, None, None]
    assert Rules().covers_gear(None) is True


def test_rules_are_said_in_words():
    made = rules(season=[HAKE], gears=["OTB"], except_gears=["SSC"], transit_min_speed="6kn")

    assert rule_words(made) == [
        "season 1 October to 31 January (UTC)",
        "covers gear OTB",
        "spares gear SSC",
        "crossing at 6 kn or more",
    ]
    assert rule_words(Rules()) == []


def test_instants_may_come_as_numpy_times():
    assert rules(season=[HAKE]).in_force_at(np.datetime64("2026-10-01T00:00:00", "us"))
    assert not rules(season=[HAKE]).in_force_at(np.datetime64("2026-09-30T23:59:59.999999", "us"))


@pytest.mark.parametrize(
    ("value", "advice"),
    [
        ("OTB,TBB", 'write ["OTB", "TBB"]'),
        ("otb", 'did you mean "OTB"?'),
        ("any towed gear", 'for example ["OTB", "TBB"]'),
    ],
)
def test_gears_that_are_nearly_right_come_with_what_to_write(value, advice):
    _, problems, _ = read_rules({"gears": value})

    assert any(advice in problem for problem in problems), problems


def test_prohibitions_with_commas_come_with_the_list_to_write():
    _, problems, _ = read_properties({"kind": "closed_area", "prohibits": "fishing, entry"})

    assert any('write a list, ["fishing", "entry"]' in problem for problem in problems), problems


def test_a_list_within_a_list_is_no_gear():
    _, problems, _ = read_rules({"gears": [["OTB"]]})

    assert any("OTB" in problem for problem in problems)


def test_two_codes_of_one_gear_cover_each_other():
    assert rules(gears=["DRM"]).covers_gear("HMD") is True
    assert rules(gears=["HMD"]).covers_gear("DRM") is True
