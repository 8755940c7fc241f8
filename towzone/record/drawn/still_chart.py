"""The still chart: a Mercator picture drawn without a browser, for paper and for scripts off."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from towzone.record.catalogue import say
from towzone.record.drawn.coast import Coast
from towzone.record.drawn.data import NAME_LENGTH
from towzone.record.drawn.gaps import GapDrawing
from towzone.record.drawn.graticule import latitude_label, longitude_label, round_miles
from towzone.record.drawn.insets import Inset, choose_insets, insets_height
from towzone.record.drawn.paths import TrackDrawing
from towzone.record.drawn.scene import RowDrawing, Scene
from towzone.record.drawn.sheet import BOTTOM, TOP, WIDTH, Sheet, number, sheet_for
from towzone.record.drawn.still_labels import CHARACTER, LINE, Labels
from towzone.record.drawn.still_layers import Stroke, grid, grid_lines, layers, rectangle, strokes_of
from towzone.record.drawn.zones import ZoneDrawing
from towzone.record.text import escape, short
from towzone.units import NAUTICAL_MILE_M

__all__ = ["draw_static"]

_TRACK, _ZONE, _PLACE = 1.0, 2.0, 60.0  # how bad it is that a word covers a point of each
_AWAY = (26.0, 40.0, 58.0)  # picture units between a number and the place it stands for
_MOST_WORDS = 30  # gaps told in words on one sheet, own choice: the table has them all
_TURNS = tuple(np.radians([45.0, -45.0, 135.0, -135.0, 0.0, 90.0, 180.0, -90.0]).tolist())


def draw_static(scene: Scene, coast: Coast | None, title: str) -> str:
    """Return the picture as an ``svg`` element, and a second one with insets where findings are too small.

    Parameters
    ----------
    scene : Scene
    coast : Coast or None
    title : str
        Our own words for those who cannot see it.
    """
    sheet = sheet_for(scene.view)
    insets = choose_insets(scene, sheet)
    strokes = strokes_of(scene, coast)
    pictures = [_picture("still", TOP + sheet.height + BOTTOM, title, _whole(sheet, scene, strokes))]
    if insets:
        pieces = [piece for n, inset in enumerate(insets, 1) for piece in _inset(inset, n, scene, strokes)]
        pictures.append(
            _picture("still insets", insets_height(len(insets)), say("chart.still.insets_title"), pieces)
        )
    return "\n".join(pictures)


def _picture(name: str, height: float, title: str, pieces: Sequence[str]) -> str:
    return "\n".join(
        (
            f'<svg class="{name}" viewBox="0 0 {number(WIDTH)} {number(height)}" role="img" '
            f'aria-label="{escape(title)}">',
            *(piece for piece in pieces if piece),
            "</svg>",
        )
    )


def _framed(
    sheet: Sheet, clip: str, strokes: Sequence[Stroke], words: Sequence[str], *, inset: bool
) -> list[str]:
    return [
        f'<clipPath id="{clip}">{rectangle(sheet, "")}</clipPath>',
        rectangle(sheet, "sea"),
        f'<g clip-path="url(#{clip})">',
        grid_lines(sheet),
        *layers(sheet, strokes, inset=inset),
        *words,
        "</g>",
        rectangle(sheet, "neat"),
    ]


def _whole(sheet: Sheet, scene: Scene, strokes: Sequence[Stroke]) -> list[str]:
    words = list(_words(sheet, scene, [row for row in scene.rows if row.matters]))
    mile = sheet.metre * NAUTICAL_MILE_M
    miles = round_miles(sheet.width * 0.25 / mile)
    middle_deg = round((sheet.box.south + sheet.box.north) * 30.0) / 60.0
    text = say("chart.still.scale", miles=f"{miles:g}", latitude=latitude_label(middle_deg))
    return [
        *_framed(sheet, "still-clip", strokes, words, inset=False),
        *_grid_words(sheet),
        *_scale(sheet, miles * mile, text),
        *_north(sheet),
    ]


def _inset(inset: Inset, at: int, scene: Scene, strokes: Sequence[Stroke]) -> Iterator[str]:
    sheet = inset.sheet
    numbers = ", ".join(str(row.number) for row in inset.rows)
    key = "chart.still.inset" if len(inset.rows) == 1 else "chart.still.inset_many"
    yield f'<text class="scale-word" x="{number(sheet.left)}" y="{number(sheet.top - 8.0)}">'
    yield f"{escape(say(key, numbers=numbers))}</text>"
    words = list(_words(sheet, scene, inset.rows))
    yield from _framed(sheet, f"inset-clip-{at}", strokes, words, inset=True)
    length_m = round_miles(sheet.width * 0.3 / sheet.metre)
    if length_m < NAUTICAL_MILE_M:
        yield from _scale(sheet, length_m * sheet.metre, say("chart.still.metres", metres=f"{length_m:g}"))
        return
    miles = round_miles(sheet.width * 0.3 / sheet.metre / NAUTICAL_MILE_M)
    length = miles * NAUTICAL_MILE_M * sheet.metre
    yield from _scale(sheet, length, say("chart.still.miles", miles=f"{miles:g}"))


def _words(sheet: Sheet, scene: Scene, rows: Sequence[RowDrawing]) -> Iterator[str]:
    labels = Labels(sheet=sheet)
    tracks = [track.line(run.first, run.last) for track in scene.tracks for run in track.runs]
    labels.draw(tracks, _TRACK)
    labels.draw([line for zone in scene.zones for line in zone.outline.lines], _ZONE)
    labels.draw([point for zone in scene.zones for point in zone.outline.points], _PLACE)
    places = [row.line for row in rows if row.line is not None]
    labels.draw([*places, *(end[np.newaxis] for line in places for end in line)], _PLACE)
    labels.draw([np.array([mark.place]) for mark in scene.plan], _PLACE)
    yield from _pins(sheet, rows, labels)
    yield from _plan_words(sheet, scene, labels)
    for track in scene.tracks:
        yield from _tow_names(sheet, track, labels, scene.names.get(track.track.track_id, ""))
    for zone in scene.zones:
        yield from _zone_name(sheet, zone, labels)
    for track in scene.tracks:
        for gap in _named(track.gaps):
            middle = sheet.xy(gap.line.mean(axis=0)[np.newaxis])
            if sheet.holds(middle):
                yield from _word(labels, "gap-name", gap.text, _beside(middle[0], gap.text), most=_PLACE)


def _named(gaps: Sequence[GapDrawing]) -> Sequence[GapDrawing]:
    """Return the gaps that are told in words: those that leave a zone open come first, few in all."""
    return sorted(gaps, key=lambda gap: not gap.leaves_open)[:_MOST_WORDS]


def _pins(sheet: Sheet, rows: Sequence[RowDrawing], labels: Labels) -> Iterator[str]:
    """Yield the numbers, each off the place it stands for with a line to it, and its distance beside it."""
    for row in rows:
        if row.line is None:
            continue
        at = sheet.xy(row.line[:1])
        if not sheet.holds(at):
            continue
        x, y = at[0].tolist()
        round_about = [(x + r * np.cos(t), y + r * np.sin(t)) for r in _AWAY for t in _TURNS]
        width = LINE + 2.0 * len(str(row.number))
        place = labels.place(width, round_about, height=LINE + 2.0) or (x, y)
        yield f'<g class="leader"><path d="M{number(x)} {number(y)}L{number(place[0])} {number(place[1])}"/>'
        yield f'<circle cx="{number(x)}" cy="{number(y)}" r="2.5"/></g>'
        yield _pin(row, *place)
        wide = len(row.label) * CHARACTER
        beside = [(place[0] + side * (15.0 + wide / 2.0), place[1]) for side in (1.0, -1.0)]
        beside += [(place[0], place[1] + side * LINE) for side in (1.0, -1.0)]
        yield from _word(labels, "pin-label", row.label, beside)


def _pin(row: RowDrawing, x: float, y: float) -> str:
    name = f"pin s-{row.row.status}"
    if row.row.status == "undetermined":
        corner = f'x="{number(x - 10.5)}" y="{number(y - 10.5)}"'
        shape = f'<rect class="{name}" {corner} width="21" height="21" rx="2"/>'
    else:
        shape = f'<circle class="{name}" cx="{number(x)}" cy="{number(y)}" r="10.5"/>'
    if row.row.status == "too_close":
        shape += f'<circle class="pin-ring" cx="{number(x)}" cy="{number(y)}" r="8.5"/>'
    return shape + _text(x, y, "pin-number", str(row.number))


def _plan_words(sheet: Sheet, scene: Scene, labels: Labels) -> Iterator[str]:
    """Yield what stands beside the places of a plan, each word nearer to its own than to any other."""
    places = sheet.xy(np.array([mark.place for mark in scene.plan]).reshape(-1, 2))
    for mark, at in zip(scene.plan, places, strict=True):
        others = places[(places != at).any(axis=1)]
        if mark.text and sheet.holds(at[np.newaxis]):
            name = "plan-name corrected" if mark.corrected else "plan-name"
            tries = [one for one in _beside(at, mark.text) if _nearest(one, at, others)]
            yield from _word(labels, name, mark.text, tries, most=_PLACE)


def _nearest(place: tuple[float, float], own: np.ndarray, others: np.ndarray) -> bool:
    far = np.hypot(*(np.asarray(place) - own))
    return bool((np.hypot(*(np.asarray(place) - others).T) > far).all())


def _tow_names(sheet: Sheet, track: TrackDrawing, labels: Labels, line: str) -> Iterator[str]:
    """Yield the number of each tow; of a plan the name of its line, for each is one tow."""
    for tow in track.tows:
        at = sheet.xy(np.array([[tow.label.lon_deg, tow.label.lat_deg]]))
        if sheet.holds(at):
            text = line or say("chart.label.tow", tow=tow.number)
            name = "tow-name corrected" if track.corrected else "tow-name"
            yield from _word(labels, name, text, _beside(at[0], text))


def _zone_name(sheet: Sheet, zone: ZoneDrawing, labels: Labels) -> Iterator[str]:
    text = short(zone.zone.name, NAME_LENGTH)
    name = f"name k-{zone.zone.kind}"
    if not zone.outline.areas and not zone.outline.lines:
        at = sheet.xy(np.array([zone.label]))
        if sheet.holds(at):
            yield from _word(labels, name, text, _beside(at[0], text), most=_PLACE)
        return
    yield from _word(labels, name, text, _along(sheet, zone, text), most=_PLACE)


def _beside(at: np.ndarray, text: str) -> list[tuple[float, float]]:
    """Return places for a word around a point that it must not cover."""
    x, y = at.tolist()
    side = len(text) * CHARACTER / 2.0 + 14.0
    return [(x + right, y + down) for down in (-20.0, 20.0, -32.0, 32.0) for right in (0.0, side, -side)] + [
        (x + side, y),
        (x - side, y),
    ]


def _along(sheet: Sheet, zone: ZoneDrawing, text: str) -> list[tuple[float, float]]:
    """Return places for the name of an area, in it, or of a line, beside it, where that is on the sheet."""
    half = len(text) * CHARACTER / 2.0
    inside = (sheet.left + half, sheet.top + LINE, sheet.right - half, sheet.bottom - LINE)
    tries: list[tuple[float, float]] = []
    shapes = zone.outline.shapes()
    for shape in shapes:
        drawn = shapely.transform(shape, sheet.xy)
        seen = shapely.clip_by_rect(drawn, sheet.left, sheet.top, sheet.right, sheet.bottom)
        if shapely.is_empty(seen):
            continue
        if shapely.get_dimensions(seen) == 2:
            at = shapely.get_coordinates(shapely.point_on_surface(seen))[0]
            tries += [
                (at[0] + right, at[1] + down) for right in (0.0, half) for down in (0, 20, -20, 40, -40)
            ]
        elif shapely.get_dimensions(seen) == 1:
            longest = max(shapely.get_parts(seen), key=shapely.length)
            parts = shapely.line_interpolate_point(longest, [0.5, 0.35, 0.65, 0.2, 0.8], normalized=True)
            tries += [(x, y + down) for x, y in shapely.get_coordinates(parts) for down in (-18, 18, -30, 30)]
            tries += [(x + s * (half + 12.0), y) for x, y in shapely.get_coordinates(parts) for s in (1, -1)]
    if inside[0] >= inside[2]:
        return []
    return [
        (float(np.clip(x, inside[0], inside[2])), float(np.clip(y, inside[1], inside[3]))) for x, y in tries
    ]


def _word(
    labels: Labels, name: str, text: str, tries: Sequence[tuple[float, float]], most: float = np.inf
) -> Iterator[str]:
    place = labels.place(len(text) * CHARACTER, tries, most=most)
    if place is not None:
        yield _text(*place, name, text)


def _text(x: float, y: float, name: str, text: str) -> str:
    return f'<text class="{name}" x="{number(x)}" y="{number(y + 4.5)}">{escape(text)}</text>'


def _grid_words(sheet: Sheet) -> Iterator[str]:
    across, up = grid(sheet)
    for lon in across:
        x = float(sheet.xy(np.array([[lon, sheet.box.south]]))[0, 0])
        if sheet.left + 30.0 < x < sheet.right - 30.0:
            yield _text(x, sheet.bottom + 16.0, "grid-word", longitude_label(lon))
    for lat in up:
        y = float(sheet.xy(np.array([[sheet.box.west, lat]]))[0, 1])
        yield _text(sheet.left - 6.0, y, "grid-word side", latitude_label(lat))


def _scale(sheet: Sheet, length: float, text: str) -> Iterator[str]:
    x, y = sheet.left + 16.0, sheet.bottom - 16.0
    yield f'<path class="scale" d="M{number(x)} {number(y - 6.0)}v6h{number(length)}v-6"/>'
    yield f'<text class="scale-word" x="{number(x + 4.0)}" y="{number(y - 9.0)}">{escape(text)}</text>'


def _north(sheet: Sheet) -> Iterator[str]:
    east, top = sheet.right - 24.0, sheet.top
    yield f'<path class="north" d="M{number(east)} {number(top + 14.0)}l7 24l-7 -5l-7 5Z"/>'
    word = escape(say("chart.still.north"))
    yield f'<text class="north-word" x="{number(east)}" y="{number(top + 54.0)}">{word}</text>'
