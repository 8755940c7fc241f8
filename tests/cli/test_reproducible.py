"""The same inputs give the same record, byte for byte, wherever, whenever and however it is made."""

from __future__ import annotations

import hashlib
import os
import shutil
from pathlib import Path

import pytest
from cli_runner import BANK, GAP_TRIP, PLOVER, RISE, ROOT, run, run_code

CORNER = "sample_tracks/greywether_corner.gpx"
VESSEL = "sample_tracks/greywether_vessel.toml"
CASES = {
    "gear": (CORNER, "--zones", BANK, "--vessel", VESSEL),
    "gap": (GAP_TRIP, "--zones", BANK),
    "across-180": (PLOVER, "--zones", RISE),
}
SETTINGS = (
    {"PYTHONHASHSEED": "0", "TZ": "UTC", "LANG": "C.UTF-8", "COLUMNS": "80"},
    {"PYTHONHASHSEED": "4711", "TZ": "Pacific/Chatham", "LANG": "tr_TR.UTF-8", "LC_ALL": "", "COLUMNS": "40"},
)
"""Chatham keeps 45 minutes beside the hour, Turkish has two letters i; two seeds make two orders of sets."""

ANOTHER_DAY = """
import sys, time
time.time = lambda: 86_400.0
time.time_ns = lambda: 86_400_000_000_000
from towzone.cli import main
sys.exit(main(sys.argv[1:]))
"""


def copied(folder: Path) -> Path:
    """A folder with the samples, later in time than those of the repository."""
    for name in ("sample_tracks", "sample_zones"):
        shutil.copytree(ROOT / name, folder / name)
    for path in folder.rglob("*"):
        os.utime(path, (2_000_000_000, 2_000_000_000))
    return folder


@pytest.mark.parametrize("name", CASES)
def test_record_is_the_same_in_another_folder_zone_language_and_order_of_sets(
    tmp_path: Path, name: str
) -> None:
    digests = []
    for cwd, setting in zip((ROOT, copied(tmp_path / "elsewhere")), SETTINGS, strict=True):
        record = tmp_path / f"{len(digests)}.html"
        ran = run("check", *CASES[name], "--record", record, cwd=cwd, **setting)
        assert ran.code in (1, 4), ran.err
        digests.append(hashlib.sha256(record.read_bytes()).hexdigest())

    assert digests[0] == digests[1]


def test_record_does_not_tell_when_it_was_made(tmp_path: Path) -> None:
    made = []
    for name, go in (("now", run), ("then", lambda *a: run_code(ANOTHER_DAY, *a))):
        ran = go("check", *CASES["gap"], "--record", tmp_path / f"{name}.html")
        assert ran.code in (1, 4), ran.err
        made.append((tmp_path / f"{name}.html").read_bytes())

    assert made[0] == made[1]


def test_record_of_other_inputs_is_another(tmp_path: Path) -> None:
    # Equal digests would mean nothing if the record did not depend on what it is made from.
    folder = copied(tmp_path / "elsewhere")
    zones = folder / BANK
    zones.write_text(zones.read_text(encoding="utf-8").replace("0.25nmi", "0.26nmi"), encoding="utf-8")
    made = []
    for cwd in (ROOT, folder):
        record = tmp_path / f"{len(made)}.html"
        assert run("check", *CASES["gap"], "--record", record, cwd=cwd).code in (1, 4)
        made.append(record.read_bytes())

    assert made[0] != made[1]
