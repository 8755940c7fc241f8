"""AIS logs for tests: an encoder and a plain decoder, both written from the field layout and from no library.

The layout is that of ITU-R M.1371 (messages 1 to 5, 9, 11, 18, 19, 21, 24 and 27), from memory: field after
field, most significant bit first, six bits to a character. Identities, positions and times are invented.
"""

from __future__ import annotations

import datetime as dt
import math

# name, bits, signed
CLASS_A = (
    ("kind", 6, False),
    ("repeat", 2, False),
    ("mmsi", 30, False),
    ("status", 4, False),
    ("turn", 8, True),
    ("sog", 10, False),
    ("accuracy", 1, False),
    ("lon", 28, True),
    ("lat", 27, True),
    ("cog", 12, False),
    ("heading", 9, False),
    ("second", 6, False),
    ("manoeuvre", 2, False),
    ("spare", 3, False),
    ("raim", 1, False),
    ("radio", 19, False),
)
CLASS_B = (
    ("kind", 6, False),
    ("repeat", 2, False),
    ("mmsi", 30, False),
    ("reserved", 8, False),
    ("sog", 10, False),
    ("accuracy", 1, False),
    ("lon", 28, True),
    ("lat", 27, True),
    ("cog", 12, False),
    ("heading", 9, False),
    ("second", 6, False),
    ("reserved2", 2, False),
    ("flags", 7, False),
    ("radio", 20, False),
)
CLASS_B_EXTENDED = (
    *CLASS_B[:11],
    ("reserved2", 4, False),
    ("name", 120, False),
    ("ship_type", 8, False),
    ("size", 30, False),
    ("epfd", 4, False),
    ("raim", 1, False),
    ("dte", 1, False),
    ("assigned", 1, False),
    ("spare", 4, False),
)
LONG_RANGE = (
    ("kind", 6, False),
    ("repeat", 2, False),
    ("mmsi", 30, False),
    ("accuracy", 1, False),
    ("raim", 1, False),
    ("status", 4, False),
    ("lon", 18, True),
    ("lat", 17, True),
    ("sog", 6, False),
    ("cog", 9, False),
    ("latency", 1, False),
    ("spare", 1, False),
)
BASE = (
    ("kind", 6, False),
    ("repeat", 2, False),
    ("mmsi", 30, False),
    ("year", 14, False),
    ("month", 4, False),
    ("day", 5, False),
    ("hour", 5, False),
    ("minute", 6, False),
    ("second", 6, False),
    ("accuracy", 1, False),
    ("lon", 28, True),
    ("lat", 27, True),
    ("epfd", 4, False),
    ("spare", 10, False),
    ("raim", 1, False),
    ("radio", 19, False),
)
OTHER_BITS = {5: 424, 9: 168, 21: 272, 24: 168}
LAYOUTS = {
    1: CLASS_A,
    2: CLASS_A,
    3: CLASS_A,
    4: BASE,
    11: BASE,
    18: CLASS_B,
    19: CLASS_B_EXTENDED,
    27: LONG_RANGE,
}
NOT_AVAILABLE = {"sog": 1023, "cog": 3600, "heading": 511, "second": 60}
LONG_RANGE_NOT_AVAILABLE = {"sog": 63, "cog": 511}
EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
START = dt.datetime(2026, 3, 1, 6, 0, 0, tzinfo=dt.UTC)


def armoured(bits):
    """Payload and fill bits of a text of 0 and 1."""
    fill = -len(bits) % 6
    bits += "0" * fill
    values = [int(bits[at : at + 6], 2) for at in range(0, len(bits), 6)]
    return "".join(chr(value + 48 if value < 40 else value + 56) for value in values), fill


def encoded(kind, mmsi, **fields):
    """Payload and fill bits; fields not given are not available, or zero; ``lon``, ``lat`` in degrees."""
    if kind in OTHER_BITS:
        head = format(kind, "06b") + "00" + format(mmsi, "030b")
        return armoured(head + "10" * ((OTHER_BITS[kind] - len(head)) // 2))
    scale = 600 if kind == 27 else 600_000
    missing = LONG_RANGE_NOT_AVAILABLE if kind == 27 else NOT_AVAILABLE
    values = missing | fields | {"kind": kind, "mmsi": mmsi}
    for name in ("lon", "lat"):
        values[name] = round(values.get(name, 0) * scale)
    bits = ""
    for name, width, _ in LAYOUTS[kind]:
        bits += format(values.get(name, 0) % (1 << width), f"0{width}b")
    return armoured(bits)


def decoded(payload):
    """Fields of a payload as whole numbers, by plain arithmetic on a text of bits."""
    bits = ""
    for character in payload:
        value = ord(character) - 48
        bits += format(value - 8 if value > 40 else value, "06b")
    fields, at = {}, 0
    for name, width, signed in LAYOUTS[int(bits[:6], 2)]:
        number = int(bits[at : at + width], 2)
        fields[name] = number - (1 << width) if signed and bits[at] == "1" else number
        at += width
    return fields


def xor(text):
    result = 0
    for character in text:
        result ^= ord(character)
    return result


def sentence(body, start="!"):
    """A whole sentence with its checksum, from what stands between."""
    return f"{start}{body}*{xor(body):02X}"


def sentences(kind, mmsi, *, tag="AIVDM", parts=1, sequence="", channel="A", **fields):
    """The sentences of one message."""
    payload, fill = encoded(kind, mmsi, **fields)
    size = math.ceil(len(payload) / parts)
    return [
        sentence(
            f"{tag},{parts},{number + 1},{sequence},{channel},{payload[number * size : (number + 1) * size]},"
            f"{fill if number == parts - 1 else 0}"
        )
        for number in range(parts)
    ]


def report(kind, mmsi, **fields):
    """The one sentence of a message."""
    return sentences(kind, mmsi, **fields)[0]


def tagged(line, **fields):
    """A line with a tag block of the fields before it."""
    body = ",".join(f"{name}:{value}" for name, value in fields.items())
    return f"\\{body}*{xor(body):02X}\\{line}"


def log(*lines):
    return "".join(f"{line}\r\n" for line in lines).encode("latin-1")


def microseconds(moment):
    return (moment - EPOCH) // dt.timedelta(microseconds=1)


def after(seconds):
    """An instant so many seconds after `START`."""
    return START + dt.timedelta(seconds=seconds)


def epoch(seconds):
    """Seconds since 1970 of `after`, whole."""
    return int(after(seconds).timestamp())


def base_report(moment, mmsi=2_190_001):
    """A base station report of an instant."""
    names = ("year", "month", "day", "hour", "minute", "second")
    fields = {name: getattr(moment, name) for name in names}
    return report(4, mmsi, lon=8.0, lat=55.0, **fields)
