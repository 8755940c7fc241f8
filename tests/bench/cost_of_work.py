"""How the cost of checks follows the work: fixes from 10^4 to 10^7, zones from 10^2 to 10^4.

Part of ``bench_alternatives.py``. Vessels of the invented fleet, one after the other in one process, each as
columns in memory, checked as ``towzone check`` does after reading, against zones all over their sea.
"""

from __future__ import annotations

import time

import fleets
import numpy as np
import plots
import seas
from alternatives.common import Fixes
from measuring import ARTEFACTS
from product import track_of
from tables import show

from towzone.checks.boundaries import Boundaries
from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings

FIXES = (10_000, 100_000, 1_000_000, 10_000_000)
ZONES = (100, 1_000, 10_000)
SETTINGS = CheckSettings(gear="OTB")


def report(quick: bool) -> str:
    """Return tables, slopes and a plot; without the largest of both with ``quick``."""
    by_fixes = [_by_fixes(zones, FIXES[:-1] if quick else FIXES) for zones in ZONES[: 2 if quick else 3]]
    path = ARTEFACTS / "cost_of_work.svg"
    plots.picture(path, "Cost of checks", "fixes", "seconds of the processor", by_fixes)
    rows = [
        [
            line.name,
            int(work),
            seconds,
            work / seconds,
            "" if at else line.slope(),
            "" if at else line.last_slope(),
        ]
        for line in by_fixes
        for at, (work, seconds) in enumerate(zip(line.work, line.seconds, strict=True))
    ]
    return "\n".join(
        [
            show(
                "Cost against work: checks of vessel-months, one core",
                ("zones", "fixes", "CPU_s", "fixes_per_s", "slope", "last slope"),
                rows,
                [
                    "CPU_s: processor seconds of checks alone, zones and tracks in memory. Slope: of "
                    "log(time) against log(fixes); 1 is a cost that grows like the work.",
                    f"Drawn: {path.relative_to(ARTEFACTS.parent)}",
                ],
            ),
            plots.text("fixes", by_fixes),
        ]
    )


def _by_fixes(count: int, sizes: tuple[int, ...]) -> plots.Line:
    zones = seas.over(fleets.WEST_DEG, fleets.SOUTH_DEG, fleets.EAST_DEG, fleets.NORTH_DEG, count)
    boundaries = Boundaries.of(zones)
    line = plots.Line(f"{count:,} zones")
    _checked(1_000, zones, boundaries)  # which loads what is compiled
    for size in sizes:
        line.work.append(float(size))
        line.seconds.append(_checked(size, zones, boundaries))
    return line


def _checked(size: int, zones: tuple, boundaries: Boundaries) -> float:
    """Return what it costs to check so many fixes, vessel by vessel."""
    spent_s, number = 0.0, 0
    while size > 0:
        fixes = fleets.vessel(number)
        some = Fixes(
            second=fixes.time_utc.astype(np.int64), lon_deg=fixes.lon_deg, lat_deg=fixes.lat_deg
        ).take(slice(0, size))
        track = track_of(some)
        begun_s = time.process_time()
        run_check([track], zones, SETTINGS, boundaries=boundaries)
        spent_s += time.process_time() - begun_s
        size -= len(some)
        number += 1
    return spent_s
