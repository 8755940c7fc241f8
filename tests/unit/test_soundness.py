"""Asking many shapes at once whether they are sound never contradicts asking each for its faults."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape, freeze
from towzone.geodesy.soundness import surely_sound
from towzone.geodesy.validity import shape_faults

BOX = ((0.0, 50.0), (1.0, 50.0), (1.0, 51.0), (0.0, 51.0))
BOWTIE = ((0.0, 50.0), (1.0, 51.0), (1.0, 50.0), (0.0, 51.0))
HOLE = ((0.2, 50.2), (0.4, 50.2), (0.4, 50.4), (0.2, 50.4))
OUTSIDE = ((2.2, 50.2), (2.4, 50.2), (2.4, 50.4), (2.2, 50.4))


def area(*rings):
    return Shape(polygons=(tuple(freeze(ring) for ring in rings),))


SOUND = {
    "box": area(BOX),
    "hole": area(BOX, HOLE),
    "repeated corner": area((*BOX[:2], BOX[1], *BOX[2:])),
    "two parts": Shape(polygons=((freeze(BOX),), (freeze(OUTSIDE),))),
    "line": Shape(lines=(freeze(BOX),)),
    "points": Shape(points=freeze(BOX)),
}
FAULTY = {
    "bowtie": area(BOWTIE),
    "hole outside": area(BOX, OUTSIDE),
    "flat": area(((0.0, 50.0), (0.0, 51.0), (0.0, 52.0))),  # a meridian, straight by every rule
    "not finite": area((*BOX[:3], (np.nan, 51.0))),
    "out of range": area((*BOX[:3], (181.0, 51.0))),
    "beyond the limit": area((*BOX[:3], (0.0, 89.5))),
    "two corners": area(BOX[:2]),
    "there and back": area(
        ((-0.25, 59.75), (0.75, 60.75))
    ),  # found 2026-11: curved, it seemed to enclose something
    "no rings": Shape(polygons=((),)),
    "round the pole": area(((-120.0, 80.0), (0.0, 80.0), (120.0, 80.0))),
    "line of no length": Shape(lines=(freeze([BOX[0], BOX[0]]),)),
    "empty line": Shape(lines=(freeze([]),)),
    "point not finite": Shape(points=freeze([(np.inf, 0.0)])),
    "second part crossed": Shape(polygons=((freeze(BOX),), (freeze(BOWTIE),))),
}


@pytest.mark.parametrize("kind", list(LineKind))
@pytest.mark.parametrize("name", SOUND)
def test_plainly_sound_shapes_are_seen_at_once(name, kind):
    """The fast way is taken where it can be."""
    assert surely_sound([SOUND[name]], [kind]).tolist() == [True]
    assert shape_faults(SOUND[name], kind) == []


@pytest.mark.parametrize("kind", list(LineKind))
@pytest.mark.parametrize("name", FAULTY)
def test_faulty_shapes_are_never_called_sound(name, kind):
    """Among sound neighbours too, whose marks stay."""
    shapes = [SOUND["box"], FAULTY[name], SOUND["line"]]

    assert surely_sound(shapes, [kind] * 3).tolist() == [True, False, True]


def test_geodesic_edges_are_asked_as_geodesics():
    """A corner just south of the parallel of two others, 2 degrees apart, lies outside a box whose southern
    edge is the geodesic between them, which bulges north by 457 m (55 N, computed on WGS 84): the two holes
    differ by where that edge runs."""
    ring = ((0.0, 55.0), (2.0, 55.0), (2.0, 56.0), (0.0, 56.0))
    low = ((0.9, 55.001), (1.1, 55.001), (1.0, 55.5))  # 111 m north of the parallel
    high = ((0.9, 55.006), (1.1, 55.006), (1.0, 55.5))  # 668 m
    kinds = [LineKind.GEODESIC, LineKind.GEODESIC, LineKind.LONLAT]

    assert surely_sound([area(ring, low), area(ring, high), area(ring, low)], kinds).tolist() == [
        False,
        True,
        True,
    ]


def test_no_shapes_give_no_answers():
    """An empty layer is no trouble."""
    assert surely_sound([], []).tolist() == []


RINGS = st.lists(
    st.tuples(st.integers(-3, 3), st.integers(-3, 3)).map(lambda p: (p[0] / 4.0, 60.0 + p[1] / 4.0)),
    min_size=1,
    max_size=8,
)
SHAPES = st.lists(st.lists(RINGS, min_size=1, max_size=2), min_size=1, max_size=2).map(
    lambda polygons: Shape(polygons=tuple(tuple(freeze(ring) for ring in rings) for rings in polygons))
)


@given(shapes=st.lists(SHAPES, max_size=4), kind=st.sampled_from(list(LineKind)))
def test_what_is_called_sound_has_no_fault(shapes, kind):
    """On a coarse lattice, where corners touch, repeat and edges overlap."""
    answers = surely_sound(shapes, [kind] * len(shapes))

    for shape, sound in zip(shapes, answers, strict=True):
        if sound:
            assert shape_faults(shape, kind) == []
