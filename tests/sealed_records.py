"""Small sealed records for tests of verification: a real seal and a real result, without the page around."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

from cli_runner import call

from towzone.record.island import data_island
from towzone.record.proof.seal import DIGEST_ELEMENT, LIST_PLACE, seal
from towzone.record.proof.versions import computed_with

DIGEST = re.compile(rb'<code id="digest">([0-9a-f]{64})</code>')
LIST = re.compile(rb'<script type="application/json" id="parts">(.*?)</script>')


def sealed(result_json: str, made_with: dict[str, str] | None = None) -> bytes:
    """A sealed file around the JSON of a result."""
    pieces = (
        ("head", "<!DOCTYPE html>\n"),
        LIST_PLACE,
        ("answer", "\n<p>one</p>\n<p>two</p>\n"),
        ("rows", "<table>\n<tr><td>row</td></tr>\n</table>\n"),
        ("footer", f"<p>{DIGEST_ELEMENT}</p>\n"),
        ("result", f"{data_island('result', result_json)}\n"),
        ("end", "</html>\n"),
    )
    return seal(pieces, computed_with() if made_with is None else made_with).encode()


def sealed_check(folder: Path, *arguments: object, cwd: Path) -> tuple[Path, dict]:
    """Run a check in a folder; return a sealed file around its result, and the result."""
    ran = call("check", *arguments, "--format", "json", "-q", cwd=cwd)
    assert ran.code in (0, 1, 4), ran.err
    path = folder / "record.html"
    path.write_bytes(sealed(ran.out))
    return path, json.loads(ran.out)


def listed(content: bytes) -> list[tuple[str, int, int]]:
    """Name, beginning and end of each part of an unchanged record, by its own list."""
    (text,) = LIST.findall(content)
    found, at = [], 0
    for part in json.loads(text)["parts"]:
        found.append((part["name"], at, at + part["bytes"]))
        at += part["bytes"]
    assert at == len(content)
    return found


def digest_of(content: bytes) -> str:
    """The digest as its definition says, in the plainest way."""
    (stated,) = DIGEST.findall(content)
    return hashlib.sha256(content.replace(stated, b"0" * 64)).hexdigest()


def sealed_anew(content: bytes) -> bytes:
    """What a forger makes of a changed record: list and digest computed again over what is there.

    Only for changes that keep the size of every part.
    """
    (text,) = LIST.findall(content)
    data = json.loads(text)
    at = 0
    (stated,) = DIGEST.findall(content)
    for part in data["parts"]:
        if part["sha256"] is not None:
            part["sha256"] = hashlib.sha256(content[at : at + part["bytes"]]).hexdigest()
        at += part["bytes"]
    data["list_sha256"] = "0" * 64
    blank = json.dumps(data, sort_keys=True, separators=(",", ":")).encode()
    element = b'<script type="application/json" id="parts">' + blank + b"</script>"
    own = hashlib.sha256(element).hexdigest().encode()
    content = content.replace(text, blank.replace(b"0" * 64, own, 1))
    return content.replace(stated, digest_of(content).encode())
