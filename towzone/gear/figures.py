"""From what is stated and measured to the gear of a tow: the best figure for each, or why there is none.

What was measured for the tow (its track, then the haul log) beats the vessel profile, that beats what follows
from other figures, that beats a documented default.
"""

from __future__ import annotations

from typing import NamedTuple

from towzone.gear.amounts import amount
from towzone.gear.defaults import (
    ANTENNA_SIGMA_M,
    BLOCK_AFT,
    BLOCK_HEIGHT,
    BLOCK_STARBOARD,
    DRIFT_SIGMA_KN,
    HEAVE_SPEED,
    MIDWATER_NET_LENGTH,
    MIDWATER_TOW_SPEED,
    NET_LENGTH,
    TOW_SPEED,
    VEER_SPEED,
)
from towzone.gear.figure_makers import PROFILE, Contradiction, assumed, derived, stated
from towzone.gear.layback import layback_m, reaches_bottom
from towzone.gear.reach import Reach, warp_and_depth
from towzone.gear.rigging import Measured, NoRigging, Rigging, assumed_lines, plain_amount
from towzone.gear.rigs import is_midwater, rigs_of, usual_rig, why_not_modelled
from towzone.gear.widths import Widths, beam_widths, trawl_widths
from towzone.model.gear import Basis, Figure
from towzone.model.vessel import GearFigures, Rig

__all__ = ["Measured", "NoRigging", "Rigging", "assumed_lines", "rigging_for"]

_ERROR_SIGMAS = 3.0
"""A stated position error is what positions keep to: three standard deviations. Own choice."""

_NET_SHARE, _WINCH_SHARE, _CLUMP_SHARE = 0.05, 0.1, 0.02
"""Standard deviations by value: of a stated length of the net, of stated winch speeds, of a stated warp of
the clump (marks and counters are true to 1 or 2 %, from memory). Own choice."""

_HEIGHT_SIGMA_M, _TOW_SPEED_SIGMA_KN = 0.5, 0.3
"""Of a stated height of the block, for vessels trim and roll (own choice), and of a stated towing speed (0.2
to 0.5 kn within one fleet's gear, Eigaard et al. 2016)."""

_VEER_SHARE = 0.25
"""Standard deviation of a veering speed that follows from the time shooting takes, by value: in between the
doors are hooked up. Own choice."""

_LIMITS_M = {"warp": (10.0, 4000.0), "depth": (1.0, 3000.0), "door_spread": (1.0, 500.0)}
"""What a measured figure may be, as in the vessel profile; beyond lies a wrong unit. Own choice."""

_WORDS = {"warp": "warp", "depth": "depth", "door_spread": "door spread"}


_STRONGEST_SIGMAS = 3.0
"""Three standard deviations of the current are the strongest that is stated, as of every figure that is taken
for proof. Own choice."""


class _RigFound(NamedTuple):
    """How the gear is rigged and where that comes from."""

    rig: Rig
    basis: Basis
    source: str


def rigging_for(
    figures: GearFigures,
    gear: str | None,
    *,
    warp: Measured | None = None,
    depth: Measured | None = None,
    door_spread: Measured | None = None,
    position_error_m: float,
) -> Rigging | NoRigging:
    """Return the gear of one tow in figures with their spread, or why that cannot be said.

    Parameters
    ----------
    figures : GearFigures
        Of the vessel profile.
    gear : str or None
        Code of the gear of this tow: of the haul log where it gives one, else of the profile.
    warp, depth, door_spread : Measured or None
        What was measured for this tow. A depth is that of the water: of midwater gear, whose doors are not
        at the bottom, it is not used.
    position_error_m : float
        Taken as three standard deviations.

    Raises
    ------
    UsageError
        A position error that is negative or no number.
    """
    position_sigma_m = float(amount("position error", position_error_m, least=0.0)) / _ERROR_SIGMAS
    why = why_not_modelled(gear)
    if why:
        return NoRigging(why=why)
    try:
        for name, found in (("warp", warp), ("depth", depth), ("door_spread", door_spread)):
            _refuse_impossible(name, found)
        return _rigging(figures, gear, warp, depth, door_spread, position_sigma_m)
    except Contradiction as found_why:
        return NoRigging(why=str(found_why))


def _refuse_impossible(name: str, found: Measured | None) -> None:
    low, high = _LIMITS_M[name]
    if found is not None and not low <= found.value_m <= high:  # refuses NaN, too
        message = (
            f"the {_WORDS[name]} of this tow is {found.value_m:g} m ({found.source}), and {low:g} to "
            f"{high:g} m make sense; correct it there."
        )
        raise Contradiction(message)


def _rigging(
    figures: GearFigures,
    gear: str | None,
    warp: Measured | None,
    depth: Measured | None,
    door_spread: Measured | None,
    position_sigma_m: float,
) -> Rigging:
    found, midwater = _rig(figures.rig, gear), is_midwater(gear)
    height = stated("block_height", figures.block_height_m, _HEIGHT_SIGMA_M) or assumed(
        "block_height", BLOCK_HEIGHT
    )
    reach = warp_and_depth(figures, height.value, midwater=midwater, warp=warp, depth=depth)
    down_m = reach.depth.value + height.value
    if found.rig is Rig.BEAM:
        widths = beam_widths(figures)
    else:
        widths = trawl_widths(figures, found.rig, reach, door_spread, midwater=midwater)
        _refuse_too_wide(reach, down_m, widths)
    antenna, aft, starboard = _block_place(figures)
    return Rigging(
        rig=found.rig,
        rig_basis=found.basis,
        rig_source=found.source,
        gear=gear,
        warp=reach.warp,
        clump_warp=_clump_warp(figures, found.rig, reach, down_m, widths),
        depth=reach.depth,
        block_height=height,
        block_separation=widths.block_separation,
        door_spread=widths.door_spread,
        sweeps=widths.sweeps,
        net_length=_net_length(figures, found.rig, midwater=midwater),
        wing_spread=widths.wing_spread,
        block_aft=aft,
        block_starboard=starboard,
        heave_speed=stated(
            "haul_speed", figures.heave_speed_mps, _WINCH_SHARE * (figures.heave_speed_mps or 0.0), unit="m/s"
        )
        or assumed("haul_speed", HEAVE_SPEED, unit="m/s"),
        veer_speed=_veer_speed(figures, reach.warp.value + widths.sweeps.value),
        tow_speed=stated("tow_speed", figures.tow_speed_kn, _TOW_SPEED_SIGMA_KN, unit="kn")
        or assumed("tow_speed", MIDWATER_TOW_SPEED if midwater else TOW_SPEED[found.rig], unit="kn"),
        beam_length=widths.beam_length,
        beams_apart=widths.beams_apart,
        current=figures.current,
        drift_sigma=_drift_sigma(figures),
        position=derived(
            "position",
            position_sigma_m,
            position_sigma_m,
            "a third of the position error that is allowed for",
        ),
        antenna=antenna,
    )


def _rig(rig: Rig | None, gear: str | None) -> _RigFound:
    """Return how the gear is rigged: as stated, as the gear code says, or as is usual."""
    possible = rigs_of(gear)
    if rig is not None:
        if rig not in possible:
            words = " or ".join(some.value for some in possible)
            message = (
                f"the vessel profile states a {rig.value} rig, and the gear of this tow is {gear}, which is "
                f"{words}; give the profile of the gear that was towed."
            )
            raise Contradiction(message)
        return _RigFound(rig, Basis.STATED, PROFILE)
    usual = usual_rig(gear) or Rig.SINGLE
    if len(possible) == 1:
        return _RigFound(usual, Basis.DERIVED, f"what gear code {gear} means")
    code = "no gear is stated" if gear is None else f"gear code {gear} leaves it open"
    return _RigFound(usual, Basis.ASSUMED, f"{code}; state gear.rig if it is another")


def _refuse_too_wide(reach: Reach, down_m: float, widths: Widths) -> None:
    """Refuse doors that the warps cannot spread so far and still reach the bottom, with layback to spare."""
    spread, separation = widths.door_spread, widths.block_separation
    if reaches_bottom(reach.warp.value, down_m, spread_m=spread.value, separation_m=separation.value):
        return
    message = (
        f"{plain_amount(reach.warp.value)} m of warp ({reach.warp.source}) do not reach down "
        f"{plain_amount(down_m)} m and aside to doors {plain_amount(spread.value)} m apart "
        f"({spread.source}), from blocks {plain_amount(separation.value)} m apart; state gear.door_spread, "
        "or correct the warp."
    )
    raise Contradiction(message)


def _clump_warp(figures: GearFigures, rig: Rig, reach: Reach, down_m: float, widths: Widths) -> Figure:
    """Return the middle warp of a twin rig; of other rigs the warp itself, which nobody uses."""
    warp = reach.warp
    if rig is not Rig.TWIN:
        return derived("clump_warp", warp.value, warp.sigma, "no clump")
    known_m = figures.clump_warp_m
    if known_m is None:
        layback = float(
            layback_m(
                warp.value,
                down_m,
                spread_m=widths.door_spread.value,
                separation_m=widths.block_separation.value,
            )
        )
        # Of the same layback, straight astern: the clump is between the doors then.
        level_m = (layback**2 + down_m**2) ** 0.5
        return derived("clump_warp", level_m, warp.sigma, "a clump that lies on the line between the doors")
    if warp.basis is Basis.STATED:
        found = Figure(
            name="clump_warp",
            value=known_m,
            sigma=_CLUMP_SHARE * known_m,
            unit="m",
            basis=Basis.STATED,
            source=PROFILE,
        )
    else:
        # What the skipper gives the clump more or less than the doors is his habit, whatever the depth.
        longer_m = known_m - (figures.warp_m if figures.warp_m is not None else known_m)
        words = f"{plain_amount(abs(longer_m))} m {'longer' if longer_m > 0 else 'shorter'} than the warp"
        source = f"{words}, as in the profile"
        found = derived("clump_warp", warp.value + longer_m, warp.sigma, source)
    if found.value <= down_m:
        message = (
            f"the warp of the clump ({plain_amount(found.value)} m, {found.source}) does not reach down "
            f"{plain_amount(down_m)} m; correct gear.clump_warp, or leave it out."
        )
        raise Contradiction(message)
    return found


def _net_length(figures: GearFigures, rig: Rig, *, midwater: bool) -> Figure:
    known = stated("net_length", figures.net_length_m, _NET_SHARE * (figures.net_length_m or 0.0))
    return known or assumed("net_length", MIDWATER_NET_LENGTH if midwater else NET_LENGTH[rig])


def _block_place(figures: GearFigures) -> tuple[Figure, Figure, Figure]:
    """Return how surely the block is known as seen from the antenna, and how far aft and starboard it is."""
    measured = figures.block_aft_m is not None and figures.block_starboard_m is not None
    sigma = ANTENNA_SIGMA_M[measured]
    basis, source = Basis.STATED, f"{PROFILE}, block_aft and block_starboard"
    if not measured:
        basis, source = Basis.ASSUMED, "block_aft and block_starboard are not both in the profile; own choice"
    antenna = Figure(name="antenna", value=sigma, sigma=sigma, unit="m", basis=basis, source=source)
    aft = stated("block_aft", figures.block_aft_m, sigma) or assumed("block_aft", BLOCK_AFT)
    starboard = stated("block_starboard", figures.block_starboard_m, sigma) or assumed(
        "block_starboard", BLOCK_STARBOARD
    )
    return antenna, aft, starboard


def _veer_speed(figures: GearFigures, out_m: float) -> Figure:
    if figures.shoot_time_s is None:
        return assumed("veer_speed", VEER_SPEED, unit="m/s")
    value = out_m / figures.shoot_time_s
    source = f"warp and sweeps out in {plain_amount(figures.shoot_time_s)} s, shoot_time of the profile"
    return derived("veer_speed", value, _VEER_SHARE * value, source, unit="m/s")


def _drift_sigma(figures: GearFigures) -> Figure:
    if figures.strongest_kn is not None:
        sigma = figures.strongest_kn / _STRONGEST_SIGMAS
        source = f"a third of the strongest current stated, {plain_amount(figures.strongest_kn)} kn"
        return Figure(name="drift", value=sigma, sigma=sigma, unit="kn", basis=Basis.STATED, source=source)
    sigma = DRIFT_SIGMA_KN[figures.current is not None]
    source = "no current in the profile; own choice"
    if figures.current is not None:
        source = "beside the current of the profile; own choice"
    return Figure(name="drift", value=sigma, sigma=sigma, unit="kn", basis=Basis.ASSUMED, source=source)
