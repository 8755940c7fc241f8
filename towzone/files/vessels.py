"""Vessel profiles: TOML to `Vessel`, strictly."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from towzone.errors import InputError, Problem, UsageError, quoted
from towzone.files.inputs import load
from towzone.model.gears import GEAR_NAMES
from towzone.model.result import InputFile, Remark
from towzone.model.vessel import Vessel
from towzone.model.zone import ZoneKind
from towzone.units import parse_length, parse_speed

__all__ = ["VesselFile", "read_vessel"]

_TABLES = {
    "vessel": ("name", "gear", "max_speed"),
    "position": ("error",),
    "margins": tuple(kind.value for kind in ZoneKind),
}
_NOT_READ_YET = {
    "position": ("block_aft", "block_starboard"),
    "gear": (
        "rig",
        "warp",
        "depth",
        "block_height",
        "block_separation",
        "door_spread",
        "sweeps",
        "net_length",
    ),
    "handling": ("tow_speed", "haul_speed", "shoot_time"),
    "current": ("set_deg", "drift"),
}
"""Figures of the gear on the sea bed, which this version does not compute."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VesselFile:
    """What one profile gave, what a person should know, and the input itself."""

    vessel: Vessel
    remarks: tuple[Remark, ...]
    input: InputFile


def read_vessel(path: str) -> VesselFile:
    """Return the vessel of a TOML profile.

    Raises
    ------
    InputError
        The file is not TOML, a name is not known, a figure has no unit or makes no sense.
    """
    loaded = load(path)
    try:
        data = tomllib.loads(loaded.data.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(path, [Problem("", f"this is not a vessel profile (TOML): {error}")]) from error
    reader = _Reader(data)
    vessel = Vessel(
        name=reader.text("vessel", "name"),
        gear=reader.gear(),
        max_speed_kn=reader.quantity("vessel", "max_speed", parse_speed),
        position_error_m=reader.quantity("position", "error", parse_length),
        margins_m=reader.margins_m(),
    )
    reader.refuse_unknown()
    if reader.problems:
        raise InputError(path, reader.problems)
    remarks = []
    if reader.unread:
        message = f"not used yet: {', '.join(reader.unread)} (the gear on the sea bed is not computed)"
        remarks.append(Remark(file=path, where="", message=message))
    return VesselFile(vessel=vessel, remarks=tuple(remarks), input=loaded.record)


class _Reader:
    """The tables of a profile, and what was wrong with them."""

    def __init__(self, data: Mapping[str, object]) -> None:
        self.data = data
        self.problems: list[Problem] = []
        self.unread: list[str] = []

    def _table(self, name: str) -> Mapping[str, object]:
        table = self.data.get(name, {})
        if isinstance(table, Mapping):
            return table
        self.problems.append(Problem(name, f"is {quoted(table)}; write it as a table, [{name}]"))
        return {}

    def text(self, table: str, key: str) -> str:
        value = self._table(table).get(key, "")
        if not isinstance(value, str):
            self.problems.append(Problem(f"{table}.{key}", f"is {quoted(value)}; write text in quotes"))
            return ""
        return value

    def gear(self) -> str | None:
        code = self.text("vessel", "gear")
        if code and code not in GEAR_NAMES:
            known = ", ".join(GEAR_NAMES)
            self.problems.append(
                Problem("vessel.gear", f"{quoted(code)} is not a gear code; known are {known}")
            )
        return code or None

    def quantity(self, table: str, key: str, parse: Callable[[str], float]) -> float | None:
        if key not in self._table(table):
            return None
        value = self._table(table)[key]
        try:
            return parse(value if isinstance(value, str) else repr(value))
        except UsageError as error:
            self.problems.append(Problem(f"{table}.{key}", str(error)))
            return None

    def margins_m(self) -> dict[ZoneKind, float]:
        margins = {}
        for kind in ZoneKind:
            length_m = self.quantity("margins", kind.value, parse_length)
            if length_m is not None:
                margins[kind] = length_m
        return margins

    def refuse_unknown(self) -> None:
        """Name every table and key that means nothing; note those that are only for later."""
        for name in self.data:
            known, later = _TABLES.get(name, ()), _NOT_READ_YET.get(name, ())
            if not known and not later:
                tables = ", ".join(dict.fromkeys([*_TABLES, *_NOT_READ_YET]))
                self.problems.append(
                    Problem(f"[{quoted(name)}]", f"is not a known table; known are {tables}")
                )
                continue
            for key in self._table(name):
                if key in later:
                    self.unread.append(f"{name}.{key}")
                elif key not in known:
                    names = ", ".join([*known, *later])
                    self.problems.append(
                        Problem(f"{name}.{quoted(key)}", f"is not a known name; known are {names}")
                    )
