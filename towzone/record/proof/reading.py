"""A record read back: whether it is as it was written, and if not, where it was changed.

What is read may come from hostile hands. It is never run and never believed beyond what it says of itself:
its size is bounded, and everything in it that is used is checked to be of the form towzone writes.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from towzone.errors import InputError, Problem
from towzone.files.inputs import check_local_path
from towzone.record.proof.parts import Listed, read_list
from towzone.record.proof.seal import (
    DIGEST_END,
    DIGEST_PART,
    DIGEST_START,
    LIST_PART,
    LIST_START,
    SEAL,
    ZEROS,
)
from towzone.record.proof.whereabouts import Change, ChangeKind, located

__all__ = ["LARGEST_BYTES", "Reading", "load_record", "read_record", "result_of"]

LARGEST_BYTES = 256 << 20
"""Own choice: several times the record of a million fixes; larger files are refused unread."""

_DEEPEST = 30
"""Own choice: a result is less than ten deep; more would only exhaust whatever reads it."""

_DIGEST = re.compile(
    re.escape(DIGEST_START.encode()) + rb"([0-9a-f]{64})" + re.escape(DIGEST_END.encode()), re.DOTALL
)
_RESULT = re.compile(rb'<script type="application/json" id="result">([^<]*)</script>')
_LONE_CR = re.compile(rb"\r(?!\n)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a record says of itself, and whether it is so.

    Parameters
    ----------
    unchanged : bool
        Whether not one byte differs from what towzone wrote (or from what somebody sealed anew).
    stated : str or None
        The digest in the file, 64 hexadecimal digits; ``None`` where there is none, or more than one.
    computed : str
        The digest of the file as it is.
    line_ends : bool
        Whether the ends of lines are no longer those towzone writes. ``changes`` then tells what is changed
        besides.
    changes : tuple of Change
        In the order of the file; only line ends were changed where there are none and it is not unchanged.
    made_with : mapping of str to str
        Versions; untrusted text, empty where the list of parts is damaged.
    """

    unchanged: bool
    stated: str | None
    computed: str
    line_ends: bool
    changes: tuple[Change, ...]
    made_with: Mapping[str, str]


def load_record(path: str) -> bytes:
    """Return the bytes of a record, none of them unpacked or converted.

    Raises
    ------
    InputError
        Not a local file, missing, a folder, unreadable, or too large for a record.
    """
    check_local_path(path)
    try:
        with Path(path).open("rb") as stream:
            content = stream.read(LARGEST_BYTES + 1)
    except OSError as error:
        message = f"cannot be read: {error.strerror or error}"
        raise InputError(path, [Problem("", message)]) from error
    if len(content) > LARGEST_BYTES:
        message = f"this is larger than {LARGEST_BYTES >> 20} MiB, and no record is"
        raise InputError(path, [Problem("", message)])
    return content


def read_record(content: bytes, file: str) -> Reading:
    """Return whether a record is as it was written, and where not.

    Parameters
    ----------
    content : bytes
        The whole file.
    file : str
        Its path as the user wrote it.

    Raises
    ------
    InputError
        It is no record of towzone, or one sealed in a way that this towzone does not know.
    """
    if DIGEST_START.encode() not in content and LIST_START.encode() not in content:
        message = (
            "this is not a record of towzone: it has neither a digest nor a list of its parts (a record made "
            "before towzone wrote those cannot be verified)"
        )
        raise InputError(file, [Problem("", message)])
    listed = read_list(content)
    if listed is not None and listed.seal != SEAL:
        message = "this record is sealed in a way that this towzone does not know; a newer one may"
        raise InputError(file, [Problem("", message)])
    stated, computed = _digests(content)
    if listed is not None and stated is not None and stated == computed and _is_whole(content, listed):
        return _reading(content, listed, unchanged=True)
    plain = _plain_ends(content)
    if plain is None:
        return _reading(content, listed, changes=_changes(content, listed))
    again = read_list(plain)
    stated, computed = _digests(plain)
    only_ends = again is not None and stated is not None and stated == computed and _is_whole(plain, again)
    return _reading(
        content, again, line_ends=True, changes=() if only_ends else _changes(plain, again), stated=stated
    )


def _reading(
    content: bytes,
    listed: Listed | None,
    *,
    unchanged: bool = False,
    line_ends: bool = False,
    changes: tuple[Change, ...] = (),
    stated: str | None = None,
) -> Reading:
    found, computed = _digests(content)
    return Reading(
        unchanged=unchanged,
        stated=stated if stated is not None else found,
        computed=computed,
        line_ends=line_ends,
        changes=changes,
        made_with=listed.made_with if listed is not None else {},
    )


def _digests(content: bytes) -> tuple[str | None, str]:
    """Return the digest a file states, and the one it has: that of all its bytes, its own as zeros."""
    found = list(_DIGEST.finditer(content))
    if len(found) != 1 or content.count(DIGEST_START.encode()) != 1:
        return None, hashlib.sha256(content).hexdigest()
    first, last = found[0].span(1)
    view = memoryview(content)
    digest = hashlib.sha256(view[:first])
    digest.update(ZEROS.encode())
    digest.update(view[last:])
    return found[0][1].decode(), digest.hexdigest()


def _is_whole(content: bytes, listed: Listed) -> bool:
    return not located(content, listed.parts, listed.element)


def _changes(content: bytes, listed: Listed | None) -> tuple[Change, ...]:
    """Return where a file that is not as it was written was changed; never empty."""
    if listed is None:
        return (Change(part=LIST_PART, kind=ChangeKind.CHANGED),)
    found = located(content, listed.parts, listed.element)
    return found or (Change(part=DIGEST_PART, kind=ChangeKind.CHANGED),)


def _plain_ends(content: bytes) -> bytes | None:
    """Return a file with line feeds for line ends, where most of its line ends are others; else ``None``."""
    pairs, feeds = content.count(b"\r\n"), content.count(b"\n")
    lone = len(_LONE_CR.findall(content)) if b"\r" in content else 0
    if pairs * 2 > feeds or lone > feeds:
        return content.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return None


def result_of(content: bytes) -> dict[str, Any] | None:
    """Return the result that a record carries, as data; ``None`` where there is none that can be read."""
    found = _RESULT.findall(content)
    if len(found) != 1:
        return None
    try:
        data = json.loads(found[0], parse_constant=_no_constant)
    except (ValueError, RecursionError):
        return None
    return data if isinstance(data, dict) and not _is_deeper(data, _DEEPEST) else None


def _is_deeper(data: object, levels: int) -> bool:
    """Return whether lists and objects stand in each other more than so many deep."""
    layer = [data]
    for _ in range(levels):
        inner = [
            one.values() if isinstance(one, dict) else one for one in layer if isinstance(one, dict | list)
        ]
        layer = [value for values in inner for value in values]
        if not layer:
            return False
    return True


def _no_constant(name: str) -> float:
    message = f"{name} is no JSON"
    raise ValueError(message)
