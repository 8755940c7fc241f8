"""Audits killed at seeded moments and begun again: run as a script for twenty of them.

.venv/bin/python tests/fleet_kills.py --kills 20
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from cli_runner import environment
from fleet_audits import contents, vessel, write_csv, write_parquet, write_zones

VESSELS, PARTS = 24, 4
STEPS = ("surveys/*", "pieces/*", "vessels/*", "parts/*/*")


def make_inputs(folder):
    """A table in parts and a table of text, with vessels that are in both."""
    write_zones(folder / "zones.geojson")
    vessels = [vessel(f"Invented {number}", number, fixes=120) for number in range(VESSELS)]
    write_parquet(folder / "positions", vessels[:-4], parts=PARTS)
    write_csv(folder / "more.csv", vessels[-8:])


def command(out, *more):
    return ("fleet", "positions", "more.csv", "--zones", "zones.geojson", "-o", out, *more)


def start(folder, out, *more):
    """An audit in a process group of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "towzone", *map(str, command(out, *more))],
        cwd=folder,
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        start_new_session=True,
    )


def done_so_far(work):
    """How much of the work lies there whole."""
    names = [path.name for step in STEPS for path in work.glob(step)]
    return sum(not name.startswith(".") for name in names)


def killed(folder, out, after, *more, then_s=0.0):
    """Start an audit and kill all its processes when so much is done; return whether it was at work."""
    running = start(folder, out, *more)
    work = folder / out / ".work"
    while running.poll() is None and done_so_far(work) < after:
        time.sleep(0.005)
    time.sleep(then_s)
    at_work = running.poll() is None
    if at_work:
        os.killpg(running.pid, signal.SIGKILL)
    running.communicate()
    return at_work


def finished(folder, out, *more):
    """Run an audit to its end."""
    running = start(folder, out, *more)
    output, errors = running.communicate()
    assert running.returncode == 1, errors.decode()
    return output.decode(), errors.decode()


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--seed", type=int, default=8)
    parser.add_argument("--workers", default="2")
    given = parser.parse_args()
    rng = random.Random(given.seed)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_inputs(folder)
        finished(folder, "whole", "--workers", given.workers)
        expected = contents(folder / "whole")
        steps = 2 + 2 * (PARTS + 1) + VESSELS + 3
        hit = 0
        for number in range(given.kills):
            out = f"killed-{number}"
            after, then_s = rng.randrange(steps), rng.choice((0.0, 0.0, rng.uniform(0.0, 0.3)))
            at_work = killed(folder, out, after, "--workers", given.workers, then_s=then_s)
            kept = done_so_far(folder / out / ".work")
            finished(folder, out, "--workers", given.workers)
            same = contents(folder / out) == expected
            hit += at_work
            print(
                f"kill {number + 1}: after {after} steps, {kept} kept, at work: {at_work}, same: {same}",
                flush=True,
            )
            if not same:
                sys.exit(1)
        print(f"{given.kills} audits begun again, {hit} of them killed at work, all with the same bytes")


if __name__ == "__main__":
    main()
