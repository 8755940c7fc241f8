"""Where each sentence stood whose moment has positions far apart, kept while the log is read.

An epoch is one row; of most of them nothing more is needed. Where its positions lie far apart, each of them
is kept, for they may be of two devices.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Self

import numpy as np
import numpy.typing as npt

from towzone.logs.positions import Positions, no_positions

__all__ = ["DEGREE_M", "FAR_M", "Told", "ToldKeeper", "epoch_keys"]

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

FAR_M = 50.0
"""Own choice: positions of one epoch differ by rounding and smoothing only, metres at most."""
DEGREE_M = 111_320.0
"""Length of a degree along the equator, WGS 84: the longest there is but for latitude near the poles."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Told:
    """Positions of sentences, one row for each.

    Parameters
    ----------
    sender : ndarray of int16, shape (n,)
    epoch : ndarray of int64, shape (n,)
        Which epoch it belongs to, see `epoch_keys`.
    line : ndarray of int64, shape (n,)
        Of the sentence, from 1.
    lon_deg, lat_deg : ndarray of float64, shape (n,)
    places : ndarray of int16, shape (n,)
        Decimals of its minutes.
    """

    sender: npt.NDArray[np.int16]
    epoch: Ints
    line: Ints
    lon_deg: Floats
    lat_deg: Floats
    places: npt.NDArray[np.int16]

    def __len__(self) -> int:
        return len(self.line)

    def take(self, index: Ints | Flags) -> Self:
        """Return some of the rows."""
        return replace(self, **{f.name: getattr(self, f.name)[index] for f in fields(self)})


def epoch_keys(
    line: npt.NDArray[np.unsignedinteger] | Ints, seq: npt.NDArray[np.unsignedinteger] | Ints
) -> Ints:
    """Return one number for each epoch, by its first line and the number of its first sentence."""
    return line.astype(np.int64) << 16 | seq.astype(np.int64) & 0xFFFF


class ToldKeeper:
    """Keeps the positions of epochs far apart; those of open epochs until it is known what they are."""

    def __init__(self) -> None:
        self._held: dict[int, list[Told]] = {}
        self._far: list[Told] = []

    def add(self, members: Positions, firsts: Ints, fresh: Flags, epochs: Positions) -> None:
        """Take in the sentences of a piece.

        Parameters
        ----------
        members : Positions
            Sentences in the order of senders and epochs, and open epochs of before as the first of theirs.
        firsts : ndarray of int64, shape (m,)
            The first member of each epoch.
        fresh : ndarray of bool
            Which members are sentences.
        epochs : Positions
            The m epochs made of them; the last of each sender is still open.
        """
        if not len(epochs):
            return
        far = _far_apart(epochs)
        last = np.append(np.diff(epochs.sender) != 0, True)
        sizes = np.diff(np.append(firsts, len(members)))
        rows = np.flatnonzero(np.repeat(far | last, sizes) & fresh & (members.rank > 0))
        group = np.repeat(np.arange(len(firsts)), sizes)[rows]
        told = _told(members, rows, epoch_keys(epochs.line, epochs.seq)[group])
        self._keep(told.take(far[group]))
        for end in np.flatnonzero(last).tolist():
            sender = int(epochs.sender[end])
            begin = int(np.searchsorted(epochs.sender, sender))
            held = self._held.pop(sender, [])
            if far[begin]:
                for some in held:
                    self._keep(some)
            if far[begin] or begin < end:
                held = []
            if not far[end]:
                held.append(told.take(group == end))
                self._held[sender] = held

    def finish(self) -> Told:
        """Return the positions of all epochs far apart."""
        self._held.clear()
        none = np.zeros(0, dtype=np.int64)
        parts = self._far or [_told(no_positions(), none, none)]
        return Told(
            **{f.name: np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(Told)}
        )

    def _keep(self, told: Told) -> None:
        if len(told):
            self._far.append(told)


def _told(members: Positions, rows: Ints, epoch: Ints) -> Told:
    return Told(
        sender=members.sender[rows],
        epoch=epoch,
        line=members.line[rows],
        lon_deg=members.lon_deg[rows],
        lat_deg=members.lat_deg[rows],
        places=(members.rank[rows] - 1) // 4,
    )


def _far_apart(rows: Positions) -> Flags:
    east_deg = rows.east_deg - rows.west_deg
    east_deg = np.minimum(east_deg, 360.0 - east_deg) * np.cos(np.radians(rows.north_deg))
    far: Flags = np.hypot(east_deg, rows.north_deg - rows.south_deg) * DEGREE_M > FAR_M
    return far
