"""Which side of published boundaries a point lies on, where the kind of edge decides it."""

from __future__ import annotations

import pytest
from oracles import inside
from reference_rows import rows

from towzone.geodesy.lines import LineKind
from towzone.geodesy.region import Region
from towzone.geodesy.shape import Shape, freeze


def _minutes(text):
    """Corners from 'deg min deg min' groups: latitude north, longitude west."""
    numbers = [float(n) for n in text.split()]
    groups = [numbers[i : i + 4] for i in range(0, len(numbers), 4)]
    return [(-(c + d / 60.0), a + b / 60.0) for a, b, c, d in groups]


# Published: Reg (EU) 2019/1241 Annex XII Part D point 1, Northern MAR, "rhumb lines".
NORTHERN_MAR = _minutes("59 45 33 30  57 30 27 30  56 45 28 30  59 15 34 30")
# Published: Reg (EU) 2019/1241 Annex XII Part C point 2.1 (b), Rosemary Bank, outer and excluded ring.
ROSEMARY = _minutes("60 0 11 0  59 0 11 0  59 0 9 0  59 30 9 0  59 30 10 0  60 0 10 0")
ROSEMARY_HOLE = _minutes(
    "59 15 10 24  59 10 10 22  59 8 10 7  59 11 9 59  59 15 9 58  59 22 10 2  59 23 10 11  59 20 10 19"
)


def _box(west, south, east, north):
    return [(west, south), (east, south), (east, north), (west, north)]


AREAS = {
    "northern-mar": ((NORTHERN_MAR,),),
    "rosemary-bank": ((ROSEMARY, ROSEMARY_HOLE),),
    # Published: RFC 7946 (2016) section 3.1.9: cut at 180 degrees, and the same box not cut.
    "rfc-box-cut": ((_box(170, 40, 180, 50),), (_box(-180, 40, -170, 50),)),
    "rfc-box-whole": ((_box(170, 40, -170, 50),),),
    # Published: RFC 7946 (2016) section 5.2.
    "rfc-fiji": ((_box(177, -20, -178, -16),),),
}


@pytest.mark.parametrize("row", rows("sides.csv"))
def test_a_point_lies_on_the_side_the_reference_says(row):
    """By the edges' own rule; the brute force agrees."""
    polygons, kind = AREAS[row.inputs["area"]], row.inputs["line"]
    shape = Shape(polygons=tuple(tuple(freeze(ring) for ring in polygon) for polygon in polygons))
    lon, lat = [row.number("lon_deg")], [row.number("lat_deg")]

    got = Region(shape, LineKind(kind)).contains(lon, lat)

    assert got.tolist() == [row.expected == "inside"]
    assert inside(kind, polygons, lon, lat, step_m=100.0).tolist() == got.tolist()
