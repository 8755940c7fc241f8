"""Which columns of a table of fixes hold what, by their names alone."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from towzone.errors import InputError, Problem, quoted
from towzone.files.csv_head import Head, listed
from towzone.files.csv_names import DEGREE_UNITS, LENGTH_UNITS, SPEED_UNITS, plain, time_words, unit_after
from towzone.files.csv_times import TimeWords

__all__ = [
    "Column",
    "PositionColumns",
    "TrackColumns",
    "count_known",
    "identity_columns",
    "name_positions",
    "position_columns",
    "track_columns",
]

_DEGREES = "deg|degs|degrees?|dd|dec|decimal|decdeg|decimaldegrees?|degreesdecimal|degdec|wgs84|epsg4326"
_PACKED = "ddd?mm+|nmea(?:0183)?"
_LAT = re.compile(rf"(?:gps|position|pos)?lat(?:itude)?(?:(?:{_DEGREES})?(?:n|north)?|(?P<packed>{_PACKED}))")
_LON = re.compile(
    rf"(?:gps|position|pos)?(?:lon(?:g|gitude)?|lng)(?:(?:{_DEGREES})?(?:e|east)?|(?P<packed>{_PACKED}))"
)
_LETTER = "(?:hem|hemi|hemisphere|dir|direction|{0}|{0}indicator)"
_NS = re.compile(f"lat(?:itude)?{_LETTER.format('ns')}|ns(?:indicator)?|northsouth|nors")
_EW = re.compile(f"(?:lon(?:g|gitude)?|lng){_LETTER.format('ew')}|ew(?:indicator)?|eastwest|eorw")
_IDENTITIES = {
    "mmsi": ("mmsi", "mmsinumber", "sourcemmsi", "vesselmmsi", "shipmmsi"),
    "vessel": (
        "vessel",
        "vesselname",
        "vesselid",
        "ship",
        "shipname",
        "shipid",
        "boat",
        "boatname",
        "boatid",
    ),
    "call_sign": ("callsign", "ircs"),
    "imo": ("imo", "imonumber"),
    "fleet_number": ("cfr", "cfrnumber", "uvi", "uvinumber"),
    "registration": (
        "registration",
        "registrationnumber",
        "registrationno",
        "regno",
        "regnumber",
        "externalmarking",
        "externalmark",
        "vesselnumber",
        "vesselno",
        "vesselnr",
        "vesselref",
        "vesselregistration",
        "shipnumber",
        "shipno",
        "shipnr",
    ),
}
"""Names of columns that tell vessels apart; of several, the first of these does.

A name for it that is not here mixes vessels into one track, of which those with few fixes are then left out
as out of reach. Common practice, no source.
"""
_ZONES = ("tz", "zone", "timezone", "utcoffset", "gmtoffset", "timeoffset", "zd")
_NO_UNIT = {"": 1.0}
_READINGS: dict[str, tuple[str, tuple[str, ...], Mapping[str, float]]] = {
    "sog_kn": ("speed_kn", ("speedoverground", "sog", "groundspeed", "gpsspeed", "speed"), SPEED_UNITS),
    "cog_deg": ("course_deg", ("courseoverground", "cog", "gpscourse", "course"), DEGREE_UNITS),
    "heading_deg": ("heading_deg", ("trueheading", "heading", "hdt", "hdg"), DEGREE_UNITS),
    "depth_m": ("depth_m", ("waterdepth", "bottomdepth", "depth"), LENGTH_UNITS),
    "warp_m": ("warp_m", ("warplength", "warpout", "warp", "wireout"), LENGTH_UNITS),
    "hdop": ("hdop", ("hdop",), _NO_UNIT),
}
"""Of each reading: how this project calls its column, the words for it, and the units that may follow."""
_NO_WORDS = TimeWords()
_UNITS_TO_SAY = {"sog_kn": "kn, m/s or km/h", "depth_m": "m or ftm", "warp_m": "m or ftm"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column that is read.

    Parameters
    ----------
    index : int
        From 0.
    name : str
        As the file has it; untrusted text.
    role : str
        What it holds.
    factor : float
        What one of its numbers is in the unit of the role; 0 where that is not known.
    packed : bool
        It holds degrees and minutes run together, as receivers write them.
    words : TimeWords
        What the name says of times.
    """

    index: int
    name: str
    role: str
    factor: float = 1.0
    packed: bool = False
    words: TimeWords = _NO_WORDS


@dataclass(frozen=True, slots=True, kw_only=True)
class PositionColumns:
    """The columns of latitudes and longitudes, and of their letters where these have columns of their own."""

    lat: Column
    lon: Column
    ns: Column | None
    ew: Column | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackColumns:
    """The columns of a table of fixes, and what to tell of them.

    ``time`` is none, one, or a date and a time of day; ``identity`` tells vessels apart, those after the
    first only name them.
    """

    lat: Column
    lon: Column
    ns: Column | None
    ew: Column | None
    time: tuple[Column, ...]
    words: TimeWords
    identity: tuple[Column, ...]
    readings: tuple[Column, ...]
    remarks: tuple[str, ...]


def count_known(names: Sequence[str]) -> int:
    """Return how many names have a meaning in a table of fixes."""
    return len({column.role for column in _meanings(names)})


def name_positions(names: Sequence[str]) -> bool:
    """Return whether some names are those of a table of fixes: a latitude and a longitude among them.

    Examples
    --------
    >>> name_positions(["time", "lat", "lon"]), name_positions(["$GPGLL", "5030.0", "N"])
    (True, False)
    """
    return {"lat", "lon"} <= {column.role for column in _meanings(names)}


def identity_columns(names: Sequence[str]) -> list[Column]:
    """Return the columns that tell vessels apart or name them, the one that does first.

    Examples
    --------
    >>> [column.name for column in identity_columns(["time", "ship", "MMSI"])]
    ['MMSI', 'ship']
    """
    found = _meanings(names)
    return [column for role in _IDENTITIES for column in found if column.role == role]


def track_columns(head: Head, file: str) -> TrackColumns:
    """Return the columns of a table of fixes.

    Raises
    ------
    InputError
        No column, or more than one, for latitude, longitude or time; names that seem to be of times and are
        not understood.
    """
    return _Chooser(head, file).columns()


def position_columns(head: Head, file: str, example: str) -> PositionColumns:
    """Return the columns of positions alone, of a table of which nothing else is needed.

    Parameters
    ----------
    head : Head
    file : str
        Path as the user wrote it, for messages.
    example : str
        Names of columns that would do, for messages.

    Raises
    ------
    InputError
        No column, or more than one, for latitude or longitude.
    """
    return _Chooser(head, file, example).positions()


def _meanings(names: Sequence[str]) -> list[Column]:
    found: list[Column] = []
    for index, name in enumerate(names):
        column = _meaning(index, name)
        # A single letter means a hemisphere only behind the figure it belongs to.
        before = found[-1].role if found and found[-1].index == index - 1 else ""
        if column is None and (before, plain(name)) in (
            ("lat", "n"),
            ("lat", "s"),
            ("lon", "e"),
            ("lon", "w"),
        ):
            column = Column(index=index, name=name, role="ns" if before == "lat" else "ew")
        if column is not None:
            found.append(column)
    return found


def _meaning(index: int, name: str) -> Column | None:
    word = plain(name)
    for role, form in (("ns", _NS), ("ew", _EW)):
        if form.fullmatch(word):
            return Column(index=index, name=name, role=role)
    for role, form in (("lat", _LAT), ("lon", _LON)):
        if match := form.fullmatch(word):
            return Column(index=index, name=name, role=role, packed=match["packed"] is not None)
    for role, words in _IDENTITIES.items():
        if word in words:
            return Column(index=index, name=name, role=role)
    for role, (_, words, units) in _READINGS.items():
        factor = unit_after(word, words, units)
        if factor is not None:
            return Column(index=index, name=name, role=role, factor=factor)
    if word in _ZONES:
        return Column(index=index, name=name, role="zone")
    of_time = time_words(name)
    return None if of_time is None else Column(index=index, name=name, role=of_time[0], words=of_time[1])


class _Chooser:
    """Of all columns with a meaning, those that are read; the others are told."""

    def __init__(self, head: Head, file: str, example: str = "time,lat,lon") -> None:
        self.head, self.file, self.example = head, file, example
        self.found = _meanings(head.names)
        self.used: list[Column] = []
        self.remarks: list[str] = []

    def positions(self) -> PositionColumns:
        lat, lon = self._position("lat", "latitude"), self._position("lon", "longitude")
        ns, ew = self._only("ns"), self._only("ew")
        if (ns is None) != (ew is None):
            message = (
                "has a column for the letters of latitudes or of longitudes, but not for both; give both, or"
                " decimal degrees"
            )
            raise self._refused(message)
        return PositionColumns(lat=lat, lon=lon, ns=ns, ew=ew)

    def columns(self) -> TrackColumns:
        where = self.positions()
        time, words = self._time()
        identity = identity_columns(self.head.names)
        self.used += identity[:1]
        readings = self._readings()
        self._tell()
        return TrackColumns(
            lat=where.lat,
            lon=where.lon,
            ns=where.ns,
            ew=where.ew,
            time=time,
            words=words,
            identity=tuple(identity),
            readings=tuple(readings),
            remarks=tuple(self.remarks),
        )

    def _all(self, *roles: str) -> list[Column]:
        return [column for column in self.found if column.role in roles]

    def _position(self, role: str, what: str) -> Column:
        column = self._only(role)
        if column is not None:
            return column
        if self.head.looks_like_data():
            message = f"begins with numbers; the first row must name the columns, for example {self.example}"
            if self.head.comment:
                message += f"; line {self.head.comment} would do, without its '#'"
        elif not self.found:
            message = (
                "this is no table of fixes (nor GPX, nor a log of NMEA 0183 or AIS sentences); a table begins"
                f" with the names of its columns, such as {self.example}; found are {listed(self.head.names)}"
            )
        else:
            message = (
                f"has no column for the {what}; found are {listed(self.head.names)}. Name the columns in the"
                f" first row, for example {self.example}"
            )
        raise self._refused(message)

    def _only(self, *roles: str) -> Column | None:
        """Return the only column of some roles, which is used, or ``None``."""
        found = self._all(*roles)
        if len(found) > 1:
            raise self._several(found)
        self.used += found
        return found[0] if found else None

    def _several(self, found: Sequence[Column]) -> InputError:
        names = listed([column.name for column in found])
        return self._refused(f"has several columns that mean the same: {names}; leave all but one out")

    def _time(self) -> tuple[tuple[Column, ...], TimeWords]:
        """Return the column of times, or those of dates and of times of day, and what they say together."""
        stamp = self._preferred(self._all("stamp"))
        date = None if stamp else self._preferred(self._all("date"))
        clock = None if stamp else self._preferred(self._all("time", "clock"))
        columns = tuple(column for column in (stamp, date, clock) if column is not None)
        if not columns:
            self._refuse_unclear_times()
            self.remarks.append(
                "has no column of times, so that nothing is known of when the vessel was there"
            )
            return (), _NO_WORDS
        if len(columns) == 1 and columns[0].role == "clock":
            message = (
                f"column {quoted(columns[0].name)} holds times of day, and no column holds dates; add one"
                " named date"
            )
            raise self._refused(message)
        self.used += columns
        local = any(column.words.local for column in columns)
        utc = any(column.words.utc for column in columns) and not local
        order = next((column.words.order for column in columns if column.words.order), None)
        zone = bool(self._all("zone"))
        return columns, replace(columns[-1].words, utc=utc, local=local or (zone and not utc), order=order)

    def _preferred(self, found: Sequence[Column]) -> Column | None:
        """Return the only column, or the only one that says it is UTC."""
        if len(found) > 1:
            found = [column for column in found if column.words.utc] or found
            if len(found) > 1:
                raise self._several(found)
        return found[0] if found else None

    def _refuse_unclear_times(self) -> None:
        for name in self.head.names:
            word = plain(name)
            if word.startswith(("time", "date", "utc", "gmt")) or word.endswith("time"):
                message = (
                    f"column {quoted(name)} seems to hold times, but not in a way that is known; name it"
                    " time_utc, or time and state the zone with --track-tz, or leave it out"
                )
                raise self._refused(message)

    def _readings(self) -> list[Column]:
        readings = []
        for role, (spelling, _, _) in _READINGS.items():
            found = self._all(role)
            known = [column for column in found if column.factor]
            readings += known[:1]
            for column in found:
                if not column.factor:
                    units = _UNITS_TO_SAY.get(role, "true degrees")
                    self.remarks.append(
                        f"column {quoted(column.name)} is not used, because its name says no unit that is"
                        f" read ({units}); name it {spelling}, if that is what it is"
                    )
        self.used += readings
        return readings

    def _tell(self) -> None:
        """Say which spellings were taken for what, and which columns are not used."""
        taken = []
        for column in sorted(self.used, key=lambda column: column.index):
            role = _READINGS[column.role][0] if column.role in _READINGS else column.role
            spelled = column.name.lower()
            if spelled not in (role, column.role) and not (role == "clock" and spelled == "time"):
                what = {"ns": "N or S", "ew": "E or W", "stamp": "time", "clock": "time of day"}.get(
                    role, role
                )
                taken.append(f"{quoted(column.name)} as {what}{' (true)' if role == 'heading_deg' else ''}")
        if taken:
            self.remarks.append(f"columns read: {', '.join(taken)}")
        read = {column.index for column in self.used}
        told = {column.index for column in self.found if column.factor == 0.0}
        others = [name for i, name in enumerate(self.head.names) if i not in read | told and name]
        if others:
            self.remarks.append(f"columns not used: {listed(others)}")

    def _refused(self, message: str) -> InputError:
        where = f"line {self.head.line}" if self.head.line else ""
        return InputError(self.file, [Problem(where, message)])
