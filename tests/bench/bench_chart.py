"""How large a record's chart is: ``python tests/bench/bench_chart.py``. Printed, never asserted.

Trips at 1 Hz with 1.5 m of noise: with no zone near, among zones, and with all of the trip inside one, where
no fix may be left out.
"""

from __future__ import annotations

import dataclasses
import time

import numpy as np
from workload import field, trip

from towzone.geodesy.shape import Shape, freeze
from towzone.model.result import CheckResult
from towzone.model.track import Track
from towzone.model.zone import Zone
from towzone.record.drawn.data import chart_data
from towzone.record.drawn.scene import build_scene
from towzone.record.drawn.still_chart import draw_static
from towzone.record.island import dump


def around(track: Track, zone: Zone) -> Zone:
    """Return a zone around all of a track."""
    west, south = track.lon_deg.min() - 1.0, track.lat_deg.min() - 1.0
    east, north = track.lon_deg.max() + 1.0, track.lat_deg.max() + 1.0
    ring = freeze(np.array([(west, south), (east, south), (east, north), (west, north)]))
    return dataclasses.replace(zone, shape=Shape(polygons=((ring,),)))


def bare(track: Track, zones: tuple[Zone, ...]) -> CheckResult:
    """Return a result without rows: what is measured is the chart."""
    return CheckResult(
        tracks=(track,),
        zones=zones,
        margins_m={zone.zone_id: 463.0 for zone in zones},
        in_force={zone.zone_id: True for zone in zones},
        gaps={track.track_id: ()},
        lengths_m={track.track_id: 0.0},
        tows=(),
        rows=(),
        beyond_reach=0,
        assumptions=(),
    )


def main() -> None:
    print("fixes     zones    drawn     scene_s   data_s   still_s   data_MB   still_MB")
    for fixes in (100_000, 1_000_000):
        track = trip(fixes)
        many = field(300, 167, track)
        for name, zones in (("none", ()), ("300", many), ("around", (around(track, many[0]),))):
            begun = time.perf_counter()
            scene = build_scene(bare(track, zones))
            built = time.perf_counter()
            data = dump(chart_data(scene, None, ""))
            told = time.perf_counter()
            still = draw_static(scene, None, "still")
            drawn = time.perf_counter()
            print(
                f"{fixes:<9} {name:<8} {scene.fixes_drawn:<9} {built - begun:<9.2f} {told - built:<8.2f} "
                f"{drawn - told:<9.2f} {len(data) / 1e6:<9.2f} {len(still) / 1e6:.2f}"
            )


if __name__ == "__main__":
    main()
