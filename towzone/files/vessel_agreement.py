"""Whether the figures of a vessel profile can all be true of one gear."""

from __future__ import annotations

import math
from collections.abc import Iterator
from collections.abc import Set as AbstractSet

from towzone.gear.rigs import rigs_of, usual_rig, why_not_modelled
from towzone.model.vessel import GearFigures, Rig

__all__ = ["disagreements"]

_LONGEST_SCOPE = 20.0
"""Times the depth. Of 22 536 survey hauls looked at none had more warp out (ICES survey hauls 2004-2021, own
evaluation; in shallow water one in twenty had more than 10). Beyond lies a digit too many."""

_OF_TRAWLS = ("door_spread", "sweeps", "wing_spread", "warps_apart", "warps_apart_at", "clump_warp")
_OF_BEAMS = ("beam_length", "beams_apart")


def disagreements(
    figures: GearFigures, gear: str | None, stated: AbstractSet[str], *, rig_known: bool
) -> Iterator[tuple[str, str]]:
    """Yield what cannot be true together: where it stands, and what was found, is allowed and is to be done.

    Parameters
    ----------
    figures : GearFigures
        Each of them sound for itself, ``None`` where it was refused.
    gear : str or None
        Code of the gear that the profile states.
    stated : set of str
        Names in the table ``[gear]``, of figures that were refused, too.
    rig_known : bool
        Whether neither the gear code nor the rig was refused: only then is told what does not suit the rig.
    """
    yield from _alone(stated)
    yield from _warps(figures)
    yield from _scope(figures)
    if rig_known and not why_not_modelled(gear):
        yield from _rig(figures, gear)
        yield from _of_other_rigs(figures.rig or (usual_rig(gear) if gear is not None else None), stated)
        yield from _spread(figures, 2 if (figures.rig or usual_rig(gear)) is Rig.TWIN else 1)
    yield from _beams(figures)
    yield from _current(figures)


def _alone(stated: AbstractSet[str]) -> Iterator[tuple[str, str]]:
    pairs = (
        ("warps_apart", "warps_apart_at", "the spread of the doors follows from both together"),
        ("warps_apart_at", "warps_apart", "the spread of the doors follows from both together"),
        ("clump_warp", "warp", "only both tell how far the clump is from the line of the doors"),
    )
    for key, other, why in pairs:
        if key in stated and other not in stated:
            yield f"gear.{key}", f"is stated without {other}; state {other} too: {why}"


def _warps(figures: GearFigures) -> Iterator[tuple[str, str]]:
    at, warp_m = figures.warps_apart_at_m, figures.warp_m
    if at is not None and warp_m is not None and at > warp_m:
        message = (
            f"of {at:g} m is farther down the warps than warp is long, {warp_m:g} m; correct one of both"
        )
        yield "gear.warps_apart_at", message
    if figures.depth_m is None:
        return
    down_m = figures.depth_m + (figures.block_height_m or 0.0)
    for key, length_m in (("warp", warp_m), ("clump_warp", figures.clump_warp_m)):
        if length_m is not None and length_m <= down_m:
            yield (
                f"gear.{key}",
                f"of {length_m:g} m does not reach down {down_m:g} m (depth and block_height together); "
                "write the warp that is out at that depth",
            )


def _scope(figures: GearFigures) -> Iterator[tuple[str, str]]:
    warp_m, depth_m = figures.warp_m, figures.depth_m
    if warp_m is not None and depth_m is not None and warp_m > _LONGEST_SCOPE * depth_m:
        yield (
            "gear.warp",
            f"of {warp_m:g} m is {warp_m / depth_m:.0f} times the depth of {depth_m:g} m, and no gear has "
            f"more than {_LONGEST_SCOPE:g} times; correct one of both",
        )


def _current(figures: GearFigures) -> Iterator[tuple[str, str]]:
    current, speed_kn = figures.current, figures.tow_speed_kn
    if current is not None and speed_kn is not None and current.drift_kn >= speed_kn:
        yield (
            "current.drift",
            f"of {current.drift_kn:g} kn is no less than tow_speed, {speed_kn:g} kn: gear that is carried "
            "along faster than it is towed is not computed; state that near the bottom, or leave it out",
        )


def _rig(figures: GearFigures, gear: str | None) -> Iterator[tuple[str, str]]:
    allowed = rigs_of(gear)
    if figures.rig is not None and figures.rig not in allowed:
        words = " or ".join(f"'{rig.value}'" for rig in allowed)
        yield (
            "gear.rig",
            f"is '{figures.rig.value}', which does not go with vessel.gear, {gear}; write {words} or another "
            "gear code",
        )


def _of_other_rigs(rig: Rig | None, stated: AbstractSet[str]) -> Iterator[tuple[str, str]]:
    """Yield figures that mean nothing for the rig at hand."""
    if rig is Rig.BEAM:
        for key in (key for key in _OF_TRAWLS if key in stated):
            message = "means nothing for a beam trawl: take it away, and state beam_length and beams_apart"
            yield f"gear.{key}", message
        return
    for key in (key for key in _OF_BEAMS if key in stated):
        yield f"gear.{key}", "is for beam trawls only: take it away, or state rig = 'beam'"
    if rig is not Rig.TWIN and "clump_warp" in stated:
        yield "gear.clump_warp", "is for twin rigs only: take it away, or state rig = 'twin'"


def _spread(figures: GearFigures, nets: int) -> Iterator[tuple[str, str]]:
    spread, sweeps, wings = figures.door_spread_m, figures.sweeps_m, figures.wing_spread_m
    if spread is None:
        return
    if wings is not None and wings > spread / nets:
        each = f" for each of {nets} nets" if nets > 1 else ""
        yield (
            "gear.wing_spread",
            f"of {wings:g} m is more than door_spread leaves, {spread / nets:g} m{each}; write how far the "
            "wing-ends of one net are apart, and for door_spread the distance of the outer doors",
        )
    elif wings is not None and sweeps is not None and spread > nets * (wings + 2.0 * sweeps):
        most_m = nets * (wings + 2.0 * sweeps)
        yield (
            "gear.door_spread",
            f"of {spread:g} m is more than wing_spread and sweeps allow, {nets} x ({wings:g} m + 2 x "
            f"{sweeps:g} m) = {most_m:g} m; correct one of the three",
        )
    yield from _divergence(figures, spread)


def _divergence(figures: GearFigures, spread_m: float) -> Iterator[tuple[str, str]]:
    """Yield a spread for which the warps are too short."""
    if figures.warp_m is None or figures.depth_m is None:
        return
    # Blocks of which it is not stated how far they are apart are given all of the spread.
    aside_m = 0.0 if figures.block_separation_m is None else (spread_m - figures.block_separation_m) / 2.0
    down_m = figures.depth_m + (figures.block_height_m or 0.0)
    if down_m < figures.warp_m <= math.hypot(down_m, aside_m):
        yield (
            "gear.door_spread",
            f"of {spread_m:g} m cannot be: {figures.warp_m:g} m of warp, {down_m:g} m down, do not reach "
            f"{aside_m:g} m to each side; correct warp, depth or door_spread",
        )


def _beams(figures: GearFigures) -> Iterator[tuple[str, str]]:
    length, apart = figures.beam_length_m, figures.beams_apart_m
    if length is not None and apart is not None and 0.0 < apart < length:
        yield (
            "gear.beams_apart",
            f"of {apart:g} m is less than beam_length, {length:g} m: the beams would overlap; write how far "
            "their middles are apart, or 0m for a single beam",
        )
