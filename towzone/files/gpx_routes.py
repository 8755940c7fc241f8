"""Planned lines to GPX 1.1 routes for plotters.

References
----------
GPX 1.1 schema, https://www.topografix.com/GPX/1/1/gpx.xsd: order of elements, ``version`` and ``creator``,
latitude from -90 to 90, longitude from -180 to below 180, UTC.
Extensible Markup Language (XML) 1.0, fifth edition, section 2.2: the characters there are.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from xml.sax.saxutils import escape

from towzone.caution import CAUTION
from towzone.model.plan import POSITION_DECIMALS, PlannedLine
from towzone.units import Instants, format_instant

__all__ = ["gpx_route"]

_LONGEST_POINT, _LONGEST_ROUTE = 10, 20
"""Characters of a name that plotters show in full. Common practice, no source."""
_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_NO_NAME = re.compile(r"[^A-Za-z0-9 _.+()-]")
"""Own choice: what every plotter can show in a name."""

_PLAIN_LETTERS = str.maketrans(
    {"ø": "o", "Ø": "O", "æ": "ae", "Æ": "AE", "ß": "ss", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D"}
    | {"ð": "d", "Ð": "D", "þ": "th", "Þ": "Th", "œ": "oe", "Œ": "OE", "ı": "i"}
)
"""Letters that are no plain one with a mark on it. Common practice, no source."""


def gpx_route(
    lines: Sequence[PlannedLine], *, times: Sequence[Instants | None] = (), description: str = ""
) -> str:
    """Return planned lines as a GPX 1.1 document, a route each.

    Parameters
    ----------
    lines : sequence of PlannedLine
        At least one.
    times : sequence of Instants or None
        When the corners of each line are passed, UTC; none at all where it is empty.
    description : str
        What the routes are, for people; stands before the caution.

    Notes
    -----
    Names are cut to 20 characters of plain ASCII for routes and 10 for points, and differ within the
    document; points without a name are counted, ``TZ01`` and on. The name of a line in full is in the
    description of its route.
    """
    if not lines:
        message = "a GPX document needs at least one line"
        raise ValueError(message)
    if times and len(times) != len(lines):
        message = "there are not as many times as lines"
        raise ValueError(message)
    about = f"{description.strip()} {CAUTION}".strip()
    routes = _Names(_LONGEST_ROUTE)
    points = _point_names(lines)
    return "".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>\n',
            '<gpx version="1.1" creator="towzone" xmlns="http://www.topografix.com/GPX/1/1">\n',
            f"  <metadata>\n    <desc>{_text(about)}</desc>\n  </metadata>\n",
            *(
                part
                for number, line in enumerate(lines, start=1)
                for part in _route(
                    line,
                    number,
                    routes.given(_leaf(line.name)) or routes.given(f"TZ route {number}"),
                    points[number - 1],
                    times[number - 1] if times else None,
                )
            ),
            "</gpx>\n",
        ]
    )


def _route(
    line: PlannedLine, number: int, name: str, points: Sequence[str], times: Instants | None
) -> Iterator[str]:
    yield f"  <rte>\n    <name>{_text(name)}</name>\n"
    yield f"    <desc>{_text(line.name)}</desc>\n    <number>{number}</number>\n"
    yield "    <type>planned tow</type>\n"
    for at, point in enumerate(points):
        lat, lon = _degrees(float(line.lat_deg[at])), _longitude(float(line.lon_deg[at]))
        yield f'    <rtept lat="{lat}" lon="{lon}">'
        when = None if times is None else format_instant(times[at])
        if when is not None:
            yield f"<time>{when}</time>"
        yield f"<name>{_text(point)}</name></rtept>\n"
    yield "  </rte>\n"


def _degrees(value: float) -> str:
    # No negative nought: what is next to 0 may round to it.
    return f"{round(value, POSITION_DECIMALS) + 0.0:.{POSITION_DECIMALS}f}"


def _longitude(value: float) -> str:
    """Return a longitude below 180: the schema has no 180, which is -180."""
    text = _degrees(value)
    return text if float(text) < 180.0 else _degrees(-180.0)


def _text(text: str) -> str:
    return escape(_NO_XML.sub("", text))


# Names.


def _leaf(name: str) -> str:
    """Return the name of a line without that of its file before it."""
    return name.partition("/")[2] or name


def _point_names(lines: Sequence[PlannedLine]) -> list[list[str]]:
    """Return the names of all points, line by line; those that a file gave come before counted ones."""
    names = _Names(_LONGEST_POINT)
    found = [[names.given(name) for name in line.point_names] for line in lines]
    number = 0
    for own in found:
        for at in range(len(own)):
            while not own[at]:
                number += 1
                if names.is_free(f"TZ{number:02d}"):
                    own[at] = names.given(f"TZ{number:02d}")
    return found


class _Names:
    """Names that plotters can show, each given once."""

    def __init__(self, longest: int) -> None:
        self._longest = longest
        self._taken: set[str] = set()

    def is_free(self, name: str) -> bool:
        """Return whether a name has not been given, in whatever case."""
        return name.upper() not in self._taken

    def given(self, text: str) -> str:
        """Return a text as a name, short and told apart from those before; empty where nothing is left."""
        base = self._plain(text)
        if not base:
            return ""
        name, number = base, 1
        while not self.is_free(name):
            number += 1
            end = f"-{number}"
            name = f"{base[: self._longest - len(end)].rstrip()}{end}"
        self._taken.add(name.upper())
        return name

    def _plain(self, text: str) -> str:
        # An accent is taken off its letter; what has no plain form is left out.
        apart = unicodedata.normalize("NFKD", text.translate(_PLAIN_LETTERS))
        kept = " ".join(_NO_NAME.sub("", apart.encode("ascii", "ignore").decode("ascii")).split())
        return kept[: self._longest].strip()
