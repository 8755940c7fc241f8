"""How fast a towed body follows its lead: ``python tests/bench/bench_gear.py [NODES]``.

Printed, never asserted; seconds of processor time. Invented paths of NODES nodes (1 million unless told
otherwise) 1.5 m apart behind 400 m of line: bends only; with a winch and a current; about once in so many
legs a turn back, which leaves the line slack for a while; to and fro, slack nearly everywhere; and raw noise
of positions, the worst there is.
"""

from __future__ import annotations

import resource
import sys
import time

import numpy as np

from towzone.gear.pursuit import pursue

METRES_PER_DEGREE = 111_320.0
LAT_DEG = 56.0


def positions(east_m: np.ndarray, north_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    east_degree_m = METRES_PER_DEGREE * np.cos(np.radians(LAT_DEG))
    return 3.0 + east_m / east_degree_m, LAT_DEG + north_m / METRES_PER_DEGREE


def bends(rng: np.random.Generator, nodes: int, back_every: int = 0) -> tuple[np.ndarray, np.ndarray]:
    heading = np.cumsum(rng.normal(0.0, 0.01, nodes))
    step_m = np.full(nodes, 1.5)
    if back_every:
        step_m[rng.random(nodes) < 1.0 / back_every] *= -3.0
    return positions(np.cumsum(step_m * np.sin(heading)), np.cumsum(step_m * np.cos(heading)))


def to_and_fro(nodes: int) -> tuple[np.ndarray, np.ndarray]:
    way = np.where(np.arange(nodes) // 200 % 2, -1.5, 1.5)
    return positions(np.zeros(nodes), np.cumsum(way))


def noise(rng: np.random.Generator, nodes: int) -> tuple[np.ndarray, np.ndarray]:
    return positions(rng.normal(0.0, 3.0, nodes), rng.normal(0.0, 3.0, nodes))


def main() -> None:
    nodes = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    rng = np.random.default_rng(1)
    line = np.full(nodes, 400.0)
    worked = 400.0 + 20.0 * np.sin(np.arange(nodes) / 1000.0)
    drift = {"drift_east_m": np.full(nodes - 1, 0.2), "drift_north_m": np.full(nodes - 1, 0.1)}
    scenes = [
        ("bends", bends(rng, nodes), line, {}),
        ("bends, winch, current", bends(rng, nodes), worked, drift),
        ("back once in 10 000", bends(rng, nodes, 10_000), line, {}),
        ("back once in 500", bends(rng, nodes, 500), line, {}),
        ("to and fro", to_and_fro(nodes), line, {}),
        ("noise alone", noise(rng, nodes), line, {}),
    ]
    print("path                    seconds   nodes_per_s   us_per_leg   slack   peak_MB")
    for name, (lon, lat), length, drifts in scenes:
        begun = time.process_time()
        found = pursue(lon, lat, length, **drifts)
        seconds = time.process_time() - begun
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{name:<23} {seconds:<9.2f} {nodes / seconds:<13.0f} {seconds / nodes * 1e6:<12.2f} "
            f"{found.slack.mean():<7.3f} {peak_mb:.0f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
