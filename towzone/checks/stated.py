"""What is stated for a check, by whom: the command line, else the vessel's profile, else the default."""

from __future__ import annotations

from dataclasses import replace

from towzone.checks.settings import CheckSettings, GearProof
from towzone.errors import UsageError
from towzone.geodesy.lines import LineKind
from towzone.model.vessel import Vessel

__all__ = ["refuse_unproved_model", "stated_edges", "stated_settings"]


def stated_settings(
    settings: CheckSettings,
    vessel: Vessel,
    *,
    position_error_m: float | None,
    max_speed_kn: float | None,
    with_zones: bool = True,
) -> CheckSettings:
    """Return the settings of a check of one vessel.

    Parameters
    ----------
    settings : CheckSettings
        With the defaults of what follows.
    vessel : Vessel
        What its profile says.
    position_error_m, max_speed_kn : float or None
        As the command line states them.
    with_zones : bool
        Whether there are zones; without any there is nothing the gear could be near to.

    Raises
    ------
    UsageError
        The top speed is not more than 0.
    """
    errors = (position_error_m, vessel.position_error_m, settings.position_error_m)
    speeds = (max_speed_kn, vessel.max_speed_kn, settings.max_speed_kn)
    fastest_kn = next(speed for speed in speeds if speed is not None)
    if fastest_kn <= 0.0:
        # At no speed at all every gap would be sailed straight, and so be clear.
        message = "the top speed (--max-speed, or that of the vessel profile) must be more than 0"
        raise UsageError(message)
    return replace(
        settings,
        position_error_m=next(error for error in errors if error is not None),
        max_speed_kn=fastest_kn,
        gear=vessel.gear,
        figures=vessel.figures if with_zones else None,
        kind_margins_m=dict(vessel.margins_m),
    )


def refuse_unproved_model(settings: CheckSettings) -> None:
    """Refuse to take the model of the gear's path for proof where no figures of the gear are known.

    Raises
    ------
    UsageError
    """
    if settings.gear_proof is GearProof.MODEL and settings.figures is None:
        message = (
            "--gear-proof model takes the model of the gear's path for proof, and no figures of the gear are "
            "given: name a vessel profile with a table [gear] (--vessel; `towzone vessel` writes one)"
        )
        raise UsageError(message)


def stated_edges(edges: LineKind | None) -> list[str]:
    """Return what to say of edges that ``--edges`` states."""
    if edges is None:
        return []
    words = {LineKind.RHUMB: "rhumb lines", LineKind.GEODESIC: "geodesics", LineKind.LONLAT: "lon/lat lines"}
    return [f"The edges of zones that do not state theirs are {words[edges]}, by --edges."]
