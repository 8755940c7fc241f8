"""GPX from many writers is read rightly: positions, times, parts, and nothing lost without a word."""

from __future__ import annotations

import datetime as dt
import io
import zoneinfo
from pathlib import Path
from xml.etree import ElementTree

import fiona
import gpxpy
import gpxpy.gpx
import numpy as np
import pytest
from bad_inputs import GOOD_POINT, gpx, trk

from towzone.errors import InputError
from towzone.files.times import TimeReader, TimeTextError
from towzone.files.tracks import TrackFile, read_tracks
from towzone.model.track import Track, TrackKind
from towzone.tracks.options import ReadingOptions

DATA = Path(__file__).parents[1] / "data" / "gpx"


def read(tmp_path: Path, data: bytes, name: str = "trip.gpx", zone: str | None = None) -> TrackFile:
    path = tmp_path / name
    path.write_bytes(data)
    return read_tracks(str(path), ReadingOptions(track_tz=zoneinfo.ZoneInfo(zone) if zone else None))


def utc(*texts: str) -> list[np.datetime64]:
    return [np.datetime64(text, "us") for text in texts]


def points(*rows: tuple[float, float, str]) -> bytes:
    """Points of one segment, each on its own line from line 4; an empty time is left out."""
    lines = []
    for lat, lon, time in rows:
        inner = f"<time>{time}</time>" if time else ""
        lines.append(f'<trkpt lat="{lat}" lon="{lon}">{inner}</trkpt>')
    return trk("\n".join(lines))


def dropped(track: Track) -> dict[str, int]:
    return {item.reason: item.count for item in track.dropped}


def messages(file: TrackFile) -> str:
    return "\n".join(f"{remark.where}: {remark.message}" for remark in file.remarks)


# --- dialects -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "version_1_0_with_speed.gpx",
        "version_1_1_with_extensions.gpx",
        "prefix_ns3.gpx",
        "utf16.gpx",
        "latin1.gpx",
        "blank_lines_and_mark_first.gpx",
        "microseconds.gpx",
        "offsets.gpx",
        "no_zone.gpx",
        "attributes_reversed.gpx",
    ],
)
def test_the_same_trip_reads_the_same_in_every_dialect(name: str) -> None:
    """All files hold the same three invented fixes, as different kinds of writers put them."""
    file = read_tracks(str(DATA / name))
    (track,) = file.tracks
    assert track.kind is TrackKind.COMPLETED
    assert track.lat_deg.tolist() == [57.5, 57.501, 57.5025]
    assert track.lon_deg.tolist() == [-20.25, -20.2475, -20.245]
    assert list(track.time_utc) == utc("2026-03-01T06:10:00", "2026-03-01T06:11:00", "2026-03-01T06:12:00.25")
    assert track.part.tolist() == [0, 0, 1]
    assert (track.fixes_read, track.dropped) == (3, ())
    assert track.track_id == name.removesuffix(".gpx")
    said = [remark for remark in file.remarks if "zone" in remark.message]
    assert len(said) == (1 if name == "no_zone.gpx" else 0)


def _written_by_gpxpy() -> bytes:
    document = gpxpy.gpx.GPX()
    document.tracks.append(gpxpy.gpx.GPXTrack(name="invented"))
    start = dt.datetime(2026, 3, 1, 6, 10, tzinfo=dt.UTC)
    for part in range(2):
        segment = gpxpy.gpx.GPXTrackSegment()
        for i in range(part * 3, part * 3 + 3):
            time = start + dt.timedelta(seconds=10 * i)
            segment.points.append(
                gpxpy.gpx.GPXTrackPoint(57.5 + i / 1000, -20.25 - i / 1000, elevation=0, time=time)
            )
        document.tracks[0].segments.append(segment)
    route = gpxpy.gpx.GPXRoute(name="out")
    route.points = [gpxpy.gpx.GPXRoutePoint(57.0, -20.0), gpxpy.gpx.GPXRoutePoint(57.25, -20.5)]
    document.routes.append(route)
    return document.to_xml().encode()


def _written_by_gdal(tmp_path: Path) -> bytes:
    path = tmp_path / "gdal.gpx"
    start = dt.datetime(2026, 3, 1, 6, 10, tzinfo=dt.UTC)
    # The driver takes columns by their place among its own.
    columns = {
        "track_fid": "int32",
        "track_seg_id": "int32",
        "track_seg_point_id": "int32",
        "ele": "float",
        "time": "datetime",
    }
    schema = {"geometry": "Point", "properties": columns}
    with fiona.open(path, "w", driver="GPX", layer="track_points", schema=schema, crs="EPSG:4326") as sink:
        for i in range(6):
            time = (start + dt.timedelta(seconds=10 * i)).isoformat()
            values = (0, i // 3, i, 0.0, time)
            sink.write(
                {
                    "geometry": {"type": "Point", "coordinates": (-20.25 - i / 1000, 57.5 + i / 1000)},
                    "properties": dict(zip(columns, values, strict=True)),
                }
            )
    return path.read_bytes()


def _written_by_elementtree() -> bytes:
    space = "http://www.topografix.com/GPX/1/1"
    root = ElementTree.Element(f"{{{space}}}gpx", version="1.1")
    track = ElementTree.SubElement(root, f"{{{space}}}trk")
    for part in range(2):
        segment = ElementTree.SubElement(track, f"{{{space}}}trkseg")
        for i in range(part * 3, part * 3 + 3):
            point = ElementTree.SubElement(
                segment, f"{{{space}}}trkpt", lon=repr(-20.25 - i / 1000), lat=repr(57.5 + i / 1000)
            )
            ElementTree.SubElement(point, f"{{{space}}}time").text = f"2026-03-01T06:10:{10 * i:02d}Z"
    buffer = io.BytesIO()
    ElementTree.ElementTree(root).write(buffer, encoding="utf-16", xml_declaration=True)
    return buffer.getvalue()


@pytest.mark.parametrize("program", ["gpxpy", "gdal", "elementtree"])
def test_what_other_programs_write_is_read_back_exactly(program: str, tmp_path: Path) -> None:
    if program == "gpxpy":
        data = _written_by_gpxpy()
    elif program == "gdal":
        data = _written_by_gdal(tmp_path)
    else:
        data = _written_by_elementtree()
    file = read(tmp_path, data)
    track = file.tracks[0]
    np.testing.assert_allclose(track.lat_deg, [57.5 + i / 1000 for i in range(6)], rtol=0, atol=1e-9)
    np.testing.assert_allclose(track.lon_deg, [-20.25 - i / 1000 for i in range(6)], rtol=0, atol=1e-9)
    assert list(track.time_utc) == utc(*(f"2026-03-01T06:10:{10 * i:02d}" for i in range(6)))
    assert track.part.tolist() == [0, 0, 0, 1, 1, 1]
    if program == "gpxpy":
        route = file.tracks[1]
        assert (route.track_id, route.kind) == ("trip/out", TrackKind.PLANNED)
        assert route.lat_deg.tolist() == [57.0, 57.25]
        assert np.isnat(route.time_utc).all()


def test_points_of_foreign_elements_and_waypoints_are_not_the_track(tmp_path: Path) -> None:
    foreign = '<extensions><x:trkpt xmlns:x="y" lat="3" lon="3"/></extensions>'
    point = GOOD_POINT.replace("</trkpt>", f"{foreign}</trkpt>")
    commented_out = "<!-- <trkpt lat='4' lon='4'/> -->"
    body = f'<wpt lat="1" lon="1"/><trk>{foreign}<trkseg>{commented_out}{point}</trkseg></trk>'
    (track,) = read(tmp_path, gpx(body)).tracks
    assert track.lat_deg.tolist() == [57.5]


def test_the_time_of_a_point_is_its_own_child_only(tmp_path: Path) -> None:
    inner = (
        "<extensions><time>1999-01-01T00:00:00Z</time></extensions>"
        '<y:time xmlns:y="y">1998-01-01T00:00:00Z</y:time>'
        "<time>2026-03-01T06:10:00Z</time>"
    )
    (track,) = read(tmp_path, trk(f'<trkpt lat="57" lon="-20">{inner}</trkpt>')).tracks
    assert list(track.time_utc) == utc("2026-03-01T06:10:00")


def test_longitude_180_stays_180(tmp_path: Path) -> None:
    (track,) = read(tmp_path, points((57, 180, ""), (57, -180, ""))).tracks
    assert track.lon_deg.tolist() == [180.0, -180.0]


def test_coordinates_of_thirty_digits_and_exponents_are_read(tmp_path: Path) -> None:
    body = '<trkpt lat="57.500000000000000000000000000001" lon=" -2.025e1 "/>'
    (track,) = read(tmp_path, trk(body)).tracks
    assert (track.lat_deg[0], track.lon_deg[0]) == (57.5, -20.25)


def test_standard_input_is_called_stdin(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(trk(GOOD_POINT))))
    file = read_tracks("-")
    assert (file.tracks[0].track_id, file.input.file) == ("stdin", "-")


def test_the_input_is_identified_by_its_bytes(tmp_path: Path) -> None:
    """SHA-256 of 'abc'-like content is taken of exactly the bytes on disk."""
    import hashlib

    data = trk(GOOD_POINT)
    record = read(tmp_path, data).input
    assert (record.sha256, record.bytes) == (hashlib.sha256(data).hexdigest(), len(data))


# --- silent failures of other readers, one test each --------------------------------------------


def test_a_track_over_3_mb_cut_at_80_percent_is_refused_with_the_line(tmp_path: Path) -> None:
    """General-purpose vector readers return 80 % of the points of such a file and no error."""
    row = '<trkpt lat="57.{0:06d}" lon="-20.25"><time>2026-03-01T06:10:00Z</time></trkpt>'
    whole = trk("\n".join(row.format(i) for i in range(50_000)))
    cut = whole[: len(whole) * 8 // 10]
    assert len(cut) > 3_000_000
    line = cut.count(b"\n") + 1
    with pytest.raises(
        InputError, match=rf"line {line} column \d+: .*cut off here .* after (39|40)\d\d\d points"
    ):
        read(tmp_path, cut)


def test_a_decimal_comma_is_not_cut_to_whole_degrees(tmp_path: Path) -> None:
    """lat="55,5" read as 55.0 would be 30 nautical miles off."""
    with pytest.raises(InputError, match=r"line 4: latitude '55,5' is not a number; use a point"):
        read(tmp_path, trk('<trkpt lat="55,5" lon="3"/>'))


def test_the_offset_of_a_time_is_applied(tmp_path: Path) -> None:
    (track,) = read(tmp_path, points((57, -20, "2026-03-01T12:00:00+02:00"))).tracks
    assert list(track.time_utc) == utc("2026-03-01T10:00:00")


def test_a_prefixed_namespace_is_not_zero_tracks(tmp_path: Path) -> None:
    body = '<gpx:trk><gpx:trkseg><gpx:trkpt lat="57" lon="-20"/></gpx:trkseg></gpx:trk>'
    data = f'<gpx:gpx xmlns:gpx="urn:wrong" version="1.1">{body}</gpx:gpx>'.encode()
    assert len(read(tmp_path, data).tracks[0]) == 1


def test_a_position_of_zero_zero_is_counted_not_sailed_to(tmp_path: Path) -> None:
    file = read(tmp_path, points((57, -20, ""), (0, 0, ""), (0.0000005, -0.0000005, ""), (0, 0.00001, "")))
    (track,) = file.tracks
    assert track.lat_deg.tolist() == [57.0, 0.0]
    assert (track.fixes_read, dropped(track)) == (4, {"zero_position": 2})
    assert "line 5: 2 fixes at 0, 0" in messages(file)


# --- times ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-03-01T06:10:00Z", "2026-03-01T06:10:00"),
        ("2026-03-01t06:10:00z", "2026-03-01T06:10:00"),
        (" \n2026-03-01T06:10:00Z\t", "2026-03-01T06:10:00"),
        ("2026-03-01 06:10:00Z", "2026-03-01T06:10:00"),
        ("2026-03-01T06:10:00,25Z", "2026-03-01T06:10:00.25"),
        ("2026-03-01T06:10:00.1234569Z", "2026-03-01T06:10:00.123456"),
        ("2026-03-01T24:00:00Z", "2026-03-02T00:00:00"),
        ("2026-12-31T23:59:60Z", "2027-01-01T00:00:00"),
        ("2026-03-01T00:30:00-03:30", "2026-03-01T04:00:00"),
        ("2026-03-01T00:30:00+0100", "2026-02-28T23:30:00"),
        ("2024-02-29T12:00:00+14:00", "2024-02-28T22:00:00"),
        ("1969-12-31T23:59:59.5Z", "1969-12-31T23:59:59.5"),
    ],
)
def test_times_as_writers_put_them(text: str, expected: str) -> None:
    assert np.datetime64(TimeReader().read(text), "us") == np.datetime64(expected, "us")


def test_second_60_is_the_next_second_and_said(tmp_path: Path) -> None:
    file = read(tmp_path, points((57, -20, "2026-06-30T23:59:60Z")))
    assert list(file.tracks[0].time_utc) == utc("2026-07-01T00:00:00")
    assert "line 4: 1 time with second 60" in messages(file)


def test_times_without_zone_are_utc_and_said_once(tmp_path: Path) -> None:
    file = read(tmp_path, points((57, -20, "2026-03-01T06:10:00"), (57, -21, "2026-03-01T06:11:00")))
    assert list(file.tracks[0].time_utc) == utc("2026-03-01T06:10:00", "2026-03-01T06:11:00")
    assert [remark.where for remark in file.remarks] == ["line 4"]
    assert "2 times without a zone, read as UTC" in messages(file)


def test_a_given_zone_applies_to_times_without_one_only(tmp_path: Path) -> None:
    """Copenhagen keeps UTC+2 in July (IANA time zone database, Europe/Copenhagen)."""
    rows = points((57, -20, "2026-07-01T06:10:00Z"), (57, -21, "2026-07-01T08:11:00"))
    file = read(tmp_path, rows, zone="Europe/Copenhagen")
    assert list(file.tracks[0].time_utc) == utc("2026-07-01T06:10:00", "2026-07-01T06:11:00")
    assert "line 5: 1 time without a zone, read in Europe/Copenhagen" in messages(file)


@pytest.mark.parametrize(
    ("text", "word"), [("2026-10-25T02:30:00", "twice"), ("2026-03-29T02:30:00", "never")]
)
def test_local_times_at_the_change_of_clocks_are_refused(tmp_path: Path, text: str, word: str) -> None:
    """Summer time ends 2026-10-25 at 03:00 and begins 2026-03-29 at 02:00 in Copenhagen
    (Directive 2000/84/EC: last Sundays of October and March, 01:00 UTC)."""
    with pytest.raises(InputError, match=rf"line 4: time '{text}' occurs {word} in Europe/Copenhagen"):
        read(tmp_path, points((57, -20, text)), zone="Europe/Copenhagen")


def test_the_last_representable_local_time_does_not_escape() -> None:
    reader = TimeReader(zoneinfo.ZoneInfo("Europe/Copenhagen"))
    with pytest.raises(TimeTextError, match="beyond the calendar"):
        reader.read("9999-12-31T24:00:00")


def test_untimed_points_stay_where_they_are(tmp_path: Path) -> None:
    rows = points(
        (57.0, -20, "2026-03-01T06:10:00Z"),
        (57.1, -20, ""),
        (57.2, -20, "2026-03-01T06:12:00Z"),
        (57.3, -20, ""),
    )
    (track,) = read(tmp_path, rows).tracks
    assert track.lat_deg.tolist() == [57.0, 57.1, 57.2, 57.3]
    assert np.isnat(track.time_utc).tolist() == [False, True, False, True]


def test_an_unset_clock_is_said(tmp_path: Path) -> None:
    assert "1970-01-01T00:00:05Z" in messages(read(tmp_path, points((57, -20, "1970-01-01T00:00:05Z"))))


# --- order ----------------------------------------------------------------------------------------


def minute(n: float) -> str:
    return f"2026-03-01T06:{int(n):02d}:{round(n % 1 * 60):02d}Z"


def test_duplicates_conflicts_and_backward_times_are_left_out_and_counted(tmp_path: Path) -> None:
    rows = [(57 + n / 1000, -20.0, minute(n)) for n in range(12)]
    rows[6:6] = [(57.005, -20.0, minute(5))]  # line 10: the fix before it once more
    rows[8:8] = [(57.0061, -20.0, minute(6))]  # line 12: another position at the same time
    rows[10:10] = [(57.0075, -20.0, minute(2.5))]  # line 14: back in time
    file = read(tmp_path, points(*rows))
    (track,) = file.tracks
    assert track.lat_deg.tolist() == [57 + n / 1000 for n in range(12)]
    assert track.fixes_read == 15
    assert dropped(track) == {"duplicate": 1, "conflicting_time": 1, "backward_time": 1}
    said = messages(file)
    assert "line 10: 1 fix repeating time and position" in said
    assert "line 12: 1 fix with the time of another fix" in said
    assert "line 14: 1 fix stepping back in time" in said


def test_a_fix_left_out_for_its_time_leaves_a_break_not_a_straight_line(tmp_path: Path) -> None:
    rows = [(57 + n / 1000, -20.0, minute(n)) for n in range(6)]
    rows[3:3] = [(57.5, -20.0, minute(0.5))]
    (track,) = read(tmp_path, points(*rows)).tracks
    assert track.part.tolist() == [0, 0, 0, 1, 1, 1]


def test_one_wild_clock_value_does_not_cost_the_track(tmp_path: Path) -> None:
    rows = [(57 + n / 1000, -20.0, minute(n)) for n in range(20)]
    rows[4] = (57.004, -20.0, "2099-01-01T00:00:00Z")
    (track,) = read(tmp_path, points(*rows)).tracks
    assert len(track) == 19
    assert dropped(track) == {"backward_time": 1}


@pytest.mark.parametrize(
    ("order", "told"), [("reversed", "line 4: 29 of 30"), ("two vessels", "line 5: 30 of 60")]
)
def test_a_track_mostly_out_of_order_is_refused(order: str, told: str, tmp_path: Path) -> None:
    """Leaving out nearly all fixes and then finding nothing would be a false all-clear."""
    rows = [(57 + n / 1000, -20.0, minute(n)) for n in range(30)]
    if order == "reversed":
        rows = rows[::-1]
    else:
        rows = [row for n, row in enumerate(rows) for row in (row, (60.0, -20.0, minute(n)))]
    with pytest.raises(InputError, match=f"{told} fixes are out of time order"):
        read(tmp_path, points(*rows))


def test_two_fixes_in_the_wrong_order_are_not_one_good_fix(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="1 of 2 fixes are out of time order"):
        read(tmp_path, points((57, -20, minute(5)), (57.1, -20, minute(1))))


def segments(*parts: list[tuple[float, float, str]]) -> bytes:
    whole = [points(*part).decode().split("<trk>")[1].split("</trk>")[0] for part in parts]
    return gpx("".join(f"<trk>{part}</trk>" for part in whole))


def test_parts_are_numbered_in_time_order(tmp_path: Path) -> None:
    late = [(58.0, -20.0, minute(n)) for n in (30, 31)]
    early = [(57.0, -20.0, minute(n)) for n in (10, 11, 12)]
    file = read(tmp_path, segments(late, [], early))
    (track,) = file.tracks
    assert track.lat_deg.tolist() == [57.0] * 3 + [58.0] * 2
    assert track.part.tolist() == [0, 0, 0, 1, 1]
    assert "put in time order" in messages(file)
    assert "1 empty track segment ignored" in messages(file)


def test_parts_without_times_stay_in_file_order(tmp_path: Path) -> None:
    file = read(tmp_path, segments([(58.0, -20.0, "")], [(57.0, -20.0, minute(1))]))
    assert file.tracks[0].lat_deg.tolist() == [58.0, 57.0]
    assert file.tracks[0].part.tolist() == [0, 1]


def test_parts_that_overlap_in_time_are_judged_apart_and_none_is_lost(tmp_path: Path) -> None:
    one = [(57.0 + n / 1000, -20.0, minute(n)) for n in range(20)]
    other = [(58.0 + n / 1000, -20.0, minute(n + 0.5)) for n in range(20)]
    after = [(57.5, -20.0, minute(40))]
    file = read(tmp_path, segments(one, other, after))
    assert [(track.track_id, len(track)) for track in file.tracks] == [("trip/1", 21), ("trip/2", 20)]
    assert "judged as 2 tracks" in messages(file)


def test_the_same_part_twice_is_one_track_and_duplicates(tmp_path: Path) -> None:
    part = [(57.0 + n / 1000, -20.0, minute(n)) for n in range(20)]
    (track,) = read(tmp_path, segments(part, part)).tracks
    assert (len(track), dropped(track)) == (20, {"duplicate": 20})


def test_parts_that_overlap_without_times_to_sort_by_are_refused(tmp_path: Path) -> None:
    late = [(58.0, -20.0, minute(n)) for n in range(20, 40)]
    early = [(57.0, -20.0, minute(n)) for n in range(15)]
    with pytest.raises(InputError, match="15 of 36 fixes are out of time order"):
        read(tmp_path, segments(late, [(57.5, -20.0, "")], early))


# --- routes ---------------------------------------------------------------------------------------


def test_each_route_is_a_plan_with_a_unique_name(tmp_path: Path) -> None:
    leg = '<rtept lat="57" lon="-20"/><rtept lat="57.5" lon="-20"/>'
    body = f"<rte><name>out</name>{leg}</rte><rte>{leg}</rte><rte/><rte>{leg}<name>out</name></rte>"
    file = read(tmp_path, gpx(body))
    assert [track.track_id for track in file.tracks] == ["trip/out", "trip/route 2", "trip/out (2)"]
    assert {track.kind for track in file.tracks} == {TrackKind.PLANNED}
    assert "1 empty route ignored" in messages(file)


def test_a_completed_track_may_be_one_fix(tmp_path: Path) -> None:
    assert len(read(tmp_path, trk(GOOD_POINT)).tracks[0]) == 1
