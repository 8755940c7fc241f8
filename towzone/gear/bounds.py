"""How far from the antenna any part of the gear can be, whatever it does: the length of the rope."""

from __future__ import annotations

import math

from towzone.gear.figures import Rigging
from towzone.gear.layback import bottom_reach_m
from towzone.gear.rigs import is_midwater
from towzone.gear.scope import DEEPEST_M, greatest_warp_m
from towzone.model.gear import Figure
from towzone.model.vessel import Rig

__all__ = ["FARTHEST_M", "rope_reach_m"]

FARTHEST_M = 6_000.0
"""No part of any gear is farther from its vessel. Own choice: the longest warp, sweeps and net that a profile
may state are 5600 m together.

Held against gear of which no figures are known.
"""

_SIGMAS = 3.0
"""The bound is for proof, so every length in it is taken three standard deviations longer (own choice)."""


def rope_reach_m(rigging: Rigging) -> float:
    """Return the greatest horizontal distance from the antenna to any part of the gear, metres.

    Notes
    -----
    No part is farther from its block than warp, sweeps and net reach down to the bottom when drawn out
    straight, doors lifted or not (`towzone.gear.layback.bottom_reach_m`), whatever current and turns did.
    Added are half the distance of the blocks, their offset from the antenna and the errors of both, and of
    the position.
    """
    height_m = rigging.depth.value + rigging.block_height.value
    shallow_m = height_m - _SIGMAS * math.hypot(rigging.depth.sigma, rigging.block_height.sigma)
    if rigging.depth.low is not None:
        shallow_m = min(shallow_m, rigging.depth.low + rigging.block_height.value)
    if is_midwater(rigging.gear):
        shallow_m = 0.0  # it goes up and down as fish do
    rope_m = bottom_reach_m(
        longest_warp_m(rigging),
        max(shallow_m, 0.0),
        _longest(rigging.sweeps),
        _longest(rigging.net_length),
    )
    # Across the gear: a beam trawl's parts lie abeam of the warps; a trawl's doors hang on their own warps.
    aside_m = _longest(rigging.block_separation) / 2.0
    if rigging.beams_apart is not None and rigging.beam_length is not None:
        aside_m = max(aside_m, _longest(rigging.beams_apart) / 2.0) + _longest(rigging.beam_length) / 2.0
    offset_m = math.hypot(rigging.block_aft.value, rigging.block_starboard.value)
    error_m = _SIGMAS * (rigging.antenna.sigma + rigging.position.sigma)
    return float(rope_m) + aside_m + offset_m + error_m


def _longest(figure: Figure) -> float:
    return figure.value + _SIGMAS * figure.sigma


def longest_warp_m(rigging: Rigging) -> float:
    """Return a warp that is hardly ever exceeded, by the middle one of a twin rig neither, metres."""
    warp = rigging.warp
    longest = warp.value + _SIGMAS * warp.sigma
    if rigging.rig is Rig.TWIN:  # the clump hangs on a warp of its own, and the nets hang on the clump, too
        longest = max(longest, rigging.clump_warp.value + _SIGMAS * rigging.clump_warp.sigma)
    if warp.high is None:
        return longest
    # Not stated, but guessed from the depth: the guess has no hard end, so the far one is taken.
    depth = rigging.depth
    deepest_m = max(depth.value + _SIGMAS * depth.sigma, depth.high or 0.0)
    return max(longest, warp.high, float(greatest_warp_m(min(deepest_m, DEEPEST_M))))
