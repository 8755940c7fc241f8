"""How far a steady current across the tow sets the gear aside."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from towzone.gear.amounts import amount
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["crab_angle"]


def crab_angle(speed: npt.ArrayLike, cross: npt.ArrayLike, friction: npt.ArrayLike) -> FloatArray:
    """Return the steady angle between the course made good and the line from gear to vessel.

    The gear comes to lie ``layback * sin(angle)`` down-current of the vessel's path.

    Parameters
    ----------
    speed : float or array
        Of the vessel over the ground, above 0.
    cross : float or array
        The current square across the course at gear and lower warp, in the unit of ``speed``; with a sign.
    friction : float or array
        Friction on the bottom over drag of the water at towing speed, 0 or more; 0 sets the gear farthest.

    Returns
    -------
    ndarray
        Radians, with the sign of ``cross``: ``tan a = U c / (U V + f V^2)``, ``U = sqrt(V^2 + c^2)``. Drag,
        square with the speed through the water, friction against the motion over the ground and the pull of
        the warps balance (own derivation).

    Raises
    ------
    UsageError
    """
    v = amount("speed over the ground", speed, unit="", above=0.0)
    c = amount("current across", cross, unit="")
    f = amount("friction over drag", friction, unit="", least=0.0)
    u = np.hypot(v, c)
    return np.asarray(np.arctan2(u * c, u * v + f * v**2))
