"""Run the command line: in its own process, or in this one; the three streams apart."""

from __future__ import annotations

import contextlib
import io
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from towzone.cli import main

ROOT = Path(__file__).resolve().parents[1]
PLAN = "sample_tracks/greywether_plan.gpx"
MENDED = "sample_tracks/greywether_plan_mended.gpx"
TRIP = "sample_tracks/greywether_trip.gpx"
GAP_TRIP = "sample_tracks/greywether_trip_gap.gpx"
BANK = "sample_zones/greywether_bank.geojson"
PLOVER = "sample_tracks/plover_track.gpx"
RISE = "sample_zones/plover_rise.geojson"


@dataclass(frozen=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def data(self):
        return json.loads(self.out)


def environment(**more):
    """The environment of a child: this interpreter's, with the repository importable from anywhere."""
    return os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"} | more


def run(*arguments, cwd=ROOT, stdin=None, **env):
    """Run ``python -m towzone`` in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-m", "towzone", *map(str, arguments)],
        cwd=cwd,
        env=environment(**env),
        input=stdin,
        capture_output=True,
        timeout=60,
        check=False,
    )
    return Ran(done.returncode, done.stdout.decode(), done.stderr.decode())


def run_code(code, *arguments, cwd=ROOT, **env):
    """Run a few lines of Python that prepare something and call the command line with arguments."""
    done = subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)],
        cwd=cwd,
        env=environment(**env),
        capture_output=True,
        timeout=60,
        check=False,
    )
    return Ran(done.returncode, done.stdout.decode(), done.stderr.decode())


def call(*arguments, cwd=ROOT):
    """Run the command line in this process, from a folder; much faster than a process."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.chdir(cwd), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([str(a) for a in arguments])
    return Ran(code, out.getvalue(), err.getvalue())


def check(track, zones, *more, **how):
    return call("check", track, "--zones", zones, *more, **how)


def written(folder):
    """Names of all files in a folder, hidden ones too."""
    return sorted(p.relative_to(folder).as_posix() for p in Path(folder).rglob("*") if p.is_file())


GPX_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="1.1" creator="tests" '
GPX_HEAD += 'xmlns="http://www.topografix.com/GPX/1/1">'


def track_text(rows, name="t"):
    """GPX text of a completed track from rows of lon, lat, time."""
    points = "".join(f'<trkpt lat="{lat}" lon="{lon}"><time>{time}</time></trkpt>' for lon, lat, time in rows)
    return f"{GPX_HEAD}<trk><name>{name}</name><trkseg>{points}</trkseg></trk></gpx>"


def route_text(rows, name="r"):
    points = "".join(f'<rtept lat="{lat}" lon="{lon}"/>' for lon, lat in rows)
    return f"{GPX_HEAD}<rte><name>{name}</name>{points}</rte></gpx>"


def zones_text(*features):
    """GeoJSON text of zones from pairs of geometry and properties."""
    made = [{"type": "Feature", "geometry": g, "properties": {"edges": "geodesic"} | p} for g, p in features]
    return json.dumps({"type": "FeatureCollection", "features": made})
