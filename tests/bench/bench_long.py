"""A month at ten fixes a second: ``python tests/bench/bench_long.py [DAYS]``. Printed, never asserted.

Writes a log of RMC sentences of an invented vessel (864 000 a day, 63 MB) into a temporary file, then runs
``towzone check`` on it as a process of its own, once on a tenth of it, so that the cost can be seen to follow
the work. The default is 3 days; 30 take 2 GB of disk and some minutes.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
ZONES = ROOT / "sample_zones" / "greywether_bank.geojson"
A_DAY = 864_000
STEP_S = 0.1
METRES_PER_DEGREE = 111_320.0
TEMPLATE = "$GPRMC,000000.0,A,0000.00000,N,00000.00000,W,00.0,000.0,000026,,,A*00\r\n"


def digits(into: np.ndarray, at: int, value: np.ndarray, count: int) -> None:
    """Write a column of whole numbers as decimal digits."""
    for place in range(count - 1, -1, -1):
        into[:, at + place] = 48 + value % 10
        value = value // 10


def day_of_log(day: int, start: tuple[float, float], seed: int) -> tuple[bytes, tuple[float, float]]:
    """Return the sentences of a day in May 2026 and where it ends: towing 4 h, steaming and waiting 1 h."""
    rng = np.random.default_rng([seed, day])
    second = np.arange(A_DAY) * STEP_S
    phase = second % 21_600.0
    speed_kn = np.where(phase < 3_600.0, 9.5, np.where(phase < 18_000.0, 3.3, 0.2))
    course = np.radians(60.0) + np.pi * (second // 21_600.0 % 2) + np.cumsum(rng.normal(0.0, 0.0005, A_DAY))
    step_m = speed_kn * 1852.0 / 3600.0 * STEP_S
    lat = start[1] + np.cumsum(step_m * np.cos(course)) / METRES_PER_DEGREE
    lon = start[0] + np.cumsum(step_m * np.sin(course)) / METRES_PER_DEGREE / np.cos(np.radians(start[1]))
    end = float(lon[-1]), float(lat[-1])
    lat += rng.normal(0.0, 2e-6, A_DAY)
    lon += rng.normal(0.0, 3e-6, A_DAY)
    line = np.tile(np.frombuffer(TEMPLATE.encode(), dtype=np.uint8), (A_DAY, 1))
    tenth = np.round(second * 10.0).astype(np.int64)
    digits(line, 7, tenth // 36_000 * 10_000 + tenth // 600 % 60 * 100 + tenth // 10 % 60, 6)
    digits(line, 14, tenth % 10, 1)
    for at, width, degrees in ((18, 2, lat), (31, 3, -lon)):
        parts = np.round(degrees * 6_000_000.0).astype(np.int64)
        digits(line, at, parts // 6_000_000, width)
        digits(line, at + width, parts // 100_000 % 60, 2)
        digits(line, at + width + 3, parts % 100_000, 5)
    digits(line, 45, np.full(A_DAY, int(speed_kn[0]), dtype=np.int64), 2)
    digits(line, 56, np.full(A_DAY, day * 10_000 + 5 * 100 + 26, dtype=np.int64), 6)
    star = TEMPLATE.index("*")
    check = np.bitwise_xor.reduce(line[:, 1:star], axis=1)
    letters = np.frombuffer(b"0123456789ABCDEF", dtype=np.uint8)
    line[:, star + 1], line[:, star + 2] = letters[check >> 4], letters[check & 15]
    return line.tobytes(), end


def write_log(path: Path, days: int) -> None:
    """Write some days, at most the 31 of May."""
    place = (-9.5, 50.55)
    with path.open("wb") as out:
        for day in range(1, days + 1):
            text, place = day_of_log(day, place, seed=1)
            out.write(text)


def checked(path: Path) -> tuple[float, int, str]:
    """Return seconds, peak megabytes and first line of a check of a log."""
    program = (
        "import resource, sys; from towzone.cli import main; code = main(sys.argv[1:]);"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024, file=sys.stderr); sys.exit(code)"
    )
    begun = time.perf_counter()
    ran = subprocess.run(
        [sys.executable, "-c", program, "check", str(path), "--zones", str(ZONES), "-q"],
        capture_output=True,
        text=True,
        check=False,
    )
    return time.perf_counter() - begun, int(ran.stderr.split()[-1]), ran.stdout.splitlines()[0]


def main() -> None:
    days = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    print("days   fixes        log_MB   seconds   fixes_per_s   peak_MB   answer")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.nmea"
        for some in sorted({max(days // 10, 1), days}):
            write_log(path, some)
            seconds, peak_mb, answer = checked(path)
            fixes = some * A_DAY
            print(
                f"{some:<6} {fixes:<12} {path.stat().st_size / 1e6:<8.0f} {seconds:<9.1f} "
                f"{fixes / seconds:<13.0f} {peak_mb:<9} {answer}"
            )


if __name__ == "__main__":
    main()
