"""GPX 1.0 and 1.1: tracks and routes as columns, all of the file or nothing.

The general-purpose readers that were measured lose points, prefixes or zones without a word, so the
document is walked here, element by element, with the parser of the standard library.

References
----------
GPX 1.1 schema, https://www.topografix.com/GPX/1/1/gpx.xsd, and GPX 1.0,
https://www.topografix.com/GPX/1/0/gpx.xsd (elements, ranges of latitude and longitude, UTC; speed in metres
per second, course in true degrees).
"""

from __future__ import annotations

import zoneinfo
from array import array
from xml.parsers import expat

from towzone.errors import InputError, Problem, quoted
from towzone.files.gpx_content import Columns, GpxContent, Run
from towzone.files.gpx_readings import INSIDE, READINGS, READINGS_INSIDE, fill_up, is_of_the_vessel, possible
from towzone.files.times import TimeReader, TimeTextError
from towzone.tracks.raw import NOT_A_TIME, ZERO_TOLERANCE_DEG
from towzone.words import counted

__all__ = ["Columns", "GpxContent", "Run", "looks_like_xml", "parse_gpx"]

_PIECE_BYTES = 1 << 20
"""Own choice: fed in small pieces, older expat takes quadratic time over one large token."""
_TOKEN_LIMIT_BYTES = 4 << 20
"""Own limit on one tag, comment or attribute; no point needs a thousandth of it."""
_DEPTH_LIMIT = 64
"""Own limit; GPX itself nests four deep, extensions a few levels more."""
_PROBLEM_LIMIT = 1000
_TEXT_LIMIT = 200

_CHILDREN: dict[str | None, dict[str, str]] = {
    None: {},  # whatever stands inside an element that is not read
    "document": {"gpx": "gpx"},
    "gpx": {"trk": "trk", "rte": "rte", "wpt": "wpt"},
    "trk": {"trkseg": "trkseg", "name": "trk/name"},
    "rte": {"rtept": "rtept", "name": "rte/name"},
    "trkseg": {"trkpt": "trkpt"},
    "trkpt": {
        "time": "time",
        "speed": "speed",
        "course": "course",
        "hdop": "hdop",
        "extensions": INSIDE,
    },
    "rtept": {"time": "time", "name": "rtept/name"},
    "wpt": {},
    "time": {},
    "speed": {},
    "course": {},
    "hdop": {},
    "trk/name": {},
    "rte/name": {},
    "rtept/name": {},
    INSIDE: READINGS_INSIDE,
}
"""What each element may hold by local name: matching step by step fixes name and depth at once."""

_BOM_UTF8 = b"\xef\xbb\xbf"


def looks_like_xml(data: bytes) -> bool:
    """Return whether the content begins as XML does, in any encoding GPX is written in."""
    head = _without_head(data[:4096])[0]
    return head.startswith((b"<", b"\xff\xfe<\0", b"\xfe\xff\0<", b"\0<"))


def parse_gpx(data: bytes, file: str, *, track_tz: zoneinfo.ZoneInfo | None = None) -> GpxContent:
    """Return all points of a GPX document.

    Parameters
    ----------
    data : bytes
        The document in the encoding it declares.
    file : str
        Path as the user wrote it, for messages.
    track_tz : ZoneInfo or None
        Zone of times that state none; ``None`` reads them as UTC, which GPX defines.

    Raises
    ------
    InputError
        Damaged or cut off, not GPX, hostile (DOCTYPE, nesting beyond 64, a token beyond 4 MiB), or any
        point with a missing or impossible position or an unreadable time. All such points are named.
    """
    walker = _Walker(track_tz)
    try:
        walker.parse(data)
    except _StopReadingError as stop:
        walker.problems.append(Problem(f"line {walker.line}", str(stop)))
    except expat.ExpatError as error:
        line = error.lineno + walker.skipped_lines
        walker.problems.append(
            Problem(
                f"line {line} column {error.offset + 1}",
                f"the file is damaged or cut off here ({expat.ErrorString(error.code)}), after"
                f" {counted(walker.seen, 'point')}; nothing of it is used. Export it again or mend it",
            )
        )
    except (LookupError, ValueError) as error:
        # The parser asks Python for encodings it does not know itself.
        walker.problems.append(
            Problem("", f"the declared encoding cannot be read ({error}); save it as UTF-8")
        )
    if walker.problems:
        raise InputError(file, walker.problems)
    return walker.content


class _StopReadingError(Exception):
    """Nothing after this place is worth reading."""


def _without_head(data: bytes) -> tuple[bytes, int, bool]:
    """Return the data without blanks and UTF-8 mark before the first tag, the lines cut, and the mark."""
    body = data.lstrip(b" \t\r\n")
    marked = body.startswith(_BOM_UTF8)
    if marked:
        body = body[len(_BOM_UTF8) :].lstrip(b" \t\r\n")
    return body, data[: len(data) - len(body)].count(b"\n"), marked


class _Walker:
    """Handlers of the parser and what they have gathered; roles are the values of `_CHILDREN`."""

    def __init__(self, track_tz: zoneinfo.ZoneInfo | None) -> None:
        self.content = GpxContent()
        self.problems: list[Problem] = []
        self.skipped_lines = 0
        self.seen = 0
        self._times = TimeReader(track_tz)
        self._roles: list[str | None] = ["document"]
        self._group = 0
        self._trk_name = ""
        self._text: list[str] = []
        self._columns = self.content.points
        self._run = Run(0, 0, 0)
        self._prefix = ""
        self._stored = False
        self._timed = False

    def parse(self, data: bytes) -> None:
        """Walk the whole document."""
        body, self.skipped_lines, marked = _without_head(data)
        # A byte order mark is the stronger evidence; some writers declare UTF-16 and save UTF-8.
        self._parser = parser = expat.ParserCreate("utf-8" if marked else None)
        parser.buffer_text = True
        parser.ordered_attributes = True
        parser.StartDoctypeDeclHandler = self._doctype
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        view = memoryview(body)
        for offset in range(0, len(body), _PIECE_BYTES):
            piece = view[offset : offset + _PIECE_BYTES]
            parser.Parse(piece, False)
            if offset + len(piece) - parser.CurrentByteIndex > _TOKEN_LIMIT_BYTES:
                message = "a single tag, comment or text is longer than 4 MiB; this is not a usable GPX file"
                raise _StopReadingError(message)
        parser.Parse(b"", True)
        self.content.notes = self._times.notes
        points = self.content.points
        for column in (points.sog_kn, points.cog_deg, points.hdop):
            if column:
                fill_up(column, len(points.line))

    @property
    def line(self) -> int:
        """Number of the line the parser stands at, as an editor counts."""
        return int(self._parser.CurrentLineNumber) + self.skipped_lines

    def problem(self, message: str) -> None:
        """Note one more thing wrong at the present line; give up when there are too many."""
        self.problems.append(Problem(f"line {self.line}", message))
        if len(self.problems) >= _PROBLEM_LIMIT:
            stop = f"reading stopped after {_PROBLEM_LIMIT} problems"
            raise _StopReadingError(stop)

    def _doctype(self, name: str, *_rest: object) -> None:
        if name.lower() == "html":
            message = "this is a web page, not a GPX file; download the GPX file itself"
        else:
            message = (
                "the file has a DOCTYPE, which no GPX file needs; it is refused because entities can harm"
            )
        raise _StopReadingError(message)

    def _start(self, name: str, attributes: list[str]) -> None:
        roles = self._roles
        children = _CHILDREN[roles[-1]]
        role = children.get(name)
        prefix = ""
        if role is None:
            local = name.rpartition(":")[2]
            role = children.get(local)
            prefix = name[: len(name) - len(local)]
            if len(roles) > _DEPTH_LIMIT:
                message = f"elements are nested more than {_DEPTH_LIMIT} deep; this is not a usable GPX file"
                raise _StopReadingError(message)
            if role is None and len(roles) == 1:
                raise _StopReadingError(_wrong_root(local))
        if role == "time":
            # As with readings, a time of another prefix is a foreign element.
            if prefix == self._prefix:
                self._collect_text()
            else:
                role = None
        elif role == "trkpt" or role == "rtept":
            self._prefix = prefix
            self._point(attributes, planned=role == "rtept")
        elif role is not None:
            role = self._open(role, attributes, prefix)
        elif roles[-1] == INSIDE and is_of_the_vessel(name):
            role = INSIDE
        roles.append(role)

    def _open(self, role: str, attributes: list[str], prefix: str) -> str | None:
        """Begin a rarer element; return its role, ``None`` when it is not read."""
        if role in READINGS:
            # GPX 1.0 lets foreign elements stand beside the point's own; only the prefix tells them apart.
            if self._roles[-1] != INSIDE and prefix != self._prefix:
                return None
            self._collect_text()
        elif role == "rtept/name":
            if prefix != self._prefix:
                return None
            self._collect_text()
        elif role in ("trk/name", "rte/name"):
            self._collect_text()
        elif role == "wpt":
            self.content.waypoints += 1
        elif role == "gpx":
            self.content.version = dict(zip(attributes[::2], attributes[1::2], strict=True)).get(
                "version", ""
            )
        elif role == "trk":
            self._group += 1
            self._trk_name = ""
        elif role == "trkseg":
            self._columns = self.content.points
            self._run = Run(self._group, self.line, len(self._columns.line), name=self._trk_name)
        elif role == "rte":
            self._columns = self.content.route_points
            self._run = Run(len(self.content.routes) + 1, self.line, len(self._columns.line))
        return role

    def _end(self, _name: str) -> None:
        role = self._roles.pop()
        if role is None:
            return
        if role == "time":
            self._time(self._take_text())
        elif role == "trkseg" or role == "rte":
            self._run.stop = len(self._columns.line)
            (self.content.segments if role == "trkseg" else self.content.routes).append(self._run)
        elif role == "trk/name":
            self._trk_name = self._take_text().strip()
        elif role == "rte/name":
            self._run.name = self._take_text().strip()
        elif role == "rtept/name":
            self._point_name(self._take_text().strip())
        elif role in READINGS:
            self._reading(role, self._take_text())

    def _collect_text(self) -> None:
        self._text = []
        self._parser.CharacterDataHandler = self._character_data

    def _character_data(self, text: str) -> None:
        if len(self._text) < _TEXT_LIMIT:
            self._text.append(text[:_TEXT_LIMIT])

    def _take_text(self) -> str:
        self._parser.CharacterDataHandler = None
        return "".join(self._text)[:_TEXT_LIMIT]

    def _point(self, attributes: list[str], *, planned: bool) -> None:
        self.seen += 1
        self._timed = False
        line = self.line
        by_name = dict(zip(attributes[::2], attributes[1::2], strict=True))
        lat_deg = self._coordinate(by_name.get("lat"), "latitude", "lat", 90.0)
        lon_deg = self._coordinate(by_name.get("lon"), "longitude", "lon", 180.0)
        self._stored = lat_deg is not None and lon_deg is not None
        if lat_deg is None or lon_deg is None:
            return
        if abs(lat_deg) <= ZERO_TOLERANCE_DEG and abs(lon_deg) <= ZERO_TOLERANCE_DEG:
            self._stored = False
            if planned:
                self.problem(
                    "the route point stands at 0, 0, which receivers write when they have no position"
                )
            self._run.zero_lines.append(line)
            return
        columns = self._columns
        columns.lon_deg.append(lon_deg)
        columns.lat_deg.append(lat_deg)
        columns.time_us.append(NOT_A_TIME)
        columns.line.append(line)
        if planned:
            self.content.route_names.append("")

    def _point_name(self, text: str) -> None:
        """Keep the first name of a route point."""
        names = self.content.route_names
        if self._stored and not names[-1]:
            names[-1] = text

    def _coordinate(self, text: str | None, what: str, attribute: str, limit_deg: float) -> float | None:
        if text is None:
            self.problem(f"a point has no {what} (attribute {attribute}); every point needs lat and lon")
            return None
        value: float | None
        try:
            value = float(text)
        except ValueError:
            value = None
        # Python also reads 5_5 and digits of other scripts; no GPX writer means either.
        if value is None or "_" in text or not text.isascii():
            hint = "use a point as decimal mark" if "," in text else "write decimal degrees such as 54.5"
            self.problem(f"{what} {quoted(text)} is not a number; {hint}")
            return None
        if not -limit_deg <= value <= limit_deg:  # refuses NaN, too
            self.problem(
                f"{what} {quoted(text)} is outside -{limit_deg:.0f} to {limit_deg:.0f};"
                " check whether latitude and longitude changed places"
            )
            return None
        return value

    def _time(self, text: str) -> None:
        if self._timed:
            self.problem("the point has more than one time")
            return
        self._timed = True
        before = len(self._times.notes)
        try:
            time_us = self._times.read(text)
        except TimeTextError as error:
            self.problem(str(error))
            return
        if len(self._times.notes) > before:
            for note in self._times.notes:
                self.content.first_note_line.setdefault(note, self.line)
        if self._stored:
            self._columns.time_us[-1] = time_us

    def _reading(self, role: str, text: str) -> None:
        """Keep the first reading of its kind of a point; positions matter more, so none refuses the file."""
        if not self._stored:
            return
        name, factor = READINGS[role]
        column: array[float] = getattr(self.content.points, name)
        index = len(self.content.points.line) - 1
        if len(column) > index:
            return
        value = possible(name, text, factor)
        if value is None:
            if not self.content.unread:
                self.content.first_unread = (self.line, f"{role} {quoted(text.strip())}")
            self.content.unread += 1
            return
        fill_up(column, index)
        column.append(value)


def _wrong_root(local: str) -> str:
    if local.lower() == "html":
        return "this is a web page, not a GPX file; download the GPX file itself"
    if local.lower() == "kml":
        return "this is a KML file; this version reads tracks and routes from GPX 1.0 and 1.1 only"
    return f"this is not a GPX file: its first element is {quoted(local)}, a GPX file begins with 'gpx'"
