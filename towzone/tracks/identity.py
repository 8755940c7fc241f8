"""Which tracks are one vessel's, by what their sources say of who it is."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence

from towzone.errors import quoted
from towzone.model.result import Remark
from towzone.model.track import Track

__all__ = ["Chosen", "by_vessel", "identity_of"]

_MMSI_DIGITS = 9
"""Recommendation ITU-R M.585, from memory: a maritime mobile service identity has nine digits."""

_Identity = tuple[str, str]


def by_vessel(tracks: Sequence[Track]) -> tuple[list[list[int]], list[Remark]]:
    """Return which completed tracks are one vessel's, by index, and what a person should know.

    Parameters
    ----------
    tracks : sequence of Track
        Completed ones only.

    Notes
    -----
    Files given together are taken as one vessel's, unless they say otherwise:

    * No file holds several vessels, and no two tracks state different identities of one sort (two MMSIs,
      or two names, compared without regard to case and blanks): all tracks are one vessel's.
    * Else tracks with an equal identity are one vessel's, and each without identity stays by itself.

    A file holds several vessels when it gives several tracks, unless all state the same identity: its
    reader has found either different identities or parts that cannot be one vessel's path.
    The same track given twice is one track.
    """
    stated = {identity for identity in map(_identity, tracks) if identity is not None}
    sorts = [sort for sort, _ in stated]
    if not _holds_several(tracks) and len(sorts) == len(set(sorts)):
        return [list(range(len(tracks)))], []
    groups: dict[Hashable, list[int]] = {}
    for index, track in enumerate(tracks):
        groups.setdefault(_owner(track), []).append(index)
    return list(groups.values()), _remarks(tracks, len(groups), len(stated))


def _owner(track: Track) -> Hashable:
    """Return what tracks of one vessel have in common where files hold several: who it is, or the track."""
    return _identity(track) or ("track", track.source, track.track_id)


def _identity(track: Track) -> _Identity | None:
    return identity_of(track.vessel)


def identity_of(vessel: str) -> tuple[str, str] | None:
    """Return the sort of an identity and the identity as it is compared, ``None`` for an empty one.

    Examples
    --------
    >>> identity_of("Hazel  Ann") == identity_of("HAZEL ANN"), identity_of("211 000 001")
    (True, ('MMSI', '211000001'))
    """
    text = "".join(vessel.split()).casefold()
    if not text:
        return None
    is_mmsi = len(text) == _MMSI_DIGITS and text.isascii() and text.isdigit()
    return ("MMSI" if is_mmsi else "name", text)


def _holds_several(tracks: Sequence[Track]) -> bool:
    found: dict[str, set[Hashable]] = {}
    for track in tracks:
        found.setdefault(track.source, set()).add(_owner(track))
    return any(len(some) > 1 for some in found.values())


def _remarks(tracks: Sequence[Track], groups: int, identities: int) -> list[Remark]:
    files = list(dict.fromkeys(track.source for track in tracks))
    if len(files) < 2:
        return []  # nothing was to be put together
    names = ", ".join(files)
    message = (
        f"the {len(tracks)} completed tracks are not all one vessel's ({identities} of them named); only"
        f" those that name the same one are put together, so that {groups} are judged"
    )
    remarks = [Remark(file=names, where="", message=message)]
    silent = [track for track in tracks if _identity(track) is None]
    if silent:
        listed = ", ".join(quoted(track.track_id) for track in silent[:3])
        more = f" and {len(silent) - 3} more" if len(silent) > 3 else ""
        verb = "do not say whose they are and are" if len(silent) > 1 else "does not say whose it is and is"
        message = f"{listed}{more} {verb} judged apart"
        remarks.append(Remark(file=names, where="", message=message))
    return remarks


class Chosen:
    """Vessels that a user asks for by their names, compared as everywhere: without regard to case and blanks.

    Compared letter by letter, rows of another spelling would be left aside, and what the vessel did in them
    with these.

    Parameters
    ----------
    only : sequence of str
        Empty where nobody is asked for.
    """

    __slots__ = ("_identities", "_known", "names")

    def __init__(self, only: Sequence[str]) -> None:
        self.names = tuple(only)
        self._identities = {identity_of(name) for name in only} - {None}
        self._known: dict[str, bool] = {}

    def __bool__(self) -> bool:
        """Return whether anybody is asked for."""
        return bool(self.names)

    def __contains__(self, name: str) -> bool:
        """Return whether a vessel of this name is asked for."""
        if name not in self._known:
            self._known[name] = identity_of(name) in self._identities
        return self._known[name]

    def missing(self, names: Iterable[str]) -> list[str]:
        """Return who is asked for and is none of some vessels, sorted."""
        there = {identity_of(name) for name in names} - {None}
        return sorted(name for name in set(self.names) if identity_of(name) not in there)
