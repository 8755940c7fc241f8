"""The list of parts that a record carries, read back and checked."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass

from towzone.record.proof.seal import DIGEST_PART, LIST_END, LIST_PART, LIST_START, ZEROS

__all__ = ["Listed", "ListedPart", "read_list"]

_ELEMENT = re.compile(re.escape(LIST_START.encode()) + rb"[^<]*" + re.escape(LIST_END.encode()))
_OWN_DIGEST = re.compile(rb'"list_sha256":"([0-9a-f]{64})"')
_SHA256 = re.compile(r"[0-9a-f]{64}", re.ASCII)
_MOST_PARTS = 1000
"""Own choice: a record has some thirty."""
_MOST_BYTES = 1 << 20
"""Own choice: the list of a record has some five thousand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedPart:
    """A part of the file; ``sha256`` is ``None`` for the list itself and the digest."""

    name: str
    size: int
    sha256: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A list of parts that is as it was written.

    Parameters
    ----------
    element : bytes
        The whole element.
    parts : tuple of ListedPart
        From the beginning of the file to its end.
    made_with : mapping of str to str
        Versions by name; untrusted text.
    seal : str
        The form of the seal.
    """

    element: bytes
    parts: tuple[ListedPart, ...]
    made_with: Mapping[str, str]
    seal: str


def read_list(content: bytes) -> Listed | None:
    """Return the list of parts of a file; ``None`` where it is missing, there twice or changed."""
    elements = _ELEMENT.findall(content)
    if len(elements) != 1 or content.count(LIST_START.encode()) != 1 or len(elements[0]) > _MOST_BYTES:
        return None
    element: bytes = elements[0]
    own = _OWN_DIGEST.findall(element)
    if len(own) != 1:
        return None
    if hashlib.sha256(element.replace(own[0], ZEROS.encode(), 1)).hexdigest() != own[0].decode():
        return None
    try:
        data = json.loads(element[len(LIST_START) : -len(LIST_END)])
    except (ValueError, RecursionError):
        return None
    return _listed(element, data) if isinstance(data, dict) else None


def _listed(element: bytes, data: Mapping[str, object]) -> Listed | None:
    told, made_with, seal = data.get("parts"), data.get("made_with"), data.get("seal")
    if not isinstance(told, list) or not isinstance(made_with, dict) or not isinstance(seal, str):
        return None
    parts = tuple(part for part in map(_part, told[: _MOST_PARTS + 1]) if part is not None)
    if len(parts) != len(told) or not all(isinstance(version, str) for version in made_with.values()):
        return None
    names = [part.name for part in parts]
    if names.count(LIST_PART) != 1 or names.count(DIGEST_PART) != 1:
        return None
    return Listed(element=element, parts=parts, made_with=made_with, seal=seal)


def _part(told: object) -> ListedPart | None:
    if not isinstance(told, dict):
        return None
    name, size, sha256 = told.get("name"), told.get("bytes"), told.get("sha256")
    if not isinstance(name, str) or not isinstance(size, int) or size < 0:
        return None
    if (sha256 is None) != (name in (LIST_PART, DIGEST_PART)):
        return None
    if sha256 is not None and not (isinstance(sha256, str) and _SHA256.fullmatch(sha256)):
        return None
    return ListedPart(name=name, size=size, sha256=sha256)
