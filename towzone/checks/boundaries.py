"""All zones of a check side by side: their edges, their inside, and the few that need measuring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from functools import cached_property

import numpy as np

from towzone.checks.legs import BoolArray
from towzone.geodesy.approach import Side, near_pairs
from towzone.geodesy.edges import Edges, IntArray, edges_of, join_edges
from towzone.geodesy.ellipsoid import FloatArray
from towzone.geodesy.pieces import Pieces, cut, whole_edges
from towzone.geodesy.region import Regions
from towzone.model.zone import Zone

__all__ = ["Boundaries"]


class Boundaries:
    """The boundaries of zones, numbered like the zones; each part of it is made when it is asked for.

    Parameters
    ----------
    zones : sequence of Zone

    Attributes
    ----------
    radius_m : ndarray, shape (zones,)
        Each zone is all within this distance of its shape.
    is_area : ndarray of bool, shape (zones,)
        Whether the shape has an inside of its own.
    rule : ndarray of int, shape (zones,)
        Equal for zones whose rules hold at the same times, for the same gear and activity.
    """

    def __init__(self, zones: Sequence[Zone]) -> None:
        self._zones = tuple(zones)
        self.radius_m: FloatArray = np.array([zone.radius_m for zone in self._zones], dtype=np.float64)
        self.is_area: BoolArray = np.array([zone.shape.is_area for zone in self._zones], dtype=bool)
        self.rule = _rule_numbers(self._zones)

    @classmethod
    def of(cls, zones: Sequence[Zone]) -> Boundaries:
        """Return the boundaries of zones."""
        return cls(zones)

    @cached_property
    def edges(self) -> Edges:
        """The edges of all zones, owned by them."""
        return join_edges([edges_of(zone.shape, zone.edges, n) for n, zone in enumerate(self._zones)])

    @cached_property
    def coarse(self) -> Side:
        """Each edge as one piece with a box that is proved to hold all of it.

        Raises
        ------
        GeometryError
            An edge is too long or ambiguous.
        """
        return Side.of(whole_edges(self.edges), len(self._zones))

    @cached_property
    def regions(self) -> Regions:
        """The insides of the zones."""
        return Regions([zone.shape for zone in self._zones], [zone.edges for zone in self._zones])

    @cached_property
    def _measured(self) -> _Measured:
        return _Measured(self.edges, len(self._zones))

    def near(self, path: Side, cutoff_m: FloatArray) -> tuple[IntArray, IntArray]:
        """Return pairs (path owner, zone) that may be within a cutoff; see `near_pairs`."""
        return near_pairs(path, self.coarse, cutoff_m)

    def measured(self, zones: IntArray) -> Side:
        """Return the boundaries of zones cut for measuring, and of others; owners keep their zone numbers."""
        return self._measured.of(zones)


def _rule_numbers(zones: Sequence[Zone]) -> IntArray:
    numbers: dict[object, int] = {}
    own = [numbers.setdefault((zone.rules, zone.prohibits), len(numbers)) for zone in zones]
    return np.array(own, dtype=np.int64)


class _Measured:
    """Boundaries cut for measuring, as they are asked for, each once.

    The same few are asked for again and again, tow by tow and part by part of the gear, and of many
    vessels one after the other in the end nearly all: once half of them are known the others are cut too.
    """

    def __init__(self, edges: Edges, zones: int) -> None:
        self._edges = edges
        self._counts = np.bincount(edges.owner, minlength=zones)
        # One attribute, so that threads that share it see both or neither: a zone that seems to be known, and
        # has no boundary, is nowhere near.
        self._now: tuple[BoolArray, Side | None] = np.zeros(zones, dtype=bool), None

    def of(self, zones: IntArray) -> Side:
        known, side = self._now
        if side is None or not known[zones].all():
            wanted = known.copy()
            wanted[zones] = True
            if 2 * int(self._counts[wanted].sum()) > len(self._edges):
                wanted[:] = True
            side = Side.of(self._pieces(wanted & ~known, side), len(wanted))
            # Only now: what could not be cut must not seem to be known.
            self._now = wanted, side
        return side

    def _pieces(self, wanted: BoolArray, side: Side | None) -> Pieces:
        """Return the pieces of more zones, together with those that were cut before."""
        fresh = np.flatnonzero(wanted[self._edges.owner])
        more = cut(self._edges.select(fresh))
        more = replace(more, edge=fresh[more.edge])
        if side is None:
            return more
        both = (side.pieces, more)
        order = np.argsort(np.concatenate([some.owner for some in both]), kind="stable")
        columns = (field.name for field in fields(Pieces))
        return Pieces(**{c: np.concatenate([getattr(some, c) for some in both])[order] for c in columns})
