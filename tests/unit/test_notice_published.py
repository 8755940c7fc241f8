"""Published coordinate lists are read to the very numbers printed, and their defects are told.

The lists stand in ``tests/reference/notices``: ``*.txt`` as printed (rows on lines of their own), and in
``lists.json`` their sources and, for each corner, degrees, minutes and letter typed apart.
Numbers are compared as fractions, so that not even the last bit may differ.
"""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from towzone.files.zone_writer import to_zone_file
from towzone.notices.areas import read_areas
from towzone.notices.convert import convert_notice
from towzone.notices.corners import read_corners
from towzone.notices.points import read_pieces
from towzone.notices.questions import Asker
from towzone.notices.remarks import Remarks

FOLDER = Path(__file__).resolve().parents[1] / "reference" / "notices"
LISTS = json.loads((FOLDER / "lists.json").read_text(encoding="utf-8"))


def printed(name):
    return (FOLDER / f"{name}.txt").read_text(encoding="utf-8")


def degrees(text):
    """'59 45.5 N' as signed degrees, by a way of its own."""
    whole, minutes, letter = text.split()
    size = Fraction(whole) + Fraction(minutes) / 60
    return -size if letter in "SW" else size


def expected(area):
    return [
        (ring["hole"], ring["closed"], [(degrees(lat), degrees(lon)) for lat, lon in ring["corners"]])
        for ring in area["rings"]
    ]


def found(area):
    return [
        (ring.hole, ring.closed, [(corner.lat_deg, corner.lon_deg) for corner in ring.corners])
        for ring in area.rings
    ]


@pytest.mark.parametrize("case", LISTS, ids=lambda case: case["id"])
def test_every_list_names_its_source(case):
    assert case["source"].strip()
    assert case["locator"].strip()
    assert case["kind"] in ("published", "from-memory")
    assert (FOLDER / f"{case['id']}.txt").is_file()


def test_no_list_lies_about_unused():
    assert sorted(path.stem for path in FOLDER.glob("*.txt")) == sorted(case["id"] for case in LISTS)


@pytest.mark.parametrize("case", LISTS, ids=lambda case: case["id"])
def test_published_lists_are_read_to_the_printed_fractions(case):
    asker, remarks = Asker({}), Remarks()
    stream = read_corners(read_pieces(printed(case["id"]), "notice"), None, asker, remarks)
    areas = read_areas(stream, asker, remarks)

    assert [found(area) for area in areas] == [expected(area) for area in case["areas"]]
    assert [area.name for area in areas] == [area["name"] for area in case["areas"]]


@pytest.mark.parametrize("case", LISTS, ids=lambda case: case["id"])
def test_defects_of_published_lists_are_asked_or_told(case):
    """Every defect gives its question or remark, and no list gives a question without a defect."""
    result = convert_notice(printed(case["id"]), {"kind": "closed_area", **case["options"]})

    assert len(result.questions) == len(case["questions"])
    for question, words in zip(result.questions, case["questions"], strict=True):
        assert words in question.text
    told = [message for _, message in result.remarks]
    for words in case["remarks"]:
        assert any(words in message for message in told), words
    assert bool(result.drafts) == (not case["questions"])


@pytest.mark.parametrize(
    "case", [case for case in LISTS if not case["questions"]], ids=lambda case: case["id"]
)
def test_published_lists_come_out_of_the_zone_file_as_printed(case):
    """What is read back is the double nearest to the printed number, corner for corner."""
    result = convert_notice(printed(case["id"]), {"kind": "closed_area", **case["options"]})
    _, read = to_zone_file(result.drafts, "zones")

    assert len(read.zones) == len(case["areas"])
    for zone, area in zip(read.zones, case["areas"], strict=True):
        rings = [ring for polygon in zone.shape.polygons for ring in polygon]
        for ring, (_, _, corners) in zip(rings, expected(area), strict=True):
            assert {tuple(corner) for corner in np.asarray(ring).tolist()} == {
                (float(lon), float(lat)) for lat, lon in corners
            }


def test_rhumb_lines_in_the_text_become_the_edges_and_are_told():
    result = convert_notice(printed("hake_a"), {"kind": "closed_area"})

    assert result.drafts[0].properties["edges"] == "rhumb"
    assert ("line 2", "the text says 'rhumb lines': edges rhumb") in result.remarks


def test_the_coast_can_be_given_as_positions():
    """A person may say where the coast is; the printed corners keep their places."""
    answers = {1: "37°50′N 008°56′W", 2: "37°00′N 008°57′W"}
    result = convert_notice(printed("hake_b"), {"kind": "closed_area"}, answers=answers)

    ring = result.drafts[0].shape.polygons[0][0]
    assert ring.tolist() == [
        [-(8 + 56 / 60), 37 + 50 / 60],
        [-(9 + 8 / 60), 37 + 50 / 60],
        [-(9 + 7 / 60), 37.0],
        [-(8 + 57 / 60), 37.0],
    ]


def test_the_suggested_order_of_the_bow_tie_is_the_rectangle():
    result = convert_notice(printed("cod_spawning"), {"kind": "closed_area", "edges": "rhumb"})
    suggestion = result.questions[0].answers[0]
    answered = convert_notice(
        printed("cod_spawning"), {"kind": "closed_area", "edges": "rhumb"}, answers={1: suggestion}
    )

    assert suggestion == "1-2-4-3"
    ring = answered.drafts[0].shape.polygons[0][0].tolist()
    assert ring == [[1.75, 60 + 10 / 60], [2.0, 60 + 10 / 60], [2.0, 60 + 25 / 60], [1.75, 60 + 25 / 60]]


def test_sixty_minutes_become_the_next_degree_only_when_a_person_says_so():
    properties = {"kind": "closed_area", "edges": "geodesic"}
    result = convert_notice(printed("ulm_plateau"), properties, answers={1: "next-degree", 2: "next-degree"})

    assert result.questions == ()
    assert [lon for lon, _ in result.drafts[0].shape.polygons[0][0].tolist()] == [
        177.25,
        176.0,
        176.0,
        177.25,
    ]


def test_side_lengths_of_the_echo_are_the_computed_ones():
    """Rhumb side lengths in nautical miles, computed apart on WGS 84 with an independent library."""
    lengths = {
        "hake_a": "14.999 67.071 14.997 67.266",
        "rockall_box": "32.814 30.064 33.253 30.064",
        "oder_bank": "3.545 5.732 11.064 3.816 4.645 5.572 7.842 8.712 7.084",
    }
    for name, sides in lengths.items():
        echoes = convert_notice(printed(name), {"kind": "closed_area"}).echoes
        told = [echo.read.split(", ")[-1].split(" ")[0] for echo in echoes if "to the next" in echo.read]
        assert " ".join(told) == sides
