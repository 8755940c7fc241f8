"""The published schema and the reader cannot drift: what the one says of properties the other does too."""

from __future__ import annotations

import calendar
import json
from pathlib import Path

import jsonschema
import pytest
from bad_inputs import collection, feature
from hypothesis import given
from hypothesis import strategies as st
from zone_sets import area, box

import towzone
from towzone import units
from towzone.files.properties import KNOWN_PROPERTIES, read_properties
from towzone.files.zone_schema import properties_schema, zone_schema
from towzone.geodesy.lines import LineKind
from towzone.model.gears import GEAR_NAMES
from towzone.model.zone import Prohibition, ZoneKind
from towzone.samples import sample_files

PROPERTIES = jsonschema.Draft202012Validator(properties_schema())
ZONES = jsonschema.Draft202012Validator(zone_schema())

BLANK = (None, "")
NOT_TEXT = (True, [], ["a"], {"a": 1})
LENGTHS = (
    *(
        f"{number}{unit}"
        for unit in units._LENGTHS_M
        for number in ("0", "0.25", "12.", ".5", "+3", "7 ", "9999.9")
    ),
    *(
        "500",
        "30000km",
        "99999nmi",
        "99999999m",
        "M",
        "5M",
        "5nm",
        "-5m",
        "1e",
        "m",
        "5 m m",
        "5 mm",
        "five m",
    ),
    *(5, 5.0, True, [5], {"m": 5}),
)
SPEEDS = (
    *(f"{number}{unit}" for unit in units._SPEEDS_KN for number in ("6", "6.0", "0.5 ", "99.9", "99999")),
    *("6", "6kt", "6knots", "-6kn", "kn", "6 m", [6], True, 6),
)
DAYS = (
    *(f"--{month:02d}-{day:02d}" for month in range(14) for day in (0, 1, 28, 29, 30, 31, 32)),
    *("--02-END", "--03-END", "-10-01", "10-01", "--1-01", "--10-1", "--10-01\n", "--10-01Z", 1001, None),
)
WINDOWS = st.one_of(
    st.fixed_dictionaries({"from": st.sampled_from(DAYS), "to": st.sampled_from(DAYS)}),
    st.sampled_from(
        [
            {"from": "--10-01"},
            {"to": "--10-01"},
            {"from": "--10-01", "to": "--11-01", "x": 1},
            "--10-01/--11-01",
            None,
            5,
        ]
    ),
)
DATES = st.one_of(
    st.tuples(
        st.sampled_from((1900, 1904, 2000, 2023, 2024, 2100)), st.integers(0, 13), st.integers(0, 32)
    ).map(lambda d: f"{d[0]:04d}-{d[1]:02d}-{d[2]:02d}"),
    st.sampled_from(
        ("2024-02-29", "2023-02-29", "2024-2-29", "20240229", "29.02.2024", "2024", "now", 2024, True, [2024])
    ),
)
TIMES = st.sampled_from(
    (
        *(
            "T06:00",
            "T06:00Z",
            " 06:00:30+01:00",
            "T06:00:30.25-02:30",
            "T24:00Z",
            "T24:00:00",
            "T23:59:59.999999Z",
        ),
        *(
            "T24:01Z",
            "T25:00Z",
            "T06:60",
            "T6:00",
            "T",
            "T06:00+24:00",
            "T06:00z",
            "T24:00:00.0",
        ),
    )
)
INSTANTS = st.one_of(DATES, st.tuples(DATES.filter(lambda d: str(d)[4:5] == "-"), TIMES).map("".join))


def one_or_list(item):
    return st.one_of(item, st.lists(item, max_size=3))


GEARS = one_or_list(st.sampled_from((*GEAR_NAMES, "OTBX", "otb", "trawls", 5, None, True)))
VALUES = {
    "zone_id": st.sampled_from((*BLANK, "A1", 7, 7.5, *NOT_TEXT)),
    "name": st.sampled_from((*BLANK, "Box", 7, *NOT_TEXT)),
    "kind": st.sampled_from((*BLANK, *(str(k) for k in ZoneKind), "closed", "CABLE", 5, *NOT_TEXT)),
    "edges": st.sampled_from((*BLANK, *(str(k) for k in LineKind), "straight", 5, *NOT_TEXT)),
    "prohibits": st.one_of(
        st.sampled_from(BLANK),
        one_or_list(st.sampled_from((*(str(p) for p in Prohibition), "trawling", 5, None, True))),
    ),
    "gears": GEARS,
    "except_gears": GEARS,
    "season": st.one_of(st.sampled_from(BLANK), one_or_list(WINDOWS)),
    "valid_from": INSTANTS,
    "valid_until": INSTANTS,
    "time_zone": st.sampled_from(
        (*BLANK, "UTC", "Europe/Dublin", "America/Argentina/Buenos_Aires", "Etc/GMT+1", 5)
    ),
    "transit_min_speed": st.sampled_from((*BLANK, *SPEEDS)),
    "margin": st.sampled_from((*BLANK, *LENGTHS)),
    "radius": st.sampled_from((*BLANK, *LENGTHS)),
    "allowed_only_inside": st.sampled_from((*BLANK, True, False, "maybe", 5, ["x"])),
    "source": st.sampled_from((*BLANK, "notice", 5, *NOT_TEXT)),
    "issued": st.sampled_from((*BLANK, "2026-01-01", 2026, *NOT_TEXT)),
    "note": st.sampled_from((*BLANK, "text", 5, *NOT_TEXT)),
    "datum_note": st.sampled_from((*BLANK, "text", 5, *NOT_TEXT)),
    "datum_accuracy": st.sampled_from((*BLANK, *LENGTHS)),
}
NOT_EXPRESSIBLE = "property 'valid_until' is not after 'valid_from'"
"""A schema cannot compare two properties."""


def reader_takes(properties):
    _, problems, _ = read_properties(properties)
    return all(problem.startswith(NOT_EXPRESSIBLE) for problem in problems)


def test_the_schema_is_a_schema_and_names_every_property():
    """Of the draft it says; no property is missing, none is made up."""
    jsonschema.Draft202012Validator.check_schema(zone_schema())

    assert zone_schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert set(properties_schema()["properties"]) == set(KNOWN_PROPERTIES) == set(VALUES)


@pytest.mark.parametrize("name", [name for name in VALUES if name != "kind"])
def test_schema_and_reader_agree_on_each_property(name):
    """One property at a time beside a kind that needs no other."""

    @given(value=VALUES[name])
    def agree(value):
        properties = {"kind": "cable", name: value}
        assert PROPERTIES.is_valid(properties) == reader_takes(properties)

    agree()


@given(properties=st.fixed_dictionaries({}, optional=VALUES))
def test_schema_and_reader_agree_on_sets_of_properties(properties):
    """With and without kind, prohibits and the others, together."""
    assert PROPERTIES.is_valid(properties) == reader_takes(properties)


@pytest.mark.parametrize("kind", list(ZoneKind))
@pytest.mark.parametrize("prohibits", [None, "", [], "entry", ["fishing"]])
def test_which_kinds_need_prohibits_is_the_same_in_both(kind, prohibits):
    """A zone of kind other has no default."""
    for properties in ({"kind": str(kind)}, {"kind": str(kind), "prohibits": prohibits}):
        assert PROPERTIES.is_valid(properties) == reader_takes(properties)


@pytest.mark.parametrize("year", [1900, 1999, 2000, 2023, 2024, 2100, 2196])
def test_every_day_of_a_year_and_no_other(year):
    """Leap years of the Gregorian calendar."""
    for month in range(1, 13):
        for day in range(1, 33):
            properties = {"kind": "cable", "valid_from": f"{year}-{month:02d}-{day:02d}"}
            exists = day <= calendar.monthrange(year, month)[1]
            assert PROPERTIES.is_valid(properties) == exists == reader_takes(properties)


LENIENT = st.sampled_from(
    [
        {"kind": " cable "},
        {"kind": "cable", "prohibits": '["entry"]'},
        {"kind": "cable", "allowed_only_inside": "yes"},
        {"kind": "cable", "margin": "  5e2  m"},
        {"kind": "cable", "edges": " rhumb"},
        {"kind": "cable", "note": "   "},
        {"kind": "cable", "valid_from": "1850-01-01"},
        {"kind": "cable", "valid_from": "2026-01-01T06"},
        {"kind": "cable", "valid_from": "20260101T0600"},
        {"kind": "cable", "margin": "0000012km"},
        {"kind": "cable", "time_zone": []},
        {"kind": "cable", "season": {}},
        {"kind": "cable", "margin": "5m\n "},
    ]
)


@given(properties=LENIENT)
def test_what_the_schema_takes_the_reader_takes_not_the_other_way(properties):
    """The reader also takes what tables make of lists and truths."""
    assert reader_takes(properties)
    if PROPERTIES.is_valid(properties):
        assert properties["kind"] == "cable"


def test_the_samples_are_valid():
    """All that are shipped."""
    files = [
        json.loads(f.read_text(encoding="utf-8")) for n, f in sample_files().items() if n.endswith(".geojson")
    ]

    assert files
    assert all(ZONES.is_valid(file) for file in files)


POINT = {"type": "Point", "coordinates": [1.0, 50.0]}


@pytest.mark.parametrize(
    ("geometry", "valid"),
    [
        (POINT, True),
        ({"type": "Point", "coordinates": [1.0, 50.0, 3.0]}, True),
        ({"type": "Point", "coordinates": [181.0, 50.0]}, False),
        ({"type": "Point", "coordinates": ["1", 50.0]}, False),
        ({"type": "Point", "coordinates": [1.0]}, False),
        ({"type": "LineString", "coordinates": [[0, 50], [1, 50]]}, True),
        ({"type": "LineString", "coordinates": [[0, 50]]}, False),
        ({"type": "Polygon", "coordinates": [[[0, 50], [1, 50]]]}, False),
        ({"type": "MultiPolygon", "coordinates": [[[[0, 50], [1, 50], [1, 51], [0, 50]]]]}, True),
        ({"type": "GeometryCollection", "geometries": [POINT]}, True),
        ({"type": "GeometryCollection", "geometries": []}, False),
        ({"type": "Circle", "coordinates": [0, 50]}, False),
        (None, False),
    ],
)
def test_forms_of_geometry(geometry, valid, tmp_path):
    """RFC 7946 section 3.1, as the reader takes it."""
    data = collection(feature(geometry, kind="cable"))
    path = tmp_path / "zones.geojson"
    path.write_bytes(data)

    assert ZONES.is_valid(json.loads(data)) == valid
    if valid:
        from towzone.files.zones import read_zones

        assert len(read_zones(str(path)).zones) == 1


@pytest.mark.parametrize("members", [{"crs": None}, {"features": []}, {"type": "Feature"}])
def test_forms_of_the_whole_file(members):
    """No crs, at least one feature, a FeatureCollection."""
    good = json.loads(collection(area(box(0, 50))))

    assert ZONES.is_valid(good)
    assert not ZONES.is_valid(good | members)


def test_the_schema_is_not_imported_to_read():
    """Reading zone files needs no validator."""
    package = Path(towzone.__file__).parent

    assert not [p for p in package.rglob("*.py") if "import jsonschema" in p.read_text(encoding="utf-8")]
