"""A recorded check made again from inputs found in a folder, and its answer compared."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Any

from towzone import __version__
from towzone.cli.differences import compared
from towzone.cli.found_inputs import Found, Wanted, find_inputs
from towzone.cli.page_again import PageAgain, compare_page, not_compared, record_of
from towzone.cli.plan_requests import PlanRequest, plan_files
from towzone.cli.replay import RecordedError, recorded_request, wanted_inputs
from towzone.cli.requests import check_files
from towzone.errors import TowzoneError
from towzone.model.result import CheckResult
from towzone.record.catalogue import say, say_count
from towzone.record.proof.reading import Reading
from towzone.record.proof.versions import computed_with
from towzone.record.text import short
from towzone.tables.result_json import to_json

__all__ = ["Again", "Answer", "check_again"]

_PATH = 200


class Answer(StrEnum):
    """What became of the check made again."""

    SAME = "same"
    DIFFERENT = "different"
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """What came of making a check again.

    Parameters
    ----------
    folder : str
        Where the inputs were looked for.
    answer : Answer
    exact : bool
        Whether the two results are equal in everything but where the files lay.
    reasons : tuple of str
        In words: what differs, or why it cannot be told.
    versions : tuple of str
        What was made with other versions than are installed here.
    page : PageAgain or None
        Whether the page that people see is the one of that result; ``None`` where the answer is not the same.
    """

    folder: str
    answer: Answer
    exact: bool = False
    reasons: tuple[str, ...] = ()
    versions: tuple[str, ...] = ()
    page: PageAgain | None = None


def check_again(result: Mapping[str, Any] | None, content: bytes, reading: Reading, folder: str) -> Again:
    """Make a recorded check again, and the page of its result.

    Parameters
    ----------
    result : mapping or None
        As read from the record.
    content : bytes
        The record.
    reading : Reading
        What it says of itself.
    folder : str
        With the inputs.
    """
    if result is None:
        return _cannot(folder, [say("verify.again.no_result")])
    try:
        wanted = wanted_inputs(result)
    except RecordedError as error:
        return _cannot(folder, [say("verify.again.no_settings", problem=short(str(error)))])
    found = find_inputs(folder, wanted)
    missing = [one for one in wanted if one.sha256 not in found.places]
    if missing:
        return _cannot(folder, _missing(missing, found, folder))
    versions = _other_versions(result, reading.made_with)
    with tempfile.TemporaryDirectory(prefix="towzone-") as copies:
        try:
            request = recorded_request(result, found.places, Path(copies))
        except RecordedError as error:
            return _cannot(folder, [say("verify.again.no_settings", problem=short(str(error)))], versions)
        try:
            made = plan_files(request) if isinstance(request, PlanRequest) else check_files(request)
        except TowzoneError as error:
            return _cannot(folder, [say("verify.again.refused", problem=short(str(error)))], versions)
    comparison = compared(result, json.loads(to_json(made)), same_versions=not versions)
    return Again(
        folder=folder,
        answer=Answer.SAME if comparison.same else Answer.DIFFERENT,
        exact=comparison.exact,
        reasons=comparison.differences,
        versions=versions,
        page=_page(made, content, reading, versions) if comparison.same else None,
    )


def _page(made: CheckResult, content: bytes, reading: Reading, versions: tuple[str, ...]) -> PageAgain:
    """Return whether a record is the one that a result makes here, where that can be told."""
    if versions:
        return not_compared(say("verify.page.versions", versions=short("; ".join(versions), _PATH)))
    try:
        again = record_of(made)
    except TowzoneError as error:
        return not_compared(short(str(error), _PATH))
    return compare_page(content, reading, again)


def _cannot(folder: str, reasons: Sequence[str], versions: tuple[str, ...] = ()) -> Again:
    return Again(folder=folder, answer=Answer.CANNOT_TELL, reasons=tuple(reasons), versions=versions)


def _missing(missing: Sequence[Wanted], found: Found, folder: str) -> list[str]:
    said = []
    for one in missing:
        told = {"file": short(one.file, _PATH), "sha256": short(one.sha256, 64)}
        if one.file in found.named_alike:
            place = short(str(found.named_alike[one.file]), _PATH)
            said.append(say("verify.again.other_content", place=place, **told))
        else:
            said.append(say("verify.again.missing", size=one.size, folder=short(folder, _PATH), **told))
    if found.unread:
        said.append(say_count("verify.again.unread", len(found.unread)))
    return said


def _other_versions(result: Mapping[str, Any], made_with: Mapping[str, str]) -> tuple[str, ...]:
    """Return what here is of another version than a record was made with, in words."""
    provenance = result.get("provenance")
    recorded = dict(made_with)
    if isinstance(provenance, dict):
        recorded["towzone"] = str(provenance.get("towzone"))
    here = {"towzone": __version__, **computed_with()}
    unknown = say("verify.again.version_unknown")
    return tuple(
        say("verify.again.version", name=name, before=short(recorded.get(name, unknown), 40), here=version)
        for name, version in here.items()
        if recorded.get(name) != version
    )
