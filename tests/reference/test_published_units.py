"""Units against the standards that define them."""

from __future__ import annotations

import pytest
from reference_rows import rows

from towzone.units import KNOT_MPS, parse_length, parse_speed

METRES = {"m": 1.0, "km": 1000.0}
METRES_PER_SECOND = {"m/s": 1.0, "km/h": 1000.0 / 3600.0}


@pytest.mark.parametrize("row", rows("units.csv", what=["length"]))
def test_a_length_is_the_published_number_of_metres(row):
    """Lengths in metres, or in kilometres as rounded in a rule."""
    assert abs(parse_length(row.inputs["text"]) / METRES[row.unit] - row.value) <= row.tolerance


@pytest.mark.parametrize("row", rows("units.csv", what=["speed"]))
def test_a_speed_is_the_published_number_of_metres_per_second(row):
    """Knots back into metres per second and kilometres per hour."""
    speed_mps = parse_speed(row.inputs["text"]) * KNOT_MPS

    assert abs(speed_mps / METRES_PER_SECOND[row.unit] - row.value) <= row.tolerance
