"""What a chart file says it is, from its own bytes, before the vector library opens it.

The library tells no S-101 cell from a broken one, passes over updates that do not fit without a word, and
ends the whole program over damaged names of fields; so the frame of every record is looked over here.

References
----------
IHO S-57 Edition 3.1 (2000), Part 3, Annex A: the leader and directory of an ISO/IEC 8211 record; 7.3.1.1: the
data set identification field DSID.
"""

from __future__ import annotations

from dataclasses import dataclass

from towzone.files.fiona_guard import refused

__all__ = ["Identity", "identify"]

_LEADER = 24
_UNIT = b"\x1f"
_ENDS = (b"\x1e", b"\x1e\0")
"""How a field ends; the second where its text is in two bytes a letter."""
_NEW, _REVISION = 1, 2
_FOREIGN = {
    "CSID": "an S-101 cell, the successor of S-57, which cannot be read here; ask for the S-57 cell",
    "CATD": "the catalogue of an exchange set, not a cell; give the cell itself (.000)",
}
_ENCRYPTED = (
    "the content is not that of an S-57 cell: encrypted (S-63) cells begin like this, and other chart"
    " formats; ask the chart office for the unencrypted S-57 cell (.000)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity:
    """Name, edition, update and kind of one data set."""

    name: str
    edition: str
    update: str
    is_update: bool


def identify(data: bytes, path: str) -> Identity:
    """Return what a file says it is.

    Raises
    ------
    InputError
        No S-57 data set: another product, encrypted, foreign or damaged.
    """
    records = _records(data, path)
    tags = [tag for tag, _ in records[0]]
    for tag, what in _FOREIGN.items():
        if tag in tags:
            raise refused(path, f"this is {what}")
    if "DSID" not in tags or "VRID" not in tags:
        raise refused(path, _ENCRYPTED)
    content = dict(records[1]).get("DSID", b"") if len(records) > 1 else b""
    texts = content[7:].split(_UNIT)
    if len(texts) < 4 or content[5] not in (_NEW, _REVISION):
        raise refused(path, "the S-57 cell is damaged: it does not say which data set it is. Get it again")
    name, edition, update = (text.decode("latin-1").strip() for text in texts[:3])
    return Identity(name=name, edition=edition, update=update, is_update=content[5] == _REVISION)


def _records(data: bytes, path: str) -> list[list[tuple[str, bytes]]]:
    """Return tag and content of the fields of each record; the first record describes the others."""
    records: list[list[tuple[str, bytes]]] = []
    start, tags = 0, set[str]()
    while start < len(data):
        fields, length = _record(data, start)
        if not records:
            if not fields or not data[:length].isascii():
                raise refused(path, _ENCRYPTED)
            tags = {tag for tag, _ in fields}
        elif not fields or not tags.issuperset(tag for tag, _ in fields):
            raise refused(path, f"the S-57 cell is damaged or cut off in record {len(records)}. Get it again")
        records.append(fields)
        start += length
    return records


def _record(data: bytes, start: int) -> tuple[list[tuple[str, bytes]], int]:
    """Return the fields of a record and its length; no fields where its frame does not hold together."""
    leader = data[start : start + _LEADER]
    numbers = leader[:5], leader[12:17], leader[20:21], leader[21:22], leader[23:24]
    if leader[6:7] != (b"D" if start else b"L") or not all(number.isdigit() for number in numbers):
        return [], 0
    length, base, size_length, size_place, size_tag = (int(number) for number in numbers)
    step = size_tag + size_length + size_place
    directory, closing = data[start + _LEADER : start + base - 1], data[start + base - 1 : start + base]
    whole = base > _LEADER + step and len(directory) % step == 0
    if not (whole and directory.isascii() and closing in _ENDS):
        return [], 0
    fields, end = [], base
    for at in range(0, len(directory), step):
        entry = directory[at : at + step]
        size, place = entry[size_tag : size_tag + size_length], entry[size_tag + size_length :]
        if not (size.isdigit() and place.isdigit()):
            return [], 0
        here = start + base + int(place)
        content = data[here : here + int(size)]
        if not content.endswith(_ENDS):
            return [], 0
        tag = entry[:size_tag].decode("ascii")
        if start and tag == "ATTF" and content[-2:-1] not in (b"", _UNIT):
            return [], 0
        fields.append((tag, content))
        end = max(end, base + int(place) + int(size))
    # A record too long for five digits states a length of nothing.
    length = length or end
    return (fields, length) if end <= length <= len(data) - start else ([], 0)
