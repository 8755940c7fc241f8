"""An audit made ready: everything but the positions read, and what lies in the folder of the result known."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from towzone import __version__
from towzone.checks.settings import CheckSettings
from towzone.errors import InputError, OutputError, Problem
from towzone.files.vessels import read_vessel
from towzone.files.zone_sets import ZoneSet, read_zone_files
from towzone.fleet.job import FileRead, Job
from towzone.fleet.keys import name_key
from towzone.fleet.manifest import Folder, described, differences
from towzone.fleet.pieces import WHOLE_FACTOR, PieceSizes
from towzone.fleet.sources import SourceFile, find_sources, fingerprint
from towzone.geodesy.lines import LineKind
from towzone.model.result import ROLE_VESSEL, InputFile
from towzone.tracks.options import ReadingOptions

__all__ = ["FleetRequest", "Prepared", "prepare", "sizes_for"]

_ROW_BYTES = 1_000
"""Own choice: memory that one row takes at the most while it is read and sorted; measured 200 to 300."""
_MOST_ROWS, _LEAST_ROWS = 1 << 20, 1 << 14
_MOST_TEXT, _LEAST_TEXT = 64 << 20, 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetRequest:
    """What is to be audited, and how; as the command line states it.

    Parameters
    ----------
    positions : tuple of str
        Files and folders.
    zone_files : tuple of str
    out : Path
        Folder of the result.
    settings : CheckSettings
        With the defaults of what vessels' profiles may say.
    edges, position_error_m, max_speed_kn, reading
        As for a check.
    vessel_file : str or None
        Profile of vessels without one of their own.
    profiles : str or None
        Folder of profiles, each called like its vessel.
    memory_bytes : int
        What one worker may take.
    force : bool
        Begin anew, whatever lies there of an audit.
    records : int
    check_words : tuple of str
        As in `FleetTotals`.
    """

    positions: tuple[str, ...]
    zone_files: tuple[str, ...]
    out: Path
    settings: CheckSettings
    edges: LineKind | None = None
    position_error_m: float | None = None
    max_speed_kn: float | None = None
    reading: ReadingOptions = field(default_factory=ReadingOptions)
    vessel_file: str | None = None
    profiles: str | None = None
    memory_bytes: int = 2 << 30
    force: bool = False
    records: int = 0
    check_words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """An audit made ready: nothing is read of its positions yet, and everything else is known to be right.

    Parameters
    ----------
    complete : dict or None
        The totals of a complete result of the same audit, which is all there is to do.
    """

    request: FleetRequest
    folder: Folder
    files: tuple[SourceFile, ...]
    zones: ZoneSet
    inputs: tuple[InputFile, ...]
    job: Job
    asked: Mapping[str, Any]
    complete: Mapping[str, Any] | None

    def seen_elsewhere(self) -> Callable[[], str]:
        """Return what tells on another machine whether it sees the same files as this one.

        Raises
        ------
        OutputError
            The folder of the result cannot be written.
        """
        mark = self.folder.mark()
        files = [(one.shown, one.place) for one in self.files]
        files += [(file, str(Path(file).resolve())) for file in self.request.zone_files]
        sizes = [(name, place, Path(place).stat().st_size) for name, place in files]
        return partial(_unlike_here, __version__, mark, sizes)


def _unlike_here(version: str, mark: tuple[str, str], files: Sequence[tuple[str, str, int]]) -> str:
    """Return what is wrong for an audit where this runs, nothing if all is well."""
    if __version__ != version:
        return f"has towzone {__version__}, not {version}; install the same version"
    place, text = mark
    try:
        same = Path(place).read_text(encoding="ascii") == text
    except (OSError, ValueError):
        same = False
    if not same:
        return f"does not see {place}; the folder of the result must lie there under the same path"
    for name, place, size in files:
        try:
            seen = Path(place).stat().st_size
        except OSError as error:
            return f"does not see {place} ({error.strerror}); files must lie there under the same paths"
        if seen != size:
            return f"sees another {name} ({seen} bytes, not {size})"
    return ""


def sizes_for(memory_bytes: int) -> PieceSizes:
    """Return how large pieces may be for workers of some memory."""
    return PieceSizes(
        rows=min(max(memory_bytes // (2 * _ROW_BYTES), _LEAST_ROWS), _MOST_ROWS),
        text_bytes=min(max(memory_bytes // 32, _LEAST_TEXT), _MOST_TEXT),
        whole_bytes=memory_bytes // WHOLE_FACTOR,
    )


def prepare(request: FleetRequest, told: Mapping[str, Any]) -> Prepared:
    """Look at everything but the positions themselves, and at what lies in the folder of the result.

    Parameters
    ----------
    told : mapping
        The settings as the result tells of them.

    Raises
    ------
    InputError
        Zones or profiles are refused, or positions are missing.
    UsageError, OutputError
        The folder is no place for this result, or holds another one.
    """
    files = find_sources(request.positions)
    folder = Folder(request.out)
    folder.require_ours()
    _require_apart(folder, files, request)
    zones = read_zone_files(request.zone_files, request.edges)
    vessel_file, profiles, inputs = _profiles(request)
    asked = {
        "towzone": __version__,
        "positions": described(files),
        "settings": dict(told),
        "zones": [[one.file, one.sha256] for one in zones.inputs],
        "profiles": sorted([one.file, one.sha256] for one in inputs),
    }
    job = Job(
        work=str(folder.work),
        edges=request.edges,
        settings=request.settings,
        position_error_m=request.position_error_m,
        max_speed_kn=request.max_speed_kn,
        reading=request.reading,
        vessel_file=vessel_file,
        profiles=profiles,
        memory_bytes=request.memory_bytes,
        sizes=sizes_for(request.memory_bytes),
    )
    complete = None if request.force else _complete(folder, asked, files)
    return Prepared(
        request=request,
        folder=folder,
        files=tuple(files),
        zones=zones,
        inputs=(*zones.inputs, *inputs),
        job=job,
        asked=asked,
        complete=complete,
    )


def _require_apart(folder: Folder, files: Sequence[SourceFile], request: FleetRequest) -> None:
    """Refuse a result in the middle of what is read: it would be read as positions the next time."""
    out = folder.path.resolve()
    inside = [
        path for path in request.positions if Path(path).is_dir() and out.is_relative_to(Path(path).resolve())
    ]
    around = [one.shown for one in files if Path(one.place).is_relative_to(out)]
    if inside or around:
        message = (
            f"{folder.path}: lies together with the positions ({(inside + around)[0]}); name another folder"
        )
        raise OutputError(message)


def _profiles(request: FleetRequest) -> tuple[FileRead | None, dict[str, FileRead], list[InputFile]]:
    """Return the profile of all, those of vessels by their keys, and the files they were read from.

    Every profile is read once here: one that cannot be is told before any work is done.
    """
    inputs: list[InputFile] = []

    def read(path: str) -> FileRead:
        found = read_vessel(path).input
        inputs.append(replace(found, role=ROLE_VESSEL))
        return FileRead(file=path, place=str(Path(path).resolve()), sha256=found.sha256)

    of_all = read(request.vessel_file) if request.vessel_file is not None else None
    own: dict[str, FileRead] = {}
    if request.profiles is not None:
        folder = Path(request.profiles)
        if not folder.is_dir():
            raise InputError(request.profiles, [Problem("", "there is no such folder of vessel profiles")])
        for path in sorted(folder.glob("*.toml")):
            key = name_key(path.stem)
            if key in own:
                message = f"is for the same vessel as {own[key].file}; leave one of them out"
                raise InputError(str(path), [Problem("", message)])
            own[key] = read(str(path))
    return of_all, own, inputs


def _complete(
    folder: Folder, asked: Mapping[str, Any], files: Sequence[SourceFile]
) -> Mapping[str, Any] | None:
    """Return the totals of a complete result of this audit; refuse work on another one, or its result."""
    begun, totals = folder.manifest, folder.totals
    before = begun if begun is not None else totals["asked"] if totals is not None else None
    if before is None:
        return None
    found = differences(before, asked)
    if not found and totals is not None:
        found = _changed(totals, files)
    if found:
        what = "work on another audit" if totals is None else "the result of another audit"
        message = (
            f"{folder.path}: holds {what} ({'; '.join(found[:5])}); give --force to begin anew, or name"
            " another folder"
        )
        raise OutputError(message)
    return totals


def _changed(totals: Mapping[str, Any], files: Sequence[SourceFile]) -> list[str]:
    """Return which inputs are no longer what they were when a result was made."""
    seen = {one["file"]: one for one in totals["inputs"] if one["role"] == "track"}
    changed = []
    for file in files:
        before = seen.get(file.shown)
        try:
            same = before is not None and (
                Path(file.place).stat().st_size == before["bytes"]
                and fingerprint(file.place).sha256 == before["sha256"]
            )
        except OSError:
            same = False
        if not same and before is not None:
            changed.append(f"{file.shown} has changed")
    return changed
