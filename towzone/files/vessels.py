"""Vessel profiles: TOML to `Vessel`, strictly."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from towzone.errors import InputError, Problem, quoted
from towzone.files.inputs import load
from towzone.files.vessel_figures import figure_keys, read_figures
from towzone.files.vessel_plan import plan_keys, read_plan_figures
from towzone.files.vessel_tables import Tables
from towzone.model.gears import GEAR_NAMES
from towzone.model.result import InputFile, Remark
from towzone.model.vessel import GearFigures, Vessel
from towzone.model.zone import ZoneKind
from towzone.units import parse_length, parse_speed

__all__ = ["PROFILE_KEYS", "VesselFile", "read_vessel"]

_OWN = {
    "vessel": ("name", "gear", "max_speed"),
    "position": ("error",),
    "margins": tuple(kind.value for kind in ZoneKind),
}
_FIGURES = figure_keys()
_OF_PLANS = plan_keys()
PROFILE_KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        table: (*_OWN.get(table, ()), *_FIGURES.get(table, ()), *_OF_PLANS.get(table, ()))
        for table in ("vessel", "position", "gear", "handling", "current", "margins")
    }
)
"""Every table of a profile and every name in it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VesselFile:
    """What one profile gave, what a person should know, and the input itself."""

    vessel: Vessel
    remarks: tuple[Remark, ...]
    input: InputFile


def read_vessel(path: str, *, at: str | None = None) -> VesselFile:
    """Return the vessel of a TOML profile.

    Parameters
    ----------
    path : str
        As the user wrote it.
    at : str or None
        Where the file lies, if not there (`towzone.files.inputs.open_input`).

    Raises
    ------
    InputError
        The file is not TOML, a name is not known, a figure has no unit or makes no sense, or figures
        contradict each other; every problem is told.
    """
    loaded = load(path, at=at)
    tables = Tables(_data(path, loaded.data))
    gear = _gear(tables)
    figures = read_figures(tables, gear, gear_known=gear is not None or not tables.value("vessel", "gear"))
    vessel = Vessel(
        name=tables.text("vessel", "name"),
        gear=gear,
        max_speed_kn=tables.quantity("vessel", "max_speed", parse_speed),
        position_error_m=tables.quantity("position", "error", parse_length),
        margins_m=_margins_m(tables),
        figures=figures,
        plan=read_plan_figures(tables, figures),
    )
    tables.refuse_unknown(PROFILE_KEYS)
    if tables.problems:
        raise InputError(path, tables.problems)
    remarks = tuple(Remark(file=path, where=where, message=said) for where, said in _unused(tables, figures))
    return VesselFile(vessel=vessel, remarks=remarks, input=loaded.record)


def _data(path: str, data: bytes) -> Mapping[str, object]:
    try:
        return tomllib.loads(data.decode("utf-8"))
    except (ValueError, RecursionError) as error:
        # Both decoders raise kinds of ValueError; so does a number of thousands of digits.
        message = (
            f"this is not a vessel profile (TOML): {error}. A figure with a unit stands in quotes, such as "
            'warp = "350m"; a plain number has no leading zeros'
        )
        raise InputError(path, [Problem("", message)]) from error


def _gear(tables: Tables) -> str | None:
    code = tables.text("vessel", "gear")
    if code and code not in GEAR_NAMES:
        message = f"{quoted(code)} is not a gear code; known are {', '.join(GEAR_NAMES)}"
        near = code.strip().upper()
        hint = f". Did you mean '{near}'?" if near in GEAR_NAMES else ""
        tables.refuse("vessel.gear", message + hint)
        return None
    return code or None


def _margins_m(tables: Tables) -> dict[ZoneKind, float]:
    margins = {}
    for kind in ZoneKind:
        length_m = tables.quantity("margins", kind.value, parse_length)
        if length_m is not None:
            margins[kind] = length_m
    return margins


def _unused(tables: Tables, figures: GearFigures | None) -> list[tuple[str, str]]:
    """Return where figures stand that have no effect, and why."""
    if figures is None:
        idle = [
            f"{table}.{key}" for table, keys in _FIGURES.items() for key in tables.keys(table) if key in keys
        ]
        why = "not used: without a table [gear] where the gear is is not computed"
        return [(", ".join(idle), why)] if idle else []
    if figures.door_spread_m is not None and figures.warps_apart_m is not None:
        return [("gear.warps_apart", "not used: door_spread is stated, and comes before it")]
    return []
