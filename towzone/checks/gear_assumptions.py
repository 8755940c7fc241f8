"""What rows of the gear take for granted, in plain words; and how its place is computed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from towzone.checks.gear_leads import TowGear
from towzone.checks.gear_rows import GearRows
from towzone.checks.gear_shares import TowPassed
from towzone.checks.settings import CheckSettings, GearProof
from towzone.gear.defaults import DRIFT_SIGMA_KN
from towzone.gear.figures import NoRigging, Rigging, assumed_lines
from towzone.model.vessel import GearFigures

__all__ = ["gear_assumptions", "gear_methods"]


def gear_assumptions(settings: CheckSettings, gear: Sequence[GearRows]) -> list[str]:
    """Return the assumptions of rows of the gear, none where no figures of it are given."""
    if settings.figures is None:
        return []
    rigged = [tow.gear.rigging for some in gear for tow in some.passed.values()]
    rigged += [some.outside for some in gear if isinstance(some.outside, Rigging)]
    told = [line for rigging in rigged for line in assumed_lines(rigging)]
    untold = [tow.why_not for some in gear for tow in some.tows if tow.why_not]
    untold += [some.outside.why for some in gear if isinstance(some.outside, NoRigging)]
    return [
        *dict.fromkeys(told),
        *(f"The gear is not computed: {why}" for why in dict.fromkeys(untold)),
        *(_computed(settings, settings.figures) if rigged else []),
        *dict.fromkeys(_block_line(tow.gear) for some in gear for tow in some.passed.values()),
        *([_OPEN_ENDS] if any(_open_ended(tow) for some in gear for tow in some.passed.values()) else []),
    ]


def _block_line(gear: TowGear) -> str:
    if gear.crab_deg is None:
        return "The towing block is placed by the vessel's course: the track gives no heading."
    return (
        "The towing block is placed by the vessel's heading, which lay "
        f"{gear.crab_deg:.0f} degrees off its course on average (crab)."
    )


_OPEN_ENDS = (
    "A planned tow, and one that runs to where the positions begin or end, is computed with all its warp out "
    "from end to end: where its gear goes before and after, while it is shot and hauled, is not judged."
)


def _open_ended(passed: TowPassed) -> bool:
    contact = passed.gear.contact
    return not (math.isfinite(contact.earliest_s) and math.isfinite(contact.latest_s))


def _stream(figures: GearFigures) -> str:
    current, strongest_kn = figures.current, figures.strongest_kn
    aside = (
        f"one of {DRIFT_SIGMA_KN[current is not None]:g} kn (one standard deviation)"
        if strongest_kn is None
        else f"one of up to {strongest_kn:g} kn from any direction, the strongest that is stated (as three "
        "standard deviations)"
    )
    if current is None and strongest_kn is not None:
        return f"No steady current is taken: the gear may be set aside by {aside}."
    if current is None:
        return f"No current is stated: none is taken, and the gear may be set aside by {aside}."
    return (
        f"A steady current of {current.drift_kn:g} kn setting {current.set_deg:g} degrees is taken at the "
        f"gear, which may be set aside beyond that by {aside}."
    )


def _computed(settings: CheckSettings, figures: GearFigures) -> list[str]:
    proof = (
        "By --gear-proof model the gear counts as clear where the model of its path, allowing for three "
        "standard deviations, keeps it clear."
        if settings.gear_proof is GearProof.MODEL
        else "The gear counts as clear only where the length of warp, sweeps and net alone keeps every part "
        "of it clear, wherever current and turns took it."
    )
    return [
        "The warps run straight from block to doors; doors and net follow as if drawn along by "
        "them, the net behind the doors. How doors behave in turns was not found measured at sea.",
        "At the beginning of a tow, and after each gap in it, the gear is taken to lie straight astern.",
        _stream(figures),
        proof,
    ]


def gear_methods() -> dict[str, object]:
    """Return how the place of the gear is computed, with the accuracy claimed."""
    return {
        "gear": (
            "layback from warp and depth; doors as a pursuit of the towing block, net as a pursuit of the "
            "doors, in closed form leg by leg on the ellipsoid; steady current as a moving frame"
        ),
        "gear_accuracy_m": 0.01,
        "gear_uncertainty": (
            "standard deviations of warp, depth, position, antenna, current, door spread and clock, added as "
            "squares; the rope bound does not depend on them beyond three of each length"
        ),
    }
