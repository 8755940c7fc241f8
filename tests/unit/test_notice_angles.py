"""Every printed form of a coordinate is read to the exact fraction, and doubtful ones are asked about."""

from __future__ import annotations

from fractions import Fraction

import pytest

from towzone.errors import UsageError
from towzone.notices.corners import Corner, read_corners
from towzone.notices.points import read_pieces
from towzone.notices.questions import Asker
from towzone.notices.remarks import Remarks


def read(text, order=None, answers=None):
    """Corners, open questions and remarks of a text."""
    asker, remarks = Asker(answers or {}), Remarks()
    stream = read_corners(read_pieces(text, "notice"), order, asker, remarks)
    corners = [(piece.lat_deg, piece.lon_deg) for piece in stream if isinstance(piece, Corner)]
    return corners, asker.open, [message for _, message in remarks.told()]


def dms(degrees, minutes=0, seconds=0):
    """Degrees from text or whole numbers, exactly; the sign of the degrees counts for all."""
    size = abs(Fraction(degrees)) + Fraction(minutes) / 60 + Fraction(seconds) / 3600
    return -size if str(degrees).startswith("-") else size


# As printed in: Reg (EU) 2019/1241 (annexes VI, VII, VIII, XII), Reg (EU) 43/2014 Art. 11, Council Reg (EU)
# 2025/202 (annexes IV, IH), 50 CFR 660.78 and 648.202, NZ SR 2006/363, the GeographicLib manual, a published
# receiver log; the last three rows are forms of navigational warnings and aviation notices, from memory.
PUBLISHED = [
    ("54°23′ N, 14°35′ E", dms(54, 23), dms(14, 35)),
    ("55°25′ N, 7°07′ W", dms(55, 25), dms(-7, 7)),
    ("59°58′ N, 07°00′ W", dms(59, 58), dms(-7)),
    ("55°25′ N, 7°07 W", dms(55, 25), dms(-7, 7)),
    ("43°46,5′ N, 07°54,4′ W", dms(43, "46.5"), dms(-7, "54.4")),
    ("52°47′ N, 12°39,60′ W", dms(52, 47), dms(-12, "39.6")),
    ("52°47′ N, 12°39,600′ W", dms(52, 47), dms(-12, "39.6")),
    ("60°58.76′ N, 27°27.32′ W", dms(60, "58.76"), dms(-27, "27.32")),
    ("55°04.5327′ N, 36°49.0135′ W", dms(55, "4.5327"), dms(-36, "49.0135")),
    ("55°56.90 N -16°11.30 W", dms(55, "56.9"), dms(-16, "11.3")),
    ("58°00.15 N-15°27.23 W", dms(58, "0.15"), dms(-15, "27.23")),
    ("60° 10' N - 01° 45' E", dms(60, 10), dms(1, 45)),
    ("59° 07,35 ' N - 0° 31,04 ' W", dms(59, "7.35"), -dms(0, "31.04")),
    ("54°00′ N, 7°23′ 48″ W", dms(54), dms(-7, 23, 48)),
    ("NW: 50°30’S, 136°E", dms(-50, 30), dms(136)),
    ("46°06.93′ N. lat., 128°39.77′ W. long.;", dms(46, "6.93"), dms(-128, "39.77")),
    ("44° 17.986′ N\n67° 5.503′ W", dms(44, "17.986"), dms(-67, "5.503")),
    ("42°10.0′S 180°00.0′", dms(-42, 10), dms(180)),
    ("40:38:23N 073:46:44W", dms(40, 38, 23), dms(-73, 46, 44)),
    ("4723.00484,N,00045.88150,E", dms(47, "23.00484"), dms(0, "45.8815")),
    ("543030N 0012030W", dms(54, 30, 30), dms(-1, 20, 30)),
    ("57-23.4N 002-12.3E", dms(57, "23.4"), dms(2, "12.3")),
    ("54-30-15S 001-20-30W", dms(-54, 30, 15), dms(-1, 20, 30)),
]


@pytest.mark.parametrize(("text", "lat", "lon"), PUBLISHED, ids=lambda value: str(value)[:24])
def test_published_forms_are_read_exactly(text, lat, lon):
    corners, questions, _ = read(text)

    assert corners == [(lat, lon)]
    assert questions == []


OTHERS = [
    ("N 54°23.5' W 008°10.2'", dms(54, "23.5"), dms(-8, "10.2")),
    ("N54 23.5 W008 10.2", dms(54, "23.5"), dms(-8, "10.2")),
    ("N5423.5 W00810.2", dms(54, "23.5"), dms(-8, "10.2")),
    ("N54.5 W8.25", dms("54.5"), dms("-8.25")),
    ("W 008 10.2 N 54 23.5", dms(54, "23.5"), dms(-8, "10.2")),
    ("54 23.5 N 008 10.2 W", dms(54, "23.5"), dms(-8, "10.2")),
    ("54 23 30 N 008 10 12 W", dms(54, 23, 30), dms(-8, 10, 12)),
    ("1 54 23.5 N 008 10.2 W", dms(54, "23.5"), dms(-8, "10.2")),
    ("1. 54 23.5 N 008 10.2 W", dms(54, "23.5"), dms(-8, "10.2")),
    ("1) 54°23′N 8°10′W", dms(54, 23), dms(-8, 10)),
    ("(1)54°23′N 8°10′W", dms(54, 23), dms(-8, 10)),
    ("Point 3: 54°23′N / 8°10′W", dms(54, 23), dms(-8, 10)),
    ("2. Long Hole, 54°23′N, 8°10′W", dms(54, 23), dms(-8, 10)),
    ("54°23′30″N 8°10′12″W", dms(54, 23, 30), dms(-8, 10, 12)),
    ("54°23'30''N 8°10'12''W", dms(54, 23, 30), dms(-8, 10, 12)),
    ("54°23'30.5\"N 8°10'12,25\"W", dms(54, 23, "30.5"), dms(-8, 10, "12.25")),
    ("54°30′.5N 8°10′.25W", dms(54, "30.5"), dms(-8, "10.25")),
    ("54º23'N 8˚10'W", dms(54, 23), dms(-8, 10)),
    ("54Â°23'N 8Â°10'W", dms(54, 23), dms(-8, 10)),
    ("54o23'N 8o10'W", dms(54, 23), dms(-8, 10)),
    ("54°23'n 8°10'w", dms(54, 23), dms(-8, 10)),
    ("54 degrees 30.5 minutes north, 8 degrees 10 minutes west", dms(54, "30.5"), dms(-8, 10)),
    ("54 deg 30 min 15 sec N 8 deg 10 min W", dms(54, 30, 15), dms(-8, 10)),
    ("Latitude 54°30'N, longitude 8°10'W", dms(54, 30), dms(-8, 10)),
    ("Lat: 54.5 Long: -8.25", dms("54.5"), dms("-8.25")),
    ("54.5 lat, -8.25 long", dms("54.5"), dms("-8.25")),
    ("latitude 54°30' north and longitude 8°10' west", dms(54, 30), dms(-8, 10)),
    ("54.5°N 8.25°W", dms("54.5"), dms("-8.25")),
    ("54,5°N, 8,25°W", dms("54.5"), dms("-8.25")),
    ("54.5000N, 8.1667W", dms("54.5"), dms("-8.1667")),
    ("54°30′N −8°10′W", dms(54, 30), dms(-8, 10)),
    ("54°30′N – 8°10′W", dms(54, 30), dms(-8, 10)),
    ("54°30′N-8°10′E", dms(54, 30), dms(8, 10)),
    ("543030.5N0012030.25W", dms(54, 30, "30.5"), dms(-1, 20, "30.25")),
    ("8°10′W 54°30′N", dms(54, 30), dms(-8, 10)),
    ("| 54°30′N | 8°10′W |", dms(54, 30), dms(-8, 10)),
    ("59 | 58 | N | 07 | 00 | W", dms(59, 58), dms(-7)),
    ("4 | 54 30.5 N | 7 15.5 W", dms(54, "30.5"), dms(-7, "15.5")),
    ("latitude 38° 12′ 21″ south, longitude 148° 23′ 15″ east", dms(-38, 12, 21), dms(148, 23, 15)),
    ("43° 30' 00,00'' N, 8° 10' 30,50'' W", dms(43, 30), dms(-8, 10, "30.5")),
    ("54°30′N\u00a08°10′W", dms(54, 30), dms(-8, 10)),
    ("0°00′N 0°00′E", dms(0), dms(0)),
    ("0°05′S 0°10′W", -dms(0, 5), -dms(0, 10)),
]


@pytest.mark.parametrize(("text", "lat", "lon"), OTHERS, ids=lambda value: str(value)[:24])
def test_other_forms_are_read_exactly(text, lat, lon):
    corners, questions, _ = read(text)

    assert corners == [(lat, lon)]
    assert questions == []


@pytest.mark.parametrize(
    ("text", "remark"),
    [
        ("55°25′ N, 7°07 W", "the minute mark is missing"),
        ("55°56.90′ N -16°11.30′ W", "a minus sign and the letter W together, read as west"),
        ("-55°56.90′ S 16°11.30′ W", "a minus sign and the letter S together, read as south"),
        ("54o23'N 8°10'W", "the letter o was read as a degree mark"),
        ("42°10.0′S 180°00.0′", "180 degrees without a letter; both sides are the same"),
        (
            "Lat 54.5 Long 8.25",
            "no letter and no sign: read as north or east, as is usual for decimal degrees",
        ),
    ],
)
def test_what_is_taken_for_granted_is_told(text, remark):
    corners, questions, remarks = read(text)

    assert len(corners) == 1
    assert questions == []
    assert remark in remarks


DOUBTS = [
    ("54°30′N 175°60.00′E", "60.00 minutes are not under 60", "next-degree", (dms(54, 30), dms(176))),
    ("54°30′60″N 8°10′W", "60 seconds are not under 60", "next-degree", (dms(54, 31), dms(-8, 10))),
    ("1254°30′N 8°10′W", "1254 degrees are more than 90", "split", (dms(54, 30), dms(-8, 10))),
    ("154°30′N 8°10′W", "154 degrees are more than 90", "split", (dms(54, 30), dms(-8, 10))),
    ("1.54°30′N 8°10′W", "as if a number were glued on", "split", (dms(54, 30), dms(-8, 10))),
    ("54°30′N -8°10′E", "minus sign stands together with the letter E", "west", (dms(54, 30), dms(-8, 10))),
    ("54°30′N -8°10′E", "minus sign stands together with the letter E", "east", (dms(54, 30), dms(8, 10))),
    ("54°30′N +8°10′W", "plus sign stands together with the letter W", "west", (dms(54, 30), dms(-8, 10))),
    ("54°30′N 8°10′O", "the letter O means east in one language", "west", (dms(54, 30), dms(-8, 10))),
    ("54°75′N 8°10′W", "75 minutes are not under 60", "54°15′N 8°10′W", (dms(54, 15), dms(-8, 10))),
    ("95°30′N 8°10′W", "95 degrees are more than 90", "59°30′N 8°10′W", (dms(59, 30), dms(-8, 10))),
    ("54°30′N 190°10′W", "190 degrees are more than 180", "54°30′N 169°50′E", (dms(54, 30), dms(169, 50))),
    ("54305N 0012030W", "digits run together", "54°30.5′N 1°20.5′W", (dms(54, "30.5"), dms(-1, "20.5"))),
    ("57°30.5′ 8°10′W", "has no letter", "north", (dms(57, "30.5"), dms(-8, 10))),
    ("a point on the coast at 54°30′N", "named by a place", "54°30′N 8°10′W", (dms(54, 30), dms(-8, 10))),
    ("54°30′N", "a latitude without a longitude", "54°30′N 8°10′W", (dms(54, 30), dms(-8, 10))),
    ("6,75,35,95", "commas both part the numbers", "35°57′N 6°45′W", (dms(35, 57), dms(-6, 45))),
    ("54°30′N 8°10′W, 54.5 -7.25", "looks like a coordinate", "54°30′N 7°15′W", None),
    ("1.5 2.5 3.5", "in no known form", "35°57′N 6°45′W", (dms(35, 57), dms(-6, 45))),
    ("54 30 N 8 W", "54 may be its degrees, or the number of the point", "degrees", (dms(54, 30), dms(-8))),
    ("54 30 N 8 W", "54 may be its degrees, or the number of the point", "number", (dms(30), dms(-8))),
    ("1 54 23 N 8 10 W", "1 may be its degrees", "number", (dms(54, 23), dms(-8, 10))),
    ("54°3²0′N 8°10′W", "54", "35°57′N 6°45′W", None),
]


@pytest.mark.parametrize(("text", "doubt", "answer", "place"), DOUBTS)
def test_doubtful_coordinates_are_asked_and_nothing_is_taken(text, doubt, answer, place):
    corners, questions, _ = read(text)

    assert doubt in questions[0].text
    assert questions[0].where == "line 1"
    if place is not None:
        assert corners == []
        assert read(text, answers={1: answer})[:2] == ([place], [])


@pytest.mark.parametrize("answer", ["north-west", "54.5", "54°30′N", "54°30′N 95°10′", "yes", "54°61′N 8°W"])
def test_an_answer_that_does_not_answer_is_refused(answer):
    with pytest.raises(UsageError, match="does not answer question 1"):
        read("54°30′N -8°10′E", answers={1: answer})


def test_numbers_without_letters_are_asked_for_their_order():
    corners, questions, _ = read("-6,7500 35,9500\n-6,7000 35,9500")

    assert corners == []
    assert [question.answers for question in questions] == [("lat-lon", "lon-lat")]
    expected = [(dms("35.95"), dms("-6.75")), (dms("35.95"), dms("-6.7"))]
    assert read("-6,7500 35,9500\n-6,7000 35,9500", answers={1: "lon-lat"})[:2] == (expected, [])
    assert read("-6,7500 35,9500\n-6,7000 35,9500", order="lon-lat")[:2] == (expected, [])


@pytest.mark.parametrize(
    "text",
    [
        "Point Latitude Longitude\n1 54.5 -7.25",
        "lon;lat\n-7.25;54.5",
        "id,lon,lat\n4,-7.25,54.5",
        "Latitude\nLongitude\n54.5\n-7.25",
        "Longitude | Latitude\n-7,2500 | 54,5000",
        "Latitude (N)\tLongitude (W)\n54 30\t7 15",
        "Latitude (N)\tLongitude (W)\n54.5\t7.25",
        "Latitude N   Longitude W\n54 30.00   7 15.00",
        "Latitude North, Longitude West\n54°30.0′, 7°15.0′",
        "No Latitude Longitude\n1 54 30 00 -7 15 00",
        "Point N. lat. W. long.\nA 54°30.0′ 7°15.0′",
        "Latitude (°N) | Longitude (°W)\n54.5 | 7.25",
        "North latitude | West longitude\n54 30 | 7 15",
    ],
)
def test_the_head_of_a_table_settles_order_and_letters(text):
    corners, questions, _ = read(text)

    assert corners == [(dms("54.5"), dms("-7.25"))]
    assert questions == []


def test_a_number_over_ninety_settles_the_order():
    corners, questions, remarks = read("136.5 -50.25\n137.5 -50.25")

    assert corners == [(dms("-50.25"), dms("136.5")), (dms("-50.25"), dms("137.5"))]
    assert questions == []
    assert "a number over 90 shows that longitude comes first" in remarks


def test_an_order_that_cannot_be_is_asked_about():
    _, questions, _ = read("136.5 -50.25", order="lat-lon")

    assert "latitude 136.5 is beyond 90 degrees" in questions[0].text


def test_every_line_without_letters_shares_one_question_a_side():
    text = "54°30.5′ 8°10.2′\n54°40.5′ 8°10.2′\n54°40.5′ 8°20.2′"
    _, questions, _ = read(text, order="lat-lon")

    assert [question.answers for question in questions] == [("north", "south"), ("east", "west")]
    corners, _, _ = read(text, order="lat-lon", answers={1: "north", 2: "west"})
    assert corners[0] == (dms(54, "30.5"), dms(-8, "10.2"))


def test_two_digits_behind_a_point_may_be_minutes_and_are_asked_about():
    text = "54.30N 8.10W\n54.45N 8.10W"
    _, questions, _ = read(text)

    assert [question.answers for question in questions] == [("decimals", "minutes")]
    assert read(text, answers={1: "minutes"})[0] == [(dms(54, 30), dms(-8, 10)), (dms(54, 45), dms(-8, 10))]
    assert read(text, answers={1: "decimals"})[0][0] == (dms("54.3"), dms("-8.1"))
    assert read("54.30N 8.10W\n54.75N 8.10W")[1] == []


def test_no_sign_beside_signs_is_north_or_east():
    corners, questions, _ = read("57°30.5′ -006°12.3′", order="lat-lon")

    assert corners == [(dms(57, "30.5"), dms(-6, "12.3"))]
    assert questions == []


@pytest.mark.parametrize(
    "text",
    ["18 x 4 nautical miles", "Regulation (EU) 2019/1241", "12-05-2024", "mesh size 120 mm", "page 3 of 5"],
)
def test_other_numbers_are_no_coordinates(text):
    assert read(text)[:2] == ([], [])


def test_latitudes_of_sentences_pair_with_nothing_far_off():
    """Words between two angles part them: 'north of 52°N and 7°W of' is no position."""
    corners, questions, _ = read("north of 52°N as far as the meridian of 7°W")

    assert corners == []
    assert len(questions) == 2
