"""Shapes that cannot be judged are refused by name, corner and place; sound ones never are."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest

from towzone.errors import GeometryError
from towzone.geodesy.lines import LineKind, inverse
from towzone.geodesy.shape import Shape, freeze
from towzone.geodesy.validity import check_shape, shape_faults

KINDS = list(LineKind)


def rings(*corners: npt.ArrayLike) -> Shape:
    return Shape(polygons=(tuple(freeze(ring) for ring in corners),))


def faults(shape: Shape, kind: LineKind = LineKind.RHUMB) -> str:
    return "\n".join(shape_faults(shape, kind))


BOX = [(0, 50), (10, 50), (10, 60), (0, 60)]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "shape",
    [
        rings(BOX),
        rings(BOX[::-1]),
        rings(BOX, [(2, 52), (3, 52), (3, 53)], [(7, 57), (8, 58), (7, 58)]),
        rings([(170, -10), (-170, -10), (-170, 10), (170, 10)], [(-179, 1), (-178, 1), (-178, 2)]),
        rings([(-170, -10), (-170, 10), (170, 10), (170, -10)], [(178, 1), (179, 1), (178, 2)]),
        rings([(0, 50), (10, 50), (10, 50), (10, 60), (0, 60), (0, 50)]),
        rings([(0, 0), (4, 0), (2, 2), (4, 4), (0, 4), (2, 2)]),
        rings(BOX, [(0, 50), (2, 52), (1, 53)]),
        rings(BOX, [(2, 52), (4, 52), (3, 53)], [(4, 52), (6, 52), (5, 53)]),
        rings([(0, 88), (5, 88), (5, 88.9), (0, 88.9)]),
        Shape(lines=(freeze([(0, 0), (4, 4), (4, 0), (0, 4)]),)),
        Shape(points=freeze([(180, 0), (-180, 0), (0, -89)])),
        Shape(polygons=((freeze(BOX),), (freeze(BOX) + 1.0,))),
    ],
    ids=[
        "box",
        "clockwise",
        "two holes",
        "across 180",
        "across 180 westwards",
        "repeated corners",
        "touching itself at a corner",
        "hole touching a corner",
        "holes touching",
        "near the pole",
        "a line may cross itself",
        "points",
        "parts may overlap",
    ],
)
def test_sound_shapes_pass(shape: Shape, kind: LineKind) -> None:
    assert shape_faults(shape, kind) == []
    check_shape(shape, kind)


@pytest.mark.parametrize("kind", KINDS)
def test_the_edges_that_cross_are_named_by_the_numbers_of_their_author(kind: LineKind) -> None:
    """A repeated corner keeps its number, so counting in the file finds the place."""
    bow_tie = [(0, 50), (2, 52), (2, 52), (2, 50), (0, 52)]
    assert "ring: edge 1-2 and edge 4-5 cross near 51°0" in faults(rings(bow_tie), kind)


def test_edges_cross_by_their_own_rule() -> None:
    """On the parallel of 60 degrees the geodesic bulges to the pole: by the spherical formula
    tan(lat) = tan(60) / cos(20 degrees) to 61.51 degrees half way between corners 40 degrees apart.
    A notch at 61 degrees is cut off by that edge and free of the rhumb line and the lon/lat line."""
    notch = [(-20, 60), (20, 60), (20, 65), (10, 65), (0, 61), (-10, 65), (-20, 65)]
    assert faults(rings(notch), LineKind.RHUMB) == ""
    assert faults(rings(notch), LineKind.LONLAT) == ""
    assert "edge 1-2 and edge 4-5 cross" in faults(rings(notch), LineKind.GEODESIC)
    deeper = [(-20, 60), (20, 60), (20, 65), (10, 65), (0, 61.6), (-10, 65), (-20, 65)]
    assert faults(rings(deeper), LineKind.GEODESIC) == ""


def test_a_rhumb_edge_and_a_lonlat_edge_part_on_a_slant() -> None:
    """Half way in longitude the rhumb line from 0N to 60N is at the latitude whose Mercator ordinate is
    half that of 60N: 35.26N on the sphere (gd(0.6585)), while the lon/lat line is at 30N."""
    shape = rings([(0, 0), (60, 60), (60, 0), (30, 33)])
    assert faults(shape, LineKind.RHUMB) == ""
    assert "cross" in faults(shape, LineKind.LONLAT)


@pytest.mark.parametrize("kind", KINDS)
def test_long_edges_that_nearly_touch_raise_no_false_alarm(kind: LineKind) -> None:
    """A sliver 11 m wide and 40 degrees long, both sides by the same rule."""
    sliver = [(-20, 60), (20, 60), (20, 60.0001), (-20, 60.0001)]
    assert faults(rings(sliver), kind) == ""


@pytest.mark.parametrize("kind", KINDS)
def test_overlapping_edges_are_told_once(kind: LineKind) -> None:
    told = shape_faults(rings([(0, 0), (20, 0), (20, 10), (20, 5), (0, 5)]), kind)
    assert len(told) == 1
    assert "edge 2-3 and edge 3-4 overlap" in told[0]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("shape", "told"),
    [
        (rings([(0, 0), (1, 1), (0, 0), (1, 1)]), "ring has fewer than 3 different corners"),
        (rings([(0, 0), (10, 0), (20, 0)]), "ring encloses nothing"),
        (rings([(5, 0), (5, 10), (5, 20)]), "ring encloses nothing"),
        (rings([(0, np.nan), (10, 0), (20, 10)]), "ring, corner 1: the position is not finite"),
        (rings([(0, 0), (181, 0), (20, 10)]), "ring, corner 2: longitude 181.000000 is outside"),
        (rings([(0, 80), (10, 80), (5, 89.25)]), "ring, corner 3: latitude 89.250000 is beyond 89"),
        (rings([(0, 80), (120, 80), (-120, 80)]), "ring runs round a pole"),
        (rings([(0, 80), (-120, 80), (120, 80)]), "ring runs round a pole"),
        (rings([(0, 80), (180, 80), (90, 70)]), "ring, edge 1-2: the corners are exactly 180 degrees"),
        (rings([(-180, 0), (180, 0), (170, 9)]), "ring, edge 1-2: the corners are exactly 360 degrees"),
        (rings([(0, 0), (100, 0), (50, 40)]), "ring, edge 1-2: the edge from 00°00.000'N 000°00.000'E"),
        (
            rings(BOX, [(20, 50), (21, 50), (21, 51)]),
            "hole at 50°00.000'N 020°00.000'E lies outside outer ring",
        ),
        (rings([(2, 52), (3, 52), (3, 53)], BOX), "hole at 50°00.000'N 000°00.000'E lies outside outer ring"),
        (rings(BOX, [(5, 55), (21, 54), (21, 56)]), "edge 2-3 of outer ring and edge 1-2 of hole cross"),
        (rings(BOX, [(9, 55), (10, 58), (10, 52)]), "edge 2-3 of outer ring and edge 2-3 of hole overlap"),
        (
            rings(BOX, [(1, 51), (5, 51), (5, 55)], [(3, 52), (4, 52), (4, 53)]),
            "hole 2 at 52°00.000'N 003°00.000'E lies inside hole 1",
        ),
        (
            rings(BOX, [(1, 51), (5, 51), (5, 55)], [(4, 51.5), (7, 52), (7, 53)]),
            "of hole 1 and edge 1-2 of hole 2",
        ),
        (Shape(lines=(freeze([(1, 1), (1, 1)]),)), "line has fewer than 2 different corners"),
        (
            Shape(lines=(freeze([(0, 0), (1, 1)]), freeze([(0, 0), (95, 0)]))),
            "line 2, edge 1-2: the edge from",
        ),
        (Shape(points=freeze([(0, 0), (np.inf, 0)])), "points, point 2: the position is not finite"),
        (Shape(polygons=((freeze(BOX),), (freeze(BOX[:2]),))), "part 2, outer ring has fewer than 3"),
        (Shape(polygons=((),)), "polygon without a ring"),
    ],
)
def test_faults_are_named(shape: Shape, told: str, kind: LineKind) -> None:
    assert told in faults(shape, kind)
    with pytest.raises(GeometryError) as caught:
        check_shape(shape, kind)
    assert told in str(caught.value)


def test_all_faults_are_told_not_the_first_only() -> None:
    told = shape_faults(rings([(0, 95), (181, 0), (np.nan, 0)]), LineKind.RHUMB)
    assert len(told) == 3


def test_a_hopeless_ring_is_told_briefly() -> None:
    """Fifty thousand random corners cross hundreds of millions of times."""
    corners = np.random.default_rng(1).uniform(0, 1, (50_000, 2))
    told = shape_faults(rings(corners), LineKind.LONLAT)
    assert len(told) == 26
    assert told[-1].endswith("more faults")


@pytest.mark.parametrize("kind", KINDS)
def test_a_sound_ring_of_fifty_thousand_corners_passes(kind: LineKind) -> None:
    angle = np.linspace(0, 2 * np.pi, 50_000, endpoint=False)
    radius = 1 + 0.01 * np.sin(1000 * angle)
    ring = np.column_stack([179.5 + radius * np.cos(angle), 50 + radius * np.sin(angle)])
    ring[:, 0] = np.where(ring[:, 0] > 180, ring[:, 0] - 360, ring[:, 0])
    assert shape_faults(rings(ring), kind) == []


@pytest.mark.parametrize("kind", KINDS)
def test_the_limit_on_length_is_that_of_the_line_itself(kind: LineKind) -> None:
    """Along the equator all three kinds are one line; 89.8 degrees are 9 996 km and 89.9 are 10 007 km
    (semi-major axis 6 378 137 m)."""
    short, long = ((0, 0), (89.8, 0)), ((0, 0), (89.9, 0))
    assert float(inverse(kind, 0, 0, 89.8, 0)[0]) == pytest.approx(
        np.radians(89.8) * 6378137, rel=0, abs=0.01
    )
    assert shape_faults(Shape(lines=(freeze(short),)), kind) == []
    assert "longer than 10000 km" in faults(Shape(lines=(freeze(long),)), kind)
