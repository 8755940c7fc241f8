"""The gear along one stretch of a tow: every part of it, at every node, and how surely it is there.

The doors follow the towing block as a pursuit (`towzone.gear.pursuit`), the net follows the doors as a
second one; the parts lie abeam of these two bodies.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from towzone.gear.figures import Rigging
from towzone.gear.layback import wing_end_distance_m
from towzone.gear.offsets import bearing_at, beside, courses_deg
from towzone.gear.pursuit import pursue
from towzone.gear.uncertainty import Sigmas, sag_sigma_m, sigmas
from towzone.geodesy.ellipsoid import FloatArray, arc_from_chord, to_geocentric, wrap_longitude
from towzone.model.vessel import Rig
from towzone.units import KNOT_MPS

__all__ = [
    "DOOR_PARTS",
    "GearStretch",
    "Lead",
    "Tracer",
    "ahead_of_doors",
    "bodies_of",
    "gear_stretch",
    "laybacks_m",
    "sigmas_of",
    "stacked",
    "widths_of",
]

DOOR_PARTS = ("port door", "starboard door", "clump", "port beam", "starboard beam")
"""The parts that the doors' corridor is swept by; the other part is the net."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lead:
    """The towing block along a covered stretch, as nodes of shape (n,), n at least 1.

    Parameters
    ----------
    place : ndarray
        Places of the vessel on its track, rising.
    clock_s : ndarray
        Seconds, of any clock that runs through the tow; finite.
    lon_deg, lat_deg : ndarray
        The middle between the towing blocks.
    speed_mps : ndarray
        Over the ground, for the effect of a current.
    warp_m, height_m : ndarray
        Warp that is out; from the block down to the bottom at the doors.
    """

    place: FloatArray
    clock_s: FloatArray
    lon_deg: FloatArray
    lat_deg: FloatArray
    speed_mps: FloatArray
    warp_m: FloatArray
    height_m: FloatArray


class Tracer(NamedTuple):
    """One point of the gear at every node: the part it stands for, longitudes and latitudes."""

    part: str
    lon_deg: FloatArray
    lat_deg: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GearStretch:
    """The gear along one stretch, at the nodes of its lead.

    Parameters
    ----------
    lead : Lead
    layback_m : ndarray, shape (n,)
        From block to doors over the ground by warp and depth; 0 where the warp does not reach down.
    bearing_deg : ndarray, shape (n,)
        From the doors to the block, at the block.
    beta_deg : ndarray, shape (n,)
        From that bearing to the vessel's course, -180 to 180; ``NaN`` where there is no course.
    slack : ndarray of bool, shape (n,)
        Whether the warps hung slack on the leg before the node.
    run_m, settled_m : ndarray, shape (n,)
        Way of the block, and of the doors, since the stretch began, where the bearing of the gear was not
        known: that is forgotten as the doors move.
    tracers : tuple of Tracer
    doors, nets : tuple of ndarray, shape (n, m, 2)
        Points between which the bottom is swept, at every node: of doors or beams, and of each net.
    sigmas : Sigmas
    """

    lead: Lead
    layback_m: FloatArray
    bearing_deg: FloatArray
    beta_deg: FloatArray
    slack: npt.NDArray[np.bool_]
    run_m: FloatArray
    settled_m: FloatArray
    tracers: tuple[Tracer, ...]
    doors: tuple[FloatArray, ...]
    nets: tuple[FloatArray, ...]
    sigmas: Sigmas

    @property
    def down(self) -> npt.NDArray[np.bool_]:
        """Whether doors and net may be on the bottom: the warp reaches down."""
        return np.asarray(self.layback_m > 0.0)


class Bodies(NamedTuple):
    """The middle between the doors and the codend, each with the bearing towards what tows it."""

    door_lon: FloatArray
    door_lat: FloatArray
    door_bearing: FloatArray
    net_lon: FloatArray
    net_lat: FloatArray
    net_bearing: FloatArray
    lead_bearing: FloatArray
    slack: npt.NDArray[np.bool_]


def gear_stretch(lead: Lead, rigging: Rigging) -> GearStretch:
    """Return the gear along a stretch, by the figures as they are."""
    layback = laybacks_m(lead.warp_m, lead.height_m, rigging)
    bodies = bodies_of(lead, layback, rigging)
    settled = _run_m(bodies.door_lon, bodies.door_lat)
    beta = np.asarray(wrap_longitude(_courses(lead) - bodies.lead_bearing))
    widths = widths_of(rigging)
    tracers, doors, nets = _parts(lead, layback, bodies, rigging, widths)
    return GearStretch(
        lead=lead,
        layback_m=layback,
        bearing_deg=bodies.lead_bearing,
        beta_deg=beta,
        slack=bodies.slack,
        run_m=_run_m(lead.lon_deg, lead.lat_deg),
        settled_m=settled,
        tracers=tracers,
        doors=doors,
        nets=nets,
        sigmas=sigmas_of(lead, layback, beta, settled, rigging),
    )


def laybacks_m(warp_m: FloatArray, height_m: FloatArray, rigging: Rigging) -> FloatArray:
    """Return the layback at each node, 0 where the warp does not reach the bottom."""
    aside = 0.0
    if rigging.rig is not Rig.BEAM:
        aside = (rigging.door_spread.value - rigging.block_separation.value) / 2.0
    flat = warp_m**2 - height_m**2 - aside**2
    return np.asarray(np.sqrt(np.clip(flat, 0.0, None)))


def bodies_of(lead: Lead, layback_m: FloatArray, rigging: Rigging) -> Bodies:
    """Return doors and codend behind a lead: two pursuits, one behind the other."""
    drift = _drift(lead, rigging)
    door = pursue(lead.lon_deg, lead.lat_deg, layback_m, drift_east_m=drift[0], drift_north_m=drift[1])
    behind_m = np.full(len(layback_m), widths_of(rigging).behind_m)
    net = pursue(
        door.lon_deg,
        door.lat_deg,
        behind_m,
        drift_east_m=drift[0],
        drift_north_m=drift[1],
        start_bearing_deg=float(door.bearing_deg[0]),
    )
    return Bodies(
        door_lon=door.lon_deg,
        door_lat=door.lat_deg,
        door_bearing=bearing_at(door.bearing_deg, lead.lon_deg, lead.lat_deg, door.lon_deg, door.lat_deg),
        net_lon=net.lon_deg,
        net_lat=net.lat_deg,
        net_bearing=bearing_at(net.bearing_deg, door.lon_deg, door.lat_deg, net.lon_deg, net.lat_deg),
        lead_bearing=door.bearing_deg,
        slack=np.append(False, door.slack),
    )


def _drift(lead: Lead, rigging: Rigging) -> tuple[FloatArray | None, FloatArray | None]:
    """Return how far the water moved east and north on each leg."""
    if rigging.current is None:
        return None, None
    set_rad = np.radians(rigging.current.set_deg)
    moved_m = rigging.current.drift_kn * KNOT_MPS * np.diff(lead.clock_s)
    return moved_m * np.sin(set_rad), moved_m * np.cos(set_rad)


class Widths(NamedTuple):
    """Widths across the gear and lengths behind the doors, metres.

    ``door_m`` from outer door to outer door (or beam end), ``wings_m`` from outer wing-end to outer wing-end,
    ``codends_m`` between the codends, ``behind_m`` from the doors to the codend, ``net_m`` of it the net.
    """

    door_m: float
    wings_m: float
    codends_m: float
    behind_m: float
    net_m: float


def widths_of(rigging: Rigging) -> Widths:
    """Return the widths and lengths of a rig."""
    spread, wing, net = rigging.door_spread.value, rigging.wing_spread.value, rigging.net_length.value
    if rigging.rig is Rig.BEAM:
        apart = _value(rigging.beams_apart)
        return Widths(spread, apart + _value(rigging.beam_length), apart, net, net)
    nets = 2.0 if rigging.rig is Rig.TWIN else 1.0
    sweeps = float(wing_end_distance_m(rigging.sweeps.value, spread / nets, wing))
    apart = spread / 2.0 if rigging.rig is Rig.TWIN else 0.0
    return Widths(spread, apart + wing, apart, sweeps + net, net)


def _value(figure: object) -> float:
    return float(getattr(figure, "value", 0.0))


def _parts(
    lead: Lead, layback: FloatArray, bodies: Bodies, rigging: Rigging, widths: Widths
) -> tuple[tuple[Tracer, ...], tuple[FloatArray, ...], tuple[FloatArray, ...]]:
    """Return the tracers of all parts and the points between which doors and nets sweep the bottom."""

    def at_doors(right_m: float, ahead_m: FloatArray | float = 0.0) -> tuple[FloatArray, FloatArray]:
        return beside(bodies.door_lon, bodies.door_lat, bodies.door_bearing, ahead_m, right_m)

    def at_net(ahead_m: float, right_m: float) -> tuple[FloatArray, FloatArray]:
        return beside(bodies.net_lon, bodies.net_lat, bodies.net_bearing, ahead_m, right_m)

    half = widths.door_m / 2.0
    if rigging.rig is Rig.BEAM:
        ends = [(-half, -half + _value(rigging.beam_length)), (half - _value(rigging.beam_length), half)]
        if widths.codends_m == 0.0:
            ends = [(-half, half)]
        names = ("port beam", "starboard beam")
        beams = [[at_doors(right) for right in pair] for pair in ends]
        tracers = [Tracer(name, *p) for name, pair in zip(names, beams, strict=False) for p in pair]
        doors = tuple(np.stack([stacked(p) for p in pair], axis=1) for pair in beams)
        middles = [(a + b) / 2.0 for a, b in ends]
    else:
        port, starboard = at_doors(-half), at_doors(half)
        tracers = [Tracer("port door", *port), Tracer("starboard door", *starboard)]
        across = [stacked(port), stacked(starboard)]
        middles = [0.0]
        if rigging.rig is Rig.TWIN:
            clump = at_doors(0.0, ahead_of_doors(lead, layback, rigging))
            tracers.append(Tracer("clump", *clump))
            across.append(stacked(clump))
            middles = [-half / 2.0, half / 2.0]
        doors = (np.stack(across, axis=1),)
    wing = rigging.wing_spread.value / 2.0
    if rigging.rig is Rig.BEAM:
        wing = _value(rigging.beam_length) / 2.0
    nets = []
    for middle in middles:
        corners = [
            at_net(widths.net_m, middle - wing),
            at_net(widths.net_m, middle + wing),
            at_net(0.0, middle),
        ]
        # Traced are the codend and the outer wing-ends; the ends of a beam are traced as such.
        outer = [middle <= 0.0, middle >= 0.0, True]
        traced = [False, False, True] if rigging.rig is Rig.BEAM else outer
        tracers += [Tracer("net", *c) for c, wanted in zip(corners, traced, strict=True) if wanted]
        nets.append(np.stack([stacked(corner) for corner in corners], axis=1))
    return tuple(tracers), doors, tuple(nets)


def ahead_of_doors(lead: Lead, layback: FloatArray, rigging: Rigging) -> FloatArray:
    """Return how far the clump, on its own warp, is ahead of the middle between the doors."""
    share = rigging.clump_warp.value / rigging.warp.value
    flat = (lead.warp_m * share) ** 2 - lead.height_m**2
    return np.asarray(np.where(layback > 0.0, layback - np.sqrt(np.clip(flat, 0.0, None)), 0.0))


def sigmas_of(
    lead: Lead, layback: FloatArray, beta_deg: FloatArray, settled_m: FloatArray, rigging: Rigging
) -> Sigmas:
    """Return how surely the doors are where they are computed."""
    # Where the warp does not reach down the sigmas of a short line stand in; nothing is measured there.
    line = np.maximum(layback, 1.0)
    return sigmas(
        warp_m=lead.warp_m,
        height_m=lead.height_m,
        layback_m=line,
        speed_mps=lead.speed_mps,
        beta_deg=np.nan_to_num(beta_deg, nan=90.0),
        settled_m=settled_m,
        warp_sigma_m=lead.warp_m * (rigging.warp.sigma / rigging.warp.value),
        height_sigma_m=float(np.hypot(rigging.depth.sigma, rigging.block_height.sigma)),
        sag_sigma_m=sag_sigma_m(lead.warp_m, line),
        position_sigma_m=rigging.position.sigma,
        antenna_sigma_m=rigging.antenna.sigma,
        drift_sigma_mps=rigging.drift_sigma.sigma * KNOT_MPS,
        spread_sigma_m=rigging.door_spread.sigma,
    )


def _courses(lead: Lead) -> FloatArray:
    return courses_deg(lead.lon_deg, lead.lat_deg)


def _run_m(lon_deg: FloatArray, lat_deg: FloatArray) -> FloatArray:
    """Return the way made up to each node, shape (n,)."""
    xyz = to_geocentric(lon_deg, lat_deg)
    return np.concatenate([[0.0], np.cumsum(arc_from_chord(xyz[:-1], xyz[1:]))])


def stacked(lon_lat: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Return positions as one array, shape (n, 2)."""
    return np.stack(lon_lat, axis=1)
