"""What a trip says of its own towing speed: normal distributions fitted to the times spent at each speed."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from towzone.geodesy.ellipsoid import FloatArray
from towzone.tows.bands import Band, GearBand
from towzone.tows.speeds import SPEED_WINDOW_S, Profile
from towzone.tows.thinning import BoolArray

__all__ = ["Components", "band_of_trip", "fitted"]

LEAST_WINDOWS = 200
"""A trip tells its own speeds only after this many windows of a minute, or legs where these are longer. Own
choice."""

CLEARLY_APART = 2.0
"""Two normals are clearly two when sqrt(2) |m1 - m2| / sqrt(s1^2 + s2^2) is more than this (Ashman, Bird and
Zepf 1994, Astron. J. 108:2348, from memory)."""

LEAST_SHARE = 0.05
"""Of the time, for a component to count, both among those towed at and among those not. Own choice."""

LEAST_STRAIGHT = 0.6
"""Share of the time of a component that must be sailed on a steady course for it to be towing: own choice;
tows turn now and then, a vessel dodging in bad weather wanders all the time."""

WIDEST_SIGMA_KN = 0.8
"""A component wider than this is no speed towed at but a medley, of speeding up and slowing down above all.
Own choice: twice the spread within one fleet's gear (0.2 to 0.5 kn, Eigaard et al. 2016), beams apart."""

WIDTH_SIGMAS, LEAST_WIDTH_KN = 3.0, 0.6
"""Half the band round a component. Three standard deviations hold 99.7 % of a normal; the least is an own
choice, because streams and sea states differ from tow to tow more than within a few of them."""

STREAM_KN = 0.5
"""How much beyond the band of a trip a stream may carry a tow on a steady course. Own choice: streams run
harder, but tows with and against them are in the band already."""

_STEP_KN, _FASTEST_KN = 0.05, 30.0
_LEAST_SIGMA_KN = 0.1
"""Positions alone scatter speeds by this (`towzone.tows.speeds.SPEED_WINDOW_S`)."""

_ROUNDS, _SETTLED = 400, 1e-7


class Components(NamedTuple):
    """Normal components of a mixture, by rising mean; each of shape (k,)."""

    weight: FloatArray
    mean_kn: FloatArray
    sigma_kn: FloatArray

    def densities(self, speed_kn: FloatArray) -> FloatArray:
        """Return weighted densities, shape (k, n)."""
        scaled = (speed_kn[None, :] - self.mean_kn[:, None]) / self.sigma_kn[:, None]
        height = self.weight / (self.sigma_kn * np.sqrt(2.0 * np.pi))
        return np.asarray(height[:, None] * np.exp(-0.5 * scaled**2))


def fitted(speed_kn: FloatArray, weight: FloatArray, start: Components) -> tuple[Components, float]:
    """Return the mixture of greatest likelihood near a start, and the mean log-likelihood.

    Expectation and maximisation on bins of speed, so that a long trip takes no longer than a short one.

    Parameters
    ----------
    speed_kn : ndarray, shape (n,)
        Middles of bins.
    weight : ndarray, shape (n,)
        Time spent in each bin; not all 0.

    References
    ----------
    Dempster, Laird and Rubin (1977), J. R. Stat. Soc. B 39:1.
    """
    share = weight / weight.sum()
    # Bins without time add nothing and are not worked out, but keep their places in the sums: left out, the
    # last digits would differ, and a mean may lie just on a limit.
    spent = np.flatnonzero(weight)
    part, logs = np.zeros((len(start.weight), len(weight))), np.zeros(len(weight))
    now, before = start, -np.inf
    for _ in range(_ROUNDS):
        density = now.densities(speed_kn[spent])
        total = density.sum(axis=0) + 1e-300  # bins beyond all components must not divide nothing by nothing
        logs[spent] = np.log(total)
        likelihood = float(share @ logs)
        if likelihood - before < _SETTLED:
            break
        before = likelihood
        part[:, spent] = density / total * share[spent]
        # A component that lost all its time stays where it is, with next to no weight.
        held = part.sum(axis=1) + 1e-12
        mean = (part @ speed_kn + 1e-12 * now.mean_kn) / held
        spread = (part * (speed_kn[None, :] - mean[:, None]) ** 2).sum(axis=1) / held
        now = Components(held / held.sum(), mean, np.sqrt(np.maximum(spread, _LEAST_SIGMA_KN**2)))
    order = np.argsort(now.mean_kn, kind="stable")
    return Components(now.weight[order], now.mean_kn[order], now.sigma_kn[order]), likelihood


def band_of_trip(profile: Profile, known: GearBand, steady: BoolArray) -> Band | None:
    """Return the band of speeds this trip was towing at, ``None`` when it does not show clearly.

    It shows clearly when there are `LEAST_WINDOWS`; when some components with a mean in the band of the gear
    and `LEAST_SHARE` of the time were sailed on steady courses (`LEAST_STRAIGHT`); and when other components,
    with `LEAST_SHARE` of the time too, are all `CLEARLY_APART` from them. Components wider than
    `WIDEST_SIGMA_KN` are medleys: they are neither.

    Parameters
    ----------
    steady : ndarray of bool, shape (m - 1,)
        Stretches on a steady course.
    """
    usable = ~np.isnan(profile.speed_kn) & (profile.lasts_s > 0.0)
    lasts_s, speed_kn = profile.lasts_s[usable], profile.speed_kn[usable]
    windows = float((lasts_s / np.maximum(lasts_s, SPEED_WINDOW_S)).sum())
    if windows < LEAST_WINDOWS:
        return None
    bins = int(_FASTEST_KN / _STEP_KN)
    place = np.minimum((speed_kn / _STEP_KN).astype(np.int64), bins - 1)
    middle = np.asarray((np.arange(bins) + 0.5) * _STEP_KN, dtype=np.float64)
    time_s, straight_s = (
        np.bincount(place, weights=weight, minlength=bins).astype(np.float64)
        for weight in (lasts_s, lasts_s * steady[usable])
    )
    best = _best(middle, time_s, windows, known)
    towing = _towing(best, middle, time_s, straight_s, known)
    others = ~towing & (best.weight >= LEAST_SHARE) & (best.sigma_kn <= WIDEST_SIGMA_KN)
    if not towing.any() or not others.any() or not _apart(best, towing, others):
        return None
    return _band(best, towing, others, known)


def _best(middle: FloatArray, time_s: FloatArray, windows: float, known: GearBand) -> Components:
    """Return the best of mixtures of two to four components, by the criterion of Schwarz.

    References
    ----------
    Schwarz (1978), Ann. Stat. 6:461.
    """
    width = known.high_kn - known.low_kn
    low, high = known.low_kn + 0.25 * width, known.low_kn + 0.75 * width
    centre, fast = known.low_kn + 0.5 * width, known.high_kn + 4.0
    found = []
    for means in ((centre, fast), (0.5, centre, fast), (0.5, low, high, fast)):
        k = len(means)
        start = Components(np.full(k, 1.0 / k), np.array(means), np.full(k, 0.7))
        mixture, likelihood = fitted(middle, time_s, start)
        found.append(((3 * k - 1) * np.log(windows) - 2.0 * windows * likelihood, k, mixture))
    return min(found, key=lambda some: some[:2])[2]


def _towing(
    best: Components, middle: FloatArray, time_s: FloatArray, straight_s: FloatArray, known: GearBand
) -> BoolArray:
    """Return which components are towing speeds: in the band of the gear, and sailed straight if it is."""
    density = best.densities(middle)
    part = density / (density.sum(axis=0) + 1e-300)
    straight = (part @ straight_s) / np.maximum(part @ time_s, 1e-9)
    inside = (best.mean_kn > known.low_kn) & (best.mean_kn < known.high_kn)
    inside &= best.sigma_kn <= WIDEST_SIGMA_KN
    return np.asarray(
        inside & (best.weight >= LEAST_SHARE) & ((straight >= LEAST_STRAIGHT) | (not known.straight))
    )


def _apart(best: Components, towing: BoolArray, others: BoolArray) -> bool:
    """Return whether every towing component is clearly apart from every other of the rest."""
    mean = best.mean_kn[towing][:, None] - best.mean_kn[others][None, :]
    spread = best.sigma_kn[towing][:, None] ** 2 + best.sigma_kn[others][None, :] ** 2
    return bool(np.all(np.sqrt(2.0) * np.abs(mean) / np.sqrt(spread) > CLEARLY_APART))


def _band(best: Components, towing: BoolArray, others: BoolArray, known: GearBand) -> Band | None:
    """Return the speeds more likely of the towing components than of others, and not far from them."""
    mean, sigma = best.mean_kn[towing], best.sigma_kn[towing]
    reach = np.maximum(WIDTH_SIGMAS * sigma, LEAST_WIDTH_KN)
    speed_kn = np.arange(0.0, _FASTEST_KN, 0.01)
    density = best.densities(speed_kn)
    likelier = density[towing].sum(axis=0) >= density[others].sum(axis=0)
    least, most = float((mean - reach).min()), float((mean + reach).max())
    own = _ends(speed_kn, likelier, least, most)
    carried = _ends(
        speed_kn, likelier, max(least - STREAM_KN, known.low_kn), min(most + STREAM_KN, known.high_kn)
    )
    if own is None or carried is None:
        return None
    (low, high), (stream_low, stream_high) = own, carried
    found = " and ".join(
        f"{m:.1f} (sd {s:.1f}) kn for {100.0 * w:.0f} % of the time"
        for m, s, w in zip(mean, sigma, best.weight[towing], strict=True)
    )
    return Band(
        low_kn=low,
        high_kn=high,
        stream_low_kn=min(low, stream_low),
        stream_high_kn=max(high, stream_high),
        doubt_low_kn=min(low, known.low_kn),
        # A trip that is seen to tow at its own speed leaves no doubt about faster gears.
        doubt_high_kn=max(high, known.high_kn),
        basis=f"the speeds of this trip, of which those towed at are {found}; known before: {known.source}",
    )


def _ends(
    speed_kn: FloatArray, likelier: BoolArray, least_kn: float, most_kn: float
) -> tuple[float, float] | None:
    """Return the lowest and highest likely speed between two limits."""
    good = speed_kn[likelier & (speed_kn >= least_kn) & (speed_kn <= most_kn)]
    return (round(float(good.min()), 2), round(float(good.max()), 2)) if len(good) else None
