"""Gaps as drawn: the line that says nothing is known there, and where the vessel can have been."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from towzone.model.result import Gap
from towzone.record.catalogue import say
from towzone.record.drawn.ellipses import LARGEST_M, clipped, reach_outline
from towzone.record.drawn.frame import Box, LonLat
from towzone.units import format_duration, format_length

__all__ = ["ALL_OUTLINES", "MOST_OUTLINES", "GapDrawing", "clip_gap", "draw_gaps"]

ALL_OUTLINES = 200
"""Gaps of a track up to which each is drawn with where the vessel can have been; beyond, only those that
leave a zone open. Own choice: more of them hide each other and the chart."""

MOST_OUTLINES = 1000
"""Of those that leave a zone open, the longest are drawn so. Own choice: about 1 MB of page."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapDrawing:
    """One gap.

    Parameters
    ----------
    fix : int
        Index of the drawn fix before it.
    line : ndarray, shape (2, 2)
        From the fix before to the fix after.
    text : str
    outline : ndarray, shape (n, 2), or None
        Ring around all places where the vessel can have been; ``None`` where that is not known, too large
        to draw, or left out because there are too many.
    leaves_open : bool
        Whether the vessel can have been where some zone does not allow it.
    """

    fix: int
    line: LonLat
    text: str
    outline: LonLat | None
    leaves_open: bool


def draw_gaps(
    gaps: Sequence[Gap], lonlat_deg: LonLat, index: npt.NDArray[np.int64], *, zones: bool
) -> tuple[GapDrawing, ...]:
    """Return the gaps of one track.

    Parameters
    ----------
    gaps : sequence of Gap
    lonlat_deg : ndarray, shape (n, 2)
        Every fix in the frame of the chart.
    index : ndarray of int, shape (n,)
        Of each fix among those drawn.
    zones : bool
        Whether there are zones that a gap could leave open.
    """
    outlined = _outlined(gaps, zones=zones)
    drawings = []
    for number, gap in enumerate(gaps):
        line = lonlat_deg[gap.fix : gap.fix + 2]
        with_outline = number in outlined and gap.reach_m is not None
        drawings.append(
            GapDrawing(
                fix=int(index[gap.fix]),
                line=line,
                text=_text(gap),
                outline=reach_outline(line, gap.reach_m)
                if with_outline and gap.reach_m is not None
                else None,
                leaves_open=_leaves_open(gap, zones=zones),
            )
        )
    return tuple(drawings)


def clip_gap(gap: GapDrawing, window: Box) -> GapDrawing:
    """Return a gap with the outline cut where the chart ends."""
    if gap.outline is None:
        return gap
    return replace(gap, outline=clipped(gap.outline, window))


def _leaves_open(gap: Gap, *, zones: bool) -> bool:
    return bool(gap.could_reach) or (gap.reach_m is None and zones)


def _outlined(gaps: Sequence[Gap], *, zones: bool) -> frozenset[int]:
    if len(gaps) <= ALL_OUTLINES:
        return frozenset(range(len(gaps)))
    known = [
        (gap.reach_m, number)
        for number, gap in enumerate(gaps)
        if gap.reach_m is not None and _leaves_open(gap, zones=zones)
    ]
    longest = sorted(known, key=lambda pair: (-pair[0], pair[1]))[:MOST_OUTLINES]
    return frozenset(number for _, number in longest)


def _text(gap: Gap) -> str:
    if gap.reach_m is None:
        if gap.seconds is None:
            return say("chart.gap.untimed")
        return say("chart.gap.no_bound", duration=format_duration(gap.seconds))
    duration = "" if gap.seconds is None else format_duration(gap.seconds)
    if gap.reach_m > LARGEST_M:
        return say("chart.gap.too_large", duration=duration, reach=format_length(gap.reach_m / 2.0))
    return say("chart.gap.timed", duration=duration)
