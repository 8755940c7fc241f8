"""Vessels given to workers: who each is, where its positions lie, its answer where it cannot be checked."""

from __future__ import annotations

import contextlib
import gc
import traceback
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from towzone.errors import TowzoneError
from towzone.fleet.answers import Answer, write_answer
from towzone.fleet.handing import Handed
from towzone.fleet.job import Job
from towzone.fleet.keys import known_by, name_key, work_name
from towzone.model.fleet import FleetOutcome, VesselLine
from towzone.model.result import Status

__all__ = ["VesselTask", "answer_path", "check_vessels", "profile_key", "silent_answer"]

_NO_COUNTS = {status.value: 0 for status in Status}


@dataclass(frozen=True, slots=True, kw_only=True)
class VesselTask:
    """One vessel to be checked.

    Parameters
    ----------
    key : str
    vessel : str
        Its name, as first spelled.
    spellings, files : tuple of str
        As in `VesselLine`.
    spools : tuple of (int, str)
        Number of the input and name of the spool, in the order of the inputs.
    fixes : int
        All of them, those left out, too.
    unread : tuple of str
        Why positions of it could not be read.
    """

    key: str
    vessel: str
    spellings: tuple[str, ...]
    files: tuple[str, ...]
    spools: tuple[tuple[int, str], ...]
    fixes: int
    unread: tuple[str, ...] = ()


def answer_path(job: Job, key: str) -> Path:
    """Return where the answer of a vessel lies."""
    return job.answers / f"{work_name(key)}.answer"


def profile_key(task: VesselTask) -> str:
    """Return the key of the profile of a vessel: by what it is called, if only by the name of its file."""
    return name_key(task.vessel)


def check_vessels(job: Job, handed: Handed, tasks: Sequence[VesselTask]) -> tuple[str, ...]:
    """Check vessels one after the other, each written down as soon as it is done; return their keys.

    What is wrong with one vessel, and any fault of our own, becomes its answer and stops no other.
    """
    from towzone.fleet.checking import checked  # all that measures, which workers alone have to load

    for task in tasks:
        try:
            with _collected_later():
                answer = checked(job, handed, task)
        except TowzoneError as error:
            answer = silent_answer(task, FleetOutcome.NOT_CHECKED, str(error))
        except MemoryError:
            message = f"its {task.fixes} fixes took more memory than there is; give more with --memory"
            answer = silent_answer(task, FleetOutcome.NOT_CHECKED, message)
        except Exception as error:  # noqa: BLE001  reported as a fault of ours; the other vessels go on
            where = traceback.extract_tb(error.__traceback__)[-1]
            message = (
                f"a fault in towzone ({type(error).__name__}: {error}; {Path(where.filename).name} line"
                f" {where.lineno}); please report it"
            )
            answer = silent_answer(task, FleetOutcome.FAULT, message)
        write_answer(answer_path(job, task.key), answer)
    return tuple(task.key for task in tasks)


@contextlib.contextmanager
def _collected_later() -> Iterator[None]:
    """Look for objects that hold each other after a vessel, not while its thousands of rows are made."""
    looking = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if looking:
            gc.enable()


def silent_answer(task: VesselTask, outcome: FleetOutcome, problem: str) -> Answer:
    """Return the answer of a vessel that was not checked."""
    line = VesselLine(
        vessel=task.vessel,
        known_by=known_by(task.key),
        spellings=task.spellings,
        outcome=outcome,
        problem="\n".join([problem, *task.unread]),
        counts=_NO_COUNTS,
        worst_status="",
        worst_zone_id="",
        worst_zone_name="",
        worst_clearance_m=None,
        tows=0,
        towing_s=0.0,
        tracked_s=0.0,
        gap_s=0.0,
        start_utc=None,
        end_utc=None,
        length_m=0.0,
        fixes_read=task.fixes,
        fixes_used=0,
        fixes_left_out=task.fixes,
        gaps=0,
        tracks=0,
        remarks=(),
        files=task.files,
        profile="",
    )
    return Answer(key=task.key, line=line)
