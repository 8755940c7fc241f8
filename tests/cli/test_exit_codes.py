"""Every exit code means one thing, and a crash never looks like a verdict."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from cli_runner import BANK, GAP_TRIP, MENDED, PLAN, ROOT, TRIP, call, environment, run, run_code, written

WITH_FAULT = """
import sys
import towzone.cli.check as check
def broken(*args, **kwargs):
    {body}
check.check_files = broken
from towzone.cli import main
sys.exit(main(sys.argv[1:]))
"""


def test_0_when_all_is_proved_clear():
    ran = run("check", MENDED, "--zones", BANK)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("CLEAR")


def test_1_when_something_is_found():
    ran = run("check", PLAN, "--zones", BANK)
    assert ran.code == 1
    assert ran.out.startswith("FINDING")


def test_1_wins_over_4():
    ran = call("check", TRIP, "--zones", BANK, "--margin", "2nmi", "--format", "json")
    counts = ran.data["counts"]
    assert counts["undetermined"]
    assert counts["too_close"]
    assert ran.code == 1


def test_4_when_nothing_is_found_but_not_all_is_proved():
    ran = run("check", GAP_TRIP, "--zones", BANK)
    assert ran.code == 4
    assert ran.out.startswith("UNDETERMINED")


@pytest.mark.parametrize(
    "arguments",
    [
        ("check",),
        ("check", PLAN),
        ("check", PLAN, "--zones"),
        ("check", PLAN, "--zones", BANK, "--no-such-option"),
        ("check", PLAN, "--zones", BANK, "--format", "xml"),
        ("check", PLAN, "--zones", BANK, "--towing", "sometimes"),
        ("check", PLAN, "--zones", BANK, "--edges", "straight"),
        ("check", PLAN, "--zones", BANK, "--legs", "lonlat"),
        ("check", PLAN, "--zones", BANK, "--depart", "2026-03-01T06:00Z"),
        ("check", PLAN, "--zones", BANK, "--speed", "3kn"),
        ("check", PLAN, "--zones", BANK, "--speed", "0kn", "--depart", "2026-03-01T06:00Z"),
        ("check", PLAN, "--zones", BANK, "--speed", "3kn", "--depart", "2026-03-01T06:00"),
        ("check", PLAN, "--zones", BANK, "--speed", "3kn", "--depart", "tomorrow"),
        ("check", PLAN, "--zones", BANK, "--max-speed", "0kn"),
        ("check", TRIP, "--zones", BANK, "--max-speed", "0kn", "--towing", "all"),
        ("check", PLAN, "--zones", BANK, "--track-tz", "Atlantis/Harbour"),
        ("check", PLAN, "--zones", BANK, "--track-tz", "Europe"),
        ("no-such-command",),
    ],
)
def test_2_when_the_command_line_makes_no_sense(arguments):
    ran = call(*arguments)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.strip()
    assert "Traceback" not in ran.err


def test_2_in_a_process_of_its_own():
    assert run("check", "--margin", "5").code == 2


def test_3_when_a_file_is_missing():
    ran = run("check", "no such track.gpx", "--zones", BANK)
    assert (ran.code, ran.out) == (3, "")
    assert "no such track.gpx" in ran.err
    assert len(ran.err.strip().splitlines()) == 1


def test_3_when_the_result_cannot_be_written():
    """A full disk: the device that is always full."""
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "towzone", "check", MENDED, "--zones", BANK],
            cwd=ROOT,
            env=environment(),
            stdout=full,
            stderr=subprocess.PIPE,
            timeout=60,
            check=False,
        )
    assert done.returncode == 3
    assert b"Traceback" not in done.stderr


@pytest.mark.parametrize(
    "error", ["RuntimeError('boom')", "MemoryError()", "AssertionError()", "RecursionError()"]
)
def test_70_when_towzone_itself_is_at_fault(error):
    ran = run_code(WITH_FAULT.format(body=f"raise {error}"), "check", MENDED, "--zones", BANK)
    assert (ran.code, ran.out) == (70, "")
    assert "towzone has a fault" in ran.err


def test_70_is_kept_with_exit_zero():
    ran = run_code(
        WITH_FAULT.format(body="raise ValueError('x')"), "check", MENDED, "--zones", BANK, "--exit-zero"
    )
    assert ran.code == 70


def test_130_when_interrupted_and_nothing_is_written(tmp_path):
    """A real signal while the check sleeps; neither record nor result appears."""
    code = WITH_FAULT.format(body="print('ready', file=sys.stderr, flush=True); import time; time.sleep(30)")
    record, result = tmp_path / "r.html", tmp_path / "r.json"
    child = subprocess.Popen(
        [sys.executable, "-c", code, "check", MENDED, "--zones", BANK, "--record", record, "-o", result],
        cwd=ROOT,
        env=environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert child.stderr.readline() == b"ready\n"
    time.sleep(0.05)
    child.send_signal(signal.SIGINT)
    out, err = child.communicate(timeout=30)
    assert (child.returncode, out) == (130, b"")
    assert b"Traceback" not in err
    assert written(tmp_path) == []


def closed_pipe(*arguments):
    """Run with standard output a pipe whose reader is gone already."""
    reader, writer = os.pipe()
    os.close(reader)
    try:
        return subprocess.run(
            [sys.executable, "-m", "towzone", *arguments],
            cwd=ROOT,
            env=environment(),
            stdout=writer,
            stderr=subprocess.PIPE,
            timeout=60,
            check=False,
        )
    finally:
        os.close(writer)


@pytest.mark.parametrize("form", ["text", "json", "csv", "geojson"])
@pytest.mark.parametrize("track", [PLAN, MENDED])
def test_141_when_the_reader_went_away_whatever_was_found(track, form):
    done = closed_pipe("check", track, "--zones", BANK, "--format", form)
    assert done.returncode == 141
    assert b"Traceback" not in done.stderr


def test_exit_zero_turns_findings_into_0_and_keeps_refusals():
    assert call("check", PLAN, "--zones", BANK, "--exit-zero").code == 0
    assert call("check", GAP_TRIP, "--zones", BANK, "--exit-zero").code == 0
    assert call("check", "none.gpx", "--zones", BANK, "--exit-zero").code == 3
    assert call("check", PLAN, "--zones", BANK, "--exit-zero", "--margin", "5").code == 2


def test_help_and_version_are_0_and_no_command_is_2():
    for arguments in (
        ("--help",),
        ("-h",),
        ("check", "--help"),
        ("check", "-h"),
        ("demo", "-h"),
        ("--version",),
    ):
        ran = call(*arguments)
        assert (ran.code, ran.err) == (0, "")
        assert ran.out
    assert call().code == 2


@pytest.mark.parametrize("code", ["0", "1", "2", "3", "4", "70", "130", "141"])
def test_help_lists_every_exit_code(code):
    assert any(line.split()[:1] == [code] for line in call("check", "--help").out.splitlines())


def test_2_when_the_model_of_a_gear_without_figures_is_to_prove_something():
    ran = call("check", MENDED, "--zones", BANK, "--gear-proof", "model")
    assert ran.code == 2
    assert "no figures of the gear" in ran.err
