"""The words of a vessel profile to fill in: what every figure is, and what is taken if it is left out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from towzone.gear.defaults import (
    BEAM_LENGTH,
    BEAMS_APART,
    BLOCK_AFT,
    BLOCK_HEIGHT,
    BLOCK_SEPARATION,
    DRIFT_SIGMA_KN,
    HEAVE_SPEED,
    MIDWATER_NET_LENGTH,
    MIDWATER_SPREAD,
    MIDWATER_TOW_SPEED,
    NET_LENGTH,
    SWEEPS,
    TOW_SPEED,
    VEER_SPEED,
    Default,
)
from towzone.gear.rigs import is_midwater, rigs_of, usual_rig
from towzone.model.gears import GEAR_NAMES
from towzone.model.vessel import Rig
from towzone.model.zone import ZoneKind

__all__ = ["TemplateLine", "lines_of_gear", "margin_lines", "position_lines", "vessel_lines"]


class TemplateLine(NamedTuple):
    """One figure: its name, an example, what it is and how it is measured, what is taken if it is left out.

    A spare one is left out of a profile that is filled in.
    """

    key: str
    example: str
    words: str
    left_out: str
    spare: bool = False


def position_lines(gear: str) -> list[TemplateLine]:
    """Return what is asked of positions and, of a gear whose place is computed, of its block."""
    rig = usual_rig(gear)
    return [_error(), *(_block(rig) if rig is not None else [])]


def lines_of_gear(gear: str) -> Mapping[str, list[TemplateLine]]:
    """Return the tables on the gear and its handling, none for a gear whose place is not computed."""
    rig = usual_rig(gear)
    if rig is None:
        return {}
    across = _beams() if rig is Rig.BEAM else _doors(gear, rig)
    return {
        "gear": [_rig_line(gear), *_reach(gear, rig), *across, _net(gear, rig)],
        "handling": _handling(gear, rig),
        "current": _current(),
    }


def _taken(default: Default, unit: str = "m") -> str:
    return f"{default.value:g} {unit}, give or take {default.sigma:g} {unit}"


def vessel_lines(gear: str) -> list[TemplateLine]:
    """Return what is asked of the vessel."""
    return [
        TemplateLine("name", '"invented"', "Name of the vessel.", "no name"),
        TemplateLine("gear", f'"{gear}"', f"Code of the gear: {GEAR_NAMES[gear]}.", ""),
        TemplateLine(
            "max_speed",
            '"12kn"',
            "The fastest the vessel can go, without gear. Where positions are missing it tells how far the "
            "vessel could have been.",
            "12kn",
        ),
    ]


def _error() -> TemplateLine:
    return TemplateLine(
        "error",
        '"10m"',
        "How far a position of the plotter may be from the truth, hardly ever more.",
        "15m",
    )


def _block(rig: Rig) -> list[TemplateLine]:
    block = "ends of the booms" if rig is Rig.BEAM else "towing blocks"
    return [
        TemplateLine(
            "block_aft",
            '"4m"' if rig is Rig.BEAM else '"18m"',
            f"From the antenna of the receiver aft to the {block}, along the vessel, measured on board or on "
            "the general arrangement; negative where they are ahead of it.",
            _taken(BLOCK_AFT),
        ),
        TemplateLine(
            "block_starboard",
            '"0m"',
            f"From the antenna to starboard, to the middle between the {block}; negative to port.",
            "0 m, and neither of the two counts as measured",
        ),
    ]


def _rig_line(gear: str) -> TemplateLine:
    allowed = ", ".join(rig.value for rig in rigs_of(gear))
    return TemplateLine(
        "rig",
        f'"{rigs_of(gear)[0].value}"',
        f"How it is rigged, for this gear one of: {allowed}. Each rig has figures of its own; `towzone "
        "vessel --gear OTT` shows those of a twin rig, `--gear TBB` those of beams.",
        rigs_of(gear)[0].value,
    )


def _reach(gear: str, rig: Rig) -> list[TemplateLine]:
    end = "the beams, their chains counted in" if rig is Rig.BEAM else "the doors"
    depth = "Depth of the water where the gear is, tide counted in, on your usual ground."
    other = "taken from the {} by what survey vessels have out, far less sure; one of the two is needed"
    beside = {"warp": other.format("depth"), "depth": other.format("warp")}
    if is_midwater(gear):
        depth = "Depth of the doors below the surface, not of the water."
        beside = dict.fromkeys(beside, "where the gear is is not computed")
    example = {Rig.SINGLE: '"350m"', Rig.TWIN: '"350m"', Rig.BEAM: '"150m"'}[rig]
    lines = [
        TemplateLine(
            "warp",
            example,
            f"Warp out from the block to {end}, at the depth below, by the marks or the counter of the "
            "winch. A warp in the haul log or the track comes before it.",
            beside["warp"],
        )
    ]
    if rig is Rig.TWIN:
        lines.append(
            TemplateLine(
                "clump_warp",
                '"345m"',
                "Middle warp, from its block to the clump.",
                "so long that the clump is level with the doors",
            )
        )
    lines.append(TemplateLine("depth", '"40m"' if rig is Rig.BEAM else '"118m"', depth, beside["depth"]))
    lines.append(
        TemplateLine("block_height", '"5m"', "Height of the blocks above the water.", _taken(BLOCK_HEIGHT)),
    )
    blocks, separation, apart = "the two blocks", '"8m"', _taken(BLOCK_SEPARATION)
    if rig is Rig.TWIN:
        blocks = "the two outer blocks"
    if rig is Rig.BEAM:
        blocks, separation, apart = "the blocks at the ends of the booms", '"26m"', "that of the beams"
    lines.append(TemplateLine("block_separation", separation, f"Distance between {blocks}.", apart))
    return lines


def _doors(gear: str, rig: Rig) -> list[TemplateLine]:
    twin = rig is Rig.TWIN
    apart = "From outer door to outer door" if twin else "From door to door"
    usual = "as survey trawls spread in that depth" + (", and a third more" if twin else "")
    if is_midwater(gear):
        usual = _taken(MIDWATER_SPREAD)
    return [
        TemplateLine(
            "door_spread",
            '"100m"' if twin else '"80m"',
            f"{apart}, by door sensors or from the two figures below.",
            f"from the two figures below, else {usual}",
        ),
        TemplateLine(
            "warps_apart",
            '"9m"' if twin else '"8.8m"',
            "Without door sensors: how far the (outer) warps are apart, measured with a line at the stern.",
            "see door_spread",
            spare=True,
        ),
        TemplateLine(
            "warps_apart_at",
            '"4m"',
            "How far down the warps from the blocks that was measured; the farther down, the surer.",
            "see door_spread",
            spare=True,
        ),
        TemplateLine(
            "sweeps",
            '"75m"' if twin else '"120m"',
            "Sweeps and bridles together, from door to wing-end; 0m where the doors are at the wing-ends.",
            _taken(SWEEPS),
        ),
        TemplateLine(
            "wing_spread",
            '"18m"' if twin else '"20m"',
            "Between the wing-ends of one net, by sensors or the net-maker's word.",
            "about a quarter of the spread of its doors",
        ),
    ]


def _beams() -> list[TemplateLine]:
    return [
        TemplateLine("beam_length", '"12m"', "Length of one beam.", _taken(BEAM_LENGTH)),
        TemplateLine(
            "beams_apart",
            '"26m"',
            "From the middle of one beam to the middle of the other, booms out; 0m for a single beam.",
            f"block_separation, else {_taken(BEAMS_APART)}",
        ),
    ]


def _net(gear: str, rig: Rig) -> TemplateLine:
    start = "the beam" if rig is Rig.BEAM else "its wing-ends"
    default = MIDWATER_NET_LENGTH if is_midwater(gear) else NET_LENGTH[rig]
    example = '"150m"' if is_midwater(gear) else {Rig.BEAM: '"20m"'}.get(rig, '"45m"')
    return TemplateLine(
        "net_length", example, f"Length of the net from {start} to the codend, stretched.", _taken(default)
    )


def _handling(gear: str, rig: Rig) -> list[TemplateLine]:
    speed = MIDWATER_TOW_SPEED if is_midwater(gear) else TOW_SPEED[rig]
    return [
        TemplateLine(
            "tow_speed",
            f'"{speed.value:g}kn"',
            "Usual speed over the ground while towing.",
            _taken(speed, "kn"),
        ),
        TemplateLine(
            "haul_speed",
            '"1.2m/s"',
            "How fast the warp comes in, in m/s: metres a minute divided by 60, by the winch or a watch. It "
            "is not the speed of the vessel while hauling.",
            _taken(HEAVE_SPEED, "m/s"),
        ),
        TemplateLine(
            "shoot_time",
            '"8min"',
            "From the net in the water to the brakes on, warp out.",
            f"from a warp that goes out at {_taken(VEER_SPEED, 'm/s')}",
        ),
        TemplateLine(
            "hauling_way",
            '"1.5kn"',
            "How fast the vessel goes over the ground while the gear is hauled, for planning only.",
            "the towing speed, with which the gear leaves the bottom farther on",
        ),
        TemplateLine(
            "tow_fuel",
            '"180l/h"',
            "Fuel burnt an hour while towing, by the meter or the log, for planning only.",
            "no fuel is told",
        ),
    ]


def _current() -> list[TemplateLine]:
    without, beside = DRIFT_SIGMA_KN[False], DRIFT_SIGMA_KN[True]
    return [
        TemplateLine(
            "set_deg",
            "90",
            "A steady current at the gear, near the bottom, if it is known: where it runs to, degrees true, "
            "a plain number. With tides that turn leave both out.",
            f"a current of {without:g} kn (one standard deviation) from anywhere is allowed for",
            spare=True,
        ),
        TemplateLine(
            "drift",
            '"0.5kn"',
            f"How fast it runs; {beside:g} kn either way are still allowed for.",
            "see set_deg",
            spare=True,
        ),
        TemplateLine(
            "strongest",
            '"0.8kn"',
            "The strongest current at the gear you reckon with, whatever way it runs, for planning only.",
            f"{3.0 * without:g} kn, beside set_deg and drift {3.0 * beside:g} kn either way: three standard "
            "deviations",
            spare=True,
        ),
    ]


def margin_lines() -> list[TemplateLine]:
    """Return what is asked of clearances."""
    told = {
        ZoneKind.CLOSED_AREA: ("0.1nmi", "closed areas"),
        ZoneKind.CABLE: ("0.25nmi", "cables"),
        ZoneKind.PIPELINE: ("0.25nmi", "pipelines"),
        ZoneKind.SAFETY_ZONE: ("0.1nmi", "safety zones"),
        ZoneKind.OBSTRUCTION: ("0.1nmi", "wrecks and other obstructions"),
        ZoneKind.OTHER: ("0.1nmi", "other zones"),
    }
    return [
        TemplateLine(
            kind.value,
            f'"{margin}"',
            f"Clearance you keep from {words} that state none themselves.",
            "0 m",
        )
        for kind, (margin, words) in told.items()
    ]
