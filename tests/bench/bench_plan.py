"""How fast a plan is: ``python tests/bench/bench_plan.py``. Printed, never asserted.

A line of 12 legs, 60 km, among 2 000 invented zones of 24 corners on 200 by 200 km, some of which it crosses:
``towzone plan`` as a process of its own, check alone, with advice, with a corrected line, with both; the same
among 200 zones on a tenth of that ground, and a start of towzone that does nothing, so that the cost can be
seen to follow the work. The best of some runs: seconds of the clock, and of the processor.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
VESSEL = ROOT / "sample_tracks" / "greywether_vessel.toml"
METRES_PER_DEGREE = 111_320.0
LON_DEG, LAT_DEG = -20.0, 57.0
CORNERS, RUNS = 24, 3
A_ZONE_M2 = 200_000.0**2 / 2_000
KINDS = ("closed_area", "closed_area", "safety_zone", "cable", "obstruction")


def degrees(z: np.ndarray) -> list[list[float]]:
    """Return places of a plane, metres, as longitudes and latitudes."""
    lat = LAT_DEG + z.imag / METRES_PER_DEGREE
    lon = LON_DEG + z.real / METRES_PER_DEGREE / np.cos(np.radians(lat))
    return np.column_stack([lon, lat]).round(7).tolist()


def line() -> np.ndarray:
    """Return the corners of 12 legs of 5 km that wind to the north-east."""
    courses = np.radians(45.0 + 25.0 * np.array([0, 1, 0, -1, -1, 0, 1, 1, 0, -1, 0, 1]))
    return np.concatenate([[0.0], np.cumsum(5_000.0 * np.exp(1j * (np.pi / 2.0 - courses)))]) - 21_000.0 * (
        1.0 + 1.0j
    )


def field(count: int, seed: int = 2) -> dict:
    """Return zones, none of them within 4 km of either end of the line."""
    rng, ends, features = np.random.default_rng(seed), line()[[0, -1]], []
    half_m = np.sqrt(A_ZONE_M2 * count) / 2.0
    turn = np.exp(2j * np.pi * np.arange(CORNERS) / CORNERS)
    while len(features) < count:
        at = complex(*rng.uniform(-half_m, half_m, 2))
        size = 10.0 ** rng.uniform(2.3, 3.2)
        if np.abs(ends - at).min() < 4_000.0 + size:
            continue
        kind = KINDS[len(features) % len(KINDS)]
        if kind in ("closed_area", "safety_zone"):
            ring = degrees(at + size * turn * (1.0 + 0.2 * np.sin(5.0 * np.angle(turn))))
            shape = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
        elif kind == "cable":
            along = np.exp(2j * np.pi * rng.random()) * np.linspace(-size, size, CORNERS)
            shape = {"type": "LineString", "coordinates": degrees(at + along)}
        else:
            shape = {"type": "Point", "coordinates": degrees(np.array([at]))[0]}
        number = len(features)
        told = {"zone_id": f"Z{number}", "name": f"Zone {number}", "kind": kind, "edges": "rhumb"}
        told |= {
            "prohibits": ["bottom_contact"],
            "margin": "100m",
            "source": "invented",
            "issued": "2026-01-01",
        }
        features.append({"type": "Feature", "properties": told, "geometry": shape})
    return {"type": "FeatureCollection", "features": features}


class Ran(NamedTuple):
    """Least seconds of some runs of towzone, by the clock and by the processor, and what it said."""

    clock_s: float
    processor_s: float
    done: subprocess.CompletedProcess


def run(*arguments: str) -> Ran:
    """Run towzone some times."""
    clock, processor = [], []
    for _ in range(RUNS):
        before, begun = _children_s(), time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-m", "towzone", *arguments], cwd=ROOT, capture_output=True, check=False
        )
        clock.append(time.perf_counter() - begun)
        processor.append(_children_s() - before)
        if done.returncode not in (0, 1, 4):
            sys.exit(done.stderr.decode())
    return Ran(min(clock), min(processor), done)


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> None:
    text = "; ".join(f"{lat:.6f}N {-lon:.6f}W" for lon, lat in degrees(line()))
    began = run("--version")
    print(f"a start that does nothing: {began.clock_s:.2f} s, of the processor {began.processor_s:.2f} s\n")
    print("zones   asked for               clock_s   processor_s   times_check   outcome")
    ways = (
        ("check alone", ("--no-advice", "--no-correction")),
        ("with advice", ("--no-correction",)),
        ("with a corrected line", ("--no-advice",)),
        ("with both", ()),
    )
    with tempfile.TemporaryDirectory() as folder:
        for count in (200, 2_000):
            path = Path(folder) / f"zones{count}.geojson"
            path.write_text(json.dumps(field(count)), encoding="utf-8")
            alone = None
            for words, options in ways:
                asked = ["plan", "--line", text, "--zones", str(path), "--vessel", str(VESSEL)]
                asked += ["--depart", "2026-05-11T06:00Z", "--format", "json", *options]
                took = run(*asked)
                alone = took if alone is None else alone
                print(
                    f"{count:<7} {words:<23} {took.clock_s:<9.2f} {took.processor_s:<13.2f} "
                    f"{took.processor_s / alone.processor_s:<13.2f} {outcome(took.done)}",
                    flush=True,
                )


def outcome(done: subprocess.CompletedProcess) -> str:
    """Return what the plan came to, in few words."""
    told = json.loads(done.stdout)
    corrected = [plan.get("corrected") for plan in told.get("plan", {}).get("lines", [])]
    found = [
        "no line: " + str(one["why"]) if "why" in one else f"corrected, {one['longer_m']:.0f} m longer"
        for one in corrected
        if one
    ]
    return ", ".join([str(told["outcome"]), *found])


if __name__ == "__main__":
    main()
