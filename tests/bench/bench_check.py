"""How fast a check is: ``python tests/bench/bench_check.py``. Printed, never asserted.

One trip of ten days at 1 Hz (864 000 fixes) against 300 zones of 167 corners, after reading; then the same
at a tenth of the fixes, so that the cost can be seen to follow the work.
"""

from __future__ import annotations

import resource
import time

from workload import field, trip

from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings
from towzone.record.page import render_record
from towzone.tables.result_json import to_json


def main() -> None:
    full = trip(864_000)
    zones = field(300, 167, full)
    corners = sum(len(zone.shape.polygons[0][0]) for zone in zones)
    print(f"{len(zones)} zones, {corners} corners")
    print("fixes     check_s   fixes_per_s   rows_near   record_s   record_MB   peak_MB")
    for track in (trip(86_400), full):
        begun = time.perf_counter()
        result = run_check([track], zones, CheckSettings())
        checked = time.perf_counter()
        page = render_record(result, to_json(result))
        drawn = time.perf_counter()
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"{len(track):<9} {checked - begun:<9.2f} {len(track) / (checked - begun):<13.0f} "
            f"{len(result.rows):<11} {drawn - checked:<10.2f} {len(page) / 1e6:<11.2f} {peak_mb:.0f}"
        )


if __name__ == "__main__":
    main()
