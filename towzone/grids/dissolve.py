"""Cells of a grid to the polygons they make together, exactly: rings are traced on whole numbers."""

from __future__ import annotations

from collections.abc import Iterable

from towzone.geodesy.shape import Polygon, Shape, freeze
from towzone.grids.cells import Cell, CodeGrid

__all__ = ["dissolve"]

_Node = tuple[int, int]
"""Row and column of a corner of cells."""

_LONGEST_RUN = 40
"""Own choice: a straight side gets a corner after so many cells, so that no edge grows past the limit of
10 000 km on low parallels. A corner on a parallel or a meridian changes nothing."""


def dissolve(grid: CodeGrid, cells: Iterable[Cell]) -> Shape:
    """Return the union of cells, with holes, one polygon for each group that shares sides.

    Parameters
    ----------
    grid : CodeGrid
    cells : iterable of Cell
        At least one.

    Returns
    -------
    Shape
        Corners in degrees where the direction changes; every edge runs along a parallel or a meridian, so
        rhumb lines and lon/lat lines between them are the same. Cells that only meet in a corner are parts
        of their own. Outer rings run anticlockwise, holes clockwise.
    """
    wanted = set(cells)
    polygons = [_polygon(grid, group) for group in _groups(wanted)]
    return Shape(polygons=tuple(polygons))


def _groups(cells: set[Cell]) -> list[set[Cell]]:
    """Return cells in groups that hang together by their sides, in order of their first cell."""
    left, groups = set(cells), []
    for start in sorted(cells):
        if start not in left:
            continue
        group, todo = set(), [start]
        left.discard(start)
        while todo:
            row, column = todo.pop()
            group.add((row, column))
            beside = {(row + 1, column), (row - 1, column), (row, column + 1), (row, column - 1)} & left
            left -= beside
            todo += beside
        groups.append(group)
    return groups


def _polygon(grid: CodeGrid, group: set[Cell]) -> Polygon:
    rings = sorted(_rings(_sides(group)), key=_doubled_area, reverse=True)
    # A group that hangs together by its sides has one outer ring; all others run the other way round.
    corners = [[grid.corner_deg(*node) for node in _turns(ring)] for ring in rings]
    return tuple(freeze(ring) for ring in corners)


def _sides(group: set[Cell]) -> dict[_Node, list[_Node]]:
    """Return the sides between a group and the rest, from node to nodes, with the group on their left."""
    sides: dict[_Node, list[_Node]] = {}
    for row, column in sorted(group):
        for beside, start, end in (
            ((row - 1, column), (row, column), (row, column + 1)),
            ((row, column + 1), (row, column + 1), (row + 1, column + 1)),
            ((row + 1, column), (row + 1, column + 1), (row + 1, column)),
            ((row, column - 1), (row + 1, column), (row, column)),
        ):
            if beside not in group:
                sides.setdefault(start, []).append(end)
    return sides


def _rings(sides: dict[_Node, list[_Node]]) -> list[list[_Node]]:
    """Return closed walks over all sides, none of which meets itself.

    Where four sides meet, it does not matter which way the walk takes first. Rings of one group touch in
    single nodes only, and never in a circle of rings, which would part the group; so there is one way only
    to cut the sides into walks that do not meet themselves.
    """
    rings: list[list[_Node]] = []
    for first in sorted(sides):
        while sides[first]:
            walk, place = [first], {first: 0}
            while walk:
                ahead = sides[walk[-1]].pop()
                if ahead not in place:
                    place[ahead] = len(walk)
                    walk.append(ahead)
                    continue
                # The loop just closed is a ring of its own; the walk goes on from where it began.
                start = place[ahead]
                rings.append(walk[start:])
                for node in walk[start + 1 :]:
                    del place[node]
                del walk[start + 1 :]
                if start == 0:
                    break
    return rings


def _doubled_area(ring: list[_Node]) -> int:
    """Return twice the area in cells, positive when the ring runs anticlockwise."""
    ahead = ring[1:] + ring[:1]
    return sum(a[1] * b[0] - b[1] * a[0] for a, b in zip(ring, ahead, strict=True))


def _turns(ring: list[_Node]) -> list[_Node]:
    """Return the nodes where the direction changes, and some on very long sides."""
    kept: list[_Node] = []
    run = 0
    for index, node in enumerate(ring):
        before, after = ring[index - 1], ring[(index + 1) % len(ring)]
        straight = (node[0] - before[0], node[1] - before[1]) == (after[0] - node[0], after[1] - node[1])
        run = run + 1 if straight else 0
        if not straight or run % _LONGEST_RUN == 0:
            kept.append(node)
    return kept
