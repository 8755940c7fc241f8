"""What must hold for every line of every kind, whatever the numbers."""

from __future__ import annotations

import numpy as np
from hypothesis import example, given
from oracles import Lines, distance_m
from strategies import azimuths, kinds, legs, lengths_m, numbers, positions, wrapped

from towzone.geodesy import lines
from towzone.geodesy.lines import LineKind

TOLERANCE_M = 1e-6
"""Round trips and symmetries hold to a micrometre on lines to 300 nmi."""

POINTS_M = 0.001
"""The stated accuracy; rhumb lines almost along a parallel lose digits in differences of latitudes."""


def inverse(kind, leg):
    length, azimuth = lines.inverse(LineKind(kind), *leg)
    return float(length), float(azimuth)


def turned(a, b):
    return (a - b + 180.0) % 360.0 - 180.0


@given(kinds(), positions(), azimuths(), lengths_m())
@example("rhumb", (-173.5, 60.0), 90.000001, 500_000.0)
@example("lonlat", (0.0, -0.0), 180.0, 0.001)
def test_inverse_takes_direct_back(kind, start, azimuth, length_m):
    """Same length, and a course that leads to the same end."""
    lon, lat = lines.direct(LineKind(kind), *start, azimuth, length_m)

    back_m, course = inverse(kind, (*start, lon, lat))

    assert abs(back_m - length_m) < TOLERANCE_M
    # Courses of short lines are only as good as the rounding of degrees, a few nanometres.
    assert abs(np.radians(turned(course, azimuth))) * length_m < TOLERANCE_M


@given(kinds(), legs())
def test_direct_takes_inverse_back(kind, leg):
    """The far end is met to a micrometre."""
    length_m, azimuth = inverse(kind, leg)

    lon, lat = lines.direct(LineKind(kind), leg[0], leg[1], azimuth, length_m)

    assert distance_m(lon, lat, leg[2], leg[3]) < TOLERANCE_M


@given(kinds(), legs())
def test_a_line_is_as_long_backwards(kind, leg):
    """And a rhumb line's course backwards is the opposite one."""
    length_m, azimuth = inverse(kind, leg)

    back_m, back = inverse(kind, (*leg[2:], *leg[:2]))

    assert abs(back_m - length_m) < TOLERANCE_M
    if kind == "rhumb":
        assert abs(np.radians(turned(back, azimuth + 180.0))) * length_m < TOLERANCE_M


@given(kinds(), legs())
def test_no_line_is_shorter_than_the_geodesic(kind, leg):
    """The geodesic is the shortest of all."""
    assert inverse(kind, leg)[0] >= inverse("geodesic", leg)[0] - TOLERANCE_M


@given(positions(), azimuths(), azimuths(), lengths_m(), lengths_m())
def test_geodesics_obey_the_triangle_inequality(start, first, second, first_m, second_m):
    """The way over a third point is never shorter."""
    b = lines.direct(LineKind.GEODESIC, *start, first, first_m)
    c = lines.direct(LineKind.GEODESIC, *b, second, second_m)

    assert inverse("geodesic", (*start, *c))[0] <= first_m + second_m + TOLERANCE_M


@given(kinds(), legs())
def test_mirrored_over_the_equator_all_stays_the_same(kind, leg):
    """Same length, course mirrored."""
    length_m, azimuth = inverse(kind, leg)

    mirror_m, mirror = inverse(kind, (leg[0], -leg[1], leg[2], -leg[3]))

    assert abs(mirror_m - length_m) < TOLERANCE_M
    assert abs(np.radians(turned(mirror, 180.0 - azimuth))) * length_m < TOLERANCE_M


@given(kinds(), legs(), numbers(-360.0, 360.0))
def test_turning_the_globe_changes_nothing(kind, leg, turn):
    """Longitudes matter only by their difference; whole turns too."""
    length_m, azimuth = inverse(kind, leg)
    moved = (wrapped(leg[0] + turn), leg[1], wrapped(leg[2] + turn), leg[3])

    moved_m, course = inverse(kind, moved)

    assert abs(moved_m - length_m) < TOLERANCE_M
    assert abs(np.radians(turned(course, azimuth))) * length_m < TOLERANCE_M


@given(kinds(), legs())
def test_whole_turns_of_longitude_change_nothing(kind, leg):
    """360 degrees more or less on either end."""
    length_m, _ = inverse(kind, leg)

    for first in (-360.0, 0.0, 360.0):
        for last in (-360.0, 360.0):
            assert (
                abs(inverse(kind, (leg[0] + first, leg[1], leg[2] + last, leg[3]))[0] - length_m)
                < TOLERANCE_M
            )


@given(kinds(), legs(), numbers(0.0, 1.0))
def test_points_along_add_up_to_the_whole(kind, leg, part):
    """Both parts of a line, each as a line of its kind, make the whole, at the fraction asked for."""
    whole_m, _ = inverse(kind, leg)

    lon, lat = lines.points_along(LineKind(kind), *leg, part)

    first_m, _ = inverse(kind, (leg[0], leg[1], lon, lat))
    rest_m, _ = inverse(kind, (lon, lat, leg[2], leg[3]))
    assert abs(first_m + rest_m - whole_m) < POINTS_M
    if kind != "lonlat":
        assert abs(first_m - part * whole_m) < POINTS_M
    else:
        assert abs(float(lat) - (leg[1] + part * (leg[3] - leg[1]))) < 1e-12


@given(kinds(), legs())
def test_points_along_begin_and_end_at_the_corners(kind, leg):
    """Fractions 0 and 1 are the corners; longitude runs on without a jump."""
    lon, lat = lines.points_along(LineKind(kind), *leg, np.linspace(0.0, 1.0, 9))

    assert distance_m(lon[[0, -1]], lat[[0, -1]], [leg[0], leg[2]], [leg[1], leg[3]]).max() < POINTS_M
    assert np.abs(np.diff(lon)).max() <= abs(turned(leg[2], leg[0])) + 1e-9


@given(kinds(), legs(), numbers(0.0, 1.0), numbers(0.0, 1.0))
def test_a_part_of_a_line_lies_on_the_line(kind, leg, a, b):
    """Points between two points of a line, joined by the same kind, are points of the whole line."""
    kind_ = LineKind(kind)
    low, high = min(a, b), max(a, b)
    lon, lat = lines.points_along(kind_, *leg, [low, high])

    x, y = lines.points_along(kind_, lon[0], lat[0], lon[1], lat[1], 0.5)

    wanted = lines.points_along(kind_, *leg, (low + high) / 2.0)
    assert distance_m(x, y, *wanted) < POINTS_M


@given(legs())
def test_on_a_meridian_and_a_short_way_all_kinds_agree(leg):
    """Along a meridian exactly; any way for a line of a metre, to a micrometre."""
    north = (leg[0], leg[1], leg[0], leg[3])
    assert (
        max(abs(inverse(kind, north)[0] - inverse("geodesic", north)[0]) for kind in ("rhumb", "lonlat"))
        < 1e-6
    )
    end = lines.direct(LineKind.GEODESIC, leg[0], leg[1], inverse("geodesic", leg)[1], 1.0)
    metre = (leg[0], leg[1], *end)
    assert max(abs(inverse(kind, metre)[0] - 1.0) for kind in ("rhumb", "lonlat")) < 1e-6


@given(kinds(), legs())
def test_lines_agree_with_integrals(kind, leg):
    """The oracle again, where hypothesis may look for trouble: 1 mm."""
    wanted, course = Lines.between(kind, *leg).inverse()

    length_m, azimuth = inverse(kind, leg)

    assert abs(length_m - wanted[0]) < 0.001
    assert abs(np.radians(turned(azimuth, course[0]))) * length_m < 0.001
