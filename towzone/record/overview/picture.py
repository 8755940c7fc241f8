"""Where the worst of each vessel was: points on a plain grid, drawn without coast or zones."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from towzone.model.fleet import FleetOutcome, VesselLine
from towzone.record.catalogue import say, say_count
from towzone.record.drawn.frame import Box, LonLat
from towzone.record.drawn.graticule import grid_values, latitude_label, longitude_label
from towzone.record.drawn.sheet import BOTTOM, WIDTH, Sheet, number, sheet_for
from towzone.record.text import escape

__all__ = ["picture_part"]

_MOST_LINES = 8
"""Of the grid, each way. Own choice."""

_MOST_POINTS = 2000
"""The worst so many vessels. Own choice: more would hide each other."""

_LEAST_M = 20_000.0
"""Own choice: a single point is shown with this much sea on each side."""

_DRAWN = {FleetOutcome.FINDING: "p-finding", FleetOutcome.UNDETERMINED: "p-open"}


def picture_part(lines: Sequence[VesselLine]) -> str:
    """Return the picture with what it shows as HTML; empty where nothing is to be shown.

    Parameters
    ----------
    lines : sequence of VesselLine
        Worst first.
    """
    shown = [line for line in lines if line.standing in _DRAWN and _place(line) is not None]
    if not shown:
        return ""
    drawn = shown[:_MOST_POINTS]
    open_still = sum(line.standing in _DRAWN for line in lines)
    places = _without_jump(np.array([_place(line) for line in drawn], dtype=np.float64))
    sheet = sheet_for(Box.around(places).padded(0.05, _LEAST_M))
    height = number(sheet.bottom + BOTTOM)
    title = escape(say("overview.picture.title"))
    words = [say_count("overview.picture.shown", len(drawn))]
    if open_still > len(drawn):
        words.append(say_count("overview.picture.missing", open_still - len(drawn)))
    words.append(say("overview.picture.marks"))
    return (
        f'<figure class="findings-picture"><svg viewBox="0 0 {number(WIDTH)} {height}" role="img" '
        f'aria-label="{title}">{"".join(_grid(sheet))}{"".join(_points(sheet, places, drawn))}</svg>\n'
        f"<figcaption>{escape(' '.join(words))}</figcaption></figure>"
    )


def _place(line: VesselLine) -> tuple[float, float] | None:
    if not line.worst_status or line.worst_lon_deg is None or line.worst_lat_deg is None:
        return None
    return line.worst_lon_deg, line.worst_lat_deg


def _without_jump(lonlat_deg: LonLat) -> LonLat:
    """Return positions with longitudes that run on over 180 degrees, begun after the widest empty sea."""
    lon = np.sort(lonlat_deg[:, 0] % 360.0)
    empty = np.diff(lon, append=lon[0] + 360.0)
    begin = lon[(int(np.argmax(empty)) + 1) % len(lon)]
    run = (lonlat_deg[:, 0] - begin) % 360.0 + begin
    # Most seas are then told in the longitudes that people use.
    run = run - 360.0 if run.min() > 180.0 else run
    return np.column_stack([run, lonlat_deg[:, 1]])


def _grid(sheet: Sheet) -> Iterator[str]:
    box = sheet.box
    yield (
        f'<path class="p-sea" d="M{number(sheet.left)} {number(sheet.top)}H{number(sheet.right)}'
        f'V{number(sheet.bottom)}H{number(sheet.left)}Z"/>'
    )
    for lon in grid_values(box.west, box.east, _MOST_LINES):
        x = number(float(sheet.xy(np.array([[lon, box.south]]))[0, 0]))
        yield f'<path class="p-grid" d="M{x} {number(sheet.top)}V{number(sheet.bottom)}"/>'
        low, words = number(sheet.bottom + 20.0), escape(longitude_label(lon))
        yield f'<text class="p-word" text-anchor="middle" x="{x}" y="{low}">{words}</text>'
    for lat in grid_values(box.south, box.north, _MOST_LINES):
        y = float(sheet.xy(np.array([[box.west, lat]]))[0, 1])
        yield f'<path class="p-grid" d="M{number(sheet.left)} {number(y)}H{number(sheet.right)}"/>'
        side, middle = number(sheet.left - 6.0), number(y + 5.0)
        words = escape(latitude_label(lat))
        yield f'<text class="p-word" text-anchor="end" x="{side}" y="{middle}">{words}</text>'


def _points(sheet: Sheet, places: LonLat, lines: Sequence[VesselLine]) -> Iterator[str]:
    """Yield a mark for each vessel, findings last, so that no open one covers them."""
    xy = sheet.xy(places).tolist()
    for standing in (FleetOutcome.UNDETERMINED, FleetOutcome.FINDING):
        for line, (x, y) in zip(lines, xy, strict=True):
            if line.standing is standing:
                yield _mark(standing, x, y)


def _mark(standing: FleetOutcome, x: float, y: float) -> str:
    name = _DRAWN[standing]
    if standing is FleetOutcome.FINDING:
        return f'<path class="{name}" d="M{number(x)} {number(y - 8.0)}l8 14h-16Z"/>'
    return f'<circle class="{name}" cx="{number(x)}" cy="{number(y)}" r="6"/>'
