"""Writes NMEA 0183 sentences and small logs for tests; shares no code with the reader."""

from __future__ import annotations

import datetime as dt
import re

from towzone.logs.nmea import read_nmea
from towzone.tracks.options import ReadingOptions

START = dt.datetime.fromisoformat("2026-03-01T06:10:00")


def sentence(body, mark="$", end="\r\n"):
    """A sentence with its checksum."""
    total = 0
    for character in body.encode("latin-1"):
        total ^= character
    return f"{mark}{body}*{total:02X}{end}"


def ddmm(angle_deg, width, places=4):
    """Degrees and minutes in one number, as receivers write them, rounded to the last place."""
    unit = 10**places
    total = round(abs(angle_deg) * 60 * unit)
    degrees, minutes = divmod(total, 60 * unit)
    whole, rest = divmod(minutes, unit)
    return (
        f"{degrees:0{width}d}{whole:02d}.{rest:0{places}d}" if places else f"{degrees:0{width}d}{whole:02d}"
    )


def place(lat, lon, places=4):
    """The four fields of a position."""
    north, east = "N" if lat >= 0 else "S", "E" if lon >= 0 else "W"
    return f"{ddmm(lat, 2, places)},{north},{ddmm(lon, 3, places)},{east}"


def clock(when):
    return when.strftime("%H%M%S") + f".{when.microsecond // 10_000:02d}"


def rmc(when, lat, lon, talker="GP", status="A", mode="A", date=None, sog="3.4", cog="120.5", places=4):
    date = when.strftime("%d%m%y") if date is None else date
    return sentence(
        f"{talker}RMC,{clock(when)},{status},{place(lat, lon, places)},{sog},{cog},{date},,,{mode}"
    )


def gga(when, lat, lon, talker="GP", quality="1", hdop="0.9", places=4):
    return sentence(
        f"{talker}GGA,{clock(when)},{place(lat, lon, places)},{quality},09,{hdop},12.3,M,48.1,M,,"
    )


def gll(when, lat, lon, talker="GP", status="A", mode="A", places=4):
    return sentence(f"{talker}GLL,{place(lat, lon, places)},{clock(when)},{status},{mode}")


def gns(when, lat, lon, talker="GN", mode="AA", places=4):
    return sentence(f"{talker}GNS,{clock(when)},{place(lat, lon, places)},{mode},12,0.8,12.3,48.1,,")


def zda(when, talker="GP"):
    return sentence(f"{talker}ZDA,{clock(when)},{when.day:02d},{when.month:02d},{when.year},00,00")


def steps(count, seconds=1.0, start=START):
    """Moments one after another."""
    return [start + dt.timedelta(seconds=seconds * number) for number in range(count)]


def read(log, chunk=0, piece_bytes=1 << 20, **options):
    """What the reader makes of a log given as text or bytes, cut into chunks where asked."""
    data = log if isinstance(log, bytes) else log.encode("latin-1")
    chunks = [data[i : i + chunk] for i in range(0, len(data), chunk)] if chunk else [data]
    return read_nmea(
        chunks, file="trip.log", name="trip", options=ReadingOptions(**options), piece_bytes=piece_bytes
    )


def fixes(content):
    """Line, time, latitude and longitude of the fixes used."""
    (raw,) = content.raw
    times = [None if t != t else t.item() for t in raw.time_us.view("datetime64[us]")]
    return list(zip(raw.line.tolist(), times, raw.lat_deg.tolist(), raw.lon_deg.tolist(), strict=True))


def left_out(content):
    """How many fixes were left out, by reason."""
    (raw,) = content.raw
    return {some.reason: len(some) for some in raw.left_out}


def messages(content):
    """All remarks as one text."""
    return "\n".join(f"{remark.where}: {remark.message}" for remark in content.remarks)


def told(content, pattern):
    """Whether a remark says something."""
    return re.search(pattern, messages(content)) is not None
