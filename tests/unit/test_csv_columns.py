"""Names of columns: usual spellings are known and told, units are never guessed, doubts are refused."""

from __future__ import annotations

import pytest

from towzone.errors import InputError
from towzone.files.csv_columns import TrackColumns, count_known, track_columns
from towzone.files.csv_head import Head
from towzone.tracks.options import DateOrder


def columns(*names: str) -> TrackColumns:
    return track_columns(Head(names=names, delimiter=",", line=3), "a.csv")


def refusal(*names: str) -> str:
    with pytest.raises(InputError) as caught:
        columns(*names)
    return str(caught.value)


@pytest.mark.parametrize(
    "name",
    [
        "lat",
        "LAT",
        "Latitude",
        "latitude_deg",
        "Lat (°)",
        "Lat. [°N]",
        "Latitude (decimal degrees)",
        "GPS Latitude",
        "lat_dd",
        "lat_wgs84",
        "position.latitude",
    ],
)
def test_spellings_of_latitude(name: str) -> None:
    assert columns(name, "lon").lat.name == name
    assert not columns(name, "lon").lat.packed


@pytest.mark.parametrize(
    "name", ["lon", "long", "lng", "Longitude", "LONGITUDE (E)", "Lon [deg]", "longitude_degrees_east"]
)
def test_spellings_of_longitude(name: str) -> None:
    assert columns("lat", name).lon.name == name


@pytest.mark.parametrize("name", ["lat_ddmm", "Latitude (ddmm.mmmm)", "lat nmea", "Lat NMEA 0183"])
def test_names_that_say_figures_are_run_together(name: str) -> None:
    assert columns(name, "lon_dddmm").lat.packed


@pytest.mark.parametrize(
    "name",
    ["lat_ed50", "lat_rad", "lat_s", "plat", "latest", "late", "y", "northing", "start lat", "lat2", ""],
)
def test_another_name_is_not_latitude(name: str) -> None:
    """A datum that is not WGS 84, radians, metres, the start of something: none of them is the fix."""
    assert "has no column for the latitude" in refusal(name, "lon")


@pytest.mark.parametrize("name", ["lon_w", "Longitude (W)", "long_ed50", "x", "easting", "along", "lonely"])
def test_another_name_is_not_longitude(name: str) -> None:
    """Among them one that counts to the west."""
    assert "has no column for the longitude" in refusal("lat", name)


def test_missing_columns_are_refused_with_those_found() -> None:
    assert refusal("time", "lat", "x") == (
        "a.csv: line 3: has no column for the longitude; found are 'time', 'lat', 'x'. Name the columns in"
        " the first row, for example time,lat,lon"
    )
    many = refusal(*(f"c{n}" for n in range(50)), "lat")
    assert "'c19' and 31 more" in many


@pytest.mark.parametrize(
    "names",
    [
        ("lat", "Latitude", "lon"),
        ("lat", "lon", "lng"),
        ("lat", "ns", "n_s", "lon", "ew"),
        ("lat", "lon", "time", "Time"),
    ],
)
def test_two_columns_that_mean_the_same_are_refused(names: tuple[str, ...]) -> None:
    assert "has several columns that mean the same: '" in refusal(*names)


@pytest.mark.parametrize(
    ("names", "ns", "ew"),
    [
        (("lat", "N", "lon", "W"), 1, 3),
        (("lat", "S", "lon", "E"), 1, 3),
        (("lat", "lat_hemisphere", "lon", "lon_hemisphere"), 1, 3),
        (("lat", "lon", "N/S", "E/W"), 2, 3),
        (("Latitude", "Lat Dir", "Longitude", "Lon Dir"), 1, 3),
        (("lat", "ns_indicator", "lon", "ew_indicator"), 1, 3),
        (("lat", "lon", "n", "e"), None, None),  # behind nothing they belong to: counts, perhaps
        (("n", "lat", "e", "lon"), None, None),
        (("lat", "W", "lon", "N"), None, None),
    ],
)
def test_columns_of_letters(names: tuple[str, ...], ns: int | None, ew: int | None) -> None:
    found = columns(*names)
    assert (found.ns and found.ns.index, found.ew and found.ew.index) == (ns, ew)


def test_letters_for_one_of_both_are_refused() -> None:
    assert "letters of latitudes or of longitudes, but not for both" in refusal("lat", "N", "lon", "speed_kn")


@pytest.mark.parametrize(
    ("name", "role", "factor"),
    [
        ("speed_kn", "sog_kn", 1.0),
        ("SOG (knots)", "sog_kn", 1.0),
        ("Speed over ground [kts]", "sog_kn", 1.0),
        # BIPM, SI Brochure, 8th ed. (2006), Table 8: the knot is 1852/3600 m/s.
        ("speed (m/s)", "sog_kn", 3600 / 1852),
        ("speed_mps", "sog_kn", 3600 / 1852),
        ("Speed (m s-1)", "sog_kn", 3600 / 1852),
        ("gps speed km/h", "sog_kn", 1000 / 1852),
        ("course_deg", "cog_deg", 1.0),
        ("COG", "cog_deg", 1.0),
        ("Course (true)", "cog_deg", 1.0),
        ("Heading", "heading_deg", 1.0),
        ("TrueHeading", "heading_deg", 1.0),
        ("depth_m", "depth_m", 1.0),
        ("Water depth (m)", "depth_m", 1.0),
        # NIST Special Publication 811 (2008), Appendix B.8: the foot is 0.3048 m; a fathom has six.
        ("Depth, fathoms", "depth_m", 6 * 0.3048),
        ("warp_m", "warp_m", 1.0),
        ("Warp out [metres]", "warp_m", 1.0),
        ("HDOP", "hdop", 1.0),
    ],
)
def test_readings_are_known_by_name_and_unit(name: str, role: str, factor: float) -> None:
    (reading,) = columns("lat", "lon", name).readings
    assert reading.role == role
    assert reading.factor == pytest.approx(factor, rel=1e-15)


@pytest.mark.parametrize(
    "name",
    [
        "speed",
        "SOG",
        "Speed (mph)",
        "depth",
        "Depth (ft)",
        "depth_fm",
        "warp",
        "warp km",
        "Heading (mag)",
        "course magnetic",
    ],
)
def test_a_reading_without_a_unit_that_is_known_is_left_out_and_said(name: str) -> None:
    found = columns("lat", "lon", name)
    assert found.readings == ()
    (said,) = [remark for remark in found.remarks if f"column '{name}' is not used" in remark]
    assert "its name says no unit that is read" in said


@pytest.mark.parametrize(
    "name", ["speed through water kn", "wind speed kn", "gear depth m", "max_speed_kn", "vdop", "compass"]
)
def test_other_readings_are_not_taken_for_these(name: str) -> None:
    found = columns("lat", "lon", name)
    assert found.readings == ()
    assert any("columns not used" in remark and name in remark for remark in found.remarks)


def test_of_two_columns_of_one_reading_the_first_is_used_and_the_other_said() -> None:
    found = columns("lat", "lon", "sog_kn", "speed_kn", "speed")
    assert [column.name for column in found.readings] == ["sog_kn"]
    assert "columns not used: 'speed_kn'" in found.remarks


def test_spellings_that_are_not_ours_are_told_and_ours_are_not() -> None:
    ours = (
        "time",
        "lat",
        "lon",
        "vessel",
        "speed_kn",
        "course_deg",
        "depth_m",
        "warp_m",
        "hdop",
        "heading_deg",
    )
    assert columns(*ours).remarks == ()
    assert columns("TIME", "Lat", "LON").remarks == ()
    (said,) = columns("Time (UTC)", "Latitude", "Long", "SOG kn", "HDG", "Ship name").remarks
    assert said == (
        "columns read: 'Time (UTC)' as time, 'Latitude' as lat, 'Long' as lon, 'SOG kn' as speed_kn, 'HDG' as"
        " heading_deg (true), 'Ship name' as vessel"
    )


def test_columns_that_are_not_used_are_told() -> None:
    (said,) = columns("id", "time", "lat", "lon", "", "crew\x1b[2J").remarks
    assert said == "columns not used: 'id', 'crew\\x1b[2J'"


# --- times ------------------------------------------------------------------------------------------


def time_of(*names: str) -> tuple[str, ...]:
    return tuple(column.name for column in columns("lat", "lon", *names).time)


def test_date_and_time_of_day_go_together() -> None:
    assert time_of("time") == ("time",)
    assert time_of("date") == ("date",)
    assert time_of("time", "date") == ("date", "time")
    assert time_of("Date", "Time of day") == ("Date", "Time of day")
    assert time_of("date", "time", "timestamp") == ("timestamp",)
    assert time_of("epoch_s", "time") == ("epoch_s",)


def test_the_column_that_says_utc_is_preferred() -> None:
    assert time_of("time_local", "time_utc") == ("time_utc",)
    assert time_of("date", "date_utc", "time_utc", "time") == ("date_utc", "time_utc")
    assert "several columns that mean the same" in refusal("lat", "lon", "timestamp", "datetime")


def test_what_both_names_say_holds_for_both() -> None:
    words = columns("lat", "lon", "Date (dd/mm/yyyy)", "Time UTC").words
    assert (words.utc, words.local, words.order) == (True, False, DateOrder.DAY_FIRST)
    words = columns("lat", "lon", "date utc", "local time").words
    assert (words.utc, words.local) == (False, True)


def test_a_column_of_zones_is_not_passed_over() -> None:
    """Its times are not UTC, and which zone each row means is not read."""
    assert columns("lat", "lon", "time", "timezone").words.local
    assert columns("lat", "lon", "time", "utc_offset").words.local
    assert not columns("lat", "lon", "time_utc", "timezone").words.local


def test_a_time_of_day_without_a_date_is_refused() -> None:
    assert "column 'clock' holds times of day, and no column holds dates" in refusal("lat", "lon", "clock")


@pytest.mark.parametrize("name", ["time_cet", "Timestep", "date of birth", "utc_seconds_of_week", "sea time"])
def test_names_that_seem_to_be_of_times_are_refused_where_no_other_is(name: str) -> None:
    assert f"column '{name}' seems to hold times" in refusal("lat", "lon", name)
    assert time_of(name, "time_utc") == ("time_utc",)


def test_a_table_without_times_is_read_and_that_is_said() -> None:
    found = columns("lat", "lon")
    assert found.time == ()
    assert "has no column of times" in found.remarks[0]


# --- vessels ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "vessel",
        "Vessel Name",
        "ship",
        "BOAT",
        "mmsi",
        "MMSI number",
        "sourcemmsi",
        "Call sign",
        "IMO",
        "CFR",
        "Registration",
        "External marking",
        "vessel_nr",
    ],
)
def test_columns_that_tell_vessels_apart(name: str) -> None:
    assert [column.name for column in columns("lat", "lon", name).identity] == [name]


def test_the_mmsi_tells_vessels_apart_before_names_do() -> None:
    found = columns("lat", "lon", "imo", "callsign", "vessel", "mmsi").identity
    assert [column.name for column in found] == ["mmsi", "vessel", "callsign", "imo"]


def test_a_registration_tells_vessels_apart_only_where_nothing_better_does() -> None:
    found = columns("lat", "lon", "registration", "cfr", "vessel").identity
    assert [column.name for column in found] == ["vessel", "cfr", "registration"]


@pytest.mark.parametrize("name", ["name", "id", "trip", "gear", "vessel type", "vessel length"])
def test_other_names_do_not_tell_vessels_apart(name: str) -> None:
    assert columns("lat", "lon", name).identity == ()


def test_more_that_is_known_is_counted_higher() -> None:
    assert count_known(["time", "lat", "lon", "Latitude", "x"]) == 3
    assert count_known(["time,lat,lon"]) == 0
