"""A line as typed: every usual spelling is read to the same place, what could be two places is refused."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from towzone.errors import UsageError
from towzone.notices.line_text import line_of_text

END = "54°32N 8°15W"


def first_of(text, end=END):
    """Latitude and longitude of the first of two points."""
    line = line_of_text(f"{text}; {end}", "typed")
    return line.lat_deg[0], line.lon_deg[0]


@pytest.mark.parametrize(
    "text",
    [
        "54°30.2N 8°10.5W",
        "54°30.2'N 008°10.5'W",
        "54° 30.2′ N, 008° 10.5′ W",
        "54º30,2N 8º10,5W",
        "54 30.2 N 8 10.5 W",
        "54 30.2N, 8 10.5W",
        "54-30.2N 8-10.5W",
        "54:30.2N 8:10.5W",
        "54°30.2N/8°10.5W",
        "N54°30.2' W008°10.5'",
        "N 54 30.200 W 008 10.500",
        "5430.2N 00810.5W",
        "54°30'12\"N 8°10'30\"W",
        "54°30’12’’N 8°10’30’’W",
        "54 30 12 N 8 10 30 W",
        "54deg 30.2min N 8deg 10.5min W",
        "54°30.2'n 8°10.5'w",
        "54°30.2' north 8°10.5' west",
        "8°10.5W 54°30.2N",
        "W8°10.5' N54°30.2'",
        "54.503333333N 8.175W",
        "54.503333333 N, 8.175 W",
        "54,503333333N 8,175W",
        "54.503333333,-8.175",
        "54.503333333, -8.175",
        "54.503333333 -8.175",
        "+54.503333333 \u22128.175",
        "54,503333333 -8,175",
        "54.503333333° -8.175°",
        "(54.503333333, -8.175)",
        "lat 54.503333333 lon -8.175",
        "lon -8.175 lat 54.503333333",
        "  54°30.2N\t8°10.5W  ",
        "A 54°30.2N 8°10.5W",
    ],
)
def test_every_usual_spelling_is_the_same_place(text):
    assert first_of(text) == pytest.approx((54.0 + 30.2 / 60.0, -8.175), rel=0, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("54.5,-8", (54.5, -8.0)),
        ("54,-8.5", (54.0, -8.5)),
        ("54 N 8 W", (54.0, -8.0)),
        ("54°N 8°W", (54.0, -8.0)),
        ("54.30N 8.175W", (54.3, -8.175)),  # the third decimal of the other says what the points are
    ],
)
def test_whole_degrees_and_decimals_are_what_they_say(text, place):
    assert first_of(text) == place


def test_south_and_east_and_180_degrees():
    line = line_of_text("33°30S 179°59E; -33.6,180.0; -33.7,-179.9; 33.8S 179.95W", "n")
    assert line.lat_deg.tolist() == [-33.5, -33.6, -33.7, -33.8]
    assert line.lon_deg.tolist() == pytest.approx([179.0 + 59.0 / 60.0, 180.0, -179.9, -179.95])


def test_a_line_has_the_name_it_is_given_and_the_labels_of_its_points():
    line = line_of_text("A 54°30.2N 8°10.5W; 2 54°32N 8°15W; 54.6,-8.3;", "line 1")
    assert (line.name, line.source, line.point_names) == ("line 1", "--line", ("A", "2", ""))


@pytest.mark.parametrize("mark", [";", " ; ", "\n", "\r\n", "\uff1b", ";\n"])
def test_points_are_parted_by_semicolons_or_ends_of_lines(mark):
    for end in ("", mark):
        assert line_of_text(f"54.5,-8.1{mark}54.6,-8.1{end}", "n").lat_deg.tolist() == [54.5, 54.6]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        # Which angle, which side.
        ("54°30.2 8°10.5", "has no letter at '54°30.2'; put N or S behind the latitude"),
        ("54°30.2N 8°10.5", "has no letter at '8°10.5'"),
        ("54°30.2′N, 008°10.5′", "has no letter at '008°10.5′'"),
        ("54°30.2N 8°10.5N", "this is a latitude without a longitude"),
        ("54.503N 8.175", "cannot be read as a position"),
        ("-54.5S 8.1W", "has a sign and a letter at '-54.5S'; leave one of them out"),
        ("54.5N -8.1E", "minus sign stands together with the letter E"),
        ("54°30N-8°10W", "has a sign and a letter at '-8°10W'"),
        ("54.503-8.175", "has no letter"),
        ("54.503\u20138.175", "has no letter"),
        ("54°30′N 8°10′O", "the letter O means east in one language and west in another"),
        # Which mark is that of decimals.
        ("54,503 8.175", "has commas and points between figures"),
        ("54.5,8,1", "has commas and points between figures"),
        ("54,5,8,1", "cannot be read as a position: commas both part"),
        ("54,5 8", "has no letter"),
        ("54.5.3 8.1", "cannot be read"),
        # Degrees or degrees and minutes.
        ("54 8", "has no letters and no decimals, and could be degrees and minutes; write for example"),
        ("54,8", "has no letters and no decimals"),
        ("5430N 810W", "is in doubt: 810 degrees are more than 180"),
        ("1 54.503 8.175", "has no letter"),
        # Out of range.
        ("54°70N 8°10W", "is in doubt: 70 minutes are not under 60"),
        ("94°N 8°W", "is in doubt: 94 degrees are more than 90"),
        ("95,8.5", "has a latitude outside -90 to 90; check whether latitude and longitude changed places"),
        ("54.5,181.5", "has a longitude outside -180 to 180"),
        ("0.0,0.0", "stands at 0, 0"),
        # Other things.
        ("", "is empty; write a position, or one semicolon less"),
        ("hello", 'cannot be read as a position; write for example "54°30.2N'),
        ("54.53", "cannot be read as a position"),
        ("54°30.2N 8°10.5W 54°32N 8°15W", "holds more than one position; put a semicolon between points"),
        ("54.5,-8.1,54.6,-8.1", "has commas and points"),
        ("54°30.2N 8°10.5W Buoy", "cannot be read as a position"),
        ("\u0665\u0664.5,8.1", "a digit of another script; write 0 to 9"),
        ("37F2", "cannot be read as a position"),
    ],
)
def test_what_could_be_something_else_is_refused_with_the_point(text, words):
    with pytest.raises(UsageError) as caught:
        first_of(text)
    message = str(caught.value)
    assert message.startswith("--line: point 1 ")
    assert words in message
    if text:
        assert text.splitlines()[0][:20] in message or "stands at" in message


def test_two_digits_behind_every_point_could_be_minutes():
    with pytest.raises(UsageError) as caught:
        line_of_text("54.30N 8.10W; 54.32N 8.15W", "n")
    first, second = str(caught.value).splitlines()
    assert first.startswith("--line: point 1 '54.30N 8.10W' can be read in two ways")
    assert second.startswith("--line: point 2 '54.32N 8.15W'")
    assert "write 54°30N or 54.300N" in second
    assert first_of("54.30N 8.10W", "54.325N 8.15W") == (54.3, -8.1)
    assert first_of("54.30N 8.10W", "54.72N 8.15W") == (54.3, -8.1)


@pytest.mark.parametrize("text", ["", " ", ";", " ; \n"])
def test_nothing_is_no_line(text):
    with pytest.raises(UsageError, match=r"--line holds no point; write for example"):
        line_of_text(text, "n")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("54.5,-8.1", "the line has one point; a planned line needs at least two"),
        ("54.5,-8.1; 54°30N 8°06W", "points 1 and 2 coincide"),
        ("54.5,-8.1; 54.6,-8.1; 54.5,-8.1", "point 2 turns by 180.0 degrees"),
        ("54.5,-8.1; 64.6,-8.1", "lies 608 nmi from point 1"),
    ],
)
def test_no_tow_is_refused_as_in_files(text, words):
    with pytest.raises(UsageError, match=re.escape(words)):
        line_of_text(text, "n")


def test_all_points_that_cannot_be_read_are_told_ten_at_most():
    with pytest.raises(UsageError) as caught:
        line_of_text(";".join(["x"] * 12 + ["54.5,-8.1"]), "n")
    lines = str(caught.value).splitlines()
    assert len(lines) == 11
    assert lines[-1] == "--line: and 2 more problems"


def test_a_text_beyond_any_line_is_refused_at_once():
    with pytest.raises(UsageError, match="put the points into a file"):
        line_of_text("54.5,-8.1;" * 20_000, "n")


def test_no_control_character_comes_through():
    with pytest.raises(UsageError) as caught:
        line_of_text("\x1b[2J; 54.5,-8.1", "n")
    assert "\x1b" not in str(caught.value)


# A second reader.

FORMS = (
    "{d}°{m}{h}",
    "{d}°{m}'{h}",
    "{d}° {m}′ {h}",
    "{d} {m} {h}",
    "{h}{d} {m}",
    "{h} {d}°{m}'",
    "{d}-{m}{h}",
    "{d}:{m}{h}",
)


@st.composite
def written(draw):
    """A position in one of the forms, and what it is."""
    form, between = draw(st.sampled_from(FORMS)), draw(st.sampled_from([" ", ", ", "  ", " / "]))
    angles, texts = [], []
    for letters, most in (("NS", 79), ("EW", 179)):
        degrees, tenths = draw(st.integers(0, most)), draw(st.integers(1, 599_999))
        letter = draw(st.sampled_from(letters))
        size = degrees + tenths / 600_000.0
        angles.append(size if letter in "NE" else -size)
        wide = draw(st.sampled_from([1, 2 if letters == "NS" else 3]))
        texts.append(form.format(d=f"{degrees:0{wide}d}", m=f"{tenths / 10_000.0:07.4f}", h=letter))
    return between.join(texts), tuple(angles)


@given(written())
def test_a_written_position_comes_back(case):
    text, (lat, lon) = case
    end = f"{lat + 0.1:.6f},{lon:.6f}"
    assert first_of(text, end) == pytest.approx((lat, lon), rel=0, abs=1e-7)


PIECES = st.sampled_from(
    [
        "54",
        "8",
        "30.2",
        "10,5",
        "005",
        "°",
        "'",
        '"',
        "N",
        "W",
        "S",
        "E",
        " ",
        " ",
        ",",
        ".",
        "-",
        "+",
        ":",
        "/",
        "A",
        "o",
        "\u2212",
    ]
)


@given(st.lists(PIECES, min_size=1, max_size=14).map("".join))
def test_whatever_is_typed_it_is_refused_or_each_figure_of_it_is_used(text):
    """No figure may fall by the wayside: the degrees are one of those typed, minutes and seconds the next."""
    try:
        lat, lon = first_of(text, "55.0,9.0")
    except UsageError:
        return
    groups = [float(group.replace(",", ".")) for group in re.findall(r"\d+(?:[.,]\d+)?", text)]
    for value in (abs(lat), abs(lon)):
        whole = int(value + 1e-9)
        assert any(int(group) in (whole, whole * 100 + int((value - whole) * 60 + 1e-6)) for group in groups)
    assert not (re.search("[Ss]", text) and lat > 0.0 and "N" not in text)
    assert not (re.search("[Ww]", text) and lon > 0.0 and "E" not in text)
