"""A slow second reading of NMEA 0183 logs, sentence after sentence, to compare the reader with.

Written from the description of the format and of the method in plain Python, with exact fractions; it shares
no code with the product. It knows logs whose dates agree with each other, which is what the tests write.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

EPOCH = dt.datetime.fromisoformat("1970-01-01T00:00:00")
DAY = dt.timedelta(days=1)
SLACK = dt.timedelta(seconds=300)
FEWEST = {
    "RMC": 11,
    "GGA": 14,
    "GNS": 12,
    "GLL": 4,
    "VTG": 4,
    "ZDA": 4,
    "HDT": 2,
    "HDG": 5,
    "DPT": 2,
    "DBT": 4,
    "DTM": 8,
    "VDM": 6,
    "VDO": 6,
}
PREFERRED = ("GLL", "GNS", "RMC", "GGA")
TALKERS = [("GN", "GP"), ("GL", "GA", "GB", "BD", "GQ", "GI"), ("IN",), ("II",), ("EC",)]


@dataclass
class Epoch:
    """What one talker says of one moment."""

    talker: str
    line: int
    seq: int
    time: dt.timedelta | None
    kinds: set = field(default_factory=set)
    seen: set = field(default_factory=set)
    void: bool = False
    estimated: bool = False
    bad_position: bool = False
    bad_time: bool = False
    positions: list = field(default_factory=list)
    date: dt.date | None = None
    zda: dt.date | None = None
    clock: dt.datetime | None = None
    clock_after: dt.datetime | None = None
    said: dict = field(default_factory=dict)
    when: dt.datetime | None = None

    @property
    def best(self):
        return max(self.positions, key=lambda p: p[0]) if self.positions else None

    @property
    def reason(self):
        if self.void or (not self.positions and not self.bad_position):
            return "void"
        if self.estimated:
            return "estimated"
        if not self.positions:
            return "bad_position"
        if self.best[0][0] < 0:
            return "zero_position"
        if self.time is None and self.bad_time:
            return "bad_time"
        return "conflicting_time" if self.reach > 50 else "good"

    @property
    def told(self):
        """Positions that are none at 0, 0."""
        return [position for position in self.positions if position[0][0] >= 0]

    def offsets(self):
        """Metres east and north of the best position, less one unit of the last decimal along either axis."""
        _, lat, lon = self.best
        for (places, _), its_lat, its_lon in self.told:
            east = 111_320 * ((its_lon - lon + 180) % 360 - 180) * math.cos(math.radians(its_lat))
            yield [
                math.copysign(max(abs(some) - 1852 / 10**places, 0), some)
                for some in (east, 111_320 * (its_lat - lat))
            ]

    @property
    def reach(self):
        if len(self.told) < 2:
            return 0
        east, north = zip(*self.offsets(), strict=True)
        return math.hypot(max(east) - min(east), max(north) - min(north))

    @property
    def conflicts(self):
        """How many positions are far from the best one; at least one."""
        return max(1, sum(math.hypot(*some) > 50 for some in self.offsets()))


def sentences(data):
    """Yield line number, mark, body and whether there is a checksum; count what is none."""
    counts = {"sentences": 0, "bad_checksum": 0, "cut": 0}
    found = []
    for number, line in enumerate(data.split("\n"), start=1):
        for part in line.split("\r"):
            marks = [i for i, c in enumerate(part) if c in "$!"]
            for i, begin in enumerate(marks):
                counts["sentences"] += 1
                last = i + 1 == len(marks)
                text = part[begin + 1 : None if last else marks[i + 1]]
                body, star, tail = text.partition("*")
                if star:
                    if not re.match("[0-9A-Fa-f]{2}", tail):
                        counts["cut"] += 1
                        continue
                    total = 0
                    for c in body:
                        total ^= ord(c)
                    if total != int(tail[:2], 16):
                        counts["bad_checksum"] += 1
                        continue
                elif not last or not complete(text.rstrip("".join(map(chr, range(33))))):
                    counts["cut"] += 1
                    continue
                else:
                    body = text.rstrip("".join(map(chr, range(33))))
                found.append((number, part[begin], body))
    return found, counts


def other_lines(data):
    """How many lines hold nothing like a sentence, and how many are not blank."""
    blanks = "".join(map(chr, range(33)))
    lines = [line.strip(blanks) for line in re.split("[\r\n]", data)]
    lines = [line for line in lines if line]
    without = [
        line
        for line in lines
        if not re.search("[$!][0-9A-Z]{3}", line)
        and not line.startswith(("#", ";", "//"))
        and not (len(line) > 1 and line[0] == line[-1] == "\\")
    ]
    return len(without), len(lines)


def kind_of(address, mark="$"):
    if not re.fullmatch("[0-9A-Z]{3,8}", address):
        return None
    kind = address[-3:]
    if address[0] == "P" or (mark == "!" and kind not in ("VDM", "VDO")):
        return ""
    return kind if kind in FEWEST else ""


def complete(body):
    address, comma, _ = body.partition(",")
    kind = kind_of(address) if comma else None
    fields = body.count(",")
    return kind is not None and fields >= FEWEST.get(kind, 0) and not (kind == "GLL" and fields == 5)


def number(text):
    text = text.strip(" ")
    if not re.fullmatch(r"\d+\.?\d*|\.\d+", text):
        return None
    return Fraction(text if text[-1] != "." else text[:-1])


def angle(text, letter, letters, limit):
    """Degrees and how many decimals, None where empty, False where bad."""
    text, letter = text.strip(" "), letter.strip(" ").upper()
    if not text:
        return None
    if not re.fullmatch(r"\d{3,5}(\.\d*)?", text) or letter not in letters or not letter:
        return False
    whole, _, decimals = text.partition(".")
    minutes = Fraction(whole[-2:] + "." + decimals + "0")
    value = int(whole[:-2] or 0) + minutes / 60
    if minutes >= 60 or value > limit:
        return False
    return (-value if letter == letters[1] else value), len(decimals)


def time_of(text):
    """Time of day, None where empty, False where bad."""
    text = text.strip(" ")
    if not text:
        return None
    match = re.fullmatch(r"(\d\d)(\d\d)(\d\d)(?:\.(\d*))?", text)
    if not match or int(match[1]) > 23 or int(match[2]) > 59 or int(match[3]) > 60:
        return False
    return dt.timedelta(
        hours=int(match[1]),
        minutes=int(match[2]),
        seconds=int(match[3]),
        microseconds=int((match[4] or "").ljust(6, "0")[:6]),
    )


def date_of(text):
    match = re.fullmatch(r"(\d\d)(\d\d)(\d\d)", text.strip(" "))
    if not match or 68 < int(match[3]) < 80:
        return None
    try:
        return dt.date(int(match[3]) + (1900 if int(match[3]) >= 80 else 2000), int(match[2]), int(match[1]))
    except ValueError:
        return None


def within(text, low, high):
    value = number(text)
    return None if value is None or not low <= value <= high else float(value)


class Reading:
    """A log while it is read."""

    def __init__(self, data):
        self.data = data
        self.epochs = []
        self.open = {}
        self.empty = 0
        found, self.counts = sentences(data)
        self.counts |= {"positions": 0, "readings": 0, "dates": 0, "datums": 0, "ais": 0, "other_types": 0}
        seq = 0
        for line, mark, body in found:
            fields = body.split(",")
            kind = kind_of(fields[0], mark) if len(fields) > 1 else None
            if not kind:
                self.counts["other_types"] += 1
                continue
            self.take(line, seq, fields[0][:-3], kind, [*fields[1:], *[""] * 20])
            seq += 1

    def take(self, line, seq, talker, kind, f):
        if kind in ("RMC", "GGA", "GNS", "GLL"):
            self.counts["positions"] += 1
            self.position(line, seq, talker, kind, f)
        elif kind in ("VDM", "VDO"):
            self.counts["ais"] += 1
        elif kind == "DTM":
            self.counts["datums"] += 1
        elif kind == "ZDA":
            self.counts["dates"] += 1
            self.zda(seq, f)
        else:
            self.counts["readings"] += 1
            self.reading(seq, talker, kind, f)

    def position(self, line, seq, talker, kind, f):
        at = {"RMC": 2, "GGA": 1, "GNS": 1, "GLL": 0}[kind]
        time = time_of(f[4] if kind == "GLL" else f[0])
        lat = angle(f[at], f[at + 1], "NS", 90)
        lon = angle(f[at + 2], f[at + 3], "EW", 180)
        bad = not (lat and lon) and not (lat is None and lon is None)
        if not time and time != dt.timedelta(0) and not (lat and lon) and not bad:
            self.empty += 1
            return
        epoch = self.epoch_for(line, seq, talker, kind, time)
        epoch.kinds.add(kind)
        epoch.bad_time |= time is False
        epoch.bad_position |= bad
        if lat and lon:
            zero = abs(lat[0]) <= Fraction(1, 10**6) and abs(lon[0]) <= Fraction(1, 10**6)
            rank = (-1, 0) if zero else (min(lat[1], lon[1]), PREFERRED.index(kind))
            epoch.positions.append((rank, float(lat[0]), float(lon[0])))
        self.validity(epoch, kind, f)
        if kind == "RMC":
            epoch.date = max(filter(None, [epoch.date, date_of(f[8])]), default=None)
            self.say(epoch, seq, "sog_kn", within(f[6], 0, 102.2))
            course = within(f[7], 0, 360)
            self.say(epoch, seq, "cog_deg", None if course is None else course % 360)
        elif kind in ("GGA", "GNS"):
            self.say(epoch, seq, "hdop", within(f[7], 0, 10**6))

    def epoch_for(self, line, seq, talker, kind, time):
        current = self.open.get(talker)
        if time is None or time is False:
            if current is not None and kind not in current.seen:
                current.seen.add(kind)
                return current
            if current is not None:
                current.seen.add(kind)
            lone = Epoch(talker, line, seq, None)
            self.epochs.append(lone)
            return lone
        if current is None or current.time != time:
            before = current
            current = Epoch(talker, line, seq, time)
            current.clock = before.clock_after if before else None
            self.open[talker] = current
            self.epochs.append(current)
        current.seen.add(kind)
        return current

    def validity(self, epoch, kind, f):
        if kind in ("RMC", "GLL"):
            status, mode = (f[1], f[11]) if kind == "RMC" else (f[5], f[6])
            status, mode = status.strip(" ").upper(), mode.strip(" ").upper()
            if status != "A" and (kind == "RMC" or status):
                epoch.void = True
            if mode and mode not in list("ADFRPEMS"):
                epoch.void = True
            if mode and mode in "EMS":
                epoch.estimated = True
        elif kind == "GGA":
            quality = f[5].strip(" ")
            if quality in ("6", "7", "8"):
                epoch.estimated = True
            elif quality not in ("1", "2", "3", "4", "5", "9"):
                epoch.void = True
        else:
            modes = set(f[5].strip(" ")[:8])
            if not modes & set("ADFRP"):
                if modes & set("EMS"):
                    epoch.estimated = True
                else:
                    epoch.void = True

    def zda(self, seq, f):
        time = time_of(f[0])
        parts = [p.strip(" ") for p in f[1:4]]
        if not isinstance(time, dt.timedelta) or not all(p.isdigit() for p in parts):
            return
        if len(parts[0]) > 2 or len(parts[1]) > 2 or not 1980 <= int(parts[2]) <= 2099:
            return
        try:
            date = dt.date(int(parts[2]), int(parts[1]), int(parts[0]))
        except ValueError:
            return
        for epoch in self.open.values():
            if seq - epoch.seq <= 500:
                if epoch.time == time:
                    epoch.zda = date
                epoch.clock_after = dt.datetime.combine(date, dt.time()) + time

    def reading(self, seq, talker, kind, f):
        values = {}
        if kind == "VTG":
            lettered = f[1].strip(" ").upper() == "T" or f[5].strip(" ").upper() == "N"
            mode = f[8].strip(" ").upper()
            if not mode or mode in list("ADFRP"):
                values["sog"] = within(f[4], 0, 102.2) if lettered else None
                course = within(f[0], 0, 360)
                values["cog"] = None if course is None else course % 360
            targets = [self.open[talker]] if talker in self.open else []
        else:
            targets = list(self.open.values())
            if kind == "HDT":
                heading = within(f[0], 0, 360)
                values["hdt"] = None if heading is None else heading % 360
            elif kind == "DPT":
                depth = within(f[0], 0, 12000)
                offset = f[1].strip(" ")
                add = within(offset.lstrip("+"), 0, 100) if not offset.startswith("-") else None
                values["dpt"] = depth + (add or 0.0) if depth else None
            elif kind == "DBT":
                values["dbt"] = within(f[2], 0, 12000) or None if f[3].strip(" ").upper() == "M" else None
        for epoch in targets:
            for name, value in values.items():
                self.say(epoch, seq, name, value)

    def say(self, epoch, seq, name, value):
        if value is not None and seq - epoch.seq <= 500:
            epoch.said.setdefault(name, value)

    def talker(self):
        """The talker whose fixes are used."""

        def worth(talker):
            rank = next((-i for i, some in enumerate(TALKERS) if talker in some), -len(TALKERS))
            good = self.usable(talker) + self.conflicting(talker)
            order = [e.talker for e in self.epochs]
            return sum(e.when is not None for e in good), len(good), rank, -order.index(talker)

        for talker in {e.talker for e in self.epochs}:
            self.date(talker)
        return max({e.talker for e in self.epochs}, key=worth)

    def usable(self, talker):
        good = [e for e in self.epochs if e.talker == talker and e.reason == "good"]
        timed = [e for e in good if e.time is not None]
        return timed or good

    def conflicting(self, talker):
        return [e for e in self.epochs if e.talker == talker and e.reason == "conflicting_time"]

    def refused(self):
        """Whether too much of the log is something else, or its receiver is at two places too often."""
        without, lines = other_lines(self.data)
        if without and 2 * without >= lines:
            return True
        talker = self.talker()
        conflicts = sum(epoch.conflicts for epoch in self.conflicting(talker))
        moments = conflicts + len(self.usable(talker))
        return conflicts > min(max(10, moments / 100), moments / 2)

    def date(self, talker):
        """Dates forward from any date, then backward from the first without a silence."""
        chain = [e for e in self.epochs if e.talker == talker and e.time is not None and e.reason != "void"]
        for epoch in chain:
            day = epoch.date or epoch.zda
            if day is not None:
                epoch.when = dt.datetime.combine(day, dt.time()) + epoch.time
            elif epoch.clock is not None:
                near = first_after(epoch.clock - SLACK, epoch.time)
                epoch.when = near if near <= epoch.clock + SLACK else None
        for before, epoch in pairwise(chain):
            if epoch.when is None and before.when is not None:
                epoch.when = first_after(before.when - SLACK, epoch.time)
        for epoch, after in reversed(list(pairwise(chain))):
            if epoch.when is None and after.when is not None:
                step = first_after(EPOCH + epoch.time - SLACK, after.time) - EPOCH - epoch.time
                if step <= SLACK:
                    epoch.when = after.when - step


def first_after(start, time):
    """The first moment with a time of day that is not before a start."""
    day = dt.datetime.combine(start.date(), dt.time()) - 2 * DAY
    while day + time < start:
        day += DAY
    return day + time
