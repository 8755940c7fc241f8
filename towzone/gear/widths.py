"""How wide the gear of a tow is: doors, wing-ends and what joins them, or beams."""

from __future__ import annotations

import math
from typing import NamedTuple

from towzone.errors import UsageError
from towzone.gear.defaults import (
    BEAM_LENGTH,
    BEAMS_APART,
    BLOCK_SEPARATION,
    MIDWATER_SPREAD,
    SWEEPS,
    Default,
)
from towzone.gear.figure_makers import PROFILE, Contradiction, assumed, derived, measured, stated
from towzone.gear.layback import spread_from_warps_m
from towzone.gear.reach import Reach
from towzone.gear.rigging import Measured, plain_amount
from towzone.gear.spread import default_spread_m, default_wing_spread_m
from towzone.model.gear import Basis, Figure
from towzone.model.vessel import GearFigures, Rig

__all__ = ["Widths", "beam_widths", "trawl_widths"]

_SEPARATION_SIGMA_M, _BEAM_SIGMA_M, _BEAMS_APART_SIGMA_M = 0.5, 0.2, 1.0
"""Standard deviations of what was measured on board, of the booms when topped. Own choice."""

_SPREAD_SIGMA_M = {True: 5.0, False: 8.0}
"""Standard deviation of a door spread measured in this tow, and of the usual one of the profile. Residuals of
3 to 15 m within one gear, ICES survey hauls 2004-2021, own evaluation; which of them is an own choice."""

_WARPS_APART_SIGMA_M = 0.05
"""Of the distance between the warps as measured from the stern. Own choice."""

_SWEEPS_SHARE, _LEAST_SWEEPS_SIGMA_M = 0.02, 1.0
"""Standard deviation of stated sweeps, by their length and at least: ropes stretch. Own choice."""

_WING_SHARE = 0.1
"""Standard deviation of a stated spread of the wing-ends, by it. Own choice."""

_WIDEST_ANGLE_DEG = 20.0
"""Bridles stand 10 to 20 degrees off the course (from memory): they are long enough for the spread so."""

_WIDEST_M = 500.0
"""As in the vessel profile. Own choice."""

_CORRECT = "correct the figures of the vessel profile, or what was measured"


class Widths(NamedTuple):
    """What is across the gear, and the sweeps, whose length must suit it."""

    block_separation: Figure
    door_spread: Figure
    sweeps: Figure
    wing_spread: Figure
    beam_length: Figure | None = None
    beams_apart: Figure | None = None


def beam_widths(figures: GearFigures) -> Widths:
    """Return the widths of a beam trawl.

    Raises
    ------
    Contradiction
        The beams would overlap.
    """
    length = stated("beam_length", figures.beam_length_m, _BEAM_SIGMA_M) or assumed(
        "beam_length", BEAM_LENGTH
    )
    apart = _beams_apart(figures, length.value)
    if 0.0 < apart.value < length.value:
        message = (
            f"the beams would overlap: their middles are {plain_amount(apart.value)} m apart "
            f"({apart.source}), and each is {plain_amount(length.value)} m long ({length.source}); correct "
            "the vessel profile."
        )
        raise Contradiction(message)
    return Widths(
        block_separation=stated("block_separation", figures.block_separation_m, _SEPARATION_SIGMA_M)
        or derived("block_separation", apart.value, apart.sigma, "each beam is towed from above it"),
        door_spread=derived(
            "door_spread",
            apart.value + length.value,
            math.hypot(apart.sigma, length.sigma),
            "from outer end to outer end of the beams: distance of their middles and length of one",
        ),
        sweeps=derived("sweeps", 0.0, 0.0, "a beam trawl has none"),
        wing_spread=derived("wing_spread", length.value, length.sigma, "length of a beam"),
        beam_length=length,
        beams_apart=apart,
    )


def _beams_apart(figures: GearFigures, length_m: float) -> Figure:
    known = stated("beams_apart", figures.beams_apart_m, _BEAMS_APART_SIGMA_M)
    if known is not None:
        return known
    if figures.block_separation_m is not None:
        source = "distance of the blocks at the ends of the booms"
        return derived("beams_apart", figures.block_separation_m, _BEAMS_APART_SIGMA_M, source)
    return assumed("beams_apart", BEAMS_APART._replace(value=max(BEAMS_APART.value, length_m)))


def trawl_widths(
    figures: GearFigures, rig: Rig, reach: Reach, door_spread: Measured | None, *, midwater: bool
) -> Widths:
    """Return the widths of a trawl with doors; of a twin rig ``wing_spread`` is that of one net.

    Raises
    ------
    Contradiction
        Sweeps and bridles cannot join the doors and the wing-ends.
    """
    nets = 2 if rig is Rig.TWIN else 1
    separation = stated("block_separation", figures.block_separation_m, _SEPARATION_SIGMA_M) or assumed(
        "block_separation", BLOCK_SEPARATION
    )
    spread = _door_spread(figures, rig, reach, separation, door_spread, midwater=midwater)
    if spread.basis is Basis.ASSUMED:
        spread = _within_ropes(spread, figures, nets)
    of_net_m = spread.value / nets
    sweeps = _sweeps(figures, of_net_m)
    wings = _wing_spread(figures, of_net_m, sweeps.value, spread.sigma / nets)
    _refuse_unjoined(spread, of_net_m, sweeps, wings)
    return Widths(block_separation=separation, door_spread=spread, sweeps=sweeps, wing_spread=wings)


def _door_spread(
    figures: GearFigures,
    rig: Rig,
    reach: Reach,
    separation: Figure,
    found: Measured | None,
    *,
    midwater: bool,
) -> Figure:
    if found is not None:
        return measured("door_spread", found, _SPREAD_SIGMA_M[True])
    known = stated("door_spread", figures.door_spread_m, _SPREAD_SIGMA_M[False])
    if known is not None:
        return known
    if figures.warps_apart_m is not None and figures.warps_apart_at_m is not None:
        return _from_warps(figures, figures.warps_apart_m, figures.warps_apart_at_m, reach, separation)
    if midwater:
        return assumed("door_spread", MIDWATER_SPREAD)
    value, sigma = default_spread_m(reach.depth.value, rig)
    source = f"usual in {plain_amount(reach.depth.value)} m; ICES survey hauls 2004-2021, own evaluation"
    if rig is Rig.TWIN:
        source += ", 4/3 of it for two nets"
    return assumed("door_spread", Default(float(value), float(sigma), source))


def _from_warps(
    figures: GearFigures, apart_m: float, at_m: float, reach: Reach, separation: Figure
) -> Figure:
    """Return the spread by how far the warps are apart, measured on the usual warp if that is known."""
    warp_m = figures.warp_m or reach.warp.value
    try:
        value = float(spread_from_warps_m(warp_m, apart_m, at_m, separation.value))
    except UsageError as error:
        message = f"{error}."
        raise Contradiction(message) from error
    if not 1.0 <= value <= _WIDEST_M:
        message = (
            f"warps {plain_amount(apart_m)} m apart at {plain_amount(at_m)} m make a door spread of "
            f"{plain_amount(value)} m with {plain_amount(warp_m)} m of warp, and 1 to {_WIDEST_M:g} m make "
            "sense; measure again, or state gear.door_spread."
        )
        raise Contradiction(message)
    leverage = warp_m / at_m
    # The blocks' distance moves the spread as much as that of the warps, less once.
    sigma = math.hypot(leverage * _WARPS_APART_SIGMA_M, (leverage - 1.0) * separation.sigma)
    source = f"warps {plain_amount(apart_m)} m apart, {plain_amount(at_m)} m from the blocks"
    return derived("door_spread", value, max(sigma, _SPREAD_SIGMA_M[False]), source)


def _within_ropes(spread: Figure, figures: GearFigures, nets: int) -> Figure:
    """Return an assumed spread, no wider than stated wing-ends and sweeps can be spread."""
    if figures.wing_spread_m is None:
        return spread
    least_m = nets * figures.wing_spread_m
    most_m = math.inf if figures.sweeps_m is None else least_m + nets * 2.0 * figures.sweeps_m
    value = min(max(spread.value, least_m), most_m)
    if value == spread.value:
        return spread
    while (value / nets - figures.wing_spread_m) / 2.0 > (figures.sweeps_m or 0.0) and value > least_m:
        value = math.nextafter(value, 0.0)  # a hair wider, by rounding, and ropes do not reach
    source = f"what wing_spread and sweeps of the profile allow, {spread.source}"
    return derived("door_spread", value, spread.sigma, source)


def _sweeps(figures: GearFigures, of_net_m: float) -> Figure:
    known_m = figures.sweeps_m
    if known_m is not None:
        sigma = max(_SWEEPS_SHARE * known_m, _LEAST_SWEEPS_SIGMA_M) if known_m > 0.0 else 0.0
        return Figure(name="sweeps", value=known_m, sigma=sigma, unit="m", basis=Basis.STATED, source=PROFILE)
    if figures.wing_spread_m is None:
        return assumed("sweeps", SWEEPS)
    needed_m = (of_net_m - figures.wing_spread_m) / (2.0 * math.sin(math.radians(_WIDEST_ANGLE_DEG)))
    return assumed("sweeps", SWEEPS._replace(value=max(SWEEPS.value, needed_m)))


def _wing_spread(figures: GearFigures, of_net_m: float, sweeps_m: float, of_net_sigma_m: float) -> Figure:
    known = stated("wing_spread", figures.wing_spread_m, _WING_SHARE * (figures.wing_spread_m or 0.0))
    if known is not None:
        return known
    value, sigma = (float(some) for some in default_wing_spread_m(of_net_m))
    least_m = of_net_m - 2.0 * sweeps_m
    if value < least_m:
        while (of_net_m - least_m) / 2.0 > sweeps_m:
            least_m = math.nextafter(least_m, math.inf)  # a hair less, by rounding, and ropes do not reach
        source = "the least that sweeps so short leave between the wing-ends"
        return derived("wing_spread", least_m, max(sigma, of_net_sigma_m), source)
    source = f"usual with doors {plain_amount(of_net_m)} m apart; ICES survey hauls 2004-2021, own evaluation"
    return assumed("wing_spread", Default(value, sigma, source))


def _refuse_unjoined(spread: Figure, of_net_m: float, sweeps: Figure, wings: Figure) -> None:
    if wings.value > of_net_m:
        why = "the wing-ends of one net are farther apart than its doors"
    elif (of_net_m - wings.value) / 2.0 > sweeps.value:  # exactly as `wing_end_distance_m` has it
        why = "sweeps and bridles do not reach from the doors to the wing-ends"
    else:
        return
    message = (
        f"{why}: door spread {plain_amount(spread.value)} m ({spread.source}), "
        f"{plain_amount(of_net_m)} m for one net; wing spread {plain_amount(wings.value)} m "
        f"({wings.source}); sweeps {plain_amount(sweeps.value)} m ({sweeps.source}); {_CORRECT}."
    )
    raise Contradiction(message)
