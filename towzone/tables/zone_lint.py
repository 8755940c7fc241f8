"""Defects of zone files as text and JSON."""

from __future__ import annotations

import json
import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date
from itertools import groupby
from typing import Any

from towzone import __version__
from towzone.model.result import InputFile
from towzone.surveys.defects import Defect, Severity
from towzone.tables.cells import plain
from towzone.tables.result_json import rounded

__all__ = ["LINT_SCHEMA", "lint_to_json", "lint_to_text"]

LINT_SCHEMA = "towzone.lint/1"
_WIDTH = 100
_SHOWN = 20
"""Of one kind of doubt or note, unless all are asked for; what is refused or misleads is always listed."""
_DEGREE_DIGITS = 7


def lint_to_text(
    defects: Sequence[Defect], zones: int, files: Sequence[str], *, verbose: bool = False
) -> str:
    """Return defects for people: counts first, then by file and feature."""
    counts = _counts(defects)
    words = {Severity.REFUSED: "refused", Severity.MISLEADS: "misleading"}
    said = [f"{counts[s]} {words[s]}" for s in words]
    said += [f"{counts[s]} {s.value}{'s' * (counts[s] != 1)}" for s in (Severity.DOUBT, Severity.NOTE)]
    where = f"{zones} feature{'s' * (zones != 1)} of {len(files)} file{'s' * (len(files) != 1)}"
    lines = [f"{', '.join(said)} in {where}."]
    shown = list(defects) if verbose else list(_some(defects))
    for file, of_file in groupby(shown, key=lambda defect: defect.file):
        lines += ["", plain(file)]
        for (_, where), of_feature in groupby(of_file, key=lambda d: (d.feature, _feature(d))):
            lines.append(plain(f"  {where}"))
            lines += [_line(defect) for defect in of_feature]
    hidden = Counter(defect.code for defect in defects) - Counter(defect.code for defect in shown)
    if hidden:
        lines.append("")
        lines += [f"... and {count} more: {code} (-v lists them)" for code, count in sorted(hidden.items())]
    return "\n".join(lines) + "\n"


def _feature(defect: Defect) -> str:
    return defect.where or "the whole file"


def _line(defect: Defect) -> str:
    code = "" if defect.code == "refused" else f"{defect.code}: "
    return textwrap.fill(
        plain(f"{code}{defect.message}"),
        _WIDTH,
        initial_indent=f"    {defect.severity.value:<9} ",
        subsequent_indent=" " * 14,
    )


def _some(defects: Sequence[Defect]) -> Iterator[Defect]:
    told: Counter[str] = Counter()
    for defect in defects:
        told[defect.code] += 1
        if told[defect.code] <= _SHOWN or defect.severity in (Severity.REFUSED, Severity.MISLEADS):
            yield defect


def _counts(defects: Sequence[Defect]) -> dict[Severity, int]:
    counted = Counter(defect.severity for defect in defects)
    return {severity: counted[severity] for severity in Severity}


def lint_to_json(defects: Sequence[Defect], zones: int, on: date | None, inputs: Sequence[InputFile]) -> str:
    """Return all defects as JSON text: keys sorted, degrees."""
    data = {
        "schema": LINT_SCHEMA,
        "towzone": __version__,
        "on": on.isoformat() if on is not None else None,
        "inputs": [{"file": i.file, "sha256": i.sha256, "bytes": i.bytes} for i in inputs],
        "features": zones,
        "counts": {severity.value: count for severity, count in _counts(defects).items()},
        "defects": [_data(defect) for defect in defects],
    }
    return json.dumps(data, sort_keys=True, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _data(defect: Defect) -> dict[str, Any]:
    lon, lat = defect.position if defect.position is not None else (None, None)
    return {
        "severity": defect.severity.value,
        "code": defect.code,
        "file": defect.file,
        "feature": defect.feature,
        "where": defect.where,
        "zone_id": defect.zone_id,
        "corner": defect.corner,
        "lat_deg": rounded(lat, _DEGREE_DIGITS),
        "lon_deg": rounded(lon, _DEGREE_DIGITS),
        "message": defect.message,
    }
