"""What an audit was begun with, kept beside its work, so that only the same audit goes on with it."""

from __future__ import annotations

import contextlib
import dataclasses
import fcntl
import json
import secrets
import shutil
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from towzone.errors import OutputError, quoted
from towzone.files.outputs import put_in_place
from towzone.fleet.pieces import Cut, Piece, Survey
from towzone.fleet.sources import Form, Seen, SourceFile, fingerprint
from towzone.model.fleet import SCHEMA

__all__ = [
    "DASK",
    "RESULTS",
    "Folder",
    "described",
    "differences",
    "read_survey",
    "write_survey",
]

RESULTS = ("rows", "tows", "gaps", "records", "vessels.parquet", "index.html", "totals.json")
"""What stands in the folder of a result, the totals last: with them it is complete."""

_WORK = ".work"
_MANIFEST = "manifest.json"
_EARLIER, _LOCK, DASK = "earlier", "lock", "dask"
_IN_USE = (_LOCK, DASK)
"""What an audit has in the work from its start: its lock, and files of its workers."""
_WORK_SCHEMA = "towzone.fleet-work/1"


class Folder:
    """The folder an audit writes to.

    Parameters
    ----------
    path : Path
        As the user wrote it.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.work = path.resolve() / _WORK

    @property
    def totals(self) -> dict[str, Any] | None:
        """The totals of a complete result, ``None`` where there are none of ours."""
        return _json_of(self.path / "totals.json", SCHEMA)

    @property
    def manifest(self) -> dict[str, Any] | None:
        """What the work that lies here was begun with, ``None`` where there is none of ours."""
        return _json_of(self.work / _MANIFEST, _WORK_SCHEMA)

    def require_ours(self) -> None:
        """Refuse a folder that holds anything but a result of an audit, or work on one.

        Raises
        ------
        OutputError
        """
        if self.path.exists() and not self.path.is_dir():
            message = f"{self.path}: is a file; name a folder for the result"
            raise OutputError(message)
        if not self.path.exists() or self.totals is not None or self.manifest is not None:
            return
        if self.work.is_dir() and [one.name for one in self.path.iterdir()] == [_WORK]:
            return  # stopped before it had begun
        if any(self.path.iterdir()):
            message = (
                f"{self.path}: holds other files, and no result of an audit; name a new or empty folder"
                " (--force replaces nothing but such results)"
            )
            raise OutputError(message)

    def mark(self) -> tuple[str, str]:
        """Put a mark into the work by which others see that they see the same folder; return place and text.

        Raises
        ------
        OutputError
            It cannot be written.
        """
        place, text = self.work / "mark", secrets.token_hex(16)
        try:
            self.work.mkdir(parents=True, exist_ok=True)
            place.write_text(text, encoding="ascii")
        except OSError as error:
            message = f"{self.path}: could not be written: {error.strerror or error}"
            raise OutputError(message) from error
        return str(place), text

    def begin(self, asked: Mapping[str, Any]) -> None:
        """Make the folder of work, and put down what it was begun with.

        Raises
        ------
        OutputError
            It cannot be written.
        """
        try:
            for name in ("surveys", "pieces", "vessels", "parts"):
                (self.work / name).mkdir(parents=True, exist_ok=True)
        except OSError as error:
            message = f"{self.path}: could not be written: {error.strerror or error}"
            raise OutputError(message) from error
        _put(self.work / _MANIFEST, {"schema": _WORK_SCHEMA, **asked})

    def drop_work(self) -> None:
        """Take away what was worked out before, for an audit that begins anew and holds the folder."""
        self._bring_back()
        for one in self.work.iterdir():
            if one.name not in _IN_USE:
                _remove(one)

    def set_aside(self) -> None:
        """Put an earlier result into the work, where it is kept until another takes its place."""
        (self.work / _EARLIER).mkdir(exist_ok=True)
        for name in reversed(RESULTS):  # the totals first: without them the rest is no result
            if (self.path / name).exists():
                (self.path / name).replace(self.work / _EARLIER / name)

    def _bring_back(self) -> None:
        for name in RESULTS:
            kept = self.work / _EARLIER / name
            if kept.exists():
                _remove(self.path / name)
                kept.replace(self.path / name)

    def clear_work(self) -> None:
        """Take away the work, the manifest last: with it the rest is known for ours.

        An earlier result that was set aside for it comes back.
        """
        if not self.work.is_dir():
            return
        self._bring_back()
        for one in self.work.iterdir():
            if one.name != _MANIFEST:
                _remove(one)
        _remove(self.work / _MANIFEST)
        _remove(self.work)

    def finish(self) -> None:
        """Put everything that was gathered in its place, the totals last, and take the work away."""
        _remove(self.work / _EARLIER)
        for name in RESULTS:
            made = self.work / "parts" / name
            if made.exists():
                _remove(self.path / name)
                made.replace(self.path / name)
        self.clear_work()

    @contextlib.contextmanager
    def locked(self) -> Iterator[None]:
        """Keep other audits out of the folder.

        Raises
        ------
        OutputError
            Another one is at work in it.
        """
        try:
            self.work.mkdir(parents=True, exist_ok=True)
            with (self.work / _LOCK).open("wb") as lock:
                try:
                    fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                except BlockingIOError as error:
                    message = f"{self.path}: another audit is at work in this folder; wait for it, or stop it"
                    raise OutputError(message) from error
                yield
        except OSError as error:
            if isinstance(error, OutputError):
                raise
            message = f"{error.filename or self.path}: could not be written: {error.strerror or error}"
            raise OutputError(message) from error


def _remove(path: Path) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


def _json_of(path: Path, schema: str) -> dict[str, Any] | None:
    try:
        data = json.loads(path.read_bytes())
    except (OSError, ValueError):
        return None
    return data if isinstance(data, dict) and data.get("schema") == schema else None


def _put(path: Path, data: Mapping[str, Any]) -> None:
    text = json.dumps(data, sort_keys=True, indent=1, ensure_ascii=True) + "\n"

    def write(place: Path) -> None:
        place.write_text(text, encoding="ascii")

    put_in_place(path, write)


def differences(before: Mapping[str, Any], now: Mapping[str, Any]) -> list[str]:
    """Return what differs between what an audit was begun with and what is asked now, in words."""
    said = []
    for name in sorted({*before, *now} - {"schema"}):
        old, new = before.get(name), now.get(name)
        if old == new:
            continue
        if isinstance(old, dict) and isinstance(new, dict):
            said += differences(old, new)
        elif name in _FILES and isinstance(old, list) and isinstance(new, list):
            said.append(f"{name}: {_other_files(old, new)}")
        else:
            said.append(f"{name} was {_short(old)}, now {_short(new)}")
    return said


_FILES = ("positions", "profiles", "zones")


def _other_files(old: Sequence[Sequence[str]], new: Sequence[Sequence[str]]) -> str:
    """Return how two lists of files differ, the first of each kind by name, the others counted."""
    before, now = ({one[0]: one[1:] for one in some} for some in (old, new))
    added = [file for file in now if file not in before]
    left = [file for file in before if file not in now]
    changed = [file for file in now if file in before and now[file] != before[file]]
    told = [
        _named(some, what)
        for some, what in ((left, "left out"), (added, "new"), (changed, "changed"))
        if some
    ]
    return ", ".join(told) or "in another order, or other parts"


def _named(files: Sequence[str], what: str) -> str:
    return f"{quoted(files[0])}{f' and {len(files) - 1} more' if len(files) > 1 else ''} {what}"


def _short(value: object) -> str:
    if value is None:
        return "not given"
    return (
        quoted(json.dumps(value, ensure_ascii=True)) if isinstance(value, list | dict) else quoted(str(value))
    )


def write_survey(path: Path, survey: Survey) -> None:
    """Put down what a file was found to be."""
    pieces = [
        [piece.cut.value, piece.groups, piece.begin, piece.end, piece.first_line] for piece in survey.pieces
    ]
    _put(path, {"seen": dataclasses.asdict(survey.seen), "rows": survey.rows, "pieces": pieces})


def read_survey(path: Path, file: SourceFile) -> Survey | None:
    """Return what was put down of a file, ``None`` where there is nothing.

    Raises
    ------
    OutputError
        The file has changed since.
    """
    try:
        data = json.loads(path.read_bytes())
    except (OSError, ValueError):
        return None
    seen = Seen(**data["seen"])
    if not _is_same(file, seen):
        message = (
            f"{file.shown}: has changed since this audit was begun; give --force to begin anew, or another"
            " folder for the result"
        )
        raise OutputError(message)
    pieces = [
        Piece(
            number=number,
            file=file,
            cut=Cut(cut),
            groups=tuple(groups),
            begin=begin,
            end=end,
            first_line=line,
        )
        for number, (cut, groups, begin, end, line) in enumerate(data["pieces"])
    ]
    return Survey(seen=seen, pieces=tuple(pieces), rows=data["rows"])


def _is_same(file: SourceFile, seen: Seen) -> bool:
    path = Path(file.place)
    try:
        told = path.stat()
        if told.st_size != seen.bytes:
            return False
        return told.st_mtime_ns == seen.changed_ns or fingerprint(file.place).sha256 == seen.sha256
    except OSError:
        return False


def described(files: Sequence[SourceFile]) -> list[list[str]]:
    """Return the files of an audit as its manifest tells of them."""
    return [[one.file, one.part, Form(one.form).value] for one in files]
