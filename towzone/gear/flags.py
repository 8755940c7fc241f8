"""Where the model of the gear knows less than elsewhere, told so that a skipper understands it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from towzone.gear.offsets import courses_deg
from towzone.gear.stretch import GearStretch
from towzone.geodesy.ellipsoid import FloatArray, wrap_longitude
from towzone.model.gear import Basis, Figure

__all__ = ["FLAG_WORDS", "SETTLING_LAYBACKS", "flag_masks", "warp_is_guessed"]

BoolArray = npt.NDArray[np.bool_]

SETTLING_LAYBACKS = 3.0
"""After three laybacks 5 % of an unknown first angle are left: exp(-3), own derivation."""

_LARGE_ANGLE_DEG = 60.0
"""Beyond this the inner door is taken to lose its spread. Own choice of the plan of this project."""

FLAG_WORDS = {
    "settling": (
        "At the beginning of this stretch it is not known which way the gear lay; it is taken to lie "
        "straight astern, which is surely good only after three times the layback."
    ),
    "slack": (
        "The warps hung slack, because the vessel came back towards its gear or had not drawn them out yet: "
        "the gear is taken to lie still until they are tight."
    ),
    "tight_turn": (
        "The vessel turned tighter than the gear is long astern. How doors behave in such a turn was not "
        "found measured at sea; they may fall over or cross."
    ),
    "large_angle": (
        "The gear was more than 60 degrees off the vessel's course: its inner side may have lost its spread "
        "or fallen over."
    ),
    "no_warp": (
        "The length of the warp is not known; it is guessed from the depth, and the gear is computed for a "
        "short and a long one, too."
    ),
    "gap": "There are no positions for this time: where the gear was is not computed.",
}
"""What each kind of flag says."""


def flag_masks(stretch: GearStretch) -> Mapping[str, BoolArray]:
    """Return for each kind of flag of single moments at which nodes of a stretch it holds."""
    line_m = np.maximum(stretch.layback_m, 1.0)
    angle = np.abs(np.nan_to_num(stretch.beta_deg, nan=0.0))
    return {
        "settling": np.asarray(stretch.down & (stretch.settled_m < SETTLING_LAYBACKS * line_m)),
        "slack": np.asarray(stretch.down & stretch.slack & ~_drawn_out(stretch)),
        "tight_turn": np.asarray(stretch.down & _lasting(stretch, _turned_tight(stretch, line_m), line_m)),
        "large_angle": np.asarray(stretch.down & (angle > _LARGE_ANGLE_DEG)),
    }


def warp_is_guessed(warp: Figure) -> bool:
    """Return whether the length of the warp is neither stated nor measured."""
    return warp.basis in (Basis.ASSUMED, Basis.DERIVED)


def _drawn_out(stretch: GearStretch) -> BoolArray:
    """Return where the warps hang slack since they were veered: the vessel has yet to draw them out."""
    veering = np.append(False, np.diff(stretch.lead.warp_m) > 0.0)
    run = np.cumsum(np.append(True, np.diff(stretch.slack)))  # a number for each run of slack or tight nodes
    return np.asarray(np.isin(run, run[veering & stretch.slack]))


def _turned_tight(stretch: GearStretch, line_m: FloatArray) -> BoolArray:
    """Return where the course changed faster than on a circle as wide as the layback.

    On such a circle the course changes by half a radian over half a layback.
    """
    course = courses_deg(stretch.lead.lon_deg, stretch.lead.lat_deg)
    before = np.searchsorted(stretch.run_m, stretch.run_m - line_m / 2.0)
    turned = np.abs(np.radians(wrap_longitude(course - course[before])))
    return np.asarray(np.nan_to_num(turned, nan=0.0) > 0.5)


def _lasting(stretch: GearStretch, mask: BoolArray, line_m: FloatArray) -> BoolArray:
    """Return where a mask held within the last layback: so long the gear is on its way through the turn."""
    there = stretch.run_m[mask]
    if not len(there):
        return mask
    last = np.searchsorted(there, stretch.run_m, side="right") - 1
    return np.asarray((last >= 0) & (stretch.run_m - there[np.maximum(last, 0)] <= line_m))
