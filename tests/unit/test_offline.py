"""No network and no other program, ever: whatever is asked for, and whatever the environment says."""

from __future__ import annotations

import pytest
from cli_runner import BANK, PLAN, ROOT, TRIP, call, run_code, written, zones_text

GUARD = """
import os, sys
FORBIDDEN = ("socket.connect", "socket.bind", "socket.getaddrinfo", "socket.gethostby", "socket.sendto",
             "socket.sendmsg", "subprocess.", "os.exec", "os.posix_spawn", "os.fork", "os.system",
             "urllib.Request", "http.client.", "ftplib.", "smtplib.", "webbrowser.")
def guard(event, args):
    # A library that the chart library imports asks the machine itself, once, whether it knows IPv6.
    if event == "socket.bind" and args[1] == ("::1", 0):
        return
    if event.startswith(FORBIDDEN):
        sys.stderr.write(f"FORBIDDEN {event} {args}\\n")
        sys.stderr.flush()
        os._exit(99)
sys.addaudithook(guard)
from towzone.cli import main
code = main(sys.argv[1:])
if "z.geojson" in sys.argv:  # zones on another datum, so transformations were looked for
    from pyproj.network import is_network_enabled
    if is_network_enabled():
        sys.stderr.write("the projection library may use the network\\n")
        code = 98
sys.exit(code)
"""
HOSTILE_ENVIRONMENT = {
    "PROJ_NETWORK": "ON",
    "CPL_CURL_VERBOSE": "1",
    "http_proxy": "http://127.0.0.1:9",
    "https_proxy": "http://127.0.0.1:9",
}


def guarded(*arguments, cwd=ROOT):
    return run_code(GUARD, *arguments, cwd=cwd, **HOSTILE_ENVIRONMENT)


def test_the_guard_of_this_test_bites():
    for body in (
        "import socket; socket.getaddrinfo('localhost', 1)",
        "import subprocess; subprocess.run(['true'])",
    ):
        assert run_code(GUARD.replace("from towzone.cli", f"{body}\nfrom towzone.cli")).code == 99


@pytest.mark.parametrize("form", ["text", "json", "csv", "geojson"])
def test_a_check_in_any_form_with_a_record_stays_offline(tmp_path, form):
    ran = guarded("check", TRIP, "--zones", BANK, "--format", form, "--record", tmp_path / "r.html")
    assert ran.code == 1, ran.err
    assert written(tmp_path) == ["r.html"]


def test_demo_stays_offline(tmp_path):
    assert guarded("demo", "out", cwd=tmp_path).code == 0


def test_help_and_version_stay_offline():
    assert guarded("--help").code == 0
    assert guarded("--version").code == 0


@pytest.mark.parametrize("code", ["EPSG:4230", "urn:ogc:def:crs:EPSG::4277", "EPSG:32629"])
def test_a_datum_that_a_grid_would_serve_better_is_not_fetched(tmp_path, code):
    """Old crs members (GeoJSON 2008): transformed with what is installed, or refused."""
    point = {"type": "Point", "coordinates": [-9.0, 50.5] if "326" not in code else [500000.0, 5600000.0]}
    text = zones_text((point, {"kind": "obstruction"}))
    member = f'"crs": {{"type": "name", "properties": {{"name": "{code}"}}}}, '
    (tmp_path / "z.geojson").write_text(text.replace('"features"', member + '"features"', 1))
    ran = guarded("check", ROOT / PLAN, "--zones", "z.geojson", cwd=tmp_path)
    assert ran.code in (0, 1, 3, 4), ran.err
    assert "FORBIDDEN" not in ran.err


@pytest.mark.parametrize(
    "address",
    [
        "https://example.invalid/zones.geojson",
        "http://127.0.0.1:9/z.gpx",
        "ftp://example.invalid/z.gpx",
        "file:///etc/hostname",
        "s3://bucket/z.geojson",
        "/vsicurl/http://127.0.0.1:9/z.geojson",
        "/vsizip/z.zip/z.shp",
        "/VSIMEM/z",
        "zip://z.zip!z.shp",
    ],
)
@pytest.mark.parametrize("where", ["track", "zones"])
def test_addresses_and_virtual_paths_are_refused(address, where):
    arguments = (address, "--zones", BANK) if where == "track" else (PLAN, "--zones", address)
    ran = call("check", *arguments)
    assert (ran.code, ran.out) == (3, "")
    assert address in ran.err


def test_an_address_is_refused_before_anything_is_asked_of_the_network():
    ran = guarded("check", PLAN, "--zones", "https://example.invalid/zones.geojson")
    assert (ran.code, ran.out) == (3, "")
