"""Rules at work: one small square, one straight track through it, and every condition a rule can carry."""

import json
from datetime import date

import numpy as np
import pytest

from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings, Towing
from towzone.errors import InputError
from towzone.files.rule_properties import read_rules
from towzone.files.zones import read_zones
from towzone.geodesy.lines import LineKind, direct
from towzone.geodesy.shape import Shape, freeze
from towzone.model.result import Outcome, Status
from towzone.model.track import Track, TrackKind
from towzone.model.zone import Prohibition, Zone, ZoneKind
from towzone.units import KNOT_MPS

SQUARE = Shape(polygons=((freeze([(-9.95, 50.0), (-9.90, 50.0), (-9.90, 50.05), (-9.95, 50.05)]),),))
"""3.6 km wide; the track below runs through it from west to east, along 50.025 N."""


def zone(*, kind=ZoneKind.CLOSED_AREA, prohibits=(Prohibition.FISHING,), margin_m=0.0, **given):
    rules, problems, _ = read_rules(given)
    assert problems == []
    return Zone(
        zone_id="Z",
        name="Square",
        kind=kind,
        shape=SQUARE,
        edges=LineKind.RHUMB,
        edges_stated=True,
        prohibits=prohibits,
        margin_m=margin_m,
        rules=rules,
        file="square.geojson",
    )


def track(start="2026-05-12T06:00:00", *, speed_kn=3.0, kind=TrackKind.COMPLETED, timed=True):
    """10 km eastwards from 10° W in steps of a minute."""
    step_m = speed_kn * KNOT_MPS * 60.0
    metres = np.arange(0.0, 10_000.0, step_m)
    lon, lat = direct(LineKind.GEODESIC, -10.0, 50.025, 90.0, metres)
    times = np.datetime64(start, "us") + np.arange(len(metres)) * np.timedelta64(60, "s")
    return Track(
        track_id="T",
        source="t.gpx",
        kind=kind,
        lon_deg=lon,
        lat_deg=lat,
        time_utc=times if timed else np.full(len(metres), np.datetime64("NaT", "us")),
        part=np.zeros(len(metres)),
        fixes_read=len(metres),
    )


def rows(a_zone, a_track=None, **settings):
    result = run_check([a_track or track()], [a_zone], CheckSettings(**{"towing": Towing.ALL, **settings}))
    return result, {(row.status, row.reason): row for row in result.rows}


def only(a_zone, a_track=None, **settings):
    _, found = rows(a_zone, a_track, **settings)
    assert len(found) == 1, found
    return next(iter(found))


WINTER = [{"from": "--10-01", "to": "--01-31"}]


@pytest.mark.parametrize(
    ("start", "expected"),
    [
        ("2026-01-31T12:00:00", (Status.INSIDE, "fishing_inside")),
        ("2026-02-01T12:00:00", (Status.NOT_IN_FORCE, "season")),
        ("2026-09-30T12:00:00", (Status.NOT_IN_FORCE, "season")),
        ("2026-10-01T12:00:00", (Status.INSIDE, "fishing_inside")),
    ],
)
def test_the_season_at_the_time_of_the_crossing_decides(start, expected):
    assert only(zone(season=WINTER), track(start)) == expected


def test_a_stay_is_split_where_the_season_begins():
    """Both halves stay in the result, and meet at midnight."""
    _, found = rows(zone(season=WINTER), track("2026-09-30T23:00:00"))

    before, after = found[Status.NOT_IN_FORCE, "season"], found[Status.INSIDE, "fishing_inside"]
    assert before.inside[0].leave_utc == np.datetime64("2026-10-01T00:00:00", "us")
    assert after.inside[0].enter_utc == np.datetime64("2026-10-01T00:00:00", "us")
    assert before.inside[0].seconds + after.inside[0].seconds == pytest.approx(3575.0 / 1.5433, abs=15.0)


def test_a_rule_of_another_zone_splits_nothing_here():
    """A stay is one stay although some other zone's season begins in the middle of it."""
    other = zone(season=WINTER)
    here = zone()
    object.__setattr__(here, "zone_id", "A")
    result = run_check([track("2026-09-30T23:00:00")], [here, other], CheckSettings(towing=Towing.ALL))

    assert [len(row.inside) for row in result.rows if row.zone_id == "A"] == [1]
    assert len(result.tows) == 1


def test_a_season_without_dates_on_the_track_is_undetermined_until_a_day_is_stated():
    plan = track(kind=TrackKind.PLANNED, timed=False)

    assert only(zone(season=WINTER), plan) == (Status.UNDETERMINED, "date_unknown")
    assert only(zone(season=WINTER), plan, on=date(2026, 12, 24)) == (Status.INSIDE, "fishing_inside")
    assert only(zone(season=WINTER), plan, on=date(2026, 5, 12)) == (Status.NOT_IN_FORCE, "season")


def test_a_day_on_which_the_rule_changes_leaves_it_open():
    """A rule that begins at noon may or may not hold on that day."""
    plan = track(kind=TrackKind.PLANNED, timed=False)

    assert only(zone(valid_from="2026-05-12T12:00Z"), plan, on=date(2026, 5, 12)) == (
        Status.UNDETERMINED,
        "date_unknown",
    )


def test_clear_is_clear_whatever_the_date():
    """A seasonal zone that the plan does not come near needs no date."""
    far = track(kind=TrackKind.PLANNED, timed=False)
    moved = Track(
        track_id="T",
        source="t.gpx",
        kind=TrackKind.PLANNED,
        lon_deg=far.lon_deg,
        lat_deg=far.lat_deg + 0.06,
        time_utc=far.time_utc,
        part=far.part,
        fixes_read=len(far),
    )

    result, found = rows(zone(season=WINTER), moved)

    assert set(found) == {(Status.CLEAR, "")}
    assert result.outcome is Outcome.CLEAR


@pytest.mark.parametrize(
    ("gear", "given_", "expected"),
    [
        ("OTB", {"gears": ["OTB", "OTT"]}, (Status.INSIDE, "fishing_inside")),
        ("OTB", {"gears": ["TB"]}, (Status.INSIDE, "fishing_inside")),
        ("OTM", {"gears": ["TB"]}, (Status.NOT_IN_FORCE, "gear")),
        ("OTB", {"except_gears": ["OTB"]}, (Status.NOT_IN_FORCE, "gear")),
        ("TX", {"gears": ["OTB"]}, (Status.UNDETERMINED, "gear_unknown")),
        (None, {"gears": ["OTB"]}, (Status.UNDETERMINED, "gear_unknown")),
        (None, {}, (Status.INSIDE, "fishing_inside")),
    ],
)
def test_the_gear_decides_where_the_rule_names_gears(gear, given_, expected):
    assert only(zone(**given_), gear=gear) == expected


def test_gear_that_never_touches_the_bottom_is_not_held_to_bottom_contact():
    cable = zone(kind=ZoneKind.CABLE, prohibits=(Prohibition.BOTTOM_CONTACT,))

    assert only(cable, gear="OTM") == (Status.NOT_IN_FORCE, "gear")
    assert only(cable, gear="OTB") == (Status.INSIDE, "fishing_inside")
    assert only(cable, gear=None) == (Status.INSIDE, "fishing_inside")


@pytest.mark.parametrize(
    ("speed_kn", "expected"),
    [
        # Council Regulation (EC) 1224/2009, Article 50: "not be less than 6 knots"; 6.0 is enough.
        (6.0, (Status.TRANSIT, "kept_speed")),
        (5.9, (Status.INSIDE, "slow_transit")),
        (8.0, (Status.TRANSIT, "kept_speed")),
    ],
)
def test_a_crossing_keeps_six_knots_or_fails(speed_kn, expected):
    crossing = track(speed_kn=speed_kn)

    assert only(zone(transit_min_speed="6kn"), crossing, towing=Towing.NONE) == expected


def test_a_stop_inside_fails_however_fast_the_rest_was():
    """Twenty minutes of lying still in the middle of the zone, at 8 kn before and after."""
    fast = track(speed_kn=8.0)
    inside = int(np.searchsorted(fast.lon_deg, -9.925))
    later = np.where(np.arange(len(fast)) >= inside, 1_200, 0) * np.timedelta64(1, "s")
    still = np.insert(fast.lon_deg, inside, fast.lon_deg[inside])
    times = np.insert(fast.time_utc + later, inside, fast.time_utc[inside])
    stopped = Track(
        track_id="T",
        source="t.gpx",
        kind=TrackKind.COMPLETED,
        lon_deg=still,
        lat_deg=np.insert(fast.lat_deg, inside, fast.lat_deg[inside]),
        time_utc=times,
        part=np.zeros(len(still)),
        fixes_read=len(still),
    )

    found = only(zone(transit_min_speed="6kn"), stopped, towing=Towing.NONE, gap_s=1_800.0)

    assert found == (Status.INSIDE, "slow_transit")


def test_towing_is_never_a_transit():
    assert only(zone(transit_min_speed="2kn"), track(speed_kn=3.0)) == (Status.INSIDE, "fishing_inside")


def test_out_of_season_no_speed_is_asked_for():
    slow = track(speed_kn=3.0)
    found = only(zone(transit_min_speed="6kn", season=WINTER), slow, towing=Towing.NONE)

    assert found == (Status.NOT_IN_FORCE, "season")


def test_allowed_only_inside_turns_the_zone_round():
    """The tow begins 3.6 km west of the area and ends outside it again."""
    result, found = rows(zone(allowed_only_inside=True))

    row = found[Status.INSIDE, "outside_allowed_area"]
    assert len(row.inside) == 2
    # Least of 500 001 geodesics (pyproj.Geod, WGS 84) from 50.025 N 10 W to the side along 9.95 W.
    assert row.clearance_m == pytest.approx(-3582.928, abs=0.001)
    assert "outside the only area allowed" in row.explain
    assert result.outcome is Outcome.FINDING


def test_allowed_only_inside_is_clear_for_who_stayed_in_by_more_than_the_error():
    whole = track(speed_kn=3.0)
    kept = (whole.lon_deg > -9.945) & (whole.lon_deg < -9.905)
    inner = Track(
        track_id="T",
        source="t.gpx",
        kind=TrackKind.COMPLETED,
        lon_deg=whole.lon_deg[kept],
        lat_deg=whole.lat_deg[kept],
        time_utc=whole.time_utc[kept],
        part=np.zeros(kept.sum()),
        fixes_read=int(kept.sum()),
    )

    assert only(zone(allowed_only_inside=True), inner) == (Status.CLEAR, "")
    assert only(zone(allowed_only_inside=True, margin_m=2000.0), inner) == (Status.TOO_CLOSE, "under_margin")


def test_allowed_only_inside_holds_however_far_away_the_area_is():
    """Being an ocean away from the allowed area proves nothing but that one is outside it."""
    far = track()
    away = Track(
        track_id="T",
        source="t.gpx",
        kind=TrackKind.COMPLETED,
        lon_deg=far.lon_deg - 20.0,
        lat_deg=far.lat_deg,
        time_utc=far.time_utc,
        part=far.part,
        fixes_read=len(far),
    )

    assert only(zone(allowed_only_inside=True), away) == (Status.INSIDE, "outside_allowed_area")


def test_a_gap_out_of_season_opens_nothing():
    """What may have happened in a gap matters only if the rule could have held in it."""
    whole = track("2026-05-12T06:00:00")
    outside = (whole.lon_deg < -9.955) | (whole.lon_deg > -9.895)
    holed = Track(
        track_id="T",
        source="t.gpx",
        kind=TrackKind.COMPLETED,
        lon_deg=whole.lon_deg[outside],
        lat_deg=whole.lat_deg[outside],
        time_utc=whole.time_utc[outside],
        part=np.zeros(outside.sum()),
        fixes_read=int(outside.sum()),
    )

    assert only(zone(), holed) == (Status.UNDETERMINED, "gap")
    assert only(zone(season=WINTER), holed) == (Status.CLEAR, "")
    assert only(zone(valid_from="2026-05-12T06:50Z"), holed) == (Status.UNDETERMINED, "gap")


def test_a_tow_within_a_day_of_the_edge_is_remarked_on_once():
    result, _ = rows(zone(season=WINTER), track("2026-09-30T12:00:00"))
    stated, _ = rows(zone(season=WINTER, time_zone="UTC"), track("2026-09-30T12:00:00"))
    far, _ = rows(zone(season=WINTER), track("2026-06-30T12:00:00"))

    assert ["no time zone is stated" in w.message for w in result.warnings] == [True]
    assert stated.warnings == ()
    assert far.warnings == ()


def test_whether_a_zone_was_in_force_is_said():
    result, _ = rows(zone(season=WINTER), track("2026-06-30T12:00:00"))
    other, _ = rows(zone(season=WINTER), track("2026-09-30T23:00:00"))

    assert result.in_force == {"Z": False}
    assert other.in_force == {"Z": True}


def test_the_accuracy_of_an_earlier_conversion_widens_the_uncertainty(tmp_path):
    """Corners that came from another datum stay as unsure as they were, through the zone file."""
    properties = {"kind": "closed_area", "datum_note": "from ED50", "datum_accuracy": "3m", "edges": "rhumb"}
    ring = [[-9.95, 50.0], [-9.90, 50.0], [-9.90, 50.05], [-9.95, 50.0]]
    feature = {
        "type": "Feature",
        "properties": properties,
        "geometry": {"type": "Polygon", "coordinates": [ring]},
    }
    path = tmp_path / "z.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))

    result = run_check([track()], read_zones(str(path)).zones, CheckSettings(towing=Towing.ALL))

    assert {row.uncertainty_m for row in result.rows} == {18.0}
    assert any("from ED50" in line for line in result.assumptions)


@pytest.mark.parametrize(
    ("geometry", "more"),
    [
        ({"type": "LineString", "coordinates": [[-9.95, 50.0], [-9.90, 50.0]]}, {}),
        ({"type": "Point", "coordinates": [-9.95, 50.0]}, {"radius": "500m"}),
        (
            {
                "type": "Polygon",
                "coordinates": [[[-9.95, 50.0], [-9.90, 50.0], [-9.90, 50.05], [-9.95, 50.0]]],
            },
            {"radius": "500m"},
        ),
    ],
)
def test_allowed_only_inside_needs_an_area_without_a_radius(geometry, more, tmp_path):
    properties = {"kind": "closed_area", "allowed_only_inside": True, **more}
    feature = {"type": "Feature", "properties": properties, "geometry": geometry}
    path = tmp_path / "z.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))

    with pytest.raises(InputError, match="allowed_only_inside"):
        read_zones(str(path))
