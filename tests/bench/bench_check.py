"""How fast a check is: ``python tests/bench/bench_check.py``. Printed, never asserted.

One trip of ten days at 1 Hz (864 000 fixes) against 300 zones of 167 corners, after reading; the same at a
tenth of the fixes, so that the cost can be seen to follow the work; and both with gear.
"""

from __future__ import annotations

import resource
import time

from workload import field, trip

from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings
from towzone.model.vessel import GearFigures, Rig
from towzone.record.page import render_record
from towzone.tables.result_json import to_json
from towzone.tables.rows_csv import to_csv

FIGURES = GearFigures(
    rig=Rig.SINGLE,
    warp_m=350.0,
    depth_m=100.0,
    door_spread_m=80.0,
    sweeps_m=110.0,
    net_length_m=50.0,
    wing_spread_m=20.0,
    block_aft_m=10.0,
    block_starboard_m=0.0,
)


def main() -> None:
    full = trip(864_000)
    zones = field(300, 167, full)
    corners = sum(len(zone.shape.polygons[0][0]) for zone in zones)
    print(f"{len(zones)} zones, {corners} corners")
    print("fixes     gear   check_s   fixes_per_s   rows_near   record_s   record_MB   peak_MB")
    cases = [(track, figures) for track in (trip(86_400), full) for figures in (None, FIGURES)]
    for track, figures in cases:
        begun = time.perf_counter()
        result = run_check([track], zones, CheckSettings(gear="OTB", figures=figures))
        checked = time.perf_counter()
        page = render_record(result, to_json(result), to_csv(result))
        drawn = time.perf_counter()
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{len(track):<9} {'yes' if figures else 'no':<6} "
            f"{checked - begun:<9.2f} {len(track) / (checked - begun):<13.0f} "
            f"{len(result.rows):<11} {drawn - checked:<10.2f} {len(page) / 1e6:<11.2f} {peak_mb:.0f}"
        )


if __name__ == "__main__":
    main()
