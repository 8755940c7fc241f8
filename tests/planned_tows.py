"""Planned tows for tests: lines from positions, and judges among zones, with the gear of `gear_stretches`."""

from __future__ import annotations

import numpy as np
from gear_stretches import SINGLE
from scenes import START, moved

from towzone.checks.settings import CheckSettings, GearProof
from towzone.plan.judging import Judge, PlanSettings
from towzone.plan.lines import line_of

PORT = (-8.175, 54.5)
"""Where the lines of these tests begin."""


def planned(*positions, name="plan", point_names=()):
    """A line through positions (lon, lat)."""
    corners = np.array(positions, dtype=float)
    return line_of(name, corners[:, 0], corners[:, 1], point_names=point_names)


def bent(*legs, start=PORT):
    """A line from a start by (bearing, metres) of its legs, laid out as geodesics."""
    corners = [start]
    for bearing_deg, length_m in legs:
        corners.append(moved(corners[-1], bearing_deg, length_m))
    return planned(*corners)


def judge_of(zones, *, check=None, figures=SINGLE, **settings):
    """A judge of some zones for a tow at 3 kn from `START`; ``check`` changes the settings of the check."""
    of_check = {"gear": "OTB", "position_error_m": 10.0, "gear_proof": GearProof.MODEL} | (check or {})
    given = {
        "depart_utc": START,
        "speed_kn": 3.0,
        "hauling_way_kn": 3.0,
        "hauling_way_stated": False,
        "strongest_kn": 0.5,
    } | settings
    return Judge(list(zones), PlanSettings(check=CheckSettings(figures=figures, **of_check), **given))
