"""Results of three samples, byte for byte as kept. They say what changed, not what is right.

What is right is told by `test_samples_end_as_told` here (against the manifest of the samples, which rests on
brute force) and by the tests in the other folders.
To rewrite: ``python -m pytest tests/golden --update-golden``; then read the difference.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from cli_runner import BANK, ROOT, call
from make_samples import greywether_trip, plover_track
from sample_truth import PLAN_STORY, STORIES, told_of_tows

from towzone.checks.settings import CheckSettings, Towing
from towzone.cli.check_request import CheckRequest
from towzone.cli.requests import check_files

KEPT = Path(__file__).parent / "kept"
RISE = "sample_zones/plover_rise.geojson"
SAMPLES = {
    "greywether_plan": BANK,
    "greywether_trip": BANK,
    "plover_track": RISE,
    "greywether_corner": BANK,
}
PROFILES = {"greywether_corner": "sample_tracks/greywether_vessel.toml"}
SUFFIXES = {"text": "txt", "json": "json", "csv": "csv", "geojson": "geojson"}


def neutral(text: str) -> str:
    """Version numbers may change without a result changing."""
    return re.sub(r'"towzone": "[^"]*"', '"towzone": "(version)"', text)


# As GeoJSON the long trip is 300 kB of its own fixes, and the gear 400 kB of its paths.
LONG = {("greywether_trip", "geojson"), ("greywether_corner", "geojson")}
CASES = [(n, f) for n in SAMPLES for f in SUFFIXES if (n, f) not in LONG]


@pytest.mark.parametrize(("name", "form"), CASES)
def test_results_are_as_kept(name, form, update):
    profile = ["--vessel", PROFILES[name]] if name in PROFILES else []
    ran = call("check", f"sample_tracks/{name}.gpx", "--zones", SAMPLES[name], *profile, "--format", form)
    kept = KEPT / f"{name}.{SUFFIXES[form]}"
    if update:
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(neutral(ran.out), encoding="utf-8", newline="\n")
    expected = kept.read_text(encoding="utf-8")
    assert neutral(ran.out) == expected


def test_nothing_is_kept_that_is_not_compared():
    wanted = {f"{name}.{SUFFIXES[form]}" for name, form in CASES}
    assert {p.name for p in KEPT.iterdir()} == wanted


def checked(name, zones, towing=Towing.ALL):
    return check_files(
        CheckRequest(
            tracks=(str(ROOT / "sample_tracks" / f"{name}.gpx"),),
            zone_files=(str(ROOT / "sample_zones" / f"{zones}.geojson"),),
            settings=CheckSettings(reach_m=1e6, towing=towing),
        )
    )


def zones_of(name):
    return "plover_rise" if name.startswith("plover") else "greywether_bank"


@pytest.mark.parametrize("name", STORIES)
def test_samples_end_as_told(name):
    """Every tow of every completed sample against every zone, as the manifest tells by brute force."""
    result = checked(name, zones_of(name))
    told = told_of_tows(name)
    assert len(result.tows) == len(told)
    found = {tow: {} for tow in told}
    for row in result.rows:
        if row.tow is not None:
            found[row.tow][row.zone_id] = row.status.value
    assert found == told
    rest = [row for row in result.rows if row.tow is None]
    assert {row.status.value for row in rest} <= {"clear"}


@pytest.mark.parametrize(
    ("name", "sail"), [("greywether_trip", greywether_trip), ("plover_track", plover_track)]
)
def test_the_tows_of_the_samples_are_detected_as_they_were_sailed(name, sail):
    """Brakes are on 8 minutes after a tow begins, and hauling begins 10 minutes before it ends."""
    sailed = sail()
    wanted = [(p.first + 480, p.last - 600) for p in sailed.phases if p.name.startswith("tow ")]
    result = checked(name, zones_of(name), Towing.DETECT)
    start = np.datetime64(sailed.start.replace(tzinfo=None), "us")
    found = [
        tuple((at - start) / np.timedelta64(1, "s") for at in (tow.shoot_utc, tow.haul_utc))
        for tow in result.tows
    ]
    assert len(found) == len(wanted)
    np.testing.assert_allclose(found, wanted, rtol=0, atol=90.0)


@pytest.mark.parametrize("name", PLAN_STORY)
def test_planned_samples_end_as_told(name):
    rows = checked(name, zones_of(name)).rows
    assert {row.zone_id: row.status.value for row in rows} == PLAN_STORY[name]
