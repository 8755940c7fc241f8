"""Records of long tracks: ``python tests/bench/bench_record.py [FIXES ...]``. Printed, never asserted.

How long one takes to make, how large it is, and how long a browser takes from opening it to a chart that can
be used. Twice for each length: with a dozen zones here and there, and beside a cable that follows the track
all the way, so that every fix is near to it and none may be left out of the drawing.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from workload import METRES_PER_DEGREE, field, trip

from towzone.checks.run import run_check
from towzone.checks.settings import CheckSettings
from towzone.geodesy.lines import LineKind
from towzone.geodesy.shape import Shape, freeze
from towzone.model.track import Track
from towzone.model.zone import Prohibition, Zone, ZoneKind
from towzone.record.page import render_record
from towzone.tables.result_json import to_json
from towzone.tables.rows_csv import to_csv

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from browser_page import Opener, launched

LENGTHS = (10_000, 100_000, 1_000_000)
BARS = {100_000: (3.0, 1.0), 1_000_000: (12.0, 4.0)}
"""Most megabytes and seconds until ready, for a number of fixes; own choice."""
LOOK_UPS = """() => {
  const track = towzone.record.tracks[0], middle = values => values.sort((a, b) => a - b)[20];
  const took = act => { const begun = performance.now(); act(); return performance.now() - begun; };
  const places = Array.from({ length: 41 }, (_, k) => track.at(Math.floor((track.count - 1) * k / 41)));
  return [middle(places.map(at => took(() => track.nearest({ lat: at.lat + 0.001, lng: at.lon })))),
    middle(places.map(at => took(() => towzone.record.nearest(at.lat, at.lon))))];
}"""
"""Milliseconds, in the middle of 41, to find the nearest fix and the nearest zone."""
CORNERS = 400
BESIDE_M = 300.0


def cable(track: Track) -> Zone:
    """Return a cable beside a track from its first fix to its last."""
    picked = np.linspace(0, len(track) - 1, CORNERS).astype(int)
    line = np.stack([track.lon_deg[picked], track.lat_deg[picked] + BESIDE_M / METRES_PER_DEGREE], axis=1)
    return Zone(
        zone_id="BESIDE",
        name="Cable beside the whole track",
        kind=ZoneKind.CABLE,
        shape=Shape(lines=(freeze(line),)),
        edges=LineKind.GEODESIC,
        edges_stated=True,
        prohibits=(Prohibition.BOTTOM_CONTACT,),
        margin_m=463.0,
    )


def main() -> None:
    lengths = [int(word.replace("_", "")) for word in sys.argv[1:]] or LENGTHS
    print("fixes     zones     make_s  record_MB  ready_s  painted_s  fix_ms  zone_ms  bars (MB, ready_s)")
    with launched() as browser, tempfile.TemporaryDirectory() as folder:
        opener = Opener(browser, Path(folder))
        for fixes in lengths:
            track = trip(fixes)
            for name, zones in (("some", field(12, 60, track)), ("beside", (cable(track),))):
                result = run_check([track], zones, CheckSettings(gear="OTB"))
                begun = time.perf_counter()
                text = render_record(result, to_json(result), to_csv(result))
                made_s = time.perf_counter() - begun
                opened = opener.text(text, patience_s=120.0)
                opened.page.evaluate("new Promise(done => requestAnimationFrame(() => setTimeout(done)))")
                painted_s = time.perf_counter() - opened.begun
                fix_ms, zone_ms = opened.page.evaluate(LOOK_UPS)
                megabytes, ready_s = BARS.get(fixes, (0.0, 0.0))
                bars = f"under {megabytes:g}, {ready_s:g}" if megabytes else ""
                print(
                    f"{fixes:<9} {name:<9} {made_s:<7.2f} {len(text.encode()) / 1e6:<10.2f} "
                    f"{opened.ready_s:<8.2f} {painted_s:<10.2f} {fix_ms:<7.1f} {zone_ms:<8.1f} {bars}"
                )
                for said in opened.disturbances():
                    print("          ", said)
                opened.close()


if __name__ == "__main__":
    main()
