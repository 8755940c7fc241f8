"""The one entry to an audit of a fleet: read and sorted by vessel, checked, gathered."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from towzone.errors import InputError, OutputError, Problem, TowzoneError, quoted
from towzone.files.parquet_tracks import known_by as settled_by
from towzone.files.table_parts import WHOLE, Known
from towzone.fleet.answers import Answer, read_line, write_answer
from towzone.fleet.gathering import Part, gather_part, parts_of, write_vessels
from towzone.fleet.handing import hand_on
from towzone.fleet.job import Job
from towzone.fleet.manifest import read_survey, write_survey
from towzone.fleet.pieces import Piece, Survey, survey
from towzone.fleet.preparing import Prepared
from towzone.fleet.reading import OTHERS, Receipt, Refusal, read_piece, read_receipt, receipt_path
from towzone.fleet.sorting import Sorted, sorted_vessels
from towzone.fleet.sources import SourceFile
from towzone.fleet.tasks import VesselTask, answer_path, check_vessels, profile_key, silent_answer
from towzone.fleet.totalling import Found, totals_of, write_totals
from towzone.fleet.workers import Workers
from towzone.model.fleet import FleetOutcome, FleetTotals, Unread, VesselLine, in_one_line
from towzone.model.zone import Zone

__all__ = ["Progress", "run_fleet", "survey_file"]

_TASK_FIXES, _TASK_VESSELS, _TASKS_A_WORKER = 300_000, 64, 4
"""Own choice: vessels are given out together up to so many fixes, or vessels, and only so many that each
worker gets several times more of what is left: small tasks cost more than they are worth, large ones let
workers wait for each other at the end."""


class Progress(Protocol):
    """Told how the work goes on."""

    def stage(self, name: str, total: int) -> None:
        """Tell that something of so many steps begins."""
        ...

    def step(self, count: int = 1) -> None:
        """Tell that some steps are done."""
        ...


def run_fleet(
    prepared: Prepared,
    workers: Workers,
    progress: Progress,
    finish: Callable[[FleetTotals, Sequence[VesselLine], Path], None],
) -> FleetTotals:
    """Audit all vessels, write the result, and return its totals.

    Parameters
    ----------
    finish : callable
        Given totals, vessels and the folder of what is gathered; adds the overview and records to it.

    Raises
    ------
    InputError
        There is no vessel, or one asked for is in no input.
    """
    folder, job = prepared.folder, prepared.job
    with folder.locked():
        if prepared.request.force:
            folder.drop_work()
        folder.begin(prepared.asked)
        if prepared.request.force:
            folder.set_aside()
        surveys, refused = _surveyed(prepared, workers, progress)
        pieces = _pieces(prepared.files, surveys)
        receipts = _read(job, pieces, workers, progress)
        found = sorted_vessels(
            [(piece, receipts[piece.number]) for piece in pieces], refused, prepared.request.reading.only
        )
        _require_vessels(prepared, found)
        _check(job, prepared.zones.zones, found.tasks, workers, progress)
        parts = _gather(job, found.tasks, workers, progress)
        answers = [_answer(job, task) for task in found.tasks]
        lines = [answer.line for answer in answers]
        vessels_sha256 = write_vessels(job.gathered / "vessels.parquet", lines)
        totals = totals_of(
            Found(
                sorted=found,
                answers=answers,
                parts=parts,
                vessels_sha256=vessels_sha256,
                surveys=[
                    (file, surveys[place]) for place, file in enumerate(prepared.files) if place in surveys
                ],
                inputs=prepared.inputs,
                zones=prepared.zones,
                settings=prepared.asked["settings"],
                margin_m=prepared.request.settings.margin_m,
                check_words=prepared.request.check_words,
                idle_profiles=_idle_profiles(prepared, found),
            )
        )
        finish(totals, lines, job.gathered)
        write_totals(job.gathered / "totals.json", totals, prepared.asked)
        folder.finish()
    return totals


def _surveyed(
    prepared: Prepared, workers: Workers, progress: Progress
) -> tuple[dict[int, Survey], list[Unread]]:
    """Return what each file was found to be, by its number, and those that cannot be read."""
    job, files = prepared.job, prepared.files
    surveys: dict[int, Survey] = {}
    refused: dict[int, BaseException] = {}
    for number, file in enumerate(files):
        known = read_survey(_survey_path(job, number), file)
        if known is not None:
            surveys[number] = known
    progress.stage("Looking over files", len(files))
    progress.step(len(surveys))
    waiting = [(job, number, file) for number, file in enumerate(files) if number not in surveys]
    for item, result in workers.each(survey_file, waiting):
        number, file = item[1], item[2]
        if isinstance(result, BaseException):
            refused[number] = result
        else:
            known = read_survey(_survey_path(job, number), file)
            if known is None:
                message = f"{file.shown}: what a worker put down of it cannot be seen from here"
                raise OutputError(message)
            surveys[number] = known
        progress.step()
    return surveys, [
        Unread(
            file=files[number].file,
            reason=_told(refused[number], files[number].shown),
            vessels=None,
            fault=not isinstance(refused[number], TowzoneError),
        )
        for number in sorted(refused)
    ]


def _survey_path(job: Job, number: int) -> Path:
    return Path(job.work, "surveys", f"{number:06d}.json")


def survey_file(job: Job, number: int, file: SourceFile) -> None:
    """Look a file over and put down its pieces."""
    write_survey(_survey_path(job, number), survey(file, job.sizes))


def _told(error: BaseException, file: str) -> str:
    if isinstance(error, InputError | OutputError):
        return str(error)
    if isinstance(error, TowzoneError):
        return f"{file}: {error}"
    return f"{file}: a fault in towzone ({type(error).__name__}: {error}); please report it"


def _pieces(files: Sequence[SourceFile], surveys: Mapping[int, Survey]) -> list[Piece]:
    """Return all pieces, numbered; rows of the parts of a table run on from part to part."""
    pieces: list[Piece] = []
    rows_before: dict[int, int] = {}
    for number, file in enumerate(files):
        if number not in surveys:
            continue
        before = rows_before.get(file.source, 0)
        pieces += [
            replace(piece, number=len(pieces) + place, first_line=piece.first_line + before)
            for place, piece in enumerate(surveys[number].pieces)
        ]
        rows_before[file.source] = before + surveys[number].rows
    return pieces


def _read(job: Job, pieces: Sequence[Piece], workers: Workers, progress: Progress) -> dict[int, Receipt]:
    """Return the receipts of all pieces; those that others settle are read again."""
    progress.stage("Reading positions", len(pieces))
    receipts = _read_with(job, [(piece, WHOLE) for piece in pieces], workers, progress)
    by_source: dict[int, list[Piece]] = {}
    for piece in pieces:
        by_source.setdefault(piece.file.source, []).append(piece)
    again: list[tuple[Piece, Known]] = []
    for some in by_source.values():
        if any(receipts[piece.number].is_open for piece in some):
            known = settled_by([one for piece in some for one in receipts[piece.number].settled])
            if known != WHOLE:
                again += [(piece, known) for piece in some if receipts[piece.number].is_open]
    if again:
        progress.stage("Reading again what others settle", len(again))
        receipts |= _read_with(job, again, workers, progress)
    return receipts


def _read_with(
    job: Job, wanted: Sequence[tuple[Piece, Known]], workers: Workers, progress: Progress
) -> dict[int, Receipt]:
    found: dict[int, Receipt] = {}
    waiting = []
    for piece, known in wanted:
        receipt = read_receipt(receipt_path(job, piece, known))
        if receipt is not None:
            found[piece.number] = receipt
        else:
            waiting.append((job, piece, known))
    progress.step(len(found))
    for item, result in workers.each(read_piece, waiting):
        piece, known = item[1], item[2]
        receipt = None if isinstance(result, BaseException) else read_receipt(receipt_path(job, piece, known))
        if receipt is None:
            error = (
                result
                if isinstance(result, BaseException)
                else OSError("its spools cannot be seen from here")
            )
            reason, fault = _told(error, piece.file.shown), not isinstance(error, TowzoneError)
            receipt = Receipt(refusals=(Refusal(reason=reason, vessels=None, fault=fault),))
        found[piece.number] = receipt
        progress.step()
    return found


def _idle_profiles(prepared: Prepared, found: Sorted) -> list[str]:
    """Return the names of profiles that are for no vessel; with --only that is as it should be."""
    if prepared.request.reading.only:
        return []
    keys = {profile_key(task) for task in found.tasks}
    return [Path(read.file).name for key, read in prepared.job.profiles.items() if key not in keys]


def _require_vessels(prepared: Prepared, found: Sorted) -> None:
    given = ", ".join(prepared.request.positions)
    if found.missing:
        names = ", ".join(map(quoted, found.missing))
        others = f"; there are {', '.join(map(quoted, found.others))}" if found.others else ""
        message = f"there is no vessel {names} in these inputs (--only){others}"
        if len(found.others) == OTHERS:
            message += " and perhaps more"
        prepared.folder.clear_work()
        raise InputError(given, [Problem("", message)])
    if not found.tasks:
        prepared.folder.clear_work()
        if len(found.unread) == 1:
            (one,) = found.unread
            lines = one.reason.splitlines()
            raise InputError(one.file, [Problem("", line.removeprefix(f"{one.file}: ")) for line in lines])
        if found.unread:
            problems = [Problem("", in_one_line(one.reason, one.file)) for one in found.unread]
            raise InputError(given, problems)
        message = "there is no completed track; without one nothing would be found, and seem clear"
        raise InputError(given, [Problem("", message)])


def _check(
    job: Job, zones: Sequence[Zone], tasks: Sequence[VesselTask], workers: Workers, progress: Progress
) -> None:
    """Have every vessel checked that has no answer yet."""
    waiting = [task for task in tasks if read_line(answer_path(job, task.key)) is None]
    progress.stage("Checking vessels", len(tasks))
    progress.step(len(tasks) - len(waiting))
    silent = [task for task in waiting if not task.spools]
    for task in silent:
        # Known only from what could not be read.
        message = "none of its positions could be read"
        write_answer(answer_path(job, task.key), silent_answer(task, FleetOutcome.NOT_CHECKED, message))
    progress.step(len(silent))
    read = [task for task in waiting if task.spools]
    handed = hand_on(Path(job.work, "zones"), zones, len(read) // workers.count)
    groups = _groups(read, workers.count)
    lost: list[VesselTask] = []
    for item, result in workers.each(check_vessels, ((job, handed, group) for group in groups)):
        if isinstance(result, BaseException):
            lost += item[2]
        else:
            progress.step(len(item[2]))
    # One of a group may have been too large: each by itself, so that it takes no other with it.
    for item, result in workers.each(check_vessels, ((job, handed, [task]) for task in lost)):
        (task,) = item[2]
        if isinstance(result, BaseException) and read_line(answer_path(job, task.key)) is None:
            message = f"it could not be checked: {result}"
            write_answer(answer_path(job, task.key), silent_answer(task, FleetOutcome.NOT_CHECKED, message))
        progress.step()


def _groups(tasks: Sequence[VesselTask], workers: int) -> Iterator[list[VesselTask]]:
    """Yield vessels to be checked in one task, the largest first, at the end fewer and fewer.

    How they are put together never shows in the answer.
    """
    left = sum(task.fixes for task in tasks)
    held: list[VesselTask] = []
    fixes = 0
    for task in sorted(tasks, key=lambda task: -task.fixes):
        most = min(left // (_TASKS_A_WORKER * workers), _TASK_FIXES)
        if held and (fixes + task.fixes > most or len(held) == _TASK_VESSELS):
            yield held
            left -= fixes
            held, fixes = [], 0
        held.append(task)
        fixes += task.fixes
    if held:
        yield held


def _gather(job: Job, tasks: Sequence[VesselTask], workers: Workers, progress: Progress) -> list[Part]:
    wanted = parts_of([task.key for task in tasks])
    progress.stage("Gathering", len(wanted))
    found: dict[int, Part] = {}
    for item, result in workers.each(
        gather_part, ((job, number, keys) for number, keys in enumerate(wanted))
    ):
        if isinstance(result, BaseException):
            raise result
        found[item[1]] = result
        progress.step()
    return [found[number] for number in sorted(found)]


def _answer(job: Job, task: VesselTask) -> Answer:
    answer = read_line(answer_path(job, task.key))
    if answer is None:
        message = f"{task.vessel}: what a worker put down of it cannot be seen from here"
        raise OutputError(message)
    return answer
