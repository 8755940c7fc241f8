"""What the still chart and its insets draw, what lies below first, without words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from towzone.record.drawn.activity import Doing
from towzone.record.drawn.coast import Coast
from towzone.record.drawn.frame import Box, LonLat
from towzone.record.drawn.gear import GearDrawing
from towzone.record.drawn.graticule import grid_values
from towzone.record.drawn.paths import TrackDrawing
from towzone.record.drawn.plan import SHAPES, PlanMark
from towzone.record.drawn.scene import RowDrawing, Scene
from towzone.record.drawn.sheet import Sheet, number, svg_path
from towzone.record.drawn.zones import ZoneDrawing

__all__ = ["Stroke", "grid", "grid_lines", "layers", "rectangle", "strokes_of"]

_ARROW = "M0 -8L5.5 6L0 3L-5.5 6Z"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stroke:
    """One thing to draw.

    Parameters
    ----------
    name : str
        Its classes.
    paths : tuple of ndarray (n, 2)
        In degrees; one position for a dot or an arrow.
    box : Box
        Around them.
    closed : bool
        Whether they are an area, shell before holes.
    radius : float
        Of a dot, picture units; 0 for a path.
    heading_deg : float or None
        Of an arrow.
    shape : str
        Of a mark, as a path around its place, picture units; empty for all else.
    insets_too : bool
        Whether insets show it.
    """

    name: str
    paths: tuple[LonLat, ...]
    box: Box
    closed: bool = False
    radius: float = 0.0
    heading_deg: float | None = None
    shape: str = ""
    insets_too: bool = True


def strokes_of(scene: Scene, coast: Coast | None) -> list[Stroke]:
    """Return everything to draw."""
    strokes = list(_land(coast))
    for zone in scene.zones:
        strokes += _zone(zone)
    for track in scene.tracks:
        strokes += _gaps(track)
    for gear in scene.gear:
        strokes += _gear(gear)
    if scene.plan:
        for track in scene.tracks:
            strokes += _casing(track)
    # Where a corrected line runs as the wanted one does, the wanted one shows within its hollow.
    for track in sorted(scene.tracks, key=lambda track: not track.corrected):
        strokes += _track(track)
    for row in scene.rows:
        strokes += _row(row)
    for mark in scene.plan:
        strokes.append(_plan_mark(mark))
    return strokes


def layers(sheet: Sheet, strokes: Sequence[Stroke], *, inset: bool) -> Iterator[str]:
    """Yield as SVG what of it lies on a sheet."""
    for stroke in strokes:
        if stroke.box.intersection(sheet.bled) is None or (inset and not stroke.insets_too):
            continue
        if not stroke.radius and stroke.heading_deg is None and not stroke.shape:
            yield svg_path(sheet, stroke.name, stroke.paths, closed=stroke.closed)
            continue
        at = sheet.xy(stroke.paths[0])
        if sheet.holds(at):
            x, y = number(at[0, 0]), number(at[0, 1])
            if stroke.shape:
                yield f'<path class="{stroke.name}" transform="translate({x} {y})" d="{stroke.shape}"/>'
            elif stroke.heading_deg is None:
                yield f'<circle class="{stroke.name}" cx="{x}" cy="{y}" r="{number(stroke.radius)}"/>'
            else:
                place = f"translate({x} {y}) rotate({stroke.heading_deg})"
                yield f'<path class="{stroke.name}" transform="{place}" d="{_ARROW}"/>'


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


def grid_lines(sheet: Sheet) -> str:
    """Return them as one path, empty text where there are none."""
    box = sheet.box
    across, up = grid(sheet)
    lines = [np.array([[lon, box.south], [lon, box.north]]) for lon in across]
    lines += [np.array([[box.west, lat], [box.east, lat]]) for lat in up]
    return svg_path(sheet, "grid", lines)


def _path(name: str, *paths: LonLat, closed: bool = False, insets_too: bool = True) -> Iterator[Stroke]:
    some = [path for path in paths if len(path)]
    if some:
        box = Box.around(np.vstack(some))
        yield Stroke(name=name, paths=tuple(some), box=box, closed=closed, insets_too=insets_too)


def _dot(name: str, place: LonLat, radius: float) -> Stroke:
    return Stroke(name=name, paths=(place,), box=Box.around(place), radius=radius)


def _land(coast: Coast | None) -> Iterator[Stroke]:
    if coast is None:
        return
    for area in coast.land:
        rings = [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(area)]
        yield from _path("land", *rings, closed=True)
    for line in coast.shore:
        yield from _path("shore", shapely.get_coordinates(line))


def _zone(drawing: ZoneDrawing) -> Iterator[Stroke]:
    kind = drawing.zone.kind
    outside = drawing.zone.rules.allowed_only_inside
    name = f"zone k-{kind}" + ("" if drawing.in_force else " off") + (" outside" if outside else "")
    for area in drawing.margin:
        yield from _path(f"margin m-{kind}", *area, closed=True)
    for area in (*drawing.radius, *drawing.outline.areas):
        yield from _path(f"{name} area", *area, closed=True)
        if outside:
            yield from _path("zone-core", *area, closed=True)
    yield from _path(f"{name} line", *drawing.outline.lines)
    for point in drawing.outline.points:
        yield _dot(f"{name} point", point, 4.0)


def _gaps(drawing: TrackDrawing) -> Iterator[Stroke]:
    for gap in drawing.gaps:
        leaves_open = " open" if gap.leaves_open else ""
        if gap.outline is not None:
            # In an inset it would shade all; there only those that bear on a zone are worth that.
            shown = gap.leaves_open
            yield from _path(f"gap-ellipse{leaves_open}", gap.outline, closed=True, insets_too=shown)
        yield from _path(f"gap{leaves_open}", gap.line)


def _gear(drawing: GearDrawing) -> Iterator[Stroke]:
    whose = " corrected" if drawing.track.corrected else ""
    for area in drawing.corridor:
        yield from _path(f"gear corridor{whose}", *area, closed=True)
    for area in drawing.likely:
        yield from _path(f"gear likely{whose}", *area, closed=True)
    for path in drawing.paths:
        yield from _path(f"gear g-{path.style}{whose}", path.drawn_deg)


def _plan_mark(mark: PlanMark) -> Stroke:
    place = np.array([mark.place])
    name = f"plan-mark p-{mark.kind}" + (" corrected" if mark.corrected else "")
    return Stroke(name=name, paths=(place,), box=Box.around(place), shape=SHAPES[mark.kind])


def _casing(drawing: TrackDrawing) -> Iterator[Stroke]:
    """Yield a light edge that keeps the dashes of planned lines apart from the gear below them."""
    for run in drawing.runs:
        yield from _path("track-casing", drawing.line(run.first, run.last))


def _track(drawing: TrackDrawing) -> Iterator[Stroke]:
    for run in drawing.runs:
        line = drawing.line(run.first, run.last)
        if len(line) == 1:
            yield _dot("lone-fix", line, 2.5)
            continue
        tow = " tow" if run.tow is not None else ""
        corrected = " corrected" if drawing.corrected else ""
        yield from _path(f"track a-{run.activity} t-{drawing.track.kind}{tow}{corrected}", line)
        if drawing.corrected and run.activity is Doing.PLANNED:
            yield from _path("track-core", line)
    marks = [tow.label for tow in drawing.tows]
    for mark in marks if drawing.heading is None else [drawing.heading]:
        place = np.array([[mark.lon_deg, mark.lat_deg]])
        name = "arrow corrected" if drawing.corrected else "arrow"
        yield Stroke(name=name, paths=(place,), box=Box.around(place), heading_deg=mark.heading_deg)


def _row(drawing: RowDrawing) -> Iterator[Stroke]:
    for highlight in drawing.highlights:
        path = highlight.lonlat_deg
        yield from _path(f"highlight {highlight.kind}", path)
        if highlight.kind == "inside":
            yield from _path("highlight-core", path)
    if not drawing.matters:
        return
    if drawing.line is not None:
        yield from _path(f"closest s-{drawing.row.status}", drawing.line)
    if drawing.likely_at is not None:
        yield _dot("likely-at", np.array([drawing.likely_at]), 6.0)
