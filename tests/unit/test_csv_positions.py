"""Positions and readings of tables: every form to the same degrees, and what is in doubt is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from towzone.errors import InputError
from towzone.files.csv_angles import AXES, read_angle
from towzone.files.csv_columns import Column
from towzone.files.csv_numbers import DecimalMark, NumberTextError, ReadingColumn
from towzone.files.csv_positions import USED, VOID, ZERO, Fixes, Positions
from towzone.files.csv_text import Problems

KN = 3600 / 1852
"""Knots in one metre per second: BIPM, SI Brochure, 8th ed. (2006), Table 8, the nautical mile is 1852 m."""


def angle(text: str, letter: str = "", axis: str = "lat", *, packed: bool = False, mark: str = "") -> float:
    decimal = DecimalMark()
    decimal.mark = mark
    return read_angle(text, letter, AXES[axis], packed=packed, mark=decimal)


@pytest.mark.parametrize(
    "text",
    [
        "57.508333333333333",
        "+57.508333333333333",
        "57.508333333333333°",
        "57.508333333333333N",
        "N57.508333333333333",
        "n 57,508333333333333",
        "57 30.5N",
        "57  30.5  N",
        "N 57 30.5",
        "57°30.5N",
        "57°30.5'N",
        "57° 30.5′ N",
        "57º30,5’n",
        "57˚30.5´N",
        "57-30.5N",
        "57:30.5N",
        "57 30 30N",
        "57 30 30.0 N",
        "57°30'30\"N",
        "57°30′30″N",
        "57°30'30''N",
        "57° 30' 30” N",
        "57:30:30N",
        "57-30-30 N",
        "57deg 30min 30sec N",
        "057 30.5N",
        "5730.5N",
        "N 5730.5",
    ],
)
def test_every_form_is_the_same_latitude(text: str) -> None:
    """57 degrees, 30 minutes and 30 seconds are 57 + 30.5 / 60."""
    assert angle(text) == pytest.approx(57 + 30.5 / 60, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "letter", "axis", "packed", "expected"),
    [
        ("57.5", "S", "lat", False, -57.5),
        ("57.5S", "S", "lat", False, -57.5),
        ("5730.0", "s", "lat", False, -57.5),
        ("5730.0", "N", "lat", True, 57.5),
        ("5730", "N", "lat", True, 57.5),
        ("30.0", "N", "lat", True, 0.5),  # as some receivers write 0030.0
        ("0030.0", "N", "lat", False, 0.5),
        ("00030.0W", "", "lon", False, -0.5),
        ("830.0", "W", "lon", True, -8.5),
        ("00830.0", "W", "lon", False, -8.5),
        ("17959.9999", "E", "lon", False, 180 - 0.0001 / 60),
        ("-8.5", "", "lon", False, -8.5),
        ("\u22128.5", "", "lon", False, None),
        ("8 30E", "", "lon", False, 8.5),
        ("1e-05", "", "lon", False, 1e-5),
        ("-2.5E-7", "", "lat", False, -2.5e-7),
        (".5", "", "lat", False, 0.5),
        ("90", "", "lat", False, 90.0),
        ("-90.000", "", "lat", False, -90.0),
        ("180", "W", "lon", False, -180.0),
        ("90 0 0.0S", "", "lat", False, -90.0),
        ("91", "", "lat", False, 91.0),  # what AIS says for none is left to the caller
        ("181.0", "", "lon", False, 181.0),
    ],
)
def test_angles_by_hand(text: str, letter: str, axis: str, packed: bool, expected: float | None) -> None:
    if expected is None:  # signs are made plain before
        with pytest.raises(NumberTextError):
            angle(text, letter, axis, packed=packed)
        return
    assert angle(text, letter, axis, packed=packed) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "letter", "axis", "packed", "said"),
    [
        ("57 30.5", "", "lat", False, "has minutes but no letter; add N or S"),
        ("-57 30.5", "", "lat", False, "has minutes but no letter"),
        ("57°30'30\"", "", "lat", False, "has minutes but no letter"),
        ("5730.5", "", "lat", False, "is no number of degrees; .* a letter must say .*named lat_ddmm"),
        ("0030.5", "", "lat", False, "is no number of degrees"),
        ("5730.5", "", "lat", True, "is no number of degrees"),
        ("57.5", "", "lat", True, "is no number of degrees"),
        ("830.0", "W", "lon", False, "is outside -180 to 180"),
        ("0830.0", "W", "lon", False, "is no number of degrees; .*named lon_ddmm"),
        ("0057.5", "N", "lat", True, None),
        ("05730.0", "N", "lat", False, "is no number of degrees"),
        ("573030", "N", "lat", False, "is no number of degrees"),
        ("15730.0", "N", "lat", True, "is no number of degrees"),
        ("6123456.7", "", "lat", False, "is no number of degrees"),
        ("5760.0", "N", "lat", True, "has 60 minutes or seconds, or more"),
        ("57 60N", "", "lat", False, "has 60 minutes or seconds, or more"),
        ("57 30 60N", "", "lat", False, "has 60 minutes or seconds, or more"),
        ("57.5 30N", "", "lat", False, "cannot be read"),
        ("57 30.5 30N", "", "lat", False, "cannot be read"),
        ("57 030N", "", "lat", False, "cannot be read"),
        ("0057 30N", "", "lat", False, "cannot be read"),
        ("57 .5N", "", "lat", False, "cannot be read"),
        ("-57.5N", "", "lat", False, "has a sign and a letter"),
        ("+57.5", "N", "lat", False, "has a sign and a letter"),
        ("-57.5", "S", "lat", False, "has a sign and a letter"),
        ("57.5N", "S", "lat", False, "has several letters"),
        ("N57.5S", "", "lat", False, "has several letters"),
        ("57.5E", "", "lat", False, "has the letter 'E'; allowed are N or S. Check whether"),
        ("57.5", "North", "lat", False, "has the letter 'NORTH'"),
        ("20.5N", "", "lon", False, "has the letter 'N'; allowed are E or W"),
        ("90.1", "", "lat", False, "is outside -90 to 90; check whether latitude and longitude"),
        ("90 0.1N", "", "lat", False, "is outside -90 to 90"),
        ("91N", "", "lat", False, "is outside -90 to 90"),
        ("-91", "", "lat", False, None),
        ("180.0001", "", "lon", False, "is outside -180 to 180"),
        ("339.75", "", "lon", False, "is outside -180 to 180"),
        ("nan", "", "lat", False, "cannot be read; write decimal degrees such as 57.5"),
        ("inf", "", "lat", False, "cannot be read"),
        ("5_5", "", "lat", False, "cannot be read"),
        ("0x37", "", "lat", False, "cannot be read"),
        ("٥٥", "", "lat", False, "cannot be read"),
        ("５７", "", "lat", False, "cannot be read"),
        ("5.75E+01", "", "lat", False, "cannot be read"),
        ("5.75e1", "", "lat", False, "cannot be read"),
        ("1e-5", "N", "lat", False, "cannot be read"),
        ("57.5.5", "", "lat", False, "cannot be read"),
        ("1,234.5", "", "lat", False, "cannot be read"),
        ("--5", "", "lat", False, "cannot be read"),
        ("N", "", "lat", False, "cannot be read"),
        ("-", "", "lat", False, "cannot be read"),
        ("57°N30'", "", "lat", False, "cannot be read"),
        ("5" * 400, "", "lat", False, "cannot be read"),
    ],
)
def test_what_is_in_doubt_or_no_angle_is_refused(
    text: str, letter: str, axis: str, packed: bool, said: str | None
) -> None:
    if said is None:  # the other side of two rules above
        assert angle(text, letter, axis, packed=packed) == pytest.approx(
            {"0057.5": 57.5 / 60, "-91": -91}[text]
        )
        return
    with pytest.raises(NumberTextError, match=said):
        angle(text, letter, axis, packed=packed)


# --- columns ----------------------------------------------------------------------------------------


def fixes(
    *rows: tuple[str, ...],
    mark: DecimalMark | None = None,
    packed: bool = False,
) -> Fixes:
    """Positions of rows of lat, lon or lat, NS, lon, EW; lines count from 2."""
    problems = Problems("a.csv")
    lat = Column(index=0, name="Lat", role="lat", packed=packed)
    lon = Column(index=1, name="Lon", role="lon", packed=packed)
    columns = [list(cells) for cells in zip(*rows, strict=True)]
    letters = (columns[1], columns[3]) if len(columns) == 4 else None
    found = Positions(lat, lon, mark or DecimalMark(), problems).read(
        columns[0], columns[len(columns) // 2], letters, list(range(2, 2 + len(rows)))
    )
    problems.refuse()
    return found


def refusal(*rows: tuple[str, ...], **how: object) -> str:
    with pytest.raises(InputError) as caught:
        fixes(*rows, **how)  # type: ignore[arg-type]
    return str(caught.value)


ALIKE = {
    "decimal": [("57.5", "-20.25"), ("-0.5", "179.999999"), ("90", "-180")],
    "decimal comma": [("57,5", "-20,25"), ("-0,5", "179,999999"), ("90", "-180")],
    "blanks around": [(" 57.5", "-20.25 "), ("-0.5", "+179.999999"), ("90.", "-180")],
    "letters beside": [("57.5", "N", "20.25", "W"), ("0.5", "S", "179.999999", "E"), ("90", "N", "180", "W")],
    "letters behind": [("57.5N", "20.25W"), ("0.5S", "179.999999E"), ("90N", "180W")],
    "minutes": [("57 30.0N", "20 15.0W"), ("0 30N", "179 59.99994E"), ("90 0N", "180 00.000W")],
    "minutes, marked": [
        ("57°30.0'N", "020°15.0'W"),
        ("00°30'N", "179°59.99994'E"),
        ("90°0'N", "180°00.000'W"),
    ],
    "seconds": [("57 30 0N", "20 15 00W"), ("0 30 0N", "179 59 59.9964E"), ("90 0 0N", "180 0 0.0W")],
    "run together": [("5730.0N", "02015.0W"), ("0030.0N", "17959.99994E"), ("9000N", "18000W")],
}


@pytest.mark.parametrize("name", ALIKE)
def test_many_cells_are_read_as_each_is_alone(name: str) -> None:
    """Cells that are alike are read together; the result may not differ by a bit from reading one."""
    rows = ALIKE[name]
    odd = ("", "", "", "") if len(rows[0]) == 4 else ("", "")
    together = fixes(*rows * 3)
    alone = [fixes(row) for row in rows] * 3
    mixed = fixes(*rows * 3, odd)  # an empty cell among them
    for found in (together, mixed):
        assert found.lat_deg[:9].tolist() == [one.lat_deg[0] for one in alone]
        assert found.lon_deg[:9].tolist() == [one.lon_deg[0] for one in alone]
    np.testing.assert_allclose(together.lat_deg[[0, 2]], [57.5, 90.0], rtol=0, atol=1e-12)
    np.testing.assert_allclose(together.lon_deg[:3], [-20.25, 179.999999, -180.0], rtol=0, atol=1e-12)
    assert mixed.fate.tolist() == [USED] * 9 + [VOID]


def test_run_together_beside_letters_where_the_name_says_so() -> None:
    rows = [("5730.0", "N", "02015.0", "W"), ("30.0", "S", "830.0", "E"), ("0000.0", "N", "17959.4", "W")]
    found = fixes(*rows, packed=True)
    assert found.lat_deg.tolist() == [57.5, -0.5, 0.0]
    np.testing.assert_allclose(found.lon_deg, [-20.25, 8.5, -(180 - 0.01)], rtol=0, atol=1e-12)
    for row, lat in zip(rows, found.lat_deg.tolist(), strict=True):
        assert fixes(row, ("", "", "", ""), packed=True).lat_deg[0] == lat


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (("95", "8"), "column 'Lat': latitude '95' is outside -90 to 90"),
        (("57.5", "200"), "column 'Lon': longitude '200' is outside -180 to 180"),
        (("0030.5", "8"), "column 'Lat': latitude '0030.5' is no number of degrees"),
        (("-0030.5", "8"), "column 'Lat': latitude '-0030.5' is no number of degrees"),
        (("57.5", ""), "column 'Lon': the row has no longitude, but the other half"),
        (("", "8"), "column 'Lat': the row has no latitude, but the other half"),
        (("91", "8"), "column 'Lat': latitude '91' is outside"),
        (("57.5", "181"), "column 'Lon': longitude '181' is outside"),
        (("", "181"), "column 'Lon': longitude '181' is outside"),
        (("57.5\n8", "8"), "column 'Lat': latitude '57.5\\n8' cannot be read"),
        (("57,5", "8"), "column 'Lat': '57,5' has another decimal mark than numbers above it"),
        (("57 30.5", "8 1.5"), "column 'Lat': latitude '57 30.5' has minutes but no letter"),
    ],
)
def test_what_is_wrong_among_good_rows_is_told_with_its_line(row: tuple[str, str], said: str) -> None:
    good = [("57.5", "-20.25")] * 5
    message = refusal(*good, row, *good)
    assert message.startswith("a.csv: line 7, ")
    assert said in message


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (("57.5", "", "20.25", "W"), "latitude '57.5' has no letter beside it; give N or S"),
        (("-57.5", "", "20.25", "W"), "latitude '-57.5' has no letter beside it"),
        (("-57.5", "N", "20.25", "W"), "has a sign and a letter"),
        (("57.5", "E", "20.25", "W"), "has the letter 'E'"),
        (("57.5", "N", "20.25", "S"), "has the letter 'S'"),
        (("5730.5", "N", "830.0", "W"), "longitude '830.0' is outside"),
    ],
)
def test_a_letter_beside_must_be_there_and_fit(row: tuple[str, ...], said: str) -> None:
    good = [("57.5", "N", "20.25", "W")] * 3
    assert said in refusal(*good, row)
    assert said in refusal(row)


def test_no_position_and_the_position_of_none_are_void_and_zero_is_zero() -> None:
    rows = [
        ("57.5", "8"),
        ("", ""),
        ("91", "181"),
        ("0", "0"),
        ("0.0000005", "-1e-7"),
        ("0", "0.00001"),
        (" ", ""),
    ]
    found = fixes(*rows)
    assert found.fate.tolist() == [USED, VOID, VOID, ZERO, ZERO, USED, VOID]
    assert np.isnan(found.lat_deg).tolist() == [False, True, True, False, False, False, True]
    assert np.isnan(found.lon_deg).tolist() == np.isnan(found.lat_deg).tolist()


def test_signs_and_blanks_of_typesetters_are_what_they_look_like() -> None:
    found = fixes(("\u221257.5", "\u22128.25"), ("57°\u00a030.0'\u202fN", "8"))
    assert found.lat_deg.tolist() == [-57.5, 57.5]


# --- numbers ----------------------------------------------------------------------------------------


def readings(
    *cells: str, role: str = "depth_m", factor: float = 1.0, mark: DecimalMark | None = None
) -> tuple[list[float], tuple[int, str] | None]:
    problems = Problems("a.csv")
    column = ReadingColumn("Depth", role, factor, mark or DecimalMark(), problems)
    column.add(cells, range(2, 2 + len(cells)))
    problems.refuse()
    return list(column.values), column.note()


def test_readings_are_numbers_in_our_unit() -> None:
    assert readings("12.5", "0", "300")[0] == [12.5, 0.0, 300.0]
    assert readings("12,5", "0", "1,234")[0] == [12.5, 0.0, np.float32(1.234)]
    assert readings("2", role="sog_kn", factor=KN)[0] == [np.float32(2 * KN)]


@pytest.mark.parametrize("text", ["", " ", "NA", "n/a", "NaN", "null", "None", "-", "--", "?"])
def test_a_reading_that_is_missing_is_none(text: str) -> None:
    found, note = readings("12.5", text, "13")
    assert math.isnan(found[1])
    assert (found[0], found[2], note) == (12.5, 13.0, None)


@pytest.mark.parametrize(
    "text", ["abc", "12m", "1 2", "1_2", "١٢", "inf", "1e5", "0x1", "1.2.3", "1,2,3", "1.234,5"]
)
def test_a_reading_that_is_no_number_refuses_the_row(text: str) -> None:
    with pytest.raises(
        InputError, match=r"line 3, column 'Depth': .* write a number, with the unit in the name"
    ):
        readings("12", text, "13")


@pytest.mark.parametrize(
    ("role", "texts", "possible"),
    [
        ("sog_kn", ("102.3", "-0.1", "1e-300", "9" * 30), [2]),
        ("cog_deg", ("360", "359.99", "511", "-1", "0", "359.9999999999"), [1, 4]),
        ("heading_deg", ("511",), []),
        ("depth_m", ("-52.3", "12000", "11999"), [2]),
        ("hdop", ("0", "0.7", "100", "99.9"), [1, 3]),
    ],
)
def test_readings_that_cannot_be_are_left_out_and_noted(
    role: str, texts: tuple[str, ...], possible: list[int]
) -> None:
    """ITU-R M.1371-5, Annex 8, table 48: 102.3 kn, 360 and 511 degrees mean that there is none."""
    found, note = readings(*texts, role=role)
    assert [at for at, value in enumerate(found) if not math.isnan(value)] == possible
    assert note is not None
    first = next(at for at in range(len(texts)) if at not in possible)
    assert note[0] == first + 2
    assert f"{len(texts) - len(possible)} value" in note[1]
    assert f"the first '{texts[first]}'" in note[1]


def test_a_file_has_one_decimal_mark() -> None:
    for first, second in (("57,5", "12.5"), ("57.5", "12,5")):
        mark = DecimalMark()
        fixes((first, "8"), mark=mark)
        assert readings("12", mark=mark)[0] == [12.0]
        with pytest.raises(InputError, match=f"'{second}' has another decimal mark"):
            readings("12", second, mark=mark)
    with pytest.raises(InputError, match="line 3, column 'Depth': '12,5' has another decimal mark"):
        readings("12.5", "12,5")
