"""Invented zones: along a track, or all over a sea. Same seed, same bytes.

Closed areas of 4 to 260 corners with rhumb, geodesic or lon/lat edges, small safety zones, and cables.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape, freeze
from towzone.model.zone import DEFAULT_PROHIBITS, Zone, ZoneKind

METRES_PER_DEGREE = 111_320.0
KINDS = (ZoneKind.CLOSED_AREA,) * 7 + (ZoneKind.SAFETY_ZONE, ZoneKind.CLOSED_AREA, ZoneKind.CABLE)
"""Kinds in turn: one zone in ten is small and round, one is a cable."""
EDGES = (LineKind.RHUMB, LineKind.RHUMB, LineKind.GEODESIC, LineKind.RHUMB, LineKind.LONLAT)
MARGIN_M = 463.0
SAFETY_M = 600.0
LONGER = 1.6
"""Areas are longer than wide by the square of this."""
TRIP_ZONES, TRIP_VERTICES = 540, 33_671
ASIDE_DEG = 0.15
"""Standard deviation of how far zones lie from the track that they are along."""
TRIP_SIZES_M = (6_000.0, 60_000.0)
"""Least and greatest half width of areas along a track, so that 14 to 20 are within 5 nmi of a fix."""
FLEET_ZONES = 2_000
FLEET_SIZES_M = (2_000.0, 25_000.0)


def along(
    lon_deg: np.ndarray,
    lat_deg: np.ndarray,
    count: int = TRIP_ZONES,
    vertices: int = TRIP_VERTICES,
    *,
    seed: int = 2,
) -> tuple[Zone, ...]:
    """Return zones spread along a track, with so many vertices in all."""
    rng = np.random.default_rng([seed, 0])
    at = rng.integers(0, len(lon_deg), count)
    lon = lon_deg[at] + rng.normal(0.0, 1.4 * ASIDE_DEG, count)
    lat = lat_deg[at] + rng.normal(0.0, ASIDE_DEG, count)
    return _zones(rng, lon, lat, _corners(rng, count, vertices), TRIP_SIZES_M)


def over(
    west_deg: float,
    south_deg: float,
    east_deg: float,
    north_deg: float,
    count: int = FLEET_ZONES,
    *,
    vertices_each: float = 62.0,
    seed: int = 2,
) -> tuple[Zone, ...]:
    """Return zones spread over a sea."""
    rng = np.random.default_rng([seed, 1])
    lon = rng.uniform(west_deg + 0.8, east_deg - 0.8, count)
    lat = rng.uniform(south_deg + 0.5, north_deg - 0.5, count)
    return _zones(rng, lon, lat, _corners(rng, count, round(vertices_each * count)), FLEET_SIZES_M)


def vertices_of(zones: tuple[Zone, ...]) -> int:
    """Return how many corners zones have."""
    return sum(
        sum(len(ring) for rings in zone.shape.polygons for ring in rings)
        + sum(len(line) for line in zone.shape.lines)
        for zone in zones
    )


def write_geojson(path: Path, zones: tuple[Zone, ...]) -> None:
    """Write zones as the product reads them; digits as they are, so that the corners read back the same."""
    with path.open("w", encoding="utf-8") as out:
        out.write('{"type": "FeatureCollection", "features": [\n')
        out.write(",\n".join(json.dumps(_feature(zone)) for zone in zones))
        out.write("\n]}\n")


def _feature(zone: Zone) -> dict:
    told = {
        "zone_id": zone.zone_id,
        "name": zone.name,
        "kind": zone.kind.value,
        "edges": zone.edges.value,
        "prohibits": [one.value for one in zone.prohibits],
        "margin": f"{zone.margin_m:g}m",
        "source": "invented",
        "issued": "2026-01-01",
    }
    if zone.shape.polygons:
        ring = zone.shape.polygons[0][0].tolist()
        shape = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
    else:
        shape = {"type": "LineString", "coordinates": zone.shape.lines[0].tolist()}
    return {"type": "Feature", "properties": told, "geometry": shape}


def _corners(rng: np.random.Generator, count: int, vertices: int) -> np.ndarray:
    """Return how many corners each zone has: most have few, some have hundreds, all together so many."""
    drawn = np.clip(np.exp(rng.normal(np.log(40.0), 1.0, count)), 4.0, 260.0)
    drawn[::4] = rng.integers(4, 9, len(drawn[::4]))
    many = np.arange(count) % 4 != 0
    drawn[many] *= (vertices - drawn[~many].sum()) / drawn[many].sum()
    corners = np.maximum(np.floor(drawn).astype(int), 4)
    # What rounding left over goes to the first that have many.
    left = vertices - corners.sum()
    for at in np.flatnonzero(many & (corners > 8))[: abs(left)]:
        corners[at] += int(np.sign(left))
    return corners


def _zones(
    rng: np.random.Generator,
    lon: np.ndarray,
    lat: np.ndarray,
    corners: np.ndarray,
    sizes_m: tuple[float, float],
) -> tuple[Zone, ...]:
    size_m = np.exp(rng.uniform(*np.log(sizes_m), len(lon)))
    columns = zip(lon, lat, corners, size_m, strict=True)
    return tuple(_zone(rng, number, *rest) for number, rest in enumerate(columns))


def _zone(rng: np.random.Generator, number: int, lon: float, lat: float, corners: int, size_m: float) -> Zone:
    kind = KINDS[number % len(KINDS)]
    if kind is ZoneKind.CABLE:
        shape = Shape(lines=(freeze(_placed(lon, lat, _cable(rng, corners))),))
    else:
        half_m = SAFETY_M if kind is ZoneKind.SAFETY_ZONE else size_m
        shape = Shape(polygons=((freeze(_placed(lon, lat, half_m * _outline(rng, corners))),),))
    return Zone(
        zone_id=f"Z{number:04d}",
        name=f"Invented zone {number}",
        kind=kind,
        shape=shape,
        edges=EDGES[number % len(EDGES)],
        edges_stated=True,
        prohibits=DEFAULT_PROHIBITS[kind],
        margin_m=MARGIN_M,
        source="invented",
        issued="2026-01-01",
    )


def _outline(rng: np.random.Generator, corners: int) -> np.ndarray:
    """Return a ring around 0 that every ray from 0 meets once, of size about 1, as complex numbers."""
    step = 2.0 * np.pi / corners
    turn = step * (np.arange(corners) + rng.uniform(-0.35, 0.35, corners))
    waves = rng.normal(0.0, 1.0, (2, 5)) / np.arange(2, 7) * (0.25 if corners > 12 else 0.05)
    radius = np.ones(corners)
    for number, (one, two) in enumerate(waves.T, start=2):
        radius += one * np.cos(number * turn) + two * np.sin(number * turn)
    wide = LONGER * np.cos(turn) + 1j * np.sin(turn) / LONGER
    return np.clip(radius, 0.35, 2.0) * wide * np.exp(2j * np.pi * rng.random())


def _cable(rng: np.random.Generator, corners: int) -> np.ndarray:
    """Return a line that bends gently around 0, 20 to 60 km long, metres."""
    heading = rng.uniform(0.0, 2.0 * np.pi) + np.cumsum(rng.normal(0.0, 0.5 / np.sqrt(corners), corners))
    way = np.cumsum(np.exp(1j * heading))
    return (way - way.mean()) * rng.uniform(2e4, 6e4) / corners


def _placed(lon: float, lat: float, at_m: np.ndarray) -> np.ndarray:
    """Return metres around a place as rounded longitudes and latitudes."""
    lats = lat + at_m.imag / METRES_PER_DEGREE
    lons = lon + at_m.real / (METRES_PER_DEGREE * np.cos(np.radians(lat)))
    return np.round(np.column_stack([lons, lats]), 6)
