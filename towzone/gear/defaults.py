"""What is taken for a figure of the gear that nobody states, and how far it may be off, each with its source.

Standard deviations of figures "from memory" are own choices: a third to a half of the range remembered.
"""

from __future__ import annotations

from typing import NamedTuple

from towzone.model.vessel import Rig

__all__ = [
    "ANTENNA_SIGMA_M",
    "BEAMS_APART",
    "BEAM_LENGTH",
    "BLOCK_AFT",
    "BLOCK_HEIGHT",
    "BLOCK_SEPARATION",
    "BLOCK_STARBOARD",
    "DRIFT_SIGMA_KN",
    "HEAVE_SPEED",
    "MIDWATER_NET_LENGTH",
    "MIDWATER_SPREAD",
    "MIDWATER_TOW_SPEED",
    "NET_LENGTH",
    "SWEEPS",
    "TOW_SPEED",
    "VEER_SPEED",
    "Default",
]


class Default(NamedTuple):
    """A figure that is taken when none is stated: value, standard deviation, and why, for people."""

    value: float
    sigma: float
    source: str


BLOCK_AFT = Default(10.0, 10.0, "an antenna above a wheelhouse ahead of the blocks; from memory")
BLOCK_STARBOARD = Default(0.0, 10.0, "an antenna amidships; from memory")

ANTENNA_SIGMA_M = {True: 2.0, False: 10.0}
"""Standard deviation of the place of the block as seen from the antenna: measured, and not. Own choice."""

BLOCK_HEIGHT = Default(5.0, 2.0, "blocks of vessels of 15 to 35 m; from memory")
BLOCK_SEPARATION = Default(8.0, 2.0, "gallows of vessels of 15 to 35 m; from memory")

SWEEPS = Default(
    120.0, 40.0, "published rigs have from none to 300 m, training text of Seafish; 120 m is an own choice"
)

NET_LENGTH = {
    Rig.SINGLE: Default(50.0, 10.0, "30 to 60 m on vessels of 15 to 35 m; from memory"),
    Rig.TWIN: Default(50.0, 10.0, "30 to 60 m on vessels of 15 to 35 m; from memory"),
    Rig.BEAM: Default(20.0, 6.0, "10 to 30 m behind the beam; from memory"),
}
MIDWATER_NET_LENGTH = Default(150.0, 60.0, "50 to 300 m; from memory")
MIDWATER_SPREAD = Default(100.0, 30.0, "doors of midwater trawls, 60 to 150 m; from memory")

BEAM_LENGTH = Default(
    12.0, 2.0, "two beams of together 24 m, the most that much of EU law allows; from memory"
)
BEAMS_APART = Default(26.0, 4.0, "booms that reach 13 m to each side; own choice")

TOW_SPEED = {
    Rig.SINGLE: Default(3.0, 0.5, "means of 2.8 to 3.4 kn for otter trawls, Eigaard et al. 2016"),
    Rig.TWIN: Default(2.6, 0.5, "means of 2.5 to 2.8 kn for Nephrops and mixed trawls, Eigaard et al. 2016"),
    Rig.BEAM: Default(4.5, 1.5, "means of 3.0 kn for shrimp and 5.2 kn for flatfish, Eigaard et al. 2016"),
}
MIDWATER_TOW_SPEED = Default(4.0, 0.8, "3 to 5.5 kn; from memory")

HEAVE_SPEED = Default(1.0, 0.3, "50 to 120 m a minute; from memory")
VEER_SPEED = Default(2.0, 0.4, "100 to 150 m a minute; from memory")

DRIFT_SIGMA_KN = {True: 0.2, False: 0.5}
"""Standard deviation of the current that remains unknown: with a current stated, and without. Own choice."""
