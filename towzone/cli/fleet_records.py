"""Records of the worst vessels of an audit, and the overview that leads to them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path

from towzone.errors import InputError, Problem, TowzoneError
from towzone.files.outputs import write_all
from towzone.fleet.run import Progress
from towzone.fleet.workers import Workers
from towzone.model.fleet import FleetTotals, VesselLine, record_name, worst_first
from towzone.record.overview.commands import check_words
from towzone.record.overview.page import render_overview
from towzone.record.proof.reading import read_record, result_of

__all__ = ["make_record", "write_pages"]


def write_pages(
    totals: FleetTotals,
    lines: Sequence[VesselLine],
    folder: Path,
    number: int,
    workers: Workers,
    progress: Progress,
) -> list[str]:
    """Write the records of the worst vessels and the overview of all; return what could not be made and why.

    Parameters
    ----------
    totals : FleetTotals
    lines : sequence of VesselLine
        All vessels, in any order.
    folder : Path
        Where ``index.html`` and the folder ``records`` are put.
    number : int
        How many records are wanted; of vessels without a single pair there is none to make.
    workers : Workers
    progress : Progress
    """
    wanted = [line for line in worst_first(lines) if sum(line.counts.values())][:number]
    made, faults = set(), []
    if wanted:
        (folder / "records").mkdir(exist_ok=True)
        digests = {one.file: one.sha256 for one in totals.inputs}
        places = {str(folder / "records" / record_name(line.vessel, line.known_by)): line for line in wanted}
        progress.stage("Writing records", len(places))
        waiting = [
            ((*check_words(line), *totals.check_words), place, dict(line.counts), digests)
            for place, line in places.items()
        ]
        for item, result in workers.each(make_record, waiting):
            name = Path(item[1]).name
            if isinstance(result, BaseException):
                faults.append(f"{name}: not made: {result}")
            else:
                made.add(name)
            progress.step()
        _tidy(folder / "records", made)
    page = render_overview(totals, lines, frozenset(made))
    write_all({folder / "index.html": page})
    return sorted(faults)


def _tidy(folder: Path, made: Collection[str]) -> None:
    """Take away what a process that was killed left half written, or made of other vessels."""
    for one in folder.iterdir():
        if one.name not in made:
            one.unlink()


def make_record(
    words: Sequence[str], place: str, counts: Mapping[str, int], digests: Mapping[str, str]
) -> None:
    """Make the record of one vessel: the very one that the command makes which the overview tells.

    A record that is there already and whole, with these counts, is kept.

    Parameters
    ----------
    words : sequence of str
        Of ``towzone check``.
    place : str
        The file to be written.
    counts : mapping of str to int
        Rows of each status that the audit found.
    digests : mapping of str to str
        SHA-256 of the inputs by their names, as the audit read them.

    Raises
    ------
    InputError
        A file is refused, or is no longer what it was.
    TowzoneError
        The check finds anything but what the audit found.
    """
    if _is_made(Path(place), counts):
        return
    # All of a check and its record, which only workers have to load.
    from towzone.cli.check import check_request
    from towzone.cli.check import command as check
    from towzone.cli.page_again import record_of
    from towzone.cli.requests import check_files

    with check.make_context("check", list(words)) as context:
        request = check_request(context.params)
    result = check_files(request)
    for one in result.inputs:
        if digests.get(one.file, one.sha256) != one.sha256:
            raise InputError(one.file, [Problem("", "is no longer the file that was audited")])
    found = _counted({str(status): count for status, count in result.counts.items()})
    if found != _counted(counts):
        message = f"the check finds {found}, the audit found {_counted(counts)}; this is a fault in towzone"
        raise TowzoneError(message)
    write_all({Path(place): record_of(result)})


def _is_made(place: Path, counts: Mapping[str, int]) -> bool:
    try:
        content = place.read_bytes()
        whole = read_record(content, place.name).unchanged
    except (OSError, InputError):
        return False
    result = result_of(content) if whole else None
    told = result.get("counts") if result is not None else None
    return isinstance(told, dict) and _counted(told) == _counted(counts)


def _counted(counts: Mapping[str, int]) -> dict[str, int]:
    """Return counts without those of nothing, in one order."""
    return {status: counts[status] for status in sorted(counts) if counts[status]}
