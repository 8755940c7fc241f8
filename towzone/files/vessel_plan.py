"""The figures of a vessel profile that only planning uses: their names and what each may be."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from towzone.files.vessel_figures import FigureForm
from towzone.files.vessel_tables import Tables
from towzone.model.vessel import Current, GearFigures, PlanFigures
from towzone.units import parse_fuel_rate, parse_speed

__all__ = ["PLAN_FIGURES", "plan_keys", "read_plan_figures"]

PLAN_FIGURES = (
    FigureForm(
        table="handling", key="hauling_way", field="hauling_way_kn", parse=parse_speed, low=0.1, high=10.0,
        unit="kn", what="how fast the vessel goes over the ground while the gear is hauled",
        why="no vessel lies still in the sea, and nobody hauls faster than gear is towed",
    ),
    FigureForm(
        table="handling", key="tow_fuel", field="tow_fuel_l_per_h", parse=parse_fuel_rate, low=1.0,
        high=5000.0, unit="l/h", what="how much fuel is burnt while towing",
        why="no trawler tows on less or burns more",
    ),
    FigureForm(
        table="current", key="strongest", field="strongest_kn", parse=parse_speed, low=0.0, high=8.0,
        unit="kn", what="the strongest current at the gear you reckon with, whatever way it runs",
        why="nobody trawls in more",
    ),
)  # fmt: skip
"""Limits are own choices, as in `towzone.files.vessel_figures`."""


def plan_keys() -> Mapping[str, tuple[str, ...]]:
    """Return the names of these figures by table, in the order of the profile."""
    keys: dict[str, tuple[str, ...]] = {}
    for form in PLAN_FIGURES:
        keys[form.table] = (*keys.get(form.table, ()), form.key)
    return MappingProxyType(keys)


def read_plan_figures(tables: Tables, figures: GearFigures | None) -> PlanFigures:
    """Return the figures for planning; what is wrong with them is noted in the tables.

    Parameters
    ----------
    tables : Tables
    figures : GearFigures or None
        Those of the gear, with which they must go together.
    """
    found = PlanFigures(**{form.field: form.read(tables) for form in PLAN_FIGURES})
    if found.strongest_kn is not None and figures is not None:
        _agree(tables, found.strongest_kn, figures.current, figures.tow_speed_kn)
    return found


def _agree(tables: Tables, strongest_kn: float, current: Current | None, tow_speed_kn: float | None) -> None:
    where, found = "current.strongest", f"of {strongest_kn:g} kn"
    if current is not None and strongest_kn < current.drift_kn:
        tables.refuse(
            where,
            f"{found} is less than drift, {current.drift_kn:g} kn, the steady current; correct one of "
            "both, or leave set_deg and drift out",
        )
    if tow_speed_kn is not None and strongest_kn >= tow_speed_kn:
        tables.refuse(
            where,
            f"{found} is no less than tow_speed, {tow_speed_kn:g} kn: gear that is carried along faster than "
            "it is towed is not computed; state that near the bottom, or leave it out",
        )
