"""Words on the still chart that cover neither each other nor, where that can be had, what is drawn."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import shapely

from towzone.record.drawn.frame import LonLat
from towzone.record.drawn.sheet import Sheet

__all__ = ["CHARACTER", "LINE", "Labels"]

CHARACTER, LINE = 8.2, 20.0
"""Width of a character and height of a line, picture units; a little more than the font takes up."""

_STEP = 6.0  # picture units between the points by which what is drawn is known


@dataclass(slots=True)
class Labels:
    """What of a sheet is taken.

    Parameters
    ----------
    sheet : Sheet
    taken : list of tuple
        Boxes of words: left, top, right, bottom.
    ink : ndarray, shape (n, 2)
        Points along what is drawn, picture units.
    weight : ndarray, shape (n,)
        How much is lost where a word covers each.
    """

    sheet: Sheet
    taken: list[tuple[float, float, float, float]] = field(default_factory=list)
    ink: LonLat = field(default_factory=lambda: np.empty((0, 2)))
    weight: LonLat = field(default_factory=lambda: np.empty(0))

    def draw(self, paths: Iterable[LonLat], weight: float) -> None:
        """Take note of lines (one position: a mark), in degrees, that words should not cover."""
        points = [self.ink]
        sheet = self.sheet
        for path in paths:
            xy = sheet.xy(path)
            if len(xy) > 1 and (xy != xy[0]).any():
                line = shapely.clip_by_rect(
                    shapely.linestrings(xy), sheet.left, sheet.top, sheet.right, sheet.bottom
                )
                xy = shapely.get_coordinates(shapely.segmentize(line, _STEP))
            points.append(xy)
        self.ink = np.vstack(points)
        more = len(self.ink) - len(self.weight)
        self.weight = np.concatenate([self.weight, np.full(more, weight)])

    def place(
        self,
        width: float,
        tries: Iterable[tuple[float, float]],
        *,
        height: float = LINE,
        most: float = np.inf,
    ) -> tuple[float, float] | None:
        """Return the middle of the box that covers least of what is drawn, the first of equals.

        Parameters
        ----------
        tries : iterable of tuple
            Middles to try, picture units. A box that leaves the sheet or covers a word is none.
        most : float
            ``None`` is returned where every box covers more than that.
        """
        best, least = None, most
        for x, y in tries:
            box = (x - width / 2.0, y - height / 2.0, x + width / 2.0, y + height / 2.0)
            if not self._free(box):
                continue
            covered = self._covered(box)
            if covered < least or (best is None and covered <= least):
                best, least = ((x, y), box), covered
            if covered == 0.0:
                break
        if best is None:
            return None
        self.taken.append(best[1])
        return best[0]

    def _free(self, box: tuple[float, float, float, float]) -> bool:
        left, top, right, bottom = box
        sheet = self.sheet
        if left < sheet.left or right > sheet.right or top < sheet.top or bottom > sheet.bottom:
            return False
        return not any(left < t[2] and t[0] < right and top < t[3] and t[1] < bottom for t in self.taken)

    def _covered(self, box: tuple[float, float, float, float]) -> float:
        x, y = self.ink[:, 0], self.ink[:, 1]
        under = (x > box[0]) & (x < box[2]) & (y > box[1]) & (y < box[3])
        return float(self.weight[under].sum())
