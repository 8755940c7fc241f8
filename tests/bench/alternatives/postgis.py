"""PostGIS: geography with GiST indexes, ST_DWithin, ST_Distance and ST_Covers.

A cluster of its own in a temporary folder, on loopback, as a user without rights, stopped afterwards. Tables
and indexes are made before the clock starts; the answer is left in a table of the server.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import psycopg
from measuring import used_s

from alternatives.common import REACH_M, Fixes, Table, geometries
from towzone.model.zone import Zone

USER = "postgres"
ROOT = Path("/usr/lib/postgresql")
TABLE = """
CREATE UNLOGGED TABLE found AS
SELECT f.id AS fix, z.id AS zone,
       CASE WHEN z.is_area AND ST_Covers(z.shape, f.place) THEN -1.0 ELSE 1.0 END
       * ST_Distance(z.outline, f.place) AS clearance_m
FROM zones z JOIN fixes f ON ST_DWithin(z.shape, f.place, %(reach)s)
"""
LEAST = "CREATE UNLOGGED TABLE least AS SELECT zone, min(clearance_m) AS clearance_m FROM found GROUP BY zone"
CHANGES = """
CREATE UNLOGGED TABLE changes AS
SELECT zone, fix, fix - lag(fix) OVER w IS DISTINCT FROM 1 AS entered,
       lead(fix) OVER w - fix IS DISTINCT FROM 1 AS gone
FROM found WHERE clearance_m < 0 WINDOW w AS (PARTITION BY zone ORDER BY fix)
"""
SETTINGS = {
    "max_parallel_workers_per_gather": 0,
    "shared_buffers": "1GB",
    "work_mem": "512MB",
    "autovacuum": "off",
    "jit": "off",
}
"""One process, room enough for all of it in memory, and no compiling of queries that cost more to compile."""


class PostGIS:
    """One server for one set of zones."""

    def __init__(self, zones: tuple[Zone, ...]) -> None:
        self._folder = Path(tempfile.mkdtemp(prefix="bench_postgis_"))
        self._server = None
        try:
            self._start()
            self._db = self._connected()
            self.pid = self._db.info.backend_pid
            self._load(zones)
        except BaseException:
            self.close()
            raise

    def close(self) -> None:
        """Stop the server and remove what it kept."""
        if self._server is not None:
            self._server.terminate()  # SIGTERM, then it waits for us to hang up
            if getattr(self, "_db", None) is not None:
                self._db.close()
            self._server.wait(60)
        shutil.rmtree(self._folder, ignore_errors=True)

    def cpu_s(self) -> float:
        """Return the seconds of processor time that the server has used for us."""
        return used_s(self.pid)

    def take(self, fixes: Fixes, *, indexed: bool) -> None:
        """Put fixes into a table, with or without an index; not part of what is timed.

        With one the server goes zone by zone and keeps each zone ready, without it fix by fix.
        """
        with self._db.cursor() as cursor:
            cursor.execute("DROP TABLE IF EXISTS fixes, found, least, changes")
            cursor.execute("CREATE UNLOGGED TABLE fixes (id integer, place geography(Point))")
            with cursor.copy("COPY fixes FROM STDIN") as out:
                for number, (lon, lat) in enumerate(
                    zip(fixes.lon_deg.tolist(), fixes.lat_deg.tolist(), strict=True)
                ):
                    out.write_row((number, f"POINT({lon} {lat})"))
            if indexed:
                cursor.execute("CREATE INDEX ON fixes USING gist (place)")
            cursor.execute("ANALYZE fixes")

    def found(self) -> None:
        """Make the table of clearances, in the server."""
        self._db.execute(TABLE % {"reach": REACH_M})

    def summed(self) -> None:
        """Make of it what a check answers."""
        self._db.execute(LEAST)
        self._db.execute(CHANGES)

    def fetched(self) -> Table:
        """Return the table that was made."""
        rows = np.array(self._db.execute("SELECT fix, zone, clearance_m FROM found").fetchall())
        return Table(fix=rows[:, 0].astype(int), zone=rows[:, 1].astype(int), clearance_m=rows[:, 2])

    def plan(self) -> str:
        """Return how the server goes about it."""
        return "\n".join(row[0] for row in self._db.execute("EXPLAIN " + TABLE % {"reach": REACH_M}))

    def _load(self, zones: tuple[Zone, ...]) -> None:
        with self._db.cursor() as cursor:
            cursor.execute("CREATE EXTENSION postgis")
            cursor.execute(
                "CREATE UNLOGGED TABLE zones"
                " (id integer, is_area boolean, shape geography, outline geography)"
            )
            for number, shape in enumerate(geometries(zones)):
                cursor.execute(
                    "INSERT INTO zones VALUES (%s, %s, ST_GeogFromText(%s), ST_GeogFromText(%s))",
                    (number, shape.geom_type == "Polygon", shape.wkt, _outline(shape)),
                )
            cursor.execute("CREATE INDEX ON zones USING gist (shape)")
            cursor.execute("ANALYZE zones")

    def _start(self) -> None:
        programs = _programs()
        cluster, port = self._folder / "cluster", _free_port()
        as_user = ["runuser", "-u", USER, "--"] if os.geteuid() == 0 else []
        if as_user:
            shutil.chown(self._folder, USER)
        made = [*as_user, str(programs / "initdb"), "-D", str(cluster), "-A", "trust", "-U", USER]
        subprocess.run([*made, "--no-sync"], check=True, capture_output=True, cwd=self._folder)
        run = [str(programs / "postgres"), "-D", str(cluster), "-p", str(port), "-k", str(self._folder)]
        run += ["-c", "listen_addresses=127.0.0.1"]
        run += [word for name, value in SETTINGS.items() for word in ("-c", f"{name}={value}")]
        log = (self._folder / "log").open("wb")
        # setpriv stays the same process, so that it is the server itself that is stopped later.
        plain = ["setpriv", f"--reuid={USER}", f"--regid={USER}", "--init-groups"] if as_user else []
        self._server = subprocess.Popen([*plain, *run], cwd=self._folder, stdout=log, stderr=log)
        self._port = port

    def _connected(self) -> psycopg.Connection:
        for _ in range(200):
            if self._server.poll() is not None:
                break
            try:
                return psycopg.connect(
                    host="127.0.0.1", port=self._port, user=USER, dbname="postgres", autocommit=True
                )
            except psycopg.OperationalError:
                time.sleep(0.1)
        message = (self._folder / "log").read_text(encoding="utf-8", errors="replace")
        raise RuntimeError(message)


def _outline(shape) -> str:
    return (shape.boundary if shape.geom_type == "Polygon" else shape).wkt


def _free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def _programs() -> Path:
    """Return where the server is, installed first where it or its extension is missing."""
    found = _newest()
    if found is None:
        _install("postgresql")
        found = _newest()
    version = found.parent.name
    if not list(Path("/usr/share/postgresql", version, "extension").glob("postgis.control")):
        _install(f"postgresql-{version}-postgis-3", f"postgresql-{version}-postgis-3-scripts")
    return found


def _newest() -> Path | None:
    found = sorted(ROOT.glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    return found[-1].parent if found else None


def _install(*packages: str) -> None:
    print("installing", *packages, file=sys.stderr)
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for words in (["update"], ["install", "-y", "--no-install-recommends", *packages]):
        subprocess.run(["apt-get", "-qq", *words], check=True, env=quiet, stdout=subprocess.DEVNULL)
