"""What the still chart and its insets draw, layer by layer, as SVG without words."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from towzone.record.coast import Coast
from towzone.record.gear import GearDrawing
from towzone.record.graticule import grid_values
from towzone.record.paths import TrackDrawing
from towzone.record.scene import RowDrawing, Scene
from towzone.record.sheet import Sheet, number, svg_path
from towzone.record.zones import ZoneDrawing

__all__ = ["grid", "layers", "rectangle"]


def layers(sheet: Sheet, scene: Scene, coast: Coast | None, *, inset: bool) -> Iterator[str]:
    """Yield everything drawn inside the frame of a sheet, what lies below first.

    In an inset only gaps that leave a zone open are drawn with where the vessel can have been: others would
    shade it all and say nothing of what it is about.
    """
    yield from _land(sheet, coast)
    yield from _grid_lines(sheet)
    for zone in scene.zones:
        yield from _zone(sheet, zone)
    for track in scene.tracks:
        yield from _gaps(sheet, track, inset=inset)
    for gear in scene.gear:
        yield from _gear(sheet, gear)
    for track in scene.tracks:
        yield from _track(sheet, track)
    for row in scene.rows:
        yield from _row(sheet, row)


def rectangle(sheet: Sheet, name: str) -> str:
    """Return the frame of a sheet."""
    attribute = f' class="{name}"' if name else ""
    return (
        f'<rect{attribute} x="{number(sheet.left)}" y="{number(sheet.top)}" '
        f'width="{number(sheet.width)}" height="{number(sheet.height)}"/>'
    )


def grid(sheet: Sheet) -> tuple[list[float], list[float]]:
    """Return the meridians and parallels of a sheet, degrees."""
    box = sheet.box
    across = grid_values(box.west, box.east, max(int(sheet.width / 130.0), 2))
    return across, grid_values(box.south, box.north, max(int(sheet.height / 110.0), 2))


def _grid_lines(sheet: Sheet) -> Iterator[str]:
    box = sheet.box
    across, up = grid(sheet)
    lines = [np.array([[lon, box.south], [lon, box.north]]) for lon in across]
    lines += [np.array([[box.west, lat], [box.east, lat]]) for lat in up]
    if lines:
        yield svg_path(sheet, "grid", lines)


def _land(sheet: Sheet, coast: Coast | None) -> Iterator[str]:
    if coast is None:
        return
    for area in coast.land:
        yield svg_path(
            sheet, "land", [shapely.get_coordinates(r)[:-1] for r in shapely.get_rings(area)], closed=True
        )
    yield svg_path(sheet, "shore", [shapely.get_coordinates(line) for line in coast.shore])


def _zone(sheet: Sheet, drawing: ZoneDrawing) -> Iterator[str]:
    kind = drawing.zone.kind
    outside = drawing.zone.rules.allowed_only_inside
    name = f"zone k-{kind}" + ("" if drawing.in_force else " off") + (" outside" if outside else "")
    for area in drawing.margin:
        yield svg_path(sheet, f"margin m-{kind}", area, closed=True)
    for area in (*drawing.radius, *drawing.outline.areas):
        yield svg_path(sheet, f"{name} area", area, closed=True)
        if outside:
            yield svg_path(sheet, "zone-core", area, closed=True)
    if drawing.outline.lines:
        yield svg_path(sheet, f"{name} line", drawing.outline.lines)
    for point in drawing.outline.points:
        xy = sheet.xy(point)
        if sheet.holds(xy):
            yield _circle(f"{name} point", xy[0], 4.0)


def _circle(name: str, xy: np.ndarray, radius: float) -> str:
    return f'<circle class="{name}" cx="{number(xy[0])}" cy="{number(xy[1])}" r="{number(radius)}"/>'


def _gaps(sheet: Sheet, drawing: TrackDrawing, *, inset: bool) -> Iterator[str]:
    for gap in drawing.gaps:
        leaves_open = " open" if gap.leaves_open else ""
        if gap.outline is not None and (gap.leaves_open or not inset):
            yield svg_path(sheet, f"gap-ellipse{leaves_open}", [gap.outline], closed=True)
        yield svg_path(sheet, f"gap{leaves_open}", [gap.line])


def _gear(sheet: Sheet, drawing: GearDrawing) -> Iterator[str]:
    for area in drawing.corridor:
        yield svg_path(sheet, "gear corridor", area, closed=True)
    for area in drawing.likely:
        yield svg_path(sheet, "gear likely", area, closed=True)
    for path in drawing.paths:
        yield svg_path(sheet, f"gear g-{path.style}", [path.drawn_deg])


def _track(sheet: Sheet, drawing: TrackDrawing) -> Iterator[str]:
    for run in drawing.runs:
        line = drawing.line(run.first, run.last)
        if len(line) == 1:
            xy = sheet.xy(line)
            if sheet.holds(xy):
                yield _circle("lone-fix", xy[0], 2.5)
            continue
        planned = f" t-{drawing.track.kind}"
        tow = " tow" if run.tow is not None else ""
        yield svg_path(sheet, f"track a-{run.activity}{planned}{tow}", [line])
    marks = [tow.label for tow in drawing.tows]
    for mark in marks if drawing.heading is None else [drawing.heading]:
        xy = sheet.xy(np.array([[mark.lon_deg, mark.lat_deg]]))
        if sheet.holds(xy):
            place = f"translate({number(xy[0, 0])} {number(xy[0, 1])}) rotate({mark.heading_deg})"
            yield f'<path class="arrow" transform="{place}" d="M0 -8L5.5 6L0 3L-5.5 6Z"/>'


def _row(sheet: Sheet, drawing: RowDrawing) -> Iterator[str]:
    for highlight in drawing.highlights:
        path = [highlight.lonlat_deg]
        yield svg_path(sheet, f"highlight {highlight.kind}", path)
        if highlight.kind == "inside":
            yield svg_path(sheet, "highlight-core", path)
    if not drawing.matters:
        return
    if drawing.line is not None:
        yield svg_path(sheet, f"closest s-{drawing.row.status}", [drawing.line])
    if drawing.likely_at is not None:
        xy = sheet.xy(np.array([drawing.likely_at]))
        if sheet.holds(xy):
            yield _circle("likely-at", xy[0], 6.0)
