"""The set of the gear by a current across."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from towzone.errors import UsageError
from towzone.gear.current import crab_angle


def balanced(speed, cross, friction):
    """The angle at which drag and friction pull along the towline, found by search.

    Gear and vessel move alike, along x; drag is square with the speed through the water, its coefficient 1.
    """
    water = np.array([speed, -cross])  # velocity of the gear through it
    resistance = math.hypot(*water) * water + friction * speed**2 * np.array([1.0, 0.0])

    def athwart(angle):
        towline = np.array([math.cos(angle), -math.sin(angle)])
        return towline[0] * resistance[1] - towline[1] * resistance[0]

    return brentq(athwart, -1.5, 1.5, xtol=1e-14)


@pytest.mark.parametrize("cross", [-1.0, 0.1, 0.5, 4.0])
@pytest.mark.parametrize("friction", [0.0, 0.3, 1.0])
def test_at_the_angle_drag_friction_and_pull_balance(cross, friction):
    assert abs(crab_angle(3.0, cross, friction) - balanced(3.0, cross, friction)) < 1e-12


def test_without_friction_the_gear_trails_where_the_water_goes():
    assert abs(crab_angle(3.0, 0.5, 0.0) - math.atan(0.5 / 3.0)) < 1e-15


def test_no_current_sets_nothing_and_its_mirror_sets_the_other_way():
    assert float(crab_angle(3.0, 0.0, 0.3)) == 0.0
    assert float(crab_angle(3.0, -0.7, 0.3)) == -float(crab_angle(3.0, 0.7, 0.3))


@pytest.mark.parametrize(
    "figures", [(0.0, 0.5, 0.3), (-3.0, 0.5, 0.3), (3.0, np.nan, 0.3), (3.0, 0.5, -0.1), (np.nan, 0.5, 0.3)]
)
def test_figures_that_cannot_be_are_refused(figures):
    with pytest.raises(UsageError, match="allowed"):
        crab_angle(*figures)
