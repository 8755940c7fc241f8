"""The still chart: a Mercator picture drawn without a browser, for paper and for scripts off."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely

from towzone.record.catalogue import say
from towzone.record.coast import Coast
from towzone.record.data import NAME_LENGTH
from towzone.record.frame import metres_per_degree
from towzone.record.gear import GearDrawing
from towzone.record.graticule import grid_values, latitude_label, longitude_label, round_miles
from towzone.record.paths import TrackDrawing
from towzone.record.scene import RowDrawing, Scene
from towzone.record.sheet import BOTTOM, LEFT, RIGHT, TOP, WIDTH, Sheet, sheet_for, svg_path
from towzone.record.text import escape, short
from towzone.record.zones import ZoneDrawing
from towzone.units import NAUTICAL_MILE_M

__all__ = ["draw_static"]

_CHARACTER, _LINE = 8.2, 20.0


@dataclass(slots=True)
class _Labels:
    """Words on the picture that do not cover each other."""

    taken: list[tuple[float, float, float, float]] = field(default_factory=list)

    def place(
        self, x: float, y: float, width: float, tries: Iterable[tuple[float, float]]
    ) -> tuple[float, float] | None:
        """Return the middle of a free box near a point, ``None`` when every try is taken."""
        for right, down in tries:
            middle = (x + right, y + down)
            box = (
                middle[0] - width / 2.0,
                middle[1] - _LINE / 2.0,
                middle[0] + width / 2.0,
                middle[1] + _LINE / 2.0,
            )
            if not any(
                box[0] < t[2] and t[0] < box[2] and box[1] < t[3] and t[1] < box[3] for t in self.taken
            ):
                self.taken.append(box)
                return middle
        return None


def draw_static(scene: Scene, coast: Coast | None, title: str) -> str:
    """Return the picture as an ``svg`` element.

    Parameters
    ----------
    scene : Scene
    coast : Coast or None
    title : str
        Our own words for those who cannot see it.
    """
    sheet = sheet_for(scene.view)
    parts = [
        f'<svg class="still" viewBox="0 0 {WIDTH:.0f} {sheet.height:.0f}" role="img" '
        f'aria-label="{escape(title)}">',
        '<clipPath id="still-clip">' + _rectangle(sheet, "") + "</clipPath>",
        _rectangle(sheet, "sea"),
        '<g clip-path="url(#still-clip)">',
        *_land(sheet, coast),
        *_grid_lines(sheet),
        *(piece for zone in scene.zones for piece in _zone(sheet, zone)),
        *(piece for gear in scene.gear for piece in _gear(sheet, gear)),
        *(piece for track in scene.tracks for piece in _track(sheet, track)),
        *(piece for row in scene.rows for piece in _row(sheet, row)),
        *_words(sheet, scene),
        "</g>",
        _rectangle(sheet, "neat"),
        *_grid_words(sheet),
        *_scale(sheet),
        "</svg>",
    ]
    return "\n".join(parts)


def _rectangle(sheet: Sheet, name: str) -> str:
    width, height = WIDTH - LEFT - RIGHT, sheet.height - TOP - BOTTOM
    attribute = f' class="{name}"' if name else ""
    return f'<rect{attribute} x="{LEFT:.0f}" y="{TOP:.0f}" width="{width:.0f}" height="{height:.1f}"/>'


def _land(sheet: Sheet, coast: Coast | None) -> Iterator[str]:
    if coast is None:
        return
    box = sheet.box
    for area in coast.land:
        part = shapely.clip_by_rect(area, box.west - 0.1, box.south - 0.1, box.east + 0.1, box.north + 0.1)
        rings = [
            shapely.get_coordinates(ring) for p in shapely.get_parts(part) for ring in shapely.get_rings(p)
        ]
        if rings:
            yield svg_path(sheet, "land", rings, closed=True)
    shores = shapely.clip_by_rect(
        shapely.MultiLineString(list(coast.shore)), box.west, box.south, box.east, box.north
    )
    lines = [shapely.get_coordinates(line) for line in shapely.get_parts(shores)]
    if lines:
        yield svg_path(sheet, "shore", lines)


def _zone(sheet: Sheet, drawing: ZoneDrawing) -> Iterator[str]:
    name = f"zone k-{drawing.zone.kind}" + ("" if drawing.in_force else " off")
    for area in drawing.margin:
        yield svg_path(sheet, "margin", area, closed=True)
    for area in drawing.radius:
        yield svg_path(sheet, f"{name} area", area, closed=True)
    for area in drawing.outline.areas:
        yield svg_path(sheet, f"{name} area", area, closed=True)
    if drawing.outline.lines:
        yield svg_path(sheet, f"{name} line", drawing.outline.lines)
    for point in drawing.outline.points:
        x, y = sheet.xy(point)[0]
        yield f'<circle class="{name} point" cx="{x:.1f}" cy="{y:.1f}" r="4"/>'


def _gear(sheet: Sheet, drawing: GearDrawing) -> Iterator[str]:
    for area in drawing.corridor:
        yield svg_path(sheet, "gear corridor", area, closed=True)
    for area in drawing.likely:
        yield svg_path(sheet, "gear likely", area, closed=True)
    for path in drawing.paths:
        yield svg_path(sheet, f"gear g-{path.style}", [path.drawn_deg])


def _track(sheet: Sheet, drawing: TrackDrawing) -> Iterator[str]:
    for gap in drawing.gaps:
        if gap.outline is not None:
            yield svg_path(sheet, "gap-ellipse", [gap.outline], closed=True)
        yield svg_path(sheet, "gap", [gap.line])
    for run in drawing.runs:
        line = drawing.line(run.first, run.last)
        if len(line) == 1:
            x, y = sheet.xy(line)[0]
            yield f'<circle class="lone-fix" cx="{x:.1f}" cy="{y:.1f}" r="2.5"/>'
            continue
        tow = " tow" if run.tow is not None else ""
        yield svg_path(sheet, f"track a-{run.activity} t-{drawing.track.kind}{tow}", [line])
    marks = [tow.label for tow in drawing.tows]
    for mark in marks if drawing.heading is None else [drawing.heading]:
        x, y = sheet.xy(np.array([[mark.lon_deg, mark.lat_deg]]))[0]
        place = f"translate({x:.1f} {y:.1f}) rotate({mark.heading_deg})"
        yield f'<path class="arrow" transform="{place}" d="M0 -8L5.5 6L0 3L-5.5 6Z"/>'


def _row(sheet: Sheet, drawing: RowDrawing) -> Iterator[str]:
    for highlight in drawing.highlights:
        yield svg_path(sheet, f"highlight {highlight.kind}", [highlight.lonlat_deg])
    if drawing.line is not None and drawing.matters:
        yield svg_path(sheet, f"closest s-{drawing.row.status}", [drawing.line])


def _words(sheet: Sheet, scene: Scene) -> Iterator[str]:
    labels = _Labels()
    yield from _pins(sheet, scene, labels)
    for zone in scene.zones:
        name = f"name k-{zone.zone.kind}"
        is_long = bool(zone.outline.areas or zone.outline.lines)
        yield from _word(sheet, zone.label, name, short(zone.zone.name, NAME_LENGTH), labels, is_long=is_long)
    for track in scene.tracks:
        for tow in track.tows:
            text = say("chart.label.tow", tow=tow.number)
            yield from _word(sheet, (tow.label.lon_deg, tow.label.lat_deg), "tow-name", text, labels)
        for gap in track.gaps:
            middle = gap.line.mean(axis=0)
            yield from _word(sheet, (float(middle[0]), float(middle[1])), "gap-name", gap.text, labels)


def _word(
    sheet: Sheet, at: tuple[float, float], name: str, text: str, labels: _Labels, *, is_long: bool = False
) -> Iterator[str]:
    # Only the name of something long may stand off a little; elsewhere it would point at the wrong thing.
    x, y = sheet.xy(np.array([at]))[0]
    half = len(text) * _CHARACTER / 2.0
    if is_long:
        x = min(max(x, LEFT + half), WIDTH - RIGHT - half)
        tries = [(0.0, i * _LINE) for i in (0, -1, 1, -2, 2)]
    else:
        side = half + 14.0
        tries = [(right, down) for down in (16.0, -16.0) for right in (0.0, side, -side)]
        tries += [(side, 0.0), (-side, 0.0)]
    place = labels.place(x, y, 2.0 * half, tries)
    if place is not None:
        yield _text(*place, name, text)


def _pins(sheet: Sheet, scene: Scene, labels: _Labels) -> Iterator[str]:
    # A number stays at its point unless another is there; its length goes beside it or is left to the table.
    placed = []
    for row in scene.rows:
        if row.matters and row.line is not None:
            x, y = sheet.xy(row.line[:1])[0]
            stack = [(0.0, i * (_LINE + 2.0)) for i in (0, -1, 1, -2, 2)]
            placed.append((row, labels.place(x, y, _LINE, stack) or (float(x), float(y))))
    for row, (x, y) in placed:
        yield f'<circle class="pin s-{row.row.status}" cx="{x:.1f}" cy="{y:.1f}" r="10.5"/>'
        yield _text(x, y, "pin-number", str(row.number))
        width = len(row.label) * _CHARACTER
        beside = [(side * (14.0 + width / 2.0), 0.0) for side in (1.0, -1.0)]
        inside = [(right, down) for right, down in beside if x + right + width / 2.0 < WIDTH - RIGHT]
        place = labels.place(x, y, width, inside)
        if place is not None:
            yield _text(*place, "pin-label", row.label)


def _text(x: float, y: float, name: str, text: str) -> str:
    return f'<text class="{name}" x="{x:.1f}" y="{y + 4.5:.1f}">{escape(text)}</text>'


def _grid(sheet: Sheet) -> tuple[list[float], list[float]]:
    box = sheet.box
    across = grid_values(box.west, box.east, 7)
    return across, grid_values(box.south, box.north, max(int(sheet.height / 110.0), 3))


def _grid_lines(sheet: Sheet) -> Iterator[str]:
    box = sheet.box
    across, up = _grid(sheet)
    lines = [np.array([[lon, box.south], [lon, box.north]]) for lon in across]
    lines += [np.array([[box.west, lat], [box.east, lat]]) for lat in up]
    if lines:
        yield svg_path(sheet, "grid", lines)


def _grid_words(sheet: Sheet) -> Iterator[str]:
    across, up = _grid(sheet)
    for lon in across:
        x = sheet.xy(np.array([[lon, sheet.box.south]]))[0, 0]
        if LEFT + 30.0 < x < WIDTH - RIGHT - 30.0:
            yield _text(x, sheet.height - 14.0, "grid-word", longitude_label(lon))
    for lat in up:
        y = sheet.xy(np.array([[sheet.box.west, lat]]))[0, 1]
        yield _text(LEFT - 6.0, y, "grid-word side", latitude_label(lat))


def _scale(sheet: Sheet) -> Iterator[str]:
    middle_deg = (sheet.box.south + sheet.box.north) / 2.0
    mile = sheet.scale * NAUTICAL_MILE_M / metres_per_degree(middle_deg)[0]
    miles = round_miles((WIDTH - LEFT - RIGHT) * 0.25 / mile)
    x, y, length = LEFT + 16.0, sheet.height - BOTTOM - 16.0, miles * mile
    yield f'<path class="scale" d="M{x:.1f} {y - 6:.1f}v6h{length:.1f}v-6"/>'
    text = f"{miles:g} nmi at {latitude_label(round(middle_deg * 60.0) / 60.0)}"
    yield f'<text class="scale-word" x="{x + 4:.1f}" y="{y - 9:.1f}">{escape(text)}</text>'
    east = WIDTH - RIGHT - 24.0
    yield f'<path class="north" d="M{east:.1f} {TOP + 14:.1f}l7 24l-7 -5l-7 5Z"/>'
    yield f'<text class="north-word" x="{east:.1f}" y="{TOP + 54:.1f}">N</text>'
