"""A recorded check or plan made again: the request it was made with, from what its result says of itself."""

from __future__ import annotations

import shutil
import zoneinfo
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np

from towzone.checks.settings import CheckSettings, GearProof, MoveOnRule, Towing
from towzone.cli.check_request import CheckRequest
from towzone.cli.found_inputs import Wanted
from towzone.cli.plan_requests import PlanRequest
from towzone.errors import TowzoneError, quoted
from towzone.files.inputs import name_stem
from towzone.files.vector_formats import DIRECT
from towzone.geodesy.lines import LineKind
from towzone.model.result import ROLE_HAUL_LOG, ROLE_TRACK, ROLE_VESSEL, ROLE_ZONES
from towzone.plan.run import PlanWishes
from towzone.tracks.options import DateOrder, ReadingOptions

__all__ = ["RecordedError", "recorded_request", "wanted_inputs"]

_ROLES = (ROLE_TRACK, ROLE_ZONES, ROLE_VESSEL, ROLE_HAUL_LOG)
_BESIDE_SHAPEFILE = (".cpg", ".dbf", ".prj", ".shx")
_LARGEST = 1e12
"""Own choice: beyond every length, speed and duration that options take."""


class RecordedError(TowzoneError, ValueError):
    """A record does not say, in the form towzone writes, how its check was made."""


def wanted_inputs(result: Mapping[str, Any]) -> tuple[Wanted, ...]:
    """Return the inputs a result tells of, in their order.

    Raises
    ------
    RecordedError
        They are not told in full, or two of one name differ.
    """
    told = _provenance(result).get("inputs")
    if not isinstance(told, list) or not told:
        message = "it names no inputs"
        raise RecordedError(message)
    wanted = tuple(map(_wanted, told))
    digests: dict[str, str] = {}
    for one in wanted:
        if digests.setdefault(one.file, one.sha256) != one.sha256:
            message = f"the input {quoted(one.file)} changed while the check was made"
            raise RecordedError(message)
    return wanted


def _wanted(told: object) -> Wanted:
    if isinstance(told, dict):
        file, sha256, size, role = (told.get(key) for key in ("file", "sha256", "bytes", "role"))
        if isinstance(file, str) and isinstance(sha256, str) and isinstance(size, int) and role in _ROLES:
            return Wanted(file=file, sha256=sha256, size=size, role=str(role))
    message = "one of its inputs is not told in full"
    raise RecordedError(message)


def recorded_request(
    result: Mapping[str, Any], places: Mapping[str, Path], folder: Path
) -> CheckRequest | PlanRequest:
    """Return the request that a result was made by, its files under the names they had.

    Parameters
    ----------
    result : mapping
    places : mapping of str to Path
        Where every input lies now, by its SHA-256.
    folder : Path
        Where copies may be put of files that must lie beside each other.

    Raises
    ------
    RecordedError
        A setting is missing or is not of the form towzone writes.
    """
    wanted = wanted_inputs(result)
    zones, zone_places = _zones([one for one in wanted if one.role == ROLE_ZONES], places, folder)
    others = {one.file: str(places[one.sha256]) for one in wanted if one.role != ROLE_ZONES}
    named = {role: [one.file for one in wanted if one.role == role] for role in _ROLES}
    settings = _provenance(result).get("settings")
    if not isinstance(settings, dict):
        message = "it has no settings"
        raise RecordedError(message)
    try:
        made = _plan_request if settings.get("plan") is not None else _request
        return made(_Told(settings), named, zones, {**others, **zone_places})
    except (ValueError, OSError, zoneinfo.ZoneInfoNotFoundError) as error:
        raise RecordedError(str(error)) from error


def _request(
    told: _Told, named: Mapping[str, list[str]], zones: tuple[str, ...], places: Mapping[str, str]
) -> CheckRequest:
    towing = Towing(told.text("towing"))
    track_tz, local_tz = told.text_or_none("track_tz"), told.text_or_none("local_tz")
    edges, order = told.text_or_none("edges"), told.text_or_none("date_order")
    return CheckRequest(
        tracks=tuple(named[ROLE_TRACK]),
        zone_files=zones,
        settings=CheckSettings(
            margin_m=told.number_or_none("margin_m"),
            gap_s=told.number("gap_s"),
            towing=Towing.DETECT if towing is Towing.LOG else towing,
            legs=LineKind(told.text("legs")),
            gear_proof=GearProof(told.text("gear_proof")),
            on=told.day_or_none("on"),
            move_on=told.move_on(),
            reach_m=told.number("reach_m"),
        ),
        vessel_file=_one(named[ROLE_VESSEL]),
        haul_log=_one(named[ROLE_HAUL_LOG]),
        # Stated anew as they were, whether the options or the vessel's profile had stated them.
        position_error_m=told.number("position_error_m"),
        max_speed_kn=told.number("max_speed_kn"),
        edges=LineKind(edges) if edges is not None else None,
        depart_utc=told.instant_or_none("depart_utc"),
        speed_kn=told.number_or_none("speed_kn"),
        reading=ReadingOptions(
            track_tz=zoneinfo.ZoneInfo(track_tz) if track_tz is not None else None,
            date_order=DateOrder(order) if order is not None else None,
            day=told.day_or_none("date"),
            year=told.whole_or_none("year"),
            receiver=told.text_or_none("receiver"),
            only=told.texts("only"),
        ),
        local_tz=zoneinfo.ZoneInfo(local_tz).key if local_tz is not None else None,
        places=places,
    )


def _plan_request(
    told: _Told, named: Mapping[str, list[str]], zones: tuple[str, ...], places: Mapping[str, str]
) -> PlanRequest:
    plan, edges, local_tz = told.within("plan"), told.text_or_none("edges"), told.text_or_none("local_tz")
    vessel = _one(named[ROLE_VESSEL])
    if vessel is None:
        message = "a plan has a vessel profile among its inputs, and this has none"
        raise RecordedError(message)
    return PlanRequest(
        routes=tuple(named[ROLE_TRACK]),
        texts=plan.texts("lines"),
        zone_files=zones,
        vessel_file=vessel,
        settings=CheckSettings(
            margin_m=told.number_or_none("margin_m"),
            steering_m=told.number("steering_m"),
            legs=LineKind(told.text("legs")),
            gear_proof=GearProof(told.text("gear_proof")),
            reach_m=told.number("reach_m"),
        ),
        position_error_m=told.number("position_error_m"),
        edges=LineKind(edges) if edges is not None else None,
        depart_utc=plan.instant_or_none("depart_utc"),
        speed_kn=plan.number("speed_kn"),
        hauling_way_kn=plan.number("hauling_way_kn") if plan.yes("hauling_way_stated") else None,
        strongest_kn=plan.number("strongest_kn") if plan.yes("strongest_stated") else None,
        only=plan.texts("only"),
        reverse=plan.yes("reverse"),
        wishes=PlanWishes(advise=plan.yes("advise"), correct=plan.yes("correct")),
        local_tz=zoneinfo.ZoneInfo(local_tz).key if local_tz is not None else None,
        places=places,
    )


def _one(names: Sequence[str]) -> str | None:
    if len(names) > 1:
        message = "it has two inputs where one can be"
        raise RecordedError(message)
    return names[0] if names else None


def _zones(
    wanted: Sequence[Wanted], places: Mapping[str, Path], folder: Path
) -> tuple[tuple[str, ...], dict[str, str]]:
    """Return the zone files by the names they had, and where they are read.

    A Shapefile is several files of one name. Found by their content they may have any name, so that they
    are copied beside each other.
    """
    mains: list[str] = []
    where: dict[str, str] = {}
    beside = folder
    for number, one in enumerate(wanted):
        suffix = Path(one.file).suffix.lower()
        is_companion = (
            bool(mains)
            and suffix in _BESIDE_SHAPEFILE
            and mains[-1].lower().endswith(".shp")
            and name_stem(mains[-1]) == name_stem(one.file)
        )
        if not is_companion:
            mains.append(one.file)
            beside = folder / str(number)
        if is_companion or suffix in DIRECT:
            beside.mkdir(exist_ok=True)
            copy = beside / f"zones{suffix}"
            shutil.copyfile(places[one.sha256], copy)
            where[one.file] = str(copy)
        else:
            where[one.file] = str(places[one.sha256])
    return tuple(mains), where


def _provenance(result: Mapping[str, Any]) -> Mapping[str, Any]:
    provenance = result.get("provenance")
    if not isinstance(provenance, dict):
        message = "it says nothing of where it comes from"
        raise RecordedError(message)
    return provenance


class _Told:
    """Settings as a record tells them, each asked for by name and kind."""

    def __init__(self, settings: Mapping[str, Any]) -> None:
        self._settings = settings

    def _value(self, name: str) -> object:
        if name not in self._settings:
            message = f"the setting {name} is missing"
            raise RecordedError(message)
        return self._settings[name]

    def text_or_none(self, name: str) -> str | None:
        value = self._value(name)
        if value is None or isinstance(value, str):
            return value
        raise _odd(name, value)

    def text(self, name: str) -> str:
        value = self.text_or_none(name)
        if value is None:
            raise _odd(name, value)
        return value

    def texts(self, name: str) -> tuple[str, ...]:
        value = self._value(name)
        if isinstance(value, list) and all(isinstance(text, str) for text in value):
            return tuple(value)
        raise _odd(name, value)

    def number_or_none(self, name: str) -> float | None:
        value = self._value(name)
        return None if value is None else _number(name, value)

    def number(self, name: str) -> float:
        return _number(name, self._value(name))

    def whole_or_none(self, name: str) -> int | None:
        value = self._value(name)
        if value is None or (isinstance(value, int) and not isinstance(value, bool) and 0 < value < 10_000):
            return value
        raise _odd(name, value)

    def yes(self, name: str) -> bool:
        value = self._value(name)
        if isinstance(value, bool):
            return value
        raise _odd(name, value)

    def within(self, name: str) -> _Told:
        value = self._value(name)
        if isinstance(value, dict):
            return _Told(value)
        raise _odd(name, value)

    def day_or_none(self, name: str) -> date | None:
        value = self.text_or_none(name)
        return None if value is None else date.fromisoformat(value)

    def instant_or_none(self, name: str) -> np.datetime64 | None:
        value = self.text_or_none(name)
        if value is None:
            return None
        instant = datetime.fromisoformat(value)
        if instant.tzinfo is None:
            raise _odd(name, value)
        return np.datetime64(instant.astimezone(UTC).replace(tzinfo=None), "us")

    def move_on(self) -> MoveOnRule | None:
        name = "move_on"
        value = self._value(name)
        if value is None:
            return None
        if not isinstance(value, dict):
            raise _odd(name, value)
        rule = _Told(value)
        from_tow = rule.whole_or_none("from_tow")
        if from_tow is None:
            raise _odd(name, value)
        return MoveOnRule(distance_m=rule.number("distance_m"), from_tow=from_tow)


def _number(name: str, value: object) -> float:
    if isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value < _LARGEST:
        return float(value)
    raise _odd(name, value)


def _odd(name: str, value: object) -> RecordedError:
    return RecordedError(f"the setting {name} is {quoted(value)}, which towzone does not write")
