"""Which receiver of a log gives the track: one for the whole log, the others are left out.

Two antennas a metre apart whose fixes alternate every few hundredths of a second give a track that is a third
longer than the way sailed. So fixes of different receivers are never mixed, not even to fill a silence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from towzone.errors import InputError, Problem, quoted
from towzone.logs.conflicts import Conflicts, mark_conflicts
from towzone.logs.dates import Dated, undated
from towzone.logs.fixes import Fixes, Reason
from towzone.logs.sources import UNNAMED
from towzone.logs.told import Told
from towzone.tracks.raw import NOT_A_TIME

__all__ = ["Receiver", "chosen", "receivers_of"]

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

_KINDS = {1: "RMC", 2: "GGA", 4: "GNS", 8: "GLL"}
_SHARED = 0.5
"""Own choice: types of sentences of one sender are of one receiver when half of the rarer ones, or more, have
a time that the others have, too."""
_FEW = 10
"""Own choice: fewer moments do not show that two receivers alternate."""
_TALKERS = (
    ("GN", "GP"),
    ("GL", "GA", "GB", "BD", "GQ", "GI"),
    ("IN",),
    ("II",),
    ("EC",),
)
"""Of receivers with as many fixes the more direct one is taken: all satellite systems, one system, navigation
units, instruments, chart displays, others. Own choice."""


@dataclass(slots=True, kw_only=True, eq=False)
class Receiver:
    """The fixes of one receiver.

    Parameters
    ----------
    name : str
        For people and for the option that chooses it; untrusted text.
    sender : int
    talker : str
    fixes : Fixes
        In the order of the file.
    conflicts : Conflicts
        Positions of the moments at which it stands at two places.
    times : Dated
        Their times, once they are dated.
    dated_by : str
        Where the dates come from when not from its own sentences; empty when they do, or there are none.
    """

    name: str
    sender: int
    talker: str
    fixes: Fixes
    conflicts: Conflicts
    times: Dated
    dated_by: str = ""

    def usable(self) -> Flags:
        """Return which fixes can be used, dated or not.

        Where any has a time of day, those without one are of no use.
        """
        good: Flags = (self.fixes.reason == Reason.GOOD) & ~self.times.wrong
        timed = self.fixes.time_us != NOT_A_TIME
        return good & timed if (good & timed).any() else good

    @property
    def has_dates(self) -> bool:
        """Whether any fix is dated."""
        return bool((self.times.time_us != NOT_A_TIME).any())

    @property
    def first_time_us(self) -> int:
        """The time of the first fix that is dated; there must be one."""
        return int(self.times.time_us[np.argmax(self.times.time_us != NOT_A_TIME)])


def receivers_of(fixes: Fixes, names: Sequence[tuple[str, str]], told: Told) -> list[Receiver]:
    """Return the receivers of a log, not dated yet.

    Parameters
    ----------
    fixes : Fixes
        Handed on to the receivers, and empty then.
    names : sequence of (str, str)
        Talker and tag block source of each sender.
    told : Told
        The positions of moments with several far apart.

    Notes
    -----
    A sender is one receiver as a rule. Where some types of its sentences hardly ever share a time with the
    others and stand between them all along, they come from another receiver under the same name.
    """
    found: list[tuple[int, str, Ints | slice]] = []
    senders = np.unique(fixes.sender).tolist()
    for sender in senders:
        rows = _rows_in_order(fixes, sender, alone=len(senders) == 1)
        bits = fixes.bits[rows]
        # A moment with types of both receivers goes with the first of its types.
        lowest = bits & (~bits + np.uint8(1))
        groups = _interleaved(lowest, _groups(np.bincount(bits, minlength=16)[:16].tolist()))
        if len(groups) == 1:
            found.append((sender, _name(names[sender], sender, 0), rows))
            continue
        index = np.arange(len(fixes))[rows]
        for group in groups:
            found.append((sender, _name(names[sender], sender, group), index[(lowest & group) != 0]))
    parts = fixes.split([rows for _, _, rows in found])
    return [
        Receiver(
            name=name,
            sender=sender,
            talker=names[sender][0],
            fixes=part,
            conflicts=mark_conflicts(part, told, sender),
            times=undated(0),
        )
        for (sender, name, _), part in zip(found, parts, strict=True)
    ]


def _rows_in_order(fixes: Fixes, sender: int, *, alone: bool) -> Ints | slice:
    """Return the fixes of a sender in the order of the file, as a slice where these are all as they are."""
    rows = slice(None) if alone else np.flatnonzero(fixes.sender == sender)
    line = fixes.line[rows]
    # An epoch may end after later ones of its sender, which costs sorting only where it happens.
    if (line[1:] > line[:-1]).all():
        return rows
    return np.arange(len(fixes))[rows][np.lexsort((fixes.seq[rows], line))]


def chosen(receivers: Sequence[Receiver], wanted: str | None, file: str) -> tuple[Receiver, list[Receiver]]:
    """Return the receiver to be used, and the others.

    Parameters
    ----------
    receivers : sequence of Receiver
        At least one.
    wanted : str or None
        Name or talker the user states; ``None`` takes the one with most dated fixes that can be used, then
        with most that can be used, then by talker, then the first in the file.
    file : str
        For messages.

    Raises
    ------
    InputError
        There is none of the wanted name.
    """
    among = list(receivers)
    if wanted is not None:
        asked = wanted.strip().upper()
        among = [one for one in receivers if one.name.upper() == asked]
        among = among or [one for one in receivers if one.talker.upper() == asked]
        if not among:
            there = ", ".join(quoted(one.name) for one in receivers)
            message = f"the log has no receiver {quoted(wanted)}; --receiver may be one of {there}"
            raise InputError(file, [Problem("", message)])
    best = max(among, key=lambda one: (*_worth(one), -receivers.index(one)))
    return best, [one for one in receivers if one is not best]


def _worth(one: Receiver) -> tuple[bool, int, int, int]:
    # A receiver at two places is not passed over for that: it is refused, or another is asked for.
    usable = one.usable() | (one.fixes.reason == Reason.CONFLICTING_TIME)
    dated = int((usable & (one.times.time_us != NOT_A_TIME)).sum())
    rank = next((number for number, some in enumerate(_TALKERS) if one.talker in some), len(_TALKERS))
    return one.sender != UNNAMED, dated, int(usable.sum()), -rank


def _groups(counts: Sequence[int]) -> list[int]:
    """Return which types of sentences belong together, as sums of bits.

    Parameters
    ----------
    counts : sequence of int
        How many epochs there are of each combination of types.
    """
    there = [bit for bit in _KINDS if any(count and mask & bit for mask, count in enumerate(counts))]
    groups = {bit: bit for bit in there}
    for one in there:
        for other in there:
            both = sum(count for mask, count in enumerate(counts) if mask & one and mask & other)
            rarer = min(sum(count for mask, count in enumerate(counts) if mask & bit) for bit in (one, other))
            if both >= _SHARED * rarer:
                joint = groups[one] | groups[other]
                groups = {bit: joint if group & joint else group for bit, group in groups.items()}
    return sorted(set(groups.values()))


def _interleaved(lowest: npt.NDArray[np.uint8], groups: Sequence[int]) -> list[int]:
    """Return groups of types, those joined that follow on each other instead of alternating."""
    joined = list(groups)
    for one in groups:
        for other in groups:
            among = lowest[(lowest & (one | other)) != 0]
            of_one = (among & one) != 0
            fewer = min(int(of_one.sum()), int((~of_one).sum()))
            changes = int((np.diff(of_one.astype(np.int8)) != 0).sum())
            if one < other and (fewer < _FEW or changes < _SHARED * fewer):
                both = sum({group for group in joined if group & (one | other)})
                joined = sorted({both if group & (one | other) else group for group in joined})
    return joined


def _name(of_sender: tuple[str, str], sender: int, group: int) -> str:
    """Return a name: the talker, with types of sentences and tag block source where they are needed."""
    talker, tag = of_sender
    if sender == UNNAMED:
        return "others"
    name = talker or "no talker"
    if group:
        name += "/" + "+".join(word for bit, word in _KINDS.items() if group & bit)
    return f"{name}@{tag}" if tag else name
