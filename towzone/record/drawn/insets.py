"""Insets of the still chart: findings too small to be seen on the whole of it, each at its own scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from towzone.record.drawn.frame import metres_per_degree
from towzone.record.drawn.scene import RowDrawing, Scene
from towzone.record.drawn.sheet import WIDTH, Sheet, inset_sheet

__all__ = ["MOST", "Inset", "choose_insets", "insets_height"]

MOST = 4
"""Insets of one record. Own choice: a page of paper holds no more beside the chart."""

_SEEN = 45.0  # picture units, about 8 mm on paper: a closest approach as long as that needs no inset
_LEAST_M, _MOST_M = 1200.0, 12_000.0  # own choice: 100 m are 8 mm on paper in the narrowest
_AROUND = 4.0  # own choice: so many times the distance that is to be seen, across the inset
_GAP, _HEAD = 12.0, 26.0
_HEIGHT = 300.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Inset:
    """A sheet around the closest approach of a row, and the other rows it shows."""

    sheet: Sheet
    rows: tuple[RowDrawing, ...]


def choose_insets(scene: Scene, whole: Sheet) -> tuple[Inset, ...]:
    """Return the insets, the worst row first; rows that one inset shows at once share it."""
    rows = [row for row in scene.rows if row.matters and row.line is not None]
    found: list[Inset] = []
    for row in rows:
        if _length(whole, row) >= _SEEN:
            continue
        at = next((n for n, inset in enumerate(found) if _shown(inset.sheet, row)), None)
        if at is not None:
            found[at] = Inset(sheet=found[at].sheet, rows=(*found[at].rows, row))
        elif len(found) < MOST:
            found.append(Inset(sheet=_around(row, len(found)), rows=(row,)))
    return tuple(found)


def insets_height(count: int) -> float:
    """Return how high the picture of so many insets is."""
    return ((count + 1) // 2) * (_HEAD + _HEIGHT + _GAP)


def _places(row: RowDrawing) -> np.ndarray:
    likely = [] if row.likely_at is None else [row.likely_at]
    line = np.empty((0, 2)) if row.line is None else row.line
    return np.vstack([line, *(np.array([place]) for place in likely)])


def _length(sheet: Sheet, row: RowDrawing) -> float:
    xy = sheet.xy(_places(row))
    return float(np.hypot(*np.ptp(xy, axis=0)))


def _shown(sheet: Sheet, row: RowDrawing) -> bool:
    """Return whether all of a row's closest approach is on a sheet, off its edge and large enough to see."""
    xy = sheet.xy(_places(row))
    off = np.array([0.06 * sheet.width, 0.1 * sheet.height])
    return sheet.holds(xy - off) and sheet.holds(xy + off) and _length(sheet, row) >= 0.1 * sheet.width


def _around(row: RowDrawing, number: int) -> Sheet:
    places = _places(row)
    middle = (places.min(axis=0) + places.max(axis=0)) / 2.0
    scale = np.array(metres_per_degree(float(middle[1])))
    far_m = float(np.hypot(*(np.ptp(places, axis=0) * scale)))
    width = (WIDTH - _GAP) / 2.0
    left, top = (number % 2) * (width + _GAP), (number // 2) * (_HEAD + _HEIGHT + _GAP) + _HEAD
    across_m = float(np.clip(_AROUND * far_m, _LEAST_M, max(_MOST_M, 1.6 * far_m)))
    return inset_sheet((float(middle[0]), float(middle[1])), across_m, (left, top, width, _HEIGHT))
