"""All zone files of a check together: ids unique over all of them, zones as seen from the tracks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from towzone.errors import InputError, Problem, quoted
from towzone.files.zones import ZoneFile, read_zones
from towzone.geodesy.lines import LineKind
from towzone.model.result import ROLE_ZONES, InputFile, Remark
from towzone.model.zone import Zone

__all__ = ["ZoneSet", "read_zone_files"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneSet:
    """The zones of several files, in the order of the files and as they stand in them."""

    zones: tuple[Zone, ...]
    remarks: tuple[Remark, ...]
    inputs: tuple[InputFile, ...]


def read_zone_files(
    paths: Sequence[str], edges: LineKind | None, places: Mapping[str, str] = MappingProxyType({})
) -> ZoneSet:
    """Return the zones of all files, whose ids must differ.

    Parameters
    ----------
    paths : sequence of str
    edges : LineKind or None
        Of zones that do not state theirs.
    places : mapping of str to str
        Where files lie that lie elsewhere than their names say.

    Raises
    ------
    InputError
        A file was refused, or two zones have one id.
    """
    files = [read_zones(path, default_edges=edges, at=places.get(path)) for path in paths]
    _refuse_twins(files)
    inputs = [some for file in files for some in (file.input, *file.companions)]
    return ZoneSet(
        zones=tuple(zone for file in files for zone in file.zones),
        remarks=tuple(remark for file in files for remark in file.remarks),
        inputs=tuple(replace(one, role=ROLE_ZONES) for one in inputs),
    )


def _refuse_twins(files: Sequence[ZoneFile]) -> None:
    seen: dict[str, str] = {}
    for zone in (zone for file in files for zone in file.zones):
        if zone.zone_id in seen:
            message = f"zone_id {quoted(zone.zone_id)} is also in {seen[zone.zone_id]}; ids must be unique"
            raise InputError(zone.file, [Problem(f"feature {zone.feature}", message)])
        seen[zone.zone_id] = zone.file
