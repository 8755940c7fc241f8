"""The seal: one digest of the whole file, written into it, and a list that says where something changed.

The digest is the SHA-256 of the file's bytes with its own 64 digits written as zeros. The list divides the
whole file into named parts; it carries a digest of itself, made in the same way. Neither proves who made the
file: whoever changes it can compute both anew.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence

from towzone.files.outputs import UNENCODABLE
from towzone.record.island import dump, escape_json

__all__ = [
    "DIGEST_ELEMENT",
    "DIGEST_END",
    "DIGEST_PART",
    "DIGEST_START",
    "LIST_END",
    "LIST_PART",
    "LIST_PLACE",
    "LIST_START",
    "SEAL",
    "ZEROS",
    "Piece",
    "seal",
]

Piece = tuple[str, str]
"""Name (our own word) and text of one part of the file."""

SEAL = "towzone.seal/1"
"""Form of the seal; another form gets another name."""

ZEROS = "0" * 64

DIGEST_START, DIGEST_END = '<code id="digest">', "</code>"
DIGEST_ELEMENT = f"{DIGEST_START}{ZEROS}{DIGEST_END}"
"""What a page holds once, where its digest is to be shown."""

DIGEST_PART, LIST_PART = "digest", "parts"

LIST_PLACE: Piece = (LIST_PART, "")
"""The piece in whose place the list of parts is written."""

LIST_START, LIST_END = '<script type="application/json" id="parts">', "</script>"

_Part = tuple[str, bytes]


def seal(pieces: Sequence[Piece], made_with: Mapping[str, str]) -> str:
    """Return the whole text of a file with its digest and its list of parts written in.

    Parameters
    ----------
    pieces : sequence of Piece
        The file from its beginning to its end: `LIST_PLACE` once, `DIGEST_ELEMENT` once.
    made_with : mapping of str to str
        Versions of what the file and its figures were made with, for the list.

    Raises
    ------
    ValueError
        The place of the digest or of the list is missing or there twice: a fault of the program.
    """
    parts = [(name, text.encode("utf-8", UNENCODABLE)) for name, text in pieces]
    if [name for name, _ in parts].count(LIST_PART) != 1:
        message = "a page needs one place for the list of its parts"
        raise ValueError(message)
    if sum(content.count(DIGEST_START.encode()) for _, content in parts) != 1:
        message = "a page needs one place for its digest"
        raise ValueError(message)
    parts = [part for whole in parts for part in _parted(whole)]
    listed = _list(parts, made_with)
    content = b"".join(listed if name == LIST_PART else some for name, some in parts)
    text = content.decode("utf-8")
    return text.replace(DIGEST_ELEMENT, f"{DIGEST_START}{_sha256(content)}{DIGEST_END}")


def _parted(part: _Part) -> list[_Part]:
    """Return a part, or where it holds the digest the three parts that makes of it."""
    name, content = part
    before, element, after = content.partition(DIGEST_ELEMENT.encode())
    if not element:
        return [part]
    return [
        (name, before + DIGEST_START.encode()),
        (DIGEST_PART, ZEROS.encode()),
        (name, DIGEST_END.encode() + after),
    ]


def _list(parts: Sequence[_Part], made_with: Mapping[str, str]) -> bytes:
    """Return the element that lists the parts, with its own size and digest in it."""
    size = 0
    while True:
        element = _list_element(parts, made_with, size).encode("ascii")
        if len(element) == size:
            break
        size = len(element)
    return element.replace(ZEROS.encode(), _sha256(element).encode(), 1)


def _list_element(parts: Sequence[_Part], made_with: Mapping[str, str], list_bytes: int) -> str:
    told = [
        {
            "name": name,
            "bytes": list_bytes if name == LIST_PART else len(content),
            "sha256": None if name in (LIST_PART, DIGEST_PART) else _sha256(content),
        }
        for name, content in parts
    ]
    data = {"list_sha256": ZEROS, "made_with": dict(made_with), "parts": told, "seal": SEAL}
    return f"{LIST_START}{escape_json(dump(data))}{LIST_END}"


def _sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
