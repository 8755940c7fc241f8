"""Zones handed on to the workers of an audit by the process that read them."""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from towzone.errors import OutputError
from towzone.files.outputs import put_in_place
from towzone.model.zone import Zone

__all__ = ["Handed", "hand_on", "handed_zones"]

_FEW_VESSELS = 8
"""Own choice: more than these, worker by worker, ask in the end for nearly all boundaries."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Handed:
    """Zones put down for workers.

    Parameters
    ----------
    place : str
        From the root.
    sha256 : str
        Hex, of what lies there: nothing else is taken for it.
    all_at_once : bool
        Whether all boundaries are cut before the first is asked for; one after the other takes longer.
    """

    place: str
    sha256: str
    all_at_once: bool


def hand_on(place: Path, zones: Sequence[Zone], vessels_a_worker: int) -> Handed:
    """Put zones down for workers.

    Raises
    ------
    OutputError
        They could not be written.
    """
    data = pickle.dumps(tuple(zones), protocol=pickle.HIGHEST_PROTOCOL)

    def write(beside: Path) -> None:
        beside.write_bytes(data)

    put_in_place(place, write)
    digest = hashlib.sha256(data).hexdigest()
    return Handed(place=str(place), sha256=digest, all_at_once=vessels_a_worker > _FEW_VESSELS)


def handed_zones(handed: Handed) -> tuple[Zone, ...]:
    """Return the zones that were put down.

    Raises
    ------
    OutputError
        What was put down is not seen from here.
    """
    try:
        data = Path(handed.place).read_bytes()
    except OSError as error:
        message = f"{handed.place}: cannot be read by a worker: {error.strerror or error}"
        raise OutputError(message) from error
    if hashlib.sha256(data).hexdigest() != handed.sha256:
        message = f"{handed.place}: is not what was put down there for workers"
        raise OutputError(message)
    zones: tuple[Zone, ...] = pickle.loads(data)  # ours, by its digest
    return zones
