"""How fast and how small NMEA 0183 logs are read: ``python tests/bench/bench_logs.py [LINES] [FIXES]``.

Printed, never asserted. An invented log of LINES lines (2 million unless told otherwise) of GGA, RMC, VTG,
GSV, ZDA, GLL and AIS sentences, one in a hundred damaged, is read by the reader and by a plain loop over
lines, which does less. Then one of FIXES fixes (3 million unless told otherwise; 26 million are a month at
10 Hz) of RMC and GGA is read as it is made, to see what memory it takes.
"""

from __future__ import annotations

import random
import resource
import sys
import time
from collections.abc import Iterable, Iterator
from functools import reduce
from operator import xor

from towzone.logs.nmea import read_nmea
from towzone.tracks.options import ReadingOptions

PARTS = 20


def sentence(body: str, mark: str = "$") -> str:
    return f"{mark}{body}*{reduce(xor, body.encode()):02X}\r\n"


def second(t: float) -> list[str]:
    """Return what an invented ship says in one second."""
    whole = int(t)
    clock = f"{whole // 3600 % 24:02d}{whole // 60 % 60:02d}{whole % 60:02d}.{int(t * 100) % 100:02d}"
    day = f"{whole // 86400 % 28 + 1:02d}"
    lat, lon = f"54{30 + t % 20000 * 1e-3:08.5f}", f"008{15 + t % 30000 * 1e-3:08.5f}"
    return [
        sentence(f"GPGGA,{clock},{lat},N,{lon},W,1,09,0.9,12.3,M,48.1,M,,"),
        sentence(f"GPRMC,{clock},A,{lat},N,{lon},W,3.4,{whole % 360}.1,{day}0326,,,A"),
        sentence(f"GPVTG,{whole % 360}.1,T,,M,3.4,N,6.3,K,A"),
        sentence("GPGSV,3,1,11,03,03,111,00,04,15,270,00,06,01,010,00,13,06,292,00"),
        sentence(f"GPZDA,{clock},{day},03,2026,00,00"),
        sentence(f"GPGLL,{lat},N,{lon},W,{clock},A,A"),
        sentence("AIVDM,1,1,,A,13aEOK?P00PD2wVMdLDRhgvL289?,0", "!"),
    ]


def log(lines: int) -> bytes:
    rng = random.Random(1)
    out: list[str] = []
    t = 0
    while len(out) < lines:
        for text in second(t):
            if rng.random() < 0.01:
                at = rng.randrange(5, 40)
                text = text[:at] if rng.random() < 0.5 else text[:at] + "#" + text[at + 1 :]
            out.append(text)
        t += 1
    return "".join(out).encode()


def plain_loop(parts: list[bytes]) -> int:
    """Count positions of RMC and GGA the plain way: line by line, checksum, split, figures."""
    positions = []
    for line in b"".join(parts).split(b"\n"):
        body, _, tail = line[line.rfind(b"$") + 1 :].partition(b"*")
        if len(tail) < 2 or body[2:5] not in (b"RMC", b"GGA", b"GLL", b"VTG", b"ZDA"):
            continue
        try:
            right = int(tail[:2], 16) == reduce(xor, body)
        except ValueError:
            continue
        if right and body[2:5] in (b"RMC", b"GGA"):
            fields = body.split(b",")
            at = 3 if body[2:5] == b"RMC" else 2
            try:
                lat, lon = float(fields[at]), float(fields[at + 2])
            except ValueError:
                continue
            lat_deg, lon_deg = lat // 100 + lat % 100 / 60, lon // 100 + lon % 100 / 60
            if lat_deg <= 90 and lon_deg <= 180:
                positions.append((fields[1], lat_deg, lon_deg))
    return len(positions)


def ten_times_a_second(fixes: int) -> Iterator[bytes]:
    """Yield a log of so many fixes, each of a GGA and an RMC, as it is made."""
    made = 0
    while made < fixes:
        block = []
        for _ in range(min(10_000, fixes - made)):
            block += second(made / 10)[:2]
            made += 1
        yield "".join(block).encode()


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def read(chunks: Iterable[bytes]) -> int:
    content = read_nmea(chunks, file="bench.log", name="bench", options=ReadingOptions())
    return content.tally["used"]


def main() -> None:
    lines = int(sys.argv[1]) if len(sys.argv) > 1 else 2_000_000
    fixes = int(sys.argv[2]) if len(sys.argv) > 2 else 3_000_000
    data = log(lines)
    print(f"{lines} lines, {len(data) / 1e6:.0f} MB")
    size = len(data) // PARTS + 1
    parts = [data[i : i + size] for i in range(0, len(data), size)]
    del data
    for name, work in (("reader", read), ("plain loop", plain_loop)):
        begun = time.process_time()
        found = work(parts)
        seconds = time.process_time() - begun
        print(f"{name:<10} {seconds:6.2f} s  {lines / seconds / 1e6:5.2f} M lines/s  {found}", flush=True)
    del parts
    before = peak_mb()
    begun = time.process_time()
    used = read(ten_times_a_second(fixes))
    print(
        f"{used} fixes of {2 * fixes} lines, made and read in {time.process_time() - begun:.0f} s:"
        f" peak {peak_mb():.0f} MB, {before:.0f} MB before"
    )


if __name__ == "__main__":
    main()
