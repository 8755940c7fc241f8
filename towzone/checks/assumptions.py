"""Everything a result took for granted, in plain words; and how it was computed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from towzone.checks.activity import STOP_SPEED_KN, STOP_TIME_S
from towzone.checks.gear_assumptions import gear_assumptions, gear_methods
from towzone.checks.gear_rows import GearRows
from towzone.checks.legs import SPEED_WINDOW_S
from towzone.checks.paths import Path
from towzone.checks.settings import CheckSettings, Towing, coarseness
from towzone.checks.transit import WINDOW_S
from towzone.geodesy.departure import rhumb_departure_m
from towzone.geodesy.lines import LineKind
from towzone.model.gears import GEAR_NAMES, works_on_bottom
from towzone.model.result import Remark
from towzone.model.track import TrackKind
from towzone.model.zone import Zone
from towzone.units import KNOT_MPS, format_duration, format_length

__all__ = ["assumptions", "gap_remarks", "methods", "settings_as_data"]

_NOTICEABLE_M = 1.0
"""Own choice: readings of an edge that differ by less are not worth a notice."""


def assumptions(
    paths: Sequence[Path],
    zones: Sequence[Zone],
    settings: CheckSettings,
    gear: Sequence[GearRows | None] = (),
) -> tuple[str, ...]:
    """Return every assumption behind a result, one sentence each."""
    kinds = {path.track.kind for path in paths}
    lines = [
        "Positions are those of the vessel's antenna; gear astern of it is not computed."
        if settings.figures is None
        else "Positions are those of the vessel's antenna; rows of the gear are where that was.",
        f"Positions are taken as true to {settings.position_error_m:g} m, and as on WGS 84.",
    ]
    if TrackKind.PLANNED in kinds:
        lines += _planned(paths, settings)
    if TrackKind.COMPLETED in kinds:
        lines += _completed(settings)
        lines += dict.fromkeys(line for path in paths for line in path.doing.assumptions)
    lines += _coarse(paths)
    lines += _filled(paths)
    lines += gear_assumptions(settings, [some for some in gear if some is not None])
    return (*lines, *_of_zones(zones, settings)) if zones else tuple(lines)


def _of_zones(zones: Sequence[Zone], settings: CheckSettings) -> list[str]:
    reach = format_length(settings.reach_m)
    return [
        *_margins(zones, settings),
        *_edges(zones),
        *(f"Zone '{z.name}' ({z.zone_id}): {z.datum_note}" for z in zones if z.datum_note),
        *_rules(zones, settings),
        f"Pairs proved clear and farther apart than {reach} are counted, not listed.",
    ]


_LEG_WORDS = {LineKind.RHUMB: "rhumb lines", LineKind.GEODESIC: "geodesics"}


def _planned(paths: Sequence[Path], settings: CheckSettings) -> list[str]:
    legs = f"Planned legs are {_LEG_WORDS[settings.legs]}"
    planned = [path for path in paths if path.track.kind is TrackKind.PLANNED]
    towed = [path for path in planned if path.track.towed is not None]
    lines = []
    if len(towed) < len(planned):
        lines.append(f"{legs}; the whole route counts as towing.")
    if towed:
        path = towed[0]  # vessel, gear and speeds are the same for all lines of a plan
        lines.append(
            f"{legs}. All warp is out at the first corner, and the haul is called at the last. The gear is "
            f"shot on a straight run of {format_length(float(path.length_m[0]))} towards the first, and "
            f"hauled on one of {format_length(float(path.length_m[-1]))} beyond the last: so long any part "
            "of it may touch the bottom, with a winch two standard deviations slower than stated."
        )
        lines.append("The vessel turns on the spot at each corner.")
    if settings.steering_m > 0.0:
        off = format_length(settings.steering_m)
        lines.append(f"The vessel is steered within {off} of a planned line; its gear is as far off at most.")
    return lines


def _completed(settings: CheckSettings) -> list[str]:
    lines = [
        f"Between two fixes no more than {format_duration(settings.gap_s)} apart the vessel went straight "
        f"(on the geodesic); longer gaps, and those between segments of a file, are not filled in: there "
        f"it may have gone anywhere it could reach at {settings.max_speed_kn:g} kn."
    ]
    if settings.towing is Towing.ALL:
        lines.append(
            f"All of a completed track counts as towing, except stops: slower than {STOP_SPEED_KN:g} kn "
            f"(over {SPEED_WINDOW_S:g} s or more) for at least {format_duration(STOP_TIME_S)}."
        )
    elif settings.towing is Towing.NONE:
        lines.append("By --towing none, no part of a completed track counts as towing.")
    return lines


def _coarse(paths: Sequence[Path]) -> list[str]:
    return [
        f"Track '{path.track.track_id}': its source gives positions so coarsely that they may be off by "
        f"{coarseness(path.track):.0f} m more."
        for path in paths
        if coarseness(path.track)
    ]


def _filled(paths: Sequence[Path]) -> list[str]:
    return [
        f"Track '{path.track.track_id}': {path.filled} fixes without time lie between timed ones; "
        "their times were filled in by distance."
        for path in paths
        if path.filled
    ]


def _margins(zones: Sequence[Zone], settings: CheckSettings) -> list[str]:
    if settings.margin_m is not None:
        return [f"The margin of every zone is {format_length(settings.margin_m)}, by --margin."]
    lines = []
    silent = [zone for zone in zones if zone.margin_m is None]
    for kind, margin_m in settings.kind_margins_m.items():
        if any(zone.kind is kind for zone in silent):
            words = kind.value.replace("_", " ")
            margin = format_length(margin_m)
            lines.append(f"Zones of kind {words} that state no margin: {margin}, by the vessel profile.")
    without = sum(zone.kind not in settings.kind_margins_m for zone in silent)
    if without:
        lines.append(f"{without} of {len(zones)} zones state no margin; 0 m is taken for them.")
    return lines


def _rules(zones: Sequence[Zone], settings: CheckSettings) -> list[str]:
    lines = [
        f"Zone '{z.name}' ({z.zone_id}) states no time zone: its dates are taken in UTC."
        for z in zones
        if z.rules.dated and not z.rules.time_zone_stated
    ]
    if settings.gear is not None:
        logged = sorted({haul.gear for haul in settings.hauls if haul.gear not in (None, settings.gear)})
        other = f", but where the haul log says {', '.join(map(str, logged))}" if logged else ""
        lines.append(f"The gear towed is {settings.gear} ({GEAR_NAMES[settings.gear]}){other}.")
    elif any(z.rules.gears or z.rules.except_gears for z in zones):
        lines.append("No gear is stated: where a rule depends on the gear, nothing is decided.")
    if works_on_bottom(settings.gear) is None:
        lines.append("What is towed is taken to work on the sea bed.")
    if any(z.rules.transit_min_speed_kn is not None for z in zones):
        lines.append(
            "A crossing without towing keeps a speed when every stretch of "
            f"{format_duration(WINDOW_S)} inside (or all of it, if shorter) was sailed at it or faster, "
            "over the ground, from positions."
        )
    if settings.on is not None:
        lines.append(f"Whatever has no time is taken to happen on {settings.on.isoformat()}.")
    return lines


def _edges(zones: Sequence[Zone]) -> list[str]:
    lines = []
    for zone in zones:
        if not zone.edges_stated:
            apart_m = rhumb_departure_m(zone.shape)
            line = f"Zone '{zone.name}' ({zone.zone_id}) does not state its edges: straight in longitude "
            line += "and latitude (RFC 7946) is taken"
            if apart_m > _NOTICEABLE_M:
                line += f"; rhumb lines would differ by up to {apart_m:.0f} m"
            lines.append(line + ".")
    return lines


def gap_remarks(paths: Sequence[Path], settings: CheckSettings) -> list[Remark]:
    """Return remarks on stretches faster than the vessel can go."""
    remarks = []
    for path in paths:
        if path.track.kind is TrackKind.PLANNED:
            continue
        elapsed = np.diff(path.time_s)
        possible_m = settings.max_speed_kn * KNOT_MPS * elapsed + 2.0 * settings.position_error_m
        known = ~np.isnan(elapsed)
        count = int(np.count_nonzero(path.length_m[known] > possible_m[known]))
        if count:
            remarks.append(
                Remark(
                    file=path.track.source,
                    where=f"track '{path.track.track_id}'",
                    message=(
                        f"{count} legs of those used are faster than {settings.max_speed_kn:g} kn allows: a "
                        "position or a time is wrong, or --max-speed is too low"
                    ),
                )
            )
    return remarks


def settings_as_data(settings: CheckSettings) -> dict[str, object]:
    """Return the settings as JSON-ready values, units in the keys."""
    return {
        "gap_s": settings.gap_s,
        "kind_margins_m": {kind.value: margin for kind, margin in settings.kind_margins_m.items()},
        "legs": settings.legs.value,
        "margin_m": settings.margin_m,
        "max_speed_kn": settings.max_speed_kn,
        "position_error_m": settings.position_error_m,
        "steering_m": settings.steering_m,
        "reach_m": settings.reach_m,
        "gear": settings.gear,
        "gear_proof": settings.gear_proof.value,
        "on": settings.on.isoformat() if settings.on is not None else None,
        "towing": settings.towing.value,
    }


def methods() -> dict[str, object]:
    """Return how results are computed, with the accuracy claimed."""
    return {
        "distance": (
            "closest approach on the WGS 84 ellipsoid; every edge follows its own rule, cut into chords "
            "true to 1 mm; geodesics by Karney (2013)"
        ),
        "distance_accuracy_m": 0.01,
        "inside": "crossings of the meridian through the position, by each edge's own rule",
        "gaps": "reachable ellipse: fixes as foci, sum of distances = max speed x time + 2 x position error",
        **gear_methods(),
        "speed": f"over the ground from positions, over at least {SPEED_WINDOW_S:g} s",
    }
