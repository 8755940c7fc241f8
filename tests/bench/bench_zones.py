"""How large a set of zones may be: ``python tests/bench/bench_zones.py [ZONES]``. Printed, never asserted.

Invented closed areas of 100 corners, 50 000 unless told otherwise: apart from each other; side by side with
shared borders written alike; and side by side with one border in ten a few metres off. Each is written as
GeoJSON, read, linted and indexed.
"""

from __future__ import annotations

import json
import resource
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np
import shapely

from towzone.files.zones import survey_zones
from towzone.surveys.lint import lint
from towzone.surveys.listing import listing

CORNERS = 100
PER_ROW = 250
STEP_DEG = 0.2


def wavy(column: int, row: int, rng: np.random.Generator) -> np.ndarray:
    """Return a ring of its own, clear of the others."""
    turn = np.linspace(0.0, 2.0 * np.pi, CORNERS, endpoint=False)
    size = 0.3 * STEP_DEG * (1.0 + 0.1 * np.sin(5.0 * turn) + 0.01 * rng.random(CORNERS))
    west, south = -30.0 + column * STEP_DEG, 30.0 + row * STEP_DEG
    return np.stack([west + size * np.cos(turn), south + size * np.sin(turn)], axis=1)


def tile(column: int, row: int, shift_deg: float) -> np.ndarray:
    """Return a square with a quarter of the corners on each side, which its neighbours have too."""
    part = np.linspace(0.0, STEP_DEG, CORNERS // 4, endpoint=False)
    none = np.zeros(len(part))
    sides = [
        (part, none),
        (none + STEP_DEG, part),
        (STEP_DEG - part, none + STEP_DEG),
        (none, STEP_DEG - part),
    ]
    ring = np.concatenate([np.stack(side, axis=1) for side in sides])
    return ring + np.array([-30.0 + column * STEP_DEG + shift_deg, 30.0 + row * STEP_DEG])


def write(path: Path, zones: int, kind: str) -> None:
    """Write a set of zones as GeoJSON."""
    rng = np.random.default_rng(1)
    with path.open("w", encoding="utf-8") as out:
        out.write('{"type": "FeatureCollection", "features": [\n')
        for number in range(zones):
            row, column = divmod(number, PER_ROW)
            shift = 5e-5 if kind == "tiles, gaps" and number % 10 == 0 else 0.0
            ring = wavy(column, row, rng) if kind == "apart" else tile(column, row, shift)
            ring = np.round(ring, 7).tolist()
            properties = {
                "zone_id": f"Z{number}",
                "name": f"Invented area {number}",
                "kind": "closed_area",
                "edges": ("rhumb", "lonlat")[number % 2],
                "source": "invented",
            }
            shape = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
            feature = {"type": "Feature", "properties": properties, "geometry": shape}
            out.write((",\n" if number else "") + json.dumps(feature))
        out.write("\n]}\n")


def main() -> None:
    zones = int(sys.argv[1]) if len(sys.argv) > 1 else 50_000
    print(f"{zones} zones, {zones * CORNERS} corners")
    print("set           file_MB   read_s   lint_s   list_s   index_s   peak_MB   defects")
    for kind in ("apart", "tiles", "tiles, gaps"):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "zones.geojson"
            write(path, zones, kind)
            size_mb = path.stat().st_size / 1e6
            begun = time.perf_counter()
            survey = survey_zones(str(path))
        read = time.perf_counter()
        defects = lint(survey.candidates)
        linted = time.perf_counter()
        listing([candidate.zone for candidate in survey.candidates])
        listed = time.perf_counter()
        boxes = [candidate.shape.polygons[0][0] for candidate in survey.candidates]
        shapely.STRtree(shapely.box(*np.array([(*b.min(axis=0), *b.max(axis=0)) for b in boxes]).T))
        indexed = time.perf_counter()
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        counts = ", ".join(f"{count} {code}" for code, count in Counter(d.code for d in defects).items())
        print(
            f"{kind:<13} {size_mb:<9.0f} {read - begun:<8.1f} {linted - read:<8.1f} {listed - linted:<8.1f} "
            f"{indexed - listed:<9.2f} {peak_mb:<9.0f} {counts or 'none'}",
            flush=True,
        )


if __name__ == "__main__":
    main()
