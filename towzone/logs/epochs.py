"""Sentences of one moment put together to one fix, piece after piece, whatever the pieces are.

An epoch is what one sender says of one time of day: RMC, GGA, GNS and GLL one after another with the same
time. The last epoch of every sender stays open and is handed on to the next piece as if it were one of its
sentences, so that a log gives the same fixes wherever it was cut.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from towzone.logs.fields import NOT_A_DAY
from towzone.logs.positions import Positions, no_positions
from towzone.logs.readings import Clocks, Values
from towzone.logs.sentences import Said
from towzone.logs.told import ToldKeeper
from towzone.tracks.raw import NOT_A_TIME

__all__ = ["EpochMaker", "Epochs"]

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
Bytes = npt.NDArray[np.uint8]
Column = npt.NDArray[np.float32] | npt.NDArray[np.int32] | npt.NDArray[np.int64]

_REACH = 500
"""Own choice: a reading so many sentences after the beginning of an epoch does not belong to it."""
_OWN = ("sog", "cog")
"""Readings that tell of the sender's own position, and go with its epochs only."""
_READINGS = ("sog", "cog", "hdt", "hdg", "dpt", "dbt")
_CLOCKS = ("own", "any")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Epochs:
    """Complete epochs.

    Parameters
    ----------
    positions : Positions
        One row for each epoch: its first line, its best written position, all that speaks against it.
    besides : dict of str to ndarray, shape (n,)
        Readings by the names of `Said.values` (float32, ``NaN`` where unknown), and of ZDA ``day_own`` and
        ``day_any`` (int32, the date of a ZDA with the time of the epoch, or ``NOT_A_DAY``), ``clock_own``
        and ``clock_any`` (int64, microseconds since 1970 of the last ZDA before the epoch, or
        ``NOT_A_TIME``); own ones are of the same sender.
    """

    positions: Positions
    besides: dict[str, Column]

    def __len__(self) -> int:
        return len(self.positions)


class EpochMaker:
    """Makes epochs of what the pieces of one log say, in their order."""

    def __init__(self) -> None:
        self.told = ToldKeeper()
        self._open: Epochs | None = None
        self._seen = np.zeros(0, dtype=np.uint8)

    def add(self, said: Said) -> Epochs:
        """Return the epochs that ended in a piece."""
        rows, seen = said.positions, said.positions.bits
        carried = 0
        if self._open is not None:
            rows, carried = self._open.positions.joined(rows), len(self._open)
            seen = np.concatenate([self._seen, seen])
        order = np.argsort(rows.sender, kind="stable")
        rows, seen = rows.take(order), seen[order]
        time_us, alone = _with_times_of_epochs(rows, seen)
        together = np.flatnonzero(~alone)
        members = replace(rows, time_us=time_us).take(together)
        firsts = _firsts(members)
        epochs = Epochs(positions=_merged(members, firsts), besides=_nothing_beside(len(firsts)))
        if self._open is not None:
            # The open epochs of before are the first rows of their senders, in the order of the senders.
            place = np.flatnonzero(order < carried)
            into = np.searchsorted(together[firsts], place, side="right") - 1
            for name, column in self._open.besides.items():
                epochs.besides[name][into] = column
        _attach(epochs, said)
        self.told.add(members, firsts, order[together] >= carried, epochs.positions)
        last = np.append(np.diff(epochs.positions.sender) != 0, True)[: len(epochs)]
        self._keep(epochs, np.flatnonzero(last), rows, seen, together[firsts])
        closed = _chosen(epochs, np.flatnonzero(~last))
        lone = Epochs(positions=rows.take(alone), besides=_nothing_beside(int(alone.sum())))
        return _joined(closed, lone) if len(lone) else closed

    def finish(self) -> Epochs:
        """Return the epochs that were open when the log ended."""
        if self._open is None:
            self._open = Epochs(positions=no_positions(), besides=_nothing_beside(0))
        epochs, self._open = self._open, None
        return epochs

    def _keep(self, epochs: Epochs, last: Ints, rows: Positions, seen: Bytes, begins: Ints) -> None:
        """Hold back the last epoch of every sender, and which types of sentences came since it began."""
        self._open = _chosen(epochs, last)
        ends = np.searchsorted(rows.sender, epochs.positions.sender[last], side="right")
        self._seen = np.array(
            [
                np.bitwise_or.reduce(seen[begin:end])
                for begin, end in zip(begins[last].tolist(), ends.tolist(), strict=True)
            ],
            dtype=np.uint8,
        )


def _with_times_of_epochs(rows: Positions, seen: Bytes) -> tuple[Ints, Flags]:
    """Return times of day, with those of the open epoch for sentences without, and which stand alone.

    A sentence without a time belongs to the epoch its sender has open, unless that has had one of its type.
    """
    alone = np.zeros(len(rows), dtype=np.bool_)
    untimed = np.flatnonzero(rows.time_us == NOT_A_TIME)
    if not len(untimed):
        return rows.time_us, alone
    index = np.arange(len(rows))
    timed = np.flatnonzero(rows.time_us != NOT_A_TIME)
    begins = np.zeros(len(timed), dtype=np.bool_)
    begins[:1] = True
    begins[1:] = (np.diff(rows.time_us[timed]) != 0) | (np.diff(rows.sender[timed]) != 0)
    first = np.full(len(rows), -1, dtype=np.int64)
    first[timed[begins]] = timed[begins]
    first = np.maximum.accumulate(first)[untimed]
    has_open = (first >= 0) & (rows.sender[first] == rows.sender[untimed])
    for bit in (1, 2, 4, 8):
        own = rows.bits[untimed] == bit
        had = np.maximum.accumulate(np.where(seen & bit != 0, index, -1))
        # The row itself has its bit; what counts is the one before it.
        before = np.append(-1, had)[untimed]
        has_open &= ~own | (before < first)
    time_us = rows.time_us.copy()
    time_us[untimed[has_open]] = rows.time_us[first[has_open]]
    alone[untimed[~has_open]] = True
    return time_us, alone


def _firsts(rows: Positions) -> Ints:
    """Return the first row of each epoch of rows sorted by sender."""
    begins = np.ones(len(rows), dtype=np.bool_)
    begins[1:] = (np.diff(rows.time_us) != 0) | (np.diff(rows.sender) != 0)
    return np.flatnonzero(begins)


def _merged(rows: Positions, firsts: Ints) -> Positions:
    """Return one row for each run of rows."""
    if len(firsts) == len(rows):
        return rows
    group = np.repeat(np.arange(len(firsts)), np.diff(np.append(firsts, len(rows))))
    best = np.maximum.reduceat(rows.rank, firsts)
    of_best = _first_of_each(np.flatnonzero(rows.rank == best[group]), group, len(firsts), firsts)
    return Positions(
        sender=rows.sender[firsts],
        seq=rows.seq[firsts],
        line=rows.line[firsts],
        time_us=rows.time_us[firsts],
        bits=np.bitwise_or.reduceat(rows.bits, firsts),
        faults=np.bitwise_or.reduceat(rows.faults, firsts),
        rank=best,
        lon_deg=rows.lon_deg[of_best],
        lat_deg=rows.lat_deg[of_best],
        west_deg=np.fmin.reduceat(rows.west_deg, firsts),
        east_deg=np.fmax.reduceat(rows.east_deg, firsts),
        south_deg=np.fmin.reduceat(rows.south_deg, firsts),
        north_deg=np.fmax.reduceat(rows.north_deg, firsts),
        day=np.maximum.reduceat(rows.day, firsts),
        sog_kn=_first_known(rows.sog_kn, group, firsts),
        cog_deg=_first_known(rows.cog_deg, group, firsts),
        hdop=_first_known(rows.hdop, group, firsts),
    )


def _first_of_each(chosen: Ints, group: Ints, groups: int, otherwise: Ints) -> Ints:
    """Return the first of the chosen rows of each group; another where a group has none."""
    result = otherwise.copy()
    owner = group[chosen]
    lead = np.ones(len(chosen), dtype=np.bool_)
    lead[1:] = np.diff(owner) != 0
    result[owner[lead]] = chosen[lead]
    return result[:groups]


def _first_known(values: npt.NDArray[np.float32], group: Ints, firsts: Ints) -> npt.NDArray[np.float32]:
    return values[_first_of_each(np.flatnonzero(~np.isnan(values)), group, len(firsts), firsts)]


def _nothing_beside(n: int) -> dict[str, Column]:
    """Return the columns of `Epochs.besides` with nothing known; ``after`` is to be ``clock`` of the next."""
    columns: dict[str, Column] = {name: np.full(n, np.nan, dtype=np.float32) for name in _READINGS}
    for whose in _CLOCKS:
        columns[f"day_{whose}"] = np.full(n, NOT_A_DAY, dtype=np.int32)
        columns[f"clock_{whose}"] = np.full(n, NOT_A_TIME, dtype=np.int64)
        columns[f"after_{whose}"] = np.full(n, NOT_A_TIME, dtype=np.int64)
    return columns


def _attach(epochs: Epochs, said: Said) -> None:
    """Give to each epoch what was said between its beginning and that of the next of the same sender."""
    rows = epochs.positions
    for name, values in said.values.items():
        column = epochs.besides[name]
        for into, which in _epochs_at(rows, values, own=name in _OWN):
            free = np.isnan(column[into])
            # Assigned backwards, so that the first of several is the one that stays.
            column[into[free][::-1]] = values.value[which][free][::-1]
    for whose in _CLOCKS:
        day, before, after = (epochs.besides[f"{word}_{whose}"] for word in ("day", "clock", "after"))
        for into, which in _epochs_at(rows, said.clocks, own=whose == "own"):
            time_us, of_day = said.clocks.time_us[which], said.clocks.day[which]
            same = time_us == rows.time_us[into]
            day[into[same]] = of_day[same]
            after[into] = of_day.astype(np.int64) * 86_400_000_000 + time_us
        follows = np.flatnonzero(np.diff(rows.sender) == 0) + 1
        before[follows] = after[follows - 1]


def _epochs_at(rows: Positions, said: Values | Clocks, *, own: bool) -> list[tuple[Ints, Ints]]:
    """Return, sender by sender, the epochs open when something was said, and which of it that was."""
    found = []
    bounds = np.append(np.flatnonzero(np.diff(rows.sender, prepend=-1) != 0), len(rows)).tolist()
    for begin, end in pairwise(bounds):
        which = np.flatnonzero(said.sender == rows.sender[begin]) if own else np.arange(len(said.seq))
        into = np.searchsorted(rows.seq[begin:end], said.seq[which], side="right") - 1
        fits = into >= 0
        into, which = into[fits] + begin, which[fits]
        near = said.seq[which] - rows.seq[into] <= _REACH
        found.append((into[near], which[near]))
    return found


def _chosen(epochs: Epochs, index: Ints) -> Epochs:
    besides = {name: column[index] for name, column in epochs.besides.items()}
    return Epochs(positions=epochs.positions.take(index), besides=besides)


def _joined(first: Epochs, second: Epochs) -> Epochs:
    besides: dict[str, Column] = {
        name: np.concatenate([column, second.besides[name]]) for name, column in first.besides.items()
    }
    return Epochs(positions=first.positions.joined(second.positions), besides=besides)
