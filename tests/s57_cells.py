"""Writes small electronic chart cells (S-57 in ISO 8211) of invented seas, for tests only.

Written after IHO S-57 Edition 3.1 (2000), Part 3 (data structure) and Annex A (ISO/IEC 8211): a record is
a leader of 24 bytes, a directory of tag, length and position, and the fields. Only what the tests need: one
data set record, isolated nodes for points, edges between connected nodes for lines and rings.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

UNIT, END = b"\x1f", b"\x1e"
FACTOR = 10_000_000
"""Whole numbers per degree (COMF)."""

OBJECTS = {
    "CBLARE": 20,
    "CBLSUB": 22,
    "DEPARE": 42,
    "FSHFAC": 55,
    "MARCUL": 82,
    "OBSTRN": 86,
    "OFSPLF": 87,
    "OSPARE": 88,
    "PIPARE": 92,
    "PIPSOL": 94,
    "PRCARE": 96,
    "RESARE": 112,
    "UWTROC": 153,
    "WRECKS": 159,
    "M_COVR": 302,
}
"""Object class codes; IHO S-57 Edition 3.1, Appendix A, Chapter 1."""

ATTRIBUTES = {
    "BURDEP": 5,
    "CATCBL": 11,
    "CATCOV": 18,
    "CATOBS": 42,
    "CATREA": 56,
    "CATWRK": 71,
    "DATEND": 85,
    "DATSTA": 86,
    "DRVAL1": 87,
    "DRVAL2": 88,
    "INFORM": 102,
    "OBJNAM": 116,
    "PEREND": 118,
    "PERSTA": 119,
    "RESTRN": 131,
    "STATUS": 149,
    "VALSOU": 179,
}
"""Attribute codes; IHO S-57 Edition 3.1, Appendix A, Chapter 2."""

_FIELDS = [
    # tag, control, title, subfields, formats: S-57 Part 3, 7.3 to 7.7
    (
        "DSID",
        "1600;&   ",
        "Data set identification field",
        "RCNM!RCID!EXPP!INTU!DSNM!EDTN!UPDN!UADT!ISDT!STED!PRSP!PSDN!PRED!PROF!AGEN!COMT",
        "(b11,b14,2b11,3A,2A(8),R(4),b11,2A,b11,b12,A)",
    ),
    (
        "DSSI",
        "1600;&   ",
        "Data set structure information field",
        "DSTR!AALL!NALL!NOMR!NOCR!NOGR!NOLR!NOIN!NOCN!NOED!NOFA",
        "(3b11,8b14)",
    ),
    (
        "DSPM",
        "1600;&   ",
        "Data set parameter field",
        "RCNM!RCID!HDAT!VDAT!SDAT!CSCL!DUNI!HUNI!PUNI!COUN!COMF!SOMF!COMT",
        "(b11,b14,3b11,b14,4b11,2b14,A)",
    ),
    (
        "FRID",
        "1600;&   ",
        "Feature record identifier field",
        "RCNM!RCID!PRIM!GRUP!OBJL!RVER!RUIN",
        "(b11,b14,2b11,2b12,b11)",
    ),
    ("FOID", "1600;&   ", "Feature object identifier field", "AGEN!FIDN!FIDS", "(b12,b14,b12)"),
    ("ATTF", "2600;&   ", "Feature record attribute field", "*ATTL!ATVL", "(b12,A)"),
    (
        "FSPT",
        "2600;&   ",
        "Feature record to spatial record pointer field",
        "*NAME!ORNT!USAG!MASK",
        "(B(40),3b11)",
    ),
    ("VRID", "1600;&   ", "Vector record identifier field", "RCNM!RCID!RVER!RUIN", "(b11,b14,b12,b11)"),
    ("VRPT", "2600;&   ", "Vector record pointer field", "*NAME!ORNT!USAG!TOPI!MASK", "(B(40),4b11)"),
    ("SG2D", "2600;&   ", "2-D coordinate field", "*YCOO!XCOO", "(2b24)"),
]
_PARENTS = [
    ("0001", "DSID"),
    ("DSID", "DSSI"),
    ("0001", "DSPM"),
    ("0001", "FRID"),
    ("FRID", "FOID"),
    ("FRID", "ATTF"),
    ("FRID", "FSPT"),
    ("0001", "VRID"),
    ("VRID", "VRPT"),
    ("VRID", "SG2D"),
]

_NODE, _CONNECTED, _EDGE = 110, 120, 130
_NONE = 255


@dataclass(frozen=True, kw_only=True)
class ChartObject:
    """One object: class, attributes, and a point, a line or rings of ``(lon, lat)``; rings unclosed.

    ``number`` is its own among objects (FIDN), counted from 1001 when left out.
    """

    name: str
    attributes: Mapping[str, str] = field(default_factory=dict)
    point: tuple[float, float] | None = None
    line: Sequence[tuple[float, float]] = ()
    rings: Sequence[Sequence[tuple[float, float]]] = ()
    number: int = 0


def box(west: float, south: float, east: float, north: float) -> list[tuple[float, float]]:
    return [(west, south), (west, north), (east, north), (east, south)]


def coverage(west: float, south: float, east: float, north: float) -> ChartObject:
    """The area the cell has data for."""
    return ChartObject(name="M_COVR", attributes={"CATCOV": "1"}, rings=[box(west, south, east, north)])


def write_cell(
    path: Path,
    objects: Sequence[ChartObject],
    *,
    horizontal_datum: int = 2,
    edition: str = "3",
    update: str = "0",
    purpose: int = 1,
    scale: int = 50_000,
    issued: str = "20260115",
    name: str = "",
    first: int = 1,
) -> Path:
    """Write a cell; ``purpose`` 1 is a new data set, 2 an update (which may only insert here)."""
    cell = _Cell(first)
    for item in objects:
        cell.add(item)
    head = [
        _field(
            "DSID",
            struct.pack("<BIBB", 10, 1, purpose, 5),
            f"{name or path.stem}.000",
            edition,
            update,
            (f"{issued}{issued}03.1".encode() + b"\x01"),
            "",
            "2.0",
            b"\x01" + struct.pack("<H", 550),
            "test",
        ),
        ("DSSI", struct.pack("<BBB8I", 2, 1, 1, 0, 0, 0, 0, cell.isolated, cell.nodes, cell.edges, 0)),
    ]
    records = [head]
    if purpose == 1:
        parameters = struct.pack(
            "<BIBBBIBBBBII", 20, 1, horizontal_datum, 17, 23, scale, 1, 1, 1, 1, FACTOR, 10
        )
        records.append([("DSPM", parameters + UNIT)])
    records += cell.vectors + cell.features
    body = [_definition()]
    body += [_record(number, fields) for number, fields in enumerate(records, start=1)]
    path.write_bytes(b"".join(body))
    return path


class _Cell:
    """Spatial and feature records as they are numbered."""

    def __init__(self, first: int) -> None:
        self.vectors: list[list[tuple[str, bytes]]] = []
        self.features: list[list[tuple[str, bytes]]] = []
        self.isolated = self.nodes = self.edges = 0
        self._first = first

    def add(self, item: ChartObject) -> None:
        primitive, pointers = _NONE, []
        if item.point is not None:
            primitive, pointers = 1, [self._pointer(self._node(_NODE, item.point), _NONE, _NONE)]
        elif item.line:
            primitive, pointers = 2, [self._pointer(self._edge(item.line), 1, _NONE)]
        elif item.rings:
            primitive = 3
            for number, ring in enumerate(item.rings):
                usage = 1 if number == 0 else 2
                pointers.append(self._pointer(self._edge([*ring, ring[0]]), 1, usage))
        number = self._first + len(self.features)
        fields = [
            ("FRID", struct.pack("<BIBBHHB", 100, number, primitive, 2, OBJECTS[item.name], 1, 1)),
            ("FOID", struct.pack("<HIH", 550, item.number or 1000 + number, 1)),
        ]
        if item.attributes:
            values = (
                struct.pack("<H", ATTRIBUTES[k]) + v.encode("latin-1") + UNIT
                for k, v in item.attributes.items()
            )
            fields.append(("ATTF", b"".join(values)))
        if pointers:
            fields.append(("FSPT", b"".join(pointers)))
        self.features.append(fields)

    def _pointer(self, target: bytes, orientation: int, usage: int) -> bytes:
        return target + struct.pack("<BBB", orientation, usage, 2 if usage != _NONE else _NONE)

    def _node(self, kind: int, position: tuple[float, float]) -> bytes:
        if kind == _NODE:
            self.isolated += 1
            number = self._first + self.isolated - 1
        else:
            self.nodes += 1
            number = self._first + self.nodes - 1
        self.vectors.append([_vector(kind, number), ("SG2D", _coordinates([position]))])
        return _name(kind, number)

    def _edge(self, corners: Sequence[tuple[float, float]]) -> bytes:
        begin = self._node(_CONNECTED, corners[0])
        end = begin if corners[0] == corners[-1] else self._node(_CONNECTED, corners[-1])
        self.edges += 1
        number = self._first + self.edges - 1
        ends = b"".join(
            node + struct.pack("<BBBB", _NONE, _NONE, topology, _NONE)
            for node, topology in ((begin, 1), (end, 2))
        )
        fields = [_vector(_EDGE, number), ("VRPT", ends)]
        if len(corners) > 2:
            fields.append(("SG2D", _coordinates(corners[1:-1])))
        self.vectors.append(fields)
        return _name(_EDGE, number)


def _vector(kind: int, number: int) -> tuple[str, bytes]:
    return "VRID", struct.pack("<BIHB", kind, number, 1, 1)


def _name(kind: int, number: int) -> bytes:
    return struct.pack("<BI", kind, number)


def _coordinates(positions: Sequence[tuple[float, float]]) -> bytes:
    return b"".join(struct.pack("<ii", round(lat * FACTOR), round(lon * FACTOR)) for lon, lat in positions)


def _field(tag: str, *values: str | bytes) -> tuple[str, bytes]:
    """Text ends with a unit terminator, bytes stand as they are."""
    return tag, b"".join(v if isinstance(v, bytes) else v.encode("latin-1") + UNIT for v in values)


def _definition() -> bytes:
    control = b"0000;&   " + UNIT + "".join(a + b for a, b in _PARENTS).encode()
    fields = [("0000", control), ("0001", b"0500;&   ISO 8211 Record Identifier" + UNIT + UNIT + b"(b12)")]
    for tag, code, title, names, formats in _FIELDS:
        fields.append((tag, f"{code}{title}".encode() + UNIT + names.encode() + UNIT + formats.encode()))
    return _packed(fields, definition=True)


def _record(number: int, fields: Sequence[tuple[str, bytes]]) -> bytes:
    return _packed([("0001", struct.pack("<H", number % 65536)), *fields], definition=False)


def _packed(fields: Sequence[tuple[str, bytes]], *, definition: bool) -> bytes:
    directory, area = b"", b""
    for tag, content in fields:
        content += END
        directory += f"{tag}{len(content):04d}{len(area):05d}".encode()
        area += content
    directory += END
    base = 24 + len(directory)
    kind = b"3LE1 09" if definition else b" D     "
    charset = b" ! " if definition else b"   "
    leader = f"{base + len(area):05d}".encode() + kind + f"{base:05d}".encode() + charset + b"4504"
    return leader + directory + area
