"""``towzone zones convert``: what is written, what is told, what is asked, and every exit code."""

from __future__ import annotations

import json

import pytest
from cli_runner import call, run, written

LIST = """Plover Rise (invented)
1. 54°30′ N, 8°10′ W
2. 54°30′ N, 7°50′ W
3. 54°40′ N, 7°50′ W
4. 54°40′ N, 8°10′ W
"""
ASKS = LIST.replace("54°40′ N, 7°50′ W", "54°40′ N, -7°50′ E")
KIND = ("--kind", "closed_area", "--edges", "rhumb")


@pytest.fixture
def notice(tmp_path):
    def write(text=LIST, name="notice.txt", encoding="utf-8"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
        return path

    return write


def convert(path, *more, **how):
    return call("zones", "convert", "--from", "notice", path, *more, **how)


def test_0_and_a_zone_file_on_standard_output(notice):
    ran = convert(notice(), *KIND)

    assert ran.code == 0
    feature = ran.data["features"][0]
    assert feature["properties"] == {
        "zone_id": "plover-rise-invented",
        "name": "Plover Rise (invented)",
        "kind": "closed_area",
        "edges": "rhumb",
    }
    assert len(feature["geometry"]["coordinates"][0]) == 5


def test_the_echo_on_standard_error_stands_beside_line_and_words(notice):
    lines = convert(notice(), *KIND).err.splitlines()

    assert lines[1].startswith("line 2:  '54°30′ N, 8°10′ W'  ->  area 1 ")
    assert "54°30.000'N 008°10.000'W (54.5000000, -8.1666667), 11.661 nmi to the next" in lines[1]
    assert "note: no datum is stated; positions are taken as WGS 84" in lines


def test_quiet_tells_nothing_but_questions(notice):
    assert convert(notice(), *KIND, "-q").err == ""
    asked = convert(notice(ASKS), *KIND, "-q").err.splitlines()
    assert asked[0].startswith("question 1: line 4: '54°40′ N, -7°50′ E'")


def test_4_and_nothing_written_while_a_question_is_open(notice, tmp_path):
    path = notice(ASKS)
    ran = convert(path, *KIND, "-o", tmp_path / "zones.geojson")

    assert (ran.code, ran.out) == (4, "")
    assert written(tmp_path) == ["notice.txt"]
    assert "answer with --answer 1=VALUE, VALUE being east or west or a position" in ran.err


def test_an_answer_leads_to_the_zone_file(notice, tmp_path):
    out = tmp_path / "zones.geojson"
    ran = convert(notice(ASKS), *KIND, "--answer", "1=west", "-o", out)

    assert (ran.code, ran.out) == (0, "")
    assert json.loads(out.read_text(encoding="utf-8"))["features"][0]["geometry"]["coordinates"][0][2] == [
        -7 - 50 / 60,
        54 + 40 / 60,
    ]
    assert "answered 'west'" in ran.err


def test_kind_and_edges_are_asked_for(notice):
    ran = convert(notice())

    assert ran.code == 4
    assert "give --kind" in ran.err
    assert "give --edges" in ran.err


def test_the_same_notice_gives_the_same_bytes(notice):
    assert convert(notice(), *KIND) == convert(notice(), *KIND)


def test_every_property_option_reaches_the_zone(notice):
    ran = convert(
        notice(),
        *KIND,
        *("--season", "10-01..01-31", "--season", "12-01..02-END", "--time-zone", "Europe/Dublin"),
        *("--valid-from", "2026-01-01", "--valid-until", "2027-12-31", "--gears", "OTB,OTT"),
        *("--prohibits", "fishing,entry", "--margin", "0.25nmi", "--radius", "500m"),
        *("--transit-min-speed", "6kn", "--source", "Notice 7 (invented)", "--issued", "2026-01-02"),
        *("--note", "a note", "--name", "Box", "--id", "B-1"),
    )

    assert ran.code == 0, ran.err
    assert ran.data["features"][0]["properties"] == {
        "zone_id": "B-1",
        "name": "Box",
        "kind": "closed_area",
        "edges": "rhumb",
        "season": [{"from": "--10-01", "to": "--01-31"}, {"from": "--12-01", "to": "--02-END"}],
        "time_zone": "Europe/Dublin",
        "valid_from": "2026-01-01",
        "valid_until": "2027-12-31",
        "gears": ["OTB", "OTT"],
        "prohibits": ["fishing", "entry"],
        "margin": "0.25nmi",
        "radius": "500m",
        "transit_min_speed": "6kn",
        "source": "Notice 7 (invented)",
        "issued": "2026-01-02",
        "note": "a note",
    }


def test_spared_gears_and_the_rule_turned_round_reach_the_zone(notice):
    ran = convert(notice(), *KIND, "--except-gears", "PTM, OTM", "--allowed-only-inside")

    assert ran.data["features"][0]["properties"]["allowed_only_inside"] is True
    assert ran.data["features"][0]["properties"]["except_gears"] == ["PTM", "OTM"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--season", "10-01"), "10-01..01-31"),
        (("--season", "02-30..03-01"), "no such day"),
        (("--season", "13-01..03-01"), "no such day"),
        (("--season", "01-END..03-01"), "no such day"),
        (("--margin", "5"), "has no unit"),
        (("--radius", "5nm"), "nautical"),
        (("--gears", "OTBX"), "'OTBX'"),
        (("--prohibits", "everything"), "'everything'"),
        (("--valid-from", "soon"), "valid_from"),
        (("--time-zone", "Mars/North"), "time_zone"),
        (("--answer", "west"), "write the number of the question"),
        (("--answer", "1=west", "--answer", "1=east"), "given twice"),
        (("--answer", "9=west"), "there is no question 9"),
        (("--layer", "areas"), "makes no sense with --from notice"),
        (("--kind", "box"), "box"),
    ],
)
def test_2_for_a_command_line_that_makes_no_sense(notice, options, words):
    ran = convert(notice(), *KIND, *options)

    assert (ran.code, ran.out) == (2, "")
    assert words in ran.err


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"no coordinates", "no coordinates were found"),
        (b"\x00\x81\x8d\x9d54", "cannot be read as cp1252"),
        ("54°N 8°W\n54°N 7°W\n54°N 6°W", "encloses nothing"),
        (b"", "the file is empty"),
    ],
)
def test_3_for_a_text_that_is_refused(notice, text, words):
    ran = convert(notice(text), *KIND)

    assert (ran.code, ran.out) == (3, "")
    assert words in ran.err


def test_3_for_a_missing_text_and_for_a_file_that_exists(notice, tmp_path):
    assert convert(tmp_path / "none.txt", *KIND).code == 3
    kept = notice("kept", "kept.geojson")
    assert convert(notice(), *KIND, "-o", kept).code == 3
    assert kept.read_text(encoding="utf-8") == "kept"
    assert convert(notice(), *KIND, "-o", kept, "--force").code == 0


@pytest.mark.parametrize(
    ("encoding", "remark"), [("utf-8-sig", ""), ("utf-16", ""), ("cp1252", "read as Windows-1252")]
)
def test_texts_in_the_usual_encodings_are_read(notice, encoding, remark):
    ran = convert(notice(LIST.replace("′", "'"), encoding=encoding), *KIND)

    assert ran.code == 0
    assert remark in ran.err


def test_standard_input_and_output_in_a_process_of_its_own():
    ran = run("zones", "convert", "--from", "notice", "-", *KIND, stdin=LIST.encode())

    assert ran.code == 0
    assert ran.data["type"] == "FeatureCollection"


def test_text_from_a_notice_cannot_write_control_characters_to_the_terminal(notice):
    ran = convert(notice("\x1b[2JBox\x07\n" + LIST), *KIND)

    assert "\x1b" not in ran.err
    assert "\x07" not in ran.err


def test_the_order_of_numbers_without_letters_is_an_option(notice):
    rows = notice("-6,75 35,95\n-6,70 35,95\n-6,65 35,90")

    assert convert(rows, *KIND).code == 4
    ran = convert(rows, *KIND, "--order", "lon-lat")
    assert ran.data["features"][0]["geometry"]["coordinates"][0][0] == [-6.75, 35.95]
    assert convert(rows, *KIND, "--lonlat-order", "lon-lat").out == ran.out


def test_rectangles_and_vector_files_go_the_same_way(notice):
    codes = notice("30E4, 31E4", "codes.txt")
    ran = call("zones", "convert", "--from", "rectangles", codes, "--kind", "closed_area")
    assert ran.code == 0
    assert ran.data["features"][0]["properties"]["kind"] == "closed_area"
    assert call("zones", "convert", "--from", "file", codes).code == 3
    assert call("zones", "convert", "--from", "chart", codes).code == 3
    assert call("zones", "convert", "--from", "rectangles", codes, "--shape", "line").code == 2
    assert call("zones", "convert", "--from", "file", codes, "--column", "name").code == 2


def test_what_is_written_is_what_the_other_commands_read(notice, tmp_path):
    out = tmp_path / "zones.geojson"
    assert convert(notice(), *KIND, "-o", out).code == 0
    assert call("zones", "list", out).code == 0


def test_help_names_every_exit_code():
    text = call("zones", "convert", "--help").out

    for code in ("0", "2", "3", "4", "70"):
        assert f"  {code:<4} " in text


def test_what_was_told_of_a_column_is_told_once(tmp_path):
    """The file made is read back; what that says again need not be said again."""
    feature = {
        "type": "Feature",
        "properties": {"Kind": "x"},
        "geometry": {"type": "LineString", "coordinates": [[-9.0, 50.0], [-8.0, 50.5]]},
    }
    path = tmp_path / "cables.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature] * 2}), encoding="utf-8")
    ran = call("zones", "convert", "--from", "file", path, "--kind", "cable", "--edges", "rhumb")

    assert ran.code == 0
    lines = [line for line in ran.err.splitlines() if "'Kind' is not read" in line]
    assert len(lines) == 2
    assert {line.split(":")[1].strip() for line in lines} == {"feature 1", "feature 2"}
