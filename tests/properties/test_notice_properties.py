"""Whatever mixture of printed forms a list uses, its numbers come back exactly; no text is guessed at."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from towzone.errors import InputError
from towzone.notices.convert import convert_notice
from towzone.notices.corners import Corner, read_corners
from towzone.notices.points import read_pieces
from towzone.notices.questions import Asker
from towzone.notices.remarks import Remarks

MINUTE_MARKS = ("'", "′", "’", " '", " ′", "´", "ʹ")
DEGREE_MARKS = ("°", "º", "° ", " ° ", "˚")


@st.composite
def angles(draw, widest):
    """(degrees, minutes with decimals as text) under a limit, never exactly on it."""
    degrees = draw(st.integers(0, widest - 1))
    minutes = draw(st.integers(0, 59))
    decimals = draw(st.sampled_from(["", "5", "00", "25", "4321", "0135"]))
    return degrees, f"{minutes:02d}" + (f".{decimals}" if decimals else "")


@st.composite
def printed_angles(draw, widest, letters):
    """One angle: its printed text with a letter behind it, and its exact value."""
    degrees, minutes = draw(angles(widest))
    letter = draw(st.sampled_from(letters))
    width = 3 if widest > 90 else 2
    padded = draw(st.sampled_from([str(degrees), f"{degrees:0{width}d}"]))
    comma = minutes.replace(".", draw(st.sampled_from([".", ","])))
    size = Fraction(degrees) + Fraction(minutes) / 60
    minute, degree = draw(st.sampled_from(MINUTE_MARKS)), draw(st.sampled_from(DEGREE_MARKS))
    gap = draw(st.sampled_from(["", " "]))
    style = draw(st.sampled_from(["marked", "bare", "dms", "colon", "dash", "packed", "words", "decimal"]))
    text = f"{padded}{degree}{comma}{minute}{gap}{letter}"
    if style == "bare":
        text = f"{padded}° {comma} {letter}"
    elif style == "dms":
        seconds = Fraction(minutes) % 1 * 60
        whole = int(seconds)
        size = Fraction(degrees) + Fraction(int(Fraction(minutes))) / 60 + Fraction(whole) / 3600
        text = f"{padded}{degree}{int(Fraction(minutes)):02d}{minute}{whole:02d}″{gap}{letter}"
    elif style == "colon":
        text = f"{padded}:{minutes}{gap}{letter}"
    elif style == "dash":
        text = f"{padded}-{minutes}{letter}"
    elif style == "packed":
        text = f"{degrees:0{width}d}{minutes}{gap}{letter}"
    elif style == "words":
        name = {"N": "north", "S": "south", "E": "East", "W": "west"}[letter]
        text = f"{padded} degrees {comma} minutes {name}"
    elif style == "decimal":
        thousandths = draw(st.integers(0, 9999))
        size = Fraction(degrees) + Fraction(thousandths, 10_000)
        text = f"{padded}.{thousandths:04d}{draw(st.sampled_from(['', ' ', '°', '° ']))}{letter}"
    return text, -size if letter in "SW" else size


@st.composite
def printed_points(draw):
    """One position: its printed text and its exact place."""
    lat, lon = draw(printed_angles(90, "NS")), draw(printed_angles(180, "EW"))
    between = draw(st.sampled_from([" ", ", ", " - ", " – ", " / ", "; ", " and ", "\t", " | ", ","]))
    label = draw(st.sampled_from(["", "(a) ", "Point 7: ", "NE: ", "— ", "12. ", "c) "]))
    return f"{label}{lat[0]}{between}{lon[0]}", (lat[1], lon[1])


@st.composite
def lists(draw):
    """A list of positions in a mixture of styles, with the joints that notices use."""
    points = draw(st.lists(printed_points(), min_size=1, max_size=8))
    joint = draw(st.sampled_from(["\n", ";\n", ",\n", "; thence to\n", "\n\n", " ;\n", ".\n"]))
    return joint.join(text for text, _ in points), [place for _, place in points]


def corners_of(text):
    asker = Asker({})
    stream = read_corners(read_pieces(text, "notice"), None, asker, Remarks())
    return [piece for piece in stream if isinstance(piece, Corner)], asker.open


@given(lists())
def test_any_mixture_of_forms_comes_back_exactly(case):
    text, places = case
    corners, questions = corners_of(text)

    assert questions == []
    assert [(corner.lat_deg, corner.lon_deg) for corner in corners] == places


@given(st.lists(st.tuples(st.integers(-179_9999, 179_9999), st.integers(-89_9999, 89_9999)), min_size=1))
def test_rows_of_decimal_degrees_come_back_exactly(rows):
    """Longitude first with decimal commas, as published annexes print them."""
    text = "\n".join(f"{lon / 10_000:.4f} {lat / 10_000:.4f}".replace(".", ",") for lon, lat in rows)
    asker = Asker({})
    stream = read_corners(read_pieces(text, "notice"), "lon-lat", asker, Remarks())

    assert asker.open == []
    assert [(piece.lon_deg, piece.lat_deg) for piece in stream if isinstance(piece, Corner)] == [
        (Fraction(lon, 10_000), Fraction(lat, 10_000)) for lon, lat in rows
    ]


SCRAPS = st.sampled_from(
    [
        "54",
        "8",
        "30",
        "23.5",
        "46,5",
        "175",
        "60",
        "1",
        "12",
        "0",
        "°",
        "′",
        "'",
        '"',
        "″",
        "-",
        "–",
        "−",
        "+",
        ",",
        ";",
        ":",
        "/",
        ".",
        "(",
        ")",
        "|",
        "N",
        "S",
        "E",
        "W",
        "n",
        "O",
        "lat",
        "long",
        "Latitude",
        "Longitude",
        "north",
        "degrees",
        "minutes",
        "54°23′N",
        "8°10′W",
        "54°30′N",
        "-7,2500",
        "35,9500",
        "54.5",
        "543030N",
        "0012030W",
        "57-23.4N",
        "thence",
        "to",
        "the",
        "coast",
        "along",
        "excluding",
        "Box",
        "2.",
        "(a)",
        "NW:",
        "rhumb",
        "straight",
        "lines",
        "1",
        "January",
        "April",
        "x",
        "nautical",
        "miles",
        "30E4",
        "85_4",
        "and",
        "at",
        "point",
        "of",
        "origin",
        "ED50",
    ]
)


@given(
    st.lists(st.one_of(SCRAPS, st.sampled_from(["\n", "\n\n", " ", "\t"]), st.text(max_size=3)), max_size=40),
    st.sampled_from(["", " "]),
)
def test_scraps_of_notices_never_crash_and_never_give_a_zone_without_its_echo(scraps, between):
    text = between.join(scraps)
    try:
        result = convert_notice(text, {"kind": "closed_area", "edges": "rhumb"})
    except InputError:
        return
    echoed = {
        read[read.index("(") + 1 : read.index(")")]
        for read in (echo.read for echo in result.echoes)
        if ": " in read and "(" in read
    }
    for draft in result.drafts:
        for string, _ in draft.shape.strings():
            for lon, lat in string.tolist():
                assert f"{lat:.7f}, {lon:.7f}" in echoed


@given(st.text(max_size=300))
def test_random_text_never_crashes(text):
    try:
        result = convert_notice(text, {"kind": "other", "edges": "rhumb", "prohibits": ["entry"]})
    except InputError:
        return
    assert result.questions or result.echoes
