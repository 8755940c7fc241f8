"""All zones of a check side by side: their edges, their inside, and the few that need measuring."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from towzone.geodesy.approach import Side, near_pairs
from towzone.geodesy.edges import Edges, IntArray, edges_of, join_edges
from towzone.geodesy.ellipsoid import FloatArray, to_geocentric
from towzone.geodesy.lines import LineKind, inverse
from towzone.geodesy.pieces import Pieces, cut
from towzone.geodesy.region import Regions
from towzone.model.zone import Zone

__all__ = ["Boundaries"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Boundaries:
    """The boundaries of zones, numbered like the zones.

    Parameters
    ----------
    edges : Edges
        Owned by zones.
    coarse : Side
        Each edge as one piece with a box that is proved to hold all of it.
    regions : Regions
    """

    edges: Edges
    coarse: Side
    regions: Regions
    _cut: dict[bytes, Side] = field(default_factory=dict, repr=False)

    @classmethod
    def of(cls, zones: tuple[Zone, ...]) -> Boundaries:
        """Return the boundaries of zones.

        Raises
        ------
        GeometryError
            An edge is too long or ambiguous.
        """
        edges = join_edges([edges_of(zone.shape, zone.edges, owner) for owner, zone in enumerate(zones)])
        return cls(
            edges=edges,
            coarse=Side.of(_whole_edges(edges), len(zones)),
            regions=Regions([zone.shape for zone in zones], [zone.edges for zone in zones]),
        )

    def near(self, path: Side, cutoff_m: FloatArray, *, foci: bool = False) -> tuple[IntArray, IntArray]:
        """Return pairs (path owner, zone) that may be within a cutoff; see `near_pairs`."""
        return near_pairs(path, self.coarse, cutoff_m, foci=foci)

    def measured(self, zones: IntArray) -> Side:
        """Return the boundaries of some zones cut for measuring; owners keep their zone numbers."""
        key = zones.astype(np.int64).tobytes()
        if key not in self._cut:
            # The same few zones are asked for again and again, part by part of the gear; one set is kept.
            self._cut.clear()
            wanted = np.isin(self.edges.owner, zones)
            self._cut[key] = Side.of(cut(self.edges.select(wanted)), len(self.regions))
        return self._cut[key]


def _whole_edges(edges: Edges) -> Pieces:
    """Return each edge as one piece.

    No point of an edge is farther from the nearer of its ends than half its length, on the surface and
    so also straight through; boxes padded by that much hold the whole edge, whatever its rule.
    """
    start_m = to_geocentric(edges.lon0_deg, edges.lat0_deg)
    end_m = to_geocentric(edges.lon1_deg, edges.lat1_deg)
    length_m = np.zeros(len(edges))
    for kind in LineKind:
        mine = np.flatnonzero(edges.kind == kind)
        if len(mine):
            some = edges.select(mine)
            length_m[mine], _ = inverse(kind, some.lon0_deg, some.lat0_deg, some.lon1_deg, some.lat1_deg)
    return Pieces(
        start_m=start_m,
        end_m=end_m,
        edge=np.arange(len(edges)),
        from_part=np.zeros(len(edges)),
        to_part=np.ones(len(edges)),
        owner=edges.owner,
        swell_m=length_m / 2.0 + 0.01,
    )
