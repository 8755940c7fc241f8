"""Normal distributions fitted to times spent in bins of speed, compiled."""

from __future__ import annotations

import math

import numpy as np

from towzone.geodesy.compiling import compiled
from towzone.geodesy.ellipsoid import FloatArray

__all__ = ["maximised"]

_LEAST_SIGMA_KN = 0.1
"""Positions alone scatter speeds by this (`towzone.tows.speeds.SPEED_WINDOW_S`)."""

_ROUNDS, _SETTLED = 400, 1e-7
"""Rounds at the most, and what more of mean log-likelihood is worth another. Own choices."""

_NOTHING = 1e-300
"""Bins beyond all components must not divide nothing by nothing."""

_HARDLY = 1e-12
"""A component that lost all its time stays where it is, with next to no weight."""


@compiled
def maximised(
    speed_kn: FloatArray, share: FloatArray, weight: FloatArray, mean_kn: FloatArray, sigma_kn: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, float]:
    """Return the mixture of greatest likelihood near a start, and the mean log-likelihood.

    Parameters
    ----------
    speed_kn, share : ndarray, shape (n,)
        Bins, and the share of the time spent in each.
    weight, mean_kn, sigma_kn : ndarray, shape (k,)
        The start.

    Returns
    -------
    weight, mean_kn, sigma_kn : ndarray, shape (k,)
    likelihood : float
    """
    weight, mean_kn, sigma_kn = weight.copy(), mean_kn.copy(), sigma_kn.copy()
    part = np.empty((len(weight), len(speed_kn)))
    likelihood, before = 0.0, -np.inf
    for _ in range(_ROUNDS):
        likelihood = _shared_out(part, speed_kn, share, weight, mean_kn, sigma_kn)
        if likelihood - before < _SETTLED:
            break
        before, whole = likelihood, 0.0
        for one in range(len(weight)):
            held, moment = _HARDLY, _HARDLY * mean_kn[one]
            for place in range(len(speed_kn)):
                held += part[one, place]
                moment += part[one, place] * speed_kn[place]
            mean_kn[one] = moment / held
            spread = 0.0
            for place in range(len(speed_kn)):
                spread += part[one, place] * (speed_kn[place] - mean_kn[one]) ** 2
            weight[one], sigma_kn[one] = held, math.sqrt(max(spread / held, _LEAST_SIGMA_KN**2))
            whole += held
        for one in range(len(weight)):
            weight[one] /= whole
    return weight, mean_kn, sigma_kn, likelihood


@compiled
def _shared_out(
    part: FloatArray,
    speed_kn: FloatArray,
    share: FloatArray,
    weight: FloatArray,
    mean_kn: FloatArray,
    sigma_kn: FloatArray,
) -> float:
    """Share the time in each bin out among the components, into ``part``; return the mean log-likelihood."""
    for one in range(len(weight)):
        height = weight[one] / (sigma_kn[one] * math.sqrt(2.0 * math.pi))
        for place in range(len(speed_kn)):
            scaled = (speed_kn[place] - mean_kn[one]) / sigma_kn[one]
            part[one, place] = height * math.exp(-0.5 * scaled**2)
    likelihood = 0.0
    for place in range(len(speed_kn)):
        total = _NOTHING
        for one in range(len(weight)):
            total += part[one, place]
        likelihood += share[place] * math.log(total)
        for one in range(len(weight)):
            part[one, place] *= share[place] / total
    return likelihood
