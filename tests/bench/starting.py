"""How fast towzone starts: whole processes, several times each; part of ``bench_alternatives.py``."""

from __future__ import annotations

import statistics
import sys
import tempfile

from measuring import Ran, run_program, towzone
from tables import show

SMALL = ("check", "sample_tracks/greywether_trip.gpx", "--zones", "sample_zones/greywether_bank.geojson")
GEAR = (*SMALL, "--vessel", "sample_tracks/greywether_vessel.toml")
ASKED = (
    ("--help", ("--help",), 0.3),
    ("--version", ("--version",), 0.3),
    ("a small check", SMALL, 1.5),
    ("the same with gear", GEAR, 1.5),
)
"""What is run, and the seconds that it may take: the bars of the project."""


def report(quick: bool) -> str:
    """Return a table of what starts cost; the first run of each, which may read from disk, is not counted."""
    rows: list[list[object]] = []
    for name, words, bar_s in ASKED:
        _run(words)
        ran = [_run(words) for _ in range(5 if quick else 15)]
        rows.append(
            [name, *_spread([one.cost.clock_s for one in ran]), _processor_s(ran), f"under {bar_s:g}"]
        )
    with tempfile.TemporaryDirectory() as folder:
        for name, words in (("a small check, nothing compiled yet", SMALL), ("the same with gear", GEAR)):
            cold = _run(words, environment={"NUMBA_CACHE_DIR": folder})
            rows.append([name, *_spread([cold.cost.clock_s]), cold.cost.processor_s, "once"])
    return show(
        "Starting: whole processes, one core",
        ("what", "least_s", "median_s", "most_s", "median CPU_s", "bar, s"),
        rows,
    )


def _run(words: tuple[str, ...], **how) -> Ran:
    ran = run_program(*towzone(*words), **how)
    if ran.code not in (0, 1, 4):  # what a check may come to
        sys.exit(f"towzone {' '.join(words)} ended with {ran.code}:\n{ran.output}")
    return ran


def _spread(values: list[float]) -> tuple[float, float, float]:
    return min(values), statistics.median(values), max(values)


def _processor_s(ran: list[Ran]) -> float:
    return statistics.median(one.cost.processor_s for one in ran)
