"""Nodes kept for the swept ground: few where the gear ran straight, and for every part all that it needs."""

import itertools

import numpy as np
import pytest
import shapely
from gear_stretches import RIGS, flat, laid, stretch_along, zigzag

from towzone.gear.likely import likely_outline
from towzone.gear.thinning import LIKELY_TOLERANCE_M, TOLERANCE_M, enough_nodes


def farthest_m(outline, kept):
    """How far any point of an outline is from its path through the nodes kept."""
    worst = 0.0
    for point in range(outline.shape[1]):
        xy = flat(outline[:, point, 0], outline[:, point, 1])
        for first, last in itertools.pairwise(kept):
            same = np.array_equal(xy[first], xy[last])
            chord = shapely.Point(xy[first]) if same else shapely.LineString(xy[[first, last]])
            worst = max(worst, float(shapely.distance(chord, shapely.points(xy[first : last + 1])).max()))
    return worst


@pytest.mark.parametrize("rig", RIGS)
def test_no_part_of_the_gear_is_farther_than_the_tolerance_from_its_path_through_the_nodes_kept(rig):
    stretch, _ = stretch_along(zigzag(), RIGS[rig])
    outlines = (*stretch.doors, *stretch.nets)
    kept = enough_nodes(stretch.run_m, outlines)
    # Nodes are chosen with degrees taken for metres, true to a per mille or so.
    assert max(farthest_m(outline, kept) for outline in outlines) < 1.02 * TOLERANCE_M
    assert len(kept) < len(stretch.run_m)


def test_the_likely_outline_keeps_its_own_tolerance():
    stretch, rigging = stretch_along(zigzag(), RIGS["twin"])
    outline = likely_outline(stretch, rigging, 2.0)
    kept = enough_nodes(stretch.run_m, [outline], LIKELY_TOLERANCE_M)
    assert farthest_m(outline, kept) < 1.02 * LIKELY_TOLERANCE_M


def test_of_a_straight_tow_one_node_in_fifty_metres_is_kept_and_both_ends():
    stretch, _ = stretch_along([(0.0, 0.0), (4000.0, 0.0)], RIGS["single"])
    kept = enough_nodes(stretch.run_m, stretch.doors)
    # Sheet and sphere differ by half a metre in the middle, so there are some bends besides the 81.
    assert 81 <= len(kept) <= 100
    assert (kept[0], kept[-1]) == (0, len(stretch.run_m) - 1)
    assert np.diff(stretch.run_m[kept]).max() <= 61.0


def test_gear_that_never_moves_needs_its_ends_and_no_more():
    at = np.broadcast_to(laid([(10.0, 20.0)])[0], (7, 1, 2))
    assert enough_nodes(np.zeros(7), [np.array(at)]).tolist() == [0, 6]


def test_a_bend_on_180_degrees_is_kept_and_crossing_it_is_no_bend():
    east = np.linspace(-400.0, 400.0, 81)
    straight = laid(np.column_stack([east, np.zeros(81)]), (180.0, 10.0))[:, None, :]
    bent = laid(np.column_stack([east, np.abs(east + 5.0)]), (180.0, 10.0))[:, None, :]
    run_m = np.full(81, 5.0)
    assert enough_nodes(run_m, [straight]).tolist() == [0, 80]
    # The bend lies between the nodes 39 (-10 m) and 40 (0 m), as near to both.
    assert {39, 40} <= set(enough_nodes(run_m, [bent]).tolist())
