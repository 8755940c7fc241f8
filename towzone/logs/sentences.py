"""What the sentences of one piece of a log say, as columns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.logs.fields import Piece
from towzone.logs.positions import Positions, read_positions
from towzone.logs.readings import (
    Clocks,
    Datum,
    Values,
    read_clocks,
    read_datums,
    read_depths,
    read_headings,
    read_motions,
)

__all__ = ["Said", "read_sentences"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Said:
    """Everything the sentences of one piece say.

    Parameters
    ----------
    positions : Positions
    place : ndarray of int64, shape (n,)
        Where in the piece the sentence of each position begins.
    values : dict of str to Values
        ``sog`` and ``cog`` of VTG, ``hdt``, ``hdg`` (made true), ``dpt`` (with an offset to the waterline
        added), ``dbt``; known ones only.
    clocks : Clocks
        Complete ones only.
    datums : list of Datum
    counts : dict of str to int
        By words of the tally.
    """

    positions: Positions
    place: npt.NDArray[np.int64]
    values: dict[str, Values]
    clocks: Clocks
    datums: list[Datum]
    counts: dict[str, int]


def read_sentences(piece: Piece) -> Said:
    """Return what the sentences of a piece say."""
    positions, place, counts = read_positions(piece)
    depths, surface = read_depths(piece)
    clocks, bad_clocks = read_clocks(piece)
    counts["bad_time_or_date"] += bad_clocks
    counts["depths_from_waterline"] = surface
    return Said(
        positions=positions,
        place=place,
        values=read_motions(piece) | read_headings(piece) | depths,
        clocks=clocks,
        datums=read_datums(piece),
        counts=counts,
    )
