"""Audits as processes: workers here, a scheduler elsewhere, kills, interrupts, folders of results."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time

import fleet_kills
import pytest
from cli_runner import ROOT, call, environment, run_code
from fleet_audits import audit, contents, fleet, totals, write_csv, write_zones


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    folder = tmp_path_factory.mktemp("audits")
    fleet_kills.make_inputs(folder)
    return folder


@pytest.fixture(scope="module")
def expected(place):
    """The result of an audit in this process alone."""
    assert audit(["positions", "more.csv"], "zones.geojson", "alone", cwd=place).code == 1
    found = contents(place / "alone")
    assert {"totals.json", "vessels.parquet", "index.html", "rows/part-00000.parquet"} <= set(found)
    return found


CLUSTER = """
import os, sys
import distributed

if __name__ == "__main__":
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None, local_directory="cluster"
    )
    print(cluster.scheduler_address, flush=True)
    sys.stdin.read()
    os._exit(0)
"""
"""Ends, and its workers with it, when its standard input does: also when whoever started it was killed.

Nobody is asked to end and waited for: a worker that loses its scheduler first may wait for it for ever.
"""


@pytest.fixture(scope="module")
def scheduler(place):
    """The address of a scheduler with two workers, each a process of its own; none of Dask runs in here."""
    script = place / "cluster.py"
    script.write_text(CLUSTER, encoding="utf-8")
    streams = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL}
    with subprocess.Popen([sys.executable, script], **streams, env=environment(), cwd=place) as process:
        address = process.stdout.readline().decode().strip()
        assert address.startswith("tcp://"), "the cluster has ended by itself"
        yield address
        process.stdin.close()


def test_two_workers_give_the_bytes_of_one_process(place, expected):
    output, errors = fleet_kills.finished(place, "two", "--workers", "2", "--memory", "600MiB")

    assert contents(place / "two") == expected
    assert "2 workers, 0.6 GiB of memory each" in errors
    assert "Traceback" not in errors
    assert "with findings" in output


def test_a_scheduler_started_elsewhere_gives_the_same_bytes(place, expected, scheduler):
    fleet_kills.finished(place, "elsewhere", "--scheduler", scheduler)

    assert contents(place / "elsewhere") == expected
    # Workers that live on must not take what they remember for what lies there now.
    (place / "zones.geojson").replace(place / "kept.geojson")
    try:
        write_zones(place / "zones.geojson")
        text = (place / "zones.geojson").read_text(encoding="utf-8").replace("300m", "900m")
        (place / "zones.geojson").write_text(text, encoding="utf-8")
        fleet_kills.finished(place, "elsewhere", "--scheduler", scheduler, "--force")
        alone = audit(["positions", "more.csv"], "zones.geojson", "margin", cwd=place)
        assert alone.code == 1
        assert contents(place / "elsewhere") == contents(place / "margin")
        assert contents(place / "elsewhere") != expected
    finally:
        (place / "kept.geojson").replace(place / "zones.geojson")


def test_no_scheduler_at_an_address(place):
    ran = call(*fleet_kills.command("nowhere", "--scheduler", "tcp://127.0.0.1:9"), cwd=place)

    assert ran.code == 2
    assert "no Dask scheduler answers" in ran.err


@pytest.mark.parametrize("seed", [1, 2])
def test_an_audit_that_was_killed_goes_on_to_the_same_bytes(place, expected, seed):
    after = random.Random(seed).randrange(8, 30)
    out = f"killed-{seed}"
    fleet_kills.killed(place, out, after, "--workers", "1")
    kept = {path: path.read_bytes() for path in (place / out / ".work" / "vessels").glob("*.answer")}
    assert not (place / out / "totals.json").exists()

    ran = audit(["positions", "more.csv"], "zones.geojson", out, cwd=place)
    assert ran.code == 1, ran.err
    assert contents(place / out) == expected
    assert f"{len(kept)} of" in ran.err or len(kept) < 3


def test_an_interrupt_ends_with_130_and_goes_on_later(place, expected):
    running = fleet_kills.start(place, "interrupted", "--workers", "1")
    work = place / "interrupted" / ".work"
    while fleet_kills.done_so_far(work) < 4:
        assert running.poll() is None
        time.sleep(0.005)
    os.kill(running.pid, signal.SIGINT)
    _, errors = running.communicate()

    assert running.returncode == 130, errors.decode()
    assert "the same command goes on from here" in errors.decode()
    assert "Traceback" not in errors.decode()
    assert audit(["positions", "more.csv"], "zones.geojson", "interrupted", cwd=place).code == 1
    assert contents(place / "interrupted") == expected


def test_a_complete_result_is_left_as_it_is(place, expected):
    inputs = ["positions", "more.csv"]
    assert audit(inputs, "zones.geojson", "alone", cwd=place).code == 1
    again = audit(inputs, "zones.geojson", "alone", cwd=place)

    assert again.code == 1
    assert "complete already" in again.err
    assert contents(place / "alone") == expected

    other = audit(inputs, "zones.geojson", "alone", "--margin", "1nmi", cwd=place)
    assert other.code == 3
    assert "margin_m was not given, now '1852.0'" in other.err
    assert "--force" in other.err
    assert contents(place / "alone") == expected


def test_force_begins_anew_and_changed_inputs_are_refused(tmp_path):
    write_zones(tmp_path / "zones.geojson")
    write_csv(tmp_path / "positions.csv", fleet()[:2])
    assert audit("positions.csv", "zones.geojson", "out", cwd=tmp_path).code == 1
    write_csv(tmp_path / "positions.csv", fleet()[:3])
    changed = audit("positions.csv", "zones.geojson", "out", cwd=tmp_path)

    assert changed.code == 3
    assert "positions.csv has changed" in changed.err
    assert audit("positions.csv", "zones.geojson", "out", "--force", cwd=tmp_path).code == 1
    assert sum(totals(tmp_path / "out")["vessels"].values()) == 3


@pytest.mark.usefixtures("expected")
def test_another_audit_is_told_by_its_files_and_a_folder_that_cannot_be_made_before_the_work(place):
    other = audit("more.csv", "zones.geojson", "alone", cwd=place)
    assert other.code == 3
    assert "positions: 'positions' left out); give --force" in other.err

    nowhere = audit("more.csv", "zones.geojson", "more.csv/audit", cwd=place)
    assert nowhere.code == 3
    assert "more.csv/audit: could not be written: Not a directory" in nowhere.err
    assert "worker" not in nowhere.err


def test_without_dask_it_says_how_to_get_it(tmp_path):
    write_zones(tmp_path / "zones.geojson")
    write_csv(tmp_path / "positions.csv", fleet()[:1])
    code = "import sys; sys.modules['distributed'] = None; from towzone.cli import run; run()"
    ran = run_code(code, "fleet", "positions.csv", "--zones", "zones.geojson", "-o", "out", cwd=tmp_path)

    assert ran.code == 2
    assert "towzone[fleet]" in ran.err
    assert not (tmp_path / "out").exists()


def test_no_other_command_imports_it():
    code = (
        "import sys; from towzone.cli import main; main(sys.argv[1:])\n"
        "heavy = {'dask', 'distributed', 'pyarrow', 'towzone.fleet'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    zones = "sample_zones/greywether_bank.geojson"
    ran = run_code(code, "check", "sample_tracks/greywether_plan.gpx", "--zones", zones, cwd=ROOT)

    assert ran.err.splitlines()[-1] == "[]"


@pytest.mark.parametrize(
    ("more", "word"),
    [
        (("--memory", "2"), "not an amount of memory"),
        (("--memory", "10MiB"), "too little"),
        (("--workers", "0"), "workers"),
        (("--scheduler", "tcp://127.0.0.1:9", "--workers", "2"), "--workers"),
        (("--scheduler", "somewhere"), "is no address"),
    ],
)
def test_options_that_make_no_sense(place, more, word):
    ran = call(*fleet_kills.command("senseless", *more), cwd=place)

    assert ran.code == 2
    assert word in ran.err
