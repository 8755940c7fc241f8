"""How fast a fleet is audited, and in how much memory: ``python tests/bench/bench_fleet.py [--quick]``.

Printed, never asserted. Writes an invented fleet-month (500 vessels, a fix every two minutes) and fleet-year
(1 000 vessels, a fix every two hours) with 2 000 zones into a temporary folder (``--quick``: a twentieth of
the vessels), then runs ``towzone fleet`` as a process of its own: with two workers and with one, from Parquet
and from CSV, killed half way and begun again, begun again when all is done, and with more and more work.

Memory is that of all processes together, looked at several times a second: PSS shares out pages that several
of them hold, RSS counts them for each.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import fleets
import plots
import seas
from measuring import ARTEFACTS, Ran, run_program, towzone, tree_of, used_s
from tables import show

BAR = "10 M fixes x 2 000 zones on two cores, reading included: under 60 s, under 4 GB"
HEAD = ("what", "vessels", "fixes", "zones", "clock_s", "CPU_s", "fixes_per_s", "PSS_MB", "RSS_MB", "code")
YEAR_WORDS = ("--gap", "3h")
"""A report every two hours is no gap."""


class Scene:
    """A folder with inputs, and runs of ``towzone fleet`` on them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.rows: list[list[object]] = []

    def zones(self, count: int) -> Path:
        path = self.folder / f"zones{count}.geojson"
        if not path.exists():
            sea = fleets.WEST_DEG, fleets.SOUTH_DEG, fleets.EAST_DEG, fleets.NORTH_DEG
            seas.write_geojson(path, seas.over(*sea, count))
        return path

    def positions(self, fleet: fleets.Fleet, suffix: str = "parquet") -> Path:
        path = self.folder / f"fleet_{fleet.vessels}_{fleet.every_s}_{fleet.fixes}.{suffix}"
        if not path.exists():
            (fleets.write_csv if suffix == "csv" else fleets.write_parquet)(path, fleet)
        return path

    def words(self, positions: Path, zones: int, out: Path, *more: str) -> tuple[str, ...]:
        told = ("fleet", str(positions), "--zones", str(self.zones(zones)), "-o", str(out), *more)
        return towzone(*told)

    def run(
        self,
        name: str,
        fleet: fleets.Fleet,
        out: str,
        *more: str,
        zones: int = seas.FLEET_ZONES,
        suffix: str = "parquet",
        watch: bool = True,
    ) -> Ran:
        """Run once, into a folder that may hold part of the answer already, and add a row."""
        ran = run_program(
            *self.words(self.positions(fleet, suffix), zones, self.folder / out, *more), watch=watch
        )
        if ran.code not in (0, 1, 4):  # what an audit may come to
            sys.exit(f"towzone fleet ended with {ran.code}:\n{ran.output}")
        cost = ran.cost
        figures = [
            cost.clock_s,
            cost.processor_s,
            len(fleet) / cost.clock_s,
            *((ran.peak_pss_mb, ran.peak_rss_mb) if watch else ("", "")),
        ]
        self.rows.append([name, fleet.vessels, len(fleet), zones, *figures, str(ran.code)])
        # All of it takes minutes: what is known already is told as it comes.
        print(
            f"{name}: {cost.clock_s:.1f} s, of the processor {cost.processor_s:.1f} s"
            + (f", {ran.peak_pss_mb:.0f} MB" if watch else ""),
            file=sys.stderr,
            flush=True,
        )
        return ran

    def killed(self, fleet: fleets.Fleet, out: str, after_s: float, *more: str) -> None:
        """Begin, and end it without warning when all its processes have used so much of the processor."""
        words = self.words(self.positions(fleet), seas.FLEET_ZONES, self.folder / out, *more)
        process = subprocess.Popen(
            words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        while process.poll() is None and used_s(process.pid) < after_s:
            time.sleep(0.05)
        for pid in tree_of(process.pid):
            try:
                os.kill(pid, signal.SIGKILL)
            except ProcessLookupError:
                continue
        process.wait()

    def digest(self, out: str) -> str:
        """Return a digest of all tables of an answer."""
        digest = hashlib.sha256()
        for path in sorted((self.folder / out).rglob("*.parquet")):
            digest.update(str(path.relative_to(self.folder / out)).encode() + path.read_bytes())
        return digest.hexdigest()[:12]


def audits(scene: Scene, share: float) -> str:
    """Return a table of audits of the whole fleets."""
    month = replace(fleets.MONTH, vessels=round(fleets.MONTH.vessels * share))
    year = replace(fleets.YEAR, vessels=round(fleets.YEAR.vessels * share))
    two = scene.run("month, two workers", month, "two", "--workers", "2")
    one = scene.run("month, one worker", month, "one", "--workers", "1")
    # To look at memory takes time of a processor, which two workers miss and one does not.
    alone = [
        scene.run(f"month, {name}, memory not looked at", month, name, "--workers", count, watch=False)
        for name, count in (("2 workers", "2"), ("1 worker", "1"))
    ]
    half_s = two.cost.processor_s / 2.0
    scene.killed(month, "again", half_s, "--workers", "2")
    rest = scene.run("month, rest after a kill half way", month, "again", "--workers", "2")
    nothing = scene.run("month, all done already", month, "again", "--workers", "2")
    scene.run("month from CSV, two workers", month, "csv", "--workers", "2", suffix="csv")
    scene.run("year, two workers", year, "year", "--workers", "2", *YEAR_WORDS)
    same = len({scene.digest(out) for out in ("two", "one", "again")}) == 1
    return show(
        "Audits of a fleet",
        HEAD,
        scene.rows,
        [
            f"Bar: {BAR}.",
            f"Two workers: {alone[1].cost.clock_s / alone[0].cost.clock_s:.2f} times as fast as one by the "
            "clock, memory not looked at (bar 1.7; only true where nothing else runs), with "
            f"{two.cost.processor_s / one.cost.processor_s:.2f} of its processor time.",
            f"Killed after {half_s:.1f} s of the processor and begun again: {rest.cost.processor_s:.1f} s "
            f"more, together {(half_s + rest.cost.processor_s) / two.cost.processor_s:.2f} of a run without "
            f"a kill; begun again when all is done: {nothing.cost.processor_s:.1f} s.",
            f"Same tables with two workers, with one, and after the kill: {'yes' if same else 'NO'}.",
        ],
    )


def growing(scene: Scene, quick: bool) -> str:
    """Return how the cost follows the work, with one worker and with two."""
    sizes = (1, 5, 25) if quick else (1, 5, 46, 463)
    lines, done = [], len(scene.rows)
    for zones in (1_000,) if quick else (100, 1_000, 10_000):
        for workers in (1, 2):
            line = plots.Line(f"{zones} zones, {workers} worker{'s' if workers > 1 else ''}")
            lines.append(line)
            for vessels in sizes:
                fleet = replace(fleets.MONTH, vessels=vessels)
                out = f"grown_{zones}_{workers}_{vessels}"
                ran = scene.run(line.name, fleet, out, "--workers", str(workers), zones=zones)
                shutil.rmtree(scene.folder / out)
                line.work.append(float(len(fleet)))
                line.seconds.append(ran.cost.clock_s)
    path = ARTEFACTS / "cost_of_fleets.svg"
    plots.picture(path, "Cost of audits", "fixes", "seconds of the clock", lines)
    slopes = [
        f"{line.name}: slope {line.slope():.2f}, over the last step {line.last_slope():.2f}; a million fixes"
        f" more took {', '.join(f'{s:.2f}' for s in line.a_million_more_s())} s"
        for line in lines
    ]
    return "\n".join(
        [
            show("Cost against work: audits, whole processes", HEAD, scene.rows[done:], slopes),
            f"Drawn: {path.relative_to(ARTEFACTS.parent)}\n",
            plots.text("fixes", lines),
        ]
    )


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("--quick", action="store_true", help="a twentieth of the vessels")
    asked.add_argument("--only", choices=("audits", "work"), help="one part alone")
    options = asked.parse_args()
    with tempfile.TemporaryDirectory(prefix="bench_fleet_") as folder:
        scene = Scene(Path(folder))
        if options.only in (None, "audits"):
            print(audits(scene, 0.05 if options.quick else 1.0), flush=True)
        if options.only in (None, "work"):
            print(growing(scene, options.quick), flush=True)


if __name__ == "__main__":
    main()
