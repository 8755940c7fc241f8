"""Random tows with zones close by, and where their gear truly went, for checks of whole scenes with gear.

`Scene` is what towzone is given. `truths` works out where the gear of many scenes went, for many possible
truths of each, all side by side in one run of `gear_oracle.dragged`: by the figures as the result of towzone
states them or by any others, in any stream, with any friction.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from gear_oracle import KNOT_MPS, Boundary, Plane, dragged, least_of, level, offset
from scenes import START, area, fixes, line, moved, points, zone
from strategies import star, wrapped

from towzone.checks.settings import CheckSettings, Towing
from towzone.geodesy.lines import LineKind
from towzone.model.track import Track
from towzone.model.vessel import Current, GearFigures, Rig
from towzone.model.zone import Zone, ZoneKind
from towzone.tows.logged import LoggedHaul

PLACES = ((-20.0, 57.0), (179.995, -16.0), (30.0, 78.5), (-0.01, 0.01), (-179.99, -61.0))
GEARS = {Rig.SINGLE: "OTB", Rig.TWIN: "OTT", Rig.BEAM: "TBB"}
GUESSED = (
    "net_length_m",
    "heave_speed_mps",
    "shoot_time_s",
    "block_height_m",
    "block_separation_m",
    "sweeps_m",
    "wing_spread_m",
    "clump_warp_m",
    "block_aft_m",
    "door_spread_m",
)
"""What a profile may leave out."""
DOOR_SAMPLES, SIDE_SAMPLES = 9, 4
"""Points looked at from door to door, and on each side of a net."""


@dataclass(frozen=True)
class Scene:
    """A tow in its plane, its zones, and what towzone is told."""

    track: Track
    zones: list[Zone]
    settings: CheckSettings
    plane: Plane
    time_s: np.ndarray
    z: np.ndarray
    shoot_s: float = -np.inf
    haul_s: float = np.inf
    boundaries: dict[str, Boundary] = field(default_factory=dict)

    def boundary(self, zone_id):
        if zone_id not in self.boundaries:
            self.boundaries[zone_id] = Boundary.of(next(z for z in self.zones if z.zone_id == zone_id))
        return self.boundaries[zone_id]


def scene(rng, *, current=None, guesses=False, phases=None, zones=4, away_m=450.0):
    """A random scene.

    Parameters
    ----------
    current : bool or None
        Whether a stream is stated; by chance when ``None``.
    guesses : bool
        Whether some figures are left out, so that towzone takes its defaults.
    phases : bool or None
        Whether the track goes on before shooting and after hauling, told by a haul log.
    away_m : float
        How far from the track zones may lie.
    """
    figures = _figures(rng, guesses)
    if rng.random() < 0.5 if current is None else current:
        drift = Current(set_deg=float(rng.uniform(0.0, 360.0)), drift_kn=float(rng.uniform(0.1, 1.0)))
        figures = GearFigures(**(_as_dict(figures) | {"current": drift}))
    logged = rng.random() < 0.4 if phases is None else phases
    sharp = figures.block_aft_m == 0.0 and figures.block_starboard_m == 0.0
    time_s, z = _way(rng, sharp=sharp)
    place = PLACES[int(rng.integers(len(PLACES)))]
    plane = Plane(*place)
    lon, lat = plane.degrees(z)
    positions = np.column_stack([wrapped(lon), lat])
    track = fixes(positions, time_s)
    hauls, shoot_s, haul_s = (), -np.inf, np.inf
    if logged:
        shoot_s, haul_s = 60.0 * round(time_s[-1] * 0.22 / 60.0), 60.0 * round(time_s[-1] * 0.75 / 60.0)
        hauls = (_logged(shoot_s, haul_s),)
    near = [positions[int(rng.integers(len(z) // 5, len(z) - len(z) // 8))] for _ in range(zones)]
    if rng.random() < 0.5:  # astern, where gear lies before anything else has moved
        way = (z[1] - z[0]) / abs(z[1] - z[0])
        near[0] = tuple(float(c) for c in plane.degrees(z[0] - way * rng.uniform(0.0, 1.6 * figures.warp_m)))
    settings = CheckSettings(
        towing=Towing.LOG if logged else Towing.ALL,
        hauls=hauls,
        gear=GEARS[figures.rig],
        figures=figures,
        position_error_m=float(rng.choice([5.0, 15.0])),
    )
    made = [_zone(rng, at, n, away_m) for n, at in enumerate(near)]
    if away_m < 1000.0:  # a bare wreck that the doors, but neither of them, run over
        on_way = moved(near[-1], rng.uniform(0.0, 360.0), rng.uniform(0.0, 15.0))
        more = {"zone_id": made[-1].zone_id, "margin_m": 50.0}
        made[-1] = zone(points(on_way), ZoneKind.OBSTRUCTION, radius_m=0.0, **more)
    return Scene(track, made, settings, plane, time_s, z, shoot_s, haul_s)


def _as_dict(figures):
    return {name: getattr(figures, name) for name in GearFigures.__dataclass_fields__}


def _figures(rng, guesses):
    rig = list(Rig)[int(rng.choice(3, p=[0.4, 0.4, 0.2]))]
    depth = float(rng.uniform(30.0, 120.0))
    warp = float(round((depth + 5.0) * rng.uniform(2.4, 4.5)))
    shared = {
        "rig": rig,
        "warp_m": warp,
        "depth_m": depth,
        "block_height_m": float(rng.uniform(2.0, 7.0)),
        "net_length_m": float(rng.uniform(30.0, 60.0)),
        "heave_speed_mps": float(rng.uniform(0.7, 1.6)),
        "shoot_time_s": float(rng.uniform(240.0, 600.0)),
        "block_aft_m": float(rng.choice([0.0, 12.0, 18.0])),
        "block_starboard_m": float(rng.choice([0.0, 2.0])),
        "tow_speed_kn": 3.0,
    }
    if rig is Rig.BEAM:
        more = {
            "beam_length_m": float(rng.uniform(4.0, 12.0)),
            "beams_apart_m": float(rng.uniform(14.0, 30.0)),
        }
    else:
        spread = float(min(warp * rng.uniform(0.2, 0.4), 110.0))
        more = {
            "block_separation_m": float(rng.uniform(4.0, 10.0)),
            "door_spread_m": spread,
            "sweeps_m": float(rng.uniform(60.0, 140.0)),
            # No net opens wider than its doors, of which a twin rig's net has half the spread.
            "wing_spread_m": float(
                min(rng.uniform(10.0, 20.0), 0.8 * spread / (2.0 if rig is Rig.TWIN else 1.0))
            ),
        }
        if rig is Rig.TWIN:
            more["clump_warp_m"] = float(round(warp * rng.uniform(0.95, 1.0)))
    if guesses:
        for name in GUESSED:
            if rng.random() < 0.25:
                (shared if name in shared else more).pop(name, None)
    return GearFigures(**shared, **more)


def _logged(shoot_s, haul_s):
    return LoggedHaul(
        haul="1",
        shoot_utc=START + np.timedelta64(int(shoot_s), "s"),
        haul_utc=START + np.timedelta64(int(haul_s), "s"),
    )


def _way(rng, *, sharp):
    """Times and places of fixes: straight, then one to three turns, sharp or on arcs; every 5 to 30 s."""
    every_s = float(rng.choice([5.0, 10.0, 20.0, 30.0] if sharp else [5.0, 10.0]))
    heading = np.exp(1j * rng.uniform(0.0, 2.0 * np.pi))
    corners = [0.0 + 0.0j, heading * rng.uniform(900.0, 1200.0)]
    for _ in range(int(rng.integers(1, 4))):
        turn = np.radians(rng.uniform(20.0, 130.0)) * rng.choice([-1.0, 1.0])
        length = rng.uniform(250.0, 900.0)
        if sharp:
            heading = heading * np.exp(1j * turn)
        else:
            radius = rng.uniform(250.0, 700.0) * np.sign(turn)
            middle = corners[-1] + 1j * heading * radius
            bends = np.linspace(0.0, turn, max(8, int(abs(turn * radius) / 8.0)))[1:]
            corners += list(middle - 1j * heading * radius * np.exp(1j * bends))
            heading = heading * np.exp(1j * turn)
        corners.append(corners[-1] + heading * length)
    corners = np.array(corners)
    run = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(corners)))])
    speed = rng.uniform(2.4, 3.6) * KNOT_MPS
    # A whole number of steps, every corner between two fixes is cut by them: what the fixes say is the way.
    time_s = np.arange(0.0, run[-1] / speed, every_s)
    at = time_s * speed
    return time_s, np.interp(at, run, corners.real) + 1j * np.interp(at, run, corners.imag)


def _zone(rng, at, number, away_m):
    at = moved(at, rng.uniform(0.0, 360.0), rng.uniform(0.0, away_m))
    more = {
        "edges": list(LineKind)[int(rng.integers(3))],
        "zone_id": f"Z{number}",
        "margin_m": float(rng.choice([0.0, 50.0, 100.0, 463.0])),
    }
    size = 10.0 ** rng.uniform(1.3, 3.3)
    what = rng.choice(["wreck", "safety", "cable", "pipe", "area"])
    if what == "wreck":
        return zone(points(at), ZoneKind.OBSTRUCTION, radius_m=float(rng.choice([0.0, 50.0])), **more)
    if what == "safety":
        return zone(points(at), ZoneKind.SAFETY_ZONE, radius_m=float(rng.choice([100.0, 500.0])), **more)
    if what == "area":
        n = int(rng.integers(3, 7))
        radii = size * rng.uniform(0.6, 1.0, n)
        return zone(area(star(*at, rng.uniform(0, 360) + np.arange(n) * 360.0 / n, radii)), **more)
    bearing = rng.uniform(0.0, 360.0)
    corners = [moved(at, bearing, size), at, moved(at, bearing + rng.uniform(90.0, 270.0), size)]
    kind, radius = (ZoneKind.CABLE, 0.0) if what == "cable" else (ZoneKind.PIPELINE, 20.0)
    return zone(line(*corners), kind, radius_m=radius, **more)


# ---------------------------------------------------------------- where the gear truly went


@dataclass(frozen=True)
class Truth:
    """Figures of possible truths of one scene, each of shape (k,).

    ``turned`` is how far, in radians, the gear first lies off straight astern.
    """

    rig: Rig
    values: dict[str, np.ndarray]
    current: np.ndarray
    friction: np.ndarray
    bias: np.ndarray
    turned: np.ndarray

    def __len__(self):
        return len(self.current)


def stated(rigging, current):
    """The one truth in which every figure is as a result states it; ``rigging`` is figures by name."""
    stream = 0.0 if current is None else (
        current.drift_kn * KNOT_MPS * np.exp(1j * np.radians(90.0 - current.set_deg))
    )  # fmt: skip
    rig = Rig.BEAM if "beam_length" in rigging else Rig.TWIN if "clump_warp" in rigging else Rig.SINGLE
    values = {name: np.array([figure.value]) for name, figure in rigging.items()}
    return Truth(rig, values, np.array([stream + 0.0j]), np.zeros(1), np.zeros(1, complex), np.zeros(1))


@dataclass(frozen=True)
class Gone:
    """Where the gear of one scene went: by name (n, k) complex, NaN while it cannot be on the bottom."""

    tracers: dict[str, np.ndarray]
    body: dict[str, np.ndarray]


def truths(scenes, many, steps):
    """Work out where the gear of scenes went, ``steps`` moments each, as a list of `Gone`."""
    clocks, blocks, lines, seconds = [], [], [], []
    for scene_, truth in zip(scenes, many, strict=True):
        clock = np.linspace(scene_.time_s[0], scene_.time_s[-1], steps)
        vessel = np.interp(clock, scene_.time_s, scene_.z.real) + 1j * np.interp(
            clock, scene_.time_s, scene_.z.imag
        )
        v = truth.values
        block = offset(vessel[:, None], v["block_aft"], v["block_starboard"]) + truth.bias
        early = np.maximum(np.nan_to_num(scene_.shoot_s - clock, neginf=0.0), 0.0)[:, None]
        late = np.maximum(np.nan_to_num(clock - scene_.haul_s, neginf=0.0), 0.0)[:, None]
        warp = np.maximum(v["warp"] - early * v["veer_speed"] - late * v["haul_speed"], 0.0)
        height = v["depth"] + v["block_height"]
        aside = 0.0 if truth.rig is Rig.BEAM else (v["door_spread"] - v["block_separation"]) / 2.0
        clocks.append(np.broadcast_to(clock[:, None], block.shape))
        blocks.append(block)
        lines.append(np.broadcast_to(level(warp, height, aside), block.shape))
        seconds.append(_behind(truth) + np.zeros(len(truth)))
    gear = dragged(
        np.concatenate(clocks, axis=1),
        np.concatenate(blocks, axis=1),
        np.concatenate(lines, axis=1),
        np.concatenate(seconds),
        current_mps=np.concatenate([t.current for t in many]),
        friction=np.concatenate([t.friction for t in many]),
        turned=np.concatenate([t.turned for t in many]),
        speed_mps=3.0 * KNOT_MPS,
    )
    cuts = np.cumsum([0, *(len(t) for t in many)])
    return [
        _gone(t, lines[n], *(c[:, cuts[n] : cuts[n + 1]] for c in (gear.block, gear.doors, gear.codend)))
        for n, t in enumerate(many)
    ]


def _nets(truth):
    v = truth.values
    if truth.rig is Rig.BEAM:
        apart = v["beams_apart"]
        return ([0.0 * apart] if not apart.any() else [apart / 2.0, -apart / 2.0]), v["beam_length"]
    quarter = v["door_spread"] / 4.0
    return ([quarter, -quarter] if truth.rig is Rig.TWIN else [0.0 * quarter]), v["wing_spread"]


def _behind(truth):
    """Doors to codend, over the ground: each net spans its own share of the doors' spread."""
    v = truth.values
    if truth.rig is Rig.BEAM:
        return v["net_length"]
    share = v["door_spread"] / (2.0 if truth.rig is Rig.TWIN else 1.0)
    return level(v["sweeps"], 0.0, (share - v["wing_spread"]) / 2.0) + v["net_length"]


def _gone(truth, towline, block, doors, codend):
    v = truth.values
    u = (block - doors) / np.maximum(np.abs(block - doors), 1e-6)
    u2 = (doors - codend) / np.maximum(np.abs(doors - codend), 1e-6)
    up = np.where(towline > 0.0, 1.0, np.nan)
    tracers, body = {}, {}
    middles, wing = _nets(truth)
    if truth.rig is Rig.BEAM:
        for name, middle in zip(("port beam", "starboard beam"), middles, strict=False):
            ends = [doors + 1j * u * (middle + side * wing / 2.0) for side in (1.0, -1.0)]
            tracers |= {f"{name}, {n}": end for n, end in enumerate(ends)}
            body |= _between(name, *ends, DOOR_SAMPLES)
    else:
        half = 1j * u * v["door_spread"] / 2.0
        tracers |= {"port door": doors + half, "starboard door": doors - half}
        ends = [doors + half, doors - half]
        if truth.rig is Rig.TWIN:
            share = v["clump_warp"] / v["warp"]
            height = v["depth"] + v["block_height"]
            warp = np.sqrt(towline**2 + height**2 + ((v["door_spread"] - v["block_separation"]) / 2.0) ** 2)
            # The clump's warp is paid out in step with the others.
            clump = doors + u * (towline - level(warp * share, height))
            tracers["clump"] = clump
            body |= _between("sweeps", ends[0], clump, DOOR_SAMPLES)
            body |= _between("sweeps 2", clump, ends[1], DOOR_SAMPLES)
        else:
            body |= _between("sweeps", *ends, DOOR_SAMPLES)
    for n, middle in enumerate(middles):
        mouth = codend + u2 * v["net_length"] + 1j * u2 * middle
        port, starboard = mouth + 0.5j * u2 * wing, mouth - 0.5j * u2 * wing
        end = codend + 1j * u2 * middle
        # Inner wing-ends, and those of a net on a beam, lie between others: they belong to the body alone.
        if truth.rig is not Rig.BEAM and n == 0:
            tracers["net, port wing-end"] = port
        if truth.rig is not Rig.BEAM and n == len(middles) - 1:
            tracers["net, starboard wing-end"] = starboard
        tracers[f"net, codend {n}"] = end
        for side, a, b in (("mouth", port, starboard), ("port", port, end), ("starboard", starboard, end)):
            body |= _between(f"net {side} {n}", a, b, SIDE_SAMPLES)
    return Gone({name: z * up for name, z in tracers.items()}, {name: z * up for name, z in body.items()})


def _between(name, a, b, many):
    return {f"{name} {t:.2f}": a + (b - a) * t for t in np.linspace(0.0, 1.0, many)}


def part_of(tracer):
    """The part a tracer stands for, as towzone names it."""
    return tracer.split(",")[0]


def clearances_m(scene_, zone_id, paths, within_m=np.inf):
    """Least clearance of each path of a dict, (k,) each; infinite where it never touched the bottom."""
    names = list(paths)
    z = np.stack([paths[name] for name in names], axis=1)
    least = least_of(scene_.boundary(zone_id), *scene_.plane.degrees(z), within_m)
    return {name: least[n] for n, name in enumerate(names)}
