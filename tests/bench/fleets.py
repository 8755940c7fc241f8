"""An invented fleet: months and years of many vessels, and the zones of their waters. Same seed, same bytes.

Every vessel sails trips from a port of its own: steaming at 9.5 kn, tows of 3 to 5 hours at about 3 kn with a
haul between, port stays of half a day to two days. Positions have 4 m of noise; a few times a month a
receiver is silent for half an hour to four hours.

``vessel`` gives one vessel as columns, ``write_parquet`` and ``write_csv`` a whole fleet as a file.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

METRES_PER_DEGREE = 111_320.0
KNOT_MPS = 1852.0 / 3600.0
WEST_DEG, SOUTH_DEG, EAST_DEG, NORTH_DEG = -15.0, 46.0, 5.0, 61.0
"""The sea of the fleet, 20 by 15 degrees; whatever land a real chart has there, here is none."""
FROM_UTC = np.datetime64("2026-05-01T00:00:00", "s")
STEP_S = 1_200.0
"""How often a vessel alters course while it tows."""
NOISE_M = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """How many vessels, how often they report, and how many fixes each of them has."""

    vessels: int
    every_s: int
    fixes: int
    seed: int = 3

    def __len__(self) -> int:
        return self.vessels * self.fixes


MONTH = Fleet(vessels=500, every_s=120, fixes=21_600)
YEAR = Fleet(vessels=1_000, every_s=7_200, fixes=4_380)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fixes:
    """The fixes of one vessel."""

    vessel: str
    time_utc: np.ndarray
    lon_deg: np.ndarray
    lat_deg: np.ndarray


def vessel(number: int, fleet: Fleet = MONTH) -> Fixes:
    """Return the fixes of one vessel of a fleet."""
    rng = np.random.default_rng([fleet.seed, number])
    second = _reports(rng, fleet)
    turn_s, turn_lon, turn_lat = _waypoints(rng, float(second[-1]))
    lat = np.interp(second, turn_s, turn_lat)
    lon = np.interp(second, turn_s, turn_lon)
    lat += rng.normal(0.0, NOISE_M, fleet.fixes) / METRES_PER_DEGREE
    lon += rng.normal(0.0, NOISE_M, fleet.fixes) / (METRES_PER_DEGREE * np.cos(np.radians(lat)))
    return Fixes(
        vessel=f"INVENTED {number:04d}",
        time_utc=FROM_UTC + second.astype("timedelta64[s]"),
        lon_deg=np.round(lon, 6),
        lat_deg=np.round(lat, 6),
    )


def everyone(fleet: Fleet) -> Iterator[Fixes]:
    """Yield the vessels of a fleet one after the other."""
    for number in range(fleet.vessels):
        yield vessel(number, fleet)


def write_parquet(path: Path, fleet: Fleet) -> None:
    """Write a fleet as one Parquet file, vessel by vessel: vessel, time_utc, lat, lon."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    writer = None
    for fixes in everyone(fleet):
        table = _table(fixes)
        writer = pq.ParquetWriter(path, table.schema) if writer is None else writer
        writer.write_table(pa.table(table))
    writer.close()


def write_csv(path: Path, fleet: Fleet) -> None:
    """Write a fleet as one table of text, times in ISO 8601."""
    from pyarrow import csv

    writer = None
    with path.open("wb") as out:
        for fixes in everyone(fleet):
            table = _table(fixes)
            stamps = np.char.add(np.datetime_as_string(fixes.time_utc, unit="s"), "Z")
            table = table.set_column(1, "time_utc", [stamps.tolist()])
            writer = csv.CSVWriter(out, table.schema) if writer is None else writer
            writer.write_table(table)
        writer.close()


def _table(fixes: Fixes):
    import pyarrow as pa

    # A dictionary would be smaller; plain text is what most offices have.
    return pa.table(
        {
            "vessel": pa.array([fixes.vessel] * len(fixes.lon_deg)),
            "time_utc": pa.array(fixes.time_utc, type=pa.timestamp("s", tz="UTC")),
            "lat": fixes.lat_deg,
            "lon": fixes.lon_deg,
        }
    )


def _reports(rng: np.random.Generator, fleet: Fleet) -> np.ndarray:
    """Return when a vessel reports, seconds, with a silence here and there."""
    days = fleet.every_s * fleet.fixes / 86_400.0
    extra_s = np.zeros(fleet.fixes, dtype=np.int64)
    silent = rng.integers(1, fleet.fixes, int(days / 8.0) + 1)
    extra_s[silent] = (rng.uniform(1_800.0, 14_400.0, len(silent)) // fleet.every_s) * fleet.every_s
    return np.arange(fleet.fixes) * fleet.every_s + np.cumsum(extra_s)


def _waypoints(rng: np.random.Generator, until_s: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return times, longitudes and latitudes between which a vessel goes straight on."""
    port = complex(rng.uniform(WEST_DEG + 0.5, EAST_DEG - 0.5), rng.uniform(SOUTH_DEG + 0.5, NORTH_DEG - 0.5))
    sailed = _Sailed(port)
    sailed.wait(rng.uniform(0.0, 86_400.0))
    while sailed.now_s < until_s:
        ground = _ground(rng, port)
        sailed.go_to(ground, rng.normal(9.5, 0.3))
        ends_s = sailed.now_s + rng.uniform(4.0, 8.0) * 86_400.0
        while sailed.now_s < min(ends_s, until_s):
            sailed.tow(rng, ground)
            sailed.drift(rng, rng.uniform(1_800.0, 3_600.0))
        sailed.go_to(port, rng.normal(9.5, 0.3))
        sailed.wait(rng.uniform(0.5, 2.0) * 86_400.0)
    place = np.array(sailed.place)
    return np.array(sailed.time_s), place.real, place.imag


def _ground(rng: np.random.Generator, port: complex) -> complex:
    """Return a fishing ground 60 to 250 km from a port, within the sea."""
    while True:
        away_m = rng.uniform(60_000.0, 250_000.0) * np.exp(1j * rng.uniform(0.0, 2.0 * np.pi))
        at = _moved(port, away_m)
        if WEST_DEG + 0.3 < at.real < EAST_DEG - 0.3 and SOUTH_DEG + 0.3 < at.imag < NORTH_DEG - 0.3:
            return at


def _moved(place: complex, by_m: complex) -> complex:
    """Return a place moved by metres east and north, as well as invented vessels need it."""
    east_m = METRES_PER_DEGREE * np.cos(np.radians(place.imag))
    return place + complex(by_m.real / east_m, by_m.imag / METRES_PER_DEGREE)


def _between(one: complex, two: complex) -> complex:
    """Return metres east and north from one place to another."""
    east_m = METRES_PER_DEGREE * np.cos(np.radians((one.imag + two.imag) / 2.0))
    return complex((two - one).real * east_m, (two - one).imag * METRES_PER_DEGREE)


class _Sailed:
    """The waypoints of a vessel as they grow."""

    def __init__(self, port: complex) -> None:
        self.time_s, self.place = [0.0], [port]

    @property
    def now_s(self) -> float:
        return self.time_s[-1]

    def wait(self, seconds: float) -> None:
        self._add(seconds, self.place[-1])

    def go_to(self, place: complex, speed_kn: float) -> None:
        seconds = abs(_between(self.place[-1], place)) / (speed_kn * KNOT_MPS)
        self._add(max(seconds, 60.0), place)

    def drift(self, rng: np.random.Generator, seconds: float) -> None:
        """Haul, sort and shoot again at half a knot."""
        self._add(seconds, _moved(self.place[-1], 0.25 * seconds * np.exp(1j * rng.uniform(0.0, 6.28))))

    def tow(self, rng: np.random.Generator, ground: complex) -> None:
        """Tow for three to five hours, bending, back towards the ground when 25 km away from it."""
        home = _between(self.place[-1], ground)
        heading = rng.uniform(0.0, 2.0 * np.pi) if abs(home) < 25_000.0 else np.angle(home)
        for _ in range(int(rng.uniform(9.0, 15.0))):
            heading += rng.normal(0.0, 0.15)
            speed_mps = rng.normal(3.0, 0.12) * KNOT_MPS
            self._add(STEP_S, _moved(self.place[-1], speed_mps * STEP_S * np.exp(1j * heading)))

    def _add(self, seconds: float, place: complex) -> None:
        self.time_s.append(self.time_s[-1] + seconds)
        self.place.append(place)
